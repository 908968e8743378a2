package journal

import (
	"bufio"
	"bytes"
	"crypto/sha256"
	"encoding/hex"
	"flag"
	"fmt"
	"os"
	"path/filepath"
	"runtime"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
)

var benchDir = flag.String("benchdir", "", "directory on the disk to be measured; empty: the system's for temporary files")

func benchPlace(b *testing.B) string {
	if *benchDir == "" {
		return b.TempDir()
	}
	dir, err := os.MkdirTemp(*benchDir, "journal")
	require.NoError(b, err)
	b.Cleanup(func() { _ = os.RemoveAll(dir) })
	return dir
}

// BenchmarkAppend does by turns what the journal does and a bare write and sync
// of as many bytes into a file opened in the same way, and reports the median of
// each and how many times the bare one the journal takes: what the chain, the
// JSON and the watch over the file cost. By turns, so that a busy machine slows
// both alike.
func BenchmarkAppend(b *testing.B) {
	body := pour{"Nepheline syenite", []string{strings.Repeat("ST,GS,  84.6 g ", 10)}}
	j, _, err := Open(benchPlace(b), Options{})
	require.NoError(b, err)
	defer func() { _ = j.Close() }()
	dir := benchPlace(b)
	f, _, err := create(dir, filepath.Join(dir, Name))
	require.NoError(b, err)
	defer func() { _ = f.Close() }()
	var ours, bare []time.Duration
	for b.Loop() {
		begin := time.Now()
		r, err := j.Append(noon, "portion", "T1", "Mara", body)
		if err != nil {
			b.Fatal(err)
		}
		ours = append(ours, time.Since(begin))
		line := append(bytes.Repeat([]byte{'x'}, len(r.Line)-1), '\n')
		begin = time.Now()
		if _, err := f.Write(line); err != nil {
			b.Fatal(err)
		}
		if err := datasync(f); err != nil {
			b.Fatal(err)
		}
		bare = append(bare, time.Since(begin))
	}
	slices.Sort(ours)
	slices.Sort(bare)
	o, w := ours[len(ours)/2], bare[len(bare)/2]
	b.ReportMetric(float64(o), "journal-ns")
	b.ReportMetric(float64(w), "bare-ns")
	b.ReportMetric(float64(o)/float64(w), "times-bare")
}

// BenchmarkAppendWithoutSync is what an input costs beside the disk.
func BenchmarkAppendWithoutSync(b *testing.B) {
	body := pour{"Nepheline syenite", []string{strings.Repeat("ST,GS,  84.6 g ", 10)}}
	j, _, err := Open(benchPlace(b), Options{Wrap: unsynced})
	require.NoError(b, err)
	defer func() { _ = j.Close() }()
	b.ReportAllocs()
	for b.Loop() {
		if _, err := j.Append(noon, "portion", "T1", "Mara", body); err != nil {
			b.Fatal(err)
		}
	}
}

// BenchmarkOpen is the start of the bench after a power cut.
func BenchmarkOpen(b *testing.B) {
	for _, lines := range []int{1_000, 100_000, 1_000_000} {
		b.Run(fmt.Sprint(lines), func(b *testing.B) {
			if testing.Short() && lines > 100_000 {
				b.Skip("long")
			}
			dir := benchPlace(b)
			n := manyLines(b, dir, lines)
			b.SetBytes(n)
			b.ReportAllocs()
			for b.Loop() {
				j, rep, err := Open(dir, Options{})
				if err != nil || rep.Lines != uint64(lines) {
					b.Fatal(err, rep.Lines)
				}
				_ = j.Close()
			}
		})
	}
}

// manyLines writes a chain of 300-byte lines as Append would, without a sync for
// each, and returns its length.
func manyLines(b *testing.B, dir string, lines int) int64 {
	j := &Journal{}
	f, err := os.Create(filepath.Join(dir, Name))
	require.NoError(b, err)
	total := int64(0)
	for i := range lines {
		j.buf.Reset()
		e := Entry{noon, "portion", "T1", "Mara", pour{"Quartz", []string{""}}}
		pad := 300 - 185 - len(fmt.Sprint(i+1))
		e.Body = pour{"Quartz", []string{hex.EncodeToString(j.place.Head[:]) + strings.Repeat("x", max(0, pad-64))}}
		require.NoError(b, j.line(uint64(i+1), j.place.Head, e))
		h, err := parseHead(j.buf.Bytes()[:j.buf.Len()-1])
		require.NoError(b, err)
		j.place.Head = named(h, j.buf.Bytes()).Hash
		n, err := f.Write(j.buf.Bytes())
		require.NoError(b, err)
		total += int64(n)
	}
	require.NoError(b, f.Close())
	return total
}

// BenchmarkVerify walks a million lines as 'tared verify' does, and by turns
// does the least that anybody must who checks such a chain: cut it at its newlines,
// hash each line and look for that hash in the next. It reports how many times that it takes, and the most memory
// that the walk held.
func BenchmarkVerify(b *testing.B) {
	lines := 1_000_000
	if testing.Short() {
		lines = 100_000
	}
	dir := benchPlace(b)
	n := manyLines(b, dir, lines)
	b.SetBytes(n)
	var ours, bare []time.Duration
	most := uint64(0)
	for b.Loop() {
		begin := time.Now()
		rep, err := Read(dir, nil)
		if err != nil || rep.Lines != uint64(lines) {
			b.Fatal(err, rep.Lines)
		}
		ours = append(ours, time.Since(begin))
		var m runtime.MemStats
		runtime.ReadMemStats(&m)
		most = max(most, m.Sys-m.HeapReleased)

		begin = time.Now()
		f, err := os.Open(filepath.Join(dir, Name))
		require.NoError(b, err)
		r, hashed := bufio.NewReaderSize(f, 1<<20), 0
		prev := bytes.Repeat([]byte{'0'}, 64)
		for {
			line, err := r.ReadSlice('\n')
			if err != nil {
				break
			}
			if bytes.Contains(line, prev) {
				hashed++
			}
			sum := sha256.Sum256(line)
			hex.Encode(prev, sum[:])
		}
		_ = f.Close()
		if hashed != lines {
			b.Fatal(hashed)
		}
		bare = append(bare, time.Since(begin))
	}
	slices.Sort(ours)
	slices.Sort(bare)
	o, w := ours[len(ours)/2], bare[len(bare)/2]
	b.ReportMetric(o.Seconds(), "verify-s")
	b.ReportMetric(w.Seconds(), "bare-s")
	b.ReportMetric(float64(o)/float64(w), "times-bare")
	b.ReportMetric(float64(most)/1e6, "MB-held")
}

package session

import (
	"bufio"
	"crypto/sha256"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"regexp"
	"runtime"
	"slices"
	"strconv"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"tared/session/book"
	"tared/session/journal"
)

// BenchmarkGrowth is what years of lines cost whoever wants to weigh or to look something
// up: a start that reads all of them, one behind a checkpoint, the list of batches at
// first, again, and after a note, one batch, one while the rows of the list are made, and a
// search for an amount; the memory that is kept, and the file. Times are medians of five,
// in milliseconds, and each once more as a ratio to the hashing of 64 MB on the same machine
// in the same run. TARED_LINES=10000000 asks for so many lines more; of those above a
// million, each million is the first over again, with marks of its own.
//
// .ci/figures prints all of them and holds the ratios against those that are kept.
func BenchmarkGrowth(b *testing.B) {
	sizes := []uint64{100, 10_000, 100_000, 1_000_000}
	if n, err := strconv.ParseUint(os.Getenv("TARED_LINES"), 10, 64); err == nil {
		sizes = append(sizes, n)
	}
	for _, lines := range sizes {
		b.Run(fmt.Sprint(lines), func(b *testing.B) {
			if testing.Short() && lines > 100_000 {
				b.Skip("long")
			}
			dir := b.TempDir()
			p := newPast(b, dir)
			p.until(min(lines, 1_000_000))
			p.close()
			overAgain(b, dir, lines/1_000_000)
			for b.Loop() {
				growth(b, dir, p.now)
			}
		})
	}
}

func growth(b *testing.B, dir string, now time.Time) {
	took := map[string][]time.Duration{}
	timed := func(what string, do func()) {
		begin := time.Now()
		do()
		took[what] = append(took[what], time.Since(begin))
	}
	start := func(what string) (past Past, j *journal.Journal) {
		timed(what, func() {
			var err error
			j, past, _, err = open(dir, now)
			require.NoError(b, err)
		})
		return past, j
	}
	list := func(what string, x *book.Index, q book.Query) {
		timed(what, func() {
			_, _, err := x.Search(q, 0, 200)
			require.NoError(b, err)
		})
	}
	amount, err := book.ParseQuery("copper carbonate > 1.3%")
	require.NoError(b, err)
	kept, size := int64(0), int64(0)
	block := make([]byte, 64_000_000)
	for range 5 {
		timed("hash", func() { sha256.Sum256(block) })
		DropCheckpoint(dir)
		before := heap()
		past, j := start("whole")
		require.NoError(b, j.Close())
		list("first", past.Book, book.Query{})
		made := make(chan struct{})
		go func() {
			defer close(made)
			for past.Book.Digest(20) {
			}
		}()
		timed("meanwhile", func() {
			n, err := past.Book.Find(past.Book.Mark(1 + past.Book.Len()/3))
			require.NoError(b, err)
			n.Made()
		})
		<-made
		kept = heap() - before
		require.NoError(b, past.Checkpoint.Save(dir, past.Book))
		info, err := os.Stat(filepath.Join(dir, indexName))
		require.NoError(b, err)
		size = info.Size()

		past, j = start("behind")
		x := past.Book
		list("list", x, book.Query{})
		list("search", x, amount)
		timed("batch", func() {
			n, err := x.Find(x.Mark(1 + x.Len()/2))
			require.NoError(b, err)
			n.Made()
		})
		r, err := j.Append(now, "noted", x.Mark(x.Len()), "Mara", map[string]string{"text": "the whiting was damp"})
		require.NoError(b, err)
		timed("noted", func() {
			require.NoError(b, x.AddLines([][]byte{r.Line}))
			_, _, err := x.Search(book.Query{}, 0, 200)
			require.NoError(b, err)
		})
		require.NoError(b, j.Close())
	}
	b.ReportMetric(0, "ns/op")
	median := func(what string) float64 {
		slices.Sort(took[what])
		return took[what][2].Seconds()
	}
	for _, what := range []string{"whole", "behind", "first", "list", "noted", "batch", "meanwhile", "search"} {
		b.ReportMetric(1000*median(what), what+"-ms")
		b.ReportMetric(median(what)/median("hash"), what+"-ratio")
	}
	b.ReportMetric(float64(kept)/(1<<20), "kept-MiB")
	b.ReportMetric(float64(size)/(1<<20), "file-MiB")
}

// overAgain puts the lines of a journal behind themselves until they are there so many
// times, with marks of their own, and each with the hash of the line before.
func overAgain(b *testing.B, dir string, times uint64) {
	if times < 2 {
		return
	}
	path := filepath.Join(dir, journal.Name)
	in, err := os.Open(path)
	require.NoError(b, err)
	defer in.Close()
	info, err := in.Stat()
	require.NoError(b, err)
	rep, err := journal.Read(dir, nil)
	require.NoError(b, err)
	out, err := os.OpenFile(path, os.O_WRONLY|os.O_APPEND, 0o600)
	require.NoError(b, err)
	w, head, seq := bufio.NewWriterSize(out, 1<<20), rep.Head, rep.Lines
	fields := regexp.MustCompile(`^\{"seq":\d+(,"at":"[^"]*","kind":"[^"]*","batch":")([^"]*)(","by":"[^"]*","prev":")[0-9a-f]{64}`)
	for n := range times - 1 {
		lines := bufio.NewReaderSize(io.NewSectionReader(in, 0, info.Size()), 1<<20)
		for {
			line, err := lines.ReadBytes('\n')
			if err != nil {
				require.ErrorIs(b, err, io.EOF)
				break
			}
			at := fields.FindSubmatchIndex(line)
			require.NotNil(b, at)
			seq++
			again := fmt.Appendf(nil, `{"seq":%d%s%s`, seq, line[at[2]:at[3]], line[at[4]:at[5]])
			if at[5] > at[4] {
				again = fmt.Appendf(again, "x%d", n)
			}
			again = append(append(append(again, line[at[6]:at[7]]...), head.String()...), line[at[1]:]...)
			head = sha256.Sum256(again)
			_, err = w.Write(again)
			require.NoError(b, err)
		}
	}
	require.NoError(b, errors.Join(w.Flush(), out.Close()))
}

// heap is what is reachable, in bytes.
func heap() int64 {
	var m runtime.MemStats
	runtime.GC()
	runtime.ReadMemStats(&m)
	return int64(m.HeapAlloc)
}

package session

import (
	"crypto/sha256"
	"fmt"
	"os"
	"path/filepath"
	"runtime"
	"slices"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"tared/session/book"
	"tared/session/journal"
)

// BenchmarkGrowth is what years of lines cost whoever wants to weigh or to look something
// up: a start that reads all of them, one behind a checkpoint, the list of batches at
// first, again, and after a note, one batch, and a search for an amount; the memory that
// is kept, and the file. Times are medians of five, in milliseconds, and each once more
// as a ratio to the hashing of 64 MB on the same machine in the same run.
//
// .ci/figures prints all of them and holds the ratios against those that are kept.
func BenchmarkGrowth(b *testing.B) {
	for _, lines := range []uint64{100, 10_000, 100_000, 1_000_000} {
		b.Run(fmt.Sprint(lines), func(b *testing.B) {
			if testing.Short() && lines > 100_000 {
				b.Skip("long")
			}
			dir := b.TempDir()
			p := newPast(b, dir)
			p.until(lines)
			p.close()
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
		for past.Book.Digest(1000) {
		}
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
	for _, what := range []string{"whole", "behind", "first", "list", "noted", "batch", "search"} {
		b.ReportMetric(1000*median(what), what+"-ms")
		b.ReportMetric(median(what)/median("hash"), what+"-ratio")
	}
	b.ReportMetric(float64(kept)/(1<<20), "kept-MiB")
	b.ReportMetric(float64(size)/(1<<20), "file-MiB")
}

// heap is what is reachable, in bytes.
func heap() int64 {
	var m runtime.MemStats
	runtime.GC()
	runtime.ReadMemStats(&m)
	return int64(m.HeapAlloc)
}

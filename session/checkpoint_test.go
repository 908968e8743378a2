package session

import (
	"bytes"
	"maps"
	"os"
	"path/filepath"
	"slices"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"tared/protocol"
	"tared/session/book"
	"tared/session/fact"
	"tared/session/journal"
)

// journalsOf gives the kept journals, cut into lines, and one that has lots, recipes,
// vessels and checks in it.
func journalsOf(t *testing.T) map[string][][]byte {
	all := map[string][][]byte{}
	files, err := filepath.Glob("../testdata/kept/*.jsonl")
	require.NoError(t, err)
	require.NotEmpty(t, files)
	for _, file := range files {
		b, err := os.ReadFile(file)
		require.NoError(t, err)
		all[filepath.Base(file)] = slices.Collect(bytes.Lines(b))
	}
	all["workshop"] = workshopLines(t)
	return all
}

// workshopLines is the journal of a workshop that keeps more than batches.
func workshopLines(t *testing.T) [][]byte {
	dir := t.TempDir()
	at := time.Date(2026, 3, 2, 9, 0, 0, 0, time.UTC)
	j, _, err := journal.Open(dir, journal.Options{At: at})
	require.NoError(t, err)
	put := func(mark string, b fact.Body) uint64 {
		at = at.Add(17 * time.Hour)
		r, err := j.Append(at, b.Kind(), mark, "Mara", b)
		require.NoError(t, err)
		return r.Seq
	}
	put("", fact.Began{Epoch: 1, Format: fact.Format})
	put("", fact.Stocked{Lot: "L1", Material: "Quartz", Amount: g("1000")})
	put("", fact.Recipe{Name: "Grotto", Version: 1, Text: "Quartz 100\n", Hash: "x"})
	var first uint64
	for i := range 12 {
		mark := "2603" + string(rune('a'+i))
		put(mark, fact.Planned{Title: "Grotto", Base: g("50"), Lines: []fact.Line{{Material: "Quartz", Role: "base", Share: "100", Target: g("50"), Low: g("49"), High: g("51")}}, Lots: []fact.LotUsed{{Material: "Quartz", Lot: "L1"}}})
		p := put(mark, fact.Portion{Material: "Quartz", Delivered: g("50")})
		put(mark, fact.Portion{Material: "Water", Delivered: g("40")})
		put(mark, fact.Finished{})
		switch i {
		case 0:
			first = p
			put("", fact.Vessel{Name: "the cylinder", Volume: "100"})
			put("", fact.Role{Material: "Bath dust", Role: "strong"})
		case 3:
			put("", fact.Corrected{Lot: "L1", Field: "amount", Is: g("700"), Reason: "counted"})
			put("", fact.Checked{Scale: "bench", Pass: true})
		case 5:
			put("2603b", fact.Fired{Kiln: "small"})
			put("", fact.Repeatability{Scale: "bench", Spread: g("0.03"), Step: g("0.1")})
		case 10:
			put("2603a", fact.Amended{Of: first, Is: g("49"), Reason: "misread"}) // long ago
			put("2603b", fact.Watered{Added: fact.Typed{Mass: g("5")}})
			put("2603f", fact.Amended{Of: first + 26, Void: true, Reason: "it went elsewhere"})
		}
	}
	require.NoError(t, j.Close())
	b, err := os.ReadFile(filepath.Join(dir, journal.Name))
	require.NoError(t, err)
	return slices.Collect(bytes.Lines(b))
}

func write(t require.TestingT, dir string, lines [][]byte) {
	require.NoError(t, os.WriteFile(filepath.Join(dir, journal.Name), bytes.Join(lines, nil), 0o600))
}

// told is all that a start knows, as values that can be held against each other.
func told(t require.TestingT, p Past, now time.Time) []any {
	rows, _, err := p.Book.Search(book.Query{}, 0, p.Book.Len())
	require.NoError(t, err)
	scales := gauges{} // none and nothing are alike
	maps.Copy(scales, p.scales)
	return []any{p.Seq, p.Facts, p.Stock.Lots(), p.Recipes.All(), p.Vessels, p.Roles, p.Marks, p.epochs, scales, p.standing.due(now), rows, p.Book.Place()}
}

// A start behind a checkpoint knows what one knows that reads every line, wherever the
// checkpoint stands and however many lines follow it.
func TestAStartBehindACheckpointKnowsAll(t *testing.T) {
	for name, lines := range journalsOf(t) {
		t.Run(name, func(t *testing.T) {
			for n := 1; n <= len(lines); n += 1 + len(lines)/5 {
				dir := t.TempDir()
				write(t, dir, lines[:n])
				now := time.Date(2026, 3, 10, 8, 0, 0, 0, time.UTC)
				j, past, _, err := Open(dir, "", now)
				require.NoError(t, err)
				require.NoError(t, j.Close())
				ahead := past.Book // lines may come before the index is kept
				for m := n; m <= len(lines); m += 1 + len(lines)/3 {
					write(t, dir, lines[:m])
					at := ahead.Place().Lines
					require.NoError(t, ahead.AddLines(lines[at:m-(m-int(at))/2]))
					ahead.Digest(m % 3)
					require.NoError(t, past.Checkpoint.Save(dir, ahead))
					for _, now := range []time.Time{now, past.Book.Place().Last, {}} {
						j, quick, _, err := Open(dir, "", now)
						require.NoError(t, err)
						require.NoError(t, j.Close())
						require.Equal(t, uint64(n), quick.Unchecked.Lines)
						require.NoError(t, quick.Unchecked.Check(t.Context(), dir))
						want, err := begun(dir, now, false)
						require.NoError(t, err)
						require.Equal(t, told(t, want, now), told(t, quick, now), "%d of %d lines", n, m)
					}
				}
			}
		})
	}
}

// anyFact is something that may stand in a journal, or never would.
func anyFact(t *rapid.T, seq uint64) (batch string, body fact.Body) {
	pick := func(from ...string) string { return rapid.SampledFrom(from).Draw(t, "text") }
	mass := protocol.Mass(rapid.Int64Range(0, int64(g("60"))).Draw(t, "mass"))
	batch, lot := pick("a", "b", "c", "d", "e", "f", "g", "h", "i", "j", "k"), pick("L1", "L2")
	switch pick("batch", "batch", "batch", "batch", "beside") {
	case "batch":
		return batch, rapid.SampledFrom([]fact.Body{
			fact.Planned{Title: "Grotto", Lines: []fact.Line{{Material: "Quartz", Target: mass}}, Lots: []fact.LotUsed{{Material: "Quartz", Lot: lot}}},
			fact.Portion{Material: "Quartz", Delivered: mass}, fact.Portion{Material: "Quartz", Delivered: mass}, fact.Portion{Material: "Water", Delivered: mass},
			fact.Amended{Of: rapid.Uint64Range(1, seq).Draw(t, "of"), Is: mass, Void: rapid.Bool().Draw(t, "void"), Reason: "misread"},
			fact.Finished{Abandoned: rapid.Bool().Draw(t, "early")}, fact.Watered{Added: fact.Typed{Mass: mass}}, fact.Watered{Gravity: "1.45"}, fact.Fired{Kiln: "small"}, fact.Noted{Text: "damp"},
		}).Draw(t, "body")
	default:
		return "", rapid.SampledFrom([]fact.Body{
			fact.Stocked{Lot: lot, Material: "Quartz", Amount: g("1000")}, fact.Corrected{Lot: lot, Field: "amount", Is: mass, Reason: "counted"},
			fact.Recipe{Name: pick("Grotto", "Lye"), Version: seq, Text: "Quartz 100\n", Hash: "x"}, fact.Vessel{Name: pick("cylinder", "jug"), Volume: "100"}, fact.Role{Material: "Bath dust", Role: pick("strong", "base")},
			fact.Checked{Scale: "bench", Pass: true}, fact.Repeatability{Scale: "bench", Spread: mass}, fact.Began{Epoch: seq, Format: fact.Format},
		}).Draw(t, "body")
	}
}

// The same for whatever stands in a journal.
func TestAStartBehindAnyCheckpoint(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		dir, err := os.MkdirTemp("", "checkpoint")
		require.NoError(t, err)
		defer func() { _ = os.RemoveAll(dir) }()
		at := time.Date(2026, 3, 2, 9, 0, 0, 0, time.UTC)
		j, _, err := journal.Open(dir, journal.Options{At: at, Wrap: func(f journal.File) journal.File { return unsynced{f} }})
		require.NoError(t, err)
		n, planned, closed := rapid.IntRange(2, 80).Draw(t, "lines"), map[string]bool{}, map[string]bool{}
		for seq := range n {
			at = at.Add(time.Duration(rapid.IntRange(0, 40).Draw(t, "hours")) * time.Hour)
			mark, body := anyFact(t, uint64(seq+1))
			// A mark is given once, before all else that is of its batch, or never.
			if _, plan := body.(fact.Planned); plan && (planned[mark] || mark == "k") {
				body = fact.Noted{Text: "damp"}
			} else if !plan && mark != "" && mark != "k" && !planned[mark] {
				body = fact.Planned{Title: "Grotto", Lots: []fact.LotUsed{{Material: "Quartz", Lot: "L1"}}}
			}
			planned[mark] = true
			if _, pours := body.(fact.Portion); pours && closed[mark] {
				body = fact.Watered{Added: fact.Typed{Mass: 1}} // what comes after the closing is no portion
			}
			_, closes := body.(fact.Finished)
			closed[mark] = closed[mark] || closes
			_, err := j.Append(at, body.Kind(), mark, "Mara", body)
			require.NoError(t, err)
		}
		require.NoError(t, j.Close())
		all, err := os.ReadFile(filepath.Join(dir, journal.Name))
		require.NoError(t, err)
		lines := slices.Collect(bytes.Lines(all))
		first := rapid.IntRange(1, n).Draw(t, "checkpoint")
		ahead := rapid.IntRange(first, n).Draw(t, "index")
		write(t, dir, lines[:first])
		now := at.Add(time.Duration(rapid.IntRange(0, 200).Draw(t, "later")) * time.Hour)
		past, err := begun(dir, now, false)
		require.NoError(t, err)
		write(t, dir, lines)
		require.NoError(t, past.Book.AddLines(lines[first:ahead]))
		past.Book.Digest(rapid.IntRange(0, 5).Draw(t, "digests"))
		require.NoError(t, past.Checkpoint.Save(dir, past.Book))
		want, err := begun(dir, now, false)
		require.NoError(t, err)
		got, err := begun(dir, now, true)
		require.NoError(t, err)
		require.Equal(t, uint64(first), got.Unchecked.Lines)
		require.Equal(t, told(t, want, now), told(t, got, now))
	})
}

// begun is what a start knows, with or without the checkpoint.
func begun(dir string, now time.Time, quick bool) (Past, error) {
	w := newWalk(dir, now, quick)
	if _, err := w.read(dir); err != nil {
		return Past{}, err
	}
	return w.past()
}

// A checkpoint that is not of this journal, or of a longer one, or was cut or changed, is
// not used; and where a line before it was changed, that is found behind the start, and no
// batch is read of it meanwhile.
func TestACheckpointInDoubtIsNotUsed(t *testing.T) {
	all := journalsOf(t)
	lines := all["workshop"]
	now := time.Date(2026, 3, 10, 8, 0, 0, 0, time.UTC)
	kept := func(lines [][]byte) (dir string, sealed []byte) {
		dir = t.TempDir()
		write(t, dir, lines)
		j, past, _, err := Open(dir, "", now)
		require.NoError(t, err)
		require.NoError(t, j.Close())
		past.Book.Digest(5)
		require.NoError(t, past.Checkpoint.Save(dir, past.Book))
		sealed, err = os.ReadFile(filepath.Join(dir, indexName))
		require.NoError(t, err)
		return dir, sealed
	}
	start := func(dir string, sealed []byte) Past {
		t.Helper()
		require.NoError(t, os.WriteFile(filepath.Join(dir, indexName), sealed, 0o600))
		j, past, rep, err := Open(dir, "", now)
		require.NoError(t, err)
		require.NoError(t, j.Close())
		require.Equal(t, rep.Lines, past.Seq)
		want, err := begun(dir, now, false)
		require.NoError(t, err)
		require.Equal(t, told(t, want, now), told(t, past, now))
		x, err := ReadIndex(dir, true)
		require.NoError(t, err)
		require.Equal(t, want.Book.Place(), x.Place())
		return past
	}
	dir, sealed := kept(lines)
	require.NotZero(t, start(dir, sealed).Unchecked.Lines, "this one is used")
	for n := 0; n < len(sealed); n += 97 {
		require.Zero(t, start(dir, sealed[:n]).Unchecked.Lines)
		changed := bytes.Clone(sealed)
		changed[n] ^= 4
		require.Zero(t, start(dir, changed).Unchecked.Lines)
	}
	shorter, _ := kept(lines[:20])
	require.Zero(t, start(shorter, sealed).Unchecked.Lines, "of a longer journal")
	for name, others := range all {
		other, _ := kept(others)
		if name != "workshop" {
			require.Zero(t, start(other, sealed).Unchecked.Lines, name)
		}
	}

	// The same with a line changed long before.
	changed := slices.Clone(lines)
	k := slices.IndexFunc(changed, func(l []byte) bool {
		return bytes.Contains(l, []byte(`"2603b"`)) && bytes.Contains(l, []byte("portion"))
	})
	require.Positive(t, k)
	changed[k] = bytes.Replace(changed[k], []byte(`"50"`), []byte(`"51"`), 1)
	write(t, dir, changed)
	require.NoError(t, os.WriteFile(filepath.Join(dir, indexName), sealed, 0o600))
	j, past, _, err := Open(dir, "", now.AddDate(1, 0, 0))
	require.NoError(t, err)
	require.NoError(t, j.Close())
	assert.ErrorIs(t, past.Unchecked.Check(t.Context(), dir), journal.ErrDamaged)
	_, err = past.Book.Find("2603b")
	assert.ErrorIs(t, err, book.ErrChanged)
	n, err := past.Book.Find("2603c")
	require.NoError(t, err)
	assert.Equal(t, "2603c", n.Mark)
	DropCheckpoint(dir)
	_, _, _, err = Open(dir, "", now)
	assert.ErrorIs(t, err, journal.ErrDamaged)
}

// Whatever became of the checkpoint, a start and a reading behind it tell what those tell
// that read all: it was cut, changed, put together of two, of a shorter or a longer journal
// or of another, or beside it a journal stands of which lines were cut off or put in anew.
func TestWhateverBecameOfACheckpoint(t *testing.T) {
	all := journalsOf(t)
	now := time.Date(2026, 3, 10, 8, 0, 0, 0, time.UTC)
	var pool [][]byte // checkpoints of each journal, early and late
	var names []string
	for name, lines := range all {
		names = append(names, name)
		for _, n := range []int{1 + len(lines)/3, len(lines)} {
			dir := t.TempDir()
			write(t, dir, lines[:n])
			past, err := begun(dir, now, false)
			require.NoError(t, err)
			past.Book.Digest(n % 7)
			require.NoError(t, past.Checkpoint.Save(dir, past.Book))
			b, err := os.ReadFile(filepath.Join(dir, indexName))
			require.NoError(t, err)
			pool = append(pool, b)
		}
	}
	slices.Sort(names)
	rapid.Check(t, func(t *rapid.T) {
		dir, err := os.MkdirTemp("", "checkpoint")
		require.NoError(t, err)
		defer func() { _ = os.RemoveAll(dir) }()
		lines := all[rapid.SampledFrom(names).Draw(t, "journal")]
		write(t, dir, lines[:rapid.IntRange(1, len(lines)).Draw(t, "lines")])
		b := bytes.Clone(rapid.SampledFrom(pool).Draw(t, "checkpoint"))
		for range rapid.IntRange(0, 2).Draw(t, "times") {
			k := rapid.IntRange(0, max(len(b)-1, 0)).Draw(t, "at")
			switch rapid.IntRange(0, 4).Draw(t, "damage") {
			case 0:
				b = b[:k]
			case 1:
				b = append(b[:k:k], rapid.SliceOfN(rapid.Byte(), 0, 40).Draw(t, "bytes")...)
			case 2:
				other := rapid.SampledFrom(pool).Draw(t, "other")
				b = append(b[:k:k], other[min(k, len(other)):]...)
			case 3:
				b = slices.Delete(b, k, min(len(b), k+rapid.IntRange(0, 200).Draw(t, "gap")))
			case 4:
				if len(b) > 0 {
					b[k] ^= 1 << rapid.IntRange(0, 7).Draw(t, "bit")
				}
			}
		}
		require.NoError(t, os.WriteFile(filepath.Join(dir, indexName), b, 0o600))
		want, err := begun(dir, now, false)
		require.NoError(t, err)
		j, got, rep, err := Open(dir, "", now)
		require.NoError(t, err)
		require.NoError(t, j.Close())
		require.Equal(t, want.Book.Place(), rep.Place)
		require.Equal(t, told(t, want, now), told(t, got, now))
		x, err := ReadIndex(dir, rapid.Bool().Draw(t, "rows"))
		require.NoError(t, err)
		require.Equal(t, want.Book.Place(), x.Place())
		for mark := range want.Book.Marks() {
			is, err := x.Find(mark)
			require.NoError(t, err)
			was, err := want.Book.Find(mark)
			require.NoError(t, err)
			require.Equal(t, was.Made(), is.Made())
		}
	})
}

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

func write(t *testing.T, dir string, lines [][]byte) {
	t.Helper()
	require.NoError(t, os.WriteFile(filepath.Join(dir, journal.Name), bytes.Join(lines, nil), 0o600))
}

// told is all that a start knows, as values that can be held against each other.
func told(t *testing.T, p Past, now time.Time) []any {
	t.Helper()
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
						whole := newWalk(dir, now, false)
						_, err = whole.read(dir)
						require.NoError(t, err)
						want, err := whole.past()
						require.NoError(t, err)
						require.Equal(t, told(t, want, now), told(t, quick, now), "%d of %d lines", n, m)
					}
				}
			}
		})
	}
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
		whole := newWalk(dir, now, false)
		_, err = whole.read(dir)
		require.NoError(t, err)
		want, err := whole.past()
		require.NoError(t, err)
		require.Equal(t, told(t, want, now), told(t, past, now))
		x, err := ReadIndex(dir)
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

package session

import (
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"tared/session/batch"
	"tared/session/book"
	"tared/session/fact"
	"tared/session/plan"
	"tared/session/sheet"
)

// The grid of a series is laid out by what was planned, and shows what became of
// each cup, also of those that were never weighed.
func TestTheGridOfASeries(t *testing.T) {
	scales := []sheet.Scale{{Name: "bench", Step: g("0.01"), Max: g("2000")}}
	text := "Quartz 60\nBall clay 40\n"
	sh, err := plan.Request{Recipe: text, Series: &plan.Series{Cup: "100g", Vary: []plan.Addition{{Material: "Cobalt carbonate", Levels: "1 2"}, {Material: "Rutile", Levels: "0 4 8"}}}}.Sheet(scales)
	require.NoError(t, err)
	p := planned(sh, text, scales, false)
	at := time.Date(2026, 3, 2, 9, 0, 0, 0, time.UTC)
	var b book.Book
	seq := uint64(0)
	put := func(mark string, body fact.Body) {
		seq++
		b.Add(fact.Fact{Seq: seq, At: at, Batch: mark, By: "Mara", Body: body}, [32]byte{byte(seq)})
	}
	put("260302a", p)
	put("260302a", fact.Portion{Material: "Quartz", Scale: "bench", Delivered: g("378"), Step: g("0.1")})
	put("260302a", fact.Portion{Material: "Ball clay", Scale: "bench", Delivered: g("252"), Step: g("0.1")})
	put("260302a", fact.Finished{})
	run := &batch.Series{Tub: b.Find("260302a").Batch}
	first, err := run.Cup(true)
	require.NoError(t, err)
	put("260302a-1", first)
	put("260302a-1", fact.Portion{Material: "common mix of 260302a", Scale: "bench", Delivered: g("100"), Step: g("0.01")})
	for _, l := range p.Series.Plans[0].Lines {
		put("260302a-1", fact.Portion{Material: l.Material, Scale: "bench", Delivered: l.Target, Step: g("0.01")})
	}
	put("260302a-1", fact.Finished{})
	put("260302a-1", fact.Judged{Tile: "KD-A", Photos: []string{"x.jpg"}})
	put("260302a-1", fact.Judged{Tile: "KD-C", Verdict: "again"})
	put("260302a-1", fact.Judged{Tile: "KD-D", Photos: []string{"y.jpg"}})
	put("260302a-1", fact.Amended{Of: seq, Void: true, Field: "judged", Reason: "another tile"})

	_, ok := b.Series("260302b")
	assert.False(t, ok)
	for _, mark := range []string{"260302a", "260302A-1"} {
		s, ok := b.Series(mark)
		require.True(t, ok, mark)
		assert.Equal(t, "260302a", s.Mark)
		assert.ElementsMatch(t, []string{"Cobalt carbonate", "Rutile"}, s.Axes)
		require.Len(t, s.Grids, 1)
		cups := 0
		for _, row := range s.Grids[0].Cells {
			for _, c := range row {
				assert.NotEmpty(t, c.Label)
				if c.Cup == "" {
					assert.Empty(t, c.State, "not weighed yet")
					continue
				}
				cups++
				assert.Equal(t, "260302a-1", c.Cup)
				assert.Equal(t, []string{"x.jpg"}, c.Photos, "the last that counts")
				assert.Equal(t, "KD-C", c.Tile)
				assert.Equal(t, "again", c.Words)
				assert.Contains(t, c.Made, "1.000")
			}
		}
		assert.Equal(t, 1, cups)
		assert.Equal(t, 6, len(s.Grids[0].Cols)*len(s.Grids[0].Rows))
	}
}

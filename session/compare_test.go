package session

import (
	"fmt"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"tared/protocol"
	"tared/scale/sim"
	"tared/session/book"
	"tared/session/fact"
	"tared/session/question"
)

// blind lets a potter miss some of one material: the page is taken to show so
// much less of it than it does, so that too much goes in; what the bench then
// asks is waved through.
func blind(material string, less protocol.Mass) func(sim.Guidance) sim.Guidance {
	return func(g sim.Guidance) sim.Guidance {
		if g.Material != material || !g.Known || g.In <= less {
			return g
		}
		switch g.State {
		case "pour", "settle", "in", "over":
		default:
			return g
		}
		rest := g.State == "in" || g.State == "over"
		g.In -= less
		g.Cue = ""
		switch {
		case g.In < g.Low && rest:
			g.State = "pour"
		case g.In >= g.Low && rest:
			g.State, g.Cue = "in", "in"
		}
		return g
	}
}

// Six batches of one recipe by simulated hands, one of them with too much of a
// strong colourant that nobody speaks of. The comparison finds it, whichever it
// is, and without it says nothing of the weighing.
func TestComparisonFindsTheOverpour(t *testing.T) {
	for _, odd := range []int{2, 0, 5}[:min(3, batchesEach)] {
		t.Run(fmt.Sprint(odd), func(t *testing.T) {
			t.Parallel()
			var b book.Book
			var all, rest []*book.Batch
			for k := range 6 {
				seed := uint64(100*odd + k + 1)
				tr := newTruth(t, seed, trouble{})
				powders := sim.Materials()
				tr.auto = sim.NewAuto(sim.AutoOptions{Seed: seed, Potter: sim.Steady(), By: "Mara", Prefer: map[string]string{question.Overpour.Key: question.Keep}, Truth: question.Truth,
					Material: func(name string) sim.Material {
						m := powders[0]
						m.Name = name
						return m
					}})
				if k == odd {
					tr.eyes = blind("Cobalt oxide", g("0.2"))
				}
				require.True(t, tr.run(trouble{}), strings.Join(tr.said[max(0, len(tr.said)-20):], "\n"))
				require.Empty(t, tr.wrong)
				mark := string(rune('A' + k))
				for _, f := range tr.facts {
					f.Batch = mark
					if p, ok := f.Body.(fact.Planned); ok {
						p.Lines = shared(p.Lines)
						f.Body = p
					}
					b.Add(f, [32]byte{})
				}
				all = append(all, b.Find(mark))
				if k != odd {
					rest = append(rest, b.Find(mark))
				}
			}
			c := book.Compare(all...)
			assert.Contains(t, c.Verdict, fmt.Sprintf("Yes. %c is the odd one out: its Cobalt oxide differs by 0.", 'A'+odd))
			assert.Regexp(t, "of the base from (., ){4}.[.]", c.Verdict)
			assert.True(t, c.Explains)
			for _, x := range c.Causes {
				assert.Equal(t, x.Material == "Cobalt oxide", x.Weighing, x.Words)
			}
			t.Log(c.Verdict)
			c = book.Compare(rest...)
			assert.False(t, c.Explains)
			assert.True(t, strings.HasPrefix(c.Verdict, "No: "), strings.Join(c.Words, "\n"))
			for _, x := range c.Causes {
				assert.EqualValues(t, "within the bands", x.Kind, x.Words)
			}
		})
	}
}

// shared gives lines the shares that their targets are of the base.
func shared(lines []fact.Line) []fact.Line {
	lines = append([]fact.Line{}, lines...)
	var base protocol.Mass
	for _, l := range lines {
		if l.Role == "base" {
			base += l.Target
		}
	}
	for i := range lines {
		lines[i].Share = fmt.Sprintf("%d/%d", 100*int64(lines[i].Target/protocol.Milligram), int64(base/protocol.Milligram))
	}
	return lines
}

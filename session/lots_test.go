package session

import (
	"math"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"tared/session/fact"
	"tared/session/plan"
	"tared/session/sheet"
)

// obeyed lets obedient hands mix a batch that was planned so, to its end.
func obeyed(t *testing.T, seed uint64, mark string, wish plan.Request) *proof {
	t.Helper()
	scales := []sheet.Scale{{Name: "bench", Format: "header-comma-mode", Step: g("0.1"), Max: g("2000")}}
	sh, err := wish.Sheet(scales)
	require.NoError(t, err)
	p := newProof(scene{}, seed, t)
	f := fact.Fact{Seq: 1, At: p.now, Batch: mark, By: "Mara", Body: planned(sh, wish.Recipe, scales, false)}
	p.facts, p.s = []fact.Fact{f}, p.start.Apply(f)
	p.hands.share = 0.31 + 0.0437*float64(seed%10) // no whole steps
	p.run(scene{}, time.Hour)
	require.Empty(t, p.blames, strings.Join(p.said, "\n"))
	return p
}

// tipped is what was really tipped of what a step names, into the bucket or the mixing cup.
func (p *proof) tipped(step string) float64 { return p.world.Bucket(step) }

// A mixture or a solution is made for one batch, its rest is kept, and a later batch takes a
// part of it: by hands that do what the page says and see nothing else, what is in each bucket
// of the colourant is what the record says, within its U. U has a coverage factor of 2, so
// that one in twenty may lie beyond it by chance.
func TestARestHoldsWhatTheRecordSays(t *testing.T) {
	seeds := uint64(6)
	checks, beyond := 0, 0
	for _, name := range []string{"Cobalt carbonate", "Cobalt sulfate"} {
		for seed := range seeds {
			wish := plan.Request{Recipe: "Quartz 40\nPotash feldspar 35\nBall clay 25\n+ " + name + " 0.4\n", Base: "300g", Water: "85%", Aliquot: []string{name}}
			first := obeyed(t, seed, "260302a", wish)
			b := first.s.Batch
			require.True(t, b.Leaves())
			weigh, dilute, _ := b.CupSteps(0)
			share := first.tipped(weigh.Material) / (first.tipped(weigh.Material) + first.tipped(dilute.Material))

			shop := &Workshop{}
			shop.Stock.Recall = func(string) []fact.Fact { return first.facts }
			kept, err := KeepRequest{By: "Mara", Left: &LeftRequest{Batch: "260302a"}}.Body(shop)
			require.NoError(t, err)
			shop.Stock.Add(fact.Fact{Seq: 1000, At: first.now, By: "Mara", Body: kept})
			wish.Base, wish.Stock = "600g", &shop.Stock // a larger part, whose nearest whole step is good enough
			second := obeyed(t, seed+100, "260302b", wish)
			require.Equal(t, "L1", second.s.Batch.Mixes[0].Lot, "it is used up first")
			require.Len(t, second.s.Batch.Steps, len(b.Steps)-2, "nothing is mixed anew")

			for _, p := range []*proof{first, second} {
				_, _, take := p.s.Batch.CupSteps(0)
				really := p.tipped(take.Material) * share
				for _, l := range p.facts[len(p.facts)-1].Body.(fact.Finished).Lines {
					if l.Material != name {
						continue
					}
					checks++
					off := math.Abs(really - grams(l.Delivered))
					t.Logf("%s, seed %d, %s: %.4f g, the record %.4f g ± %.4f g", name, seed, p.facts[0].Batch, really, grams(l.Delivered), grams(l.U))
					assert.LessOrEqual(t, grams(l.U), 0.02*grams(l.Delivered), "it is known within its band")
					assert.LessOrEqual(t, off, 2*grams(l.U))
					if off > grams(l.U) {
						beyond++
					}
				}
			}
		}
	}
	assert.Equal(t, 4*int(seeds), checks)
	assert.LessOrEqual(t, beyond, checks/8)
}

package sheet

import (
	"fmt"
	"math"
	"math/big"
	"math/rand/v2"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"tared/protocol"
	"tared/session/recipe"
	"tared/session/text"
)

// planned plans a recipe on one scale.
func planFor(t require.TestingT, written, base, step string, change func(*Request)) (Sheet, error) {
	rec, err := recipe.Parse(written)
	require.NoError(t, err)
	r := Request{Recipe: rec, Size: Size{Base: mass(base)}, Scales: []Scale{{Name: "bench", Step: mass(step), Max: mass("20kg")}}}
	if change != nil {
		change(&r)
	}
	return Plan(r)
}

const sky = "Quartz 40\nPotash feldspar 35\nBall clay 25\n"

// What dissolves goes into a weighed solution: round cuts that the scale shows, no stronger
// than half of the published solubility at 20 °C, or 3 g in 100 g of water where only the
// class of the table is known (it begins there), and as strong as one likes where it is sold
// in water. U is worked out by hand from the page of calc doubt, with x = 0.1 % and
// R² = 4·d²/6 + (2·d/2)².
func TestASolution(t *testing.T) {
	for _, c := range []struct {
		addition, base, step       string
		weigh, dilute, total, take string
		u                          float64
		why                        string
	}{
		{"+ Cobalt sulfate 0.4", "300g", "0.1g", "8g", "312g", "320g", "48g", 0.01919654, "3 g in 100 g: 1 part in 34.3, rounded up to 40; 1.2²·(0.0166667·((312/2560)² + 1/320² + 1/48²) + (0.001·0.975)²) = 0.000368507"},
		{"+ Borax 0.5", "200g", "0.1g", "8g", "312g", "320g", "40g", 0.016096, "NIOSH Pocket Guide: 6 g in 100 ml, half of which is 3; U² = 1·(0.0166667·((312/2560)² + 1/320² + 1/40²) + (0.001·0.975)²) = 0.000259089"},
		{"+ Sodium silicate 0.3", "500g", "0.1g", "2.5g", "0g", "0g", "0g", 0, "sold in water: no limit; a suspender may be off by a tenth"},
	} {
		sh, err := planFor(t, sky+c.addition+"\n", c.base, c.step, func(r *Request) {
			r.Water = rat("85")
			r.Allow = map[Role]Allow{Suspender: {Share: rat("0.02")}}
		})
		require.NoError(t, err)
		l := sh.Lines[len(sh.Lines)-1]
		var a *Aliquot
		for _, o := range l.Outs {
			if o.Kind == "aliquot" {
				a = o.Aliquot
			}
		}
		if !assert.NotNil(t, a, "%s: %v", c.addition, sh.Words) {
			continue
		}
		assert.True(t, a.Solution(), c.addition)
		if c.u == 0 {
			assert.Less(t, a.Total/a.Weigh, protocol.Mass(34), c.why)
			continue
		}
		assert.Equal(t, []protocol.Mass{mass(c.weigh), mass(c.dilute), mass(c.total), mass(c.take)}, []protocol.Mass{a.Weigh, a.Dilute, a.Total, a.Take - a.Off}, c.why)
		assert.InDelta(t, c.u, grams(a.U), 2e-5, c.why)
	}
}

func grams(m protocol.Mass) float64 { f, _ := m.Rat().Float64(); return f }

// The water that a solution brings comes off the first water, weighed or not, and is told;
// what it brings of the material is the whole of its target.
func TestASolutionBringsWater(t *testing.T) {
	for _, water := range []string{"85", ""} {
		sh, err := planFor(t, sky+"+ Cobalt sulfate 0.4\n", "300g", "0.1g", func(r *Request) {
			r.Aliquot = []string{"cobalt sulfate"}
			if water != "" {
				r.Water = rat(water)
			}
		})
		require.NoError(t, err)
		a := sh.Lines[len(sh.Lines)-1].Aliquot
		require.NotNil(t, a)
		assert.Equal(t, mass("46.8g"), a.Less)
		// By hand: 301.2 g of dry material take 256.02 g at 85 %, or 271.08 g at 9 to 10.
		all := mass("271.08g")
		if water != "" {
			all = mass("256.02g")
			assert.Equal(t, all, sh.Water.Target)
			assert.Equal(t, "209.2", sh.Water.Own())
		}
		assert.Equal(t, all-mass("46.8g"), sh.Slip.Water)
		assert.Contains(t, strings.Join(sh.Words, " "), "Solutions bring 46.8")
	}
	_, err := planFor(t, sky+"+ Cobalt sulfate 0.4\n", "300g", "0.1g", func(r *Request) { r.Aliquot, r.Water = []string{"Cobalt sulfate"}, rat("10") })
	require.ErrorIs(t, err, text.ErrRefused)
	assert.Contains(t, err.Error(), "more Water than the batch takes, 30", "10 % of 301 g is less than any part that is good enough brings")
}

// A powder that dissolves in part, such as wood ash, makes no solution: what stays at the
// bottom would be missing.
func TestWhatDissolvesInPartMakesNoSolution(t *testing.T) {
	sh, err := planFor(t, sky+"+ Wood ash 0.4\n", "300g", "0.1g", nil)
	require.NoError(t, err)
	for _, o := range sh.Lines[len(sh.Lines)-1].Outs {
		assert.False(t, o.Kind == "aliquot" && o.Aliquot.Solution(), "%+v", o)
	}
}

// What is weighed of a colourant and what is left over are bounded by the scale and by the
// batch, so a coarse scale has a way out where it can, and says why where it has none. By hand, on a
// scale of 1 g at 2 %: U = √(4/6 + 1) = 1.291 g, so the least is 64.55 g and 129.1 g at most
// are weighed.
func TestACoarseScaleDilutesOrSaysWhy(t *testing.T) {
	for _, c := range []struct{ base, weigh, why string }{
		{"1000g", "120g", ""}, // 20 g: 120 g in 720 g, of which 600 g are left over, less than the batch
		{"3000g", "120g", ""},
		{"300g", "", "The limit is 500"}, // 6 g: 120 g in 2400 g
	} {
		sh, err := planFor(t, sky+"+ Iron oxide red 2\n", c.base, "1g", nil)
		require.NoError(t, err)
		l := sh.Lines[len(sh.Lines)-1]
		var ways []string
		for _, o := range l.Outs {
			if o.Kind == "aliquot" {
				ways = append(ways, o.Aliquot.Weigh.String())
				assert.LessOrEqual(t, o.U, l.Allowed)
				assert.LessOrEqual(t, o.Aliquot.Weigh, mass("129.2g"))
				assert.LessOrEqual(t, o.Aliquot.Total-o.Aliquot.Take, max(mass("500g"), sh.Dry))
			}
		}
		if c.why == "" {
			assert.Len(t, ways, 1, c.base)
			continue
		}
		assert.Empty(t, ways)
		assert.Contains(t, strings.Join(sh.Words, " "), c.why)
		_, err = planFor(t, sky+"+ Iron oxide red 2\n", c.base, "1g", func(r *Request) { r.Aliquot = []string{"Iron oxide red"} })
		assert.ErrorContains(t, err, c.why, "and it is refused with the same reason")
	}
}

// Any recipe, size and step: every aliquot that is offered delivers the need, or as near as
// its scale shows; leaves nothing below zero; takes no more carrier than there is; and its U
// is honest. The last is held against chance: weighings that are wrong by what rounding
// and repeatability do, and a mixture that is uneven by what is assumed, spread no further
// than U in 95 of 100.
func TestEveryAliquotIsHonest(t *testing.T) {
	rng := rand.New(rand.NewPCG(7, 7))
	rapid.Check(t, func(t *rapid.T) {
		what := rapid.SampledFrom([]string{"Cobalt carbonate", "Cobalt sulfate", "Copper sulfate", "Borax", "Tin oxide", "Sodium silicate"}).Draw(t, "what")
		share := rapid.Int64Range(1, 300).Draw(t, "hundredths")
		base := fmt.Sprintf("%dg", rapid.Int64Range(20, 5000).Draw(t, "base"))
		step := rapid.SampledFrom([]string{"0.001g", "0.01g", "0.02g", "0.05g", "0.1g", "0.2g", "0.5g", "1g"}).Draw(t, "step")
		sh, err := planFor(t, fmt.Sprintf("%s+ %s %d.%02d\n", sky, what, share/100, share%100), base, step, nil)
		if err != nil {
			return // too small for anything
		}
		l := sh.Lines[len(sh.Lines)-1]
		for _, o := range l.Outs {
			if o.Kind != "aliquot" {
				continue
			}
			a, d := *o.Aliquot, mass(step)
			require.Equal(t, l.Target, a.Need)
			require.Equal(t, a.Weigh+a.Dilute, a.Total)
			require.Equal(t, a.Need+a.Less, a.Take)
			require.GreaterOrEqual(t, a.Total, a.Take)
			require.Zero(t, a.Weigh%d+a.Dilute%d+(a.Take-a.Off)%d, "in steps of the scale")
			held, err := Held(a.Weigh, a.Total, a.Take)
			require.NoError(t, err)
			require.Zero(t, held.Cmp(a.Need.Rat()))
			carrier := sh.Slip.Water
			if !a.Solution() {
				for _, b := range sh.Lines {
					if b.Material == a.Carrier {
						carrier = b.Target
					}
				}
			}
			require.LessOrEqual(t, a.Less, carrier)
			x, _ := a.Mixing().Float64()
			outside, far := 0, grams(a.U)
			const tries = 2000
			for range tries {
				weighed := func(m protocol.Mass) float64 { // two readings, each rounded, and s of half a step
					s := grams(d)
					return grams(m) + s*(rng.Float64()-rng.Float64()) + s/2*rng.NormFloat64()
				}
				w, dl, tk := weighed(a.Weigh), weighed(a.Dilute), weighed(a.Take)
				in := tk * w / (w + dl) * (1 + x/2*(1-grams(a.Need)/grams(a.Take))*rng.NormFloat64())
				if math.Abs(in-grams(a.Need)) > far {
					outside++
				}
			}
			require.Less(t, outside, tries*7/100, "%s: U %v", o.Words, a.U)
		}
	})
}

// thin is one part in how many: 3 g in 100 g of water make 103 g, 34.3 times as much.
func TestThin(t *testing.T) {
	assert.EqualValues(t, 0, thin(nil))
	assert.EqualValues(t, 35, thin(big.NewRat(3, 1)))
	assert.EqualValues(t, 2, thin(big.NewRat(100, 1)))
	assert.EqualValues(t, 68, thin(big.NewRat(3, 2)), "1.5 in 101.5: 67.7")
}

// Any kept mixture: a part that is offered holds the need, there is enough of it, and its U is
// honest, for weighings of then and now that are wrong as they may be.
func TestEveryPartOfAKeptMixtureIsHonest(t *testing.T) {
	rng := rand.New(rand.NewPCG(9, 9))
	rapid.Check(t, func(t *rapid.T) {
		then := mass(rapid.SampledFrom([]string{"0.01g", "0.1g", "0.5g"}).Draw(t, "then"))
		w := then * protocol.Mass(rapid.Int64Range(20, 500).Draw(t, "weigh"))
		d := w * protocol.Mass(rapid.Int64Range(1, 60).Draw(t, "times"))
		s := Scale{Name: "old", Step: then}
		k := Kept{Lot: "L7", Material: "Cobalt carbonate", Carrier: "Quartz", Parts: [2]Weighed{s.weighed(w), s.weighed(d)}, Mixing: Mixing, Left: protocol.Mass(rapid.Int64Range(1, int64(w+d)).Draw(t, "left"))}
		step := rapid.SampledFrom([]string{"0.01g", "0.1g", "0.2g"}).Draw(t, "step")
		sh, err := planFor(t, fmt.Sprintf("%s+ Cobalt carbonate %d.%02d\n", sky, 0, rapid.Int64Range(1, 99).Draw(t, "share")), fmt.Sprintf("%dg", rapid.Int64Range(50, 2000).Draw(t, "base")), step, func(r *Request) { r.Kept = []Kept{k} })
		if err != nil {
			return
		}
		l := sh.Lines[len(sh.Lines)-1]
		for _, o := range l.Outs {
			if o.Aliquot == nil || o.Aliquot.Lot == "" {
				continue
			}
			a := *o.Aliquot
			require.LessOrEqual(t, a.Take, k.Left)
			require.Equal(t, a.Take, a.Need+a.Less)
			require.LessOrEqual(t, a.U+a.Off.Abs().Times(a.Need, a.Take), l.Allowed)
			held, err := Held(w, w+d, a.Take)
			require.NoError(t, err)
			require.LessOrEqual(t, held.Sub(held, a.Need.Rat()).Abs(held).Cmp(big.NewRat(1, 1e9)), 0)
			outside := 0
			const tries = 2000
			for range tries {
				weighed := func(m, d protocol.Mass) float64 {
					return grams(m) + grams(d)*(rng.Float64()-rng.Float64()) + grams(d)/2*rng.NormFloat64()
				}
				m, c := weighed(w, then), weighed(d, then)
				in := weighed(a.Take, mass(step)) * m / (m + c) * (1 + 0.005*c/(m+c)*rng.NormFloat64())
				if math.Abs(in-grams(a.Need)) > grams(a.U) {
					outside++
				}
			}
			require.Less(t, outside, tries*7/100, "%s: U %v", o.Words, a.U)
		}
	})
}

// Any levels, cups and kept mixture: what the cups get adds up to the recipe, the parts of
// all cups are in the lot, and no cup takes more of a carrier than it has.
func TestTheCupsShareAMixture(t *testing.T) {
	rec, err := recipe.Parse(sky)
	require.NoError(t, err)
	planned := 0
	rapid.Check(t, func(t *rapid.T) {
		carrier := rapid.SampledFrom([]string{"Quartz", WaterName}).Draw(t, "carrier")
		s := Scale{Name: "bench", Step: mass("0.1g"), Max: mass("5kg")}
		w := s.Step * protocol.Mass(rapid.Int64Range(100, 300).Draw(t, "weigh"))
		d := w * protocol.Mass(rapid.Int64Range(1, 60).Draw(t, "times"))
		k := Kept{Lot: "L7", Material: "Cobalt sulfate", Carrier: carrier, Parts: [2]Weighed{s.weighed(w), s.weighed(d)}, Mixing: Mixing, Left: w + d}
		var cups []Variation
		for i := range rapid.IntRange(1, 6).Draw(t, "cups") {
			cups = append(cups, Variation{Mark: fmt.Sprint(i + 1), Doses: []Dose{{"Cobalt sulfate", big.NewRat(rapid.Int64Range(0, 300).Draw(t, "level"), 100)}}})
		}
		cup := mass(fmt.Sprintf("%dg", rapid.Int64Range(50, 1000).Draw(t, "cup")))
		p, err := PlanSeries(SeriesRequest{Request: Request{Recipe: rec, Scales: []Scale{s}, Kept: []Kept{k}, Aliquot: []string{"Cobalt sulfate"}, Water: rat("80")}, Cup: cup, Cups: cups})
		if err != nil {
			require.ErrorIs(t, err, text.ErrRefused)
			return
		}
		planned++
		taken := protocol.Mass(0)
		for _, c := range p.Cups {
			base := c.Take.Target
			for _, l := range c.Lines {
				require.LessOrEqual(t, l.Less, l.Target)
				if a := l.Aliquot; a != nil {
					require.Equal(t, "L7", a.Lot)
					require.Equal(t, l.Target, a.Need)
					taken += a.Take
				}
				if !l.Addition {
					base += l.Target
				}
			}
			require.Equal(t, cup, base, "the base of a cup")
			require.LessOrEqual(t, c.Water.Less, c.Water.Target)
		}
		require.LessOrEqual(t, taken, k.Left)
		shares := new(big.Rat)
		for _, l := range p.Common.Lines {
			shares.Add(shares, l.Share)
		}
		require.Zero(t, shares.Cmp(hundred))
	})
	assert.Positive(t, planned)
}

// A series says which mixture its cups want, in words and weights. Once that is kept as it was
// wished for the series offers it, and whatever it offers can be planned.
func TestASeriesIsOfferedWhatServes(t *testing.T) {
	rec, err := recipe.Parse(sky)
	require.NoError(t, err)
	made := 0
	rapid.Check(t, func(t *rapid.T) {
		name := rapid.SampledFrom([]string{"Cobalt carbonate", "Cobalt sulfate"}).Draw(t, "material")
		s := Scale{Name: "bench", Step: mass("0.1g"), Max: mass("5kg")}
		r := SeriesRequest{Request: Request{Recipe: rec, Scales: []Scale{s}, Water: rat("80")}, Cup: mass(fmt.Sprintf("%dg", rapid.Int64Range(100, 1000).Draw(t, "cup")))}
		for i := range rapid.IntRange(1, 4).Draw(t, "cups") {
			r.Cups = append(r.Cups, Variation{Mark: fmt.Sprint(i + 1), Doses: []Dose{{name, big.NewRat(rapid.Int64Range(0, 150).Draw(t, "level"), 100)}}})
		}
		p, err := PlanSeries(r)
		require.NoError(t, err)
		coarse := false
		for _, c := range p.Cups {
			for _, l := range c.Lines {
				coarse = coarse || l.Verdict != Good
			}
		}
		require.Equal(t, coarse, len(p.Mixes) == 1, "for a material that a cup cannot weigh, and no other")
		if !coarse {
			return
		}
		m := p.Mixes[0]
		require.NotEmpty(t, m.Words)
		require.Empty(t, m.Lot, "nothing is kept")
		if m.Weigh == "" {
			return
		}
		require.Contains(t, m.Words, m.Weigh[:len(m.Weigh)-2])
		weigh, into := mass(strings.ReplaceAll(m.Weigh, " ", "")), mass(strings.ReplaceAll(m.Into, " ", ""))
		x := Mixing
		if m.Carrier == WaterName {
			x = Dissolved
		}
		r.Kept = []Kept{{Lot: "L7", Material: name, Carrier: m.Carrier, Parts: [2]Weighed{s.weighed(weigh), s.weighed(into)}, Mixing: x, Left: weigh + into}}
		p, err = PlanSeries(r)
		require.NoError(t, err)
		require.Equal(t, "L7", p.Mixes[0].Lot)
		made++
		r.Aliquot = []string{name}
		p, err = PlanSeries(r)
		require.NoError(t, err, "it was offered")
		require.Equal(t, []CupMix{{Material: name, Lot: "L7", Used: true}}, p.Mixes)
		for _, c := range p.Cups {
			for _, l := range c.Lines {
				if l.Material == name {
					require.Equal(t, Good, l.Verdict, "cup %s", c.Mark)
				}
			}
		}
	})
	assert.Positive(t, made)
}

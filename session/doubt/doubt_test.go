package doubt_test

import (
	"math"
	"math/big"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"tared/protocol"
	"tared/session/doubt"
)

func mass(s string) protocol.Mass {
	m, err := protocol.ParseMass(s)
	if err != nil {
		panic(err)
	}
	return m
}

func measured(placings uint64) gauge { return gauge{doubt.Gauge{Placings: placings}, true} }

type gauge struct {
	doubt.Gauge
	measured bool
}

// Each figure was worked out by hand from the formulas that `tared calc doubt` shows.
func TestU(t *testing.T) {
	for _, c := range []struct {
		name, step, spread string
		gauge              gauge
		net, u, source     string
	}{
		{"two roundings", "0.1g", "0g", measured(0), "10g", "0.08165", "EURAMET cg-18 (from memory): 2·d/√6"},
		{"two roundings, of 1 g", "1g", "0g", measured(0), "10g", "0.8165", "derived"},
		{"two roundings, of 0.1 mg", "0.0001g", "0g", measured(0), "1g", "0.00008165", "R package masscor, test-uncertainties.R: u² = 1.66667e-9 g²"},
		{"half a step assumed", "0.1g", "0g", gauge{}, "85g", "0.1291", "2·sqrt(0.01/6 + 0.0025)"},
		{"s as a person says it", "0.1g", "0.03g", gauge{}, "85g", "0.1013", "2·sqrt(0.01/6 + 0.0009)"},
		{"s of 1 ng is s of nothing", "0.1g", "0.000001mg", gauge{}, "85g", "0.08165", "nothing jumps between what was measured as nothing and as next to nothing"},
		{"s of ten placings", "0.1g", "0.08g", measured(10), "85g", "0.2028", "t(9) = 2.32: sqrt(4·0.01/6 + 2.32²·0.0064)"},
		{"s of five placings", "0.1g", "0.08g", measured(5), "85g", "0.2437", "t(4) = 2.87: sqrt(4·0.01/6 + 2.87²·0.0064)"},
		{"s of two placings", "0.1g", "0.08g", measured(2), "85g", "1.121", "t(1) = 13.97"},
		{"class III at 85 g", "0.1g", "0g", gauge{Gauge: doubt.Gauge{Class: "III", Interval: mass("0.1g")}}, "85g", "0.2646", "OIML R 76-1:2006 Table 6, in service 0.2 g: 2·sqrt(0.0041667 + 0.04/3)"},
		{"class III at 50 g", "0.1g", "0g", gauge{Gauge: doubt.Gauge{Class: "III", Interval: mass("0.1g")}}, "50g", "0.1733", "500 e, in service 0.1 g: 2·sqrt(0.0041667 + 0.01/3)"},
		{"class III without e", "0.1g", "0g", gauge{Gauge: doubt.Gauge{Class: "III"}}, "85g", "0.2646", "e is the step where none is said"},
		{"class II at 50.01 g", "0.01g", "0g", gauge{Gauge: doubt.Gauge{Class: "II", Interval: mass("0.01g")}}, "50.01g", "0.02646", "5001 e, in service 0.02 g"},
		{"class III beyond its table", "0.1g", "0g", gauge{Gauge: doubt.Gauge{Class: "III"}}, "2000g", "0.7048", "10 000 e end at 0.3 g in service; twice that load, twice that"},
		{"a known weight", "0.1g", "0g", gauge{Gauge: doubt.Gauge{Check: doubt.Check{Mass: mass("500g"), Allowed: mass("0.2g")}}}, "250g", "0.1494", "w = 0.2/3; open² = 0.016667 + 4w²/3 = 0.022593; half of 0.15031 at half the load, with 0.1291"},
		{"a known weight that shows 0.1 g more", "0.1g", "0g", gauge{Gauge: doubt.Gauge{Check: doubt.Check{Mass: mass("500g"), Deviation: mass("0.1g"), Allowed: mass("0.2g")}}}, "250g", "0.1799", "(0.1 + 0.15031)/2 with 0.1291"},
		{"class and a known weight", "0.1g", "0g", gauge{Gauge: doubt.Gauge{Class: "III", Check: doubt.Check{Mass: mass("500g"), Allowed: mass("0.2g")}}}, "85g", "0.1316", "the smaller: 0.15031·85/500 = 0.02555"},
		{"a check that failed vouches for nothing else", "0.1g", "0g", gauge{Gauge: doubt.Gauge{Class: "III", Check: doubt.Check{Mass: mass("100g"), Deviation: mass("-1g"), Allowed: mass("0.2g"), Failed: true}}}, "100g", "1.158", "1 + 0.15031 with 0.1291"},
	} {
		s := doubt.Scale{Step: mass(c.step), Spread: mass(c.spread), Measured: c.gauge.measured, Gauge: c.gauge.Gauge}
		got, _ := new(big.Rat).SetString(s.U(mass(c.net)).Grams(0))
		want, _ := new(big.Rat).SetString(c.u)
		g, _ := got.Float64()
		w, _ := want.Float64()
		assert.InEpsilon(t, w, g, 0.001, "%s: %s", c.name, c.source)
	}
}

// Against the definition: U is the smallest whole unit whose square is not under
// 4(d²/6 + s²), s half a step where nobody measured it.
func TestUIsRoundedUp(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		d := protocol.Mass(rapid.Int64Range(1, 1e16).Draw(t, "d"))
		s := protocol.Mass(rapid.Int64Range(0, 1e16).Draw(t, "s"))
		U := doubt.Scale{Step: d, Spread: s}.U(1)
		square := func(m protocol.Mass) *big.Rat { return new(big.Rat).SetInt(doubt.AddSquare(nil, m)) }
		s2 := square(s)
		if s == 0 {
			s2 = new(big.Rat).Mul(square(d), big.NewRat(1, 4))
		}
		want := s2.Add(s2, new(big.Rat).Mul(square(d), big.NewRat(1, 6)))
		want.Mul(want, big.NewRat(4, 1))
		assert.GreaterOrEqual(t, square(U).Cmp(want), 0)
		assert.Negative(t, square(U-protocol.Nanogram).Cmp(want))
	})
}

const p = 0.95449974 // within two standard deviations of a normal distribution

// inside is how much of Student's distribution with v degrees of freedom lies within x.
func inside(x, v float64) float64 {
	a, _ := math.Lgamma((v + 1) / 2)
	b, _ := math.Lgamma(v / 2)
	const parts = 4000
	h := math.Atan(x/math.Sqrt(v)) / parts
	sum := 0.0
	for i := range parts {
		sum += h * math.Pow(math.Cos((float64(i)+0.5)*h), v-1)
	}
	return 2 * math.Exp(a-b) / math.Sqrt(math.Pi) * sum
}

// Student's t for 95.45 %, worked out by integrating its density: the table of JCGM
// 100:2008, G.2, has it with two decimals.
func TestStudent(t *testing.T) {
	for n := uint64(2); n <= 40; n++ {
		// With no step to speak of, U is t·s.
		U := doubt.Scale{Step: 0, Spread: mass("1g"), Measured: true, Gauge: doubt.Gauge{Placings: n}}.U(1)
		x := float64(U) / float64(mass("1g"))
		v := float64(n - 1)
		assert.GreaterOrEqual(t, inside(x+0.005, v), p, "%d placings: %v is too little", n, x)
		if n <= 21 {
			assert.LessOrEqual(t, inside(x-0.005, v), p, "%d placings: %v is too much", n, x)
		}
	}
}

// U as Welch and Satterthwaite have it (JCGM 100:2008, G.4), with the degrees of freedom as
// they come and not cut down to whole ones, is never more than ours, which
// needs no degrees of freedom for sums of sums.
func TestNeverUnderWelchSatterthwaite(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		d := rapid.Float64Range(0.001, 1).Draw(t, "d")
		s := rapid.Float64Range(0.001, 1).Draw(t, "s")
		n := rapid.Uint64Range(2, 11).Draw(t, "n")
		u2 := d*d/6 + s*s
		v := u2 * u2 / (s * s * s * s / float64(n-1))
		g := float64(mass("1g"))
		ours := float64(doubt.Scale{Step: protocol.Mass(d * g), Spread: protocol.Mass(s * g), Measured: true, Gauge: doubt.Gauge{Placings: n}}.U(1)) / g
		k := ours * 1.002 / math.Sqrt(u2) // t stands in the table with two decimals
		assert.GreaterOrEqual(t, inside(k, v), p)
	})
}

// In: the whole interval lies in what is allowed. Under and over: it lies outside. Between
// them the rule says which (JCGM 106:2012, 8.2 and 8.3).
func TestJudge(t *testing.T) {
	for _, c := range []struct {
		delivered, u, target, allowed string
		simple, guarded               doubt.Verdict
	}{
		{"41.0g", "0.13g", "41g", "0.41g", doubt.In, doubt.In},
		{"41.28g", "0.13g", "41g", "0.41g", doubt.In, doubt.In}, // to the edge
		{"41.3g", "0.13g", "41g", "0.41g", doubt.In, doubt.Cannot},
		{"41.41g", "0.13g", "41g", "0.41g", doubt.In, doubt.Cannot},
		{"41.5g", "0.13g", "41g", "0.41g", doubt.Over, doubt.Cannot},
		{"41.6g", "0.13g", "41g", "0.41g", doubt.Over, doubt.Over},
		{"40.5g", "0.13g", "41g", "0.41g", doubt.Under, doubt.Cannot},
		{"40g", "0.13g", "41g", "0.41g", doubt.Under, doubt.Under},
		{"1g", "1.3g", "0.25g", "0.005g", doubt.Cannot, doubt.Cannot}, // cobalt on a scale of 1 g
		{"0g", "1.3g", "0.25g", "0.005g", doubt.Cannot, doubt.Cannot},
		{"3g", "1.3g", "0.25g", "0.005g", doubt.Over, doubt.Over},
		{"1.2g", "0.13g", "1.2g", "0.024g", doubt.Cannot, doubt.Cannot}, // on the mark, and nobody can tell
	} {
		d, u, target, allowed := mass(c.delivered), mass(c.u), mass(c.target), mass(c.allowed)
		assert.Equal(t, c.simple, doubt.Simple.Judge(d, u, target, allowed), c)
		assert.Equal(t, c.guarded, doubt.Guarded.Judge(d, u, target, allowed), c)
	}
}

// Whatever the rule: what lies in the band with its whole interval is in, what lies outside
// is not, and a U of more than what is allowed acquits nothing.
func TestJudgeHoldsTheInterval(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		draw := func(name string) protocol.Mass { return protocol.Mass(rapid.Int64Range(0, 1000).Draw(t, name)) }
		d, u, target, allowed := draw("delivered"), draw("U"), draw("target"), draw("allowed")
		for _, r := range []doubt.Rule{doubt.Simple, doubt.Guarded} {
			switch v := r.Judge(d, u, target, allowed); {
			case d-u >= target-allowed && d+u <= target+allowed:
				require.Equal(t, doubt.In, v)
			case d-u > target+allowed:
				require.Equal(t, doubt.Over, v)
			case d+u < target-allowed:
				require.Equal(t, doubt.Under, v)
			case u > allowed || r == doubt.Guarded:
				require.Equal(t, doubt.Cannot, v)
			}
		}
	})
}

// What one scale has wrong in its span adds up in a sum; two scales know nothing of each
// other.
func TestSpansAddUpOnOneScale(t *testing.T) {
	a := []doubt.On{{Scale: "bench", Mass: mass("85g"), Span: mass("3mg")}}
	b := []doubt.On{{Scale: "bench", Mass: mass("15g"), Span: mass("1mg")}, {Scale: "fine", Mass: mass("2g"), Span: mass("3mg")}}
	assert.Equal(t, mass("5mg"), doubt.Root(doubt.Spans(doubt.Both(a, b))), "(3+1)² + 3² = 5²")
	assert.Zero(t, doubt.Spans(doubt.Less(a, a)).Sign())
	assert.Equal(t, mass("4mg"), doubt.Root(doubt.Own(mass("5mg"), a)))
}

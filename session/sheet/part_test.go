package sheet

import (
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"tared/protocol"
	"tared/session/doubt"
)

func TestPart(t *testing.T) {
	for _, c := range []struct{ active, carrier, part, holds, source string }{
		{"120mg", "7380mg", "125mg", "2mg", "basicmedicalkey.com"},
		{"120mg", "1080mg", "120mg", "12mg", "lecture Aliquot method, slidepub.com"},
		{"120mg", "600mg", "120mg", "20mg", "mosg-portal.com, calculate aliquot"},
		{"60mg", "900mg", "120mg", "7.5mg", "the faulty plan of justaaa.com/nursing/108561: 60 mg for eight parts of 8 mg hold 7.5 mg"},
		{"6g", "44g", "10g", "1.2g", "derived: the bench scale of 0.1 g at 2 %"},
		{"6.3g", "46.2g", "10g", "1.2g", "derived: a twentieth too much of both changes nothing"},
	} {
		in, err := Part([]Weighed{{Mass: mass(c.active)}, {Mass: mass(c.carrier)}}, Weighed{Mass: mass(c.part)}, nil)
		require.NoError(t, err, c.source)
		assert.Equal(t, mass(c.holds), in[0].Mass, c.source)
		assert.Equal(t, mass(c.part)-mass(c.holds), in[1].Mass, c.source)
		assert.Zero(t, in[0].U, "no doubt in the weighings, none in the part")
		assert.Equal(t, mass(c.part), Need(mass(c.holds), mass(c.active), mass(c.active)+mass(c.carrier)), c.source)
	}
	_, err := Part([]Weighed{{}, {}}, Weighed{Mass: mass("1g")}, nil)
	require.ErrorIs(t, err, ErrPart)
	_, err = Part([]Weighed{{Mass: mass("1g")}}, Weighed{Mass: -1}, nil)
	require.ErrorIs(t, err, ErrPart)
}

// The U of the plan and that of the part are one formula, written in two ways.
func TestPartDoubtsWhatThePlanDoubts(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		need := protocol.Mass(rapid.Int64Range(1, 5000).Draw(t, "need")) * protocol.Milligram
		n := rapid.Int64Range(2, 50).Draw(t, "n")
		take := need + protocol.Mass(rapid.Int64Range(1, 50000).Draw(t, "more"))*protocol.Milligram
		s := doubt.Scale{Step: protocol.Mass(rapid.Int64Range(1, 500).Draw(t, "step")) * protocol.Milligram,
			Gauge: doubt.Gauge{Class: rapid.SampledFrom([]string{"", "III"}).Draw(t, "class"), Interval: 100 * protocol.Milligram}}
		on := func(m protocol.Mass) Weighed {
			return Weighed{m, s.U(m), []doubt.On{{Scale: "bench", Mass: m, Span: s.Span(m)}}}
		}
		a := Aliquot{Need: need, Take: take, Weigh: protocol.Mass(n) * need, Total: protocol.Mass(n) * take}
		in, err := Part([]Weighed{on(a.Weigh), on(a.Total - a.Weigh)}, on(take), Mixing)
		require.NoError(t, err)
		require.Equal(t, need, in[0].Mass)
		require.InDelta(t, int64(a.Uncertainty(s)), int64(in[0].U), max(float64(in[0].U)/1e4, 100*float64(protocol.Nanogram)))
	})
}

// Against a simulation: the amounts in a part of a mixture whose weighings are
// wrong by normal errors spread as far as U says. The seed is fixed.
func TestPartAgainstChance(t *testing.T) {
	rng := rand.New(rand.NewPCG(3, 3))
	mixed := []Weighed{{Mass: mass("6g"), U: mass("0.13g")}, {Mass: mass("44g"), U: mass("0.2g")}, {Mass: mass("20g"), U: mass("0.1g")}}
	part := Weighed{Mass: mass("12g"), U: mass("0.13g")}
	want, err := Part(mixed, part, Mixing)
	require.NoError(t, err)
	const rounds = 200_000
	squares := make([]float64, len(mixed))
	for range rounds {
		sum := 0.0
		m := make([]float64, len(mixed))
		for i, w := range mixed {
			m[i] = float64(w.Mass) + float64(w.U)/2*rng.NormFloat64()
			sum += m[i]
		}
		p := float64(part.Mass) + float64(part.U)/2*rng.NormFloat64()
		for i := range m {
			mixed := 1 + 0.005*rng.NormFloat64()*(1-m[i]/sum)
			d := mixed*p*m[i]/sum - float64(want[i].Mass)
			squares[i] += d * d
		}
	}
	for i := range squares {
		u := 2 * math.Sqrt(squares[i]/rounds)
		assert.InEpsilon(t, u, float64(want[i].U), 0.01, "part %d", i)
	}
}

// What a part holds adds up to it, and all parts to the whole.
func TestPartsAddUp(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		var mixed []Weighed
		sum := protocol.Mass(0)
		for range rapid.IntRange(1, 8).Draw(t, "materials") {
			m := protocol.Mass(rapid.Int64Range(0, 1<<50).Draw(t, "m"))
			mixed = append(mixed, Weighed{Mass: m, U: 1})
			sum += m
		}
		if sum == 0 {
			return
		}
		part := protocol.Mass(rapid.Int64Range(0, int64(sum)).Draw(t, "part"))
		in, err := Part(mixed, Weighed{Mass: part}, nil)
		require.NoError(t, err)
		got := protocol.Mass(0)
		for i, w := range in {
			require.GreaterOrEqual(t, w.Mass, protocol.Mass(0))
			require.Less(t, w.Mass, mixed[i].Mass+grain(part), "rounded to the grain of the part")
			got += w.Mass
		}
		require.Equal(t, part, got)
	})
}

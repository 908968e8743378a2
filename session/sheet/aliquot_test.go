package sheet

import (
	"math/big"
	"strconv"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"tared/protocol"
	"tared/session/doubt"
)

func TestPlanAliquot(t *testing.T) {
	for _, c := range []struct {
		need, least, take                  string
		n                                  int64
		wantN                              int64
		weigh, part, total, dilute, source string
	}{
		{"2mg", "120mg", "125mg", 0, 60, "120mg", "125mg", "7500mg", "7380mg", "basicmedicalkey.com"},
		{"12mg", "120mg", "0g", 0, 10, "120mg", "120mg", "1200mg", "1080mg", "lecture Aliquot method, slidepub.com"},
		{"20mg", "120mg", "0g", 0, 6, "120mg", "120mg", "720mg", "600mg", "mosg-portal.com, calculate aliquot"},
		{"20mg", "325mg", "0g", 20, 20, "400mg", "325mg", "6500mg", "6100mg", "textbook plan of qammunity.org/20363702: times 20; the rest derived"},
		{"1.2g", "5g", "10g", 0, 5, "6g", "10g", "50g", "44g", "derived: the bench scale of 0.1 g at 2 %"},
		{"60mg", "110mg", "200mg", 5, 5, "300mg", "200mg", "1000mg", "700mg", "coursehero 51426626: 300 mg are weighed for 60 mg; as powder, derived"},
	} {
		a, err := PlanAliquot(mass(c.need), mass(c.least), AliquotOptions{N: c.n, Take: mass(c.take)})
		require.NoError(t, err, c.source)
		assert.Equal(t, protocol.Mass(c.wantN), a.Weigh/a.Need, c.source)
		assert.Equal(t, mass(c.weigh), a.Weigh, c.source)
		assert.Equal(t, mass(c.part), a.Take, c.source)
		assert.Equal(t, mass(c.total), a.Total, c.source)
		assert.Equal(t, mass(c.dilute), a.Dilute, c.source)
		assert.Equal(t, a.Take-mass(c.need), a.Less, c.source)
		held, err := Held(a.Weigh, a.Total, a.Take)
		require.NoError(t, err)
		assert.Zero(t, held.Cmp(a.Need.Rat()), c.source)
	}
	// Derived: 10 g of the part bring 8.8 g of the carrier with them.
	a, err := PlanAliquot(mass("1.2g"), mass("5g"), AliquotOptions{Take: mass("10g")})
	require.NoError(t, err)
	assert.Equal(t, mass("8.8g"), a.Less)
}

// A worked answer (justaaa.com/nursing/108561) weighs 60 mg for 8 parts of 8 mg;
// each part would hold 7.5 mg. Eight times 8 mg is 64 mg.
func TestAliquotWeighsTheWholeMultiple(t *testing.T) {
	least, err := LeastByStep(mass("3mg"), rat("0.05"))
	require.NoError(t, err)
	a, err := PlanAliquot(mass("8mg"), least)
	require.NoError(t, err)
	assert.Equal(t, mass("64mg"), a.Weigh)
	assert.NotEqual(t, mass("60mg"), a.Weigh)
	held, err := Held(mass("60mg"), a.Total, a.Take)
	require.NoError(t, err)
	assert.Equal(t, 1, a.Need.Rat().Cmp(held), "60 mg would hold too little")
}

func TestPlanAliquotRefuses(t *testing.T) {
	for _, c := range []struct {
		need, least string
		o           AliquotOptions
		says        string
	}{
		{"200mg", "120mg", AliquotOptions{}, "as it is"},
		{"0g", "120mg", AliquotOptions{}, "more than zero"},
		{"60mg", "110mg", AliquotOptions{N: 1}, "not a dilution"}, // coursehero 51426626: weighing 60 is refused
		{"2mg", "120mg", AliquotOptions{N: 59}, "less than the minimum weight"},
		{"2mg", "120mg", AliquotOptions{Take: mass("119mg")}, "too small"},
		{"100mg", "120mg", AliquotOptions{Take: mass("130mg")}, "too small"}, // carrier of 60 mg
		{"9kg", "8999kg", AliquotOptions{}, "out of range"},
	} {
		_, err := PlanAliquot(mass(c.need), mass(c.least), c.o)
		require.ErrorIs(t, err, ErrAliquot, c)
		assert.Contains(t, err.Error(), c.says)
	}
	// coursehero 51426626: of 5 ml one cannot take 6; it would hold 144 for 120.
	_, err := Held(mass("120mg"), mass("5g"), mass("6g"))
	assert.ErrorIs(t, err, ErrAliquot)
	held, err := Held(mass("300mg"), mass("50g"), mass("10g"))
	require.NoError(t, err)
	assert.Zero(t, held.Cmp(rat("0.06")), "300·10/50 = 60 mg")
}

func TestGeometric(t *testing.T) {
	for _, c := range []struct {
		active, carrier string
		adds            []string
		source          string
	}{
		{"1g", "15g", []string{"1g", "2g", "4g", "8g"}, "pharmaacademias.com"},
		{"3g", "40g", []string{"3g", "6g", "12g", "19g"}, "derived"},
		{"6g", "2g", []string{"2g"}, "derived"},
		{"6g", "0g", nil, "derived"},
	} {
		var want []protocol.Mass
		for _, a := range c.adds {
			want = append(want, mass(a))
		}
		assert.Equal(t, want, Geometric(mass(c.active), mass(c.carrier)), c.source)
	}
}

// Against the propagation written out: relative variances of the three
// weighings with their own sensitivities.
func TestAliquotUncertainty(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		least := protocol.Mass(rapid.Int64Range(2, 1e12).Draw(t, "least"))
		need := protocol.Mass(rapid.Int64Range(max(1, int64(least)/100_000), int64(least)-1).Draw(t, "need"))
		s := doubt.Scale{Step: protocol.Mass(rapid.Int64Range(1, 1e13).Draw(t, "step"))}
		a, err := PlanAliquot(need, least, AliquotOptions{})
		require.NoError(t, err)
		r := func(m protocol.Mass) *big.Rat { return new(big.Rat).SetInt64(int64(m)) }
		sq := func(x *big.Rat) *big.Rat { return x.Mul(x, x) }
		sum := sq(new(big.Rat).Quo(r(a.Dilute), new(big.Rat).Mul(r(a.Weigh), r(a.Total))))
		sum.Add(sum, sq(new(big.Rat).Inv(r(a.Total))))
		sum.Add(sum, sq(new(big.Rat).Inv(r(a.Take))))
		sum.Mul(sum, s.Reading())
		mixing := new(big.Rat).Mul(Mixing, new(big.Rat).Sub(big.NewRat(1, 1), new(big.Rat).Quo(r(need), r(a.Take))))
		sum.Add(sum, sq(mixing)).Mul(sum, sq(r(need)))
		got := a.Uncertainty(s)
		assert.GreaterOrEqual(t, sq(r(got)).Cmp(sum), 0)
		if got > protocol.Nanogram {
			assert.LessOrEqual(t, sq(r(got-protocol.Nanogram)).Cmp(sum), 0)
		}
	})
}

// The mixture chosen for a need is the smallest of all in round cuts; more carrier than the
// recipe has is not taken.
func TestSuit(t *testing.T) {
	scale := Scale{Name: "bench", Step: mass("0.1g"), Max: mass("2kg")}
	s := measured{Scale: scale, u: scale.Weighs().U(0), room: mass("2kg"), limited: true}
	a, ok := suit(mass("1.2g"), mass("0.024g"), s, bounds{carrier: mass("41g")})
	require.True(t, ok)
	assert.LessOrEqual(t, a.U, mass("0.024g"))
	for _, times := range rounds(2, 35) {
		for _, weigh := range rounds(65, 500) { // 6.455 g is the least for 2 %: ExampleLeastByUncertainty
			n, w := protocol.Mass(times), mass("0.1g")*protocol.Mass(weigh)
			if n*w < a.Total && n*mass("1.2g") >= mass("6.5g") && n*mass("1.2g") <= n*w {
				assert.Greater(t, Aliquot{Need: mass("1.2g"), Weigh: w, Total: n * w, Take: n * mass("1.2g")}.Uncertainty(s.Weighs()), mass("0.024g"), "%s in %d times that would do and is less", w, n)
			}
		}
	}
	_, ok = suit(mass("1.2g"), mass("0.024g"), s, bounds{carrier: mass("5g")})
	assert.False(t, ok, "not enough carrier in the recipe")
}

func FuzzPlanAliquot(f *testing.F) {
	f.Add(int64(2e9), int64(120e9), int64(0), int64(125e9))
	f.Add(int64(1), int64(1<<62), int64(1<<40), int64(1<<62))
	f.Fuzz(func(t *testing.T, need, least, n, take int64) {
		a, err := PlanAliquot(protocol.Mass(need), protocol.Mass(least), AliquotOptions{n, protocol.Mass(take)})
		if err != nil {
			return
		}
		if a.Weigh < protocol.Mass(least) || a.Take < protocol.Mass(least) || a.Dilute < protocol.Mass(least) || a.Total != a.Weigh+a.Dilute ||
			new(big.Int).Mul(big.NewInt(int64(a.Take)), big.NewInt(int64(a.Weigh))).Cmp(new(big.Int).Mul(big.NewInt(need), big.NewInt(int64(a.Total)))) != 0 {
			t.Fatalf("%+v", a)
		}
		a.Uncertainty(doubt.Scale{Step: protocol.Mass(least)})
	})
}

// What an aliquot tells a hand to weigh is round: so many tens of steps of the colourant, made
// up to a whole multiple of that, and a part that the scale shows, wherever there is one. What
// is weighed and what is left over have a limit. Where no part is in whole steps, what the
// scale shows nearest still is within what is allowed. U is the propagation of
// Aliquot.Uncertainty, which TestAliquotUncertainty writes out.
func TestAnAliquotIsInRoundCuts(t *testing.T) {
	oz := protocol.Mass(28_349_523_125_000) // NIST Handbook 44, Appendix C: 28.349523125 g
	for _, c := range []struct {
		need, allowed protocol.Mass
		step          protocol.Mass
		whole         bool
		why           string
	}{
		{mass("0.25g"), mass("0.005g"), mass("0.1g"), true, "derived: 40 times 0.25 g is 10 g"},
		{mass("0.33g"), mass("0.0066g"), mass("0.1g"), true, "derived: 30 times 0.33 g is 9.9 g"},
		{mass("1.2g"), mass("0.024g"), mass("0.1g"), true, "derived: 10 times"},
		{mass("1.275g"), mass("0.0255g"), mass("0.1g"), true, "derived: 8 times 1.275 g is 10.2 g"},
		{mass("0.0525g"), mass("0.00105g"), mass("0.01g"), true, "derived: 20 times is 1.05 g"},
		{mass("1g"), mass("0.02g"), mass("0.2g"), true, "derived: 20 times 1 g is 100 steps"},
		{mass("2g"), mass("0.1g"), mass("0.5g"), true, "derived: 5 %, 20 times is 40 g"},
		{oz / 2, oz / 40, oz / 20, true, "derived: half an ounce to 5 % on a scale of 0.05 oz is ten of its steps"},
		{oz / 40, oz / 2000, mass("0.1g"), false, "derived: 1 % of 2.5 oz is 0.708738078125 g, no multiple of which under 1000 ends after one decimal"},
		{mass("0.4793g"), mass("0.009586g"), mass("0.1g"), false, "derived: 0.4793 g takes 1000 times to be in tenths"},
	} {
		scale := Scale{Name: "bench", Step: c.step, Max: mass("20kg")}
		s := measured{Scale: scale, u: scale.Weighs().U(0), room: mass("20kg"), limited: true}
		a, ok := suit(c.need, c.allowed, s, bounds{carrier: mass("400g")})
		if !assert.True(t, ok, c.why) {
			continue
		}
		for what, m := range map[string]protocol.Mass{"weigh": a.Weigh, "dilute": a.Dilute, "take": a.Take - a.Off} {
			assert.Zero(t, m%s.Step, "%s: %s %s", c.why, what, m)
		}
		assert.Equal(t, c.whole, a.Off == 0, c.why)
		assert.Zero(t, a.Total%a.Weigh, "%s: 1 part in %s", c.why, a.Total.Rat().Quo(a.Total.Rat(), a.Weigh.Rat()))
		for what, n := range map[string]protocol.Mass{"weigh": a.Weigh / s.Step, "times": a.Total / a.Weigh} {
			assert.Contains(t, []string{"1", "12", "15", "2", "25", "3", "4", "5", "6", "8"}, strings.TrimRight(strconv.FormatInt(int64(n), 10), "0"), "%s: %s is %d", c.why, what, n)
		}
		held, err := Held(a.Weigh, a.Total, a.Take)
		require.NoError(t, err)
		assert.Zero(t, held.Cmp(c.need.Rat()), c.why)
		near, err := Held(a.Weigh, a.Total, a.Take-a.Off)
		require.NoError(t, err)
		off := near.Sub(near, c.need.Rat())
		assert.LessOrEqual(t, off.Abs(off).Add(off, a.U.Rat()).Cmp(c.allowed.Rat()), 0, c.why)
		assert.Equal(t, a.Uncertainty(s.Weighs()), a.U, c.why)
		assert.LessOrEqual(t, a.Total-a.Take, mass("500g"), c.why)
		least, err := over(s.u.Rat(), big.NewRat(int64(c.allowed), int64(c.need)))
		require.NoError(t, err)
		assert.LessOrEqual(t, a.Weigh, max(mass("50g"), 2*least), c.why)
	}
}

package sheet

import (
	"math/big"
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
		assert.Equal(t, c.wantN, a.N, c.source)
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
	assert.Equal(t, int64(8), a.N)
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

// The mixture chosen for a need is the smallest of the round parts tried.
func TestSuit(t *testing.T) {
	U := doubt.Scale{Step: mass("0.1g")}.U(0)
	s := measured{Scale: Scale{Name: "bench", Step: mass("0.1g"), Max: mass("2kg")}, u: U, room: mass("2kg"), limited: true}
	a, ok := suit(mass("1.2g"), mass("0.024g"), s, mass("41g"))
	require.True(t, ok)
	assert.LessOrEqual(t, a.U, mass("0.024g"))
	for _, take := range sensible(mass("1.3g"), mass("42g")) {
		if take%s.Step != 0 {
			continue
		}
		for n := int64(2); protocol.Mass(n)*take < a.Total; n++ {
			if protocol.Mass(n)*mass("1.2g") < mass("6.454972250g") || take < mass("6.454972250g") {
				continue
			}
			assert.Greater(t, Aliquot{Need: mass("1.2g"), Take: take, N: n}.Uncertainty(s.Weighs()), mass("0.024g"), "%d times %s would do and is less", n, take)
		}
	}
	_, ok = suit(mass("1.2g"), mass("0.024g"), s, mass("5g"))
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

// What an aliquot tells a hand to weigh is what the scale can show: colourant, carrier and
// part are whole steps wherever a multiple is, and no more than half a kilogram is left over.
func TestAnAliquotIsInSteps(t *testing.T) {
	for _, c := range []struct{ need, allowed, step string }{
		{"0.25g", "0.005g", "0.1g"},
		{"0.33g", "0.0066g", "0.1g"},
		{"1.2g", "0.024g", "0.1g"},
		{"1.275g", "0.0255g", "0.1g"},
		{"0.0525g", "0.00105g", "0.01g"},
	} {
		scale := Scale{Name: "bench", Step: mass(c.step), Max: mass("2kg")}
		s := measured{Scale: scale, u: scale.Weighs().U(0), room: mass("2kg"), limited: true}
		a, ok := suit(mass(c.need), mass(c.allowed), s, mass("300g"))
		if !assert.True(t, ok, c.need) {
			continue
		}
		for what, m := range map[string]protocol.Mass{"weigh": a.Weigh, "dilute": a.Dilute, "take": a.Take} {
			assert.Zero(t, m%s.Step, "%s: %s %s", c.need, what, m)
		}
		assert.LessOrEqual(t, a.U, mass(c.allowed), c.need)
		assert.LessOrEqual(t, a.Total-a.Take, mass("500g"), c.need)
	}
}

package scale

import (
	"math/big"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"tared/protocol"
)

func mass(t testing.TB, s string) protocol.Mass {
	t.Helper()
	d, err := protocol.ParseDecimal(s)
	require.NoError(t, err)
	m, err := d.Mass(protocol.UnitGram)
	require.NoError(t, err)
	return m
}

// OIML R 76-1:2006 Table 3; the vectors are derived from it.
func TestClasses(t *testing.T) {
	for _, c := range []struct {
		max, e string
		want   map[Class]string // class to lower limit of Min
	}{
		{"6000", "2", map[Class]string{ClassIII: "40"}},
		{"30000", "5", map[Class]string{ClassII: "250", ClassIII: "100"}},
		{"3000", "0.1", map[Class]string{ClassII: "5"}},                // III refused: n > 10 000
		{"300", "0.1", map[Class]string{ClassIII: "2"}},                // II refused: n < 5 000
		{"200", "0.01", map[Class]string{ClassII: "0.2"}},              //
		{"5000", "1", map[Class]string{ClassII: "50", ClassIII: "20"}}, // auxiliary digit d 0.1: n uses e, not d
		{"6000", "5", map[Class]string{ClassIII: "100"}},               // n 1200: ordinary in Canada's SI-98-81, not here
		{"5000", "5", map[Class]string{ClassIII: "100", ClassIIII: "50"}},
		{"50", "0.001", map[Class]string{ClassI: "0.1", ClassII: "0.02"}},
		{"49.999", "0.001", map[Class]string{ClassII: "0.02"}},
		{"2495", "5", map[Class]string{ClassIIII: "50"}}, // n 499: III wants 500 from e 5 g
		{"9", "0.1", nil},
	} {
		t.Run(c.max+"/"+c.e, func(t *testing.T) {
			fits, err := Classes(mass(t, c.max), mass(t, c.e))
			require.NoError(t, err)
			got := map[Class]protocol.Mass{}
			for _, f := range fits {
				got[f.Class] = f.Least
			}
			want := map[Class]protocol.Mass{}
			for class, least := range c.want {
				want[class] = mass(t, least)
			}
			assert.Equal(t, want, got)
		})
	}
	for _, e := range []string{"0.3", "0", "-0.1", "0.0001", "0.25", "40"} {
		_, err := Classes(mass(t, "1000"), mass(t, e))
		assert.ErrorIs(t, err, ErrCheck, e)
	}
}

// OIML R 76-1:2006 Table 6; in service twice that, UK SI 1995/1907 Sch. 2 s. 4.2.
func TestMPE(t *testing.T) {
	for _, c := range []struct {
		class              Class
		e, load            string
		initial, inService string
	}{
		{ClassIII, "0.1", "50.0", "0.05", "0.10"},
		{ClassIII, "0.1", "50.1", "0.10", "0.20"},
		{ClassIII, "0.1", "200.0", "0.10", "0.20"},
		{ClassIII, "0.1", "200.1", "0.15", "0.30"},
		{ClassIII, "5", "1000", "2.5", "5"},
		{ClassII, "0.01", "50.00", "0.005", "0.010"},
		{ClassII, "0.01", "50.01", "0.010", "0.020"},
		{ClassIIII, "5", "250", "2.5", "5"},
		{ClassIIII, "5", "255", "5", "10"},
		// The misprint of UK SI 1995/1907 Sch. 2 Table 3 (20 000 e) must not come back.
		{ClassII, "0.01", "199.99", "0.010", "0.020"},
		// Between two intervals: the upper end belongs to its band, what is above does not.
		{ClassIII, "0.1", "50.05", "0.10", "0.20"},
		{ClassIII, "0.1", "-50.1", "0.10", "0.20"},
		{ClassI, "0.001", "50", "0.0005", "0.001"},
		{ClassI, "0.001", "200.001", "0.0015", "0.003"},
		{ClassI, "0.001", "9000", "0.0015", "0.003"},
	} {
		t.Run(c.class.String()+" "+c.e+" "+c.load, func(t *testing.T) {
			got, err := MPE(c.class, mass(t, c.e), mass(t, c.load))
			require.NoError(t, err)
			assert.Equal(t, mass(t, c.initial), got)
			got, err = MPEInService(c.class, mass(t, c.e), mass(t, c.load))
			require.NoError(t, err)
			assert.Equal(t, mass(t, c.inService), got)
		})
	}
	for name, f := range map[string]func() (protocol.Mass, error){
		"past the end of the table":      func() (protocol.Mass, error) { return MPE(ClassIIII, mass(t, "5"), mass(t, "5005")) },
		"the end that holds in Canada":   func() (protocol.Mass, error) { return MPE(ClassIIII, mass(t, "5"), mass(t, "6000")) },
		"no class":                       func() (protocol.Mass, error) { return MPE(NoClass, mass(t, "5"), mass(t, "5")) },
		"no interval":                    func() (protocol.Mass, error) { return MPE(ClassIII, 0, mass(t, "5")) },
		"an interval that is no 1-2-5":   func() (protocol.Mass, error) { return MPE(ClassIII, mass(t, "0.3"), mass(t, "5")) },
		"in service past the table":      func() (protocol.Mass, error) { return MPEInService(ClassII, mass(t, "1"), mass(t, "100001")) },
		"in service without an interval": func() (protocol.Mass, error) { return MPEInService(ClassII, 0, mass(t, "1")) },
	} {
		_, err := f()
		assert.ErrorIs(t, err, ErrCheck, name)
	}
}

// A heavier load is never allowed less.
func TestMPEGrowsWithTheLoad(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		c := Class(rapid.IntRange(int(ClassI), int(ClassIIII)).Draw(t, "class"))
		e := rapid.SampledFrom([]protocol.Mass{1, 2, 5, 10, 20, 50}).Draw(t, "e") * 100 * protocol.Milligram
		top := errorBands[c][2]
		if top == 0 {
			top = 1_000_000
		}
		a := protocol.Mass(rapid.Int64Range(0, top*int64(e)).Draw(t, "a"))
		b := protocol.Mass(rapid.Int64Range(0, top*int64(e)).Draw(t, "b"))
		ma, err := MPE(c, e, min(a, b))
		require.NoError(t, err)
		mb, err := MPE(c, e, max(a, b))
		require.NoError(t, err)
		assert.LessOrEqual(t, ma, mb)
	})
}

func TestCheck(t *testing.T) {
	for _, c := range []struct {
		name                 string
		nominal, shown, step string
		class                Class
		e                    string
		allowed              string
		pass                 bool
	}{
		{"two steps where there is no class (common practice, no source)", "500", "500.2", "0.1", NoClass, "0", "0.2", true},
		{"more than two steps", "500", "500.3", "0.1", NoClass, "0", "0.2", false},
		{"less than nominal", "500", "499.7", "0.1", NoClass, "0", "0.2", false},
		{"class III in service, R 76-1 Table 6", "200", "199.8", "0.1", ClassIII, "0", "0.2", true},
		{"class III in service, next band", "500", "500.3", "0.1", ClassIII, "0", "0.3", true},
		{"class II with an auxiliary digit: e counts, not the step", "2000", "2001.1", "0.1", ClassII, "1", "1", false},
	} {
		t.Run(c.name, func(t *testing.T) {
			r, err := Check{mass(t, c.nominal), mass(t, c.shown), mass(t, c.step), c.class, mass(t, c.e)}.Run()
			require.NoError(t, err)
			assert.Equal(t, c.pass, r.Pass)
			assert.Equal(t, mass(t, c.allowed), r.Allowed)
		})
	}
	r, err := Check{Nominal: mass(t, "500"), Shown: mass(t, "500.2"), Step: tenth}.Run()
	require.NoError(t, err)
	assert.Equal(t, "check weight 500.0 g shows 500.2 g, +0.2 g off; 0.2 g allowed (two steps): passes", r.Words)
	for _, c := range []Check{{}, {Nominal: 1}, {Nominal: protocol.Gram, Step: tenth, Class: ClassIII, Interval: 3}} {
		_, err := c.Run()
		assert.ErrorIs(t, err, ErrCheck)
	}
}

func TestRepeatability(t *testing.T) {
	// Derived by hand: mean 100.0, squares of the differences 0.01 x 2 + 0 x 8,
	// over 9.
	r := Repeatability{}
	for _, s := range []string{"100.1", "99.9", "100.0", "100.0", "100.0", "100.0", "100.0", "100.0", "100.0", "100.0"} {
		r.Shown = append(r.Shown, mass(t, s))
	}
	v, err := r.Variance()
	require.NoError(t, err)
	assert.Equal(t, "1/450", v.RatString())
	s, err := r.Spread()
	require.NoError(t, err)
	assert.Equal(t, mass(t, "0.047140453"), s) // sqrt(1/450) = 0.04714045207...
	assert.Equal(t, mass(t, "0.2"), r.Range())
	_, err = Repeatability{Shown: r.Shown[:1]}.Variance()
	assert.ErrorIs(t, err, ErrCheck)
	assert.Zero(t, Repeatability{}.Range())
}

// The spread does not depend on where the weights lie, and it is the root of the
// variance, rounded up by less than a nanogram.
func TestRepeatabilityIsExact(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		xs := rapid.SliceOfN(rapid.Int64Range(-1e15, 1e15), 2, 20).Draw(t, "x")
		shift := protocol.Mass(rapid.Int64Range(-1e18, 1e18).Draw(t, "shift"))
		var a, b Repeatability
		for _, x := range xs {
			a.Shown = append(a.Shown, protocol.Mass(x))
			b.Shown = append(b.Shown, protocol.Mass(x)+shift)
		}
		va, err := a.Variance()
		require.NoError(t, err)
		vb, err := b.Variance()
		require.NoError(t, err)
		assert.Zero(t, va.Cmp(vb))
		s, err := a.Spread()
		require.NoError(t, err)
		square := func(m protocol.Mass) *big.Rat { r := m.Rat(); return r.Mul(r, r) }
		assert.GreaterOrEqual(t, square(s).Cmp(va), 0)
		if s > 0 {
			assert.Negative(t, square(s-protocol.Nanogram).Cmp(va))
		}
	})
}

func TestUncertainty(t *testing.T) {
	root := func(v *big.Rat) protocol.Mass {
		m, err := RootUp(v)
		require.NoError(t, err)
		return m
	}
	rounded := func(d protocol.Mass, by int64) *big.Rat {
		r := new(big.Rat).Mul(d.Rat(), d.Rat())
		return r.Mul(r, big.NewRat(1, by))
	}
	for _, c := range []struct{ d, one, two string }{
		// JCGM 100:2008 F.2.2.1 (one reading) and two roundings; derived figures.
		{"0.1", "0.028867514", "0.040824830"},
		{"1", "0.288675135", "0.408248291"},
		{"5", "1.443375673", "2.041241453"},
	} {
		assert.Equal(t, mass(t, c.one), root(rounded(mass(t, c.d), 12)), c.d)
		assert.Equal(t, mass(t, c.two), root(rounded(mass(t, c.d), 6)), c.d)
	}
	_, err := RootUp(big.NewRat(-1, 1))
	assert.ErrorIs(t, err, ErrCheck)
}

// OIML R 76-1:2006 3.6.2.
func TestEccentricity(t *testing.T) {
	e := Eccentricity{Load: mass(t, "200"), Centre: mass(t, "200"), Allowed: mass(t, "0.2")}
	for _, s := range []string{"200.1", "199.8", "200", "200"} {
		e.Edges = append(e.Edges, mass(t, s))
	}
	worst, tilt, pass, err := e.Run()
	require.NoError(t, err)
	assert.True(t, pass)
	assert.Equal(t, -mass(t, "0.2"), worst)
	assert.Equal(t, -mass(t, "0.2"), tilt)
	e.Edges[2] = mass(t, "200.3")
	_, _, pass, err = e.Run()
	require.NoError(t, err)
	assert.False(t, pass)
	_, _, _, err = Eccentricity{}.Run()
	assert.ErrorIs(t, err, ErrCheck)
}

func TestParseClass(t *testing.T) {
	for c := ClassI; c <= ClassIIII; c++ {
		got, err := ParseClass(" " + c.String())
		require.NoError(t, err)
		assert.Equal(t, c, got)
	}
	_, err := ParseClass("IV")
	assert.Error(t, err)
}

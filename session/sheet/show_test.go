package sheet

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"tared/protocol"
	"tared/session/doubt"
)

func TestTheBandIsShownByTheReadingsInIt(t *testing.T) {
	g := func(s string) protocol.Mass {
		m, err := protocol.ParseMass(s + "g")
		if err != nil {
			t.Fatal(err)
		}
		return m
	}
	for _, c := range []struct {
		target, allowed, u, less, step string
		simple, guarded                string
	}{
		{"127.5", "1.275", "0.13", "0", "0.1", "126.3 to 128.7", "126.4 to 128.6"},
		{"41.03", "0.4103", "0.13", "0", "0.1", "40.7 to 41.4", "40.8 to 41.3"},
		{"307.5", "3.075", "0.65", "0", "0.5", "304.5 to 310.5", "305.5 to 309.5"},
		{"90", "1.8", "0.13", "1.5", "0.1", "86.7 to 90.3", "86.9 to 90.1"},
		{"100", "1", "0.82", "0", "1", "99 to 101", "100 to 100"},
		{"1.2", "0.024", "0.13", "0", "0.1", "1.1 to 1.3", "1.1 to 1.3"},               // blind, and nobody can tell
		{"0.04", "0.0008", "0.13", "0", "0.1", "0.0392 to 0.0408", "0.0392 to 0.0408"}, // no reading is within what is allowed
	} {
		l := Line{Target: g(c.target), Allowed: g(c.allowed), U: g(c.u), Less: g(c.less), Step: g(c.step)}
		assert.Equal(t, c.simple, l.Lowest()+" to "+l.Highest(), "%+v", c)
		sh := Sheet{Lines: []Line{l}}
		sh.AcceptBy(doubt.Guarded)
		assert.Equal(t, c.guarded, sh.Lines[0].Lowest()+" to "+sh.Lines[0].Highest(), "%+v", c)
	}
}

// What goes in by way of a mixture is on no scale by itself, so no step rounds its band:
// 2 % of 0.4 g is 0.008 g.
func TestTheBandOfADilutedLineIsExact(t *testing.T) {
	g := func(s string) protocol.Mass {
		m, err := protocol.ParseMass(s + "g")
		require.NoError(t, err)
		return m
	}
	for _, c := range []struct{ target, allowed, step, want string }{
		{"0.4", "0.008", "0.1", "0.392 to 0.408"},
		{"1.2", "0.024", "1", "1.176 to 1.224"},
		{"0.25", "0.005", "0.1", "0.245 to 0.255"},
	} {
		l := Line{Target: g(c.target), Allowed: g(c.allowed), Low: g(c.target) - g(c.allowed), High: g(c.target) + g(c.allowed), Step: g(c.step), Aliquot: &Aliquot{}}
		assert.Equal(t, c.want, l.Lowest()+" to "+l.Highest(), "%+v", c)
	}
}

func TestDoubtHasTwoDigitsThatCount(t *testing.T) {
	for in, want := range map[protocol.Mass]string{129_099_445_000: "0.13", 12_909_945_000: "0.013", 3_100_000_000: "0.0031", 0: "0"} {
		assert.Equal(t, want, in.Doubt())
	}
}

func TestTheScaleThatItGoesToIsShownFirst(t *testing.T) {
	l := Line{Scale: "bench", Verdict: Good, Portions: 2, Fits: []Fit{{Scale: "fine", Verdict: Good}, {Scale: "bench", Verdict: Good}}}
	assert.Equal(t, []Fit{{Scale: "bench", Verdict: Good, Portions: 2}, {Scale: "fine", Verdict: Full, Portions: 1}}, l.ByScale())
}

// A line is shown in the unit of its scale, with the decimals that its step has there.
func TestALineIsShownAsItsScaleShows(t *testing.T) {
	for _, c := range []struct {
		step string
		unit protocol.Unit
		want string
	}{
		{"0.05oz", protocol.UnitOunce, "10.25 ± 0.065 oz"}, // U = 2·sqrt(5/12)·0.05 oz = 0.06455 oz
		{"0.1g", protocol.UnitGram, "290.6 ± 0.13 g"},
		{"0.1g", "", "290.6 ± 0.13 g"},
		{"0.005lb", protocol.UnitPound, "0.641 ± 0.0065 lb"},
		{"0.2gn", protocol.UnitGrain, "4484.4 ± 0.26 gn"},
	} {
		step, err := protocol.ParseMass(c.step)
		require.NoError(t, err)
		u := doubt.Scale{Step: step}.U(0)
		target, err := protocol.ParseMass("10.25oz")
		require.NoError(t, err)
		l := Line{Target: target, Step: step, Unit: c.unit, U: u}
		assert.Equal(t, c.want, l.Exact()+" ± "+l.Doubt()+" "+l.Measure())
	}
}

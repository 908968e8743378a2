package sheet

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"tared/protocol"
	"tared/session/doubt"
)

func TestLeastByRepeatability(t *testing.T) {
	for _, c := range []struct{ step, spread, share, want, source string }{
		{"0.01mg", "0.15mg", "0.001", "300mg", "USP <41>, the chapter's own example: s 0.00015 g, 0.10 %"},
		{"0.1mg", "0mg", "0.001", "82mg", "derived from USP <41>: 0.41 d, 820 d"},
		{"0.1g", "0.03g", "0.001", "82g", "derived: s under 0.41 d, so 0.041 g"},
		{"0.1g", "0.06g", "0.01", "12g", "derived: 2·0.06/0.01"},
		{"1g", "0g", "0.01", "82g", "derived"},
		{"0.01g", "0g", "0.05", "0.164g", "derived"},
	} {
		got, err := LeastByRepeatability(mass(c.step), mass(c.spread), rat(c.share))
		require.NoError(t, err)
		assert.Equal(t, mass(c.want), got, c.source)
	}
}

func TestLeastByStep(t *testing.T) {
	for _, c := range []struct{ possible, share, want, source string }{
		{"6mg", "0.05", "120mg", "UNC pharmlabs, Weighing; basicmedicalkey.com, Accurate weighing for prescriptions"},
		{"6mg", "0.01", "600mg", "basicmedicalkey.com"},
		{"4mg", "0.05", "80mg", "basicmedicalkey.com, practice problem; answer derived"},
		{"10mg", "0.04", "250mg", "College of Pharmacy BasCalc, Error p. 16"},
		{"0.1g", "0.02", "5g", "derived: the bench scale at 2 %"},
	} {
		got, err := LeastByStep(mass(c.possible), rat(c.share))
		require.NoError(t, err)
		assert.Equal(t, mass(c.want), got, c.source)
	}
	// A question-and-answer page (qammunity.org/20363702) answers 6.5 mg at 2 %
	// with 0.325 mg: a thousandth of what it is.
	got, err := LeastByStep(mass("6.5mg"), rat("0.02"))
	require.NoError(t, err)
	assert.Equal(t, mass("325mg"), got)
	assert.NotEqual(t, mass("0.325mg"), got)
	for _, bad := range []string{"0", "-1/100", "11/10"} {
		_, err := LeastByStep(mass("1g"), rat(bad))
		assert.ErrorIs(t, err, ErrShare)
	}
	_, err = LeastByStep(mass("1g"), nil)
	assert.ErrorIs(t, err, ErrShare)
}

func TestLeastByUncertainty(t *testing.T) {
	// 0.129099445 g over 2 % (derived).
	got, err := LeastByUncertainty(doubt.Scale{Step: mass("0.1g")}, rat("0.02"))
	require.NoError(t, err)
	assert.Equal(t, protocol.Mass(6_454_972_250_000), got)
	rapid.Check(t, func(t *rapid.T) {
		d := protocol.Mass(rapid.Int64Range(1, 1e13).Draw(t, "d"))
		s := protocol.Mass(rapid.Int64Range(0, 1e13).Draw(t, "s"))
		a := Allow{Share: rat(rapid.SampledFrom([]string{"1/100", "1/50", "1/3", "3/700"}).Draw(t, "a"))}
		m, err := LeastByUncertainty(doubt.Scale{Step: d, Spread: s}, a.Share)
		require.NoError(t, err)
		U := doubt.Scale{Step: d, Spread: s}.U(0)
		assert.LessOrEqual(t, U, a.Of(m), "good there")
		assert.Greater(t, U, a.Of(m-protocol.Nanogram), "and not a nanogram before")
	})
}

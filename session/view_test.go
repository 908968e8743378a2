package session

import (
	"math/big"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"tared/protocol"
)

// poured is a view of a pour of n steps, with a band of half steps around so many.
func poured(step protocol.Mass, steps, half, n int64) NowView {
	places := step.Places()
	m := func(n int64) string { return (protocol.Mass(n) * step).Grams(places) }
	return NowView{State: "pour", Material: "Whiting", Target: m(steps), Low: m(steps - half), High: m(steps + half), Step: m(1), In: m(n), Missing: m(steps - n),
		Fill: int(n * barFull / steps), LowFill: int((steps - half) * barFull / steps), HighFill: int((steps + half) * barFull / steps)}
}

// For targets from a pinch to a tub: what is more in the container never stands
// further left, all stands on the bar, the band in the middle, no two lines meet.
func TestTheStretchedScaleIsInOrderForAnyTarget(t *testing.T) {
	r := rand.New(rand.NewPCG(20261125, 1))
	for range 3000 {
		step := []protocol.Mass{protocol.Gram, protocol.Gram / 10, protocol.Gram / 100, protocol.Gram / 1000}[r.IntN(4)] * protocol.Mass([]int{1, 2, 5}[r.IntN(3)])
		f := r.Float64()
		steps := 1 + int64(f*f*f*f*20000)
		half := max(1, steps*[]int64{1, 2, 10}[r.IntN(3)]/100)
		before := -1
		for k := int64(0); k <= 40; k++ {
			n := poured(step, steps, half, steps*k/20)
			b, ok := n.bar()
			require.True(t, ok)
			require.GreaterOrEqual(t, b.Fine.Fill, before, "%+v", n)
			require.LessOrEqual(t, b.Fine.Fill, barWidth, "%+v", n)
			before = b.Fine.Fill
			require.GreaterOrEqual(t, b.Whole.Fill, 0)
			require.LessOrEqual(t, b.Whole.Fill, barWidth)
		}
		n := poured(step, steps, half, steps)
		b, _ := n.bar()
		require.Equal(t, middle, b.Fine.Fill, "%+v", n)
		require.InDelta(t, middle-b.Fine.Low, b.Fine.High-middle, 1, "%+v", n)
		require.GreaterOrEqual(t, b.Fine.High-b.Fine.Low, 2500, "%+v", n)
		require.GreaterOrEqual(t, b.Fine.Low, 1200)
		require.LessOrEqual(t, b.Fine.High, 8800)
		require.True(t, b.Lines >= 1 && b.Lines <= 20, "%d lines, %+v", b.Lines, n)
		require.GreaterOrEqual(t, b.Gap, 7600/41, "%+v", n)
		require.LessOrEqual(t, b.Lines*b.Gap, evenWidth)
		require.Equal(t, 2, b.Near)
		if steps > 40 && half*10 < steps {
			n = poured(step, steps, half, steps/3)
			b, _ = n.bar()
			require.Zero(t, b.Near, "%+v", n)
		}
	}
}

// Near the band the scale is stretched, and noise does not change it to and fro.
func TestTheScaleIsStretchedByWholeSteps(t *testing.T) {
	for in, want := range map[int64]int{846: 0, 1110: 0, 1116: 1, 1146: 1, 1148: 2, 1275: 2, 1600: 2} {
		n := poured(protocol.Gram/10, 1275, 12, in)
		b, ok := n.bar()
		require.True(t, ok)
		assert.Equal(t, want, b.Near, "%d", in)
		assert.Equal(t, "Near: each line is 0.2 g", b.Line.String())
	}
	n := poured(protocol.Gram/10, 1275, 12, 1148)
	n.State, n.In, n.Missing, n.Fill = "lost", "", "", -1
	b, ok := n.bar()
	require.True(t, ok)
	assert.Equal(t, 1, b.Near, "a cable that falls out does not change the scale")
	assert.Equal(t, -1, b.Fine.Fill)
}

func TestTheFigureSaysWhatItIs(t *testing.T) {
	for _, c := range []struct {
		n            NowView
		code, digits string
	}{
		{NowView{State: "pour", In: "84.6", Missing: "42.9", Target: "127.5"}, "show.to-pour", "42.9"},
		{NowView{State: "in", In: "127.2", Missing: "0.3", Target: "127.5"}, "show.short", "0.3"},
		{NowView{State: "in", In: "127.5", Missing: "0.0", Target: "127.5"}, "show.on-mark", "0.0"},
		{NowView{State: "in", In: "127.5", Missing: "-0.0", Target: "127.5"}, "show.on-mark", "0.0"},
		{NowView{State: "settle", In: "128.0", Missing: "-0.5", Target: "127.5"}, "show.over-mark", "+0.5"},
		{NowView{State: "over", In: "131.2", Missing: "-3.7", Target: "127.5"}, "show.too-much", "+3.7"},
		{NowView{State: "container", Target: "127.5"}, "show.to-weigh", "127.5"},
		{NowView{State: "pour", Eye: true, Target: "9.00"}, "show.by-eye", "9.00"},
		{NowView{State: "lifted", Lifted: "127.2", Target: "127.5"}, "show.goes-in", "127.2"},
		{NowView{State: "lifted", Lifted: "131.2", Cue: "over", Target: "127.5"}, "show.in-it", "131.2"},
		{NowView{State: "lifted", Target: "127.5"}, "show.target", "127.5"},
		{NowView{State: "lost", Target: "127.5"}, "show.not-known", ""},
	} {
		label, digits := c.n.figure()
		assert.Equal(t, []string{c.code, c.digits}, []string{label.Code, digits}, "%+v", c.n)
	}
}

// The sign of a lifted container never says "Tip it in" over words that say not to.
func TestTheSignOfALiftedContainer(t *testing.T) {
	for cue, want := range map[string]string{"taken": "Tip it in", "over": "Over", "ask": "Too soon"} {
		_, _, word := (&View{Now: NowView{State: "lifted", Cue: cue}}).sign()
		assert.Equal(t, want, word.String(), cue)
	}
}

// The fill is the content in thousandths of the target, from -1000 to 4000, for any
// masses that stand on a bench.
func TestFillNeverWraps(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		target := protocol.Mass(rapid.Int64Range(1, int64(protocol.OnBench)).Draw(t, "target"))
		m := protocol.Mass(rapid.Int64Range(-int64(protocol.OnBench), int64(protocol.OnBench)).Draw(t, "m"))
		want := new(big.Int).Mul(big.NewInt(int64(m)), big.NewInt(barFull))
		want.Quo(want, big.NewInt(int64(target)))
		for _, end := range []int64{-barFull, 4 * barFull} {
			if e := big.NewInt(end); want.Cmp(e)*e.Sign() > 0 {
				want = e
			}
		}
		assert.Equal(t, want.Int64(), int64(fill(m, target)))
	})
}

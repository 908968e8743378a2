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
// further left, all stands on the bar, a band takes a quarter of it around the middle,
// the scale is even, and no two lines meet.
func TestTheBarIsInOrderForAnyTarget(t *testing.T) {
	r := rand.New(rand.NewPCG(20261125, 1))
	for range 500 {
		step := []protocol.Mass{protocol.Gram, protocol.Gram / 10, protocol.Gram / 100, protocol.Gram / 1000}[r.IntN(4)] * protocol.Mass([]int{1, 2, 5}[r.IntN(3)])
		f := r.Float64()
		steps := 1 + int64(f*f*f*f*20000)
		half := max(1, steps*[]int64{1, 2, 10}[r.IntN(3)]/100)
		needle, whole := -1, -1
		for k := int64(0); k <= 40; k++ {
			n := poured(step, steps, half, steps*k/20)
			b, ok := n.bar()
			require.True(t, ok)
			require.GreaterOrEqual(t, b.Needle, needle, "%+v", n)
			require.LessOrEqual(t, b.Needle, barWidth, "%+v", n)
			require.GreaterOrEqual(t, b.Fill, whole, "%+v", n)
			require.LessOrEqual(t, b.Fill, barWidth)
			switch in := steps * k / 20; {
			case in < steps-4*half:
				require.Equal(t, "under", b.Off, "%+v", n)
			case in > steps+4*half:
				require.Equal(t, "over", b.Off, "%+v", n)
			default:
				require.Empty(t, b.Off, "%+v", n)
				require.InDelta(t, middle+float64(in-steps)/float64(4*half)*middle, b.Needle, 1, "even: %+v", n)
			}
			needle, whole = b.Needle, b.Fill
		}
		n := poured(step, steps, half, steps)
		b, _ := n.bar()
		require.Equal(t, []int{middle, middle, barWidth * 3 / 8, barWidth * 5 / 8, barWidth}, []int{b.Mark, b.Needle, b.Low, b.High, b.Fill}, "%+v", n)
		require.True(t, b.Lines >= 1 && b.Lines <= mostLines, "%d lines, %+v", b.Lines, n)
		require.LessOrEqual(t, b.Lines*b.Gap, middle)
	}
	n := poured(protocol.Gram/10, 1275, 12, 1148)
	b, _ := n.bar()
	assert.Equal(t, "each line 0.5 g", b.Line.String())
	n.State, n.In, n.Missing, n.Fill = "lost", "", "", -1
	lost, ok := n.bar()
	require.True(t, ok)
	assert.Equal(t, []int{-1, -1, b.Low, b.Mark, b.High}, []int{lost.Needle, lost.Fill, lost.Low, lost.Mark, lost.High}, "a cable that falls out does not move the band")
}

// The word and the figure of each state, as they read together.
func TestTheDeedAndItsFigure(t *testing.T) {
	for _, c := range []struct {
		n    NowView
		want string
	}{
		{NowView{State: "pour", In: "84.6", Missing: "42.9", Target: "127.5"}, "Pour 42.9 still to pour"},
		{NowView{State: "pour", Cue: "ease", In: "120.0", Missing: "7.5", Target: "127.5"}, "Ease 7.5 still to pour"},
		{NowView{State: "pour", Cue: "stop", In: "104.3", Missing: "23.2", Target: "127.5"}, "Stop 104.3 in the container"},
		{NowView{State: "pour", In: "127.5", Missing: "0.0", Target: "127.5"}, "Stop 127.5 in the container"},
		{NowView{State: "pour", Cue: "ask", In: "0.0", Missing: "127.5", Target: "127.5"}, "Stop 0.0 in the container"},
		{NowView{State: "pour", Target: "127.5"}, "Wait  not known"},
		{NowView{State: "settle", In: "128.0", Missing: "-0.5", Target: "127.5"}, "Wait 128.0 in the container"},
		{NowView{State: "in", In: "127.2", Missing: "0.3", Target: "127.5"}, "Lift 127.2 in the container"},
		{NowView{State: "over", In: "131.2", Missing: "-3.7", Target: "127.5"}, "Take out +3.7 too much"},
		{NowView{State: "over", Deed: "take-off", Target: "127.5"}, "Take off  not known"},
		{NowView{State: "container", Target: "127.5"}, "Put on 127.5 to weigh"},
		{NowView{State: "container", Deed: "wait", Target: "127.5"}, "Wait 127.5 to weigh"},
		{NowView{State: "pour", Eye: true, Target: "9.00"}, "Weigh 9.00 to weigh"},
		{NowView{State: "lifted", Cue: "taken", Lifted: "127.2", Missing: "0.3", Target: "127.5"}, "Tip 127.2 goes in when tipped"},
		{NowView{State: "lifted", Cue: "over", Lifted: "131.2", Missing: "-3.7", Target: "127.5"}, "Put back +3.7 too much"},
		{NowView{State: "lifted", Cue: "ask", Target: "127.5"}, "Put back  not known"},
		{NowView{State: "lost", Target: "127.5"}, "Stop  not known"},
		{NowView{State: "in", Target: "127.5"}, "Wait  not known"},
		{NowView{State: "decide", Target: "127.5"}, "Choose  "},
	} {
		v := View{Now: c.n}
		s := v.Shown().Now.Show
		label := ""
		if !s.Label.None() {
			label = s.Label.String()
		}
		assert.Equal(t, c.want, s.Word.String()+" "+s.Digits+" "+label, "%+v", c.n)
		assert.Empty(t, contradiction(v))
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

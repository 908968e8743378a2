package sim

import (
	"math"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"tared/protocol"
)

var epoch = time.Date(2026, 3, 2, 9, 0, 0, 0, time.UTC)

func at(seconds float64) time.Time {
	return epoch.Add(time.Duration(math.Round(seconds*100)) * Tick)
}

// quiet is a scale of 0.1 g without any disturbance.
func quiet(lag time.Duration) Model {
	return Model{Name: "quiet", Max: 2000 * protocol.Gram, Units: []UnitSteps{grams(1, 1)}, Lag: lag}
}

func newScale(t testing.TB, m Model, seed uint64) *Scale {
	t.Helper()
	s, err := NewScale(m, seed, epoch)
	require.NoError(t, err)
	return s
}

func TestAlpha(t *testing.T) {
	// a = 1 - e^(-T/tau), derived from the definition.
	assert.InDelta(t, 0.181269, alpha(100*time.Millisecond, 500*time.Millisecond), 1e-6)
	assert.InDelta(t, 0.0951626, alpha(100*time.Millisecond, time.Second), 1e-6)
	assert.Equal(t, 1.0, alpha(Tick, 0))
}

func TestFilterRunsBehindARamp(t *testing.T) {
	// A one-pole filter is r(1-a)/a behind a ramp of r a sample: 1.5 g for a = 0.25
	// and 0.5 g a sample (derived).
	tau := -float64(Tick) / math.Log(1-0.25)
	s := newScale(t, quiet(0), 1)
	s.alpha = alpha(Tick, time.Duration(tau))
	require.InDelta(t, 0.25, s.alpha, 1e-6)
	s.Pour(epoch, Flow{Material: "quartz", Rate: 0.5 / tickSeconds})
	s.At(at(3))
	assert.InDelta(t, 1.5, s.Load()-s.Signal(), 1e-3)

	// Lag in seconds times flow, for lags as scales have them.
	for _, lag := range []time.Duration{100 * time.Millisecond, 500 * time.Millisecond, 1500 * time.Millisecond} {
		s := newScale(t, quiet(lag), 1)
		s.Pour(epoch, Flow{Material: "quartz", Rate: 20})
		s.At(at(20))
		assert.InDelta(t, 20*lag.Seconds(), s.Load()-s.Signal(), 20*Tick.Seconds(), "lag %s", lag)
	}
}

func TestSteadyPourShowsWhatLeftTheHand(t *testing.T) {
	// The push of what lands equals the weight of what is in the air (momentum of
	// free fall), so the signal knows of both.
	s := newScale(t, quiet(0), 1)
	f := Flow{Material: "quartz", Rate: 15, Fall: Fall(0.2)}
	require.InDelta(t, 0.202, f.Fall, 0.001)
	s.Pour(epoch, f)
	s.At(at(4))
	s.Put(at(4), &Vessel{Name: "unused", Empty: 0}) // a vessel of no weight changes nothing
	s.At(at(4.01))
	assert.InDelta(t, s.Load()+15*0.20, s.Signal(), 0.2)
	s.Stop(at(5))
	s.At(at(6))
	assert.InDelta(t, 15*5, s.Load(), 1e-6, "all that was let go landed")
	assert.InDelta(t, 15*5, s.Signal(), 1e-6)
	assert.False(t, s.Pouring())
}

func TestClosingHandLetsGoOfCutTimesFlow(t *testing.T) {
	s := newScale(t, quiet(0), 1)
	s.Pour(epoch, Flow{Material: "quartz", Rate: 10, Cut: 0.2})
	s.At(at(2))
	before := s.Load()
	s.Stop(at(2))
	s.At(at(6))
	assert.InDelta(t, 10*0.2, s.Load()-before, 0.15)
}

func TestSettling(t *testing.T) {
	s := newScale(t, quiet(300*time.Millisecond), 1)
	s.At(at(2))
	require.True(t, s.At(at(2)).Stable)
	s.Put(at(2), &Vessel{Name: "cup", Empty: 100})
	assert.False(t, s.At(at(2.2)).Stable)
	// ln(100 g / 0.1 g) = 6.9 time constants to come within a step, then a second of
	// rest; the step about which it judges may be taken up once more on the way to
	// the last hundredth of a step (11.5 time constants).
	assert.False(t, s.At(at(2.24+6*0.3)).Stable)
	settled := s.At(at(2.24 + 11.5*0.3 + 1.2))
	assert.True(t, settled.Stable)
	assert.Equal(t, "100.0", settled.Value.String())
}

func TestNoiseIsAsDeclared(t *testing.T) {
	m := quiet(300 * time.Millisecond)
	m.Noise = 0.05
	s := newScale(t, m, 7)
	s.At(at(5))
	var sum, sq float64
	const n = 20000
	for i := range n {
		s.At(at(5 + float64(i+1)*0.1))
		x := s.Signal()
		sum, sq = sum+x, sq+x*x
	}
	assert.InDelta(t, 0, sum/n, 0.003)
	assert.InDelta(t, 0.05, math.Sqrt(sq/n), 0.003)
}

func TestSameSeedSameDisplaysHoweverOftenAsked(t *testing.T) {
	run := func(seed uint64, every time.Duration) (out []string) {
		s := newScale(t, Bench(), seed)
		v := &Vessel{Name: "cup", Empty: 120}
		acts := []struct {
			at time.Time
			do func(time.Time)
		}{
			{at(1), func(t time.Time) { s.Put(t, v) }},
			{at(5), func(t time.Time) {
				s.Pour(t, Flow{Material: "whiting", Rate: 9, Jitter: 0.2, Corr: 0.5, Fall: 0.2, Cut: 0.1})
			}},
			{at(12), func(t time.Time) { s.Stop(t) }},
			{at(16), func(t time.Time) { s.Lift(t, v) }},
		}
		for now := epoch; now.Before(at(20)); now = now.Add(every) {
			for len(acts) > 0 && !acts[0].at.After(now) {
				acts[0].do(acts[0].at)
				acts = acts[1:]
			}
			s.At(now)
			if now.Sub(epoch)%(200*time.Millisecond) == 0 {
				out = append(out, s.At(now).Value.String())
			}
		}
		return out
	}
	a := run(3, 200*time.Millisecond)
	assert.Equal(t, a, run(3, 200*time.Millisecond))
	// The actions fall on times that both grids have.
	assert.Equal(t, a, run(3, 50*time.Millisecond))
	assert.NotEqual(t, a, run(4, 200*time.Millisecond))
}

func TestKeys(t *testing.T) {
	m := quiet(100 * time.Millisecond)
	m.Units = Bench().Units
	m.Rest = 500 * time.Millisecond
	s := newScale(t, m, 1)
	v := &Vessel{Name: "cup", Empty: 123.4}
	s.Put(at(1), v)
	s.TareKey(at(1.2)) // pressed before it rests: it waits
	require.Equal(t, protocol.Gross, s.At(at(1.4)).Mode)
	sh := s.At(at(5))
	assert.Equal(t, protocol.Net, sh.Mode)
	assert.Equal(t, "0.0", sh.Value.String())
	assert.Equal(t, "123.4", sh.Tare.String())
	assert.True(t, sh.Zero)
	s.Lift(at(5), v)
	assert.Equal(t, "-123.4", s.At(at(8)).Value.String())
	s.TareKey(at(8)) // nothing on it: back to gross
	sh = s.At(at(9))
	assert.Equal(t, protocol.Gross, sh.Mode)
	assert.Equal(t, "0.0", sh.Value.String())

	s.Put(at(10), &Vessel{Name: "pot", Empty: 567})
	s.UnitKey(at(15))
	sh = s.At(at(15))
	assert.Equal(t, protocol.UnitKilogram, sh.Unit)
	assert.Equal(t, "0.5670", sh.Value.String())
	s.UnitKey(at(15.5))
	sh = s.At(at(16))
	assert.Equal(t, protocol.UnitOunce, sh.Unit)
	assert.Equal(t, "20.000", sh.Value.String()) // 567/28.349523125 = 20.00034
	s.UnitKey(at(17))

	s.ZeroKey(at(18)) // 567 g is beyond 4 % of 2000 g
	assert.Equal(t, "567.0", s.At(at(18.1)).Value.String())
}

func TestZeroKeyReachesFourPercent(t *testing.T) {
	s := newScale(t, quiet(100*time.Millisecond), 1)
	s.Lay(at(0.5), "spoon", 60)
	s.ZeroKey(at(3))
	assert.Equal(t, "0.0", s.At(at(3.1)).Value.String())
	require.True(t, s.Take(at(4), "spoon"))
	assert.Equal(t, "-60.0", s.At(at(7)).Value.String())
	assert.False(t, s.Take(at(7), "spoon"))
}

func TestOverloadUnderloadAndRange(t *testing.T) {
	m := counter()
	m.Noise, m.Draught, m.Under = 0, 0, 100*protocol.Gram
	s := newScale(t, m, 1)
	v := &Vessel{Name: "tub", Empty: 1499.6}
	s.Put(at(1), v)
	assert.Equal(t, "1499.5", s.At(at(6)).Value.String())
	s.Lay(at(6), "lid", 100.7)
	sh := s.At(at(9))
	assert.Equal(t, "1600.0", sh.Value.String(), "one gram a step above 1500 g")
	assert.Equal(t, "1.0", sh.Step.String())
	s.Press(at(9), 1500)
	sh = s.At(at(12))
	assert.Equal(t, protocol.Overload, sh.Status)
	assert.Zero(t, sh.Value)
	s.Press(at(12), 0)
	s.Lift(at(12), v)
	s.Take(at(12), "lid")
	s.Press(at(15), -200)
	assert.Equal(t, protocol.Underload, s.At(at(17)).Status)
}

func TestTrackingSwallowsATrickle(t *testing.T) {
	// Up to half a step a second may disappear (OIML R 76-1, 4.5.7): 0.04 g/s on a
	// scale of 0.1 g never shows with tracking, and shows 0.4 g after 10 s without.
	for track, want := range map[bool]string{true: "0.0", false: "0.4"} {
		m := quiet(200 * time.Millisecond)
		m.Track = track
		s := newScale(t, m, 1)
		s.At(at(3))
		s.Pour(at(3), Flow{Material: "cobalt oxide", Rate: 0.04})
		assert.Equal(t, want, s.At(at(13)).Value.String(), "tracking %v", track)
	}
}

func TestDrift(t *testing.T) {
	m := quiet(0)
	m.Drift = 0.01
	s := newScale(t, m, 1)
	assert.Equal(t, "0.5", s.At(at(50)).Value.String())
}

func TestAutoOffAndPowerUpTakeTheTare(t *testing.T) {
	m := quiet(100 * time.Millisecond)
	m.AutoOff, m.Boot = 20*time.Second, 2*time.Second
	s := newScale(t, m, 1)
	v := &Vessel{Name: "cup", Empty: 150}
	s.Put(at(1), v)
	require.Equal(t, "150.0", s.At(at(10)).Value.String())
	assert.True(t, s.At(at(30)).Silent)
	s.PowerKey(at(31))
	assert.True(t, s.At(at(32)).Silent)
	sh := s.At(at(33.5))
	assert.False(t, sh.Silent)
	assert.Equal(t, "0.0", sh.Value.String(), "what lay on the pan is zero now")
	s.Lift(at(34), v)
	assert.Equal(t, "-150.0", s.At(at(37)).Value.String())
	s.Lay(at(37), "brick", 900)
	s.PowerKey(at(39))
	assert.True(t, s.At(at(39)).Silent)
	s.PowerKey(at(40))
	assert.Equal(t, protocol.Error, s.At(at(43)).Status, "too much for an initial zero")
	s.Take(at(44), "brick")
	assert.Equal(t, protocol.OK, s.At(at(47)).Status)
}

func TestKnockPressDraughtPass(t *testing.T) {
	s := newScale(t, quiet(100*time.Millisecond), 1)
	peak := func(from, to float64) (p float64) {
		for x := from; x < to; x += 0.01 {
			s.At(at(x))
			p = math.Max(p, math.Abs(s.Signal()))
		}
		return p
	}
	s.Knock(at(1), 50)
	assert.Greater(t, peak(1, 1.5), 2.0)
	assert.Less(t, peak(4, 5), 0.05)
	s.Press(at(5), 30)
	assert.InDelta(t, 30, peak(6, 7), 6)
	s.Press(at(7), 0)
	assert.Less(t, peak(10, 11), 0.05)
	s.Draught(at(11), 0.5)
	assert.Greater(t, peak(11, 20), 0.4)
	s.Draught(at(20), 0)
	assert.Equal(t, "0.0", s.At(at(30)).Value.String())
}

func TestScoopRunsOut(t *testing.T) {
	s := newScale(t, quiet(0), 1)
	v := &Vessel{Name: "cup", Empty: 50}
	s.Put(epoch, v)
	s.Pour(at(1), Flow{Material: "quartz", Rate: 20, Jitter: 0.2, Corr: 0.3, Lumps: 2, Lump: 0.5, Fall: 0.2, Left: 35})
	s.At(at(20))
	assert.InDelta(t, 35, v.Of("quartz"), 1e-9)
	assert.False(t, s.Pouring())
}

func TestTurningAFlowLosesNothing(t *testing.T) {
	s := newScale(t, quiet(0), 1)
	v := &Vessel{Name: "cup", Empty: 50}
	s.Put(epoch, v)
	fast := Flow{Material: "quartz", Rate: 20, Fall: 0.3}
	slow := Flow{Material: "quartz", Rate: 2, Fall: 0.15}
	s.Pour(at(1), fast)
	s.Pour(at(3), slow)
	s.Stop(at(8))
	s.At(at(10))
	assert.InDelta(t, 20*2+2*5, v.Of("quartz"), 0.1)
}

func TestTapsKeepTheRate(t *testing.T) {
	s := newScale(t, quiet(0), 5)
	v := &Vessel{Name: "cup", Empty: 50}
	s.Put(epoch, v)
	s.Pour(at(1), Flow{Material: "tin oxide", Rate: 0.5, Taps: 4, Fall: 0.1})
	s.Stop(at(101))
	s.At(at(103))
	assert.InDelta(t, 50, v.Of("tin oxide"), 5)
}

func TestModelCheck(t *testing.T) {
	for _, m := range []Model{Bench(), Fine(), kitchen(), counter(), Of(50*protocol.Milligram, time.Second, 0.3)} {
		assert.NoError(t, m.Check(), m.Name)
	}
	bad := Bench()
	bad.Units = []UnitSteps{{Unit: protocol.UnitPieces}}
	assert.ErrorContains(t, bad.Check(), "not a mass")
	_, err := NewScale(Model{Name: "none", Max: protocol.Gram}, 1, epoch)
	assert.ErrorContains(t, err, "no unit")
	assert.Equal(t, "0.05", Of(50*protocol.Milligram, 0, 0).Units[0].Ranges[0].Step.String())
}

func BenchmarkTick(b *testing.B) {
	s := newScale(b, Bench(), 1)
	s.Put(epoch, &Vessel{Name: "cup", Empty: 100})
	s.Pour(epoch, Flow{Material: "quartz", Rate: 1, Jitter: 0.2, Corr: 0.3, Fall: 0.2})
	for b.Loop() {
		s.tick()
	}
}

// kitchen is a scale of 5000 g by 1 g without a sign of rest, that goes off by
// itself after three minutes.
func kitchen() Model {
	return Model{
		Name: "kitchen", Max: 5000 * protocol.Gram,
		Units: []UnitSteps{grams(1, 0), {protocol.UnitOunce, []Range{{Step: protocol.Decimal{Coef: 5, Places: 2}}}}},
		Lag:   500 * time.Millisecond, Refresh: 200 * time.Millisecond, Noise: 0.15, Draught: 0.02,
		NoFlag: true, Track: true, AutoOff: 3 * time.Minute, Boot: 2 * time.Second,
	}
}

// counter is a scale of two ranges: 0.5 g to 1500 g, 1 g to 3000 g.
func counter() Model {
	return Model{
		Name: "counter", Max: 3000 * protocol.Gram,
		Units: []UnitSteps{{protocol.UnitGram, []Range{
			{Upto: 1500 * protocol.Gram, Step: protocol.Decimal{Coef: 5, Places: 1}},
			{Step: protocol.Decimal{Coef: 10, Places: 1}},
		}}},
		Lag: 250 * time.Millisecond, Noise: 0.08, Draught: 0.02, Rest: 700 * time.Millisecond,
		Track: true, Boot: 3 * time.Second,
	}
}

// Signal gives the filtered signal above zero, unrounded and before tare. No real scale
// tells it.
func (s *Scale) Signal() float64 { return s.y - s.zero }

// Load gives the grams that really lie on the pan now.
func (s *Scale) Load() float64 {
	sum := s.spilled
	for _, p := range s.vessels {
		sum += p.v.Empty + p.v.Content()
	}
	for _, x := range s.things {
		sum += x.grams
	}
	return sum
}

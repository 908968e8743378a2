package session

import (
	"testing"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"tared/protocol"
	"tared/session/doubt"
	"tared/session/fact"
	"tared/session/sheet"
)

// ruledRig is a rig whose batch has one material on the bench scale, planned as a sheet
// plans it, whose weights are accepted by a rule.
func ruledRig(t *testing.T, rule doubt.Rule, gauge doubt.Gauge, target protocol.Mass) *rig {
	s := doubt.Scale{Step: g("0.1"), Gauge: gauge}
	l := fact.Line{Material: "Quartz", Role: "base", Share: "100", Target: target, Scale: "bench", U: s.U(target)}
	allowed := sheet.Standard(sheet.Base).Of(target)
	band := sheet.Band(allowed, s.Step)
	l.Low, l.High, l.Weighable = target-band, target+band, string(sheet.Judge(allowed, s.Step, l.U))
	r := newRig(t, l)
	p := r.facts[0].Body.(fact.Planned)
	p.Rule, p.Scales[0].Gauge = rule, gauge
	r.facts[0].Body = p
	r.s = r.start.Apply(r.facts[0])
	r.must("yes Mara")
	return r
}

// What the bench tells to be in the band is in it in the record, by either rule and
// whatever lies between two steps of the scale; and each weight from mark to mark is.
// Where the scale leaves too much open, the bench says so itself.
func TestInByTheMarkIsInInTheRecord(t *testing.T) {
	rapid.Check(t, func(rt *rapid.T) {
		target := protocol.Mass(rapid.Int64Range(3_000, 150_000).Draw(rt, "milligrams")) * protocol.Gram / 1000
		rule := rapid.SampledFrom([]doubt.Rule{doubt.Simple, doubt.Guarded}).Draw(rt, "rule")
		gauge := doubt.Gauge{Class: rapid.SampledFrom([]string{"", "III"}).Draw(rt, "class")}
		steps := rapid.IntRange(-20, 20).Draw(rt, "steps off")
		in := target - target%g("0.1") + protocol.Mass(steps)*g("0.1")
		if in <= 0 {
			return
		}
		r := ruledRig(t, rule, gauge, target)
		r.set("bench", "100.0")
		r.set("bench", (in + g("100")).Grams(1))
		v := r.s.View().Now
		allowed := target / 100
		u := doubt.Scale{Step: g("0.1"), Gauge: gauge}.U(in)
		sure := (in-target).Abs()+u <= allowed
		marked := in >= massOf(v.Low, v.Unit) && in <= massOf(v.High, v.Unit)
		switch {
		case v.State == "in" && !v.Cannot:
			require.True(rt, marked, "%v of %v is in, and the page has %s to %s", in, target, v.Low, v.High)
			r.set("bench", "0")
			r.set("bench", "100.0")
			require.Equal(rt, "in", r.lastPortion().Verdict, "%v of %v", in, target)
			require.Equal(rt, "in", r.last().(fact.Finished).Lines[0].Verdict, "%v of %v", in, target)
			require.True(rt, rule == doubt.Simple || sure)
		case v.State == "in":
			require.Greater(rt, u+g("0.1"), allowed, "a scale that is good enough leaves nothing open: %v of %v", in, target)
		default:
			require.False(rt, marked && v.State == "over", "%v of %v: from %s to %s is in", in, target, v.Low, v.High)
			require.False(rt, sure, "%v of %v is in for sure, and the bench asks for another weight: %s", in, target, v.State)
		}
	})
}

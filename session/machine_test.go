package session

import (
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"tared/protocol"
	"tared/scale"
	"tared/session/fact"
)

// Every weight in these tests is invented.

func TestBatchHandsFree(t *testing.T) {
	r := newRig(t, line("Nepheline syenite", "base", "84.6", "0.8", "bench"), line("Cobalt carbonate", "strong", "2.50", "0.05", "fine"))
	require.Equal(t, "reminder", r.state())
	r.set("bench", "123.4") // the container may stand there before the answer
	require.Equal(t, "reminder", r.state())
	r.must("yes Mara")
	r.rest("bench", time.Second)
	require.Equal(t, "pour", r.state())
	tared := r.last().(fact.Tared)
	require.Equal(t, g("123.4"), tared.Container)

	r.set("bench", "160.0")
	require.Equal(t, "pour", r.state())
	v := r.s.View()
	require.Equal(t, "36.6", v.Now.In)
	require.Equal(t, "48.0", v.Now.Missing)
	r.set("bench", "208.1")
	require.Equal(t, "in", r.state())
	r.set("bench", "0")
	require.Equal(t, "lifted", r.state())
	r.set("bench", "123.6") // 0.2 g clings
	p := r.lastPortion()
	require.Equal(t, fact.Portion{Material: "Nepheline syenite", Scale: "bench", Before: g("208.1"), After: g("123.6"), Delivered: g("84.5"),
		Target: g("84.6"), Low: g("83.8"), High: g("85.4"), Verdict: "in", How: "tipped", U: netU(g("0.1"), 0), Step: g("0.1"),
		Raw:   []string{"bench 208.1 g", "bench 123.6 g"},
		Trace: "0.0:0.0 0.2:18.3 0.4:36.6 1.8:36.6 2.0:60.6 2.2:84.7 3.6:84.7"}, p)

	require.Equal(t, "container", r.state(), "the next material is on the other scale")
	r.set("fine", "12.34")
	require.Equal(t, "pour", r.state())
	r.set("fine", "14.85")
	require.Equal(t, "in", r.state())
	r.set("fine", "0")
	r.set("fine", "12.35")
	require.Equal(t, "finished", r.state())
	f := r.last().(fact.Finished)
	require.Equal(t, g("84.5"), f.Base)
	require.Equal(t, g("87"), f.Dry)
	require.Equal(t, "in", f.Lines[1].Verdict)
	// 2.50 / 84.5 = 2.958579…%
	require.Equal(t, "2.959", f.Lines[1].Share)
	require.Equal(t, []string{"planned", "reminded", "tared", "noticed", "noticed", "noticed", "lifted", "portion", "tared", "noticed", "noticed", "lifted", "portion", "finished"}, r.kinds(),
		"what comes is noted, what rests, and what is in the band")
}

func pouring(t *testing.T, lines ...fact.Line) *rig {
	r := newRig(t, lines...)
	r.must("yes Mara")
	r.rest("bench", time.Second)
	r.set("bench", "123.4")
	require.Equal(t, "pour", r.state())
	return r
}

func two(t *testing.T) *rig {
	return pouring(t, line("Quartz", "base", "84.6", "0.8", "bench"), line("Whiting", "base", "40.0", "0.4", "bench"))
}

func TestNextMaterialCountsFromTheReturnedContainer(t *testing.T) {
	r := two(t)
	r.set("bench", "208.0")
	r.set("bench", "0")
	r.set("bench", "123.7")
	require.Equal(t, "pour", r.state())
	v := r.s.View()
	require.Equal(t, "Whiting", v.Now.Material)
	require.Equal(t, "0.0", v.Now.In, "what clings is part of the new zero")
	r.set("bench", "163.8")
	r.set("bench", "0")
	r.set("bench", "123.9")
	require.Equal(t, g("39.9"), r.lastPortion().Delivered)
	require.Equal(t, "finished", r.state())
}

func TestPoursBelowTheBandLeaveTheRest(t *testing.T) {
	r := two(t)
	r.set("bench", "163.4")
	r.set("bench", "0")
	r.set("bench", "123.4")
	p := r.lastPortion()
	require.Equal(t, "under", p.Verdict)
	require.Equal(t, g("40"), p.Delivered)
	v := r.s.View()
	require.Equal(t, "Quartz", v.Now.Material)
	require.Equal(t, "44.6", v.Now.Target)
	r.set("bench", "168.0")
	r.set("bench", "0")
	r.set("bench", "123.4")
	require.Equal(t, "in", r.lastPortion().Verdict)
	require.Equal(t, "Whiting", r.s.View().Now.Material)
}

func TestOverpourInTheContainer(t *testing.T) {
	r := two(t)
	r.set("bench", "210.4")
	require.Equal(t, "over", r.state())
	require.Contains(t, spoken(r.s.View().Now.Headline), "2.4 g")
	o := r.last().(fact.Overpoured)
	require.Equal(t, "container", o.Where)
	require.Equal(t, g("2.4"), o.Excess)
	r.set("bench", "208.0")
	require.Equal(t, "in", r.state())
	r.set("bench", "0")
	r.set("bench", "123.4")
	require.Equal(t, "in", r.lastPortion().Verdict)
}

func TestOverpourTipped(t *testing.T) {
	tip := func(t *testing.T) *rig {
		r := two(t)
		r.set("bench", "217.4") // 94.0 of 84.6
		r.set("bench", "0")
		r.set("bench", "123.4")
		require.Equal(t, "decide", r.state())
		require.Equal(t, "over", r.lastPortion().Verdict)
		require.Equal(t, "tipped", r.last().(fact.Overpoured).Where)
		require.ErrorIs(t, r.do("done"), ErrRefused)
		return r
	}
	t.Run("keep", func(t *testing.T) {
		r := tip(t)
		r.must("keep")
		require.Equal(t, "Whiting", r.s.View().Now.Material)
		require.Equal(t, "pour", r.state())
	})
	t.Run("undo", func(t *testing.T) {
		r := tip(t)
		r.must("undo poured back into the jar")
		a := r.last().(fact.Amended)
		require.True(t, a.Void)
		require.Equal(t, "84.6", r.s.View().Now.Target)
	})
	t.Run("enlarge", func(t *testing.T) {
		r := tip(t)
		r.must("enlarge")
		e := r.last().(fact.Enlarged)
		// 94.0 = f·84.6·1.01
		require.Equal(t, "1000/909", e.Factor)
		require.False(t, r.s.Batch.Steps[0].Over())
		require.True(t, r.s.Batch.Steps[0].Done())
		require.Equal(t, "Whiting", r.s.View().Now.Material)
		require.Equal(t, "44.0", r.s.View().Now.Target)
	})
	t.Run("enlarge tops up what is in already", func(t *testing.T) {
		r := two(t)
		r.set("bench", "208.0")
		r.set("bench", "0")
		r.set("bench", "123.4")
		r.set("bench", "171.4") // 48.0 of 40.0
		r.set("bench", "0")
		r.set("bench", "123.4")
		require.Equal(t, "decide", r.state())
		require.NotEmpty(t, r.s.View().Asked.Lines)
		r.must("enlarge")
		v := r.s.View()
		require.Equal(t, "Quartz", v.Now.Material)
		r.set("bench", protocol.Mass(g("123.4")+r.s.aim(0).Target).Rounded(1))
		r.set("bench", "0")
		r.set("bench", "123.4")
		require.Equal(t, "finished", r.state())
	})
}

func TestTubStaysOnThePan(t *testing.T) {
	r := two(t)
	r.set("bench", "208.0")
	r.must("done yes")
	p := r.lastPortion()
	require.Equal(t, "tub", p.How)
	require.Equal(t, g("84.6"), p.Delivered)
	require.Equal(t, "pour", r.state())
	require.Equal(t, "0.0", r.s.View().Now.In)
	r.set("bench", "248.0")
	r.must("done yes")
	require.Equal(t, "finished", r.state())
}

func TestLifts(t *testing.T) {
	t.Run("put back untipped", func(t *testing.T) {
		r := two(t)
		r.set("bench", "170.0")
		r.set("bench", "0")
		r.set("bench", "170.0")
		require.Empty(t, r.portions())
		require.Equal(t, "pour", r.state())
		require.Equal(t, "46.6", r.s.View().Now.In)
	})
	t.Run("empty container taken away and put back", func(t *testing.T) {
		r := two(t)
		r.set("bench", "0")
		require.Equal(t, "container", r.state())
		r.set("bench", "123.4")
		require.Equal(t, "pour", r.state())
		require.Empty(t, r.portions())
	})
	t.Run("filled before it was tared, then tipped", func(t *testing.T) {
		r := newRig(t, line("Quartz", "base", "84.6", "0.8", "bench"), line("Whiting", "base", "40.0", "0.4", "bench"))
		r.must("yes Mara")
		r.set("bench", "153.4") // 30 g are in it already
		require.Equal(t, "0.0", r.s.View().Now.In)
		r.set("bench", "0")
		r.set("bench", "123.4")
		require.Equal(t, "decide", r.state())
		require.Equal(t, "lighter", r.s.View().Asked.Question)
		r.must("keep")
		require.Equal(t, g("30"), r.lastPortion().Delivered)
		require.Equal(t, "54.6", r.s.View().Now.Target)
		require.Equal(t, "pour", r.state())
	})
	t.Run("swapped while empty for a lighter one", func(t *testing.T) {
		r := two(t)
		r.set("bench", "0")
		r.set("bench", "90.0")
		r.must("again")
		require.Empty(t, r.portions())
		require.Equal(t, "pour", r.state())
		require.Equal(t, "0.0", r.s.View().Now.In)
	})
	t.Run("half tipped", func(t *testing.T) {
		r := two(t)
		r.set("bench", "208.0")
		r.set("bench", "0")
		r.set("bench", "165.4")
		r.must("keep")
		require.Equal(t, g("42.6"), r.lastPortion().Delivered)
		v := r.s.View()
		require.Equal(t, "42.0", v.Now.Target)
		require.Equal(t, "42.0", v.Now.In, "the rest is still in the container")
		require.Equal(t, "in", r.state())
		r.set("bench", "0")
		r.set("bench", "123.4")
		require.Equal(t, "Whiting", r.s.View().Now.Material)
	})
	t.Run("lifted before it settled", func(t *testing.T) {
		r := two(t)
		for i := range 20 {
			r.jump("bench", (g("123.4") + protocol.Mass(i)*g("4.2")).Grams(1))
			r.say("bench", protocol.No)
		}
		r.jump("bench", "0")
		r.say("bench", protocol.No)
		require.Equal(t, "lifted", r.state())
		require.False(t, r.s.Lift.Settled)
		r.set("bench", "123.5")
		require.Equal(t, "decide", r.state(), "nobody knows what went in")
		require.Empty(t, r.portions())
		r.must("typed 79.8g")
		require.Empty(t, r.portions(), "it may have come from a scanner")
		r.must("yes")
		require.Equal(t, g("79.8"), r.lastPortion().Delivered)
		require.Equal(t, "typed", r.lastPortion().How)
	})
	t.Run("another container comes back", func(t *testing.T) {
		r := two(t)
		r.set("bench", "208.0")
		r.set("bench", "0")
		r.set("bench", "80.0")
		require.Equal(t, "decide", r.state())
		require.Equal(t, "swapped", r.s.View().Asked.Question)
		require.Empty(t, r.portions())
		r.must("again")
		p := r.lastPortion()
		require.Equal(t, "not-returned", p.How)
		require.Equal(t, g("84.6"), p.Delivered)
		require.Equal(t, "0.0", r.s.View().Now.In)
		require.Equal(t, "pour", r.state())
	})
	t.Run("a container comes back that weighs less than half", func(t *testing.T) {
		r := two(t)
		r.set("bench", "208.0")
		r.set("bench", "0")
		r.set("bench", "40.0")
		require.Equal(t, "swapped", r.s.View().Asked.Question)
		require.Contains(t, r.s.View().Asked.Says.String(), "83.4 g lighter")
		require.Empty(t, r.portions())
		r.must("again")
		require.Equal(t, "not-returned", r.lastPortion().How)
		require.Equal(t, g("84.6"), r.lastPortion().Delivered)
		require.Equal(t, "0.0", r.s.View().Now.In)
		r.set("bench", "80.0")
		require.Equal(t, "40.0", r.s.View().Now.In, "and it is the container of the next pour")
	})
	t.Run("a spoon on the empty pan is no container", func(t *testing.T) {
		r := two(t)
		r.set("bench", "208.0")
		r.set("bench", "0")
		r.set("bench", "23.0")
		r.set("bench", "0")
		require.Nil(t, r.s.View().Asked, "it is gone again")
		require.Equal(t, "lifted", r.state())
		r.set("bench", "123.4")
		require.Equal(t, g("84.6"), r.lastPortion().Delivered)
		require.Equal(t, "tipped", r.lastPortion().How)
	})
	t.Run("the same comes back lighter, for there was powder in it when it was tared", func(t *testing.T) {
		r := newRig(t, line("Quartz", "base", "84.6", "0.8", "bench"), line("Whiting", "base", "40.0", "0.4", "bench"))
		r.must("yes Mara")
		r.set("bench", "131.4") // 8 g are in it already
		r.set("bench", "208.0") // 76.6 more
		r.set("bench", "0")
		r.set("bench", "123.4")
		require.Equal(t, "swapped", r.s.View().Asked.Question)
		r.must("keep yes")
		require.Equal(t, g("84.6"), r.lastPortion().Delivered)
		require.Equal(t, "Whiting", r.s.View().Now.Material)
	})
	t.Run("comes back heavier", func(t *testing.T) {
		r := two(t)
		r.set("bench", "208.0")
		r.set("bench", "0")
		r.set("bench", "260.0")
		require.Equal(t, "heavier", r.s.View().Asked.Question)
		r.must("again")
		require.Equal(t, g("84.6"), r.lastPortion().Delivered)
		require.Equal(t, "0.0", r.s.View().Now.In)
	})
	t.Run("another one with the look of a half tip", func(t *testing.T) {
		r := two(t)
		r.set("bench", "208.0")
		r.set("bench", "0")
		r.set("bench", "140.0")
		require.Equal(t, "partly", r.s.View().Asked.Question)
		require.Empty(t, r.portions(), "never silently a portion")
		r.must("again")
		require.Equal(t, g("84.6"), r.lastPortion().Delivered)
		require.Equal(t, "Whiting", r.s.View().Now.Material)
		require.Equal(t, "0.0", r.s.View().Now.In)
	})
	t.Run("a spoon lay on the pan when it came back", func(t *testing.T) {
		r := two(t)
		r.set("bench", "208.0")
		r.set("bench", "0")
		r.set("bench", "141.5") // 18 g of spoon, 0.1 g clings
		require.Equal(t, "partly", r.s.View().Asked.Question)
		r.must("keep")
		require.Equal(t, g("66.5"), r.lastPortion().Delivered)
		r.set("bench", "123.5")
		require.Equal(t, "thing", r.s.View().Asked.Question)
		r.must("again")
		require.Equal(t, "Whiting", r.s.View().Now.Material)
		require.Equal(t, g("84.5"), r.s.Batch.Steps[0].Delivered)
		require.Equal(t, "0.0", r.s.View().Now.In)
	})
	t.Run("the rest was spooned out", func(t *testing.T) {
		r := two(t)
		r.set("bench", "208.0")
		r.set("bench", "0")
		r.set("bench", "141.5")
		r.set("bench", "123.5")
		r.must("keep")
		require.Equal(t, g("66.5"), r.s.Batch.Steps[0].Delivered)
		require.Equal(t, "Quartz", r.s.View().Now.Material)
		require.Equal(t, "18.1", r.s.View().Now.Target)
	})
	t.Run("a spoon stays on the pan when the container goes", func(t *testing.T) {
		r := two(t)
		r.set("bench", "208.0")
		r.set("bench", "226.0") // the spoon
		r.set("bench", "18.0")
		r.set("bench", "141.5")
		require.Equal(t, g("84.5"), r.lastPortion().Delivered)
		require.Equal(t, "0.0", r.s.View().Now.In)
		r.set("bench", "123.5")
		require.Equal(t, "0.0", r.s.View().Now.In, "the spoon was taken away")
	})
	t.Run("does not come back", func(t *testing.T) {
		r := two(t)
		r.set("bench", "208.0")
		r.set("bench", "0")
		for range 100 {
			r.rest("bench", time.Second)
			r.tick(100 * time.Millisecond)
		}
		require.Equal(t, "not-returned", r.lastPortion().How)
		require.Equal(t, "container", r.state())
	})
}

// The lines of these say neither net nor gross, and tell of rest.
func TestKeyOrLift(t *testing.T) {
	t.Run("the container was seen coming: a straight fall to zero is the key", func(t *testing.T) {
		r := two(t)
		r.set("bench", "160.0")
		r.key("bench")
		r.rest("bench", 2*time.Second)
		require.Equal(t, "36.6", r.s.View().Now.In)
		require.Equal(t, "pour", r.state())
		r.set("bench", "208.0")
		require.Equal(t, "84.6", r.s.View().Now.In)
		r.set("bench", "0")
		require.Equal(t, "lifted", r.state())
		r.set("bench", "123.5")
		require.Equal(t, g("84.5"), r.lastPortion().Delivered)
	})
	t.Run("and when it was a lift after all, the tip is not lost", func(t *testing.T) {
		r := two(t)
		r.set("bench", "208.0")
		r.jump("bench", "0") // with no line on the way
		r.rest("bench", 2*time.Second)
		r.set("bench", "123.5")
		require.Equal(t, g("84.5"), r.lastPortion().Delivered)
		require.Equal(t, "Whiting", r.s.View().Now.Material)
		require.Equal(t, "0.0", r.s.View().Now.In)
	})
	t.Run("and so when it comes back with nothing tipped", func(t *testing.T) {
		r := two(t)
		r.set("bench", "160.0")
		r.jump("bench", "0")
		r.rest("bench", 2*time.Second)
		r.set("bench", "160.0")
		require.Empty(t, r.portions())
		require.Equal(t, "36.6", r.s.View().Now.In)
	})
	t.Run("no motion is ever shown: the fall is a lift", func(t *testing.T) {
		r := newRig(t, line("Quartz", "base", "84.6", "0.8", "bench"), line("Whiting", "base", "40.0", "0.4", "bench"))
		r.must("yes Mara")
		for _, to := range []string{"123.4", "208.0", "0", "123.5"} {
			r.jump("bench", to)
			r.rest("bench", 1500*time.Millisecond)
		}
		require.Equal(t, g("84.5"), r.lastPortion().Delivered)
	})
	t.Run("and powder poured on from there shows that it was the key", func(t *testing.T) {
		r := newRig(t, line("Quartz", "base", "84.6", "0.8", "bench"), line("Whiting", "base", "40.0", "0.4", "bench"))
		r.must("yes Mara")
		for _, to := range []string{"123.4", "160.0"} {
			r.jump("bench", to)
			r.rest("bench", 1500*time.Millisecond)
		}
		r.key("bench")
		r.rest("bench", 1500*time.Millisecond)
		for i := range 60 { // six seconds
			r.jump("bench", (g("160") + protocol.Mass(i+1)*g("0.8")).Grams(1))
			r.say("bench", protocol.No)
		}
		r.rest("bench", 1500*time.Millisecond)
		require.Equal(t, "84.6", r.s.View().Now.In)
		require.Equal(t, "in", r.state())
	})
}

func TestPowderOnAPanThatWasThoughtEmpty(t *testing.T) {
	r := newRig(t, line("Quartz", "base", "84.6", "0.8", "bench"), line("Whiting", "base", "40.0", "0.4", "bench"))
	r.must("yes Mara")
	r.rest("bench", 2*time.Second)
	for i := range 60 {
		r.jump("bench", (protocol.Mass(i+1) * g("0.5")).Grams(1))
		r.say("bench", protocol.No)
	}
	r.rest("bench", 1500*time.Millisecond)
	require.Equal(t, "crept", r.s.View().Asked.Question)
	r.must("keep")
	require.Equal(t, "30.0", r.s.View().Now.In)
}

func TestScaleThatSlept(t *testing.T) {
	sleep := func(r *rig) {
		r.now = r.now.Add(3 * time.Second)
		u := scale.Update{Scale: "bench", At: r.now, Link: scale.Up, Stale: true, Why: "no reading for two seconds"}
		delete(r.sets, "bench")
		require.NoError(r.t, r.input(Input{At: r.now, Update: &u}))
	}
	t.Run("its zero held", func(t *testing.T) {
		r := two(t)
		r.set("bench", "160.0")
		sleep(r)
		require.Equal(t, "lost", r.state())
		r.rest("bench", 2*time.Second)
		require.Equal(t, "36.6", r.s.View().Now.In)
	})
	t.Run("it woke with the load as zero", func(t *testing.T) {
		r := two(t)
		r.set("bench", "160.0")
		sleep(r)
		r.key("bench")
		r.rest("bench", 2*time.Second)
		require.Equal(t, "lost", r.state())
		r.set("bench", "0")
		r.set("bench", "160.0")
		require.Equal(t, "36.6", r.s.View().Now.In)
	})
	t.Run("it had been tared by its key and forgot that", func(t *testing.T) {
		r := two(t)
		r.mode = protocol.Gross
		r.rest("bench", time.Second)
		r.key("bench")
		r.mode = protocol.Net
		r.rest("bench", time.Second)
		r.set("bench", "160.0")
		require.Equal(t, "36.6", r.s.View().Now.In)
		sleep(r)
		r.mode = protocol.Gross
		r.tare["bench"] = 0
		r.rest("bench", 2*time.Second)
		require.Equal(t, "36.6", r.s.View().Now.In, "it shows what stood there before, all of it")
	})
}

func TestTareKey(t *testing.T) {
	t.Run("shown as net, container just put", func(t *testing.T) {
		r := two(t)
		r.mode = protocol.Gross
		r.rest("bench", time.Second)
		r.key("bench")
		r.mode = protocol.Net
		r.rest("bench", time.Second)
		require.Equal(t, "pour", r.state())
		require.Equal(t, "0.0", r.s.View().Now.In)
		r.set("bench", "208.0")
		require.Equal(t, "84.6", r.s.View().Now.In)
		require.Equal(t, "in", r.state())
		r.set("bench", "0")
		require.Equal(t, "lifted", r.state())
		r.set("bench", "123.5")
		require.Equal(t, g("84.5"), r.lastPortion().Delivered)
	})
	t.Run("not shown by the scale", func(t *testing.T) {
		r := two(t)
		r.key("bench")
		r.rest("bench", time.Second)
		require.Equal(t, "pour", r.state())
		r.set("bench", "208.0")
		require.Equal(t, "84.6", r.s.View().Now.In)
	})
	t.Run("in mid-pour, shown as net", func(t *testing.T) {
		r := two(t)
		r.mode = protocol.Gross
		r.set("bench", "160.0")
		r.key("bench")
		r.mode = protocol.Net
		r.rest("bench", time.Second)
		require.Equal(t, "36.6", r.s.View().Now.In)
		r.set("bench", "208.0")
		require.Equal(t, "in", r.state())
	})
}

func TestGap(t *testing.T) {
	t.Run("same weight after it: the tare is proven", func(t *testing.T) {
		r := two(t)
		r.set("bench", "160.0")
		r.lose("bench")
		require.Equal(t, "lost", r.state())
		require.Equal(t, "", r.s.View().Now.In)
		r.rest("bench", 2*time.Second)
		require.Equal(t, "pour", r.state())
		require.Equal(t, "36.6", r.s.View().Now.In)
		require.Equal(t, "proven", r.last().(fact.Tared).How)
		require.Equal(t, []string{"planned", "reminded", "tared", "noticed", "noticed", "lost", "found", "tared"}, r.kinds())
	})
	t.Run("another weight after it is asked about", func(t *testing.T) {
		r := two(t)
		r.set("bench", "160.0")
		r.lose("bench")
		r.jump("bench", "170.0")
		r.rest("bench", 2*time.Second)
		require.Equal(t, "decide", r.state())
		require.Empty(t, r.portions())
		r.must("keep")
		require.Equal(t, "46.6", r.s.View().Now.In)
	})
	t.Run("zeroed by a power cut: lifting proves the zero", func(t *testing.T) {
		r := two(t)
		r.set("bench", "160.0")
		r.lose("bench")
		r.key("bench") // it starts with the load as zero
		r.rest("bench", 2*time.Second)
		require.Equal(t, "lost", r.state())
		r.set("bench", "0")
		require.Equal(t, "lost", r.state())
		r.set("bench", "160.0")
		require.Equal(t, "pour", r.state())
		require.Equal(t, "36.6", r.s.View().Now.In)
	})
	t.Run("emptied during it", func(t *testing.T) {
		r := two(t)
		r.set("bench", "208.0")
		r.lose("bench")
		r.jump("bench", "123.5")
		r.rest("bench", 2*time.Second)
		require.Equal(t, "decide", r.state())
		require.Equal(t, "gone", r.s.View().Asked.Question)
		r.must("keep")
		require.Equal(t, g("84.5"), r.lastPortion().Delivered)
	})
}

func TestRestart(t *testing.T) {
	t.Run("while the container is off: the tip is not forgotten", func(t *testing.T) {
		r := two(t)
		r.set("bench", "208.0")
		r.set("bench", "0")
		r.restart()
		require.Equal(t, "lifted", r.state())
		r.rest("bench", time.Second)
		r.set("bench", "123.4")
		require.Equal(t, g("84.6"), r.lastPortion().Delivered)
		require.Len(t, r.portions(), 1)
	})
	t.Run("between pours", func(t *testing.T) {
		r := two(t)
		r.set("bench", "208.0")
		r.set("bench", "0")
		r.set("bench", "123.7")
		r.restart()
		require.Equal(t, "lost", r.state(), "the tare counts for nothing until the pan shows it")
		r.rest("bench", 2*time.Second)
		require.Equal(t, "pour", r.state())
		require.Equal(t, "0.0", r.s.View().Now.In)
	})
	t.Run("with something in the container", func(t *testing.T) {
		r := two(t)
		r.set("bench", "160.0")
		r.restart()
		r.rest("bench", 2*time.Second)
		require.Equal(t, "decide", r.state())
		r.must("keep")
		require.Equal(t, "36.6", r.s.View().Now.In)
	})
}

func TestEye(t *testing.T) {
	r := newRig(t, line("Cobalt oxide", "strong", "1.25", "0.02", "eye"))
	r.must("yes Ilse")
	require.Equal(t, "pour", r.state())
	require.Equal(t, "typed", r.s.View().Asked.Question)
	require.ErrorIs(t, r.do("typed 1.255g"), ErrRefused, "finer than the scale shows")
	require.ErrorIs(t, r.do("typed 1.25"), ErrRefused, "no unit")
	require.ErrorIs(t, r.do("typed -1g"), ErrRefused)
	require.ErrorIs(t, r.do("typed 500g"), ErrRefused, "more than it holds")
	r.must("typed 1,00g")
	require.Equal(t, "under", r.lastPortion().Verdict)
	r.must("typed 0.26g")
	require.Equal(t, "finished", r.state())
	require.Equal(t, g("1.26"), r.s.Batch.Steps[0].Delivered)
}

func TestWordsThatDoNotFit(t *testing.T) {
	r := newRig(t, line("Quartz", "base", "84.6", "0.8", "bench"))
	for _, w := range []string{"done", "keep", "enlarge", "skip", "undo", "typed 3g", "yes", "xyzzy"} {
		if w == "yes" {
			continue // the batch has an operator, so a bare yes is Mara's
		}
		require.ErrorIs(t, r.do(w), ErrRefused, w)
	}
	r.must("yes")
	for _, w := range []string{"yes", "keep", "enlarge", "undo", "typed 3g", "done", "substitute", "note", "by", "abandon", "resume", "xyzzy", ""} {
		require.ErrorIs(t, r.do(w), ErrRefused, w)
	}
	require.Len(t, r.facts, 2, "nothing was recorded")
}

func TestPauseSkipSubstituteNoteOperator(t *testing.T) {
	r := two(t)
	r.must("note the bag was open")
	r.must("pause")
	require.Equal(t, "paused", r.state())
	require.ErrorIs(t, r.do("skip"), ErrRefused)
	r.now = r.now.Add(time.Hour)
	r.must("resume")
	require.Equal(t, "reminder", r.state(), "after a long pause the mask is asked for again")
	r.must("yes Ilse")
	require.Equal(t, "Ilse", r.s.Batch.By)
	r.must("by Mara")
	require.Equal(t, "Mara", r.s.Batch.By)
	require.ErrorContains(t, r.do("substitute Lead oxide"), "is blocked: lead", "a poison does not come in by this door")
	r.must("substitute Alumina hydrate")
	// Al(OH)3 loses 34.64 % by the standard atomic weights of IUPAC, 2021, and quartz nothing.
	require.Contains(t, r.s.said[1].Says.String(), "1.530 g ± 0.001 g of Alumina hydrate leaves as much as one gram of Quartz")
	r.must("substitute Flint")
	require.Equal(t, "Flint", r.s.View().Now.As)
	r.must("skip yes")
	require.Equal(t, "Whiting", r.s.View().Now.Material)
	r.must("skip none left")
	require.Equal(t, "finished", r.state())
}

func TestPortionsWhereTheScaleIsTooSmall(t *testing.T) {
	r := pouring(t, line("Feldspar", "base", "4000.0", "40", "bench"))
	var got protocol.Mass
	for n := 0; r.state() == "pour" && n < 9; n++ {
		a := r.s.aim(0)
		require.LessOrEqual(t, g("123.4")+a.Target, g("2000"))
		r.set("bench", (g("123.4") + a.Target).Rounded(1))
		require.Equal(t, "in", r.state())
		r.set("bench", "0")
		r.set("bench", "123.4")
		got = r.s.Batch.Steps[0].Delivered
	}
	require.Len(t, r.portions(), 3)
	require.Equal(t, g("4000"), got)
	require.Equal(t, "finished", r.state())
}

// The scale was silent while the container was off, and its zero is not proven: what
// is back on the pan is not weighed, but it is not taken for one that never came
// back, either.
func TestBackOnAPanWhoseZeroIsNotProven(t *testing.T) {
	r := two(t)
	r.set("bench", "208.0")
	r.set("bench", "0")
	require.Equal(t, "lifted", r.state())
	r.lose("bench")
	r.set("bench", "123.9") // half a gram clings
	require.Equal(t, "lost", r.state())
	for range 120 {
		r.tick(time.Second)
		r.say("bench", protocol.Yes)
	}
	require.Empty(t, r.portions())
	r.set("bench", "0")
	r.set("bench", "123.9")
	p := r.lastPortion()
	require.Equal(t, "tipped", p.How)
	require.Equal(t, g("84.1"), p.Delivered)
}

// tared was started again while the container was off, and the scale was switched on
// long after: the first line it says, still moving, is not "it did not come back".
func TestFirstLineAfterALongSilenceIsNoStandIn(t *testing.T) {
	r := two(t)
	r.set("bench", "208.0")
	r.set("bench", "0")
	r.restart()
	r.tick(10 * time.Minute)
	r.jump("bench", "123.9") // it is back, with half a gram that clings
	r.say("bench", protocol.No)
	r.tick(100 * time.Millisecond)
	require.Empty(t, r.portions())
	r.rest("bench", 2*time.Second)
	require.Equal(t, "tipped", r.lastPortion().How)
	require.Equal(t, g("84.1"), r.lastPortion().Delivered)
}

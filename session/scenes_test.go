package session

import (
	"fmt"
	"os"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"tared/protocol"
	"tared/scale/sim"
	"tared/session/fact"
	"tared/session/journal"
)

// all does one after another, at once.
func all(do ...func(p *proof)) func(p *proof) {
	return func(p *proof) {
		for _, d := range do {
			d(p)
		}
	}
}

// diskFails breaks the disk in the midst of a pour, so; it is mended and the program
// started again later.
func diskFails(how string) scene {
	return scene{disk: true, acts: []act{
		{half("Whiting"), func(p *proof) { p.disk.disk.how, p.disk.disk.fuse, p.disk.disk.forever = how, 1, true }},
		{func(p *proof) bool { return p.disk.b.broken != "" && later(25*time.Second)(p) }, func(p *proof) { p.mended() }},
	}}
}

// mended mends the disk and starts the program again.
func (p *proof) mended() {
	p.note("mended, and started again")
	require.NoError(p.t, p.disk.j.Close())
	p.disk.disk.mend()
	p.disk.start()
	p.s, p.fresh = p.disk.b.s, false
	p.turns++
}

// onDisk holds the record of the bench against what is on the disk.
func onDisk(p *proof) {
	there := map[string]protocol.Mass{}
	_, err := journal.Read(p.disk.dir, func(r journal.Record) error {
		f, _, err := fact.Decode(slices.Clone(r.Line))
		if v, ok := f.Body.(fact.Portion); ok {
			there[v.Material] += v.Delivered
		}
		return err
	})
	if err != nil {
		p.blame("the journal cannot be read: %v", err)
	}
	for _, st := range p.s.Batch.Steps {
		if there[st.Material] != st.Delivered {
			p.blame("%s: %s g on the page, %s g on the disk", st.Material, st.Delivered.Grams(1), there[st.Material].Grams(1))
		}
	}
}

func unseenLift(rate float64, how func(on string, d time.Duration, do func(p *proof)) func(p *proof), d time.Duration) scene {
	return scene{rate: rate, acts: []act{{both(half("Whiting"), justSpoke("bench")), how("bench", d, snatch("bench", d))}}}
}

// keyAtOnce presses a key of the scale, in this very moment.
func keyAtOnce(key sim.Verb) func(p *proof) {
	return func(p *proof) {
		on := p.page().Now.Scale
		p.note("hands: %s of the %s scale, at once", key, on)
		p.world.KeyAtOnce(on, p.now, key)
	}
}

// overshoot pours so much more, whatever the page says.
func overshoot(on, material string, amount float64) func(p *proof) {
	return func(p *proof) {
		p.do(sim.Action{Scale: on, Verb: sim.Pour, Flow: sim.Flow{Material: material, Rate: amount / 3, Rise: 0.1, Cut: 0.03, Left: amount}})
		p.hands.rest(6 * time.Second)
	}
}

// tipsAnyhow lifts the cup, tips it and brings it back, whatever the page says.
func tipsAnyhow(on string) func(p *proof) {
	return func(p *proof) {
		h := p.hands
		h.lift(on)
		h.then(time.Second, func() { h.tip(on) })
		h.then(2*time.Second, func() { h.put(on) })
		h.rest(3 * time.Second)
		h.scoops = 0
	}
}

// thereAlready has the cup on the pan before the first line comes.
func thereAlready(p *proof) {
	p.do(sim.Action{Scale: "bench", Verb: sim.Put})
	p.hands.off["bench"] = false
	p.now = p.now.Add(4 * time.Second)
	p.world.Advance(p.now)
	for n := range p.next {
		p.next[n] = p.now
	}
}

// swapCup changes the cup after the tip.
func swapCup(on, material string, empty float64) []act {
	return []act{{func(p *proof) bool { return p.hands.off[on] && p.hands.tipped[on] && p.page().Now.Material == material }, func(p *proof) { p.exchange(on, empty) }}}
}

// tipTwice leaves so much in the cup at the first tip, and tips again when it is back.
func tipTwice(on string, left float64) func(p *proof) {
	return func(p *proof) {
		h := p.hands
		h.lift(on)
		h.then(800*time.Millisecond, func() { p.world.TipBut(on, left); h.tipped[on], h.tippedAt = true, p.now })
		h.then(1600*time.Millisecond, func() { h.put(on) })
		h.then(5*time.Second, func() { h.lift(on) }) // some is left: tipped again
		h.then(6*time.Second, func() { h.tip(on) })
		h.then(7*time.Second, func() { h.put(on) })
		h.rest(8 * time.Second)
		h.scoops = 0
	}
}

func secondTip(left float64) scene {
	return scene{begin: func(p *proof) { p.clings = 0 }, acts: []act{{shows("in", "Whiting"), tipTwice("bench", left)}}}
}

// swapAdapters has each scale speak by the name of the other, or by its own again.
func swapAdapters(swapped bool) func(p *proof) {
	return func(p *proof) {
		for _, n := range p.world.Names() {
			p.do(sim.Action{Scale: n, Verb: sim.Unplug})
		}
		p.hands.rest(4 * time.Second)
		p.hands.then(2*time.Second, func() {
			p.names = nil
			if swapped {
				p.names = map[string]string{"bench": "fine", "fine": "bench"}
			}
			for _, n := range p.world.Names() {
				p.do(sim.Action{Scale: n, Verb: sim.Replug})
			}
		})
	}
}

// otherDigits sets the menu of the scale to one more digit, with the cable out.
func otherDigits(tips bool) func(p *proof) {
	return func(p *proof) {
		cableOut(4 * time.Second)(p)
		p.hands.then(2*time.Second, func() { p.finer["bench"] = true })
		if tips {
			tipsAnyhow("bench")(p)
		}
	}
}

// named scenes, each of one fault.
func scenes() []scene {
	var list []scene
	add := func(no int, name string, sc scene) {
		sc.no, sc.name = no, name
		list = append(list, sc)
	}
	full := diskFails("full")
	full.after = onDisk
	add(1, "the disk is full in mid-pour", full)
	add(1, "the disk is read-only in mid-pour", diskFails("broken"))
	add(1, "one sync fails", diskFails("sync"))
	add(1, "the journal is deleted in mid-pour", scene{disk: true, after: onDisk, acts: []act{
		{half("Whiting"), func(p *proof) { require.NoError(p.t, os.Remove(p.disk.disk.path)) }}}})

	for _, rate := range []float64{1, 2, 5, 10, 20} {
		add(2, fmt.Sprintf("a lift while the line is silent for 1.8 s, %g lines a second", rate), unseenLift(rate, unheard, 1800*time.Millisecond))
		add(2, fmt.Sprintf("a lift while the display is held for 1.8 s, %g lines a second", rate), unseenLift(rate, displayHeld, 1800*time.Millisecond))
		add(2, fmt.Sprintf("a lift while the display is held for 5.2 s, %g lines a second", rate), unseenLift(rate, displayHeld, 5200*time.Millisecond))
	}
	add(2, "a lift between two lines, 1 line a second", scene{rate: 1, acts: []act{{both(half("Whiting"), justSpoke("bench")), snatch("bench", 800*time.Millisecond)}}})

	for _, rate := range []float64{2, 5, 10} {
		add(3, fmt.Sprintf("the tare key while powder runs, on a scale that says net, %g lines a second", rate), scene{rate: rate, acts: []act{{runs("Whiting", 0.3), keyAtOnce(sim.TareKey)}}})
		add(3, fmt.Sprintf("the tare key while powder runs, on a scale that does not say net, %g lines a second", rate), scene{rate: rate, bare: true, acts: []act{{runs("Whiting", 0.3), keyAtOnce(sim.TareKey)}}})
	}

	add(4, "a newer program recorded a portion that this one does not know", scene{acts: []act{
		{shows("pour", "Quartz"), func(p *proof) {
			// Whiting is in; a program to come wrote that in a kind of its own.
			for i, f := range p.facts {
				if k := f.Body.Kind(); k == "lifted" || k == "portion" {
					p.facts[i].Body = fact.Unknown{Name: k + "2", JSON: []byte(`{"material":"Whiting"}`)}
				}
			}
			off(3*time.Second, nil)(p)
		}},
	}})

	add(5, "D with an empty pan, and D again", scene{acts: []act{
		{shows("container", "Whiting"), press("done")},
		{func(p *proof) bool { return !p.hands.off["bench"] && later(4*time.Second)(p) }, press("done")},
	}})
	add(5, "S, once", scene{acts: []act{{half("Whiting"), press("skip")}}, after: func(p *proof) {
		for _, st := range p.s.Batch.Steps {
			if st.Skipped {
				p.blame("%s is left out at one press, and nothing was asked", st.Material)
			}
		}
	}})
	add(6, "lifted with too much in it", scene{acts: []act{
		{half("Whiting"), overshoot("bench", "Whiting", 33)},
		{later(5 * time.Second), func(p *proof) { p.hands.lift("bench") }}}})
	add(7, "some fell on the pan, and the cable was out", scene{acts: []act{
		{runs("Whiting", 0.4), func(p *proof) {
			p.hands.lift("bench")
			p.hands.then(350*time.Millisecond, func() { p.hands.stop() })
		}},
		{later(4 * time.Second), func(p *proof) { p.do(sim.Action{Scale: "bench", Verb: sim.Unplug}) }},
		{later(3 * time.Second), func(p *proof) { p.do(sim.Action{Scale: "bench", Verb: sim.Replug}) }},
	}})
	add(8, "half a gram clings to the cup", scene{begin: func(p *proof) { p.clings = 0.5 },
		lines: []fact.Line{line("Whiting", "base", "60.0", "0.3", "bench"), line("Quartz", "base", "24.0", "0.3", "bench")},
		after: func(p *proof) {
			for material := range p.more {
				p.blame("%s: in the band, and then asked for more", material)
			}
		}})
	add(9, "over by less than the scale can tell", scene{
		lines: []fact.Line{{Material: "Whiting", Role: "base", Share: "10", Target: g("17"), Low: g("16.712"), High: g("17.288"), Scale: "bench", Weighable: "good", U: g("0.13")}},
		begin: func(p *proof) { p.clings = 0 },
		acts:  []act{{half("Whiting"), overshoot("bench", "Whiting", 8.8)}, {later(5 * time.Second), tipsAnyhow("bench")}},
		still: func(p *proof, v View) {
			if v.Asked != nil && v.Asked.Question == "overpour" {
				if st := p.s.Batch.Steps[0]; st.Delivered-st.High < g("0.1") {
					p.blame("a decision is asked over %s g", (st.Delivered - st.High).Grams(3))
				}
			}
		}})

	add(11, "two adapters are swapped", scene{lines: []fact.Line{line("Whiting", "base", "60.0", "0.6", "bench"), line("Cobalt oxide", "strong", "1.30", "0.02", "fine")},
		begin: func(p *proof) { p.exchange("fine", 43.3); p.hands.put("fine") },
		acts:  []act{{half("Whiting"), swapAdapters(true)}, {later(60 * time.Second), swapAdapters(false)}}})
	add(11, "another digit is chosen in the menu while the cable is out, and it is tipped meanwhile", scene{acts: []act{{half("Whiting"), otherDigits(true)}}})
	add(11, "another digit is chosen in the menu while the cable is out", scene{acts: []act{{half("Whiting"), otherDigits(false)}}})
	for _, bare := range []bool{false, true} {
		say := map[bool]string{false: "", true: ", no mode"}[bare]
		add(11, "the zero key in mid-pour"+say, scene{bare: bare, acts: []act{{half("Whiting"), keyAtOnce(sim.ZeroKey)}}})
		add(11, "the zero key while powder runs"+say, scene{bare: bare, acts: []act{{runs("Whiting", 0.3), keyAtOnce(sim.ZeroKey)}}})
		add(11, "the tare key again and again"+say, scene{bare: bare, acts: slices.Repeat([]act{{func(p *proof) bool {
			n := p.page().Now
			return later(3*time.Second)(p) && n.State == "pour" && n.Settled && p.hands.pouring == ""
		}, keyAtOnce(sim.TareKey)}}, 4)})
		add(15, "the tare key in mid-pour"+say, scene{bare: bare, acts: []act{{half("Whiting"), keyAtOnce(sim.TareKey)}}})
		add(15, "the tare key in mid-pour, the next lines say moving"+say, scene{bare: bare, acts: []act{{half("Whiting"), func(p *proof) {
			p.moves["bench"] = p.now.Add(300 * time.Millisecond)
			keyAtOnce(sim.TareKey)(p)
		}}}})
		for _, d := range []time.Duration{100 * time.Millisecond, time.Second} {
			add(15, fmt.Sprintf("the tare key in mid-pour, lines say moving for %s, and poured on%s", d, say), scene{bare: bare, acts: []act{{half("Whiting"), func(p *proof) {
				p.moves["bench"] = p.now.Add(d)
				keyAtOnce(sim.TareKey)(p)
				overshoot("bench", "Whiting", 28)(p)
			}}}})
			add(15, fmt.Sprintf("the tare key in mid-pour, the cup was there at the start, lines say moving for %s, and poured on%s", d, say), scene{bare: bare, begin: thereAlready, acts: []act{{half("Whiting"), func(p *proof) {
				p.moves["bench"] = p.now.Add(d)
				keyAtOnce(sim.TareKey)(p)
				overshoot("bench", "Whiting", 28)(p)
			}}}})
		}
		add(15, "the tare key in mid-pour, the cup was there at the start"+say, scene{bare: bare,
			begin: thereAlready,
			acts:  []act{{half("Whiting"), keyAtOnce(sim.TareKey)}}})
		add(15, "the tare key in mid-pour, the cup was there at the start, the next lines say moving"+say, scene{bare: bare,
			begin: thereAlready,
			acts: []act{{half("Whiting"), func(p *proof) {
				p.moves["bench"] = p.now.Add(300 * time.Millisecond)
				keyAtOnce(sim.TareKey)(p)
			}}}})
	}
	add(16, "a cup 30 g heavier comes back", scene{acts: swapCup("bench", "Whiting", 148.4)})
	add(16, "a cup 8 g heavier comes back", scene{acts: swapCup("bench", "Whiting", 126.4)})
	add(16, "a cup 8 g lighter comes back", scene{acts: swapCup("bench", "Whiting", 110.4)})
	add(16, "a cup 32 g lighter comes back for another", scene{acts: swapCup("bench", "Whiting", 86.0)})
	add(16, "a cup 1.2 g heavier comes back", scene{acts: swapCup("bench", "Whiting", 119.6)})
	add(16, "a second tip, 4 g stayed in", secondTip(4))
	add(16, "a second tip, 25 g stayed in", secondTip(25))

	add(17, "it calls itself moving for 40 s", scene{acts: []act{{half("Whiting"), func(p *proof) { p.moves["bench"] = p.now.Add(40 * time.Second) }}},
		still: func(p *proof, v View) {
			if v.Now.State == "settle" && p.now.Sub(v.Now.Since) > 15*time.Second && len(v.Now.Detail) == 1 {
				p.blame("%q for 15 s, and no word why", v.Now.Headline)
			}
		}})
	add(17, "killed in the band, and tipped while it was down", scene{acts: []act{
		{shows("in", "Whiting"), off(8*time.Second, func(p *proof) {
			h := p.hands
			h.lift("bench")
			h.then(time.Second, func() { h.tip("bench") })
			h.then(2*time.Second, func() { h.put("bench") })
		})}}})
	add(17, "killed in the band, tipped while it was down, the cup stays away", scene{acts: []act{
		{shows("in", "Whiting"), off(8*time.Second, func(p *proof) {
			h := p.hands
			h.lift("bench")
			h.then(time.Second, func() { h.tip("bench") })
		})}}})
	add(17, "one step of flicker at the low mark", flickers(594))
	add(17, "one step of flicker at the high mark", flickers(607))

	// Two at once.
	add(16, "killed, tipped while it was down, and a cup 50 g heavier comes back", scene{acts: []act{
		{half("Quartz"), off(8*time.Second, all(tipsAnyhow("bench"), func(p *proof) {
			p.hands.then(1500*time.Millisecond, func() { p.exchange("bench", 170.2) })
		}))}}})
	add(15, "the tare key in mid-pour, and again while more runs", scene{bare: true, rate: 5, acts: []act{
		{half("Whiting"), keyAtOnce(sim.TareKey)},
		{func(p *proof) bool { return later(time.Second)(p) && p.hands.pouring != "" && p.inCup("bench") > 50 }, keyAtOnce(sim.TareKey)}}})
	add(15, "the tare key as powder runs, and the cable out after that", scene{bare: true, rate: 8, model: noFlag, begin: thereAlready, acts: []act{
		{runs("Whiting", 0.12), keyAtOnce(sim.TareKey)}, {half("Quartz"), cableOut(6 * time.Second)}}})
	add(15, "the tare key while the display is held, and tipped while the cable was out", scene{bare: true, rate: 2, begin: thereAlready, acts: []act{
		{func(p *proof) bool { return runs("Quartz", 0.55)(p) }, displayHeld("bench", 850*time.Millisecond, func(p *proof) {
			p.hands.then(850*time.Millisecond, func() { keyAtOnce(sim.TareKey)(p) })
		})},
		{later(3 * time.Second), all(cableOut(4*time.Second), tipsAnyhow("bench"))}}})
	add(2, "the display is held while the cup comes back, and the next is weighed elsewhere", scene{
		lines: []fact.Line{line("Whiting", "base", "60.0", "0.6", "bench"), line("Cobalt oxide", "strong", "1.30", "0.03", "fine")},
		acts: []act{{func(p *proof) bool { return p.hands.tipped["bench"] && !p.hands.off["bench"] }, func(p *proof) {
			p.hands.then(200*time.Millisecond, func() { displayHeld("bench", 4*time.Second, func(*proof) {})(p) })
		}}}})

	add(18, "undo after enlarge", scene{begin: func(p *proof) { p.prefer["overpour"] = "enlarge" }, acts: []act{
		{half("Whiting"), overshoot("bench", "Whiting", 35)},
		{later(5 * time.Second), tipsAnyhow("bench")},
		{func(p *proof) bool { return p.s.Batch.Steps[0].Target > g("61") }, func(p *proof) {
			p.hands.rest(time.Second)
			p.say("undo yes")
			if is := p.s.Batch.Steps[1].Target; is != g("24") {
				p.blame("undone, and the target of Quartz is still %s g", is.Grams(1))
			}
			p.hands.busy = p.now.Add(time.Hour) // enough
			p.s.Batch = p.s.Batch.Clone()
			p.s.Batch.Finished, p.s.Batch.Steps = true, nil
		}},
	}})
	return list
}

// flickers has the last digit go to and fro, down from so many tenths.
func flickers(tenths uint64) scene {
	words, last := 0, ""
	var until time.Time
	return scene{acts: []act{{half("Whiting"), func(p *proof) {
		p.hands.rest(25 * time.Second)
		p.hands.pour("bench", "Whiting", float64(tenths)/10-30)
		until = p.now.Add(25 * time.Second)
		k := 0
		from := p.now.Add(8 * time.Second)
		p.lean["bench"] = func() protocol.Decimal {
			sh := p.world.Show("bench", p.now)
			if p.now.After(from) && p.now.Before(until) {
				k++
				sh.Value.Coef = 1184 + tenths - uint64(k%2)
			}
			return sh.Value
		}
	}}}, still: func(p *proof, v View) {
		if p.now.After(until) {
			return
		}
		if s := v.Now.State; s != last {
			words, last = words+1, s
		}
		if words > 20 {
			p.blame("the word changes more than 20 times")
		}
		over := 0
		for _, f := range p.facts {
			if f.Body.Kind() == "overpoured" {
				over++
			}
		}
		if over > 1 {
			p.blame("an overpour is recorded more than once")
		}
	}}
}

// TestScenes mixes a batch in each scene by hands that obey the page, and holds the
// bucket against the record. What fails today stands in faults.
func TestScenes(t *testing.T) {
	all := scenes()
	for name := range faults {
		assert.True(t, slices.ContainsFunc(all, func(sc scene) bool { return sc.name == name }), "there is no scene %q", name)
	}
	for _, sc := range all[:min(len(all), spotsToTry)] {
		t.Run(sc.name, func(t *testing.T) {
			t.Parallel()
			p := newProof(sc, 1, t)
			p.run(sc, 4*time.Minute)
			if dir := os.Getenv("TARED_TRACES"); dir != "" {
				story := slices.DeleteFunc(slices.Clone(p.said), func(s string) bool { return strings.Contains(s, " refused: Nothing can be rec") })
				require.NoError(t, os.WriteFile(fmt.Sprintf("%s/scene-%s.txt", dir, strings.ReplaceAll(sc.name, " ", "-")), []byte(strings.Join(story, "\n")), 0o600))
			}
			if no, known := faults[sc.name]; known {
				assert.Equal(t, sc.no, no)
				assert.NotEmpty(t, p.blames, "it is right now: take it off the list of faults")
				t.Logf("no. %d: %s", sc.no, strings.Join(p.blames, "; "))
			} else {
				assert.Empty(t, p.blames)
			}
		})
	}
}

package session

import (
	"fmt"
	"os"
	"slices"
	"strconv"
	"testing"
	"time"

	"tared/protocol"
	"tared/scale"
	"tared/scale/pan"
	"tared/scale/sim"
	"tared/session/fact"
	"tared/session/guide"
)

// The study asks what the guidance is worth: the same simulated potter pours the
// same material on the same scale once with the bare digits, once with the digits
// and the band's marks, once with those and much practice, and once with the cues
// of the bench, which come from the real Next and the real View. No clock runs; a seed decides all. TARED_POURS sets
// the number of pours for each row, TARED_SEED where the seeds begin.

// studyRow is one pour of the trade: invented targets, one of each kind.
type studyRow struct {
	name    string
	role    string
	scale   sim.Model
	target  string
	allowed string
	potter  sim.Potter
	powder  sim.Material
	lines   float64
}

func studyRows() []studyRow {
	tenth := func(lag time.Duration) sim.Model { return sim.Of(g("0.1"), lag, 0.2) }
	silent := func(m sim.Model) sim.Model { m.NoFlag = true; return m }
	cent := func(lag time.Duration) sim.Model { return sim.Of(g("0.01"), lag, 0.2) }
	return []studyRow{
		{"base 85 g, steady, free", "base", tenth(300 * time.Millisecond), "85.0", "0.8", sim.Steady(), sim.Free(), 10},
		{"base 85 g, hurried, free", "base", tenth(300 * time.Millisecond), "85.0", "0.8", sim.Hurried(), sim.Free(), 10},
		{"base 85 g, hurried, lumps", "base", tenth(300 * time.Millisecond), "85.0", "0.8", sim.Hurried(), sim.Lumpy(), 10},
		{"base 85 g, distracted, sticky", "base", tenth(300 * time.Millisecond), "85.0", "0.8", sim.Distracted(), sim.Sticky(), 10},
		{"base 85 g, steady, slow filter", "base", tenth(1200 * time.Millisecond), "85.0", "0.8", sim.Steady(), sim.Free(), 10},
		{"base 85 g, steady, 2 lines a second", "base", tenth(300 * time.Millisecond), "85.0", "0.8", sim.Steady(), sim.Free(), 2},
		{"addition 8 g, trembling, sticky", "addition", tenth(300 * time.Millisecond), "8.0", "0.2", sim.Trembling(), sim.Sticky(), 10},
		{"strong 5 g, steady, free", "strong", cent(400 * time.Millisecond), "5.00", "0.10", sim.Steady(), sim.Free(), 10},
		{"strong 5 g, hurried, free", "strong", cent(400 * time.Millisecond), "5.00", "0.10", sim.Hurried(), sim.Free(), 10},
		{"strong 5 g, trembling, lumps", "strong", cent(400 * time.Millisecond), "5.00", "0.10", sim.Trembling(), sim.Lumpy(), 10},
		{"strong 2 g, distracted, sticky", "strong", cent(400 * time.Millisecond), "2.00", "0.04", sim.Distracted(), sim.Sticky(), 10},
		{"strong 5 g, steady, slow filter", "strong", cent(1200 * time.Millisecond), "5.00", "0.10", sim.Steady(), sim.Free(), 10},
		{"strong 5 g, steady, no flag of rest", "strong", silent(cent(400 * time.Millisecond)), "5.00", "0.10", sim.Steady(), sim.Free(), 10},
		{"strong 5 g, steady, 2 lines a second", "strong", cent(400 * time.Millisecond), "5.00", "0.10", sim.Steady(), sim.Free(), 2},
	}
}

// byBench is the guide that asks the real bench.
type byBench struct {
	row     studyRow
	s       State
	set     scale.Settler
	trace   []shownAt     // after the hand has closed
	stopped time.Time     // when the hand closed
	flagAt  time.Time     // when the scale first said after that that it rests
	restAt  time.Time     // when the bench first saw rest after that
	then    protocol.Mass // and what was in it, as far as it knew
}

// shownAt is what was in the container at some time.
type shownAt struct {
	at time.Time
	g  protocol.Mass
}

func newByBench(row studyRow) *byBench {
	b := &byBench{row: row}
	step := stepOfModel(row.scale)
	target, allowed := g(row.target), g(row.allowed)
	b.s.Pans = []pan.Pan{pan.New("s", 0, step)}
	b.s = b.s.Apply(fact.Fact{Seq: 1, Batch: "260302a", By: "Mara", Body: fact.Planned{Title: "Study (invented)",
		Lines:  []fact.Line{{Material: "Powder", Role: row.role, Share: "100", Target: target, Low: target - allowed, High: target + allowed, Scale: "s"}},
		Scales: []fact.Scale{{Name: "s", Step: step, Max: row.scale.Max}}}})
	b.s.Batch.Reminded = true
	return b
}

func stepOfModel(m sim.Model) protocol.Mass {
	d, err := m.Units[0].Ranges[0].Step.Mass(m.Units[0].Unit)
	if err != nil {
		panic(err)
	}
	return d
}

func (b *byBench) hear(sh sim.Shown) {
	m, err := sh.Value.Mass(sh.Unit)
	if err != nil || sh.Status != protocol.OK {
		return
	}
	stable := protocol.No
	switch {
	case b.row.scale.NoFlag:
		stable = protocol.Unsaid
	case sh.Stable:
		stable = protocol.Yes
	}
	u := scale.Update{Scale: "s", At: sh.At, Link: scale.Up, HasReading: true, HasMass: true, Mass: m, Step: stepOfModel(b.row.scale),
		Reading: protocol.Reading{Status: protocol.OK, Value: sh.Value, Unit: sh.Unit, Stable: stable}}
	u.Settled = b.set.Add(sh.At, m, u.Step, stable)
	next, _, err := Next(b.s, Input{At: sh.At, Update: &u})
	if err == nil {
		b.s = next
	}
}

// Watch lets the bench see the container come and tare it.
func (b *byBench) Watch(sh sim.Shown) { b.hear(sh) }

// Tared has nothing to do: the bench has seen it.
func (b *byBench) Tared(sim.Shown) {}

// Rest hears what the scale says after the hand has closed, and notes when the
// bench takes it for rest: from then on a lift is a take.
func (b *byBench) Rest(sh sim.Shown) {
	if b.stopped.IsZero() {
		b.stopped = sh.At
	}
	b.hear(sh)
	if sh.Stable && b.flagAt.IsZero() {
		b.flagAt = sh.At
	}
	p := &b.s.Pans[0]
	b.trace = append(b.trace, shownAt{sh.At, p.Content()})
	if p.Settled() && b.restAt.IsZero() {
		b.restAt, b.then = sh.At, p.Content()
	}
}

// still is when the display came within a step of where it ended, and stayed.
func (b *byBench) still() time.Time {
	at := b.stopped
	for i := len(b.trace) - 1; i >= 0; i-- {
		if (b.trace[i].g - b.trace[len(b.trace)-1].g).Abs() > stepOfModel(b.row.scale) {
			break
		}
		at = b.trace[i].at
	}
	return at
}

// Hear gives the cue that the page would give.
func (b *byBench) Hear(sh sim.Shown) string {
	b.hear(sh)
	return b.cue()
}

// Tick gives what it would say between two lines.
func (b *byBench) Tick(now time.Time) string {
	if !b.s.hurry {
		return ""
	}
	if next, _, err := Next(b.s, Input{At: now}); err == nil {
		b.s = next
	}
	return b.cue()
}

func (b *byBench) cue() string {
	switch cue := b.s.View().Now.Cue; cue {
	case "ease", "stop":
		return cue
	case "in", "over":
		return "stop"
	}
	return ""
}

// byBand is the bare display with the band's marks: it eases at nine tenths and
// stops at the low mark.
type byBand struct {
	byReading
	ease byReading
}

func (b *byBand) Tared(sh sim.Shown) { b.byReading.Tared(sh); b.ease.Tared(sh) }

func (b *byBand) Hear(sh sim.Shown) string {
	if c := b.byReading.Hear(sh); c != "" {
		return c
	}
	if b.ease.Hear(sh) != "" {
		return "ease"
	}
	return ""
}

// practice is what a person has learnt of a display without any help: by how much
// the pours usually go past the reading at which they stop.
type practice struct{ lead protocol.Mass }

// byPractice is that person: eases at nine tenths and stops ahead of the target by
// what they have learnt.
type byPractice struct {
	byBand
	learnt *practice
	at     protocol.Mass // stopped at
	last   protocol.Mass
}

func newByPractice(row studyRow, learnt *practice) *byPractice {
	target := g(row.target)
	return &byPractice{byBand: byBand{byReading{Low: max(target-learnt.lead, target/10)}, byReading{Low: target * 9 / 10}}, learnt: learnt}
}

// Hear notes where the hand is told to stop.
func (b *byPractice) Hear(sh sim.Shown) string {
	cue := b.byBand.Hear(sh)
	if m, err := sh.Value.Mass(sh.Unit); err == nil && cue == "stop" && b.at == 0 {
		b.at = m
	}
	return cue
}

// Rest sees how far it went. After 4 s and 15 lags nothing moves any more.
func (b *byPractice) Rest(sh sim.Shown) {
	if m, err := sh.Value.Mass(sh.Unit); err == nil {
		b.last = m
	}
}

// learn takes the last pour into account, as an eighth of what is known.
func (b *byPractice) learn() { b.learnt.lead += (b.last - b.at - b.learnt.lead) / 8 }

// tally sums up the pours of one row by one guide.
type tally struct {
	n, over, untold int
	took            []time.Duration
	right           []time.Duration // from the first grain until the display stood within the marks
	never           int             // not right after a hundred spoonfuls
	spoons          []float64
	flag            []time.Duration // from the display at rest to the scale's own flag of it
	rest            []time.Duration // from the display at rest to rest seen: from then on a lift is a take
	early           int             // rest seen while more than two steps were still to come: a lift would be a false take
	missed          int             // rest never seen
	deviation       []float64       // grams, of the single pour that was not under
}

func (row studyRow) trial(seed uint64) pourTrial {
	return pourTrial{Seed: seed, Scale: row.scale, Rate: row.lines, Potter: row.potter, Material: row.powder, Container: 60,
		Target: g(row.target), Low: g(row.target) - g(row.allowed), High: g(row.target) + g(row.allowed)}
}

func (t *tally) add(o pourOutcome, target float64) {
	t.n++
	if o.Verdict == "over" {
		t.over++
	}
	if !o.Told {
		t.untold++
	}
	t.took = append(t.took, o.Took)
	if t.spoons = append(t.spoons, float64(o.Spoons)); o.Right > 0 {
		t.right = append(t.right, o.Right)
	} else {
		t.never++
	}
	t.deviation = append(t.deviation, max(o.Landed-target, target-o.Landed))
}

func mean(x []float64) float64 {
	sum := 0.0
	for _, v := range x {
		sum += v
	}
	return sum / float64(max(len(x), 1))
}

func median(d []time.Duration) float64 { return quantile(d, 50) }

// quantile gives the time that so many of a hundred are under, in seconds.
func quantile(d []time.Duration, percent int) float64 {
	if len(d) == 0 {
		return 0
	}
	s := slices.Clone(d)
	slices.Sort(s)
	return s[min(len(s)*percent/100, len(s)-1)].Seconds()
}

func number(name string, usual int) int {
	if n, err := strconv.Atoi(os.Getenv(name)); err == nil && n > 0 {
		return n
	}
	return usual
}

// BenchmarkStudy reports, for each row and guide: the share of overpours, the
// median time of a pour, the mean absolute deviation of where it landed, and how
// long it takes until the display stands within the marks, spoons of more and less
// included (half and 95 of 100 are under it). For the bench also the time from the
// display at rest to rest seen (half and 95 of 100 are under it), how much of that
// passes until the scale's own flag says so, how often rest was seen too early, and
// how often never.
func BenchmarkStudy(b *testing.B) {
	pours, first := number("TARED_POURS", 1000), number("TARED_SEED", 1)
	for _, row := range studyRows() {
		target := float64(g(row.target)) / float64(protocol.Gram)
		low := g(row.target) - g(row.allowed)
		var last *byBench
		var practised practice
		guides := []struct {
			name string
			make func() pourGuide
		}{
			{"bare", func() pourGuide { return &byReading{Low: g(row.target)} }},
			{"band", func() pourGuide { return &byBand{byReading{Low: low}, byReading{Low: g(row.target) * 9 / 10}} }},
			{"practised", func() pourGuide { return newByPractice(row, &practised) }},
			{"tared", func() pourGuide { // what it learns of the potter it keeps from pour to pour
				b := newByBench(row)
				if last != nil {
					b.s.Learnt = last.s.Learnt
				}
				last = b
				return b
			}},
		}
		for _, gd := range guides {
			b.Run(fmt.Sprintf("%s/%s", row.name, gd.name), func(b *testing.B) {
				var t tally
				for range b.N {
					for i := range pours {
						guide := gd.make()
						o, err := row.trial(uint64(first + i)).Run(guide)
						if err != nil {
							b.Fatal(err)
						}
						t.add(o, target)
						if p, ok := guide.(*byPractice); ok {
							p.learn()
						}
						if bench, ok := guide.(*byBench); ok && bench.restAt.IsZero() {
							t.missed++
						} else if ok {
							if !bench.flagAt.IsZero() {
								t.flag = append(t.flag, max(bench.flagAt.Sub(bench.still()), 0))
							}
							t.rest = append(t.rest, max(bench.restAt.Sub(bench.still()), 0))
							if (bench.s.Pans[0].Content() - bench.then).Abs() > 2*stepOfModel(row.scale) {
								t.early++
							}
						}
					}
				}
				b.ReportMetric(100*float64(t.over)/float64(t.n), "%over")
				b.ReportMetric(median(t.took), "s/pour")
				b.ReportMetric(mean(t.deviation), "g_off")
				b.ReportMetric(median(t.right), "s/right")
				b.ReportMetric(quantile(t.right, 95), "s/right95")
				b.ReportMetric(mean(t.spoons), "spoons")
				b.ReportMetric(float64(t.never), "never")
				if gd.name == "tared" {
					b.ReportMetric(median(t.rest), "s/rest")
					b.ReportMetric(quantile(t.rest, 95), "s/rest95")
					b.ReportMetric(median(t.flag), "s/flag")
					b.ReportMetric(float64(t.early), "early")
					b.ReportMetric(float64(t.missed), "missed")
				}
				b.ReportMetric(0, "ns/op")
			})
		}
	}
}

// byAhead watches how well the flow tells where the display will be, at some
// horizons, while the hand goes on as it is.
type byAhead struct {
	*byBench
	told []ahead
	off  map[time.Duration][]float64 // grams
	bare map[time.Duration][]float64 // the same for a display that tells of now only
}

type ahead struct {
	at       time.Time
	in, flow protocol.Mass
}

var horizons = []time.Duration{100 * time.Millisecond, 200 * time.Millisecond, 500 * time.Millisecond, time.Second}

// Hear notes what the flow promises, and looks at what was promised before.
func (b *byAhead) Hear(sh sim.Shown) string {
	cue := b.byBench.Hear(sh)
	p := &b.s.Pans[0]
	for _, h := range horizons {
		for i := len(b.told) - 1; i >= 0; i-- {
			t := b.told[i]
			if sh.At.Sub(t.at) < h {
				continue
			}
			if sh.At.Sub(t.at) < h+50*time.Millisecond && t.flow > 0 {
				b.off[h] = append(b.off[h], grams((t.in + guide.Brings(t.flow, sh.At.Sub(t.at)) - p.Content()).Abs()))
				b.bare[h] = append(b.bare[h], grams((t.in - p.Content()).Abs()))
			}
			break
		}
	}
	if cue == "" || cue == "near" { // a hand that eases or stops keeps no promise
		b.told = append(b.told, ahead{sh.At, p.Content(), p.Flow()})
	} else {
		b.told = nil
	}
	return cue
}

// BenchmarkStudyAhead reports how far the display is from where the flow promised,
// at some horizons, and how far from where it was: mean grams, while the pour runs
// free.
func BenchmarkStudyAhead(b *testing.B) {
	pours, first := number("TARED_POURS", 1000), number("TARED_SEED", 1)
	for _, row := range studyRows() {
		b.Run(row.name, func(b *testing.B) {
			off, bare := map[time.Duration][]float64{}, map[time.Duration][]float64{}
			for range b.N {
				for i := range pours {
					if _, err := row.trial(uint64(first + i)).Run(&byAhead{newByBench(row), nil, off, bare}); err != nil {
						b.Fatal(err)
					}
				}
			}
			for _, h := range horizons {
				b.ReportMetric(mean(off[h]), fmt.Sprintf("g@%.1fs", h.Seconds()))
				b.ReportMetric(mean(bare[h]), fmt.Sprintf("bare@%.1fs", h.Seconds()))
			}
			b.ReportMetric(0, "ns/op")
		})
	}
}

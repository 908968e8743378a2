package session

import (
	"context"
	"math/big"
	"strings"
	"time"

	"tared/protocol"
	"tared/scale"
	"tared/scale/pan"
	"tared/session/fact"
	say "tared/session/sentence"
	"tared/session/sheet"
	"tared/session/text"
)

// DefaultCheckEvery is how long a check with a known weight counts: the day on
// which it was made (common practice, no source).
const DefaultCheckEvery = 24 * time.Hour

// CheckRule is what the user says of the check of one scale.
type CheckRule struct {
	Class    scale.Class   // NoClass: two steps are allowed
	Interval protocol.Mass // verification scale interval e; 0: the step
	Weight   protocol.Mass // usual check weight; 0: it is named each time
	Every    time.Duration // 0: DefaultCheckEvery; below 0: the scale is never overdue
}

// The runs that a CheckRequest may ask for.
const (
	CheckMass   = "mass"   // one placing of a known weight
	CheckRepeat = "repeat" // ten placings of one weight
	CheckEdges  = "edges"  // a known weight at the centre and near four edges of the pan
	CheckStop   = "stop"   // ends a run that is under way
)

// edgePlaces are the places of an edge run, in their order.
var edgePlaces = [...]text.Message{text.New("gauge.centre"), text.New("gauge.front"), text.New("gauge.right"), text.New("gauge.back"), text.New("gauge.left")}

// CheckRequest asks for a run in which a scale itself is checked.
type CheckRequest struct {
	Scale string `json:"scale"`
	What  string `json:"what"`
	Mass  string `json:"mass"`  // of the weight, "100g"; "": the one of the rule
	Shown string `json:"shown"` // what a balance read by eye shows, "100.0g"
	By    string `json:"by"`    // operator
}

// gauge is what the bench knows of one scale as an instrument.
type gauge struct {
	checked fact.Fact // the zero value: never
	repeat  fact.Fact
	run     *gaugeRun
	said    string // what became of the last run that was not recorded
}

type gaugeRun struct {
	what   string
	by     string
	placer scale.Placer
}

// gauges are the scales as instruments, by name.
type gauges map[string]*gauge

// Reads reports whether facts of a kind matter here.
func (all *gauges) Reads(kind, _ string, _ time.Time) bool {
	return kind == (fact.Checked{}).Kind() || kind == (fact.Repeatability{}).Kind()
}

// Add takes what was found of a scale; the last counts.
func (all *gauges) Add(f fact.Fact) {
	switch v := f.Body.(type) {
	case fact.Checked:
		all.of(v.Scale).checked = f
	case fact.Repeatability:
		all.of(v.Scale).repeat = f
	}
}

func (all *gauges) of(name string) *gauge {
	if *all == nil {
		*all = gauges{}
	}
	if (*all)[name] == nil {
		(*all)[name] = &gauge{}
	}
	return (*all)[name]
}

func (b *Bench) gauge(name string) *gauge { return b.workshop.scales.of(name) }

// Check begins, or ends, a run in which a scale is checked. The run goes on by
// itself: the view says what to do, and what was found is recorded. A balance read
// by eye is judged at once by what the person typed. Errors that a person can mend
// have ErrRefused in their chain.
func (b *Bench) Check(ctx context.Context, r CheckRequest) error {
	var err error
	if e := b.call(ctx, func() {
		if err = b.check(r); err == nil {
			b.publish(true)
		}
	}); e != nil {
		return e
	}
	return err
}

func (b *Bench) check(r CheckRequest) error {
	var sc *sheet.Scale
	for i := range b.cfg.Scales {
		if b.cfg.Scales[i].Name == r.Scale {
			sc = &b.cfg.Scales[i]
		}
	}
	if sc == nil {
		return text.Refuse("scale.none", text.Name("scale", r.Scale))
	}
	g, rule := b.gauge(r.Scale), b.cfg.Checks[r.Scale]
	if r.What == CheckStop {
		if g.run == nil {
			return text.Refuse("gauge.no-run", text.Name("scale", r.Scale))
		}
		g.run, g.said = nil, text.New("gauge.ended").String()
		return nil
	}
	mass := rule.Weight
	if strings.TrimSpace(r.Mass) != "" {
		var err error
		if mass, err = protocol.ParseMass(r.Mass); err != nil {
			return text.Refuse("gauge.weight", text.Because("why", err))
		}
	}
	want := map[string]int{CheckMass: 1, CheckRepeat: scale.Placings, CheckEdges: len(edgePlaces)}[r.What]
	switch {
	case want == 0:
		return text.Refuse("gauge.kind", text.Name("what", r.What))
	case mass <= 0:
		return text.Refuse("gauge.which-weight")
	case sc.Max > 0 && mass > sc.Max:
		return text.Refuse("gauge.heavy", text.Exact("mass", mass, 0), text.Name("scale", r.Scale), text.Exact("max", sc.Max, 0))
	case b.s.open() && b.s.uses(r.Scale):
		return text.Refuse("gauge.in-use", text.Name("batch", b.s.Batch.Mark), text.Name("scale", r.Scale))
	case b.broken != "":
		return text.Refuse("gauge.broken", text.Name("why", b.broken))
	}
	if sc.Eye {
		return b.byEye(*sc, mass, r)
	}
	p := b.s.pan(r.Scale)
	if step := p.Step(); step > 0 && mass < 20*step {
		return text.Refuse("gauge.light", text.Exact("mass", mass, 0), text.Exact("step", step, 0))
	}
	g.said = ""
	g.run = &gaugeRun{what: r.What, by: strings.TrimSpace(r.By), placer: scale.Placer{Mass: mass, Want: want}}
	return nil
}

func (b *Bench) byEye(sc sheet.Scale, mass protocol.Mass, r CheckRequest) error {
	if r.What != CheckMass {
		return text.Refuse("gauge.eye", text.Name("scale", sc.Name))
	}
	shown, err := protocol.ParseMass(r.Shown)
	if err != nil {
		return text.Refuse("gauge.shown", text.Name("scale", sc.Name), text.Because("why", err))
	}
	if sc.Step > 0 && shown%sc.Step != 0 {
		return text.Refuse("gauge.fine", text.Exact("shown", shown, 0), text.Name("scale", sc.Name), text.Exact("step", sc.Step, 0))
	}
	return b.record(sc.Name, strings.TrimSpace(r.By), func() (fact.Body, error) {
		return b.judged(CheckMass, sc.Name, mass, sc.Step, []protocol.Mass{shown}, []string{"typed " + r.Shown})
	})
}

// gauged takes a scale's update into the run that is under way on it, and tells
// whether the view changed.
func (b *Bench) gauged(u *scale.Update) bool {
	g := b.workshop.scales[u.Scale]
	if g == nil || g.run == nil {
		return false
	}
	if b.s.open() && b.s.uses(u.Scale) {
		g.run, g.said = nil, text.New("gauge.ended-by-batch").String()
		return true
	}
	run := g.run
	changed := run.placer.Add(*u)
	switch {
	case run.placer.Err() != nil:
		g.run, g.said = nil, run.placer.Err().Error()
	case run.placer.Done():
		g.run = nil
		err := b.record(u.Scale, run.by, func() (fact.Body, error) { return b.found(u.Scale, run) })
		if err != nil {
			g.said = err.Error()
		}
	}
	return changed
}

// record puts what was found on disk, and takes it as known then.
func (b *Bench) record(name, by string, found func() (fact.Body, error)) error {
	body, err := found()
	if err != nil {
		return err
	}
	t := change{s: b.s, at: b.cfg.Now()}
	t.put("", by, body)
	if err := b.commit(t.s, t.facts); err != nil {
		return err
	}
	b.gauge(name).said = ""
	return nil
}

// found is the fact of a run whose placings are all there.
func (b *Bench) found(name string, run *gaugeRun) (fact.Body, error) {
	var nets []protocol.Mass
	var zeros, shown []string
	for _, p := range run.placer.Got {
		nets = append(nets, p.Net())
		zeros, shown = append(zeros, pan.Printable(p.Raw[0])), append(shown, pan.Printable(p.Raw[1]))
	}
	raw := append(zeros, shown...)
	if run.what != CheckRepeat {
		return b.judged(run.what, name, run.placer.Mass, run.placer.Step, nets, raw)
	}
	f, err := repeatability(run.placer.Mass, run.placer.Step, nets)
	if err != nil {
		return nil, err
	}
	f.Scale, f.Port, f.Identity, f.Raw = name, b.idOf(name).Port, b.idOf(name).USB, raw
	return f, nil
}

func (b *Bench) idOf(name string) scale.Identity {
	if p := b.s.pan(name); p != nil {
		return p.Identity()
	}
	return scale.Identity{}
}

// judged judges readings of a known weight.
func (b *Bench) judged(what, name string, mass, step protocol.Mass, nets []protocol.Mass, raw []string) (fact.Body, error) {
	rule := b.cfg.Checks[name]
	f := fact.Checked{Scale: name, Port: b.idOf(name).Port, Identity: b.idOf(name).USB, What: what, Mass: mass, Shown: nets,
		Class: rule.Class.String(), Step: step, Raw: raw}
	if rule.Class != scale.NoClass {
		if f.Interval = rule.Interval; f.Interval == 0 {
			f.Interval = step
		}
	}
	r, err := scale.Check{Nominal: mass, Shown: nets[0], Step: step, Class: rule.Class, Interval: rule.Interval}.Run()
	if err != nil {
		return nil, err
	}
	f.Deviation, f.Allowed, f.Pass = r.Deviation, r.Allowed, r.Pass
	if what != CheckEdges {
		return f, nil
	}
	worst, _, pass, err := scale.Eccentricity{Load: mass, Centre: nets[0], Edges: nets[1:], Allowed: r.Allowed}.Run()
	if err != nil {
		return nil, err
	}
	f.Deviation, f.Pass = worst, pass
	return f, nil
}

// The shares for which the least weighable mass is told: that of USP <41>, and
// what a base material and an addition may be off (design values).
var shareUSP, shareBase, shareAddition = big.NewRat(1, 1000), big.NewRat(1, 100), big.NewRat(1, 50)

func repeatability(mass, step protocol.Mass, nets []protocol.Mass) (f fact.Repeatability, err error) {
	r := scale.Repeatability{Shown: nets}
	f = fact.Repeatability{Mass: mass, Shown: nets, Range: r.Range(), Step: step}
	if f.Spread, err = r.Spread(); err != nil {
		return f, err
	}
	// A spread of nothing was measured here, and is not one that nobody measured.
	spread := max(f.Spread, protocol.Nanogram)
	for _, l := range []struct {
		to    *protocol.Mass
		rule  func(step, spread protocol.Mass, share *big.Rat) (protocol.Mass, error)
		share *big.Rat
	}{{&f.LeastUSP, sheet.LeastByRepeatability, shareUSP}, {&f.LeastBase, sheet.LeastByUncertainty, shareBase}, {&f.LeastAddition, sheet.LeastByUncertainty, shareAddition}} {
		if *l.to, err = l.rule(step, spread, l.share); err != nil {
			return f, err
		}
	}
	return f, nil
}

// spread gives the repeatability that was measured on this scale as it is now: by
// its name, at its step, and not on another device. 0: none was.
func (b *Bench) spread(s sheet.Scale) protocol.Mass {
	g := b.workshop.scales[s.Name]
	if g == nil {
		return 0
	}
	return measured(g.repeat, s)
}

// Measured gives the repeatability of a scale that the journal knows; 0: none was
// measured on it as it is now.
func (w *Workshop) Measured(s sheet.Scale) protocol.Mass {
	if g := w.scales[s.Name]; g != nil {
		return measured(g.repeat, s)
	}
	return 0
}

func measured(last fact.Fact, s sheet.Scale) protocol.Mass {
	f, ok := last.Body.(fact.Repeatability)
	switch {
	case !ok, f.Step != s.Step:
		return 0
	case scale.HasSerial(f.Identity) && scale.HasSerial(s.Identity) && f.Identity != s.Identity:
		return 0
	}
	// Ten equal readings spread by nothing, which is measured all the same: the
	// rounding of the readings stands in the sheet's own formula.
	return max(f.Spread, 1)
}

// checks adds to a view what is known of the scales themselves, and says at the
// bench, between two batches and with the reminder, that a check is due.
func (b *Bench) checks(v *View) {
	for i := range v.Scales {
		v.Scales[i].Check = b.checkView(v.Scales[i].Name)
	}
	for _, s := range b.cfg.Scales {
		due := b.due(s.Name)
		if due.None() {
			continue
		}
		switch v.Now.State {
		case "idle", "finished":
			v.Now.Detail = append(v.Now.Detail, due)
		case "reminder":
			if v.Asked != nil && b.s.open() && b.s.uses(s.Name) {
				// Not among the lines of the reminder, which are recorded as answered.
				v.Now.Detail = append(v.Now.Detail, due)
			}
		}
	}
}

// due says what there is against using a scale, if anything.
func (b *Bench) due(name string) text.Message {
	switch state, last := b.checkState(name); state {
	case "never":
		return text.New("check.never", text.Name("scale", name))
	case "overdue":
		return text.New("check.overdue", text.Name("scale", name), text.Date("last", last.At))
	case "failed":
		return text.New("check.failed", text.Name("scale", name))
	}
	return text.Message{}
}

func (b *Bench) checkState(name string) (state string, last fact.Fact) {
	if g := b.workshop.scales[name]; g != nil {
		last = g.checked
	}
	c, ok := last.Body.(fact.Checked)
	every := b.cfg.Checks[name].Every
	if every == 0 {
		every = DefaultCheckEvery
		if b.cfg.Simulated {
			every = -1 // nobody has a weight for it
		}
	}
	switch {
	case ok && !c.Pass:
		return "failed", last
	case ok && (every < 0 || !overdue(last.At, b.s.Now, every)):
		return "passed", last
	case every < 0:
		return "", last
	case !ok:
		return "never", last
	}
	return "overdue", last
}

// overdue tells whether a check no longer counts. Whole days are counted by the
// calendar, so that a check made at nine is not due at nine on the next day, in
// the middle of a pour, but when the day begins.
func overdue(last, now time.Time, every time.Duration) bool {
	const day = 24 * time.Hour
	if every%day != 0 {
		return now.Sub(last) > every
	}
	y, m, d := last.In(now.Location()).Date()
	return !now.Before(time.Date(y, m, d+int(every/day), 0, 0, 0, 0, now.Location()))
}

func (b *Bench) checkView(name string) *CheckView {
	rule := b.cfg.Checks[name]
	c := &CheckView{Limits: text.New("gauge.two-steps").String()}
	if rule.Class != scale.NoClass {
		c.Limits = text.New("gauge.class", text.Name("class", rule.Class.String())).String()
	}
	if rule.Weight > 0 {
		c.Weight = rule.Weight.String()
	}
	var last fact.Fact
	c.State, last = b.checkState(name)
	if _, ok := last.Body.(fact.Checked); ok {
		c.Words, c.At, c.By = say.Of(last), &last.At, last.By
	}
	g := b.workshop.scales[name]
	if g == nil {
		return c
	}
	c.Said = g.said
	if f, ok := g.repeat.Body.(fact.Repeatability); ok {
		c.Spread = say.Of(g.repeat)
		for _, s := range b.known() {
			c.Used = c.Used || s.Name == name && s.Spread > 0 && s.Spread == max(f.Spread, 1)
		}
	}
	if g.run != nil {
		p := &g.run.placer
		c.Doing, c.Want = p.Words(), p.Want
		if k := len(p.Got); g.run.what == CheckEdges && k < len(edgePlaces) && p.Err() == nil {
			c.Doing += " " + text.New("gauge.next", text.Said("place", edgePlaces[k])).String()
		}
		for _, x := range p.Got {
			c.Seen = append(c.Seen, x.Net().Grams(p.Step.Places()))
		}
	}
	return c
}

package session

import (
	"cmp"
	"math/big"
	"slices"
	"strings"
	"time"

	"tared/protocol"
	"tared/scale"
	"tared/scale/pan"
	"tared/session/doubt"
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

type checkRun struct {
	what   string
	by     string
	placer scale.Placer
}

// checker checks the scales themselves. It knows what the journal says of them.
type checker struct {
	scales    []sheet.Scale // in the user's order
	rules     map[string]CheckRule
	simulated bool
	gauges    *gauges

	runs map[string]*checkRun    // under way, by scale
	said map[string]text.Message // what became of the last run that was not recorded

	shown   map[string]checkShown // of each scale
	shownAt time.Time             // when that was made; zero: make it anew
}

// begin begins or ends a run. p is the pan of the scale, nil of a balance that is read by
// eye: that is judged at once, and the fact is there. hinders says what there is against
// it; nil: nothing.
func (c *checker) begin(r CheckRequest, p *pan.Pan, hinders error) (fact.Body, error) {
	k := slices.IndexFunc(c.scales, func(s sheet.Scale) bool { return s.Name == r.Scale })
	if k < 0 {
		return nil, text.Refuse("scale.none", text.Name("scale", r.Scale))
	}
	sc, mass := c.scales[k], c.rules[r.Scale].Weight
	if r.What == CheckStop {
		if c.runs[r.Scale] == nil {
			return nil, text.Refuse("gauge.no-run", text.Name("scale", r.Scale))
		}
		c.end(r.Scale, text.New("gauge.ended"))
		return nil, nil
	}
	if strings.TrimSpace(r.Mass) != "" {
		var err error
		if mass, err = protocol.ParseMass(r.Mass); err != nil {
			return nil, text.Refuse("gauge.weight", text.Because("why", err))
		}
	}
	want := map[string]int{CheckMass: 1, CheckRepeat: scale.Placings, CheckEdges: len(edgePlaces)}[r.What]
	switch {
	case want == 0:
		return nil, text.Refuse("gauge.kind", text.Name("what", r.What))
	case mass <= 0:
		return nil, text.Refuse("gauge.which-weight")
	case sc.Max > 0 && mass > sc.Max:
		return nil, text.Refuse("gauge.heavy", text.Exact("mass", mass, 0), text.Name("scale", r.Scale), text.Exact("max", sc.Max, 0))
	case hinders != nil:
		return nil, hinders
	case sc.Eye:
		return c.byEye(sc, mass, r)
	}
	if step := p.Step(); step > 0 && mass < 20*step {
		return nil, text.Refuse("gauge.light", text.Exact("mass", mass, 0), text.Exact("step", step, 0))
	}
	c.end(r.Scale, text.Message{})
	c.runs[r.Scale] = &checkRun{what: r.What, by: strings.TrimSpace(r.By), placer: scale.Placer{Mass: mass, Want: want}}
	return nil, nil
}

// end ends the run on a scale, if there is one, and says why.
func (c *checker) end(name string, why text.Message) {
	if c.runs == nil {
		c.runs, c.said = map[string]*checkRun{}, map[string]text.Message{}
	}
	delete(c.runs, name)
	c.said[name] = why
}

func (c *checker) byEye(sc sheet.Scale, mass protocol.Mass, r CheckRequest) (fact.Body, error) {
	if r.What != CheckMass {
		return nil, text.Refuse("gauge.eye", text.Name("scale", sc.Name))
	}
	shown, err := protocol.ParseMass(r.Shown)
	if err != nil {
		return nil, text.Refuse("gauge.shown", text.Name("scale", sc.Name), text.Because("why", err))
	}
	if sc.Step > 0 && shown%sc.Step != 0 {
		return nil, text.Refuse("gauge.fine", text.Exact("shown", shown, 0), text.Name("scale", sc.Name), text.Exact("step", sc.Step, 0))
	}
	return c.judged(fact.Checked{Scale: sc.Name, What: CheckMass, Mass: mass, Shown: []protocol.Mass{shown}, Step: sc.Step, Raw: []string{"typed " + r.Shown}})
}

// hear takes a scale's update into the run that is under way on it. It gives the fact of
// a run that is complete with who asked for it, and reports whether the view changed.
func (c *checker) hear(u *scale.Update, p *pan.Pan, weighs bool) (by string, body fact.Body, changed bool) {
	run := c.runs[u.Scale]
	if run == nil {
		return "", nil, false
	}
	if weighs {
		c.end(u.Scale, text.New("gauge.ended-by-batch"))
		return "", nil, true
	}
	changed = run.placer.Add(*u)
	err := run.placer.Err()
	if err == nil && !run.placer.Done() {
		return "", nil, changed
	}
	if err == nil {
		body, err = c.found(p, run)
	}
	c.end(u.Scale, text.Message{})
	if err != nil {
		c.said[u.Scale] = text.Of(err)
	}
	return run.by, body, changed
}

// found is the fact of a run whose placings are all there.
func (c *checker) found(p *pan.Pan, run *checkRun) (fact.Body, error) {
	var nets []protocol.Mass
	var zeros, shown []string
	for _, g := range run.placer.Got {
		nets = append(nets, g.Net())
		zeros, shown = append(zeros, pan.Printable(g.Raw[0])), append(shown, pan.Printable(g.Raw[1]))
	}
	raw, id := append(zeros, shown...), p.Instrument().ID
	if run.what != CheckRepeat {
		return c.judged(fact.Checked{Scale: p.Name(), Port: id.Port, Identity: id.USB, What: run.what, Mass: run.placer.Mass, Shown: nets, Step: run.placer.Step, Raw: raw})
	}
	f, err := repeatability(run.placer.Mass, run.placer.Step, nets)
	if err != nil {
		return nil, err
	}
	f.Scale, f.Port, f.Identity, f.Raw = p.Name(), id.Port, id.USB, raw
	return f, nil
}

func (c *checker) judged(f fact.Checked) (fact.Body, error) {
	rule := c.rules[f.Scale]
	f.Class = rule.Class.String()
	if rule.Class != scale.NoClass {
		f.Interval = cmp.Or(rule.Interval, f.Step)
	}
	r, err := scale.Check{Nominal: f.Mass, Shown: f.Shown[0], Step: f.Step, Class: rule.Class, Interval: rule.Interval}.Run()
	if err != nil {
		return nil, err
	}
	f.Deviation, f.Allowed, f.Pass = r.Deviation, r.Allowed, r.Pass
	if f.What == CheckEdges {
		if f.Deviation, _, f.Pass, err = (scale.Eccentricity{Load: f.Mass, Centre: f.Shown[0], Edges: f.Shown[1:], Allowed: r.Allowed}).Run(); err != nil {
			return nil, err
		}
	}
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
	if f.LeastUSP, err = sheet.LeastByRepeatability(step, f.Spread, shareUSP); err != nil {
		return f, err
	}
	s := doubt.Scale{Step: step, Spread: f.Spread, Measured: true, Gauge: doubt.Gauge{Placings: uint64(len(nets))}}
	if f.LeastBase, err = sheet.LeastByUncertainty(s, shareBase); err != nil {
		return f, err
	}
	f.LeastAddition, err = sheet.LeastByUncertainty(s, shareAddition)
	return f, err
}

// show adds to a view what is known of the scales themselves, and says at the
// bench, between two batches and with the reminder, that a check is due. known gives the
// scales with the spread that the sheet uses.
func (c *checker) show(v *View, uses func(scale string) bool, known func() []sheet.Scale) {
	if c.shownAt.IsZero() || v.At.Sub(c.shownAt).Abs() >= time.Minute {
		c.shownAt, c.shown = v.At, map[string]checkShown{}
		for _, s := range c.scales {
			c.shown[s.Name] = checkShown{c.view(s.Name, v.At, known), c.due(s.Name, v.At)}
		}
	}
	for i := range v.Scales {
		v.Scales[i].Check = c.shown[v.Scales[i].Name].view
	}
	for _, s := range c.scales {
		// Not among the lines of the reminder, which are recorded as answered.
		if v.Now.State != "idle" && v.Now.State != "finished" && !(v.Now.State == "reminder" && v.Asked != nil && uses(s.Name)) {
			continue
		}
		if due := c.shown[s.Name].due; !due.None() {
			v.Now.Detail = append(v.Now.Detail, due)
		}
	}
}

// checkShown is what a view says of the check of one scale. A line of the scale changes
// none of it.
type checkShown struct {
	view *CheckView
	due  text.Message
}

// due says what there is against using a scale, if anything.
func (c *checker) due(name string, now time.Time) text.Message {
	switch c.state(name, now) {
	case "never":
		if !slices.ContainsFunc(c.scales, func(s sheet.Scale) bool { return s.Name == name && s.Class != "" }) {
			return text.New("check.never-span", text.Name("scale", name))
		}
		return text.New("check.never", text.Name("scale", name))
	case "overdue":
		return text.New("check.overdue", text.Name("scale", name), text.Date("last", (*c.gauges)[name].checked.At))
	case "failed":
		return text.New("check.failed", text.Name("scale", name))
	}
	return text.Message{}
}

func (c *checker) state(name string, now time.Time) string {
	last := (*c.gauges)[name].checked
	f, ok := last.Body.(fact.Checked)
	every := cmp.Or(c.rules[name].Every, DefaultCheckEvery)
	if c.simulated && c.rules[name].Every == 0 {
		every = -1 // nobody has a weight for it
	}
	switch {
	case ok && !f.Pass:
		return "failed"
	case ok && (every < 0 || !overdue(last.At, now, every)):
		return "passed"
	case every < 0:
		return ""
	case !ok:
		return "never"
	}
	return "overdue"
}

// overdue reports whether a check no longer counts. Whole days are counted by the
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

func (c *checker) view(name string, now time.Time, known func() []sheet.Scale) *CheckView {
	rule, g := c.rules[name], (*c.gauges)[name]
	v := &CheckView{Limits: text.New("gauge.two-steps"), State: c.state(name, now), Said: c.said[name]}
	if rule.Class != scale.NoClass {
		v.Limits = text.New("gauge.class", text.Name("class", rule.Class.String()))
	}
	if rule.Weight > 0 {
		v.Weight = rule.Weight.String()
	}
	if g.checked.Body != nil {
		v.Words, v.At, v.By = text.Together(say.Messages(g.checked)...), &g.checked.At, g.checked.By
	}
	if f, ok := g.repeat.Body.(fact.Repeatability); ok {
		v.Spread = text.Together(say.Messages(g.repeat)...)
		v.Used = slices.ContainsFunc(known(), func(s sheet.Scale) bool { return s.Name == name && s.Placings > 0 && s.Spread == f.Spread })
	}
	if run := c.runs[name]; run != nil {
		p := &run.placer
		v.Doing, v.Want = text.Written(p.Words()), p.Want
		if k := len(p.Got); run.what == CheckEdges && k < len(edgePlaces) && p.Err() == nil {
			v.Doing = text.Together(v.Doing, text.New("gauge.next", text.Said("place", edgePlaces[k])))
		}
		for _, x := range p.Got {
			v.Seen = append(v.Seen, x.Net().Grams(p.Step.Places()))
		}
	}
	return v
}

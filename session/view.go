package session

import (
	"cmp"
	"math/big"
	"slices"
	"strings"
	"time"
	"unicode"
	"unicode/utf8"

	"tared/protocol"
	"tared/scale"
	"tared/scale/pan"
	"tared/session/batch"
	"tared/session/doubt"
	"tared/session/fact"
	"tared/session/guide"
	"tared/session/material"
	"tared/session/question"
	"tared/session/sheet"
	"tared/session/text"
)

func places(step protocol.Mass) int { return step.Places() }

func (s *State) simulated() bool { return s.Batch != nil && s.Batch.Plan.Simulated }

// View makes what a watcher may show of this state.
func (s *State) View() *View {
	v := &View{At: s.Now, Recording: Recording{OK: true}, Said: s.said, Simulated: s.simulated()}
	v.Now.State, v.Now.Since, v.Now.Portions = s.state(), s.since, 1
	if v.Now.State == "blind" {
		v.Now.Blind = s.blindness()
	}
	if s.Batch != nil {
		v.Batch = kept(s, batchShelf, s.Batch, s.batchView)
	}
	v.Scales = make([]ScaleView, 0, len(s.Pans))
	for i := range s.Pans {
		v.Scales = append(v.Scales, scaleView(&s.Pans[i]))
	}
	if s.open() {
		s.nowView(&v.Now)
	} else if s.Batch == nil {
		v.Now.tell("", text.New("bench.idle"), text.New("bench.idle-more"))
	} else {
		s.finishedView(&v.Now)
	}
	v.Asked = s.askedView()
	v.Keys = s.keys(v)
	v.measured(s.Batch)
	v.Learnt = kept(s, learntShelf, s.Learnt, learntView)
	return v
}

func (s *State) batchView(b *batch.Batch) *BatchView {
	u := fact.Doubt(b.Lines)
	bv := &BatchView{Mark: b.Mark, Title: b.Title, Base: b.Base.Rounded(b.Base.Size(u)), Dry: b.Dry.Rounded(b.Dry.Size(u)), By: b.By, Early: b.Early, Left: b.Leaves(),
		Steps: make([]StepView, len(b.Steps))}
	cur := b.Current()
	for i, st := range b.Steps {
		n := places(b.Scale(st.Scale).Step)
		sv := StepView{Material: st.Material, As: st.As, Role: st.Role, Scale: st.Scale, State: "waiting",
			Target: b.Shown(st.Target, st), Unit: shownIn(b.Scale(st.Scale), nil), Delivered: st.Delivered.Grams(n)}
		if u := protocol.Unit(sv.Unit); u != protocol.UnitGram {
			sv.Delivered = st.Delivered.In(u, b.Scale(st.Scale).Step)
		}
		switch {
		case st.Skipped:
			sv.State = "skipped"
		case st.Done():
			sv.State = "done"
		}
		if i == cur {
			sv.State = "now"
		}
		if st.Portions > 0 {
			sv.Verdict = b.StepVerdict(st)
		}
		if sv.State == "done" {
			bv.Done++
		}
		bv.Steps[i] = sv.shown()
	}
	return bv
}

func (s *State) nowView(n *NowView) {
	b := s.Batch
	i, p := s.current()
	if i < 0 {
		return
	}
	st := b.Steps[i]
	a := s.aim(i)
	if st.Over() || b.Unconfirmed() >= 0 {
		a = Aim{guide.Aim{Target: st.Target, Low: st.Low, High: st.High}, st.Portions, st.Portions, 0} // what it should have been
	}
	step := b.Scale(st.Scale).Step
	if p != nil && p.Step() > 0 {
		step = p.Step()
	}
	d := places(step)
	unit := protocol.Unit(shownIn(b.Scale(st.Scale), p))
	is := kept(s, weighingShelf, weighing{i, a, step, unit, p == nil}, s.weighs)
	is.State, is.Since, is.Blind = n.State, n.Since, n.Blind
	*n = is
	shows := func(m protocol.Mass) string { return shownAs(m, unit, step) }
	in, known := protocol.Mass(0), false
	if p != nil && s.blindness() == "" && p.On() == pan.Container && !p.Vessel().Untared && p.Live(s.Now) && p.Line().Status != protocol.Overload {
		in, known = p.Content(), true
		n.In, n.Missing, n.Fill = shows(in), missing(a.Target-in, in < a.Low, unit, step), fill(in, a.Target)
		n.Settled = p.AtRest()
	}
	if p != nil && p.On() == pan.Lifted && p.Lift().Sure {
		n.Lifted = shows(p.LiftedContent())
		n.Missing = missing(a.Target-p.LiftedContent(), false, unit, step)
	}
	if tell := instructions[n.State]; tell != nil {
		tell(&moment{s, st, a, p, in, known, d}, n)
	}
	s.strayWords(n, i, p)
	if p != nil && p.Instrument().Print {
		printWords(n, p)
	}
}

// weighing is one that a view shows, and whether it is read by eye.
type weighing struct {
	step int
	aim  Aim
	of   protocol.Mass // the step of the scale
	unit protocol.Unit
	eye  bool
}

// weighs is what does not change in it while powder runs.
func (s *State) weighs(w weighing) (n NowView) {
	st, a := s.Batch.Steps[w.step], w.aim
	n.Material, n.As, n.Role, n.Scale, n.Eye = st.Material, st.As, st.Role, st.Scale, w.eye
	n.Portion, n.Portions, n.Unit = a.Part, a.Parts, string(w.unit)
	allowed := s.Batch.StepAllowed(st)
	shown := func(m, within protocol.Mass) string { return m.ToWeigh(w.unit, w.of, within) }
	low, high := sheet.Marks(a.Low, a.High, w.of, a.Target, allowed)
	n.Target, n.Low, n.High, n.Step = shown(a.Target, allowed), shown(low, allowed/20), shown(high, allowed/20), shownAs(w.of, w.unit, w.of)
	n.Fill, n.LowFill, n.HighFill = -1, fill(a.Low, a.Target), fill(a.High, a.Target)
	n.Next = s.after(w.step)
	n.scale = n.barOf()
	return n
}

// shownAs writes a mass as a scale of that unit and step shows it.
func shownAs(m protocol.Mass, unit protocol.Unit, step protocol.Mass) string {
	if unit == protocol.UnitGram {
		return m.Grams(step.Places())
	}
	return m.In(unit, step)
}

// after is what is weighed next, behind a step; nil: nothing.
func (s *State) after(i int) *NextView {
	for _, x := range s.Batch.Steps[i+1:] {
		if !x.Done() {
			left, _, _ := x.Left()
			return &NextView{Material: x.Name(), Target: s.Batch.Shown(left, x), Unit: shownIn(s.Batch.Scale(x.Scale), nil), Scale: x.Scale, Role: x.Role}
		}
	}
	return nil
}

// missing writes what is still to go in; under the band it is never nothing, be it less than
// a step.
func missing(m protocol.Mass, under bool, unit protocol.Unit, step protocol.Mass) string {
	switch places := step.Places(); {
	case unit != protocol.UnitGram:
		for under && m > 0 && step > 1 && strings.Trim(m.In(unit, step), "0.") == "" {
			step /= 10
		}
		return m.In(unit, step)
	case under:
		return m.Rounded(protocol.Apart(m, 0, places))
	default:
		return m.Rounded(places)
	}
}

// shownIn is the unit of what is told of a scale: that of its display where it is heard, else
// that of the plan. Grams stand for milligrams and kilograms of a display.
func shownIn(s fact.Scale, p *pan.Pan) string {
	u := s.Unit
	if p != nil && p.Line().Unit.IsMass() {
		switch shows := p.Line().Unit; shows {
		case protocol.UnitGram, protocol.UnitKilogram, protocol.UnitMilligram:
			if u != protocol.UnitKilogram && u != protocol.UnitMilligram {
				u = protocol.UnitGram
			}
		default:
			u = shows
		}
	}
	return string(cmp.Or(u, protocol.UnitGram))
}

// measured puts what a view says in words into the unit in which the scale in work shows, or
// the last one of the batch did.
func (v *View) measured(b *batch.Batch) {
	n := &v.Now
	u, step := protocol.Unit(n.Unit), protocol.Mass(0)
	if n.Unit == "" && b != nil && len(b.Steps) > 0 {
		last := b.Scale(b.Steps[len(b.Steps)-1].Scale)
		u, step = last.Unit, last.Step
	}
	if u == protocol.UnitNone || u == protocol.UnitGram {
		return
	}
	if n.Unit != "" {
		step = massOf(n.Step, n.Unit)
	}
	all := func(says []text.Message) []text.Message {
		says = slices.Clone(says)
		for i := range says {
			says[i] = says[i].Measured(u, step)
		}
		return says
	}
	n.Headline, n.Detail = n.Headline.Measured(u, step), all(n.Detail)
	if a := v.Asked; a != nil {
		a.Says, a.Lines = a.Says.Measured(u, step), all(a.Lines)
		for i := range a.Answers {
			a.Answers[i].Label = a.Answers[i].Label.Measured(u, step)
		}
	}
	v.Said = slices.Clone(v.Said)
	for i := range v.Said {
		v.Said[i].Says = v.Said[i].Says.Measured(u, step)
	}
}

func fill(m, target protocol.Mass) int {
	if target <= 0 {
		return 0
	}
	return int(max(-barFull, min(m.Times(barFull, target), 4*barFull)))
}

// longMoving is how long a scale may take to settle until a person is told why nothing
// goes on (ours; the slowest balances take some five seconds).
const longMoving = 10 * time.Second

// instructions say, for the eye and the ear, what to do in each state.
var instructions = map[string]func(*moment, *NowView){
	"paused": func(m *moment, n *NowView) {
		n.tell("", text.New("bench.paused"), text.New("bench.paused-more", text.Name("material", m.what())))
	},
	"reminder": func(_ *moment, n *NowView) {
		n.tell("ask", text.New("bench.reminder"), text.New("bench.reminder-more"))
	},
	"decide": func(m *moment, n *NowView) {
		if q := m.s.question(); q != nil {
			n.tell("ask", q.Head(q), text.New("bench.choices-below"))
		}
	},
	"blind":     (*moment).blind,
	"lost":      (*moment).lost,
	"container": (*moment).container,
	"lifted":    (*moment).lifted,
	"pour":      (*moment).pour,
	"settle": func(m *moment, n *NowView) {
		n.tell("", text.New("bench.wait"), text.New("bench.hands-off"))
		if m.s.Now.Sub(m.s.since) > longMoving {
			n.Detail = append(n.Detail, text.New("bench.moving-long", text.Name("scale", m.st.Scale)))
		}
		if m.in > m.aim.High || m.s.cue == guide.StopNow {
			n.Cue = "stop"
		}
		if n.Cue == "stop" || m.s.told.Cue == guide.StopNow {
			n.Headline, n.Deed = text.New("bench.stop"), "stop"
		}
	},
	"in": func(m *moment, n *NowView) {
		n.tell("in", text.New("bench.good"), text.New("bench.good-more", key("done")))
		if c := m.p.Vessel().Clung; c > 0 && m.in <= c+m.p.Step() {
			n.Detail = []text.Message{text.New("bench.knock-out", text.Mass("amount", m.in, m.d))}
		}
		m.cannotTell(n)
	},
	"over": (*moment).over,
}

// moment is what the instructions look at.
type moment struct {
	s     *State
	st    batch.Step
	aim   Aim
	p     *pan.Pan // nil: read by eye
	in    protocol.Mass
	known bool // what is in
	d     int  // places of the scale
}

// cannotTell says so where a scale that leaves so much open would leave the verdict open.
func (m *moment) cannotTell(n *NowView) {
	b, st := m.s.Batch, m.st
	if m.p == nil || m.aim.Part < m.aim.Parts {
		return // what is one of several is judged when all are in
	}
	st.Delivered += m.in
	d := question.Weighs(b, m.p)
	st.U2, st.On = new(big.Int).Add(st.U2, doubt.AddSquare(nil, d.U(m.in))), nil
	if n.Cannot = b.StepVerdict(st) == string(doubt.Cannot); !n.Cannot {
		return
	}
	n.Headline = text.New("bench.cannot")
	u, allowed := st.DeliveredU().Against(b.StepAllowed(m.st))
	n.Detail = append(n.Detail, text.New("bench.cannot-more", text.Exact("target", m.st.Target, m.d), text.Grams("allowed", allowed), text.Grams("u", u)))
}

func (m *moment) what() string { return m.st.Name() }
func (m *moment) silent() bool { return m.p != nil && !m.p.Live(m.s.Now) }
func (m *moment) noReading() text.Message {
	return text.New("bench.no-reading", text.Name("scale", m.st.Scale))
}

func (m *moment) lost(n *NowView) {
	switch p := m.p; {
	case p == nil || p.Instrument().Link == scale.Lost:
		n.tell("lost", text.New("bench.lost", text.Name("scale", m.st.Scale)), text.New("bench.lost-more"))
		if p != nil && p.Instrument().Why != "" {
			n.Detail = append(n.Detail, text.Written(sentence(p.Instrument().Why)))
		}
	case m.silent():
		n.tell("lost", m.noReading(), text.New("bench.silent-more"))
	case p.ZeroLost():
		n.Deed = "take-off"
		n.tell("lost", text.New("bench.check-tare"), text.New("bench.check-key-more", text.Name("scale", m.st.Scale)))
	default:
		n.Deed = "take-off"
		n.tell("lost", text.New("bench.check-tare"), text.New("bench.check-tare-more", text.Name("scale", m.st.Scale)))
	}
}

func (m *moment) blind(n *NowView) {
	p := m.s.other()
	if m.s.blind == notRecording || p == nil {
		n.tell("lost", text.New("bench.blind"), text.New("bench.blind-more"))
		return
	}
	o := p.Other()
	n.tell("lost", text.New("bench.other", text.Name("scale", p.Name())), text.New("bench.other-shows", text.Name("shows", o.Shown.String()+" "+string(o.Unit))),
		text.New("bench.other-more", text.Name("scale", p.Name()), key("same")))
}

func (m *moment) container(n *NowView) {
	n.tell("", text.New("bench.container", text.Name("scale", m.st.Scale)), text.New("bench.tared-once-steady"))
	switch p := m.p; {
	case m.silent():
		n.Deed = "unread"
		n.Detail = append([]text.Message{text.New("bench.no-reading-from", text.Name("scale", m.st.Scale))}, silent(p)...)
	case p != nil && p.Gross() >= p.Steps(pan.LeastContainer):
		n.Deed = "wait"
		n.tell("", text.New("bench.not-yet"), text.New("bench.container-settling"))
	}
}

func (m *moment) lifted(n *NowView) {
	switch p := m.p; {
	case p != nil && !p.Lift().Sure:
		n.tell("ask", text.New("bench.too-soon"), text.New("bench.too-soon-more"))
	case p != nil && batch.Beyond(p.LiftedContent(), m.aim.High, m.st.Grain):
		n.tell("over", text.New("bench.too-much"), text.New("bench.too-much-more", text.Mass("excess", p.LiftedContent()-m.aim.Target, m.d)))
	default:
		n.tell("taken", tipInto(m.s.Batch, m.st), text.New("bench.then-back", text.Name("scale", m.st.Scale)))
	}
}

func (m *moment) pour(n *NowView) {
	switch {
	case m.p == nil:
		n.tell("", text.New("bench.by-eye", text.Mass("amount", m.aim.Target, m.aim.Target.PlacesTo(m.s.Batch.StepAllowed(m.st), m.d)), text.Name("material", m.what()), text.Name("scale", m.st.Scale)), text.New("bench.by-eye-more"))
		return
	case !m.known:
		n.tell("", m.noReading(), silent(m.p)...)
		return
	}
	n.tell(string(m.s.cue), text.New("bench.pour", text.Name("material", m.what())), text.New("bench.pour-more"))
	if m.st.IsWater() {
		n.Detail = []text.Message{text.New("bench.pour-water")}
	}
	if c := m.aim.Clings; c >= m.p.Step() {
		n.Detail = append(n.Detail, text.New("bench.clings", text.Mass("amount", c, m.d)))
	}
	switch {
	case m.s.told.Cue == guide.StopNow:
		n.Deed, n.Headline, n.Detail = "stop", text.New("bench.stop"), []text.Message{text.New("bench.stop-more")}
	case m.s.told.Cue == guide.Ease:
		n.Deed, n.Headline, n.Detail = "ease", text.New("bench.ease"), []text.Message{text.New("bench.ease-more")}
	case m.st.Portions > 0 && m.st.Delivered > 0:
		n.Headline = text.New("bench.pour-rest", text.Name("material", m.what()))
	}
}

func (m *moment) over(n *NowView) {
	if m.p != nil && m.p.Line().Status == protocol.Overload {
		n.Deed = "take-off"
		n.tell("over", text.New("bench.too-heavy", text.Name("scale", m.st.Scale)), text.New("bench.too-heavy-more"))
		return
	}
	how := text.New("bench.spoon-out")
	if m.st.Role == "strong" {
		how = text.New("bench.spoon-strong")
	} else if m.st.IsWater() {
		how = text.New("bench.pour-off")
	}
	n.tell("over", text.New("bench.take-out", text.Mass("excess", m.in-m.aim.Target, m.d)), how)
}

// tipInto tells a person with a full hand where the step goes.
func tipInto(b *batch.Batch, st batch.Step) text.Message {
	switch s := b.Plan.Series; {
	case st.InCup():
		return text.New("bench.tip-mixing-cup")
	case s.Cups == 0:
		return text.New("bench.tip-bucket")
	case s.Cup == 0:
		return text.New("bench.tip-tub")
	default:
		return text.New("bench.tip-cup", text.Name("cup", batch.CupMark(s.Of, s.Cup)))
	}
}

func silent(p *pan.Pan) []text.Message {
	if p.Instrument().Why != "" {
		return []text.Message{text.Written(sentence(p.Instrument().Why))}
	}
	return []text.Message{text.New("bench.silent-for-two-seconds")}
}

// sentence makes one of what an error says, for it stands behind another.
func sentence(why string) string {
	r, n := utf8.DecodeRuneInString(why)
	if n == 0 {
		return why
	}
	return string(unicode.ToUpper(r)) + strings.TrimSuffix(why[n:], ".") + "."
}

func (s *State) finishedView(n *NowView) {
	b := s.Batch
	n.Headline = text.New("bench.batch-complete", text.Name("batch", b.Mark))
	switch r := b.Plan.Series; {
	case b.Early:
		n.Headline = text.New("bench.batch-closed-early", text.Name("batch", b.Mark))
	case r.Of != "" && r.Cup == r.Cups:
		n.Headline = text.New("bench.series-complete", text.Name("series", r.Of))
	}
	n.Detail = append(n.Detail, material.Closing()...)
	if b.Wet() {
		n.Detail = append(n.Detail, text.New("bench.let-it-stand"))
	}
}

func (s *State) askedView() *AskedView {
	if !s.open() || s.blindness() != "" {
		return nil
	}
	q := s.question()
	switch {
	case q == nil:
		return nil
	case q.When == nil: // what it says moves with the pan
		return askedView(q)
	}
	return kept(s, askedShelf, q.Question, func(*question.Question) *AskedView { return askedView(q) })
}

func askedView(q *question.Scene) *AskedView {
	v := &AskedView{Question: q.Key}
	v.Says, v.Lines = q.Ask(q)
	for _, a := range q.Choices() {
		v.Answers = append(v.Answers, AnswerView{a.Word, a.Label(q), a.Needs})
	}
	return v
}

func scaleView(p *pan.Pan) ScaleView {
	v := ScaleView{Name: p.Name(), Port: p.Instrument().ID.Port, USB: p.Instrument().ID.USB, Format: p.Instrument().ID.Format, Line: p.Instrument().ID.Line, Link: p.Instrument().Link.String(), Why: p.Instrument().Why,
		Unit: string(p.Line().Unit), Status: p.Line().Status.String(), Settled: p.Settled(), Raw: p.Raw(), At: p.Line().At,
		Print: p.Instrument().Print, Frames: p.Instrument().Counts.Frames, Damaged: p.Instrument().Counts.Damaged, Foreign: p.Instrument().Counts.Foreign}
	if p.Usable() && p.Instrument().Link == scale.Up {
		v.Shows = p.Line().Shown.String()
	}
	if p.Step() > 0 {
		v.Step = p.Step().Grams(0)
	}
	if p.Max() > 0 {
		v.Max = p.Max().Grams(0)
	}
	if p.LagKnown() {
		v.Lag = secondsWords(p.Lag())
	}
	switch p.On() {
	case pan.Empty:
		v.On, v.Pan = "empty", text.New("scale.pan-empty")
	case pan.Container:
		v.On, v.Pan = "container", text.New("scale.pan-container", text.Exact("weight", p.Vessel().Weight, places(p.Step())))
	case pan.Lifted:
		v.On, v.Pan = "lifted", text.New("scale.pan-lifted")
	case pan.Unknown:
		v.On, v.Pan = "unknown", text.New("scale.pan-unknown")
	}
	return v
}

// strayWords tell of a container on a scale out of turn, while nothing is asked.
func (s *State) strayWords(n *NowView, i int, q *pan.Pan) {
	if n.State != "container" && n.State != "pour" {
		return
	}
	for k := range s.Pans {
		p := &s.Pans[k]
		if p == q || p.On() != pan.Container || p.Instrument().Print || !p.Live(s.Now) {
			continue
		}
		if p.Gained() < p.Steps(strayLeast) && !p.Vessel().Slow && !(n.State == "container" && p.Vessel().Untared && q != nil && q.Gross() < q.Steps(pan.LeastContainer)) {
			continue
		}
		s.elsewhere(n, i, p)
	}
}

func (s *State) elsewhere(n *NowView, i int, p *pan.Pan) {
	what, on, other := s.Batch.Steps[i].Name(), n.Scale, p.Name()
	powder := p.Gained() >= p.Steps(strayLeast)
	_, why := question.Fits(s.Batch, i, p)
	later := s.Batch.NextOn(i, other)
	switch {
	case powder && !why.None() && later < 0:
		n.tell("ask", text.New("bench.not-there", text.Name("scale", other)), text.New("bench.belongs-on", text.Name("material", what), text.Name("scale", on)), why, text.New("bench.not-counted"))
	case p.Vessel().Slow:
		n.Detail = []text.Message{text.New("bench.poured-too-soon", text.Name("other", other)), text.New("bench.belongs-on", text.Name("material", what), text.Name("scale", on))}
	case powder && p.Settled():
		n.Detail = []text.Message{text.New("bench.added-elsewhere", text.Exact("amount", p.Gained(), p.Step().Places()), text.Name("other", other)), text.New("bench.pour-on-there", text.Name("material", what))}
	case powder:
	case !why.None():
		n.Detail = []text.Message{text.New("bench.stands-elsewhere", text.Name("other", other)), why}
	case later >= 0:
		n.Detail = []text.Message{text.New("bench.tared-once-steady"), text.New("bench.waits-for", text.Name("other", other), text.Name("material", s.Batch.Steps[later].Name()))}
	default:
		n.Detail = []text.Message{text.New("bench.stands-elsewhere", text.Name("other", other)), text.New("bench.good-for-it")}
	}
}

// learntView lists what was learnt of people, and of how materials cling, by name.
func learntView(l guide.Learnt) (all []LearntView) {
	for _, by := range l.Names() {
		all = append(all, LearntView{by, text.New("show.reacts", text.Name("time", secondsWords(l.Of(by).Reaction)))})
	}
	for _, c := range l.Clings() {
		all = append(all, LearntView{c.Material, text.New("show.clings", text.Mass("amount", c.Amount, 2), text.Mass("container", c.Vessel, 0))})
	}
	return all
}

package session

import (
	"fmt"
	"math"
	"strings"
	"unicode"
	"unicode/utf8"

	"tared/protocol"
	"tared/scale"
	"tared/scale/pan"
	"tared/session/batch"
	"tared/session/guide"
	"tared/session/sheet"
	"tared/session/text"
)

// barFull is the target on the bar of a view, in its own thousandths.
const barFull = 1000

func places(step protocol.Mass) int { return step.Places() }

// name gives what goes in under this step.
func name(st batch.Step) string {
	if st.As != "" {
		return st.As
	}
	return st.Material
}

func (s *State) simulated() bool { return s.Batch != nil && s.Batch.Plan.Simulated }

// View makes what a watcher may show of this state.
func (s State) View() View {
	v := View{At: s.Now, Recording: Recording{OK: true}, Said: s.said, Simulated: s.simulated()}
	if s.told == nil || s.told.of != s.Batch {
		s.told = s.told.anew(s.Batch)
	}
	v.Now.State, v.Now.Since, v.Now.Portions = s.state(), s.since, 1
	if s.Batch != nil {
		v.Batch = kept(&s.told.batch, s.batchView)
	}
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
	v.Keys = s.keys(&v)
	v.Learnt = s.learntView()
	return v
}

func (s *State) batchView() *BatchView {
	b := s.Batch
	bv := &BatchView{Mark: b.Mark, Title: b.Title, Base: b.Base.Rounded(1), Dry: b.Dry.Rounded(1), By: b.By, Early: b.Early,
		Steps: make([]StepView, len(b.Steps))}
	cur := b.Current()
	for i, st := range b.Steps {
		n := places(b.Scale(st.Scale).Step)
		sv := StepView{Material: st.Material, As: st.As, Role: st.Role, Scale: st.Scale, State: "waiting",
			Target: st.Target.Rounded(n), Delivered: st.Delivered.Grams(n)}
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
			sv.Verdict = st.Verdict()
		}
		if sv.State == "done" {
			bv.Done++
		}
		bv.Steps[i] = sv.shown()
	}
	return bv
}

// nowView fills in what is to be done.
func (s *State) nowView(n *NowView) {
	b := s.Batch
	i, p := s.current()
	if i < 0 {
		return
	}
	st := b.Steps[i]
	a := s.aim(i)
	if st.Over() {
		a = Aim{guide.Aim{Target: st.Target, Low: st.Low, High: st.High}, st.Portions, st.Portions} // what it should have been
	}
	step := b.Scale(st.Scale).Step
	if p != nil && p.Step() > 0 {
		step = p.Step()
	}
	d := places(step)
	n.Material, n.As, n.Role, n.Scale, n.Eye = st.Material, st.As, st.Role, st.Scale, p == nil
	n.Portion, n.Portions = a.Part, a.Parts
	low, high := sheet.Marks(a.Low, a.High, step)
	n.Target, n.Low, n.High, n.Step = a.Target.Rounded(d), low.Rounded(d), high.Rounded(d), step.Grams(d)
	n.Fill, n.LowFill, n.HighFill = -1, fill(a.Low, a.Target), fill(a.High, a.Target)
	for _, x := range b.Steps[i+1:] {
		if !x.Done() {
			left, _, _ := x.Left()
			n.Next = &NextView{Material: name(x), Target: left.Rounded(places(b.Scale(x.Scale).Step)), Scale: x.Scale, Role: x.Role}
			break
		}
	}
	in, known := protocol.Mass(0), false
	if p != nil && p.On() == pan.Container && !p.Untared() && p.Live(s.Now) {
		in, known = p.Content(), true
		n.In, n.Missing, n.Fill = in.Grams(d), (a.Target - in).Rounded(d), fill(in, a.Target)
		n.Settled = p.AtRest()
	}
	if p != nil && p.On() == pan.Lifted && p.Sure() {
		n.Lifted = (p.Before() - p.Base()).Grams(d)
	}
	if tell := instructions[n.State]; tell != nil {
		tell(&moment{s, st, a, p, in, known, d}, n)
	}
	s.strayWords(n, i, p)
	if p != nil && p.Print() {
		printWords(n, p)
	}
}

func fill(m, target protocol.Mass) int {
	if target <= 0 {
		return 0
	}
	if m.Abs() > target*4 || m.Abs() > math.MaxInt64/barFull {
		return map[bool]int{true: 4 * barFull, false: -barFull}[m > 0]
	}
	return int(max(m*barFull/target, -barFull))
}

// instructions say, for the eye and the ear, what to do in each state.
var instructions = map[string]func(*moment, *NowView){
	"paused": func(m *moment, n *NowView) {
		n.tell("", text.New("bench.paused"), text.New("bench.paused-more", text.Name("material", m.what())))
	},
	"reminder": func(_ *moment, n *NowView) {
		n.tell("ask", text.New("bench.reminder"), text.New("bench.reminder-more"))
	},
	"decide":    func(m *moment, n *NowView) { n.tell("ask", m.s.decideWords(m.st), text.New("bench.choices-below")) },
	"lost":      (*moment).lost,
	"container": (*moment).container,
	"lifted":    (*moment).lifted,
	"pour":      (*moment).pour,
	"settle": func(m *moment, n *NowView) {
		n.tell("", text.New("bench.wait"), text.New("bench.hands-off"))
		if m.in > m.aim.High || m.s.cue == guide.StopNow {
			n.Headline, n.Cue = text.New("bench.stop"), "stop"
		}
	},
	"in":   func(_ *moment, n *NowView) { n.tell("in", text.New("bench.good"), text.New("bench.good-more")) },
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

// tell sets what is said.
func (n *NowView) tell(cue string, headline text.Message, detail ...text.Message) {
	n.Cue, n.Headline, n.Detail = cue, headline, detail
}

func (m *moment) what() string      { return name(m.st) }
func (m *moment) scale() text.Value { return text.Name("scale", m.st.Scale) }
func (m *moment) silent() bool      { return m.p != nil && !m.p.Live(m.s.Now) }
func (m *moment) noReading() text.Message {
	return text.New("bench.no-reading", text.Name("scale", m.st.Scale))
}

func (m *moment) lost(n *NowView) {
	switch p := m.p; {
	case p == nil || p.Link() == scale.Lost:
		n.tell("lost", text.New("bench.lost", text.Name("scale", m.st.Scale)), text.New("bench.lost-more"))
		if p != nil && p.Why() != "" {
			n.Detail = append(n.Detail, text.Written(sentence(p.Why())))
		}
	case m.silent():
		n.tell("lost", m.noReading(), text.New("bench.silent-more"))
	default:
		n.tell("lost", text.New("bench.check-tare"), text.New("bench.check-tare-more", text.Name("scale", m.st.Scale)))
	}
}

func (m *moment) container(n *NowView) {
	n.tell("", text.New("bench.container", text.Name("scale", m.st.Scale)), text.New("bench.tared-once-steady"))
	switch p := m.p; {
	case m.silent():
		n.Detail = append([]text.Message{text.New("bench.no-reading-from", text.Name("scale", m.st.Scale))}, silent(p)...)
	case p != nil && p.Gross() >= p.Steps(pan.LeastContainer):
		n.tell("", text.New("bench.not-yet"), text.New("bench.container-settling"))
	}
}

func (m *moment) lifted(n *NowView) {
	in := protocol.Mass(0)
	if m.p != nil {
		in = m.p.Before() - m.p.Base()
	}
	switch {
	case m.p != nil && !m.p.Sure():
		n.tell("ask", text.New("bench.too-soon"), text.New("bench.too-soon-more"))
	case in > m.aim.High:
		n.tell("over", text.New("bench.too-much"), text.New("bench.too-much-more", text.Mass("excess", in-m.aim.Target, m.d)))
	default:
		n.tell("taken", tipInto(m.s.Batch, m.st), text.New("bench.then-back", text.Name("scale", m.st.Scale)))
	}
}

func (m *moment) pour(n *NowView) {
	switch {
	case m.p == nil:
		n.tell("", text.New("bench.by-eye", text.Mass("amount", m.aim.Target, m.d), text.Name("material", m.what()), text.Name("scale", m.st.Scale)), text.New("bench.by-eye-more"))
		return
	case !m.known:
		n.tell("", m.noReading(), silent(m.p)...)
		return
	}
	n.tell(string(m.s.cue), text.New("bench.pour", text.Name("material", m.what())), text.New("bench.pour-more"))
	if m.st.IsWater() {
		n.Detail = []text.Message{text.New("bench.pour-water")}
	}
	switch {
	case n.Cue == "stop":
		n.Headline = text.New("bench.stop")
	case n.Cue == "ease":
		n.Headline = text.New("bench.ease")
	case m.st.Portions > 0 && m.st.Delivered > 0:
		n.Headline = text.New("bench.pour-rest", text.Name("material", m.what()))
	}
}

func (m *moment) over(n *NowView) {
	if m.p != nil && m.p.Status() == protocol.Overload {
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
	if p.Why() != "" {
		return []text.Message{text.Written(sentence(p.Why()))}
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

func (s *State) decideWords(st batch.Step) text.Message {
	switch {
	case st.Over():
		return text.New("bench.went-over", text.Name("material", name(st)))
	case s.asked.kind == "" && st.Part == batch.TakePart:
		if s.Batch.Mixes[st.Mix].From != "" {
			return text.New("bench.mix-tub")
		}
		return text.New("bench.mix-cup")
	}
	if m, ok := decideHeads[s.asked.kind]; ok {
		return m
	}
	return text.New("bench.same-container")
}

var decideHeads = map[string]text.Message{
	"gone":      text.New("bench.was-it-tipped"),
	"little":    text.New("bench.was-it-tipped"),
	"unsettled": text.New("bench.how-much"),
	"lighter":   text.New("bench.another-container"),
	"swapped":   text.New("bench.another-container"),
	"heavier":   text.New("bench.another-container"),
	"thing":     text.New("bench.what-left"),
	"crept":     text.New("bench.container-or-powder"),
	"which":     text.New("bench.what-is-it"),
	"early":     text.New("bench.what-is-it"),
	"strayed":   text.New("bench.did-it-go-in"),
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
	for _, w := range closingWords() {
		n.Detail = append(n.Detail, text.Written(w))
	}
	if b.Wet() {
		n.Detail = append(n.Detail, text.New("bench.let-it-stand"))
	}
}

// askedView gives the question that waits for a word, if any.
func (s *State) askedView() *AskedView {
	if !s.open() {
		return nil
	}
	b := s.Batch
	switch {
	case b.Paused:
		return &AskedView{Question: "paused", Says: text.Written("The batch is paused."), Answers: []AnswerView{{"resume", text.Written("go on"), ""}}}
	case !b.Reminded:
		return kept(&s.told.reminder, func() *AskedView {
			return &AskedView{Question: "reminder", Says: text.Written("Is the mask on and the ventilation running?"), Lines: written(reminderLines(b, s.Table)),
				Answers: []AnswerView{{"yes", text.Written("yes, both"), "name"}}}
		})
	}
	i, p := s.current()
	if i < 0 {
		return nil
	}
	st := b.Steps[i]
	if st.Over() {
		return kept(&s.told.over, func() *AskedView { return s.overView(st) })
	}
	if k := b.Unconfirmed(); k >= 0 {
		return confirmView(b, k)
	}
	q := s.asked
	if v := s.besideView(i); v != nil {
		return v
	}
	switch q.kind {
	case "tare":
		v := &AskedView{Question: "tare",
			Says: text.Written(fmt.Sprintf("After the gap the %s scale shows %s g with the container; before it was %s g.", q.scale, q.after.Grams(places(p.Step())), q.before.Grams(places(p.Step())))),
			Answers: []AnswerView{
				{"keep", text.Written("same container, scale not zeroed: count what it shows"), ""},
				{"again", text.Written("this is an empty container: tare it"), ""}}}
		if was := q.before - p.Base(); was > p.Steps(3) {
			v.Answers[1].Label = text.Written("this is an empty container, and nothing of the last pour went into the batch: tare it")
			v.Answers = append(v.Answers, AnswerView{"done", text.Written(fmt.Sprintf("this is an empty container, and the %s g of before went into the batch", was.Grams(places(p.Step())))), ""})
		}
		return v
	case "gone":
		return &AskedView{Question: "gone",
			Says: text.Written(fmt.Sprintf("%s g left the container while the scale could not be heard. Was it tipped into the batch?", (q.before - q.after).Grams(places(p.Step())))),
			Answers: []AnswerView{
				{"keep", text.Written("yes, it went into the batch"), ""},
				{"again", text.Written("no, it was taken out: count what is still in it"), ""}}}
	case "lighter":
		return &AskedView{Question: "lighter",
			Says: text.Written(fmt.Sprintf("This container is %s g lighter than the one that was tared. Was something in it, and was that tipped into the batch?", (q.before - q.after).Grams(places(p.Step())))),
			Answers: []AnswerView{
				{"again", text.Written("no, it is another container"), ""},
				{"keep", text.Written("yes, it went into the batch: count it"), ""}}}
	case "swapped":
		was := p.Base()
		if b.Lift != nil {
			was = b.Lift.Empty
		}
		return &AskedView{Question: "swapped",
			Says: text.Written(fmt.Sprintf("It came back %s g lighter than it was tared. Is it the same container?", (was - q.after).Grams(places(p.Step())))),
			Answers: []AnswerView{
				{"keep", text.Written("yes, and what was in it before went into the batch, too"), ""},
				{"again", text.Written("no, it is another, empty one"), ""}}}
	case "heavier":
		return &AskedView{Question: "heavier",
			Says: text.Written(fmt.Sprintf("It came back %s g heavier than it left. Is it the same container?", (q.after - q.before).Grams(places(p.Step())))),
			Answers: []AnswerView{
				{"keep", text.Written("yes, nothing was tipped and more was put in"), ""},
				{"again", text.Written("no, the first one was tipped; this is another, empty one"), ""}}}
	case "little":
		return &AskedView{Question: "little",
			Says: text.Written(fmt.Sprintf("%s g less came back than was lifted. Was that tipped into the batch?", (q.before - q.after).Grams(places(p.Step())))),
			Answers: []AnswerView{
				{"again", text.Written("no, nothing was: it stands off the centre, or a little was spilt"), ""},
				{"keep", text.Written("yes, that little was tipped"), ""}}}
	case "thing":
		return &AskedView{Question: "thing",
			Says: text.Written(fmt.Sprintf("%s g seemed to be left in the container, and left the pan without a lift. What was it?", q.before.Grams(places(p.Step())))),
			Answers: []AnswerView{
				{"again", text.Written("a spoon or the like that lay on the pan"), ""},
				{"keep", text.Written("powder: it was taken out of the container"), ""}}}
	case "crept":
		return &AskedView{Question: "crept",
			Says: text.Written(fmt.Sprintf("%s g came onto the %s scale little by little. Is it powder, in a container that was tared by the scale's own key?", q.after.Grams(places(p.Step())), q.scale)),
			Answers: []AnswerView{
				{"keep", text.Written("yes, it is powder: count it"), ""},
				{"again", text.Written("no, it is an empty container: tare it"), ""}}}
	case "unsettled":
		return &AskedView{Question: "unsettled",
			Says: text.Written(fmt.Sprintf("It was lifted before the scale had settled. About %s g left the container.", (q.before - q.after).Grams(places(p.Step())))),
			Answers: []AnswerView{
				{"keep", text.Written("it went into the batch: count that, marked as not settled"), ""},
				{"typed", text.Written("it went into the batch and I know the amount"), "mass"},
				{"again", text.Written("none of it went into the batch"), ""}}}
	}
	if b.Unmixed(i) {
		words, lines := mixWords(b, i)
		if b.Mixes[b.Steps[i].Mix].From != "" {
			return &AskedView{Question: "mix", Says: text.Written(words), Lines: written(lines), Answers: []AnswerView{{"yes", text.Written("yes, no streak shows"), ""}}}
		}
		return &AskedView{Question: "mix", Says: text.Written(words), Lines: written(lines),
			Answers: []AnswerView{{"yes", text.Written("yes, no streak shows"), ""}, {"skip", text.Written("leave it out: throw the cup away"), ""}}}
	}
	if p == nil {
		return &AskedView{Question: "typed", Says: text.Written(fmt.Sprintf("What does the %s scale show for %s?", st.Scale, name(st))),
			Answers: []AnswerView{{"typed", text.Written("this much went in"), "mass"}, {"skip", text.Written("leave it out"), ""}}}
	}
	return nil
}

// mixWords tell how a cup is mixed.
func mixWords(b *batch.Batch, i int) (question string, lines []string) {
	if m := b.Mixes[b.Steps[i].Mix]; m.From != "" {
		return "Mix the tub dry. Is it mixed?", []string{
			fmt.Sprintf("Then %d cups are filled from it, each a batch of its own: %s is the first.", b.Plan.Series.Cups, batch.CupMark(m.From, 1)),
			"Sieve it or shake it in a closed tub until no streak shows: what is uneven in the tub is uneven between the cups.",
		}
	}
	weigh, dilute, take := b.CupSteps(b.Steps[i].Mix)
	dw, dd, dt := places(b.Scale(weigh.Scale).Step), places(b.Scale(dilute.Scale).Step), places(b.Scale(take.Scale).Step)
	question = fmt.Sprintf("Mix %s g of %s into %s g of %s. Is it mixed?", weigh.Delivered.Grams(dw), b.MaterialOf(*weigh), dilute.Delivered.Grams(dd), b.MaterialOf(*dilute))
	there := weigh.Delivered
	adds := sheet.Geometric(weigh.Delivered, dilute.Delivered)
	if len(adds) > 1 {
		lines = append(lines, "Tip the carrier out of the cup and put it back little by little: each time about as much as is there already, and mix until no streak shows.")
	}
	for k, add := range adds {
		there += add
		lines = append(lines, fmt.Sprintf("%d: add about %s g and mix; that is %s g", k+1, add.Rounded(dd), there.Rounded(dd)))
	}
	lines = append(lines, fmt.Sprintf("Then %s g of the mixture go into the batch; they hold %s g of %s. The rest, about %s g, is waste: label it.",
		take.Target.Rounded(dt), b.LineOf(b.Mixes[take.Mix].Parts[0].Material).Target.Rounded(dw+1), b.MaterialOf(*weigh), (weigh.Delivered+dilute.Delivered-take.Target).Rounded(dt)))
	return question, lines
}

func (s *State) overView(st batch.Step) *AskedView {
	b := s.Batch
	d := places(b.Scale(st.Scale).Step)
	if st.IsWater() {
		return overWater(st, d)
	}
	q := &AskedView{Question: "overpour",
		Says: text.New("ask.over", text.Exact("amount", st.Delivered, d), text.Name("material", name(st)), text.Mass("target", st.Target, d))}
	if e, err := b.Enlarge(); err == nil {
		q.Answers = append(q.Answers, AnswerView{"enlarge", text.Written(fmt.Sprintf("enlarge to %s g of base, top the others up", e.Base.Rounded(1))), ""})
		for _, l := range e.Lines {
			if k := b.StepOf(l.Material); k >= 0 && b.Steps[k].Part == batch.NoPart && b.Steps[k].Delivered > 0 && b.Steps[k].Delivered < l.Low {
				q.Lines = append(q.Lines, text.Written(fmt.Sprintf("Enlarged: %s, %s g more", name(b.Steps[k]), (l.Target-b.Steps[k].Delivered).Rounded(places(b.Scale(l.Scale).Step)))))
			}
		}
	} else {
		q.Lines = append(q.Lines, text.Written(err.Error()+"."))
	}
	q.Lines = append(q.Lines, written(keptAs(b))...)
	q.Answers = append(q.Answers,
		AnswerView{"keep", text.New("ask.over-keep"), ""},
		AnswerView{"undo", text.New("ask.over-undo"), ""})
	once := AnswerView{"anew", text.Written("close it, begin once more"), ""}
	if b.Plan.Series.Cup == 0 {
		q.Answers = append(q.Answers, once)
		return q
	}
	words, _, err := s.cupAnew()
	if err == nil {
		once.Label = text.Written("close this cup, begin it once more")
		q.Answers = append(q.Answers, once)
		q.Lines = append(q.Lines, text.Written("Begun once more: "+words))
	} else {
		q.Lines = append(q.Lines, text.Written(err.Error()+"."))
	}
	return q
}

// written makes messages of sentences that are written already.
func written(lines []string) (all []text.Message) {
	for _, l := range lines {
		all = append(all, text.Written(l))
	}
	return all
}

func answerWords(v View) []string {
	var w []string
	if v.Asked != nil {
		for _, a := range v.Asked.Answers {
			w = append(w, a.Word)
		}
	}
	return w
}

// keys tells what the few keys and a foot pedal do now. Digits answer the
// question that stands; the pedal sends PageDown for the first answer and
// PageUp for the second.
func (s *State) keys(v *View) []KeyView {
	var k []KeyView
	if v.Asked != nil {
		for i, a := range v.Asked.Answers {
			if i < 2 {
				k = append(k, KeyView{[]string{"PageDown", "PageUp"}[i], a.Word, a.Label})
			}
			k = append(k, KeyView{fmt.Sprint(i + 1), a.Word, a.Label})
		}
	}
	another := KeyView{"b", "by", text.New("key.by")}
	if s.open() && s.Batch.Paused {
		return append(k, another)
	}
	if !s.open() || !s.Batch.Reminded {
		return k
	}
	i, p := s.current()
	deciding := s.asked.kind != "" || i >= 0 && (s.Batch.Steps[i].Over() || s.Batch.Waits(i))
	if p != nil && !deciding {
		k = append(k, KeyView{"d", "done", text.New("key.done")})
	}
	if len(s.Batch.Takes) > 0 {
		k = append(k, KeyView{"u", "undo", text.New("key.undo")})
	}
	if i >= 0 && !s.Batch.Steps[i].Over() {
		k = append(k, KeyView{"s", "skip", text.New("key.skip")})
	}
	k = append(k, KeyView{"p", "pause", text.New("key.pause")}, KeyView{"n", "note", text.New("key.note")})
	if p != nil && p.On() == pan.Empty && !deciding {
		k = append(k, another) // between two pours there is room for it
	}
	return k
}

// scaleView tells what the scales page shows of a pan.
func scaleView(p *pan.Pan) ScaleView {
	v := ScaleView{Name: p.Name(), Port: p.Identity().Port, USB: p.Identity().USB, Format: p.Identity().Format, Line: p.Identity().Line, Link: p.Link().String(), Why: p.Why(),
		Unit: string(p.Unit()), Status: p.Status().String(), Settled: p.Settled(), Raw: p.Raw(), At: p.At(),
		Print: p.Print(), Frames: p.Counts().Frames, Damaged: p.Counts().Damaged, Foreign: p.Counts().Foreign}
	if p.Usable() && p.Link() == scale.Up {
		v.Shows = p.Shown().String()
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
		v.On, v.Pan = "container", text.New("scale.pan-container", text.Exact("weight", p.Weight(), places(p.Step())))
	case pan.Lifted:
		v.On, v.Pan = "lifted", text.New("scale.pan-lifted")
	case pan.Unknown:
		v.On, v.Pan = "unknown", text.New("scale.pan-unknown")
	}
	return v
}

package session

import (
	"fmt"
	"math"
	"strings"
	"time"
	"unicode"
	"unicode/utf8"

	"tared/protocol"
	"tared/scale"
	"tared/scale/pan"
	"tared/session/batch"
	"tared/session/sheet"
)

// barFull is the target on the bar of a view, in its own thousandths.
const barFull = 1000

// The times that follow "stop".
const (
	// usualReaction is how long a hand takes to stop a pour once told, until its own
	// is known (the design value; young adults need 0.16 to 0.19 s for a sound or a
	// light, Kosinski's review).
	usualReaction = 250 * time.Millisecond
	// usualSway is how far a reaction is off the usual one, until more is known: the
	// spread of the people in package sim, whose sources stand there.
	usualSway = 50 * time.Millisecond
	// swayMargin is how many times that is reckoned with: of a normal spread some one
	// in a hundred is beyond.
	swayMargin = 3
	// inTheAir is how long powder falls: 0.15 m at 9.81 m/s², the air left out.
	inTheAir = 170 * time.Millisecond
	// easeTime and half the scale's lag are how long before "stop" the pour should be
	// eased: so long that the hand has eased and the display has followed. In the
	// study less has the word "stop" come while the old flow is still believed, and
	// more only costs time.
	easeTime = 750 * time.Millisecond
	// slowLines is the time between lines from which it matters.
	slowLines = 200 * time.Millisecond
)

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
		v.Now.Headline, v.Now.Detail = "Nothing to weigh yet", "Choose a recipe on the sheet page and start a batch."
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
		bv.Steps[i] = sv
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
		a = Aim{st.Target, st.Low, st.High, st.Portions, st.Portions} // what it should have been
	}
	step := b.Scale(st.Scale).Step
	if p != nil && p.Step > 0 {
		step = p.Step
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
	if p != nil && p.On == pan.Container && !p.Beside && p.Live(s.Now) {
		in, known = p.Content(), true
		n.In, n.Missing, n.Fill = in.Grams(d), (a.Target - in).Rounded(d), fill(in, a.Target)
		n.Settled = p.Settled || p.Resting
	}
	if p != nil && p.On == pan.Lifted && p.Sure {
		n.Lifted = (p.Before - p.Base).Grams(d)
	}
	s.headline(n, st, a, p, in, known, d)
	s.strayWords(n, i, p)
	if p != nil && p.Print {
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

// headline says in words, and for the ear, what to do.
func (s *State) headline(n *NowView, st batch.Step, a Aim, p *pan.Pan, in protocol.Mass, known bool, d int) {
	what := name(st)
	switch n.State {
	case "paused":
		n.Headline, n.Detail = "Paused", "Resume goes on with "+what+"."
	case "reminder":
		n.Headline, n.Detail, n.Cue = "Mask on? Ventilation running?", "Before the first dry material. Answer yes, with your name.", "ask"
	case "decide":
		n.Headline, n.Detail, n.Cue = s.decideWords(st), "Read the choices below.", "ask"
	case "lost":
		n.Cue = "lost"
		if p != nil && p.Link != scale.Lost && !p.Live(s.Now) {
			n.Headline, n.Detail = "The "+st.Scale+" scale is silent", "Leave the container as it is. Is the scale switched on?"
			return
		}
		if p != nil && p.Link != scale.Lost {
			n.Headline = "Is the tare still right?"
			n.Detail = "The " + st.Scale + " scale was away. Lift the container off, wait until the scale rests, and put it back."
			return
		}
		n.Headline, n.Detail = "The "+st.Scale+" scale is gone", "Do not pour, and leave the container as it is."
		if p != nil && p.Why != "" {
			n.Detail += " " + sentence(p.Why)
		}
	case "container":
		n.Headline, n.Detail = "Put an empty container on the "+st.Scale+" scale", "It is tared as soon as it rests."
		if p != nil && !p.Live(s.Now) {
			n.Detail = "The " + st.Scale + " scale is silent. " + sentence(p.Why)
		} else if p != nil && p.Gross >= p.Steps(pan.LeastContainer) {
			n.Headline, n.Detail = "Wait: do not pour yet", "The container is tared as soon as the scale rests."
		}
	case "lifted":
		n.Headline, n.Detail, n.Cue = "Tip it into the "+vesselOf(s.Batch, st), "Then put the container back on the "+st.Scale+" scale.", "taken"
		if p != nil && p.Before-p.Base > a.High {
			n.Headline, n.Cue = "Too much is in it: put it back", "over"
			n.Detail = (p.Before - p.Base - a.Target).Rounded(d) + " g must come out before it is tipped."
		}
		if p != nil && !p.Sure {
			n.Headline, n.Detail, n.Cue = "Lifted too early: put it back", "The scale had not settled, so nobody knows yet what is in it.", "ask"
		}
	case "pour":
		if p == nil {
			n.Headline = "Weigh " + a.Target.Rounded(d) + " g of " + what + " on the " + st.Scale + " scale"
			n.Detail = "Read it by eye and type what went in."
			return
		}
		n.Headline, n.Detail = "Pour "+what, "Up to the band; let it rest, then lift the container."
		if st.IsWater() {
			n.Detail = "Up to the band, in a clean jug. What is tipped into the bucket cannot be taken out again."
		}
		if st.Portions > 0 && st.Delivered > 0 {
			n.Headline = "Pour more " + what
		}
		if known {
			n.Cue = s.cueFor(a, p, in)
			switch n.Cue {
			case "stop":
				n.Headline = "Stop"
			case "ease":
				n.Headline = "Ease off"
			}
		} else {
			n.Headline, n.Detail = "The "+st.Scale+" scale is silent", silent(p)
		}
	case "settle":
		n.Headline, n.Detail = "Wait for the scale", "Hands off: it is coming to rest."
		if in > a.High || s.cueFor(a, p, in) == "stop" {
			n.Headline = "Stop"
			n.Cue = "stop"
		}
	case "in":
		n.Headline, n.Detail, n.Cue = "In the band: lift the container", "Lifting takes it. Staying on the pan? Press D for done.", "in"
	case "over":
		n.Cue = "over"
		if p != nil && p.Status == protocol.Overload {
			n.Headline, n.Detail = "Too heavy for the "+st.Scale+" scale", "Take something off the pan."
			return
		}
		n.Headline = "Take out " + (in - a.Target).Rounded(d) + " g"
		n.Detail = "Spoon it out until the reading is in the band."
		if st.Role == "strong" {
			n.Detail = "Spoon it into the waste cup, never back into the jar."
		} else if st.IsWater() {
			n.Detail = "Pour it off until the reading is in the band; what is tipped cannot be taken out."
		}
	}
}

// vessel names where the step goes, for a person with a full hand.
func vessel(st batch.Step) string {
	if st.InCup() {
		return batch.MixingCup
	}
	return "bucket"
}

// vesselOf names what this batch is put together in.
func vesselOf(b *batch.Batch, st batch.Step) string {
	switch s := b.Plan.Series; {
	case st.InCup() || s.Cups == 0:
		return vessel(st)
	case s.Cup == 0:
		return "tub"
	default:
		return "cup marked " + batch.CupMark(s.Of, s.Cup)
	}
}

func silent(p *pan.Pan) string {
	if p.Why != "" {
		return sentence(p.Why)
	}
	return "It has sent nothing for two seconds."
}

// sentence makes one of what an error says, for it stands behind another.
func sentence(why string) string {
	r, n := utf8.DecodeRuneInString(why)
	if n == 0 {
		return why
	}
	return string(unicode.ToUpper(r)) + strings.TrimSuffix(why[n:], ".") + "."
}

func (s *State) decideWords(st batch.Step) string {
	switch {
	case st.Over():
		return "Too much " + name(st) + " went in"
	case s.asked.kind == "" && st.Part == batch.TakePart:
		if s.Batch.Mixes[st.Mix].From != "" {
			return "Mix the tub"
		}
		return "Mix the cup"
	case s.asked.kind == "gone", s.asked.kind == "little":
		return "Was it tipped?"
	case s.asked.kind == "unsettled":
		return "How much went in?"
	case s.asked.kind == "lighter", s.asked.kind == "swapped", s.asked.kind == "heavier":
		return "Another container?"
	case s.asked.kind == "thing":
		return "What left the pan?"
	case s.asked.kind == "crept":
		return "Container or powder?"
	case s.asked.kind == "which", s.asked.kind == "early":
		return "What is it?"
	case s.asked.kind == "strayed":
		return "Did it go in?"
	}
	return "Same container as before?"
}

// cueFor judges where the pour would land if the hand were told to stop now,
// rather than where the reading stands. The reading runs behind by the filter's
// lag, some powder is in the air, and the hand needs its reaction time.
func (s *State) cueFor(a Aim, p *pan.Pan, in protocol.Mass) string {
	flow := p.Flow()
	if flow <= p.Step/2 { // a second
		if in*10 >= a.Target*9 {
			return "near"
		}
		return ""
	}
	// Where the lines come slowly the pour goes on unseen between two of them.
	every := p.Every()
	if every < slowLines {
		every = 0
	}
	landing := in + after(flow, s.unseen(p)+s.horizon(p))
	// A hand is not always as quick, and one more lump may fall: what may land over
	// the high mark is stopped sooner, though not much under the low mark. A little
	// more is soon poured, and too much is dear.
	lump := p.Lump()
	mark := min(a.Target, a.High-after(flow, swayMargin*s.sway())-lump)
	mark = max(mark, a.Low-2*(a.Target-a.Low), a.Target/2)
	switch {
	case landing >= mark || in >= a.Low:
		return "stop"
	case landing+after(flow, easeTime+p.Delay()/2+every)+lump >= mark:
		return "ease"
	case in*10 >= a.Target*9:
		return "near"
	}
	return ""
}

// unseen is how long the pour may have gone on since the last line, of a scale that
// speaks slowly; little more than the time to the next, after which it may have
// stopped as well.
func (s *State) unseen(p *pan.Pan) time.Duration {
	every := p.Every()
	if every < slowLines {
		return 0
	}
	return max(0, min(s.Now.Sub(p.At), every*5/4))
}

// hurries tells that the bench must look at the clock more often than lines come:
// a pour runs on a scale that speaks slowly.
func (s *State) hurries() bool {
	if !s.atWork() {
		return false
	}
	_, p := s.current()
	return p != nil && p.On == pan.Container && p.Heard && !p.Settled && p.Every() >= slowLines && p.Flow() > p.Step/2 && p.Live(s.Now)
}

// after is what a flow brings in some time.
func after(flow protocol.Mass, d time.Duration) protocol.Mass {
	return flow / 1000 * protocol.Mass(d.Milliseconds())
}

// horizon is how long powder still comes, and reaches the display, after "stop".
func (s *State) horizon(p *pan.Pan) time.Duration { return p.Delay() + inTheAir + s.reaction() }

// sway is how far the reaction of the person at the bench is off its usual, on the
// whole.
func (s *State) sway() time.Duration {
	if s.Batch != nil {
		if r, ok := s.Sway[s.Batch.By]; ok {
			return r
		}
	}
	return usualSway
}

// reaction is that of the person at the bench, as learnt from their stops.
func (s *State) reaction() time.Duration {
	if s.Batch != nil {
		if r, ok := s.React[s.Batch.By]; ok {
			return r
		}
	}
	return usualReaction
}

func (s *State) finishedView(n *NowView) {
	b := s.Batch
	n.Headline = "Batch " + b.Mark + " is complete"
	switch r := b.Plan.Series; {
	case b.Early:
		n.Headline = "Batch " + b.Mark + " was closed early"
	case r.Of != "" && r.Cup == r.Cups:
		n.Headline = "Series " + r.Of + " is complete"
	}
	n.Detail = strings.Join(closingWords(), " ")
	if b.Wet() {
		n.Detail += " " + standWords
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
		return &AskedView{Question: "paused", Words: "The batch is paused.", Answers: []AnswerView{{"resume", "go on", ""}}}
	case !b.Reminded:
		return kept(&s.told.reminder, func() *AskedView {
			return &AskedView{Question: "reminder", Words: "Is the mask on and the ventilation running?", Lines: reminderLines(b, s.Table),
				Answers: []AnswerView{{"yes", "yes, both", "name"}}}
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
			Words: fmt.Sprintf("After the gap the %s scale shows %s g with the container; before it was %s g.", q.scale, q.after.Grams(places(p.Step)), q.before.Grams(places(p.Step))),
			Answers: []AnswerView{
				{"keep", "same container, scale not zeroed: count what it shows", ""},
				{"again", "this is an empty container: tare it", ""}}}
		if was := q.before - p.Base; was > p.Steps(3) {
			v.Answers[1].Label = "this is an empty container, and nothing of the last pour went into the batch: tare it"
			v.Answers = append(v.Answers, AnswerView{"done", fmt.Sprintf("this is an empty container, and the %s g of before went into the batch", was.Grams(places(p.Step))), ""})
		}
		return v
	case "gone":
		return &AskedView{Question: "gone",
			Words: fmt.Sprintf("%s g left the container while the scale could not be heard. Was it tipped into the batch?", (q.before - q.after).Grams(places(p.Step))),
			Answers: []AnswerView{
				{"keep", "yes, it went into the batch", ""},
				{"again", "no, it was taken out: count what is still in it", ""}}}
	case "lighter":
		return &AskedView{Question: "lighter",
			Words: fmt.Sprintf("This container is %s g lighter than the one that was tared. Was something in it, and was that tipped into the batch?", (q.before - q.after).Grams(places(p.Step))),
			Answers: []AnswerView{
				{"again", "no, it is another container", ""},
				{"keep", "yes, it went into the batch: count it", ""}}}
	case "swapped":
		was := p.Base
		if b.Lift != nil {
			was = b.Lift.Empty
		}
		return &AskedView{Question: "swapped",
			Words: fmt.Sprintf("It came back %s g lighter than it was tared. Is it the same container?", (was - q.after).Grams(places(p.Step))),
			Answers: []AnswerView{
				{"keep", "yes, and what was in it before went into the batch, too", ""},
				{"again", "no, it is another, empty one", ""}}}
	case "heavier":
		return &AskedView{Question: "heavier",
			Words: fmt.Sprintf("It came back %s g heavier than it left. Is it the same container?", (q.after - q.before).Grams(places(p.Step))),
			Answers: []AnswerView{
				{"keep", "yes, nothing was tipped and more was put in", ""},
				{"again", "no, the first one was tipped; this is another, empty one", ""}}}
	case "little":
		return &AskedView{Question: "little",
			Words: fmt.Sprintf("%s g less came back than was lifted. Was that tipped into the batch?", (q.before - q.after).Grams(places(p.Step))),
			Answers: []AnswerView{
				{"again", "no, nothing was: it stands off the centre, or a little was spilt", ""},
				{"keep", "yes, that little was tipped", ""}}}
	case "thing":
		return &AskedView{Question: "thing",
			Words: fmt.Sprintf("%s g seemed to be left in the container, and left the pan without a lift. What was it?", q.before.Grams(places(p.Step))),
			Answers: []AnswerView{
				{"again", "a spoon or the like that lay on the pan", ""},
				{"keep", "powder: it was taken out of the container", ""}}}
	case "crept":
		return &AskedView{Question: "crept",
			Words: fmt.Sprintf("%s g came onto the %s scale little by little. Is it powder, in a container that was tared by the scale's own key?", q.after.Grams(places(p.Step)), q.scale),
			Answers: []AnswerView{
				{"keep", "yes, it is powder: count it", ""},
				{"again", "no, it is an empty container: tare it", ""}}}
	case "unsettled":
		return &AskedView{Question: "unsettled",
			Words: fmt.Sprintf("It was lifted before the scale had settled. About %s g left the container.", (q.before - q.after).Grams(places(p.Step))),
			Answers: []AnswerView{
				{"keep", "it went into the batch: count that, marked as not settled", ""},
				{"typed", "it went into the batch and I know the amount", "mass"},
				{"again", "none of it went into the batch", ""}}}
	}
	if b.Unmixed(i) {
		words, lines := mixWords(b, i)
		if b.Mixes[b.Steps[i].Mix].From != "" {
			return &AskedView{Question: "mix", Words: words, Lines: lines, Answers: []AnswerView{{"yes", "yes, no streak shows", ""}}}
		}
		return &AskedView{Question: "mix", Words: words, Lines: lines,
			Answers: []AnswerView{{"yes", "yes, no streak shows", ""}, {"skip", "leave it out: throw the cup away", ""}}}
	}
	if p == nil {
		return &AskedView{Question: "typed", Words: fmt.Sprintf("What does the %s scale show for %s?", st.Scale, name(st)),
			Answers: []AnswerView{{"typed", "this much went in", "mass"}, {"skip", "leave it out", ""}}}
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
		Words: fmt.Sprintf("%s g of %s went in; the target is %s g.", st.Delivered.Grams(d), name(st), st.Target.Rounded(d))}
	if e, err := b.Enlarge(); err == nil {
		q.Answers = append(q.Answers, AnswerView{"enlarge", fmt.Sprintf("enlarge to %s g of base, top the others up", e.Base.Rounded(1)), ""})
		for _, l := range e.Lines {
			if k := b.StepOf(l.Material); k >= 0 && b.Steps[k].Part == batch.NoPart && b.Steps[k].Delivered > 0 && b.Steps[k].Delivered < l.Low {
				q.Lines = append(q.Lines, fmt.Sprintf("Enlarged: %s, %s g more", name(b.Steps[k]), (l.Target-b.Steps[k].Delivered).Rounded(places(b.Scale(l.Scale).Step))))
			}
		}
	} else {
		q.Lines = append(q.Lines, err.Error()+".")
	}
	q.Lines = append(q.Lines, keptAs(b)...)
	q.Answers = append(q.Answers,
		AnswerView{"keep", "keep it and note the deviation", ""},
		AnswerView{"undo", "it was not tipped after all", ""})
	once := AnswerView{"anew", "close it, begin once more", ""}
	if b.Plan.Series.Cup == 0 {
		q.Answers = append(q.Answers, once)
		return q
	}
	words, _, err := s.cupAnew()
	if err == nil {
		once.Label = "close this cup, begin it once more"
		q.Answers = append(q.Answers, once)
		q.Lines = append(q.Lines, "Begun once more: "+words)
	} else {
		q.Lines = append(q.Lines, err.Error()+".")
	}
	return q
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
	another := KeyView{"b", "by", "another person takes over"}
	if s.open() && s.Batch.Paused {
		return append(k, another)
	}
	if !s.open() || !s.Batch.Reminded {
		return k
	}
	i, p := s.current()
	deciding := s.asked.kind != "" || i >= 0 && (s.Batch.Steps[i].Over() || s.Batch.Waits(i))
	if p != nil && !deciding {
		k = append(k, KeyView{"d", "done", "done: take what is on the pan"})
	}
	if len(s.Batch.Takes) > 0 {
		k = append(k, KeyView{"u", "undo", "undo the last take"})
	}
	if i >= 0 && !s.Batch.Steps[i].Over() {
		k = append(k, KeyView{"s", "skip", "leave this material out"})
	}
	k = append(k, KeyView{"p", "pause", "pause"}, KeyView{"n", "note", "write a note"})
	if p != nil && p.On == pan.Empty && !deciding {
		k = append(k, another) // between two pours there is room for it
	}
	return k
}

// scaleView tells what the scales page shows of a pan.
func scaleView(p *pan.Pan) ScaleView {
	v := ScaleView{Name: p.Name, Port: p.ID.Port, USB: p.ID.USB, Format: p.ID.Format, Line: p.ID.Line, Link: p.Link.String(), Why: p.Why,
		Unit: string(p.Unit), Status: p.Status.String(), Settled: p.Settled, Raw: p.Raw, At: p.At,
		Print: p.Print, Frames: p.Count.Frames, Damaged: p.Count.Damaged, Foreign: p.Count.Foreign}
	if p.Heard && p.Link == scale.Up {
		v.Shows = p.Shown.String()
	}
	if p.Step > 0 {
		v.Step = p.Step.Grams(0)
	}
	if p.Max > 0 {
		v.Max = p.Max.Grams(0)
	}
	if p.Lag > 0 {
		v.Lag = secondsWords(p.Lag)
	}
	switch p.On {
	case pan.Empty:
		v.On, v.Pan = "empty", "nothing tared on it"
	case pan.Container:
		v.On, v.Pan = "container", "a container of "+p.Weight.Grams(places(p.Step))+" g"
	case pan.Lifted:
		v.On, v.Pan = "lifted", "its container is off"
	case pan.Unknown:
		v.On, v.Pan = "unknown", "tare unknown since the gap"
	}
	return v
}

package session

import (
	"fmt"
	"slices"

	"tared/protocol"
	"tared/scale/pan"
	"tared/session/batch"
	"tared/session/fact"
	"tared/session/sheet"
	"tared/session/text"
)

// A potter may use another scale than the sheet named: because it stands nearer,
// or by mistake, or because the next material is meant. A container that stands on
// a scale out of turn is known, but tared for nothing. Powder that runs into it
// says what is meant: where only the material in turn can be meant and the scale
// is good for it, the bench follows; where two can be meant it asks; where the
// scale is not good it says so. Nothing is ever taken there without a word.

// strayLeast is how many steps of powder on a scale out of turn are more than
// dust and draught.
const strayLeast = pan.LeastContainer

// idleNow keeps what lies in all containers when a step begins: it tells nothing
// of that step.
func (s *State) idleNow() {
	for i := range s.Pans {
		if p := &s.Pans[i]; p.On() == pan.Container {
			p.Mark()
		}
	}
}

// turnOf names the weighing in work, so that a change of it can be seen.
func (s *State) turnOf() string {
	if i := s.Batch.Current(); i >= 0 {
		return s.Batch.Mark + " " + s.Batch.Steps[i].Material
	}
	return ""
}

// fits judges whether step i may be weighed on a pan's scale, by the rule of the
// sheet. It gives the line that the step then has, or says why not.
func (s *State) fits(i int, p *pan.Pan) (l fact.Line, why string) {
	b := s.Batch
	st := b.Steps[i]
	l = st.Line
	k := slices.IndexFunc(b.Plan.Scales, func(c fact.Scale) bool { return c.Name == p.Name() })
	if k < 0 {
		return l, "it is not among the scales of this batch"
	}
	sc := b.Plan.Scales[k]
	may := l.Target - l.Low
	if st.Part == batch.NoPart {
		allow, names, err := batch.Allowed(b.Plan.Allowed)
		if err != nil {
			return l, err.Error()
		}
		may = batch.AllowedFor(l, allow, names).Of(l.Target)
		// A step is not done by being moved.
		if band := sheet.Band(may, p.Step()); st.Delivered < l.Target-band {
			l.Low, l.High = l.Target-band, l.Target+band
		}
	}
	l.Scale, l.U = p.Name(), netU(p.Step(), sc.Spread)
	v := sheet.Judge(may, p.Step(), l.U)
	l.Weighable = string(v)
	d := places(p.Step())
	if left, _, _ := st.Left(); sc.Max > 0 && left > sc.Max-p.Weight() {
		return l, fmt.Sprintf("it holds %s g beside the container", max(sc.Max-p.Weight(), 0).Rounded(d))
	}
	switch {
	case v == sheet.Good, p.Name() == st.Named: // back to where the sheet wanted it
	case l.U <= st.U && p.Step() <= max(s.Batch.Scale(st.Scale).Step, 1): // not worse than the one that it named
	default:
		return l, fmt.Sprintf("it weighs to ± %s g, and %s g are allowed", l.U.Rounded(d+1), may.Rounded(d+1))
	}
	return l, ""
}

// idle tells that nothing is under way on the pan where the step in work belongs.
func idle(q *pan.Pan) bool {
	return q == nil || q.On() == pan.Empty || q.On() == pan.Container && q.Content().Abs() <= q.Steps(pan.ZeroSlack)
}

// besides notes a container that stands on a scale out of turn. When it left that
// scale heavier, it may have been tipped in between.
func (t *turn) besides(p *pan.Pan, slow bool) {
	was := p.Prior()
	p.StandUntared(slow)
	if was == (pan.Prior{}) || was.Before-p.Gross() < p.Steps(strayLeast) || t.s.Batch.Lift != nil {
		return
	}
	if i, _ := t.s.current(); i >= 0 && !t.s.Batch.Waits(i) && !t.s.Batch.Steps[i].Over() {
		t.s.asked = question{kind: "strayed", scale: p.Name(), before: was.Before, after: p.Gross(), raw: []string{was.Raw, p.Raw()}}
	}
}

// due takes a container that stood there before its turn.
func (t *turn) due(p *pan.Pan) {
	if !p.Untared() || p.On() != pan.Container || !p.Settled() || !t.s.atWork() {
		return
	}
	if i, q := t.s.current(); i < 0 || q != p {
		return
	}
	if p.Slow() {
		// It is asked as if it came now.
		p.Forget()
		t.happened(p, pan.CameSlowly)
		return
	}
	if in := p.Content(); in > p.Steps(pan.ZeroSlack) {
		t.s.asked = question{kind: "early", scale: p.Name(), before: in, raw: []string{p.Raw()}}
		return
	}
	p.Stand(p.Gross())
	t.tared(p, "container")
}

// stray looks whether powder comes into a container on a scale out of turn.
func (t *turn) stray(p *pan.Pan) {
	b := t.s.Batch
	if !t.s.open() || !b.Reminded || b.Paused || p.Print() || p.On() != pan.Container || !p.Usable() {
		return
	}
	i, q := t.s.current()
	if i < 0 || q == p || b.Waits(i) || b.Steps[i].Over() {
		return
	}
	in := p.Gained()
	if in < p.Steps(strayLeast) {
		if p.Settled() {
			p.Settle()
			if t.s.asked.kind == "which" && t.s.asked.scale == p.Name() {
				t.s.asked = question{} // it was taken out again
			}
		}
		return
	}
	if p.Settled() {
		p.Untare()
	}
	// What came at once may be a spoon, or another vessel: it says nothing yet. How it
	// came is not known where lines were read late; then a person is asked once it rests.
	unseen := p.Settled() && p.Unseen()
	if t.s.asked.kind != "" || p.Slow() || !unseen && (p.Sharp(in) || !p.Rises()) || q != nil && q.On() == pan.Lifted {
		return
	}
	next := b.NextOn(i, p.Name())
	l, why := t.s.fits(i, p)
	switch {
	case why == "" && next < 0 && !unseen && idle(q) && p.Marked() <= p.Steps(pan.ZeroSlack):
		t.follow(i, p, l)
	case why == "" || next >= 0:
		t.s.asked = question{kind: "which", scale: p.Name(), before: in, raw: []string{p.Raw()}}
	case !p.Noted() && p.Settled():
		p.Note()
		t.emit(fact.Noticed{Scale: p.Name(), What: "wrong-scale", Amount: in, Raw: []string{p.Raw()},
			Words: fmt.Sprintf("%s g came into a container on the %s scale, but %s is weighed on the %s scale: %s. Nothing was taken.",
				in.Grams(places(p.Step())), p.Name(), name(b.Steps[i]), b.Steps[i].Scale, why)})
	}
}

// follow moves a step to the scale that the potter uses.
func (t *turn) follow(i int, p *pan.Pan, l fact.Line) {
	st := t.s.Batch.Steps[i]
	t.emit(fact.Moved{Material: st.Material, From: st.Scale, To: p.Name(), Line: l, Raw: []string{p.Raw()}})
	p.Unmark()
	t.tared(p, "container")
	t.say("%s is weighed on the %s scale now: it is poured there, and that scale is good for it.", name(st), p.Name())
}

// strayed asks about a container that left a scale out of turn with powder in it, and
// reports whether it did.
func (t *turn) strayed(p *pan.Pan) bool {
	b := t.s.Batch
	i, _ := t.s.current()
	if i < 0 || !t.s.atWork() || b.Lift != nil || b.Waits(i) || b.Steps[i].Over() || p.Print() {
		return false
	}
	in := p.LiftedContent() - p.Marked()
	if a := t.s.aim(i); in < p.Steps(strayLeast) && (in < p.Steps(pan.SameSlack) || in*2 < a.Low) {
		return false
	}
	t.s.asked = question{kind: "strayed", scale: p.Name(), before: p.Before(), after: p.Base(), raw: []string{p.LiftRaw()}, unsure: !p.Sure()}
	return true
}

// afterwards gives the weight of what left a scale out of turn without what was in
// it: as it came back, else as it stood there.
func afterwards(p *pan.Pan, q question) (m protocol.Mass, back bool) {
	if p.On() != pan.Lifted && p.Usable() && p.Settled() && p.Gross() >= p.Least() && p.Gross() < q.before-p.Steps(pan.SameSlack) {
		return p.Gross(), true
	}
	return q.after, false
}

// besideAnswer carries out the answers to what came out of turn.
func (t *turn) besideAnswer(q question, p *pan.Pan, word string) error {
	b := t.s.Batch
	i, _ := t.s.current()
	next := b.NextOn(i, p.Name())
	d := places(p.Step())
	if word == "next" && next < 0 {
		return refuse("nothing else is to be weighed on the %s scale", p.Name())
	}
	l, why := t.s.fits(i, p)
	switch q.kind {
	case "which":
		switch word {
		case "keep":
			if why != "" {
				return refuse("%s cannot be weighed on the %s scale: %s", name(b.Steps[i]), p.Name(), why)
			}
			t.s.asked = question{}
			t.follow(i, p, l)
		case "next":
			t.s.asked = question{}
			t.emit(fact.Decided{Question: "order", Answer: "next", Material: b.Steps[next].Material})
			p.Unmark()
			t.tared(p, "container")
		default:
			if !p.AtRest() {
				return refuse("the %s scale has not settled: wait a moment", p.Name())
			}
			t.emit(fact.Decided{Question: q.kind, Answer: "again", Material: b.Steps[i].Material, Amount: p.Gained(),
				Words: "What came onto the " + p.Name() + " scale does not count"})
			t.s.asked = question{}
			p.StandUntared(false)
		}
	case "early":
		if !p.AtRest() {
			return refuse("the %s scale has not settled: wait a moment", p.Name())
		}
		t.emit(fact.Decided{Question: q.kind, Answer: word, Material: b.Steps[i].Material, Amount: p.Content()})
		t.s.asked = question{}
		if word == "again" {
			p.Stand(p.Gross())
		}
		p.Unmark()
		t.tared(p, "answered")
	case "strayed":
		t.s.asked = question{}
		if word == "again" {
			t.emit(fact.Decided{Question: q.kind, Answer: "again", Material: b.Steps[i].Material, Amount: q.before - q.after,
				Words: "What left the " + p.Name() + " scale did not go into the batch"})
			return nil
		}
		if word == "next" {
			i = next
		}
		w := portion{of: i + 1, on: p.Name(), before: q.before, after: q.after, how: "not-returned", raw: q.raw,
			words: "It left the " + p.Name() + " scale when it was not its turn; a person says what it was. "}
		after, back := afterwards(p, q)
		if back {
			w.after, w.how = after, "tipped"
			w.raw = append(w.raw[:1:1], p.Raw())
		} else {
			w.words += "The container's own weight stands in for the one after. "
		}
		if why != "" && word == "keep" {
			w.words += "That scale is not one for it: " + why + ". "
		}
		w.words = w.words[:len(w.words)-1]
		if q.unsure {
			w.how, w.u = "unsettled", t.u(p)+(q.before-after).Abs()/20
		}
		t.portion(p, w)
		if !back {
			p.Forget()
		} else if t.s.open() {
			p.StandUntared(false)
		}
	default:
		return refuse("%q does not fit here; %s g lie on the %s scale", word, p.Content().Grams(d), p.Name())
	}
	return nil
}

// besideView words what is asked about a scale out of turn; nil: it is not that.
func (s *State) besideView(i int) *AskedView {
	q := s.asked
	p := s.pan(q.scale)
	if p == nil {
		return nil
	}
	b := s.Batch
	what, d := name(b.Steps[i]), places(p.Step())
	next := b.NextOn(i, p.Name())
	v := &AskedView{Question: q.kind}
	switch q.kind {
	case "which":
		v.Says = text.Written(fmt.Sprintf("%s g were poured on the %s scale, and %s is in turn on the %s scale. What is it?", max(p.Gained(), 0).Grams(d), p.Name(), what, b.Steps[i].Scale))
		if _, why := s.fits(i, p); why == "" {
			v.Answers = append(v.Answers, AnswerView{"keep", text.Written("it is " + what + ": weigh it there"), ""})
		} else {
			v.Lines = append(v.Lines, text.Written(fmt.Sprintf("The %s scale is no scale for %s: %s.", p.Name(), what, why)))
		}
		if next >= 0 {
			v.Answers = append(v.Answers, AnswerView{"next", text.Written("it is " + name(b.Steps[next]) + ": weigh that first"), ""})
		}
		v.Answers = append(v.Answers, AnswerView{"again", text.Written("none of that: it does not count"), ""})
	case "early":
		v.Says = text.Written(fmt.Sprintf("%s g are in the container on the %s scale already. Is it %s?", q.before.Grams(d), p.Name(), what))
		v.Answers = []AnswerView{{"keep", text.Written("yes, it is " + what + ": count it"), ""}, {"again", text.Written("no: tare the container as it stands"), ""}}
	case "strayed":
		after, _ := afterwards(p, q)
		v.Says = text.Written(fmt.Sprintf("%s g left the %s scale in a container, and it was not its turn. Did it go into the batch?", (q.before - after).Grams(d), p.Name()))
		v.Answers = []AnswerView{{"again", text.Written("no, it did not"), ""}, {"keep", text.Written("yes, and it was " + what), ""}}
		if next >= 0 {
			v.Answers = append(v.Answers, AnswerView{"next", text.Written("yes, and it was " + name(b.Steps[next])), ""})
		}
		if _, why := s.fits(i, p); why != "" {
			v.Lines = append(v.Lines, text.Written(fmt.Sprintf("The %s scale is no scale for %s: %s. Said yes, it is counted with that doubt.", p.Name(), what, why)))
		}
	default:
		return nil
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
		if p == q || p.On() != pan.Container || p.Print() || !p.Live(s.Now) {
			continue
		}
		in := p.Gained()
		if in < p.Steps(strayLeast) && !p.Slow() && !(n.State == "container" && p.Untared() && q != nil && q.Gross() < q.Steps(pan.LeastContainer)) {
			continue
		}
		what := name(s.Batch.Steps[i])
		_, why := s.fits(i, p)
		switch {
		case in >= p.Steps(strayLeast) && why != "" && s.Batch.NextOn(i, p.Name()) < 0:
			n.Headline, n.Cue = text.New("bench.not-there", text.Name("scale", p.Name())), "ask"
			n.Detail = []text.Message{text.Written(fmt.Sprintf("%s goes on the %s scale; the %s one will not do: %s. Nothing is taken from there.", what, n.Scale, p.Name(), why))}
		case p.Slow():
			n.Detail = []text.Message{text.Written(fmt.Sprintf("Something ran into a container on the %s scale before that was at rest. %s goes on the %s scale.", p.Name(), what, n.Scale))}
		case in >= p.Steps(strayLeast) && p.Settled():
			n.Detail = []text.Message{text.Written(fmt.Sprintf("%s g came onto the %s scale, which is not in turn. If it is %s, pour on there and the page follows.", in.Grams(places(p.Step())), p.Name(), what))}
		case in >= p.Steps(strayLeast):
		case why != "":
			n.Detail = []text.Message{text.Written(fmt.Sprintf("One stands on the %s scale, but that will not do: %s.", p.Name(), why))}
		default:
			n.Detail = []text.Message{text.Written("One stands on the " + p.Name() + " scale. That one is good for it, too: pour there, and the page follows.")}
			if next := s.Batch.NextOn(i, p.Name()); next >= 0 {
				n.Detail = []text.Message{text.Written(fmt.Sprintf("It is tared as soon as it rests. The one on the %s scale waits for %s.", p.Name(), name(s.Batch.Steps[next])))}
			}
		}
	}
}

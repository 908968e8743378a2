package session

import (
	"tared/scale"
	"tared/scale/pan"
	"tared/session/text"
)

// printedBack follows up a container that a print-key scale showed filled and
// then all but empty: it was lifted, tipped and put back between the two frames.
func (t *turn) printedBack(p *pan.Pan, mine bool, h pan.Event) {
	if h == pan.PartlyTipped && mine && t.s.open() && t.s.asked.kind == "" {
		// Much of it went, and much is still there: only the potter knows where to.
		p.Stays()
		t.s.asked = question{kind: "gone", scale: p.Name(), before: p.Before(), after: p.Gross(), raw: []string{p.LiftRaw(), p.Raw()}}
		return
	}
	t.lifted(p, mine)
	if b := t.s.Batch; b != nil && b.Lift != nil && b.Lift.Scale == p.Name() {
		p.TakeUp()
		t.returned(p)
	}
}

// printWords says what to do at a scale that speaks on its key only.
func printWords(n *NowView, p *pan.Pan) {
	switch n.State {
	case "container":
		n.Detail = []text.Message{text.New("print.then-press", text.Name("scale", p.Name()))}
		if p.Usable() && !p.Settled() {
			n.Detail = []text.Message{text.New("print.moving-press-again")}
		}
	case "pour":
		n.Detail = []text.Message{text.New("print.to-see")}
	case "settle":
		n.tell(n.Cue, text.New("print.again"), text.New("print.was-moving"))
	case "in":
		n.tell(n.Cue, text.New("print.good"), text.New("print.good-more"))
	case "over":
		n.Detail = append(n.Detail, text.New("print.then"))
	case "lifted":
		n.Detail = append(n.Detail, text.New("print.when-back"))
	case "lost":
		if p.Link() == scale.Up {
			n.Detail = []text.Message{text.New("print.check-tare", text.Name("scale", p.Name()))}
		}
	}
}

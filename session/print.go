package session

import (
	"tared/scale"
	"tared/scale/pan"
)

// printedBack follows up a container that a print-key scale showed filled and
// then all but empty: it was lifted, tipped and put back between the two frames.
func (t *turn) printedBack(p *pan.Pan, mine bool, h pan.Event) {
	if h == pan.PartlyTipped && mine && t.s.open() && t.s.asked.kind == "" {
		// Much of it went, and much is still there: only the potter knows where to.
		p.On = pan.Container
		t.s.asked = question{kind: "gone", scale: p.Name, before: p.Before, after: p.Gross, raw: []string{p.LiftRaw, p.Raw}}
		return
	}
	t.lifted(p, mine)
	if b := t.s.Batch; b != nil && b.Lift != nil && b.Lift.Scale == p.Name {
		p.On = pan.Lifted
		t.returned(p)
	}
}

// printWords says what to do at a scale that speaks on its key only.
func printWords(n *NowView, p *pan.Pan) {
	switch n.State {
	case "container":
		n.Detail = "Then press the print key of the " + p.Name + " scale."
		if p.Heard && !p.Settled {
			n.Detail = "The scale was still moving when it printed: press its print key again."
		}
	case "pour":
		n.Detail = "Press the print key to see where it stands."
	case "settle":
		n.Headline, n.Detail = "Press the print key again", "The scale was still moving when it printed."
	case "in":
		n.Headline, n.Detail = "In the band: tip it into the bucket", "Then put the container back and press the print key."
	case "over":
		n.Detail += " Then press the print key."
	case "lifted":
		n.Detail += " Press the print key when it stands there."
	case "lost":
		if p.Link == scale.Up {
			n.Detail = "The " + p.Name + " scale was away. Take everything off and press its print key; put the container back and press it again."
		}
	}
}

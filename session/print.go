package session

import "tared/scale"

// A print-key scale speaks when a person presses its key, so each frame is an
// explicit take, and stands until the next one. What hands did between two frames
// nobody saw; it is told from their weights alone:
//
//	the container          -> it is tared
//	more than that         -> what is in it
//	the container again,
//	all but empty          -> it was tipped and put back: a portion
//	an empty pan           -> it is off; when it is back, the portion is known

// printed says what a frame of a print-key scale means. It stands in for judge,
// which reads hands from how a weight comes.
func (p *Pan) printed(u scale.Update) happening {
	before, raw, known := p.print, p.printRaw, p.printOK
	if !p.Settled {
		return nothing // the scale itself says that it moves: the key is pressed again
	}
	p.print, p.printRaw, p.printOK = p.Gross, p.Raw, true
	slack := p.steps(3)
	switch p.On {
	case Empty:
		switch {
		case p.Gross >= p.least():
			return put
		case p.Gross != 0:
			p.zero()
			p.print = 0
		}
	case Container:
		in := before - p.Base
		if !known {
			in = 0
		}
		off := p.gone()
		back := !off && in > p.Step && (before-p.Gross)*2 > in && p.Gross >= p.Weight-slack
		if !off && !back {
			if p.Gross < p.Base-p.Step {
				return emptied
			}
			return nothing // more is in it, or some was taken out
		}
		p.On, p.Sure = Lifted, true
		p.Before, p.LiftRaw = p.Base+in, raw
		p.hasRest, p.resting, p.gapped, p.rested = false, false, false, false
		if off {
			if p.Gross.Abs() < p.steps(leastContainer) {
				p.zero()
				p.print = 0
			}
			return lifted
		}
		p.hasRest, p.resting = true, true
		if p.Gross-p.Base > max(slack, in/20) {
			return partly
		}
		return tipped
	case Lifted:
		if p.Gross >= p.least() {
			return returned
		}
		p.zero()
		p.print, p.proven = 0, true
	case Unknown:
		if p.doubtful(u) {
			return nothing
		}
		if p.Gross < p.steps(leastContainer) {
			p.zero()
			p.print, p.proven = 0, true
			return cleared
		}
		return stands
	}
	return nothing
}

// printedBack follows up a container that a print-key scale showed filled and
// then all but empty: it was lifted, tipped and put back between the two frames.
func (t *turn) printedBack(p *Pan, mine bool, h happening) {
	if h == partly && mine && t.s.open() && t.s.asked.kind == "" {
		// Much of it went, and much is still there: only the potter knows where to.
		p.On = Container
		t.s.asked = question{kind: "gone", scale: p.Name, before: p.Before, after: p.Gross, raw: []string{p.LiftRaw, p.Raw}}
		return
	}
	t.lifted(p, mine)
	if b := t.s.Batch; b != nil && b.Lift != nil && b.Lift.Scale == p.Name {
		p.On = Lifted
		t.returned(p)
	}
}

// printWords says what to do at a scale that speaks on its key only.
func printWords(n *NowView, p *Pan) {
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

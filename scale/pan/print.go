package pan

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
func (p *Pan) printed(u scale.Update) Event {
	before, raw, known := p.print, p.printRaw, p.printOK
	if !p.Settled {
		return None // the scale itself says that it moves: the key is pressed again
	}
	p.print, p.printRaw, p.printOK = p.Gross, p.Raw, true
	slack := p.Steps(3)
	switch p.On {
	case Empty:
		switch {
		case p.Gross >= p.Least():
			return PutOn
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
				return EmptiedOut
			}
			return None // more is in it, or some was taken out
		}
		p.On, p.Sure = Lifted, true
		p.Before, p.LiftRaw = p.Base+in, raw
		p.hasRest, p.Resting, p.Gapped, p.Rested = false, false, false, false
		if off {
			if p.Gross.Abs() < p.Steps(LeastContainer) {
				p.zero()
				p.print = 0
			}
			return TakenOff
		}
		p.hasRest, p.Resting = true, true
		if p.Gross-p.Base > max(slack, in/20) {
			return PartlyTipped
		}
		return TippedUnseen
	case Lifted:
		if p.Gross >= p.Least() {
			return PutBack
		}
		p.zero()
		p.print, p.Proven = 0, true
	case Unknown:
		if p.doubtful(u) {
			return None
		}
		if p.Gross < p.Steps(LeastContainer) {
			p.zero()
			p.print, p.Proven = 0, true
			return SeenEmpty
		}
		return Standing
	}
	return None
}

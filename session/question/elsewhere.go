package question

import (
	"slices"

	"tared/protocol"
	"tared/scale/pan"
	"tared/session/batch"
	"tared/session/fact"
	"tared/session/sheet"
	"tared/session/text"
)

// Fits judges whether step i may be weighed on a pan's scale, by the rule of the sheet.
// It gives the line that the step then has, or says why not.
func Fits(b *batch.Batch, i int, p *pan.Pan) (l fact.Line, why text.Message) {
	st := b.Steps[i]
	l = st.Line
	k := slices.IndexFunc(b.Plan.Scales, func(c fact.Scale) bool { return c.Name == p.Name() })
	if k < 0 {
		return l, text.New("ask.not-of-this-batch", text.Name("scale", p.Name()))
	}
	most := b.Plan.Scales[k].Max
	may := l.Target - l.Low
	if st.Part == batch.NoPart {
		allow, names, err := sheet.ReadAllow(b.Plan.Allowed)
		if err != nil {
			return l, text.Of(err)
		}
		may = batch.AllowedFor(l, allow, names).Of(l.Target)
		// A step is not done by being moved.
		if band := sheet.Band(may, p.Step()); st.Delivered < l.Target-band {
			l.Low, l.High = l.Target-band, l.Target+band
		}
	}
	l.Scale, l.U = p.Name(), Weighs(b, p).U(l.Target)
	v := sheet.Judge(may, p.Step(), l.U)
	l.Weighable = string(v)
	d := p.Step().Places()
	if left, _, _ := st.Left(); most > 0 && left > most-p.Vessel().Weight {
		return l, text.New("ask.no-room", text.Name("scale", p.Name()), text.Mass("room", max(most-p.Vessel().Weight, 0), d))
	}
	switch {
	case v == sheet.Good, p.Name() == st.Named: // back to where the sheet wanted it
	case l.U <= st.U && p.Step() <= max(b.Scale(st.Scale).Step, 1): // not worse than the one that it named
	default:
		u, limit := l.U.Against(may)
		return l, text.New("ask.not-accurate", text.Name("scale", p.Name()), text.Name("material", st.Name()), text.Grams("u", u), text.Grams("limit", limit))
	}
	return l, why
}

func (s *Scene) fits() (fact.Line, text.Message) { return Fits(s.Batch, s.Step, s.Pan) }

// later gives the next step that the sheet wants on this scale, -1 when there is none:
// powder that came there early may be that.
func (s *Scene) later() int { return s.Batch.NextOn(s.Step, s.Pan.Name()) }

func hasLater(s *Scene) bool { return s.later() >= 0 }

func (s *Scene) laterMaterial() text.Value {
	return text.Name("material", s.Batch.Steps[s.later()].Name())
}

func (s *Scene) steady() error {
	if s.Pan.AtRest() {
		return nil
	}
	return text.Refuse("ask.not-steady", s.scale())
}

// afterwards gives the weight of what left a scale out of turn without what was in it:
// as it came back, else as it stood there.
func afterwards(s *Scene) (m protocol.Mass, back bool) {
	p := s.Pan
	if p.On() != pan.Lifted && p.Usable() && p.Settled() && p.Gross() >= p.Least() && p.Gross() < s.Before-p.Steps(pan.SameSlack) {
		return p.Gross(), true
	}
	return s.After, false
}

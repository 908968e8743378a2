package sheet

import (
	"fmt"
	"math/big"

	"tared/protocol"
)

// eyeStep is the balance that a way out by eye supposes where no finer scale is
// named: a pocket balance of a hundredth of a gram.
const eyeStep = protocol.Gram / 100

// outs are the ways out for a target that its scale does not weigh well.
func (q *Request) outs(l Line, a Allow, base protocol.Mass) []Out {
	var out []Out
	finer := false
	for i, f := range l.Fits {
		s := q.Scales[i]
		if s.Name == l.Scale || f.U >= l.U || !f.Room {
			continue
		}
		finer = true
		o := Out{Kind: "finer", Scale: s.Name, U: f.U, Good: f.Verdict == Good,
			Words: fmt.Sprintf("Weigh it on the %s scale.", s.Name)}
		if s.Eye {
			o.Kind, o.Words = "eye", fmt.Sprintf("Weigh it on the %s scale, read it by eye and type it in.", s.Name)
		}
		out = append(out, o)
	}
	if _, u, _ := Uncertainty(eyeStep, 0); !finer && l.Step > eyeStep {
		out = append(out, Out{Kind: "eye", U: u, Good: u <= l.Allowed,
			Words: "Weigh it on a balance that shows 0.01 g, read it by eye and type it in: name it with port=eye,step=0.01g."})
	}
	for _, s := range q.Scales {
		if s.Name != l.Scale {
			continue
		}
		if b, ok := q.goodFrom(l, a, s); ok {
			out = append(out, Out{Kind: "larger", Scale: s.Name, Base: b, U: l.U, Good: true,
				Words: fmt.Sprintf("Make the batch larger: from %s of base the %s scale weighs it well (this batch has %s).", b, s.Name, base)})
		}
	}
	return out
}

// goodFrom is the smallest base, rounded up to a number that people use, from
// which a scale weighs this share well.
func (q *Request) goodFrom(l Line, a Allow, s Scale) (protocol.Mass, bool) {
	if a.Share == nil || l.Share.Sign() <= 0 {
		return 0, false // a fixed allowance does not grow with the batch
	}
	_, u, _ := Uncertainty(s.Step, s.Spread)
	// u <= base * share/100 * allowed
	r := new(big.Rat).Mul(l.Share, a.Share)
	r.Quo(r, big.NewRat(100, 1))
	exact, err := protocol.RoundRat(new(big.Rat).Quo(u.Rat(), r))
	if err != nil {
		return 0, false
	}
	b := roundUp(exact)
	t, err := protocol.RoundRat(new(big.Rat).Mul(b.Rat(), new(big.Rat).Quo(l.Share, big.NewRat(100, 1))))
	if err != nil || q.portions(s, t) != 1 || Judge(s.Step, u, a.Deviation(t)) != Good {
		return 0, false
	}
	return b, true
}

// roundUp gives the next number of two significant digits, in grams.
func roundUp(m protocol.Mass) protocol.Mass {
	unit := protocol.Gram
	for m/unit >= 100 {
		unit *= 10
	}
	return (m + unit) / unit * unit
}

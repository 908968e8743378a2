package sheet

import (
	"errors"
	"fmt"
	"math/big"

	"tared/protocol"
)

// Poured is a line with what went in so far.
type Poured struct {
	Line
	Delivered protocol.Mass
	Max       protocol.Mass // most that the scale and its container hold in 20 portions; 0: no limit known
}

// ErrNoOverpour says that nothing needs enlarging.
var ErrNoOverpour = errors.New("nothing is over its band")

// Enlarge finds the smallest factor, exactly, by which the batch must grow so
// that nothing that went in is over its band any more, and the lines as they
// are then. The band grows with its target, in whole steps, so the condition
// delivered <= f·target + band(f·target) is tried for each number of steps.
func Enlarge(in []Poured, allow map[Role]Allow) (*big.Rat, []Line, error) {
	f := big.NewRat(1, 1)
	for _, p := range in {
		if p.Delivered > p.High {
			if g := factor(p, allowFor(allow, p.Role)); g.Cmp(f) > 0 {
				f = g
			}
		}
	}
	if f.Cmp(big.NewRat(1, 1)) == 0 {
		return nil, nil, ErrNoOverpour
	}
	if f.Cmp(big.NewRat(10, 1)) > 0 {
		return nil, nil, fmt.Errorf("it would have to grow %s times", f.FloatString(1))
	}
	lines := make([]Line, len(in))
	for i, p := range in {
		l := p.Line
		a := allowFor(allow, l.Role)
		g := new(big.Rat).Mul(p.Target.Rat(), f)
		t, err := protocol.RoundRat(g)
		if err != nil {
			return nil, nil, fmt.Errorf("%s: %w", l.Material, err)
		}
		l.Target = t
		l.Allowed = a.Deviation(t)
		l.Band = Band(l.Allowed, l.Step)
		l.Low, l.High = t-l.Band, t+l.Band
		// Rounding the target to the nanogram may leave the overpoured one a
		// nanogram outside; its exact mark is inside by the choice of f.
		if p.Delivered > l.High && p.Delivered-l.High <= 2 {
			l.High = p.Delivered
		}
		if p.Max > 0 && t-p.Delivered > p.Max {
			return nil, nil, fmt.Errorf("%s: %s more is too much for the %s scale", l.Material, t-p.Delivered, l.Scale)
		}
		lines[i] = l
	}
	return f, lines, nil
}

// factor is the smallest f with delivered <= f·T + band(f·T).
func factor(p Poured, a Allow) *big.Rat {
	T, D := p.Target.Rat(), p.Delivered.Rat()
	if a.Share == nil {
		b := Band(a.Fixed, p.Step)
		return new(big.Rat).Quo(new(big.Rat).Sub(D, b.Rat()), T)
	}
	if p.Step <= 0 {
		// band = share·f·T, no steps: f = D / (T (1+share))
		g := new(big.Rat).Add(big.NewRat(1, 1), a.Share)
		return g.Quo(D, g.Mul(g, T))
	}
	var best *big.Rat
	step := p.Step.Rat()
	for k := int64(1); ; k++ {
		kd := new(big.Rat).Mul(big.NewRat(k, 1), step)
		// k steps of band hold from f·T·share >= k·d on; one step always holds.
		from := new(big.Rat)
		if k > 1 {
			from.Quo(kd, new(big.Rat).Mul(T, a.Share))
		}
		f := new(big.Rat).Quo(new(big.Rat).Sub(D, kd), T)
		if f.Cmp(from) < 0 {
			f.Set(from)
		}
		if best == nil || f.Cmp(best) < 0 {
			best = f
		}
		if from.Cmp(best) > 0 {
			return best // more steps only hold for larger batches
		}
	}
}

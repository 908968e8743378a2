package sheet

import (
	"errors"
	"math/big"
	"slices"

	"tared/protocol"
	"tared/session/doubt"
	"tared/session/recipe"
	"tared/session/text"
)

// Poured is a line with what has gone in.
type Poured struct {
	Line
	Delivered protocol.Mass
	Guard     protocol.Mass // its U, where all of that must lie in the band
	Done      bool
}

// Limits bound what a batch may be enlarged to; a zero field sets no bound.
type Limits struct {
	Scales    []Scale                  // each line's scale, for its capacity
	Container protocol.Mass            // usual container weight
	Most      protocol.Mass            // the largest dry batch that is wanted
	Stock     map[string]protocol.Mass // by material: how much there still is, beside what is in
	AllowFor  map[string]Allow         // by material name, before the roles
	Exact     bool                     // nothing may be over its new target, not even within its band
}

// ErrEnlarge is in the chain of every error that says why a batch cannot grow.
var ErrEnlarge = errors.New("the batch cannot be enlarged")

// Enlarge finds the smallest factor f >= 1 for which every material that is over its high
// mark is inside its exact band again, that is
//
//	delivered <= f·target + allowed(f·target)
//
// and gives the lines of that batch: targets f times as large, rounded to the
// picogram, with their marks. What has been delivered of each is for the caller
// to take off.
//
// Limits are checked and every one that does not hold is reported.
func Enlarge(lines []Poured, allow map[Role]Allow, limits ...Limits) (*big.Rat, []Line, error) {
	e := enlarging{allow: allow}
	if len(limits) > 0 {
		e.Limits = limits[0]
	}
	factor := e.factor(lines)
	if len(lines) == 0 {
		e.fail(text.Refuse("sheet.enlarge-empty"))
	}
	if len(e.errs) > 0 {
		return nil, nil, errors.Join(e.errs...)
	}
	out := make([]Line, len(lines))
	dry := new(big.Rat)
	for i, l := range lines {
		out[i] = e.line(l, factor)
		dry.Add(dry, out[i].Target.Rat())
	}
	if e.Most > 0 && dry.Cmp(e.Most.Rat()) > 0 {
		e.fail(text.Refuse("sheet.enlarge-most", text.Grams("dry", dry.FloatString(1)), text.Exact("most", e.Most, 0)))
	}
	if len(e.errs) > 0 {
		sortErrors(e.errs)
		return nil, nil, errors.Join(e.errs...)
	}
	return factor, out, nil
}

// enlarging is one run of Enlarge.
type enlarging struct {
	Limits
	allow map[Role]Allow
	errs  []error
}

func (e *enlarging) fail(err error) { e.errs = append(e.errs, text.Kind(ErrEnlarge, err)) }

// rule is what a line may deviate.
func (e *enlarging) rule(l Poured) Allow {
	if a, ok := named(e.AllowFor, l.Material); ok {
		return a
	}
	if a, ok := e.allow[l.Role]; ok {
		return a
	}
	return Standard(l.Role)
}

// factor is the smallest that puts every line inside its band.
func (e *enlarging) factor(lines []Poured) *big.Rat {
	f := big.NewRat(1, 1)
	for _, l := range lines {
		a := e.rule(l)
		if l.Target <= 0 || l.Step <= 0 || a.Share == nil && a.Fixed <= 0 || a.Share != nil && a.Share.Sign() <= 0 {
			e.fail(text.Refuse("sheet.enlarge-line", text.Name("material", l.Material)))
			continue
		}
		x := new(big.Rat).SetInt64(int64(l.Delivered))
		switch {
		case e.Exact:
		case l.Delivered <= l.High:
			continue
		default:
			x = reach(l, a)
		}
		if x.Quo(x, new(big.Rat).SetInt64(int64(l.Target))).Cmp(f) > 0 {
			f.Set(x)
		}
	}
	return f
}

// line is a line of the enlarged batch.
func (e *enlarging) line(l Poured, factor *big.Rat) Line {
	n := l.Line
	t, err := protocol.RoundRat(new(big.Rat).Mul(l.Target.Rat(), factor))
	if err != nil {
		e.fail(text.Refuse("sheet.enlarge-because", text.Name("material", l.Material), text.Because("why", err)))
		return Line{}
	}
	n.Outs, n.Fits = nil, nil
	rule := e.rule(l)
	n.set(t, rule)
	for over := protocol.Mass(1); over <= 2 && !e.Exact && l.Delivered-n.Target-n.Allowed == 1; over++ {
		n.set(t+over, rule) // target and band were both rounded down
	}
	if l.Delivered-n.Target <= n.Allowed {
		n.High = max(n.High, l.Delivered) // the band ends between two steps
	}
	if e.Scales != nil && !e.weigh(&n, l) {
		return Line{}
	}
	n.Verdict = Judge(n.Allowed, n.Step, n.U)
	for name, has := range e.Stock {
		if recipe.Key(name) == recipe.Key(l.Material) && n.Target-l.Delivered > has {
			e.fail(text.Refuse("sheet.enlarge-stock", text.Name("material", l.Material), text.Mass("need", n.Target-l.Delivered, l.Step.Places()), text.Exact("has", has, 0)))
		}
	}
	return n
}

// weigh says how well its scale weighs what is still to come of a line.
func (e *enlarging) weigh(n *Line, l Poured) bool {
	k := slices.IndexFunc(e.Scales, func(s Scale) bool { return s.Name == l.Scale })
	if k < 0 {
		e.fail(text.Refuse("sheet.enlarge-scale", text.Name("material", l.Material), text.Name("scale", l.Scale)))
		return false
	}
	s := e.Scales[k]
	n.Assumed = s.Weighs().Assumed()
	m := measured{s, doubt.RootUp(s.Weighs().Reading()), s.Max - e.Container, s.Max > 0}
	// Only what is still to come goes on the scale.
	rest := max(n.Target-l.Delivered, 1)
	if n.Portions = portions(rest, m.room, m.limited); n.Portions > maxPortions {
		e.fail(text.Refuse("sheet.enlarge-room", text.Mass("mass", rest, l.Step.Places()), text.Name("material", l.Material), text.Name("scale", l.Scale), text.Count("count", maxPortions)))
	}
	n.U = m.of(n.Target, n.Portions)
	n.Fits = []Fit{m.fit(n.Target, n.Allowed)}
	return true
}

// set gives a line a new target.
func (l *Line) set(target protocol.Mass, a Allow) {
	l.Target = target
	l.Allowed = a.Of(target)
	l.marks()
}

// reach gives the smallest target, in picograms as an exact number, of whose band what was
// delivered is no more than the end; where all of its doubt can lie in the band, with that.
func reach(l Poured, a Allow) *big.Rat {
	rat := func(m protocol.Mass) *big.Rat { return new(big.Rat).SetInt64(int64(m)) }
	if a.Share == nil {
		if a.Fixed >= l.Guard {
			return rat(l.Delivered + l.Guard - a.Fixed)
		}
		return rat(l.Delivered - a.Fixed)
	}
	whole := new(big.Rat).Add(a.Share, big.NewRat(1, 1))
	x := rat(l.Delivered + l.Guard)
	if x.Quo(x, whole); new(big.Rat).Mul(x, a.Share).Cmp(rat(l.Guard)) < 0 {
		x.Quo(rat(l.Delivered), whole)
	}
	return x
}

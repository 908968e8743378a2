package sheet

import (
	"errors"
	"fmt"
	"math/big"
	"slices"
	"strings"

	"tared/protocol"
	"tared/session/material"
	"tared/session/recipe"
)

// mostPortions is the number of weighings of one material beyond which the
// batch is refused as too large for the scale.
const mostPortions = 20

// Plan makes the weigh sheet. It refuses, with all reasons found, a batch that
// cannot be weighed or must not be mixed.
func Plan(q Request) (Sheet, error) {
	if len(q.Scales) == 0 {
		return Sheet{}, errors.New("weigh sheet: no scale to weigh on: name one with --scale name=bench,port=…, or a balance read by eye with port=eye")
	}
	for _, s := range q.Scales {
		if s.Step <= 0 {
			return Sheet{}, fmt.Errorf("weigh sheet: the step of the %s scale is not known: switch it on so that its digits can be read, or give step=0.1g", s.Name)
		}
	}
	if len(q.Recipe.Base()) == 0 {
		return Sheet{}, errors.New("weigh sheet: the recipe has no base material")
	}
	if err := blocked(q.Recipe); err != nil {
		return Sheet{}, err
	}
	sh := Sheet{Title: q.Recipe.Title, Scales: q.Scales, Allow: map[Role]Allow{}}
	for _, r := range []Role{Base, Addition, Strong} {
		sh.Allow[r] = allowFor(q.Allow, r)
	}
	targets, err := q.targets()
	if err != nil {
		return Sheet{}, err
	}
	var faults []error
	for i, it := range q.Recipe.Items {
		l := Line{Material: it.Name, Addition: it.Addition, Share: it.Share, Percent: it.Share.FloatString(3), Target: targets[i]}
		l.Role = q.role(it)
		if m, ok := material.Lookup(it.Name); ok {
			for _, s := range m.Lines {
				l.Hazards = append(l.Hazards, s.Words)
			}
		} else {
			w := fmt.Sprintf("%s is not in the materials table; it is weighed as %s.", it.Name, article(l.Role))
			if near := material.Suggest(it.Name); len(near) > 0 {
				w += " Did you mean " + strings.Join(near, " or ") + "?"
			}
			sh.Words = append(sh.Words, w)
		}
		if err := q.choose(&l, sh.Allow[l.Role]); err != nil {
			faults = append(faults, err)
			continue
		}
		sh.Dry += l.Target
		if !it.Addition {
			sh.Base += l.Target
		}
		sh.Lines = append(sh.Lines, l)
	}
	if len(faults) > 0 {
		return Sheet{}, errors.Join(faults...)
	}
	for i := range sh.Lines {
		if l := &sh.Lines[i]; l.Verdict != Good {
			l.Outs = q.outs(*l, sh.Allow[l.Role], sh.Base)
		}
	}
	if err := order(&sh, q.Order); err != nil {
		return Sheet{}, err
	}
	return sh, nil
}

func article(r Role) string {
	switch r {
	case Base:
		return "a base material"
	case Strong:
		return "a strong colourant"
	}
	return "an addition"
}

func blocked(r recipe.Recipe) error {
	var faults []error
	for _, it := range r.Items {
		if m, ok := material.Lookup(it.Name); ok && m.Blocked != "" {
			faults = append(faults, fmt.Errorf("line %d: %s is not weighed here: %s", it.Line, it.Name, m.Blocked))
		}
	}
	return errors.Join(faults...)
}

// role is the user's word, else the table's, else the place in the recipe.
func (q *Request) role(it recipe.Item) Role {
	for n, r := range q.Roles {
		if recipe.Key(n) == recipe.Key(it.Name) {
			return r
		}
	}
	if !it.Addition {
		return Base
	}
	if m, ok := material.Lookup(it.Name); ok && m.Strong {
		return Strong
	}
	return Addition
}

// targets gives the mass of every item, in the order of the recipe, so that the
// base adds up to the base of the batch to the nanogram.
func (q *Request) targets() ([]protocol.Mass, error) {
	base := q.Size.Base
	_, additions := q.Recipe.Shares()
	switch {
	case q.Size.Wet != nil:
		dry, err := q.dryOfWet()
		if err != nil {
			return nil, err
		}
		base = baseOfDry(dry, additions)
	case q.Size.Dry > 0:
		base = baseOfDry(q.Size.Dry, additions)
	}
	if base <= 0 {
		return nil, fmt.Errorf("batch size: %s of base is nothing to weigh: give more than zero", base)
	}
	var shares []*big.Rat
	var at []int
	out := make([]protocol.Mass, len(q.Recipe.Items))
	for i, it := range q.Recipe.Items {
		if it.Addition {
			g := new(big.Rat).Mul(base.Rat(), it.Share)
			m, err := protocol.RoundRat(g.Quo(g, big.NewRat(100, 1)))
			if err != nil {
				return nil, fmt.Errorf("%s: %w", it.Name, err)
			}
			out[i] = m
			continue
		}
		shares, at = append(shares, it.Share), append(at, i)
	}
	parts, err := recipe.Apportion(int64(base), shares)
	if err != nil {
		return nil, err
	}
	for k, i := range at {
		out[i] = protocol.Mass(parts[k])
	}
	return out, nil
}

// baseOfDry takes the additions off a dry total: dry / (1 + additions/100).
func baseOfDry(dry protocol.Mass, additions *big.Rat) protocol.Mass {
	f := new(big.Rat).Add(big.NewRat(1, 1), new(big.Rat).Quo(additions, big.NewRat(100, 1)))
	m, err := protocol.RoundRat(new(big.Rat).Quo(dry.Rat(), f))
	if err != nil {
		return 0
	}
	return m
}

// dryOfWet is the dry content of a volume of slip by Brongniart's formula,
// W = (L - 1000) G / (G - 1) grams a litre (Brongniart, Traité des arts
// céramiques, 1854, vol. 1 p. 249, as cited in the Handbook for Australian
// Potters). Without a density the blend's own is taken from the materials
// table, 2.6 standing in for what has none (feldspar and clay, the same
// handbook).
func (q *Request) dryOfWet() (protocol.Mass, error) {
	w := q.Size.Wet
	one := big.NewRat(1, 1)
	if w.Litres.Sign() <= 0 {
		return 0, errors.New("batch size: the volume must be more than zero")
	}
	solid := w.Solid
	if solid == nil {
		solid = q.blendDensity()
	}
	if solid.Cmp(one) <= 0 || w.Gravity.Cmp(one) <= 0 || w.Gravity.Cmp(solid) >= 0 {
		return 0, fmt.Errorf("batch size: a slip of gravity %s cannot be made of solids of density %s: it must lie above 1 and below that density",
			w.Gravity.FloatString(2), solid.FloatString(2))
	}
	g := new(big.Rat).Sub(w.Gravity, one)
	g.Mul(g, big.NewRat(1000, 1)).Mul(g, solid).Quo(g, new(big.Rat).Sub(solid, one)).Mul(g, w.Litres)
	return protocol.RoundRat(g)
}

// blendDensity is total mass over total volume of the recipe's solids.
func (q *Request) blendDensity() *big.Rat {
	mass, volume := new(big.Rat), new(big.Rat)
	for _, it := range q.Recipe.Items {
		d := big.NewRat(26, 10)
		if m, ok := material.Lookup(it.Name); ok && !m.Density.IsZero() {
			d = m.Density.Value
		}
		mass.Add(mass, it.Share)
		volume.Add(volume, new(big.Rat).Quo(it.Share, d))
	}
	return mass.Quo(mass, volume)
}

// choose fills in every fit and settles on a scale: the first, in the user's
// order, that is good and has the capacity; else the best that has it.
func (q *Request) choose(l *Line, a Allow) error {
	l.Allowed = a.Deviation(l.Target)
	l.Fits = make([]Fit, len(q.Scales))
	best := -1
	for i, s := range q.Scales {
		_, u, _ := Uncertainty(s.Step, s.Spread)
		f := Fit{Scale: s.Name, U: u, Verdict: Judge(s.Step, u, l.Allowed), Room: s.Max == 0 || l.Target+q.Container <= s.Max}
		l.Fits[i] = f
		if q.portions(s, l.Target) == 0 {
			continue // not even in portions
		}
		if best < 0 || better(f, l.Fits[best]) {
			best = i
		}
	}
	if best < 0 {
		return fmt.Errorf("%s: %s is too much for every scale here, even in %d portions: make the batch smaller, or name a larger scale", l.Material, l.Target, mostPortions)
	}
	s := q.Scales[best]
	l.Scale, l.Step, l.Verdict, l.U, l.Assumed = s.Name, s.Step, l.Fits[best].Verdict, l.Fits[best].U, s.Spread == 0
	l.Portions = q.portions(s, l.Target)
	// Each portion is a weighing of its own.
	if l.Portions > 1 {
		l.U = timesRoot(l.U, l.Portions)
	}
	l.Band = Band(l.Allowed, s.Step)
	l.Low, l.High = l.Target-l.Band, l.Target+l.Band
	if l.Target < s.Step {
		return fmt.Errorf("%s: %s is less than one step (%s) of the %s scale, the finest there is for it: make the batch larger, or name a finer scale, or one read by eye",
			l.Material, l.Target, s.Step, s.Name)
	}
	return nil
}

// better tells whether f is to be preferred to g, which comes earlier in the
// user's order.
func better(f, g Fit) bool {
	fit := func(x Fit) int {
		n := 0
		if x.Verdict == Good {
			n += 2
		}
		if x.Room {
			n++
		}
		return n
	}
	if fit(f) != fit(g) {
		return fit(f) > fit(g)
	}
	return f.Verdict != Good && f.U < g.U
}

// portions is how many weighings the target takes on a scale; 0: too many.
func (q *Request) portions(s Scale, target protocol.Mass) int {
	if s.Max == 0 {
		return 1
	}
	room := s.Max - q.Container
	if room <= 0 {
		return 0
	}
	n := int((target + room - 1) / room)
	if n > mostPortions {
		return 0
	}
	return max(n, 1)
}

func timesRoot(u protocol.Mass, n int) protocol.Mass {
	q := new(big.Int).Mul(big.NewInt(int64(u)), big.NewInt(int64(u)))
	return rootUp(q.Mul(q, big.NewInt(int64(n))), big.NewInt(1))
}

// order puts the lines as the user wants them; else base materials largest
// first, then additions, strong colourants last, so that a spoon and a cup
// never go from a strong colour to a weak one (common practice, no source).
func order(sh *Sheet, names []string) error {
	if len(names) > 0 {
		at := map[string]int{}
		for i, n := range names {
			at[recipe.Key(n)] = i + 1
		}
		for _, l := range sh.Lines {
			if at[recipe.Key(l.Material)] == 0 {
				return fmt.Errorf("order of weighing: %s is missing in it", l.Material)
			}
		}
		if len(at) != len(sh.Lines) || len(names) != len(sh.Lines) {
			return fmt.Errorf("order of weighing: it names %d materials and the recipe has %d", len(names), len(sh.Lines))
		}
		slices.SortStableFunc(sh.Lines, func(a, b Line) int { return at[recipe.Key(a.Material)] - at[recipe.Key(b.Material)] })
		return nil
	}
	rank := map[Role]int{Base: 0, Addition: 1, Strong: 2}
	slices.SortStableFunc(sh.Lines, func(a, b Line) int {
		if d := rank[a.Role] - rank[b.Role]; d != 0 {
			return d
		}
		switch {
		case a.Target > b.Target:
			return -1
		case a.Target < b.Target:
			return 1
		}
		return 0
	})
	return nil
}

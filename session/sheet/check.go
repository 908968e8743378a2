package sheet

import (
	"errors"
	"math/big"

	"tared/protocol"
	"tared/session/recipe"
)

// check looks at what does not depend on the materials.
// faults collects what is wrong with a request.
type faults []error

func (f *faults) add(format string, a ...any) { *f = append(*f, refuse(format, a...)) }

// deviation refuses an allowed deviation that allows nothing, or everything.
func (f *faults) deviation(what string, a Allow) {
	if a.Share == nil && a.Fixed <= 0 || a.Share != nil && (a.Share.Sign() <= 0 || a.Share.Cmp(big.NewRat(1, 1)) >= 0) {
		f.add("allowed deviation of %s: want a share between 0 and 100 %%, or a mass above zero", what)
	}
}

func (p *planner) check() error {
	var f faults
	p.req.checkRecipe(&f)
	p.req.Size.check(&f)
	p.checkScales(&f)
	p.checkAllowed(&f)
	p.checkMaterials(&f)
	sortErrors(f)
	return errors.Join(f...)
}

func (r Request) checkRecipe(f *faults) {
	if len(r.Recipe.Base()) == 0 {
		f.add("the recipe has no base material: read it with recipe.Parse and mend what it reports")
	}
	sum := new(big.Rat)
	for _, it := range r.Recipe.Items {
		if it.Share == nil || it.Share.Sign() <= 0 {
			f.add("%s has no share above zero", it.Name)
		} else if !it.Addition {
			sum.Add(sum, it.Share)
		}
	}
	if len(*f) == 0 && sum.Cmp(big.NewRat(100, 1)) != 0 {
		f.add("the shares of the base add up to %s and not to 100", sum.FloatString(6))
	}
}

func (s Size) check(f *faults) {
	given := 0
	for _, m := range []protocol.Mass{s.Base, s.Dry} {
		if m != 0 {
			given++
		}
		if m < 0 {
			f.add("a batch of %s: the size is negative; give more than zero, such as 750g", m)
		}
	}
	if w := s.Wet; w != nil {
		given++
		one := big.NewRat(1, 1)
		switch {
		case w.Litres == nil || w.Litres.Sign() <= 0:
			f.add("a wet batch without a volume above zero: give it as 2l at 1.45")
		case w.Gravity == nil || w.Gravity.Cmp(one) <= 0:
			f.add("a specific gravity of 1 or less is water without material: give one such as 1.45")
		case w.Solid != nil && w.Solid.Cmp(w.Gravity) <= 0:
			f.add("the slip cannot be as heavy as its dry material: gravity %s, solid %s", w.Gravity.FloatString(3), w.Solid.FloatString(3))
		}
	}
	switch {
	case given == 0:
		f.add("a batch of nothing: give its size above zero, as base, dry total or wet volume")
	case given > 1:
		f.add("more than one batch size: give one of base, dry total and wet volume")
	}
}

func (p *planner) checkScales(f *faults) {
	r := p.req
	if r.Container < 0 {
		f.add("container weight %s: it cannot be negative", r.Container)
	}
	if len(r.Scales) == 0 {
		f.add("no scale: name at least one with its step and its capacity")
	}
	seen := map[string]bool{}
	for i, s := range r.Scales {
		switch {
		case s.Name == "":
			f.add("scale %d has no name", i+1)
		case seen[s.Name]:
			f.add("two scales are named %s: give each its own name", s.Name)
		case s.Step <= 0:
			f.add("scale %s: its step is not known; give one such as 0.1g", s.Name)
		case s.Max < 0 || s.Max > 0 && s.Max < s.Step:
			f.add("scale %s: a capacity of %s with a step of %s cannot be", s.Name, s.Max, s.Step)
		case s.Spread < 0:
			f.add("scale %s: a repeatability of %s cannot be", s.Name, s.Spread)
		}
		seen[s.Name] = true
		p.scales = append(p.scales, measured{s, p.netU(s), s.Max - r.Container, s.Max > 0})
	}
}

func (p *planner) checkAllowed(f *faults) {
	r := p.req
	p.allow = map[Role]Allow{}
	for _, role := range []Role{Base, Addition, Strong} {
		p.allow[role] = Standard(role)
	}
	if r.Water != nil {
		p.allow[Water] = Standard(Water)
		if r.Water.Sign() <= 0 || r.Water.Cmp(big.NewRat(recipe.MaxWater, 1)) > 0 {
			f.add("first water of %s %% of everything dry: want more than 0 %% and %d %% at most", percent(r.Water), recipe.MaxWater)
		}
	}
	for role, a := range r.Allow {
		f.deviation(string(role), a)
		if role == Water && r.Water == nil {
			continue // a habit may name it where this batch has none
		}
		if _, ok := p.allow[role]; !ok {
			f.add("allowed deviation: %q is no role; want base, addition, strong or water", role)
		}
		p.allow[role] = a
	}
	for name, a := range r.AllowFor {
		f.deviation(name, a)
	}
	for name := range r.AllowFor {
		if !p.inRecipe(name) {
			f.add("allowed deviation: %s is not in the recipe", name)
		}
	}
}

// checkMaterials holds what is said of single materials.
func (p *planner) checkMaterials(f *faults) {
	r := p.req
	for name, role := range r.Roles {
		if _, ok := p.allow[role]; !ok || role == Water {
			f.add("role of %s: %q is none; want base, addition or strong", name, role)
		}
		if !p.inRecipe(name) {
			f.add("role of %s: it is not in the recipe; it has %s", name, p.names())
		}
	}
	for name, w := range r.Moist {
		if err := CheckMoisture(w); err != nil {
			f.add("%s: %w", name, err)
		}
	}
}

package sheet

import (
	"errors"
	"math/big"
	"slices"
	"strconv"
	"strings"

	"tared/protocol"
	"tared/session/recipe"
	"tared/session/text"
)

// faults collects what is wrong with a request.
type faults []error

func (f *faults) add(err error) { *f = append(*f, err) }

// deviation refuses an allowed deviation that allows nothing, or everything.
func (f *faults) deviation(what string, a Allow) {
	if a.Share == nil && a.Fixed <= 0 || a.Share != nil && (a.Share.Sign() <= 0 || a.Share.Cmp(big.NewRat(1, 1)) >= 0) {
		f.add(text.Refuse("sheet.tolerance", text.Name("what", what)))
	}
}

// check looks at what does not depend on the materials.
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
		f.add(text.Refuse("sheet.no-base"))
	}
	sum := new(big.Rat)
	for _, it := range r.Recipe.Items {
		if it.Share == nil || it.Share.Sign() <= 0 {
			f.add(text.Refuse("sheet.no-share", text.Name("material", it.Name)))
		} else if !it.Addition {
			sum.Add(sum, it.Share)
		}
	}
	if len(*f) == 0 && sum.Cmp(big.NewRat(100, 1)) != 0 {
		f.add(text.Refuse("sheet.shares", text.Number("sum", sum.FloatString(6))))
	}
}

func (s Size) check(f *faults) {
	given := 0
	for _, m := range []protocol.Mass{s.Base, s.Dry} {
		if m != 0 {
			given++
		}
		if m < 0 {
			f.add(text.Refuse("sheet.size-negative", text.Exact("size", m, 0)))
		}
	}
	if w := s.Wet; w != nil {
		given++
		one := big.NewRat(1, 1)
		switch {
		case w.Litres == nil || w.Litres.Sign() <= 0:
			f.add(text.Refuse("sheet.wet-volume"))
		case w.Gravity == nil || w.Gravity.Cmp(one) <= 0:
			f.add(text.Refuse("sheet.wet-gravity"))
		case w.Solid != nil && w.Solid.Cmp(w.Gravity) <= 0:
			f.add(text.Refuse("sheet.wet-dense", text.Number("gravity", w.Gravity.FloatString(3)), text.Number("solid", w.Solid.FloatString(3))))
		}
	}
	switch {
	case given == 0:
		f.add(text.Refuse("sheet.no-size"))
	case given > 1:
		f.add(text.Refuse("sheet.sizes"))
	}
}

func (p *planner) checkScales(f *faults) {
	r := p.req
	if r.Container < 0 {
		f.add(text.Refuse("sheet.container", text.Exact("mass", r.Container, 0)))
	}
	if len(r.Scales) == 0 {
		f.add(text.Refuse("sheet.no-scale"))
	}
	seen := map[string]bool{}
	for i, s := range r.Scales {
		switch {
		case s.Name == "":
			f.add(text.Refuse("sheet.scale-unnamed", text.Number("number", strconv.Itoa(i+1))))
		case seen[s.Name]:
			f.add(text.Refuse("sheet.scale-twice", text.Name("scale", s.Name)))
		case s.Step <= 0:
			f.add(text.Refuse("sheet.scale-step", text.Name("scale", s.Name)))
		case s.Max < 0 || s.Max > 0 && s.Max < s.Step:
			f.add(text.Refuse("sheet.scale-capacity", text.Name("scale", s.Name), text.Exact("max", s.Max, 0), text.Exact("step", s.Step, 0)))
		case s.Spread < 0:
			f.add(text.Refuse("sheet.scale-spread", text.Name("scale", s.Name), text.Exact("spread", s.Spread, 0)))
		}
		seen[s.Name] = true
		p.scales = append(p.scales, measured{s, p.netU(s), s.Max - r.Container, s.Max > 0})
	}
}

func (p *planner) checkAllowed(f *faults) {
	r := p.req
	p.allow = map[Role]Allow{}
	for _, role := range Roles {
		p.allow[role] = Standard(role)
	}
	if r.Water != nil {
		p.allow[Water] = Standard(Water)
		if r.Water.Sign() <= 0 || r.Water.Cmp(big.NewRat(recipe.MaxWater, 1)) > 0 {
			f.add(text.Refuse("sheet.first-water", text.Share("share", percent(r.Water)), text.Share("most", strconv.Itoa(recipe.MaxWater))))
		}
	}
	for role, a := range r.Allow {
		f.deviation(string(role), a)
		if role == Water && r.Water == nil {
			continue // a habit may name it where this batch has none
		}
		if _, ok := p.allow[role]; !ok {
			f.add(text.Refuse("sheet.tolerance-role", text.Name("role", string(role))))
		}
		p.allow[role] = a
	}
	for name, a := range r.AllowFor {
		f.deviation(name, a)
	}
	for name := range r.AllowFor {
		if !p.inRecipe(name) {
			f.add(text.Refuse("sheet.tolerance-unknown", text.Name("material", name)))
		}
	}
}

// checkMaterials holds what is said of single materials.
func (p *planner) checkMaterials(f *faults) {
	r := p.req
	for name, role := range r.Roles {
		if _, ok := p.allow[role]; !ok || role == Water {
			f.add(text.Refuse("sheet.role", text.Name("material", name), text.Name("role", string(role))))
		}
		if !p.inRecipe(name) {
			f.add(text.Refuse("sheet.role-unknown", text.Name("material", name), text.Names("names", p.names())))
		}
	}
	for name, w := range r.Moist {
		if err := checkMoisture(w); err != nil {
			f.add(text.Refuse("sheet.of", text.Name("material", name), text.Because("why", err)))
		}
	}
}

// sortErrors gives errors that come from maps an order that is always the same.
func sortErrors(errs []error) {
	slices.SortFunc(errs, func(a, b error) int { return strings.Compare(a.Error(), b.Error()) })
}

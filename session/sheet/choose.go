package sheet

import (
	"errors"
	"slices"

	"tared/protocol"
	"tared/session/doubt"
	"tared/session/recipe"
	"tared/session/text"
)

// chosen takes the ways out that were asked for by name. It runs before the
// lines are put in order, and leaves the targets as they are: Less says what of
// a carrier comes with the mixtures.
func (p *planner) chosen() error {
	var errs []error
	seen := map[string]bool{}
	for _, name := range p.req.Aliquot {
		k := recipe.Key(name)
		i := slices.IndexFunc(p.lines, func(l Line) bool { return recipe.Key(l.Material) == k })
		switch {
		case seen[k]:
			errs = append(errs, text.Refuse("sheet.aliquot-twice", text.Name("material", name)))
			continue
		case i < 0:
			errs = append(errs, text.Refuse("sheet.aliquot-unknown", text.Name("material", name), text.Names("names", p.names())))
			continue
		}
		seen[k] = true
		l := &p.lines[i]
		o := slices.IndexFunc(l.Outs, func(o Out) bool { return o.Kind == "aliquot" && (p.quiet == "" || o.Aliquot.Lot != "") })
		switch {
		case l.Verdict == Good && p.quiet != "": // in other cups it cannot
			continue
		case l.Verdict == Good:
			errs = append(errs, text.Refuse("sheet.aliquot-needless", text.Name("material", l.Material), text.Name("scale", l.Scale), text.Said("limit", within(true, l.U, l.Allowed))))
			continue
		case o < 0 && !l.Addition && l.Role != Strong:
			errs = append(errs, text.Refuse("sheet.aliquot-base", text.Name("material", l.Material)))
			continue
		case o < 0:
			errs = append(errs, text.Refuse("sheet.aliquot-no-carrier", text.Name("material", l.Material), text.Said("why", p.whyNot[l.Material])))
			continue
		}
		a := *l.Outs[o].Aliquot
		l.Aliquot = &a
		l.U, l.Portions, l.Hidden = a.U, 1, false
		l.Verdict = Judge(l.Allowed, l.Step, a.U)
		// It is not weighed by itself, so no step bounds its band.
		l.Band = max(l.Allowed, protocol.Picogram)
		l.Low, l.High = max(l.Target-l.Band, protocol.Picogram), l.Target+l.Band
		errs = append(errs, p.takeOff(a))
	}
	return errors.Join(errs...)
}

// takeOff takes what of its carrier is in a part off the carrier's own target.
func (p *planner) takeOff(a Aliquot) error {
	less, has := &p.dissolved, p.firstWater
	if c := slices.IndexFunc(p.lines, func(c Line) bool { return recipe.Key(c.Material) == recipe.Key(a.Carrier) && !c.Addition }); c >= 0 {
		less, has = &p.lines[c].Less, p.lines[c].Target
		p.lines[c].LessU = doubt.Together(p.lines[c].LessU, a.CarrierU(p.scale(a.Scale).Weighs().U(a.Take)))
	}
	if *less += a.Less; *less > has {
		return text.Refuse("sheet.aliquot-carrier", text.Name("material", a.Carrier), text.Exact("mass", has, 0))
	}
	return nil
}

// Bench gives the three weighings of an aliquot as lines of their own: the
// material and the carrier into the mixing cup, and the part of the mixture into
// the batch. The bands of the first two are two parts in a hundred; what really
// went in decides how much of the mixture is taken.
func (l Line) Bench(s Scale) (weigh, dilute, take Line) {
	a := l.Aliquot
	of := func(target protocol.Mass) Line {
		n := Line{Role: l.Role, Addition: l.Addition, Share: l.Share, Percent: l.Percent, Target: target, Scale: s.Name, Step: s.Step, U: s.Weighs().U(target),
			Assumed: s.Weighs().Assumed(), Portions: 1}
		n.Allowed = Standard(Strong).Of(target)
		n.Verdict = Judge(n.Allowed, n.Step, n.U)
		n.marks()
		return n
	}
	weigh, dilute, take = of(a.Weigh), of(a.Dilute), of(a.Take)
	take.Allowed = Need(l.Allowed, a.Need, a.Take)
	take.Low, take.High = Need(l.Low, a.Need, a.Take), Need(l.High, a.Need, a.Take)
	take.Band = take.High - take.Target
	take.Verdict = Judge(take.Allowed, take.Step, take.U)
	return weigh, dilute, take
}

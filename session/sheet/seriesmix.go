package sheet

import (
	"math/big"
	"slices"
	"strconv"

	"tared/protocol"
	"tared/session/recipe"
	"tared/session/text"
)

// A material that goes into the cups of a series diluted comes out of one mixture, or
// solution, that was made before and kept: so its error is the same in all cups. Each cup
// weighs out its part, and what that brings of the carrier comes off the cup's own.

// mixtures chooses for each such material a kept mixture that is enough for all cups. A
// carrier that is a base material stays out of the tub and is weighed into each cup. What
// else goes in diluted goes into the tub.
func (r *SeriesRequest) mixtures(common *Request) error {
	names := r.Aliquot
	common.Aliquot, r.Aliquot = nil, nil
	var chosen []Kept
	for _, name := range names {
		needs := r.needs(name)
		if len(needs) == 0 {
			common.Aliquot = append(common.Aliquot, name)
			continue
		}
		i := slices.IndexFunc(r.Kept, func(k Kept) bool {
			return recipe.Key(k.Material) == recipe.Key(name) && r.carries(k) && k.enough(needs)
		})
		if i < 0 {
			if r.tried {
				return text.ErrRefused
			}
			_, err := r.makeFirst(name, needs)
			return err
		}
		if k := r.Kept[i]; k.Carrier != WaterName {
			r.Apart = k.Carrier
		}
		chosen, r.Aliquot = append(chosen, r.Kept[i]), append(r.Aliquot, name)
	}
	r.Kept = chosen
	return nil
}

// needs gives what the cups get of a material, from the least.
func (r *SeriesRequest) needs(name string) (all []protocol.Mass) {
	for _, v := range r.Cups {
		for _, d := range v.Doses {
			if recipe.Key(d.Material) == recipe.Key(name) && d.Percent != nil && d.Percent.Sign() > 0 {
				all = append(all, Allow{Share: new(big.Rat).Quo(d.Percent, hundred)}.Of(r.Cup))
			}
		}
	}
	slices.Sort(all)
	return all
}

// carries reports whether the cups have the carrier of a mixture to give. One base material
// can stay out of the tub, and none where others are swapped.
func (r *SeriesRequest) carries(k Kept) bool {
	if k.Carrier == WaterName {
		return true
	}
	other := r.Apart != "" && recipe.Key(r.Apart) != recipe.Key(k.Carrier)
	return r.Swap == (Swap{}) && !other && slices.ContainsFunc(r.Recipe.Items, func(it recipe.Item) bool {
		return !it.Addition && recipe.Key(it.Name) == recipe.Key(k.Carrier)
	})
}

// enough reports whether there is enough of a mixture for all needs together.
func (k Kept) enough(needs []protocol.Mass) bool {
	left := k.Left
	for _, need := range needs {
		left -= Need(need, k.Parts[0].Mass, k.Parts[0].Mass+k.Parts[1].Mass)
	}
	return left >= 0
}

// offers are the mixtures of a series that was wished for so and planned.
func (r SeriesRequest) offers(cups []Cup) (all []CupMix) {
	for _, c := range cups {
		for _, l := range c.Lines {
			used := l.Aliquot != nil
			k := slices.IndexFunc(all, func(m CupMix) bool { return m.Material == l.Material })
			switch {
			case k >= 0 && used:
				all[k].Lot, all[k].Used = l.Aliquot.Lot, true
			case k < 0 && used:
				all = append(all, CupMix{Material: l.Material, Lot: l.Aliquot.Lot, Used: true})
			case k < 0 && l.Verdict != Good && len(r.needs(l.Material)) > 0:
				all = append(all, CupMix{Material: l.Material})
			}
		}
	}
	for i := range all {
		if !all[i].Used {
			all[i] = r.offer(all[i])
		}
	}
	return all
}

// offer finds the kept mixture that serves, by planning with it, else what is to be mixed.
func (r SeriesRequest) offer(m CupMix) CupMix {
	needs := r.needs(m.Material)
	for _, k := range r.Kept {
		if recipe.Key(k.Material) != recipe.Key(m.Material) || !k.enough(needs) {
			continue
		}
		with := r
		with.Aliquot, with.tried = append(slices.Clone(r.Aliquot), m.Material), true
		with.Kept = append([]Kept{k}, slices.DeleteFunc(slices.Clone(r.Kept), func(o Kept) bool { return recipe.Key(o.Material) == recipe.Key(m.Material) })...)
		if _, err := PlanSeries(with); err == nil {
			return CupMix{Material: m.Material, Lot: k.Lot}
		}
	}
	made, err := r.makeFirst(m.Material, needs)
	made.Material, made.Words = m.Material, r.Reader.Say(text.Of(err))
	return made
}

// makeFirst gives what is to be mixed, and refuses with it: of a mixture that serves all cups,
// beginning with the one for the least, so much that it is enough, and a twentieth over (ours).
func (r SeriesRequest) makeFirst(name string, needs []protocol.Mass) (CupMix, error) {
	one := r.Request
	one.Size, one.Kept, one.Aliquot, one.Order = Size{Base: r.Cup}, nil, nil, nil
	share := new(big.Rat).Quo(new(big.Rat).Mul(needs[0].Rat(), hundred), r.Cup.Rat())
	one.Recipe.Items = append(slices.Clone(r.Recipe.Items), recipe.Item{Name: name, Addition: true, Amount: share, Unit: "%", Share: share})
	one.Roles, one.AllowFor = about(one.Roles, one.Recipe), about(one.AllowFor, one.Recipe)
	p := planner{req: one, memo: newMemo()}
	sh, err := p.plan()
	if err != nil {
		return CupMix{}, err
	}
	l := sh.Lines[slices.IndexFunc(sh.Lines, func(l Line) bool { return recipe.Key(l.Material) == recipe.Key(name) })]
	o := slices.IndexFunc(l.Outs, func(o Out) bool { return o.Kind == "aliquot" })
	switch {
	case l.Verdict == Good:
		return CupMix{}, text.Refuse("sheet.aliquot-needless", text.Name("material", l.Material), text.Name("scale", l.Scale), text.Said("limit", within(true, l.U, l.Allowed)))
	case o < 0:
		return CupMix{}, text.Refuse("sheet.aliquot-no-carrier", text.Name("material", l.Material), text.Said("why", p.whyNot[l.Material]))
	}
	// A part of a thinner mixture is larger, and nearer to a whole step.
	for _, thinner := range []protocol.Mass{2, 3, 4, 6, 8} {
		if m, ok := r.tryOut(l, *l.Outs[o].Aliquot, thinner, needs); ok {
			return CupMix{Carrier: m.Carrier, Weigh: m.Parts[0].Mass.In(l.Unit, l.Step) + " " + l.Measure(), Into: m.Parts[1].Mass.In(l.Unit, l.Step) + " " + l.Measure()},
				text.Refuse("sheet.series-make", text.Name("material", l.Material), text.In("weigh", m.Parts[0].Mass, l.Unit, l.Step), text.In("dilute", m.Parts[1].Mass, l.Unit, l.Step),
					text.Name("carrier", m.Carrier), text.Number("parts", strconv.FormatInt(int64(m.Left/m.Parts[0].Mass), 10)))
		}
	}
	return CupMix{}, text.Refuse("sheet.series-none", text.Name("material", l.Material), text.Name("scale", l.Scale))
}

// tryOut plans the series with a mixture of this kind, thinned to so many halves.
func (r SeriesRequest) tryOut(l Line, a Aliquot, halves protocol.Mass, needs []protocol.Mass) (Kept, bool) {
	all := protocol.Mass(0)
	for _, need := range needs {
		all += need
	}
	all += all / 20
	weigh, times := a.Weigh, (a.Total*halves/2+a.Weigh-1)/a.Weigh
	for _, steps := range rounds(int64(a.Weigh/l.Step), int64(protocol.OnBench/times/l.Step)) {
		if weigh = l.Step * protocol.Mass(steps); weigh >= all {
			break
		}
	}
	s := r.Scales[slices.IndexFunc(r.Scales, func(s Scale) bool { return s.Name == l.Scale })]
	k := Kept{Lot: "new", Material: l.Material, Carrier: a.Carrier, Parts: [2]Weighed{s.weighed(weigh), s.weighed(weigh * (times - 1))}, Mixing: a.Mixing(), Left: weigh * times}
	r.Aliquot, r.Kept, r.tried = []string{l.Material}, []Kept{k}, true
	_, err := PlanSeries(r)
	return k, err == nil
}

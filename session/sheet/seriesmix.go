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
			return r.makeFirst(name, needs)
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

// makeFirst refuses with what is to be mixed: of the mixture that serves the cup with the
// least, so much that it is enough for all, and a twentieth over (ours).
func (r *SeriesRequest) makeFirst(name string, needs []protocol.Mass) error {
	one := r.Request
	one.Size, one.Kept, one.Aliquot, one.Order = Size{Base: r.Cup}, nil, nil, nil
	share := new(big.Rat).Quo(new(big.Rat).Mul(needs[0].Rat(), hundred), r.Cup.Rat())
	one.Recipe.Items = append(slices.Clone(r.Recipe.Items), recipe.Item{Name: name, Addition: true, Amount: share, Unit: "%", Share: share})
	one.Roles, one.AllowFor = about(one.Roles, one.Recipe), about(one.AllowFor, one.Recipe)
	p := planner{req: one, memo: newMemo()}
	sh, err := p.plan()
	if err != nil {
		return err
	}
	l := sh.Lines[slices.IndexFunc(sh.Lines, func(l Line) bool { return recipe.Key(l.Material) == recipe.Key(name) })]
	o := slices.IndexFunc(l.Outs, func(o Out) bool { return o.Kind == "aliquot" })
	switch {
	case l.Verdict == Good:
		return text.Refuse("sheet.aliquot-needless", text.Name("material", l.Material), text.Name("scale", l.Scale), text.Said("limit", within(true, l.U, l.Allowed)))
	case o < 0:
		return text.Refuse("sheet.aliquot-no-carrier", text.Name("material", l.Material), text.Said("why", p.whyNot[l.Material]))
	}
	a := l.Outs[o].Aliquot
	all := protocol.Mass(0)
	for _, need := range needs {
		all += need
	}
	all += all / 20
	weigh, times := a.Weigh, a.Total/a.Weigh
	for _, steps := range rounds(int64(a.Weigh/l.Step), int64(protocol.OnBench/times/l.Step)) {
		if weigh = l.Step * protocol.Mass(steps); weigh >= all {
			break
		}
	}
	return text.Refuse("sheet.series-make", text.Name("material", l.Material), text.In("weigh", weigh, l.Unit, l.Step), text.In("dilute", weigh*(times-1), l.Unit, l.Step),
		text.Name("carrier", a.Carrier), text.Number("parts", strconv.FormatInt(int64(times), 10)))
}

package sheet

import (
	"math/big"

	"tared/protocol"
	"tared/session/material"
	"tared/session/recipe"
	"tared/session/text"
)

// words say what a person should know of a swap in cups of so much base; nil has none.
func (s *Swapped) words(t *material.Table, l *text.Language, cup protocol.Mass) []string {
	switch {
	case s == nil:
		return nil
	case s.In == "":
		return []string{l.Say(text.New("sheet.series-apart", text.Name("material", s.Out)))}
	}
	said := text.New("sheet.swap-base")
	if s.Addition {
		said = text.New("sheet.swap-additions")
	}
	all := []string{l.Say(text.New("sheet.swap", text.Name("in", s.In), text.Name("out", s.Out), text.Share("share", s.Percent))), l.Say(said)}
	out, _ := t.Lookup(s.Out)
	in, _ := t.Lookup(s.In)
	if x, differ := material.Instead(out, in); differ {
		whole := new(big.Rat).Mul(cup.Rat(), s.Share)
		m, _ := protocol.RoundRat(whole.Quo(whole, hundred)) // a cup holds it
		for _, m := range x.Says(m) {
			all = append(all, l.Say(m))
		}
	}
	return all
}

// parts is what the cups of a series have in common.
type parts struct {
	pair recipe.Pair   // what is swapped; its Share is nil where nothing is
	left *big.Rat      // of the base, what is in the tub, in percent
	base protocol.Mass // of left, what each cup gets
	take protocol.Mass // of the common mix, dry
	mix  *big.Rat      // its moisture; nil: dry
}

// of gives the part of a base that is in the tub, times percent, in grams.
func (k parts) of(base protocol.Mass, percent *big.Rat) *big.Rat {
	g := new(big.Rat).Mul(base.Rat(), k.left)
	g.Quo(g, hundred).Mul(g, percent)
	return g.Quo(g, hundred)
}

func (k parts) swap() *Swapped {
	p := k.pair
	if p.Share == nil {
		return nil
	}
	return &Swapped{Out: p.Out.Name, In: p.In.Name, Addition: p.Addition, Share: p.Share, Percent: percent(p.Share)}
}

// apart takes what is swapped out of the common part.
func (r SeriesRequest) apart(common *Request, k *parts) error {
	if r.Swap == (Swap{}) {
		for _, v := range r.Cups {
			if v.Swapped != nil {
				return text.Refuse("sheet.cup-swap", text.Name("cup", v.Mark))
			}
		}
		if r.Apart == "" {
			return nil
		}
	}
	var err error
	if k.pair, err = r.pair(); err != nil {
		return err
	}
	if k.pair.Is(commonName()) {
		return text.Refuse("sheet.swap-common", text.Name("material", commonName()))
	}
	if common.Recipe, k.left, err = r.Recipe.Without(k.pair); err != nil {
		return err
	}
	for _, name := range r.Order {
		if k.pair.Is(name) {
			return text.Refuse("sheet.order-swapped", text.Name("material", name))
		}
	}
	if common.Size.Base, err = up(k.of(common.Size.Base, hundred)); err != nil {
		return text.Refuse("sheet.series-large")
	}
	if k.base, err = protocol.RoundRat(k.of(r.Cup, hundred)); err != nil || k.base <= 0 {
		return text.Refuse("sheet.cup-small", text.Exact("mass", r.Cup, 0))
	}
	return nil
}

// pair is what stays out of the tub: what is swapped, or a carrier, for which nothing comes.
func (r SeriesRequest) pair() (recipe.Pair, error) {
	if r.Apart == "" {
		return r.Recipe.Pair(r.Swap.Out, r.Swap.In)
	}
	for _, it := range r.Recipe.Items {
		if !it.Addition && recipe.Key(it.Name) == recipe.Key(r.Apart) {
			return recipe.Pair{Out: it, In: recipe.Item{Share: new(big.Rat)}, Share: it.Share}, nil
		}
	}
	return recipe.Pair{}, text.Refuse("sheet.aliquot-unknown", text.Name("material", r.Apart), text.Names("names", (&planner{req: r.Request}).names()))
}

// swapped puts into the recipe of a cup what it gets of the two base materials that
// are swapped, and gives the mass that the shares of this recipe are of: the common
// mix with these two. Additions that are swapped come as doses.
func (r SeriesRequest) swapped(v *Variation, k parts, rec *recipe.Recipe, percents map[string]*big.Rat) (protocol.Mass, error) {
	p := k.pair
	if p.Share == nil {
		return k.take, nil
	}
	part := v.Swapped
	if part == nil {
		part = new(big.Rat)
	}
	if part.Sign() < 0 || part.Cmp(big.NewRat(1, 1)) > 0 {
		return 0, text.Refuse("sheet.swap-share", text.Share("share", percent(new(big.Rat).Mul(part, hundred))), text.Name("material", p.Out.Name))
	}
	out, in := p.Shares(part)
	both := []Dose{{p.Out.Name, out}, {p.In.Name, in}}
	if p.Addition {
		v.Doses = append(both, v.Doses...)
		return k.take, nil
	}
	// They add up to what the tub does not bring, to the picogram.
	masses, err := recipe.Apportion(int64(r.Cup-k.base), []*big.Rat{out, in})
	if err != nil {
		return 0, err
	}
	total := k.take + r.Cup - k.base
	share := func(m protocol.Mass) *big.Rat {
		g := new(big.Rat).Mul(m.Rat(), hundred)
		return g.Quo(g, total.Rat())
	}
	rec.Items[0].Share = share(k.take)
	for i, d := range both {
		if d.Percent.Sign() == 0 {
			continue
		}
		if masses[i] == 0 {
			return 0, text.Refuse("sheet.cup-small-for", text.Name("material", d.Material))
		}
		percents[recipe.Key(d.Material)] = d.Percent
		rec.Items = append(rec.Items, recipe.Item{Name: d.Material, Share: share(protocol.Mass(masses[i]))})
	}
	return total, nil
}

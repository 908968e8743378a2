package sheet

import (
	"fmt"
	"math/big"

	"tared/protocol"
	"tared/session/recipe"
)

// Swap exchanges one material of the recipe for another from cup to cup of a series.
type Swap struct {
	Out string // a material of the recipe
	In  string // the one that takes its place; the recipe may have it, too
}

// Swapped is a swap as it was planned.
type Swapped struct {
	Out      string   `json:"out"`
	In       string   `json:"in"`
	Addition bool     `json:"addition"` // both stand on top of the base
	Share    *big.Rat `json:"-"`        // of both together in each cup, percent of the base
	Percent  string   `json:"share"`    // Share as text, for people
}

// words say what a person should know of a swap; nil has none.
func (s *Swapped) words() []string {
	if s == nil {
		return nil
	}
	said := "Both are weighed into each cup, and neither into the tub."
	if !s.Addition {
		said += " The shares of the tub are of what is in it."
	}
	return []string{fmt.Sprintf("%s takes the place of %s from cup to cup; together they stay at %s %% of the base.", s.In, s.Out, s.Percent), said}
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
				return refuse("cup %s: it is not said what is swapped", v.Mark)
			}
		}
		return nil
	}
	var err error
	if k.pair, err = r.Recipe.Pair(r.Swap.Out, r.Swap.In); err != nil {
		return refuse("%w", err)
	}
	if k.pair.Is(commonName) {
		return refuse("swap: %q is what the mix of all cups is called here: give the material another name", commonName)
	}
	if common.Recipe, k.left, err = r.Recipe.Without(k.pair); err != nil {
		return refuse("%w", err)
	}
	for _, name := range r.Order {
		if k.pair.Is(name) {
			return refuse("order: %s is swapped, and goes into each cup after the common mix", name)
		}
	}
	if common.Size.Base, err = up(k.of(common.Size.Base, hundred)); err != nil {
		return refuse("the series is too large: %w", err)
	}
	if k.base, err = protocol.RoundRat(k.of(r.Cup, hundred)); err != nil || k.base <= 0 {
		return refuse("a series of cups with %s of base each: that is too small for a common mix", r.Cup)
	}
	return nil
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
		return 0, refuse("%s %% of %s swapped: want 0 to 100 %%", percent(new(big.Rat).Mul(part, hundred)), p.Out.Name)
	}
	out, in := p.Shares(part)
	both := []Dose{{p.Out.Name, out}, {p.In.Name, in}}
	if p.Addition {
		v.Doses = append(both, v.Doses...)
		return k.take, nil
	}
	// They add up to what the tub does not bring, to the nanogram.
	masses, err := recipe.Apportion(int64(r.Cup-k.base), []*big.Rat{out, in})
	if err != nil {
		return 0, refuse("%w", err)
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
			return 0, refuse("the cup is too small: %s would be less than a nanogram", d.Material)
		}
		percents[recipe.Key(d.Material)] = d.Percent
		rec.Items = append(rec.Items, recipe.Item{Name: d.Material, Share: share(protocol.Mass(masses[i]))})
	}
	return total, nil
}

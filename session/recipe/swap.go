package recipe

import (
	"math/big"
	"slices"

	"tared/session/text"
)

// Pair is two materials of which one can take the place of the other in a recipe.
type Pair struct {
	Out, In  Item     // In has a share of nothing where the recipe has none of it
	Addition bool     // both stand on top of the base
	Share    *big.Rat // of both together, in percent of the base
}

// Is reports whether a material is one of the two.
func (p Pair) Is(name string) bool {
	return p.Share != nil && (Key(name) == Key(p.Out.Name) || Key(name) == Key(p.In.Name))
}

// swapPlaces is to how many decimals an amount that was divided is written.
const swapPlaces = 9

// Pair looks up the two materials of a swap: out is one of the recipe, in need not
// be. The errors name what stands in the way.
func (r Recipe) Pair(out, in string) (Pair, error) {
	out, in = clean(out), clean(in)
	if out == "" || in == "" {
		return Pair{}, text.Refuse("recipe.swap-unnamed")
	}
	if Key(out) == Key(in) {
		return Pair{}, text.Refuse("recipe.swap-same", text.Name("material", out))
	}
	named := func(name string) (found []Item) {
		for _, it := range r.Items {
			if Key(it.Name) == Key(name) {
				found = append(found, it)
			}
		}
		return found
	}
	outs, ins := named(out), named(in)
	switch {
	case len(outs) == 0:
		var names []string
		for _, it := range r.Items {
			names = append(names, it.Name)
		}
		return Pair{}, text.Refuse("recipe.swap-unknown", text.Name("material", out), text.Names("names", names))
	case len(outs) > 1:
		return Pair{}, text.Refuse("recipe.swap-both", text.Name("material", out))
	case len(ins) > 1:
		return Pair{}, text.Refuse("recipe.swap-both", text.Name("material", in))
	case len(ins) == 1 && ins[0].Addition != outs[0].Addition:
		return Pair{}, text.Refuse("recipe.swap-mixed", text.Name("out", outs[0].Name), text.Name("in", ins[0].Name))
	}
	p := Pair{Out: outs[0], Addition: outs[0].Addition}
	if len(ins) == 1 {
		p.In = ins[0]
	} else {
		// What could not be read back would spoil the recipes of the cups.
		try, err := Parse(in + "   1\n")
		if err != nil || len(try.Items) != 1 || try.Items[0].Addition || Key(try.Items[0].Name) != Key(in) {
			return Pair{}, text.Refuse("recipe.swap-name", text.Name("material", in))
		}
		p.In = Item{Name: in, Amount: new(big.Rat), Unit: p.Out.Unit, Addition: p.Addition, Share: new(big.Rat)}
	}
	p.Share = new(big.Rat).Add(p.Out.Share, p.In.Share)
	return p, nil
}

// Without gives the recipe that is left without a pair, and how much of the base
// that is, in percent. Its shares are of the base that is left.
func (r Recipe) Without(p Pair) (rest Recipe, left *big.Rat, err error) {
	left = big.NewRat(100, 1)
	if !p.Addition {
		left.Sub(left, p.Share)
	}
	if left.Sign() <= 0 {
		return rest, left, text.Refuse("recipe.swap-whole", text.Name("out", p.Out.Name), text.Name("in", p.In.Name))
	}
	rest = r
	rest.Text, rest.Items = "", nil
	for _, it := range r.Items {
		if p.Is(it.Name) {
			continue
		}
		it.Share = new(big.Rat).Mul(it.Share, big.NewRat(100, 1))
		it.Share.Quo(it.Share, left)
		rest.Items = append(rest.Items, it)
	}
	return rest, left, nil
}

// Shares gives what there is of either when a part of Out, from 0 to 1, has given
// its place to In, in percent of the base.
func (p Pair) Shares(part *big.Rat) (out, in *big.Rat) {
	moved := new(big.Rat).Mul(p.Out.Share, part)
	return new(big.Rat).Sub(p.Out.Share, moved), new(big.Rat).Add(p.In.Share, moved)
}

// Swapped gives the recipe in which a part of Out, from 0 to 1, has given its place
// to In. What comes to nothing is left out. Shares are exact; an amount that does
// not end is written to nine decimals, so that both still add up to what they were.
func (r Recipe) Swapped(p Pair, part *big.Rat) Recipe {
	out, in := p.Out, p.In
	if out.Unit != in.Unit {
		alike(&out)
		alike(&in)
	}
	moved := new(big.Rat).Mul(out.Amount, part)
	if _, ends := moved.FloatPrec(); !ends {
		moved, _ = new(big.Rat).SetString(moved.FloatString(swapPlaces))
	}
	out.Amount, in.Amount = new(big.Rat).Sub(out.Amount, moved), new(big.Rat).Add(in.Amount, moved)
	out.Share, in.Share = p.Shares(part)
	n := r
	n.Items = nil
	known := slices.ContainsFunc(r.Items, func(it Item) bool { return Key(it.Name) == Key(in.Name) })
	put := func(it Item) {
		if it.Amount.Sign() > 0 {
			n.Items = append(n.Items, it)
		}
	}
	for _, it := range r.Items {
		switch Key(it.Name) {
		case Key(out.Name):
			put(out)
			if !known {
				put(in)
			}
		case Key(in.Name):
			put(in)
		default:
			n.Items = append(n.Items, it)
		}
	}
	n.Text = n.Format()
	return n
}

// alike writes an amount in the unit that all of its kind have in common.
func alike(it *Item) {
	if it.Addition {
		it.Unit = "%"
		it.Amount, _ = new(big.Rat).SetString(it.Share.FloatString(swapPlaces))
		return
	}
	if unitOf(it.Unit).grams != nil {
		it.Amount, it.Unit = weight(it), "g"
	}
}

package stock

import (
	"math/big"
	"slices"
	"strings"

	"tared/protocol"
	"tared/session/batch"
	"tared/session/fact"
	"tared/session/recipe"
	"tared/session/sheet"
	"tared/session/text"
)

// What is left over of a mixture or a solution can be kept: it is a lot with its content.

// Remnant is what is left over of a mixture of a batch.
type Remnant struct {
	Material string        // that was diluted
	Left     protocol.Mass // by the weighings, less what was kept of it
	Content  fact.Content
}

// Remnants gives what is left over of the mixtures of a closed batch.
func (s *Stock) Remnants(mark string) (all []Remnant, err error) {
	b := s.recalled(mark)
	switch {
	case b == nil:
		return nil, text.Refuse("stock.left-batch", text.Name("batch", mark))
	case !b.Finished:
		return nil, text.Refuse("stock.left-open", text.Name("batch", b.Mark))
	}
	for i, m := range b.Mixes {
		left, c, ok := b.Left(i)
		if !ok {
			continue
		}
		for _, p := range c.Parts {
			if batch.LotOf(b.Plan.Lots, p.Material).Moisture != "" {
				return nil, text.Refuse("stock.left-moist", text.Name("material", p.Material))
			}
		}
		for _, l := range s.lots {
			if l.Content != nil && l.Content.Of == b.Mark && l.Content.Parts[0].Material == c.Parts[0].Material {
				left -= l.Came
			}
		}
		if left > 0 {
			all = append(all, Remnant{m.Parts[0].Material, left, c})
		}
	}
	if len(all) == 0 {
		return nil, text.Refuse("stock.left-none", text.Name("batch", b.Mark))
	}
	return all, nil
}

// recalled is a batch as its facts tell it; nil: there is none.
func (s *Stock) recalled(mark string) (b *batch.Batch) {
	if s.Recall == nil {
		return nil
	}
	for _, f := range s.Recall(mark) {
		if p, ok := f.Body.(fact.Planned); ok {
			b = batch.New(f, p)
		} else if b != nil {
			b.Apply(f)
		}
	}
	return b
}

// Name is what a kept mixture is called.
func Name(c fact.Content) string {
	weigh, carrier := c.Parts[0].Mass, c.Parts[1]
	parts := new(big.Rat).SetFrac64(int64(weigh+carrier.Mass), int64(weigh)).FloatString(1)
	return text.New("stock.kept-name", text.Name("material", c.Parts[0].Material), text.Name("carrier", strings.ToLower(carrier.Material)), text.Number("parts", strings.TrimSuffix(parts, ".0"))).String()
}

// Solution reports whether the lot is a solution.
func (l Lot) Solution() bool {
	return l.Content != nil && l.Content.Parts[1].Material == sheet.WaterName
}

// Of names what the lot is taken for: its material, or what is diluted in it.
func (l Lot) Of() string {
	if l.Content != nil {
		return l.Content.Parts[0].Material
	}
	return l.Material
}

// Holds is what a gram of a kept mixture holds, with its doubt; of another lot it says
// nothing.
func (l Lot) Holds() text.Message {
	if l.Content == nil {
		return text.Message{}
	}
	k := l.kept()
	in, err := sheet.Part(k.Parts[:], sheet.Weighed{Mass: protocol.Gram}, k.Mixing)
	if err != nil {
		return text.Message{}
	}
	u := in[0].U
	if l.Content.Of == "" {
		return text.New("stock.holds-typed", text.Grams("held", in[0].Mass.Known(u)), text.Grams("u", u.Doubt()), text.Name("material", l.Content.Parts[0].Material))
	}
	return text.New("stock.holds", text.Grams("held", in[0].Mass.Known(u)), text.Grams("u", u.Doubt()), text.Name("material", l.Content.Parts[0].Material), text.Name("batch", l.Content.Of))
}

// Caution is what to heed with a solution.
func (l Lot) Caution() text.Message {
	if !l.Solution() {
		return text.Message{}
	}
	return text.New("stock.label-solution")
}

func (l Lot) kept() sheet.Kept {
	k := sheet.Kept{Lot: l.Mark, Material: l.Content.Parts[0].Material, Carrier: l.Content.Parts[1].Material, Left: l.Left}
	for i, p := range l.Content.Parts {
		k.Parts[i] = sheet.Weighed{Mass: p.Mass, U: p.U, On: p.On}
	}
	k.Mixing, _ = new(big.Rat).SetString(l.Content.Mixing)
	return k
}

// Kept gives the kept mixtures that hold one of these materials, diluted in another of
// them or in water, the oldest first. They are named as they are called here.
func (s *Stock) Kept(names []string, same func(a, b string) bool) (all []sheet.Kept) {
	for _, l := range s.lots {
		if l.Content == nil || l.Left <= 0 {
			continue
		}
		k := l.kept()
		as := func(name string) string {
			if name == sheet.WaterName {
				return name
			}
			if i := slices.IndexFunc(names, func(n string) bool { return same(n, name) }); i >= 0 {
				return names[i]
			}
			return ""
		}
		if k.Material, k.Carrier = as(k.Material), as(k.Carrier); k.Material != "" && k.Carrier != "" && recipe.Key(k.Material) != recipe.Key(k.Carrier) {
			all = append(all, k)
		}
	}
	return all
}

package plan

import (
	"slices"

	"tared/session/recipe"
	"tared/session/sheet"
	"tared/session/stock"
	"tared/session/text"
)

// NewMix stands for the mark of a lot where a mixture is to be made anew, though one is kept.
const NewMix = "new"

// same reports whether two names are of one material in the stock.
func (r Request) same(a, b string) bool {
	return stock.Key(r.Materials, a) == stock.Key(r.Materials, b)
}

// kept adds the kept mixtures that can serve. Where a person chose a lot for a material, no
// other does; one that is a mixture goes in by it.
func (r Request) kept(q *sheet.Request) {
	if r.Stock == nil {
		return
	}
	names := r.names(q.Recipe)
	for _, k := range r.Stock.Kept(names, r.same) {
		mark, chosen := "", false
		for name, m := range r.Lots {
			if recipe.Key(name) == recipe.Key(k.Material) {
				mark, chosen = m, true
			}
		}
		l, _ := r.Stock.Find(mark)
		if chosen && l.Mark != k.Lot {
			continue
		}
		if q.Kept = append(q.Kept, k); chosen && !slices.ContainsFunc(q.Aliquot, func(n string) bool { return recipe.Key(n) == recipe.Key(k.Material) }) {
			q.Aliquot = append(slices.Clone(q.Aliquot), k.Material)
		}
	}
}

// useKept notes the kept lots that a sheet takes from, and refuses one that a person chose and
// that does not serve.
func (s *supply) useKept(sh sheet.Sheet) error {
	lines := slices.Clone(sh.Lines)
	for _, c := range sh.Cups {
		lines = append(lines, c.Lines...)
	}
	for _, l := range lines {
		if a := l.Aliquot; a != nil && a.Lot != "" {
			s.inUse[recipe.Key(a.Name())], _ = s.r.Stock.Find(a.Lot)
		}
		chosen, ok := s.bag(l.Material)
		if ok && chosen.Content != nil && (l.Aliquot == nil && (len(sh.Cups) == 0 || l.Verdict != sheet.Good) || l.Aliquot != nil && l.Aliquot.Lot != chosen.Mark) {
			return unfit(chosen, l)
		}
	}
	return nil
}

// unfit refuses a kept lot that does not serve for a line, and says what would.
func unfit(chosen stock.Lot, l sheet.Line) error {
	made := l.Aliquot
	for _, o := range l.Outs {
		if o.Kind == "aliquot" && o.Lot() == "" {
			made = o.Aliquot
		}
	}
	switch {
	case l.Aliquot == nil && l.Verdict == sheet.Good:
		return text.Refuse("stock.kept-needless", text.Name("lot", chosen.Mark), text.Name("material", l.Material), text.Said("why", chosen.Holds()))
	case made == nil || made.Lot != "":
		return text.Refuse("stock.kept-unfit", text.Name("lot", chosen.Mark), text.Name("material", l.Material), text.Said("why", chosen.Holds()))
	}
	return text.Refuse("stock.kept-instead", text.Name("lot", chosen.Mark), text.Name("material", l.Material), text.Said("why", chosen.Holds()),
		text.In("weigh", made.Weigh, l.Unit, l.Step), text.In("dilute", made.Dilute, l.Unit, l.Step), text.Name("carrier", made.Carrier))
}

// bag is the lot that a person chose for a material.
func (s *supply) bag(material string) (stock.Lot, bool) {
	if s.r.Stock == nil {
		return stock.Lot{}, false
	}
	return s.r.Stock.Find(s.lots[recipe.Key(material)])
}

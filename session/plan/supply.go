package plan

import (
	"errors"
	"maps"
	"math/big"
	"slices"
	"strings"

	"tared/protocol"
	"tared/session/recipe"
	"tared/session/sheet"
	"tared/session/stock"
	"tared/session/text"
)

// supply is the part of a plan that knows the stock: which bag each material comes
// from, how moist it is, and whether it holds enough.
type supply struct {
	r      Request
	plan   func(moist map[string]*big.Rat, base protocol.Mass) (sheet.Sheet, error)
	given  map[string]*big.Rat // moisture that a person gave, by recipe.Key
	lots   map[string]string   // lots that a person chose, by recipe.Key
	inUse  map[string]stock.Lot
	series bool
}

// supplied plans with the stock. Plan makes the sheet with these moistures; base,
// where it is not zero, stands in for the size that was asked for.
func (r Request) supplied(names []string, plan func(moist map[string]*big.Rat, base protocol.Mass) (sheet.Sheet, error)) (sheet.Sheet, error) {
	s := supply{r: r, plan: plan, given: map[string]*big.Rat{}, lots: map[string]string{}, inUse: map[string]stock.Lot{}, series: r.Series != nil}
	if err := s.read(names); err != nil {
		return sheet.Sheet{}, err
	}
	if r.FromStock {
		if r.Base+r.Dry+r.Wet != "" {
			return sheet.Sheet{}, text.Refuse("stock.most-size")
		}
		return s.most(names)
	}
	sh, err := plan(s.given, 0)
	if err != nil || r.Stock == nil && len(s.given) == 0 {
		return sh, err
	}
	for name, dry := range dryNeeds(sh) {
		if l, ok := s.choose(name, dry); ok {
			s.inUse[recipe.Key(name)] = l
		}
	}
	if len(s.moist()) > len(s.given) {
		if sh, err = plan(s.moist(), 0); err != nil {
			return sh, err
		}
	}
	if err := s.useKept(sh); err != nil {
		return sh, err
	}
	s.tell(&sh)
	if Shortage(sh) != nil {
		s.instead(&sh)
	}
	return sh, nil
}

func (s *supply) read(names []string) error {
	known := func(name string, unknown error) error {
		if slices.ContainsFunc(names, func(n string) bool { return recipe.Key(n) == recipe.Key(name) }) {
			return nil
		}
		return unknown
	}
	var errs []error
	for name, given := range s.r.Moist {
		w, err := sheet.ReadMoisture(given)
		if err == nil {
			err = known(name, text.Refuse("stock.moisture-of", text.Name("material", name), text.Names("names", names)))
		} else {
			err = text.Refuse("sheet.of", text.Name("material", name), text.Because("why", err))
		}
		errs = append(errs, err)
		s.given[recipe.Key(name)] = w
	}
	for name, mark := range s.r.Lots {
		err := known(name, text.Refuse("stock.lot-of", text.Name("material", name), text.Names("names", names)))
		if err == nil && mark == NewMix {
			continue
		}
		if err == nil && s.r.Stock != nil {
			switch l, ok := s.r.Stock.Find(mark); {
			case !ok:
				err = text.Refuse("stock.no-lot-of", text.Name("lot", mark), text.Name("material", name))
			case !s.r.same(l.Of(), name):
				err = text.Refuse("stock.other-lot", text.Name("lot", l.Mark), text.Name("has", l.Material), text.Name("material", name))
			}
		} else if err == nil {
			err = text.Refuse("stock.no-stock", text.Name("lot", mark), text.Name("material", name))
		}
		errs = append(errs, err)
		s.lots[recipe.Key(name)] = mark
	}
	return errors.Join(errs...)
}

func (s *supply) choose(name string, dry protocol.Mass) (stock.Lot, bool) {
	if s.r.Stock == nil {
		return stock.Lot{}, false
	}
	if l, ok := s.bag(name); ok && l.Content == nil {
		return l, true
	}
	return s.r.Stock.Choose(s.r.Materials, name, dry)
}

// moist is what is known of all materials; a person's word goes before the lot's.
func (s *supply) moist() map[string]*big.Rat {
	m := map[string]*big.Rat{}
	for k, l := range s.inUse {
		if w := l.Wet(); w != nil {
			m[k] = w
		}
	}
	maps.Copy(m, s.given)
	return m
}

// dryNeeds gives what a sheet needs dry of each material.
func dryNeeds(sh sheet.Sheet) map[string]protocol.Mass {
	need := map[string]protocol.Mass{}
	each(sh, func(name string, l sheet.Line, weighed protocol.Mass) {
		if l.Dry > 0 {
			weighed = weighed.Times(l.Dry, l.Target)
		}
		need[name] += weighed
	})
	return need
}

// needs gives what a sheet takes out of the bags, with what mixtures waste.
func needs(sh sheet.Sheet) map[string]protocol.Mass {
	need := map[string]protocol.Mass{}
	each(sh, func(name string, _ sheet.Line, weighed protocol.Mass) { need[name] += weighed })
	return need
}

// each goes through all that is weighed out of bags.
func each(sh sheet.Sheet, f func(name string, l sheet.Line, weighed protocol.Mass)) {
	by := map[string]sheet.Line{}
	for _, l := range sh.Lines {
		by[l.Material] = l
	}
	for _, l := range sh.Lines {
		if a := l.Aliquot; a != nil && a.Lot != "" {
			f(a.Name(), l, a.Take)
			continue
		} else if a != nil {
			f(l.Material, l, a.Weigh)
			f(a.Carrier, by[a.Carrier], a.Dilute)
			continue
		}
		f(l.Material, l, l.Target-l.Less)
	}
	for _, c := range sh.Cups {
		for _, l := range c.Lines {
			if a := l.Aliquot; a != nil {
				f(a.Name(), l, a.Take)
				continue
			}
			f(l.Material, l, l.Target-l.Less)
		}
	}
}

// tell puts on the sheet where its materials come from, and what is wrong there.
func (s *supply) tell(sh *sheet.Sheet) {
	need := needs(*sh)
	drawn := map[string]protocol.Mass{} // two names can mean one bag
	seen := map[string]bool{}
	each(*sh, func(name string, l sheet.Line, _ protocol.Mass) {
		if seen[name] {
			return
		}
		seen[name] = true
		bag, kept := s.inUse[recipe.Key(name)]
		o := sheet.Lot{Material: name, Moisture: l.Moisture, Need: need[name]}
		if !kept {
			if o.Moisture != "" {
				sh.Lots = append(sh.Lots, o)
			}
			return
		}
		o.Lot, o.Supplier, o.Price, o.Currency, o.Has = bag.Mark, bag.Supplier, bag.Price, bag.Currency, bag.Left
		places := protocol.Apart(o.Need, 0, o.Need.Size(l.U))
		o.Takes, o.Holds = o.Need.Rounded(places), bag.Shown(bag.Left)
		others := s.others(name, bag)
		for _, l := range others {
			o.Others = append(o.Others, l.Mark)
		}
		has := bag.Left - drawn[bag.Mark]
		drawn[bag.Mark] += o.Need
		if o.Short = has < o.Need; o.Short {
			p := protocol.Apart(o.Need, max(has, 0), places)
			says := []text.Message{text.New("stock.short", text.Name("material", name), text.Mass("need", o.Need, p), text.Name("lot", bag.String()), text.Mass("has", max(has, 0), p))}
			if has < 0 {
				says = append(says, text.New("stock.short-below-zero", text.Grams("mass", bag.Shown(-has))))
			}
			for _, l := range others {
				says = append(says, text.New("stock.also", text.Name("lot", l.String()), text.Grams("has", l.Shown(l.Left))))
			}
			o.Words = text.Join(s.r.Reader, says)
		}
		sh.Lots = append(sh.Lots, o)
	})
	for _, l := range sh.Lots {
		if l.Moisture != "" {
			says := text.New("stock.moist-given", text.Name("material", l.Material), text.Share("moisture", l.Moisture))
			if l.Lot != "" && s.given[recipe.Key(l.Material)] == nil {
				says = text.New("stock.moist-lot", text.Name("material", l.Material), text.Share("moisture", l.Moisture), text.Name("lot", l.Lot))
			}
			sh.Words = append(sh.Words, s.r.Reader.Say(says))
		}
	}
}

func (s *supply) others(name string, bag stock.Lot) (all []stock.Lot) {
	for _, l := range s.r.Stock.Of(s.r.Materials, name) {
		if l.Mark != bag.Mark && l.Left > 0 {
			all = append(all, l)
		}
	}
	return all
}

// Unknown are the materials of a sheet, each once, that no table has and nobody said what
// they are.
func Unknown(sh sheet.Sheet) (names []string) {
	lines := slices.Clone(sh.Lines)
	for _, c := range sh.Cups {
		lines = append(lines, c.Lines...)
	}
	for _, l := range lines {
		if l.Unknown && !slices.Contains(names, l.Material) {
			names = append(names, l.Material)
		}
	}
	return names
}

// Shortage refuses a sheet that the stock is too small for.
func Shortage(sh sheet.Sheet) error {
	var all []string
	for _, l := range sh.Lots {
		if l.Short {
			all = append(all, l.Words)
		}
	}
	if len(all) == 0 {
		return nil
	}
	if sh.Instead != nil {
		all = append(all, sh.Instead.Words)
	}
	return text.Refuse("stock.too-little", text.Name("lots", strings.Join(all, " ")))
}

// fits gives the largest size that the lots in use hold, as a share of that of the
// sheet, and the material that bounds it.
func (s *supply) fits(sh sheet.Sheet) (share *big.Rat, by string) {
	need := map[string]protocol.Mass{}
	for name, m := range needs(sh) {
		if l, ok := s.inUse[recipe.Key(name)]; ok {
			need[l.Mark] += m
		}
	}
	seen := map[string]bool{}
	each(sh, func(name string, _ sheet.Line, _ protocol.Mass) {
		l, ok := s.inUse[recipe.Key(name)]
		if !ok || seen[l.Mark] || need[l.Mark] <= 0 {
			return
		}
		seen[l.Mark] = true
		f := big.NewRat(int64(max(l.Left, 0)), int64(need[l.Mark]))
		if share == nil || f.Cmp(share) < 0 {
			share, by = f, name
		}
	})
	return share, by
}

// size is that of a sheet by which it grows: its base, or the base in a cup.
func (s *supply) size(sh sheet.Sheet) protocol.Mass {
	if !s.series {
		return sh.Base
	}
	m, _ := protocol.ParseMass(s.r.Series.Cup) // it was planned with
	return m
}

// roundDown cuts to whole grams, a tenth under ten: what a person would ask for.
func roundDown(m protocol.Mass) protocol.Mass {
	unit := protocol.Gram
	if m < 10*protocol.Gram {
		unit /= 10
	}
	return m - m%unit
}

// instead looks for the largest batch that the stock is enough for. What mixtures
// waste does not shrink with the batch, so each guess is planned and held against
// the bags.
func (s *supply) instead(sh *sheet.Sheet) {
	now := *sh
	for range 4 {
		share, by := s.fits(now)
		if share == nil {
			return
		}
		if share.Cmp(big.NewRat(1, 1)) >= 0 {
			break
		}
		m, err := floor(new(big.Rat).Mul(s.size(now).Rat(), share))
		if m = roundDown(m); err != nil || m <= 0 {
			sh.Instead = &sheet.Instead{By: by, Words: s.r.Reader.Say(text.New("stock.none-enough", text.Name("material", by)))}
			return
		}
		try, err := s.plan(s.moist(), m)
		if err != nil {
			return
		}
		now = try
		if s.series { // the cups are as many as before, and so is the share of each
			sh.Instead = &sheet.Instead{By: by, Cup: m, Words: s.r.Reader.Say(text.New("stock.enough-cups", text.Exact("base", m, 0), text.Name("material", by)))}
			break
		}
		sh.Instead = &sheet.Instead{By: by, Base: m, Words: s.r.Reader.Say(text.New("stock.enough", text.Exact("base", m, 0), text.Name("material", by)))}
	}
	if share, _ := s.fits(now); share == nil || share.Cmp(big.NewRat(1, 1)) < 0 {
		sh.Instead = nil
	}
}

// floor turns grams into a mass, rounded down to the picogram.
func floor(g *big.Rat) (protocol.Mass, error) {
	n := new(big.Int).Mul(g.Num(), big.NewInt(int64(protocol.Gram)))
	if n.Quo(n, g.Denom()); !n.IsInt64() {
		return 0, protocol.ErrRange
	}
	return protocol.Mass(n.Int64()), nil
}

// most plans the largest batch that the stock is enough for, and no larger than is wanted.
func (s *supply) most(names []string) (sheet.Sheet, error) {
	if s.r.Stock == nil {
		return sheet.Sheet{}, text.Refuse("stock.most-no-stock")
	}
	for _, name := range names {
		if l, ok := s.choose(name, stock.Most); ok { // the one that holds most
			s.inUse[recipe.Key(name)] = l
		}
	}
	if len(s.inUse) == 0 {
		return sheet.Sheet{}, text.Refuse("stock.most-no-lot", text.Names("materials", names))
	}
	_, wanted, err := s.r.Weights()
	if err != nil {
		return sheet.Sheet{}, err
	}
	size := 100 * protocol.Gram // any that a scale can hold; it is found by proportion
	again := false
	for range 6 {
		sh, err := s.plan(s.moist(), size)
		if err != nil {
			return sh, err
		}
		share, scarce := s.fits(sh)
		if share == nil {
			return sh, text.Refuse("stock.most-none-used")
		}
		if wanted > 0 {
			if all := new(big.Rat).Quo(wanted.Rat(), sh.Dry.Rat()); all.Cmp(share) < 0 {
				share, scarce = all, ""
			}
		}
		m, err := floor(new(big.Rat).Mul(size.Rat(), share))
		if err != nil {
			return sh, text.Kind(err, text.Refuse("stock.most-because", text.Because("why", err)))
		}
		if m = roundDown(m); m <= 0 && scarce == "" {
			return sh, text.Refuse("plan.most-nothing", text.Name("most", wanted.String()))
		} else if m <= 0 {
			return sh, text.Refuse("stock.most-little", text.Name("material", scarce))
		}
		if m == size || again && m > size {
			s.tell(&sh)
			enough := text.New("stock.enough", text.Exact("base", size, 0), text.Name("material", scarce))
			if scarce == "" {
				enough = text.New("stock.enough-wanted", text.Exact("base", size, 0), text.Exact("most", wanted, 0))
			}
			sh.Words = append([]string{s.r.Reader.Say(enough)}, sh.Words...)
			return sh, nil
		}
		size, again = m, true
	}
	return sheet.Sheet{}, text.Refuse("stock.most-not-found")
}

// Hidden refuses a sheet with a target that its scale cannot show, but for what is to be
// weighed there all the same, and gives the materials that are. A scale that shows the same
// with and without a material cannot witness it.
func Hidden(sh sheet.Sheet, although []string) (all []string, err error) {
	var errs []error
	lines := sh.Hidden()
	for _, l := range lines {
		if slices.ContainsFunc(although, func(name string) bool { return recipe.Key(name) == recipe.Key(l.Material) }) {
			all = append(all, l.Material)
			continue
		}
		errs = append(errs, text.Refuse("plan.hidden", text.Name("material", l.Material), text.Name("scale", l.Scale), text.Exact("target", l.Target, 0), text.Exact("step", l.Step, 0), text.Grams("u", l.U.Doubt())))
	}
	for _, name := range although {
		if !slices.ContainsFunc(lines, func(l sheet.Line) bool { return recipe.Key(l.Material) == recipe.Key(name) }) {
			errs = append(errs, text.Refuse("plan.although-unknown", text.Name("material", name)))
		}
	}
	return all, errors.Join(errs...)
}

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

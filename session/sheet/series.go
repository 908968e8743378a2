package sheet

import (
	"fmt"
	"maps"
	"math/big"
	"slices"
	"strconv"
	"strings"

	"tared/protocol"
	"tared/session/recipe"
	"tared/session/text"
)

// most cups that a series may have; a triangle with ten steps has 66.
const maxCups = 200

var most = strconv.Itoa(maxCups)

// LineSeries gives the k cups of a line blend: the i-th has i/(k-1) of b and the
// rest of a. Eleven cups make steps of 10 %.
func LineSeries(a, b Variation, k int) ([]Variation, error) {
	if k < 2 || k > maxCups {
		return nil, text.Refuse("sheet.line-cups", text.Count("count", k), text.Number("most", most))
	}
	var vs []Variation
	for i := range k {
		share := big.NewRat(int64(i), int64(k-1))
		vs = append(vs, blend(fmt.Sprint(i+1), []Variation{a, b}, []*big.Rat{new(big.Rat).Sub(big.NewRat(1, 1), share), share}))
	}
	return vs, nil
}

// Triangle gives the shares of a, b and c at the (n+1)(n+2)/2 points of a
// triangle with n steps a side, in reading order from a at the top: for two
// steps a, ab, ac, b, bc, c.
func Triangle(n int) [][3]*big.Rat {
	var points [][3]*big.Rat
	for row := 0; row <= n && n > 0; row++ {
		for c := 0; c <= row; c++ {
			points = append(points, [3]*big.Rat{big.NewRat(int64(n-row), int64(n)), big.NewRat(int64(row-c), int64(n)), big.NewRat(int64(c), int64(n))})
		}
	}
	return points
}

// TriangleSeries gives the cups of a triangle blend of three variations.
func TriangleSeries(a, b, c Variation, n int) ([]Variation, error) {
	if n < 1 || (n+1)*(n+2)/2 > maxCups {
		return nil, text.Refuse("sheet.triangle-cups", text.Count("count", n), text.Number("most", most))
	}
	var vs []Variation
	for i, p := range Triangle(n) {
		vs = append(vs, blend(fmt.Sprint(i+1), []Variation{a, b, c}, p[:]))
	}
	return vs, nil
}

// SwapSeries gives the cups of a swap in so many equal steps, from all of the one
// material to all of the other: four steps are 0, 25, 50, 75 and 100 %. Where others
// are given, each step goes with each of them.
func SwapSeries(steps int, others []Variation) ([]Variation, error) {
	if len(others) == 0 {
		others = []Variation{{}}
	}
	if steps < 1 || steps >= maxCups || (steps+1)*len(others) > maxCups {
		return nil, text.Refuse("sheet.swap-cups", text.Number("steps", strconv.Itoa(steps)), text.Number("most", most), text.Number("levels", strconv.Itoa(len(others))))
	}
	var vs []Variation
	for i := range steps + 1 {
		for _, o := range others {
			vs = append(vs, Variation{Mark: fmt.Sprint(len(vs) + 1), Doses: o.Doses, Swapped: big.NewRat(int64(i), int64(steps))})
		}
	}
	return vs, nil
}

// blend mixes variations: each dose times the share of its variation; what is
// named in several is added up, what comes to nothing is left out.
func blend(mark string, vs []Variation, shares []*big.Rat) Variation {
	out := Variation{Mark: mark}
	for i, v := range vs {
		for _, d := range v.Doses {
			p := new(big.Rat).Mul(d.Percent, shares[i])
			k := slices.IndexFunc(out.Doses, func(o Dose) bool { return recipe.Key(o.Material) == recipe.Key(d.Material) })
			switch {
			case k >= 0:
				out.Doses[k].Percent.Add(out.Doses[k].Percent, p)
			case p.Sign() != 0:
				out.Doses = append(out.Doses, Dose{d.Material, p})
			}
		}
	}
	return out
}

// base is the base of the tub: that of all cups, and what is to spare.
func (r SeriesRequest) base() (protocol.Mass, error) {
	if len(r.Cups) == 0 || len(r.Cups) > maxCups {
		return 0, text.Refuse("sheet.series-cups", text.Count("count", len(r.Cups)), text.Number("most", most))
	}
	if r.Cup <= 0 || r.Cup > protocol.OnBench/protocol.Mass(len(r.Cups)) {
		return 0, text.Refuse("sheet.series-cup", text.Exact("mass", r.Cup, 0))
	}
	all := protocol.Mass(len(r.Cups)) * r.Cup
	if r.Spare == nil {
		return all, nil
	}
	if r.Spare.Sign() < 0 || r.Spare.Cmp(big.NewRat(1, 1)) > 0 {
		return 0, text.Refuse("sheet.series-spare", text.Share("share", new(big.Rat).Mul(r.Spare, hundred).FloatString(1)))
	}
	more, err := up(new(big.Rat).Mul(all.Rat(), r.Spare))
	if err != nil {
		return 0, text.Refuse("sheet.series-large")
	}
	return all + more, nil
}

// PlanSeries plans a series. The common part is weighed once and mixed dry, so
// that its error is the same in all cups; each cup takes the same mass of it.
// What is swapped is no part of it but weighed into each cup, so the shares of the
// common part are of what is in it.
// Cups go from the least strong colourant to the most, and in a cup additions
// come before strong colourants, so that what clings to a spoon matters least.
func PlanSeries(r SeriesRequest) (Series, error) {
	var s Series
	if r.Size != (Size{}) {
		return s, text.Refuse("sheet.series-size")
	}
	all, err := r.base()
	if err != nil {
		return s, err
	}
	common := r.Request
	common.Size.Base = all
	common.Water = nil // each cup gets its own
	wished := r
	if err := r.mixtures(&common); err != nil {
		return s, err
	}
	k := parts{base: r.Cup, left: hundred}
	if err := r.apart(&common, &k); err != nil {
		return s, err
	}
	common.Roles, common.AllowFor = about(common.Roles, common.Recipe), about(common.AllowFor, common.Recipe)
	if s.Common, err = Plan(common); err != nil {
		return s, err
	}
	_, adds := common.Recipe.Shares() // in percent of the base that is in the tub
	k.mix = s.Common.moisture()
	if k.take, err = protocol.RoundRat(k.of(r.Cup, new(big.Rat).Add(hundred, adds))); err != nil {
		return s, text.Refuse("sheet.series-large")
	}
	shared := newMemo()
	seen := map[string]bool{}
	strength := map[string]*big.Rat{}
	for _, v := range r.Cups {
		if v.Mark == "" || seen[v.Mark] {
			return s, text.Refuse("sheet.series-mark", text.Name("mark", v.Mark))
		}
		seen[v.Mark] = true
		cup, words, err := r.cup(v, k, shared)
		if err != nil {
			return s, text.Refuse("sheet.cup", text.Name("cup", v.Mark), text.Because("why", err))
		}
		for _, w := range words {
			if !slices.Contains(s.Words, w) && !slices.Contains(s.Common.Words, w) {
				s.Words = append(s.Words, w)
			}
		}
		strength[v.Mark] = new(big.Rat)
		for _, l := range cup.Lines {
			if l.Role == Strong {
				strength[v.Mark].Add(strength[v.Mark], l.Share)
			}
		}
		s.Cups = append(s.Cups, cup)
	}
	if !r.tried {
		s.Mixes = wished.offers(s.Cups)
	}
	slices.SortStableFunc(s.Cups, func(a, b Cup) int { return strength[a.Mark].Cmp(strength[b.Mark]) })
	take := s.Cups[0].Take
	p := protocol.Apart(take.Target, k.base, take.Target.Size(take.U))
	words := []string{r.Reader.Say(text.New("sheet.series", text.Count("count", len(s.Cups)), text.Mass("take", take.Target, p), text.Mass("base", k.base, min(p, k.base.Places()))))}
	s.Swap = k.swap()
	s.Words = append(append(words, s.Swap.words(r.Materials.Or(), r.Reader, r.Cup)...), s.Words...)
	return s, nil
}

// moisture is that of all lines together as they are weighed, in percent of the
// whole; nil where all are dry.
func (sh Sheet) moisture() *big.Rat {
	wet, dry := new(big.Rat), new(big.Rat)
	for _, l := range sh.Lines {
		wet.Add(wet, l.Target.Rat())
		if l.Moisture == "" {
			dry.Add(dry, l.Target.Rat())
		} else {
			dry.Add(dry, l.Dry.Rat())
		}
	}
	if wet.Cmp(dry) == 0 {
		return nil
	}
	w := new(big.Rat).Sub(wet, dry)
	return w.Quo(w.Mul(w, hundred), wet)
}

// about keeps the rules that are about the materials of a recipe.
func about[T any](rules map[string]T, r recipe.Recipe) map[string]T {
	out := map[string]T{}
	for name, v := range rules {
		if slices.ContainsFunc(r.Items, func(it recipe.Item) bool { return recipe.Key(it.Name) == recipe.Key(name) }) {
			out[name] = v
		}
	}
	return out
}

// cup plans one cup as a small batch whose base is the common mix, with what it
// gets of a base material that is swapped.
func (r SeriesRequest) cup(v Variation, k parts, shared *memo) (Cup, []string, error) {
	req := r.Request
	if k.mix != nil {
		req.Moist = maps.Clone(req.Moist)
		req.Moist[commonName()] = k.mix // never nil: a mix is moist because something in it is
	}
	req.Order = nil
	req.Recipe = recipe.Recipe{Items: []recipe.Item{{Name: commonName(), Share: hundred}}}
	percents := map[string]*big.Rat{}
	base, err := r.swapped(&v, k, &req.Recipe, percents)
	if err != nil {
		return Cup{}, nil, err
	}
	req.Size = Size{Base: base}
	for _, d := range v.Doses {
		if d.Percent == nil || d.Percent.Sign() < 0 {
			return Cup{}, nil, text.Refuse("sheet.dose-negative", text.Name("material", d.Material))
		}
		if d.Percent.Sign() == 0 {
			continue
		}
		if recipe.Key(d.Material) == recipe.Key(commonName()) || percents[recipe.Key(d.Material)] != nil || strings.TrimSpace(d.Material) == "" {
			return Cup{}, nil, text.Refuse("sheet.dose-name", text.Name("material", d.Material))
		}
		percents[recipe.Key(d.Material)] = d.Percent
		// The percentage is of the base in the cup, and the common mix holds the
		// common additions besides.
		share := new(big.Rat).Quo(new(big.Rat).Mul(d.Percent, r.Cup.Rat()), base.Rat())
		req.Recipe.Items = append(req.Recipe.Items, recipe.Item{Name: d.Material, Addition: true, Share: share})
	}
	req.Roles, req.AllowFor = about(req.Roles, req.Recipe), about(req.AllowFor, req.Recipe)
	req.Aliquot = slices.DeleteFunc(slices.Clone(req.Aliquot), func(name string) bool { return percents[recipe.Key(name)] == nil })
	p := planner{req: req, quiet: commonName(), memo: shared}
	sh, err := p.plan()
	if err != nil {
		return Cup{}, nil, err
	}
	c := Cup{Mark: v.Mark, Water: sh.Water}
	for _, l := range sh.Lines {
		if l.Material == commonName() {
			c.Take = l
			continue
		}
		l.Share = percents[recipe.Key(l.Material)]
		l.Percent = percent(l.Share)
		c.Lines = append(c.Lines, l)
	}
	return c, sh.Words, nil
}

package session

import (
	"errors"
	"math/big"
	"strconv"
	"strings"

	"tared/protocol"
	"tared/session/batch"
	"tared/session/fact"
	"tared/session/recipe"
	"tared/session/sheet"
	"tared/session/text"
)

// SeriesRequest is a wish for a series of tests on one base, as a person writes it.
type SeriesRequest struct {
	Cup   string `json:"cup"`   // base in each cup, such as "100g"
	Spare string `json:"spare"` // how much more to mix than the cups take, such as "5%"; empty: 5 %
	// Blend is how the additions are varied. grid, or empty: every level of each
	// with every level of the others. line: from the first at its level to the
	// second at its own. triangle: between three.
	Blend string     `json:"blend"`
	Steps int        `json:"steps"` // line: cups; triangle: steps a side; swap: steps from the one to the other
	Vary  []Addition `json:"vary"`
	// Swap exchanges one material for another in equal steps; with additions that are
	// varied, each step goes with each of their levels.
	Swap Swap `json:"swap,omitzero"`
}

// Swap names a material of the recipe and the one that takes its place.
type Swap struct {
	Out string `json:"out"`
	In  string `json:"in"`
}

// Addition is a material that is varied: percent of the base, "0.5 1 2".
type Addition struct {
	Material string `json:"material"`
	Levels   string `json:"levels"`
}

// usualSpare is what is mixed more than the cups take, for what clings and what
// the last cup would want (ours).
const usualSpare = "5%"

// cups reads the wish into what each cup gets.
func (w SeriesRequest) cups() ([]sheet.Variation, error) {
	swap := w.Swap != (Swap{})
	switch {
	case swap && w.Blend != "" && w.Blend != "grid":
		return nil, text.Refuse("series.swap-blend", text.Name("blend", w.Blend))
	case swap && len(w.Vary) > 2:
		return nil, text.Refuse("series.swap-additions", text.Number("count", strconv.Itoa(len(w.Vary))))
	case swap && len(w.Vary) == 0:
		return sheet.SwapSeries(w.Steps, nil)
	case len(w.Vary) < 1 || len(w.Vary) > 3:
		return nil, text.Refuse("series.additions", text.Number("count", strconv.Itoa(len(w.Vary))))
	}
	levels := make([][]*big.Rat, len(w.Vary))
	for i, a := range w.Vary {
		if strings.TrimSpace(a.Material) == "" {
			return nil, text.Refuse("series.unnamed")
		}
		for _, b := range w.Vary[:i] {
			if recipe.Key(a.Material) == recipe.Key(b.Material) {
				return nil, text.Refuse("series.twice", text.Name("material", a.Material))
			}
		}
		for f := range strings.FieldsFuncSeq(a.Levels, func(r rune) bool { return r == ' ' || r == ';' || r == '%' || r == '\t' }) {
			d, err := protocol.ParseHumanDecimal(f)
			if err != nil || d.Neg {
				return nil, text.Refuse("series.level", text.Name("material", a.Material), text.Name("level", strconv.Quote(f)))
			}
			p, _ := new(big.Rat).SetString(d.String())
			if p.Cmp(big.NewRat(100, 1)) > 0 {
				return nil, text.Refuse("series.level-most", text.Name("material", a.Material), text.Name("level", strconv.Quote(f)))
			}
			levels[i] = append(levels[i], p)
		}
		if len(levels[i]) == 0 {
			return nil, text.Refuse("series.no-levels", text.Name("material", a.Material))
		}
	}
	top := func(i int) sheet.Variation {
		most := levels[i][0]
		for _, p := range levels[i] {
			if p.Cmp(most) > 0 {
				most = p
			}
		}
		return sheet.Variation{Doses: []sheet.Dose{{Material: w.Vary[i].Material, Percent: most}}}
	}
	switch w.Blend {
	case "", "grid":
		all, err := grid(w.Vary, levels)
		if err != nil || !swap {
			return all, err
		}
		return sheet.SwapSeries(w.Steps, all)
	case "line":
		if len(w.Vary) != 2 {
			return nil, text.Refuse("series.line", text.Number("count", strconv.Itoa(len(w.Vary))))
		}
		return sheet.LineSeries(top(0), top(1), w.Steps)
	case "triangle":
		if len(w.Vary) != 3 {
			return nil, text.Refuse("series.triangle", text.Number("count", strconv.Itoa(len(w.Vary))))
		}
		return sheet.TriangleSeries(top(0), top(1), top(2), w.Steps)
	}
	return nil, text.Refuse("series.blend", text.Name("blend", strconv.Quote(w.Blend)))
}

// grid gives every level of each addition with every level of the others.
func grid(vary []Addition, levels [][]*big.Rat) ([]sheet.Variation, error) {
	n := 1
	for i := range levels {
		if n *= len(levels[i]); n > 200 {
			return nil, errors.New("series: more than 200 cups: give fewer levels")
		}
	}
	out := make([]sheet.Variation, n)
	for k := range out {
		rest := k
		out[k].Mark = strconv.Itoa(k + 1)
		for i := len(vary) - 1; i >= 0; i-- {
			out[k].Doses = append([]sheet.Dose{{Material: vary[i].Material, Percent: levels[i][rest%len(levels[i])]}}, out[k].Doses...)
			rest /= len(levels[i])
		}
	}
	return out, nil
}

// Sheet plans what is wished for: a batch, or the tub of a series with its cups.
func (r PlanRequest) Sheet(scales []sheet.Scale) (sheet.Sheet, error) {
	sh, err := r.sheet(scales)
	if err != nil {
		return sh, err
	}
	if most, _ := r.most(); most > 0 && sh.Dry > most { // it was understood when the sheet was made
		if len(sh.Cups) > 0 {
			return sheet.Sheet{}, text.Refuse("sheet.most-tub", text.Mass("dry", sh.Dry, 1), text.Exact("most", most, 0))
		}
		return sheet.Sheet{}, text.Refuse("sheet.most", text.Mass("dry", sh.Dry, 1), text.Exact("most", most, 0))
	}
	return sh, nil
}

func (r PlanRequest) sheet(scales []sheet.Scale) (sheet.Sheet, error) {
	q, err := r.Request(scales)
	if err != nil {
		return sheet.Sheet{}, err
	}
	var names []string
	for _, it := range q.Recipe.Items {
		names = append(names, it.Name)
	}
	if r.Series == nil {
		return r.supplied(names, func(moist map[string]*big.Rat, base protocol.Mass) (sheet.Sheet, error) {
			q.Moist = moist
			if base > 0 {
				q.Size = sheet.Size{Base: base}
			}
			return sheet.Plan(q)
		})
	}
	names = append(names, r.Series.names()...)
	return r.supplied(names, func(moist map[string]*big.Rat, cup protocol.Mass) (sheet.Sheet, error) {
		q.Moist = moist
		return r.series(q, cup)
	})
}

// series plans the tub with its cups; a cup above zero stands in for the base in
// each that was asked for.
func (r PlanRequest) series(q sheet.Request, cup protocol.Mass) (sheet.Sheet, error) {
	var err error
	w := r.Series
	if r.Base+r.Dry+r.Wet != "" || r.FromStock {
		return sheet.Sheet{}, errors.New("batch size: that of a series follows from its cups; leave it out")
	}
	if len(r.Aliquot) > 0 {
		return sheet.Sheet{}, text.Refuse("series.diluted")
	}
	s := sheet.SeriesRequest{Request: q}
	if s.Cup, err = protocol.ParseMass(w.Cup); err != nil {
		return sheet.Sheet{}, text.Refuse("series.cup", text.Because("why", err))
	}
	if cup > 0 {
		s.Cup = cup
	}
	spare := w.Spare
	if strings.TrimSpace(spare) == "" {
		spare = usualSpare
	}
	d, err := protocol.ParseHumanDecimal(strings.TrimSuffix(strings.TrimSpace(spare), "%"))
	if err != nil {
		return sheet.Sheet{}, text.Refuse("series.spare", text.Because("why", err))
	}
	s.Spare, _ = new(big.Rat).SetString(d.String())
	s.Spare.Quo(s.Spare, big.NewRat(100, 1))
	if s.Cups, err = w.cups(); err != nil {
		return sheet.Sheet{}, err
	}
	s.Swap = sheet.Swap(w.Swap)
	for _, a := range w.Vary {
		for _, name := range []string{w.Swap.Out, w.Swap.In} {
			if recipe.Key(name) == recipe.Key(a.Material) {
				return sheet.Sheet{}, text.Refuse("series.varied-swapped", text.Name("material", a.Material))
			}
		}
	}
	for _, v := range s.Cups {
		for _, dose := range v.Doses {
			for _, it := range q.Recipe.Items {
				if recipe.Key(it.Name) == recipe.Key(dose.Material) {
					return sheet.Sheet{}, text.Refuse("series.varied-recipe", text.Name("material", it.Name))
				}
			}
		}
	}
	plan, err := sheet.PlanSeries(s)
	if err != nil {
		return sheet.Sheet{}, err
	}
	sh := plan.Common
	sh.Cups, sh.Swap = plan.Cups, plan.Swap
	sh.AllowFor = q.AllowFor // those of the cups, too
	sh.Words = append(plan.Words, sh.Words...)
	return sh, nil
}

// names gives the materials that a series may bring beside those of the recipe.
func (w *SeriesRequest) names() []string {
	var names []string
	for _, a := range w.Vary {
		names = append(names, a.Material)
	}
	if strings.TrimSpace(w.Swap.In) != "" {
		names = append(names, w.Swap.In)
	}
	return names
}

// label says what a cup gets, for its title and for the tile.
func label(c sheet.Cup) string {
	var all []string
	for _, l := range c.Lines {
		all = append(all, l.Material+" "+l.Percent+" %")
	}
	if len(all) == 0 {
		return "nothing more"
	}
	return strings.Join(all, ", ")
}

// cups is the part of a plan that says what the tub is split into.
func cups(sh sheet.Sheet, text string) fact.Series {
	if len(sh.Cups) == 0 {
		return fact.Series{}
	}
	s := fact.Series{Cups: uint64(len(sh.Cups))}
	whole := func(sheet.Cup) string { return text }
	if w := sh.Swap; w != nil {
		s.Swap = fact.Swap{Out: w.Out, In: w.In, Share: w.Share.RatString(), Addition: w.Addition}
		whole = swappedText(text, *w)
	}
	for _, c := range sh.Cups {
		p := fact.CupPlan{Label: label(c), Take: batch.LineFrom(c.Take), Recipe: strings.TrimRight(whole(c), "\n") + "\n"}
		if c.Water != nil {
			p.Water = batch.LineFrom(*c.Water)
		}
		for _, l := range c.Lines {
			p.Lines = append(p.Lines, placed(l))
			if s.Swap.Is(l.Material) {
				continue // the text has it
			}
			p.Recipe += "+ " + l.Material + " " + endingShare(l.Share) + "%\n"
		}
		s.Plans = append(s.Plans, p)
	}
	return s
}

// endingShare writes a share so that it can be read back: what does not end, such as
// a third, to nine decimals.
func endingShare(r *big.Rat) string {
	if s := recipe.Decimal(r, 9); !strings.Contains(s, "/") {
		return s
	}
	return r.FloatString(9)
}

// swappedText gives, for a cup, the text of the recipe with what the cup has of the
// two materials that are swapped.
func swappedText(text string, w sheet.Swapped) func(sheet.Cup) string {
	rec, err := recipe.Parse(text)
	pair, wrong := rec.Pair(w.Out, w.In)
	if err != nil || wrong != nil || pair.Out.Share.Sign() == 0 {
		return func(sheet.Cup) string { return text } // it was read when the cups were planned
	}
	return func(c sheet.Cup) string {
		left := new(big.Rat) // of Out
		for _, l := range c.Lines {
			if recipe.Key(l.Material) == recipe.Key(w.Out) {
				left = l.Share
			}
		}
		part := new(big.Rat).Sub(pair.Out.Share, left)
		return rec.Swapped(pair, part.Quo(part, pair.Out.Share)).Text
	}
}

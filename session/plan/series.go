package plan

import (
	"cmp"
	"math/big"
	"slices"
	"strconv"
	"strings"

	"tared/protocol"
	"tared/session/recipe"
	"tared/session/sheet"
	"tared/session/text"
)

// Series is a wish for a series of tests on one base, as a person writes it.
type Series struct {
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
func (w Series) cups() ([]sheet.Variation, error) {
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
	levels, err := w.levels()
	if err != nil {
		return nil, err
	}
	if w.Blend != "" && w.Blend != "grid" {
		return w.blend(levels)
	}
	all, err := grid(w.Vary, levels)
	if err != nil || !swap {
		return all, err
	}
	return sheet.SwapSeries(w.Steps, all)
}

// blend gives the cups between the additions, each up to its highest level.
func (w Series) blend(levels [][]*big.Rat) ([]sheet.Variation, error) {
	top := make([]sheet.Variation, len(w.Vary))
	for i, a := range w.Vary {
		most := slices.MaxFunc(levels[i], (*big.Rat).Cmp)
		top[i] = sheet.Variation{Doses: []sheet.Dose{{Material: a.Material, Percent: most}}}
	}
	switch w.Blend {
	case "line":
		if len(top) != 2 {
			return nil, text.Refuse("series.line", text.Number("count", strconv.Itoa(len(w.Vary))))
		}
		return sheet.LineSeries(top[0], top[1], w.Steps)
	case "triangle":
		if len(top) != 3 {
			return nil, text.Refuse("series.triangle", text.Number("count", strconv.Itoa(len(w.Vary))))
		}
		return sheet.TriangleSeries(top[0], top[1], top[2], w.Steps)
	}
	return nil, text.Refuse("series.blend", text.Name("blend", strconv.Quote(w.Blend)))
}

func (w Series) levels() ([][]*big.Rat, error) {
	var all [][]*big.Rat
	for i, a := range w.Vary {
		if strings.TrimSpace(a.Material) == "" {
			return nil, text.Refuse("series.unnamed")
		}
		for _, b := range w.Vary[:i] {
			if recipe.Key(a.Material) == recipe.Key(b.Material) {
				return nil, text.Refuse("series.twice", text.Name("material", a.Material))
			}
		}
		levels, err := a.levels()
		if err != nil {
			return nil, err
		}
		all = append(all, levels)
	}
	return all, nil
}

func (a Addition) levels() ([]*big.Rat, error) {
	var levels []*big.Rat
	for f := range strings.FieldsFuncSeq(a.Levels, func(r rune) bool { return r == ' ' || r == ';' || r == '%' || r == '\t' }) {
		d, err := protocol.ParseHumanDecimal(f)
		if err != nil || d.Neg {
			return nil, text.Refuse("series.level", text.Name("material", a.Material), text.Name("level", strconv.Quote(f)))
		}
		p, _ := new(big.Rat).SetString(d.String())
		if p.Cmp(big.NewRat(100, 1)) > 0 {
			return nil, text.Refuse("series.level-most", text.Name("material", a.Material), text.Name("level", strconv.Quote(f)))
		}
		levels = append(levels, p)
	}
	if len(levels) == 0 {
		return nil, text.Refuse("series.no-levels", text.Name("material", a.Material))
	}
	return levels, nil
}

// grid gives every level of each addition with every level of the others.
func grid(vary []Addition, levels [][]*big.Rat) ([]sheet.Variation, error) {
	n := 1
	for i := range levels {
		if n *= len(levels[i]); n > 200 {
			return nil, text.Refuse("series.too-many")
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

// series plans the tub with its cups; a cup above zero stands in for the base in
// each that was asked for.
func (r Request) series(q sheet.Request, cup protocol.Mass) (sheet.Sheet, error) {
	w := r.Series
	if r.Base+r.Dry+r.Wet != "" || r.FromStock {
		return sheet.Sheet{}, text.Refuse("series.size")
	}
	asked, err := protocol.ParseMass(w.Cup)
	if err != nil {
		return sheet.Sheet{}, text.Refuse("series.cup", text.Because("why", err))
	}
	s := sheet.SeriesRequest{Request: q, Cup: cmp.Or(cup, asked)}
	spare := cmp.Or(strings.TrimSpace(w.Spare), usualSpare)
	d, err := protocol.ParseHumanDecimal(strings.TrimSuffix(spare, "%"))
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
	sh.Cups, sh.Swap, sh.Mixes = plan.Cups, plan.Swap, plan.Mixes
	sh.AllowFor = q.AllowFor // those of the cups, too
	sh.Words = append(plan.Words, sh.Words...)
	return sh, nil
}

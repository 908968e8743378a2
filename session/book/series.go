package book

import (
	"cmp"
	"math/big"
	"slices"
	"strings"

	"tared/session/fact"
	"tared/session/recipe"
	"tared/session/text"
)

// Series is a series of tests laid out by what was varied: a grid for each level
// of the third addition, or one where there are two at most.
type Series struct {
	Mark  string   `json:"mark"` // of the tub
	Title string   `json:"title"`
	Swap  string   `json:"swap,omitempty"` // what takes the place of what, in words; its axis is what comes in
	Axes  []string `json:"axes"`           // the additions that were varied: across, down, and from grid to grid
	Grids []Grid   `json:"grids"`
}

// Grid is one table of a series. Levels are percent of the base, as planned.
type Grid struct {
	Level string   `json:"level,omitempty"` // of the third addition
	Cols  []string `json:"cols"`            // levels of the first addition
	Rows  []string `json:"rows"`            // levels of the second; one empty level where nothing else was varied
	Cells [][]Spot `json:"cells"`           // by row
}

// Spot is one place of a grid.
type Spot struct {
	Cup   string   `json:"cup,omitempty"` // mark of the batch; empty: no cup has these levels
	State State    `json:"state,omitempty"`
	Label string   `json:"label,omitempty"`
	Made  []string `json:"made,omitempty"` // what went in of the varied additions, percent of the base
	Off   bool     `json:"off,omitempty"`  // a material is outside its band
	Tile  string   `json:"tile,omitempty"` // the one that was judged last
	Words string   `json:"words,omitempty"`
	// Photos are those of the last judgement that has any.
	Photos []string `json:"photos"`
}

// Series lays out the series to which a batch belongs, its tub or one of its cups;
// ok is false when it belongs to none.
func (b *Book) Series(mark string) (s Series, ok bool) {
	n := b.Find(mark)
	if n == nil {
		return s, false
	}
	if of := n.Plan.Series.Of; of != "" {
		if n = b.Find(of); n == nil {
			return s, false
		}
	}
	plans := n.Plan.Series.Plans
	if len(plans) == 0 {
		return s, false
	}
	s = Series{Mark: n.Mark, Title: n.Title}
	s.vary(n.Plan.Series, n.reader)
	across, down, deep := s.levels(0, plans), s.levels(1, plans), s.levels(2, plans)
	for _, z := range deep {
		g := Grid{Level: s.shown(2, z)}
		for _, x := range across {
			g.Cols = append(g.Cols, s.shown(0, x))
		}
		for _, y := range down {
			g.Rows = append(g.Rows, s.shown(1, y))
			row := make([]Spot, len(across))
			for i, x := range across {
				row[i].Photos = []string{}
				for k, p := range plans {
					if s.level(p, 0).Cmp(x) == 0 && s.level(p, 1).Cmp(y) == 0 && s.level(p, 2).Cmp(z) == 0 {
						row[i] = b.spot(n.Mark, k+1, p, s.Axes)
					}
				}
			}
			g.Cells = append(g.Cells, row)
		}
		s.Grids = append(s.Grids, g)
	}
	return s, true
}

// vary names what was varied.
func (s *Series) vary(plan fact.Series, l *text.Language) {
	swap := plan.Swap
	if share, ok := new(big.Rat).SetString(swap.Share); ok && swap.Out != "" {
		s.Axes = []string{swap.In}
		s.Swap = l.Say(text.New("record.series-swap", text.Name("in", swap.In), text.Name("out", swap.Out), text.Share("share", percentText(share.RatString()))))
	}
	for _, p := range plan.Plans {
		for _, l := range p.Lines {
			if recipe.Key(l.Material) == recipe.Key(swap.Out) {
				continue // it is what the other leaves of it
			}
			if !slices.ContainsFunc(s.Axes, func(a string) bool { return recipe.Key(a) == recipe.Key(l.Material) }) {
				s.Axes = append(s.Axes, l.Material)
			}
		}
	}
}

// level gives how much a cup has of what was varied along an axis.
func (s Series) level(p fact.CupPlan, axis int) *big.Rat {
	if axis < len(s.Axes) {
		for _, l := range p.Lines {
			if r, ok := new(big.Rat).SetString(l.Share); ok && recipe.Key(l.Material) == recipe.Key(s.Axes[axis]) {
				return r
			}
		}
	}
	return new(big.Rat)
}

// levels gives all along an axis, the least first.
func (s Series) levels(axis int, plans []fact.CupPlan) (all []*big.Rat) {
	for _, p := range plans {
		if l := s.level(p, axis); !slices.ContainsFunc(all, func(o *big.Rat) bool { return o.Cmp(l) == 0 }) {
			all = append(all, l)
		}
	}
	slices.SortFunc(all, (*big.Rat).Cmp)
	return all
}

func (s Series) shown(axis int, level *big.Rat) string {
	if axis >= len(s.Axes) {
		return ""
	}
	return percentText(level.RatString())
}

// spot tells what is known of a cup.
func (b *Book) spot(tub string, cup int, p fact.CupPlan, axes []string) Spot {
	o := Spot{Label: p.Label, Photos: []string{}}
	var n *Batch
	for _, c := range b.batches {
		if strings.EqualFold(c.Plan.Series.Of, tub) && c.Plan.Series.Cup == uint64(cup) {
			n = c
		}
	}
	if n == nil {
		return o // not weighed yet
	}
	o.Cup, o.State = n.Mark, n.State()
	if n.Finished {
		o.Off = n.Row().Off > 0
		lines, _, _ := n.asMade()
		for _, a := range axes {
			for _, l := range lines {
				if recipe.Key(l.Material) == recipe.Key(a) {
					o.Made = append(o.Made, l.Share)
				}
			}
		}
	}
	for _, t := range n.facts {
		j, ok := t.Body.(fact.Judged)
		if !ok || t.void {
			continue
		}
		o.Tile, o.Words = j.Tile, cmp.Or(j.Verdict, j.Words)
		if len(j.Photos) > 0 {
			o.Photos = j.Photos
		}
	}
	return o
}

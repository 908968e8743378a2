package web

import (
	"cmp"
	"net/http"
	"slices"

	"tared/session/recipebook"
	"tared/session/stock"
	"tared/session/text"
)

// shelf is what lies in the stock, and the recipes that are kept.
type shelf struct {
	Lots    []lotRow            `json:"lots"`
	Recipes []recipebook.Recipe `json:"recipes"`
}

type lotRow struct {
	stock.Lot
	Trouble string `json:"trouble,omitempty"`
}

func (s *site) shelf(r *http.Request) (shelf, error) {
	lots, recipes, err := s.cfg.Bench.LotsAndRecipes(r.Context())
	out := shelf{[]lotRow{}, append([]recipebook.Recipe{}, recipes...)}
	for _, l := range lots {
		out.Lots = append(out.Lots, lotRow{l, l.Trouble()})
	}
	return out, err
}

// stockPage is the stock as the page lists it.
type stockPage struct {
	shelf
	Corrections []correction // the latest first
}

// correction is one of them, with the lot that it is of.
type correction struct {
	stock.Entry
	Lot stock.Lot
}

// Side is one side of it: a share says so.
func (c correction) Side(value string) text.Message {
	switch {
	case value == "":
		return text.New("page.stock.nothing")
	case c.Field == "moisture":
		return text.New("page.stock.percent", text.Share("share", value))
	}
	return text.Written(value)
}

// Empty reports whether nothing is left of a lot.
func (l lotRow) Empty() bool { return l.Left == 0 }

func stockData(s *site, r *http.Request) (any, error) {
	all, err := s.shelf(r)
	p := stockPage{shelf: all}
	for _, l := range all.Lots {
		for _, e := range l.Entries {
			p.Corrections = append(p.Corrections, correction{e, l.Lot})
		}
	}
	slices.SortStableFunc(p.Corrections, func(a, b correction) int { return cmp.Compare(b.Seq, a.Seq) })
	return p, err
}

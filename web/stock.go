package web

import (
	"cmp"
	"net/http"
	"slices"
	"strings"

	"tared/session"
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
	Any        bool // lots in stock
	Find, Sort string
	Whole      bool                 // those of which nothing is left, too
	Lot        string               // the one that is to be corrected
	Left       string               // the batch of which the rest of a mixture is to be kept
	Made       session.MixedRequest // what was to be mixed, with the weights that were wished for
	Listed     []lotRow             // those that are found
	asked      []lotRow             // Lot, where there is one
	leaf
	Corrections []correction // of those, the latest first
}

// Sorts are the orders there are; the first is the usual one.
func (stockPage) Sorts() []sorting {
	return []sorting{
		{"", text.New("page.stock.sort-mark")},
		{"material", text.New("page.stock.sort-material")},
		{"left", text.New("page.stock.sort-left")},
		{"opened", text.New("page.stock.sort-opened")},
	}
}

// compare compares lots in the order wished for.
func (p *stockPage) compare(a, b lotRow) int {
	switch p.Sort {
	case "material":
		return cmp.Compare(strings.ToLower(a.Material), strings.ToLower(b.Material))
	case "left":
		return cmp.Compare(a.Left, b.Left)
	case "opened":
		return cmp.Compare(a.Opened, b.Opened)
	}
	return 0
}

// find gives the lots that have all the words that were typed, in the order wished for.
func (p *stockPage) find(lots []lotRow) (found []lotRow) {
	words := strings.Fields(strings.ToLower(p.Find))
	for _, l := range lots {
		in := strings.ToLower(strings.Join([]string{l.Mark, l.Material, l.Supplier, l.Words, l.Opened}, "\n"))
		if (p.Whole || !l.Empty()) && !slices.ContainsFunc(words, func(w string) bool { return !strings.Contains(in, w) }) {
			found = append(found, l)
		}
	}
	slices.SortStableFunc(found, p.compare)
	return found
}

// Mendable are the lots that can be corrected here: those of the list, and the one asked for.
func (p stockPage) Mendable() []lotRow {
	if slices.ContainsFunc(p.Listed, func(l lotRow) bool { return l.Mark == p.Lot }) {
		return p.Listed
	}
	return append(slices.Clone(p.asked), p.Listed...)
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
	p := stockPage{Any: len(all.Lots) > 0, Find: r.FormValue("find"), Sort: r.FormValue("sort"), Whole: r.FormValue("all") != "", Lot: r.FormValue("lot"), Left: r.FormValue("left"),
		Made: session.MixedRequest{Material: r.FormValue("material"), Weighed: r.FormValue("weigh"), Carrier: r.FormValue("carrier"), Into: r.FormValue("into")}}
	found := p.find(all.Lots)
	_ = p.turn(r, func(first, most int) (int, error) { // cannot fail
		p.Listed = found[min(first, len(found)):min(first+most, len(found))]
		return len(found), nil
	})
	if i := slices.IndexFunc(all.Lots, func(l lotRow) bool { return l.Mark == p.Lot }); i >= 0 {
		p.asked = all.Lots[i : i+1]
	}
	for _, l := range p.Listed {
		for _, e := range l.Entries {
			p.Corrections = append(p.Corrections, correction{e, l.Lot})
		}
	}
	slices.SortStableFunc(p.Corrections, func(a, b correction) int { return cmp.Compare(b.Seq, a.Seq) })
	return p, err
}

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
	shelf
	Find, Sort  string
	Left        string               // the batch of which the rest of a mixture is to be kept
	Made        session.MixedRequest // what was to be mixed, with the weights that were wished for
	Listed      []lotRow             // those that are found
	Corrections []correction         // the latest first
}

// stockSort is an order in which lots are listed.
type stockSort struct {
	Name  string
	Words text.Message
	by    func(a, b lotRow) int
}

// Sorts are the orders there are; the first is the usual one.
func (stockPage) Sorts() []stockSort {
	return []stockSort{
		{"", text.New("page.stock.sort-mark"), nil},
		{"material", text.New("page.stock.sort-material"), func(a, b lotRow) int { return cmp.Compare(strings.ToLower(a.Material), strings.ToLower(b.Material)) }},
		{"left", text.New("page.stock.sort-left"), func(a, b lotRow) int { return cmp.Compare(a.Left, b.Left) }},
		{"opened", text.New("page.stock.sort-opened"), func(a, b lotRow) int { return cmp.Compare(a.Opened, b.Opened) }},
	}
}

// list finds the lots that have all the words that were typed, in the order wished for.
func (p *stockPage) list() {
	words := strings.Fields(strings.ToLower(p.Find))
	for _, l := range p.Lots {
		in := strings.ToLower(strings.Join([]string{l.Mark, l.Material, l.Supplier, l.Words, l.Opened}, "\n"))
		if !slices.ContainsFunc(words, func(w string) bool { return !strings.Contains(in, w) }) {
			p.Listed = append(p.Listed, l)
		}
	}
	for _, s := range p.Sorts() {
		if s.Name == p.Sort && s.by != nil {
			slices.SortStableFunc(p.Listed, s.by)
		}
	}
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
	p := stockPage{shelf: all, Find: r.FormValue("find"), Sort: r.FormValue("sort"), Left: r.FormValue("left"),
		Made: session.MixedRequest{Material: r.FormValue("material"), Weighed: r.FormValue("weigh"), Carrier: r.FormValue("carrier"), Into: r.FormValue("into")}}
	p.list()
	for _, l := range all.Lots {
		for _, e := range l.Entries {
			p.Corrections = append(p.Corrections, correction{e, l.Lot})
		}
	}
	slices.SortStableFunc(p.Corrections, func(a, b correction) int { return cmp.Compare(b.Seq, a.Seq) })
	return p, err
}

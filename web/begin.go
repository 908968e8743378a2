package web

import (
	"cmp"
	"net/http"
	"slices"
	"strings"

	"tared/session"
	"tared/session/book"
	"tared/session/text"
)

// benchPage is what the bench page is drawn from, beside the views.
type benchPage struct {
	Letters   []session.KeyView // of the bench, and of the page itself
	Materials []string          // of the table
	Hands     bool              // there are some
	Recipes   []wish
	Names     []string // who has weighed here, the last first
}

// wish is a batch that can be begun with a touch.
type wish struct {
	Name, Recipe, Base string
	About              text.Message
}

const (
	usualBase  = "750g" // of a recipe that was never weighed here, as the sheet page begins with
	mostWishes = 5
	mostNames  = 6
	lookBack   = 40 // batches, for names and sizes
)

func benchData(s *site, r *http.Request) (any, error) {
	p := benchPage{Hands: s.cfg.Hands != nil, Letters: append(session.Letters(),
		session.KeyView{Key: "m", Word: "sound", Label: text.New("page.bench.key-sound")},
		session.KeyView{Key: "v", Word: "speech", Label: text.New("page.bench.key-speech")},
		session.KeyView{Key: "g", Word: "scheme", Label: text.New("page.bench.key-scheme")},
		session.KeyView{Key: ".", Word: "more", Label: text.New("page.bench.key-more")})}
	for _, m := range s.cfg.Materials.Or().All() {
		if m.Blocked == "" && len(m.Means) == 0 {
			p.Materials = append(p.Materials, m.Name)
		}
	}
	return p, s.begin(r, &p)
}

// begin finds what can be begun: the last batch again, then what is kept, each of the
// size in which it was last weighed.
func (s *site) begin(r *http.Request, p *benchPage) error {
	var rows []book.Row
	var err error
	if s.cfg.Book != nil {
		rows, _, err = s.cfg.Book.Batches(r.Context(), "", lookBack)
	}
	base := map[string]string{} // of the last batch with that title
	for _, b := range rows {
		if b.By != "" && !slices.Contains(p.Names, b.By) && len(p.Names) < mostNames {
			p.Names = append(p.Names, b.By)
		}
		if b.Series == "" {
			base[b.Title] = cmp.Or(base[b.Title], b.Base.String()+"g")
		}
	}
	add := func(name, recipe, base string, last bool) {
		if len(p.Recipes) == mostWishes || slices.ContainsFunc(p.Recipes, func(w wish) bool { return w.Recipe == recipe }) {
			return
		}
		about := text.New("page.bench.size", text.Grams("amount", strings.TrimSuffix(base, "g")))
		if last {
			about = text.New("page.bench.again", text.Grams("amount", strings.TrimSuffix(base, "g")))
		}
		p.Recipes = append(p.Recipes, wish{name, recipe, base, about})
	}
	if k := slices.IndexFunc(rows, func(b book.Row) bool { return b.State == book.Finished && b.Series == "" }); k >= 0 {
		last, lost := s.cfg.Book.Batch(r.Context(), rows[k].Mark)
		if err = cmp.Or(err, lost); lost == nil && last.Recipe != "" {
			add(last.Title, last.Recipe, base[last.Title], true)
		}
	}
	_, kept, failed := s.cfg.Bench.LotsAndRecipes(r.Context())
	for _, k := range slices.Backward(kept) {
		add(k.Name, k.Newest().Text, cmp.Or(base[k.Name], usualBase), false)
	}
	for _, k := range s.cfg.Samples {
		add(k.Name, k.Text, cmp.Or(base[k.Name], usualBase), false)
	}
	return cmp.Or(err, failed)
}

package web

import (
	"cmp"
	"context"
	"fmt"
	"net/http"
	"slices"
	"sync"

	"tared/session"
	"tared/session/book"
	"tared/session/plan"
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
	Name, Recipe string
	Base         book.Amount
	About        text.Message
}

const (
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

// weighed is what the bench page tells of batches that were weighed here. It is read anew
// where the newest batch is another, or stands otherwise, than when it was read last.
type weighed struct {
	names         []string
	base          map[string]book.Amount // of the last batch with that title
	title, recipe string                 // of the last one that was finished
}

// keptWeighed is it as read last. The zero value is ready.
type keptWeighed struct {
	mu sync.Mutex
	of string
	weighed
}

func (k *keptWeighed) read(ctx context.Context, b Book) (weighed, error) {
	k.mu.Lock()
	defer k.mu.Unlock()
	newest, all, err := b.Batches(ctx, "", book.Newest, 0, 1)
	if err != nil || len(newest) == 0 {
		return weighed{}, err
	}
	of := fmt.Sprint(all, newest[0].Mark, newest[0].State, newest[0].By)
	if k.of == of {
		return k.weighed, nil
	}
	rows, _, err := b.Batches(ctx, "", book.Newest, 0, lookBack)
	if err != nil {
		return weighed{}, err
	}
	w := weighed{base: map[string]book.Amount{}}
	for _, r := range rows {
		if r.By != "" && !slices.Contains(w.names, r.By) && len(w.names) < mostNames {
			w.names = append(w.names, r.By)
		}
		if _, known := w.base[r.Title]; !known && r.Series == "" {
			w.base[r.Title] = r.Base
		}
	}
	if i := slices.IndexFunc(rows, func(r book.Row) bool { return r.State == book.Finished && r.Series == "" }); i >= 0 {
		last, err := b.Batch(ctx, rows[i].Mark)
		if err != nil {
			return w, err
		}
		w.title, w.recipe = last.Title, last.Recipe
	}
	k.of, k.weighed = of, w
	return w, nil
}

// begin finds what can be begun: the last batch again, then what is kept, each of the
// size in which it was last weighed.
func (s *site) begin(r *http.Request, p *benchPage) error {
	var w weighed
	var err error
	if s.cfg.Book != nil {
		w, err = s.weighed.read(r.Context(), s.cfg.Book)
	}
	p.Names = w.names
	add := func(name, recipe string, last bool) {
		if recipe == "" || len(p.Recipes) == mostWishes || slices.ContainsFunc(p.Recipes, func(w wish) bool { return w.Recipe == recipe }) {
			return
		}
		base, known := w.base[name]
		if !known {
			base.Mass = plan.UsualBase
		}
		about := text.New("page.bench.size", text.Mass("amount", base.Mass, base.Places))
		if last {
			about = text.New("page.bench.again", text.Mass("amount", base.Mass, base.Places))
		}
		p.Recipes = append(p.Recipes, wish{name, recipe, base, about})
	}
	add(w.title, w.recipe, true)
	_, kept, failed := s.cfg.Bench.LotsAndRecipes(r.Context())
	for _, k := range slices.Backward(kept) {
		add(k.Name, k.Newest().Text, false)
	}
	for _, k := range s.cfg.Samples {
		add(k.Name, k.Text, false)
	}
	return cmp.Or(err, failed)
}

package web

import (
	"bytes"
	"cmp"
	"errors"
	"net/http"
	"net/url"
	"slices"
	"time"

	"tared/session"
	"tared/session/book"
	"tared/session/fact"
	"tared/session/photo"
	"tared/session/text"
)

// mostGiven is how many batches a program is given at a time; a search finds older ones.
const mostGiven = 200

// mostCompared is how many batches stand side by side.
const mostCompared = 40

// The pages of the book are drawn here and not in the browser, so that reading,
// searching and comparing work without a script.

type listPage struct {
	Find, Sort string
	Rows       []book.Row
	leaf
	Checking int // lines that are still to be checked
	Read     int // of the book, as far as a search needs it, in percent
	Most     int // that can be compared
}

func listData(s *site, r *http.Request) (any, error) {
	p := listPage{Find: r.FormValue("find"), Sort: r.FormValue("sort"), Most: mostCompared}
	if !slices.ContainsFunc(p.Sorts(), func(s sorting) bool { return s.Name == p.Sort }) {
		p.Sort = ""
	}
	p.Checking, p.Read = s.cfg.Book.Behind()
	err := p.turn(r, func(first, most int) (all int, err error) {
		p.Rows, all, err = s.cfg.Book.Batches(r.Context(), p.Find, book.Order(p.Sort), first, most)
		return all, err
	})
	return p, err
}

// sorting is an order in which a list can be.
type sorting struct {
	Name  string
	Words text.Message
}

// Sorts are the orders there are; the first is the usual one.
func (listPage) Sorts() []sorting {
	return []sorting{
		{string(book.Newest), text.New("page.book.sort-newest")},
		{string(book.Oldest), text.New("page.book.sort-oldest")},
		{string(book.ByRecipe), text.New("page.book.sort-recipe")},
		{string(book.ByPerson), text.New("page.book.sort-person")},
		{string(book.MostOff), text.New("page.book.sort-off")},
	}
}

type comparePage struct {
	book.Comparison
	Two bool
}

func compareData(s *site, r *http.Request) (any, error) {
	marks := marksOf(r.URL.Query())
	if len(marks) < 2 {
		return comparePage{}, text.Refuse("page.compare.too-few")
	}
	c, err := s.cfg.Book.Compare(r.Context(), marks...)
	return comparePage{c, len(c.Batches) == 2}, err
}

// Both reports whether two tiles can be laid on each other.
func (p comparePage) Both() bool {
	return p.Two && p.Batches[0].Photo != "" && p.Batches[1].Photo != ""
}

// marksOf gives the batches that an address names: mark=…&mark=…, or a=…&b=….
func marksOf(q url.Values) (marks []string) {
	for _, name := range []string{"a", "b", "mark"} {
		for _, m := range q[name] {
			if m != "" && !slices.Contains(marks, m) {
				marks = append(marks, m)
			}
		}
	}
	return marks
}

// batchPage is one batch as made beside as planned, and what came after it was closed.
type batchPage struct {
	Mark string
	book.Made
	Later   *book.After // nil: it is not closed yet
	Wanted  string      // gravity that the water is worked out for
	Trouble string      // why that cannot be
	Vessels []fact.Vessel
	Scales  []string // of the bench, on which water and slip can be weighed
}

func batchData(s *site, r *http.Request) (any, error) {
	p := batchPage{Mark: r.PathValue("mark"), Wanted: r.FormValue("wanted")}
	var err error
	if p.Made, err = s.cfg.Book.Batch(r.Context(), p.Mark); err != nil || p.State == book.Open {
		return p, err
	}
	later, err := s.cfg.Book.After(r.Context(), p.Mark, p.Wanted)
	if errors.Is(err, session.ErrRefused) {
		p.Trouble = languageOf(r).Say(text.Of(err))
		later, err = s.cfg.Book.After(r.Context(), p.Mark, "")
	}
	p.Later = &later
	if err == nil {
		p.Vessels, err = s.cfg.Bench.Vessels(r.Context())
	}
	p.Scales = s.scales()
	return p, err
}

// Judged is the tile that was looked at last; nil: none was.
func (p batchPage) Judged() *book.Entry {
	for _, e := range slices.Backward(p.Later.Entries) {
		if e.Kind == (fact.Judged{}).Kind() && !e.Void {
			return &e
		}
	}
	return nil
}

// Tub is the mark of the tub of its series; empty: it belongs to none.
func (p batchPage) Tub() string {
	if p.Series == "" && p.Cups > 0 {
		return p.Made.Mark
	}
	return p.Series
}

// Right are the portions that a person may correct.
func (p batchPage) Right() []book.Pour {
	return slices.DeleteFunc(slices.Clone(p.Pours), func(p book.Pour) bool { return p.Void })
}

// OtherDay reports whether it was another day than the one on which the batch began.
func (p batchPage) OtherDay(t time.Time) bool {
	y, m, d := t.Date()
	Y, M, D := p.Started.Date()
	return y != Y || m != M || d != D
}

// glazePage is the glaze behind the weights of a batch.
type glazePage struct {
	Mark string
	book.Oxides
}

func glazeData(s *site, r *http.Request) (any, error) {
	p := glazePage{Mark: r.PathValue("mark")}
	var err error
	p.Oxides, err = s.cfg.Book.Oxides(r.Context(), p.Mark)
	return p, err
}

// getOxides sends them as a table for a spreadsheet.
func (s *site) getOxides(w http.ResponseWriter, r *http.Request) {
	o, err := s.cfg.Book.Oxides(r.Context(), r.PathValue("mark"))
	if err != nil {
		s.done(w, r, nil, err)
		return
	}
	var b bytes.Buffer
	_ = o.WriteCSV(&b, wantsComma(r)) // into memory
	write(w, http.StatusOK, ".csv", b.Bytes())
}

type seriesPage struct {
	book.Series
	Lost []string // photographs that are named and are not there, by the start of their names
}

// Across and Down are the materials that were varied.
func (p seriesPage) Across() string { return p.axis(0) }
func (p seriesPage) Down() string   { return p.axis(1) }

func (p seriesPage) axis(i int) string {
	if i < len(p.Axes) {
		return p.Axes[i]
	}
	return ""
}

// Name is the name of a grid.
func (p seriesPage) Name(g book.Grid) text.Message {
	if deep := p.axis(2); deep != "" {
		return text.New("page.series.level", text.Name("material", deep), text.Share("share", g.Level))
	}
	return text.New("page.series.photographs")
}

// seriesData lays a series out. Photographs that are not on the disk are left out,
// and said.
func seriesData(s *site, r *http.Request) (any, error) {
	all, err := s.cfg.Book.Series(r.Context(), r.PathValue("mark"))
	p := seriesPage{Series: all}
	p.Mark = cmp.Or(p.Mark, r.PathValue("mark"))
	for _, g := range all.Grids {
		for _, row := range g.Cells {
			for k := range row {
				there := []string{}
				for _, name := range row[k].Photos {
					f, err := photo.Open(s.cfg.Photos, name)
					if s.cfg.Photos == "" || err != nil {
						p.Lost = append(p.Lost, name[:min(len(name), 8)])
						continue
					}
					_ = f.Close()
					there = append(there, name)
				}
				row[k].Photos = there
			}
		}
	}
	return p, err
}

// link is what the QR code of a label opens: the address that phones were given, else the
// one by which the page itself was opened, which the phone at hand can reach.
func (s *site) link(r *http.Request) string {
	return cmp.Or(s.cfg.Link, schemeOf(callerOf(r).secure)+r.Host+"/")
}

// Reading reports whether a search has not looked at all of the book.
func (p listPage) Reading() bool { return p.Find+p.Sort != "" && p.Read < 100 }

func (s *site) getBook(r *http.Request) (any, error) {
	if _, read := s.cfg.Book.Behind(); read < 100 && r.FormValue("find") != "" {
		return nil, text.Refuse("page.api.reading", text.Count("read", read)) // a program would take what there is for all
	}
	rows, _, err := s.cfg.Book.Batches(r.Context(), r.FormValue("find"), book.Newest, 0, mostGiven)
	return append([]book.Row{}, rows...), err
}

func (s *site) getCompare(r *http.Request) (any, error) {
	marks := marksOf(r.URL.Query())
	if len(marks) < 2 {
		return nil, text.Refuse("page.api.two-marks")
	}
	return s.cfg.Book.Compare(r.Context(), marks...)
}

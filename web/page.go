package web

import (
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"html/template"
	"net/http"
	"slices"
	"strings"
	"sync"
	"time"

	"tared/session/book"
	"tared/session/recipebook"
	"tared/session/sheet"
	"tared/session/text"
)

// page is one page. Its files are page/NAME.html, NAME.css and NAME.js.
type page struct {
	Name  string
	Title text.Message
	Path  string       // its route; with Nav, also where the header leads
	In    string       // the page in the header that it belongs to
	Nav   text.Message // its word in the header; none: the header does not lead there
	// data is what it is drawn from; nil: nothing. With an error the page shows what
	// there is, and says what is wrong.
	data func(s *site, r *http.Request) (any, error)
	book bool // it shows the record
	// looks are addresses at which tests look at it, and axe too; none: Path is.
	looks []string
}

// Link is where the header leads.
func (p page) Link() string { return strings.TrimSuffix(p.Path, "{$}") }

// pageView is what a page is drawn from.
type pageView struct {
	bundled
	Page      page
	Nav       []page
	Data      any
	Trouble   string
	Film      string // the script that keeps the screen on where the browser cannot; empty: it can, or need not
	WatchOnly bool   // this browser may not command
	Language  *text.Language
	Languages []tongue
}

// drawings are what draws a page, in each language in which somebody has opened it.
type drawings struct {
	page string
	mu   sync.Mutex
	in   map[*text.Language]*template.Template
}

func drawing(p page) *drawings {
	return &drawings{page: p.Name, in: map[*text.Language]*template.Template{}}
}

func (d *drawings) of(l *text.Language) *template.Template {
	d.mu.Lock()
	defer d.mu.Unlock()
	if d.in[l] == nil { // a file that cannot be parsed is a fault of the build
		d.in[l] = template.Must(template.New("layout.html").Funcs(funcs(l)).ParseFS(pageFiles, "page/layout.html", "page/"+d.page+".html"))
	}
	return d.in[l]
}

// page answers with a page.
func (s *site) page(p page, nav []page, with bundled, film string, t *drawings) http.HandlerFunc {
	var last drawnPages
	return func(w http.ResponseWriter, r *http.Request) {
		if keepsChoice(w, r) {
			return
		}
		if c := callerOf(r); c.old {
			http.SetCookie(w, s.devices.Cookie(c.device, c.secure))
		}
		l := languageOf(r)
		d, status := pageView{bundled: with, Page: p, Nav: nav, WatchOnly: !s.mayCommand(r), Language: l, Languages: tongues(r, l)}, http.StatusOK
		if p.Name == "bench" && plain(r) {
			d.Film = film
		}
		switch {
		case p.book && s.cfg.Book == nil:
			d.Trouble = l.Say(text.New("page.no-record"))
		case p.data != nil:
			var err error
			d.Data, err = p.data(s, r)
			if status = s.status(r, err); err != nil {
				d.Trouble = onPage(l, text.Of(err))
			}
		}
		w.Header().Set("Content-Security-Policy", with.policy)
		if b := s.draw(w, r, t.of(l), "layout.html", d); status == http.StatusOK && b != nil {
			last.send(w, r, b)
		} else if b != nil {
			write(w, status, ".html", b)
		}
	}
}

// draw gives what a template makes of the data, or answers that it makes nothing.
func (s *site) draw(w http.ResponseWriter, r *http.Request, t *template.Template, name string, data any) []byte {
	var b bytes.Buffer
	if err := t.ExecuteTemplate(&b, name, data); err != nil {
		s.cfg.Log.Error().Err(err).Str("template", name).Msg("draw the page")
		refuse(w, r, http.StatusInternalServerError, text.New("page.api.not-drawn"))
		return nil
	}
	return b.Bytes()
}

// svg is a drawing of ours.
type svg = template.HTML

// funcs are what templates call. Values have the names of those of package text.
func funcs(l *text.Language) template.FuncMap {
	return template.FuncMap{
		"say":     func(code string, values ...text.Value) string { return l.Say(text.Message{Code: code, Values: values}) },
		"put":     l.Say,
		"term":    l.Term,
		"digits":  func(v any) string { return l.Digits(fmt.Sprint(v)) },
		"name":    text.Name,
		"names":   text.Names,
		"number":  text.Number,
		"count":   text.Count,
		"mass":    text.Mass,
		"exact":   text.Exact,
		"amount":  amount,
		"share":   text.Share,
		"day":     func(t time.Time) string { return l.Say(text.New("page.date", text.Date("at", t))) },
		"clock":   func(t time.Time) string { return l.Say(text.New("page.date", text.Clock("at", t))) },
		"moment":  func(t time.Time) string { return l.Say(text.New("page.date", text.Moment("at", t))) },
		"outcome": outcome,
		"verdict": verdict,
		"role":    func(r string) string { return l.Say(role(r)) },
		"grams":   func(digits string) string { return l.Digits(thousands(digits)) },
		"percents": func(shares []string) []string {
			out := []string{}
			for _, one := range shares {
				if one != "" {
					out = append(out, l.Say(text.New("page.share", text.Share("share", one))))
				}
			}
			return out
		},
		"fit":  fit,
		"kept": func(n Nightly) string { return l.Say(keptFor(n.Keep)) },
		"whys": whys,
		"good": func(is bool) sheet.Verdict {
			if is {
				return sheet.Good
			}
			return sheet.Coarse
		},
		"roles": func() (all []string) {
			for _, r := range sheet.Roles {
				all = append(all, string(r))
			}
			return all
		},
		"latest": func(all []recipebook.Version) []recipebook.Version {
			all = slices.Clone(all)
			slices.Reverse(all)
			return all
		},
		"nth":      func(i int) int { return i + 1 },
		"sentence": func(parts []string) string { return strings.TrimRight(strings.Join(parts, "; "), ".;") + "." },
		"zones": func() sheet.Zoned {
			return sheet.Zones(l.Say(text.New("page.sheet.picture-of")), l.Say(text.New("page.fit.blind")), l.Say(text.New("page.fit.good")), func(v sheet.Verdict) string { return l.Say(fit(v).Words) })
		},
		"svg":   func(s string) svg { return svg(s) },
		"words": func(codes ...string) (template.JS, error) { return words(l, codes) },
	}
}

// thousands sets the thousands of a decimal apart.
func thousands(s string) string {
	whole, rest, _ := strings.Cut(s, ".")
	for i := len(whole) - 3; i > 0 && whole[i-1] != '-'; i -= 3 {
		whole = whole[:i] + "\u202f" + whole[i:]
	}
	if rest != "" {
		whole += "." + rest
	}
	return whole
}

// amount is a mass with the digits of its scale; one that was corrected comes by its
// address.
func amount(as string, a any) (text.Value, error) {
	switch a := a.(type) {
	case book.Amount:
		return text.Mass(as, a.Mass, a.Places), nil
	case *book.Amount:
		return text.Mass(as, a.Mass, a.Places), nil
	}
	return text.Value{}, fmt.Errorf("%T: %w", a, errors.ErrUnsupported)
}

// words are sentences that a script of the page shows, with the places of their values.
func words(l *text.Language, codes []string) (template.JS, error) {
	all := map[string]string{}
	for _, c := range codes {
		all[c] = l.Pattern(c)
	}
	b, err := json.Marshal(all)
	return template.JS(b), err
}

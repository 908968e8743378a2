package book

import (
	"cmp"
	_ "embed"
	"encoding/base64"
	"fmt"
	"html/template"
	"io"
	"iter"
	"reflect"
	"regexp"
	"slices"
	"strings"
	"time"

	"tared/session/text"
)

// Names are the people of a record, for a copy that is to go without them. The
// nil value hides nobody.
type Names struct {
	people []string
	find   *regexp.Regexp
}

// namesOf makes numbers of people in the order in which they come.
func namesOf(people []string) *Names {
	n := &Names{}
	for _, s := range people {
		s = strings.TrimSpace(s)
		if s != "" && s != "scale" && s != "tared" && !slices.ContainsFunc(n.people, func(p string) bool { return strings.EqualFold(p, s) }) {
			n.people = append(n.people, s)
		}
	}
	// The longest first: "Mara Lind" is not to be left as "person 1 Lind".
	longest := slices.Clone(n.people)
	slices.SortStableFunc(longest, func(a, b string) int { return len(b) - len(a) })
	for i, p := range longest {
		longest[i] = regexp.QuoteMeta(p)
	}
	if len(longest) > 0 {
		n.find = regexp.MustCompile(`(?i)(^|[^\pL\pN])(` + strings.Join(longest, "|") + `)($|[^\pL\pN])`)
	}
	return n
}

// Text gives a text with a number in place of each person's name.
func (n *Names) Text(s string) string {
	if n == nil || n.find == nil {
		return s
	}
	// The sign between two names belongs to both, so it is looked for again.
	for {
		at := n.find.FindStringSubmatchIndex(s)
		if at == nil {
			return s
		}
		name := s[at[4]:at[5]]
		k := slices.IndexFunc(n.people, func(p string) bool { return strings.EqualFold(p, name) })
		s = s[:at[4]] + fmt.Sprintf("person %d", k+1) + s[at[5]:]
	}
}

// Hide puts numbers for names in every text of what v points to.
func (n *Names) Hide(v any) {
	if n != nil {
		n.hide(reflect.ValueOf(v).Elem())
	}
}

func (n *Names) hide(v reflect.Value) {
	switch v.Kind() {
	case reflect.String:
		if v.CanSet() {
			v.SetString(n.Text(v.String()))
		}
	case reflect.Slice:
		if v.CanSet() && v.Len() > 0 {
			// What it was made of keeps its names.
			c := reflect.MakeSlice(v.Type(), v.Len(), v.Len())
			reflect.Copy(c, v)
			v.Set(c)
		}
		for i := range v.Len() {
			n.hide(v.Index(i))
		}
	case reflect.Pointer:
		if v.CanSet() && !v.IsNil() {
			c := reflect.New(v.Type().Elem())
			c.Elem().Set(v.Elem())
			v.Set(c)
			n.hide(c.Elem())
		}
	case reflect.Struct:
		for i := range v.NumField() {
			if v.Type().Field(i).IsExported() {
				n.hide(v.Field(i))
			}
		}
	}
}

type pageBatch struct {
	Made
	After   After
	Rows    []Line
	Curves  []template.HTML
	Picture template.HTML
	Traces  []template.HTML // of the pours
	Photos  [][]pictured    // by entry of After
}

// pictured is a photograph on a page; Data is empty where it is not at hand.
type pictured struct {
	Name string
	Data template.URL
}

// mostPictured is how much of photographs a page takes in, in bytes: what is too
// large for a letter is not read.
const mostPictured = 15 << 20

// WritePage writes so many batches as one HTML page that needs nothing beside it: no
// script, no file, no network. Words of people are only ever words in it. With
// names to hide, they are numbers. At is the time that it is written. With small,
// photographs stand in it as JPEG: it gives a small copy of one by its name; what
// it cannot give is named and left out.
func WritePage(w io.Writer, at time.Time, hide *Names, small func(name string) ([]byte, error), count int, batches iter.Seq2[*Batch, error]) (err error) {
	left, title := mostPictured, text.New("record.page-batches", text.Count("count", count))
	all := func(yield func(pageBatch) bool) {
		for n, e := range batches {
			if err = e; e != nil || !yield(pageOf(n, at, hide, small, &left)) {
				return
			}
		}
	}
	for p := range all {
		if count == 1 {
			title = text.New("record.page-batch", text.Name("batch", p.Mark), text.Name("title", p.Title))
		}
		break
	}
	left = mostPictured
	e := page.Execute(w, map[string]any{"Title": title, "Batches": iter.Seq[pageBatch](all), "At": at.Format("2006-01-02 15:04 -07:00"), "Hidden": hide != nil})
	return cmp.Or(err, e)
}

func pageOf(n *Batch, at time.Time, hide *Names, small func(name string) ([]byte, error), left *int) pageBatch {
	p := pageBatch{Made: n.Made(), After: n.After(at, nil)}
	hide.Hide(&p.Made)
	hide.Hide(&p.After)
	p.Rows = p.Made.rows()
	// Our own drawings: they hold numbers, and names that are escaped.
	p.Picture = template.HTML(p.Made.Picture(false))
	for _, q := range p.Pours {
		p.Traces = append(p.Traces, template.HTML(q.Picture()))
	}
	for _, e := range p.After.Entries {
		p.Curves = append(p.Curves, template.HTML(e.Curve)) // our own drawing: it holds numbers only
		var shown []pictured
		for _, name := range e.Photos {
			q := pictured{Name: name}
			if small != nil {
				if b, err := small(name); err == nil && len(b) <= *left {
					*left -= len(b)
					q.Data = template.URL("data:image/jpeg;base64," + base64.StdEncoding.EncodeToString(b)) // of bytes, whatever they are
				}
			}
			shown = append(shown, q)
		}
		p.Photos = append(p.Photos, shown)
	}
	return p
}

//go:embed page.html
var pageFile string

// pageLanguage is that of a page that is given away: English.
var pageLanguage *text.Language

var page = template.Must(template.New("page").Funcs(template.FuncMap{
	"when":    when,
	"short":   Short,
	"verdict": func(v string) string { return verdictWords(v, nil) },
	"say": func(code string, values ...text.Value) string {
		return pageLanguage.Say(text.Message{Code: code, Values: values})
	},
	"words": pageLanguage.Say,
	"name":  text.Name,
	"count": text.Count,
}).Parse(pageFile))

package web

import (
	"encoding/json"
	"errors"
	"net/http"
	"regexp"
	"strings"

	"tared/session"
	"tared/session/recipe"
	"tared/session/text"
	"tared/web/help"
)

// kinds are the types of our few files; the system's own table may say otherwise.
var kinds = map[string]string{
	".css":  "text/css" + utf8,
	".html": "text/html" + utf8,
	".csv":  "text/csv" + utf8,
	".js":   "text/javascript" + utf8,
	".json": "application/json" + utf8,
	".svg":  "image/svg+xml",
}

const utf8 = "; charset=utf-8"

// fault is the answer to a request that was not carried out.
type fault struct {
	Error string      `json:"error"`
	Code  string      `json:"code,omitempty"`  // of the sentence
	Help  string      `json:"help,omitempty"`  // where the help tells more
	Key   string      `json:"key,omitempty"`   // the field at fault
	Lines []faultLine `json:"lines,omitempty"` // of a recipe, where the fault has a line
	// Among are the recipes of a table that was given for one.
	Among []recipe.One `json:"among,omitempty"`
}

type faultLine struct {
	Line  int    `json:"line"`
	Words string `json:"words"`
}

// typed is a word of the terminal in a sentence that the terminal says, too.
var typed = regexp.MustCompile("`([^`]+)`")

// onPage says a message to somebody who has a page before them: where it names a word that
// is typed at a terminal, the key of that word stands.
func onPage(l *text.Language, m text.Message) string {
	return typed.ReplaceAllStringFunc(l.Say(m), func(word string) string {
		word = strings.Trim(word, "`")
		first, _, _ := strings.Cut(word, " ")
		for _, k := range session.Words() {
			if k.Word == first {
				word = l.Say(k.Label)
			}
		}
		return "“" + word + "”"
	})
}

// faultDrawer answers a browser that asked for a page with one that says why not, with the
// way to all others on it.
type faultDrawer func(w http.ResponseWriter, r *http.Request, status int, why text.Message)

type faultKey struct{}

// wantsPage reports whether a person looks at the answer, and no script or program.
func wantsPage(r *http.Request) bool {
	return (r.Method == http.MethodGet || r.Method == http.MethodHead) && !strings.HasPrefix(r.URL.Path, "/api/") && strings.Contains(r.Header.Get("Accept"), "text/html")
}

// refuse answers with what is wrong, in the language of who asked.
func refuse(w http.ResponseWriter, r *http.Request, status int, why text.Message) {
	if draw, ok := r.Context().Value(faultKey{}).(faultDrawer); ok && wantsPage(r) {
		draw(w, r, status, why)
		return
	}
	answer(w, status, fault{Error: onPage(languageOf(r), why), Code: why.Code, Help: help.Link(why.Code)})
}

func answer(w http.ResponseWriter, status int, v any) {
	b, err := json.Marshal(v)
	if err != nil {
		status = http.StatusInternalServerError
		b, _ = json.Marshal(fault{Error: text.New("page.api.not-written").String()}) // two texts can always be written
	}
	write(w, status, ".json", b)
}

// write sends what is made anew each time.
func write(w http.ResponseWriter, status int, ext string, b []byte) {
	w.Header().Set("Content-Type", kinds[ext])
	w.Header().Set("Cache-Control", "no-store")
	w.WriteHeader(status)
	_, _ = w.Write(b) // a browser that left needs no answer
}

// ok is the answer to what was done and has nothing to tell.
var ok = map[string]bool{"ok": true}

// unplanned is why there is no sheet.
type unplanned struct{ error }

func (u unplanned) Unwrap() error { return u.error }

// linesOf finds the lines of a recipe that an error speaks of; several faults
// come joined.
func linesOf(err error, l *text.Language) []faultLine {
	if fault, ok := err.(*recipe.Error); ok {
		if fault.Line == 0 {
			return nil // of the text as a whole
		}
		return []faultLine{{fault.Line, l.Say(fault.Why)}}
	}
	switch e := err.(type) {
	case interface{ Unwrap() []error }:
		var lines []faultLine
		for _, one := range e.Unwrap() {
			lines = append(lines, linesOf(one, l)...)
		}
		return lines
	case interface{ Unwrap() error }:
		return linesOf(e.Unwrap(), l)
	}
	return nil
}

// amongOf gives the recipes of a table of several, where that is the fault.
func amongOf(err error) []recipe.One {
	if fault := (*recipe.Error)(nil); errors.As(err, &fault) {
		return fault.Among
	}
	return nil
}

// read understands a request's body, or answers and returns false.
func read(w http.ResponseWriter, r *http.Request, v any) bool {
	d := json.NewDecoder(r.Body)
	d.DisallowUnknownFields()
	err := d.Decode(v)
	if err == nil && d.More() {
		err = errors.New("more than one value")
	}
	var big *http.MaxBytesError
	switch {
	case errors.As(err, &big):
		refuse(w, r, http.StatusRequestEntityTooLarge, text.New("page.api.too-large", text.Count("most", int(big.Limit>>10))))
	case err != nil:
		refuse(w, r, http.StatusBadRequest, text.New("page.api.not-json", text.Because("why", err)))
	}
	return err == nil
}

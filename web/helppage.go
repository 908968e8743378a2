package web

import (
	"errors"
	"html/template"
	"net/http"
	"strings"

	"tared/session/text"
	"tared/web/help"
)

// helpPage is a page of the help, or what was found in it.
type helpPage struct {
	Topics []help.Topic
	Topic  help.Topic // that is shown; its name is empty where it was looked for words
	HTML   template.HTML
	Find   string
	Found  []help.Place
}

var errNoTopic = errors.New("no such topic")

// helpData shows the topic of the address, the first where it names none.
func helpData(s *site, r *http.Request) (any, error) {
	l := languageOf(r)
	d := helpPage{Topics: s.cfg.Help.Topics(l), Find: strings.TrimSpace(r.FormValue("find"))}
	name := r.PathValue("topic")
	switch {
	case d.Find != "":
		d.Found = s.cfg.Help.Find(l, d.Find)
		return d, nil
	case name == "":
		name = d.Topics[0].Name
	}
	for _, t := range d.Topics {
		if t.Name == name {
			d.Topic, d.HTML = t, t.HTML()
			return d, nil
		}
	}
	return d, text.Kind(errNoTopic, text.Refuse("page.help.none", text.Name("topic", name)))
}

// getHelpPicture sends a picture of the help.
func (s *site) getHelpPicture(w http.ResponseWriter, r *http.Request) {
	b, err := help.Picture(r.PathValue("name"))
	if err != nil {
		refuse(w, r, http.StatusNotFound, text.New("page.fault.no-page"))
		return
	}
	w.Header().Set("Content-Type", "image/png")
	w.Header().Set("Cache-Control", "max-age=86400")
	_, _ = w.Write(b)
}

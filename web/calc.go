package web

import (
	"errors"
	"net/http"
	"slices"

	"tared/session/calc"
	"tared/session/text"
)

// maxQuestion is the most bytes of a question: a hundred amounts fit.
const maxQuestion = 4 << 10

// calcForm is a form of the page with questions, filled with its example.
type calcForm struct {
	calc.Form
	ID     string // of the form on the page
	Inputs []calcInput
	Says   text.Message // the answer of the example
}

type calcInput struct {
	calc.Arg
	ID    string
	Value string
	How   text.Message
}

type calcTopic struct {
	calc.Topic
	Forms []calcForm
}

// calcData gives the questions as the page shows them.
func calcData(*site, *http.Request) (any, error) {
	var out []calcTopic
	for _, t := range calc.Topics() {
		topic := calcTopic{Topic: t}
		for i, f := range t.Forms {
			form := calcForm{Form: f, ID: t.Name, Says: t.Answered(f).Words}
			if i > 0 {
				form.ID += "-" + string(rune('a'+i))
			}
			for _, a := range f.Args {
				in := calcInput{Arg: a, ID: form.ID + "-" + a.Name, How: how(a.Kind)}
				if k := slices.IndexFunc(f.Example.Given, func(g calc.Given) bool { return g.Key == a.Name }); k >= 0 {
					in.Value = f.Example.Given[k].Text
				}
				form.Inputs = append(form.Inputs, in)
			}
			topic.Forms = append(topic.Forms, form)
		}
		out = append(out, topic)
	}
	return out, nil
}

// kindOf is the kind of an argument of a topic; empty: it has none of that name.
func kindOf(t calc.Topic, key string) calc.Kind {
	for _, f := range t.Forms {
		for _, a := range f.Args {
			if a.Name == key {
				return a.Kind
			}
		}
	}
	return ""
}

// how says how a field of the page is filled in.
func how(k calc.Kind) text.Message {
	switch k {
	case calc.Mass:
		return text.New("page.calc.in-mass")
	case calc.Volume:
		return text.New("page.calc.in-volume")
	case calc.Share:
		return text.New("page.calc.in-share")
	}
	return k.How()
}

// calcAnswer is an answer as the page shows it, in the reader's language; Values is what a
// program reads.
type calcAnswer struct {
	Words  string      `json:"words"`
	Facts  []calcFact  `json:"facts,omitempty"`
	Table  *calcTable  `json:"table,omitempty"`
	Steps  []string    `json:"steps,omitempty"`
	Notes  []string    `json:"notes,omitempty"`
	Values calc.Answer `json:"values"`
}

type calcFact struct {
	Name  string `json:"name"`
	Value string `json:"value"`
}

// calcTable is a list under an answer; its cells are numbers.
type calcTable struct {
	Heads []string   `json:"heads"`
	Rows  [][]string `json:"rows"`
}

func answerIn(l *text.Language, a calc.Answer) calcAnswer {
	says := func(all []text.Message) (words []string) {
		for _, m := range all {
			words = append(words, l.Say(m))
		}
		return words
	}
	out := calcAnswer{Words: l.Say(a.Words), Steps: says(a.Steps), Notes: says(a.Notes), Values: a}
	for _, f := range a.Facts {
		out.Facts = append(out.Facts, calcFact{l.Say(f.Name), l.Say(f.Value)})
	}
	if a.Table != nil {
		out.Table = &calcTable{Heads: says(a.Table.Heads)}
		for _, row := range a.Table.Rows {
			cells := make([]string, len(row))
			for i, c := range row {
				cells[i] = l.Digits(c)
			}
			out.Table.Rows = append(out.Table.Rows, cells)
		}
	}
	return out
}

// getCalc answers one question. It changes nothing and its work is bounded by
// calc, so anyone may ask who may look.
func (s *site) getCalc(w http.ResponseWriter, r *http.Request) {
	t, ok := calc.Lookup(r.PathValue("topic"))
	if !ok {
		refuse(w, r, http.StatusNotFound, text.New("page.calc.none"))
		return
	}
	if len(r.URL.RawQuery) > maxQuestion {
		refuse(w, r, http.StatusRequestURITooLong, text.New("page.calc.too-long"))
		return
	}
	var in []calc.Given
	for key, texts := range r.URL.Query() {
		for _, text := range texts {
			in = append(in, calc.Given{Key: key, Text: askedIn(kindOf(t, key), text)})
		}
	}
	t.Table = s.cfg.Materials
	a, err := t.Run(in)
	if err != nil {
		why := languageOf(r).Say(text.Of(err))
		f := fault{Error: why}
		var no *calc.Refusal
		if errors.As(err, &no) {
			// The page says where by the field itself; the key is a word of the command line.
			if f.Key = no.Key; no.Text != "" {
				f.Error = no.Text + ": " + why
			}
		}
		answer(w, http.StatusUnprocessableEntity, f)
		return
	}
	answer(w, http.StatusOK, answerIn(languageOf(r), a))
}

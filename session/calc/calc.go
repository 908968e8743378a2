// Package calc answers single questions of the bench: how little a scale can
// weigh, how much water thins a bucket, how much carbonate stands for an oxide.
// The command line and the page share it.
//
// A topic is a question with a name. It has one form or several: a form is a
// set of arguments that belong together, with the formula in words, the source,
// and a worked example that a test runs. What a person gave is a list of Given,
// as text; Run reads it, refuses what cannot be, and gives an Answer: a
// sentence for people, and numbers for programs.
//
// Start with Topics. What a topic asks, its formulas, sources and examples are in
// topics.json; each has a file that answers it, and a line in topics.go. The computing itself is in sheet, slip, material, recipe and scale;
// here is only what joins a question to it. Everything is exact; numbers are
// rounded once, when they are written (see Answer).
package calc

import (
	"slices"
	"strings"

	"tared/session/material"
	"tared/session/text"
)

// Topic is one question.
type Topic struct {
	Name  string // one word
	Title string // for people
	About string // what it answers, one sentence
	Forms []Form // at least one
	// Table is where names of materials are looked up; nil: the embedded one.
	Table *material.Table
}

// Form is one way to ask the question.
type Form struct {
	Title   string // tells it from the other forms; empty where there is one
	Args    []Arg
	Formula []string // in words, a line each
	Source  []string // of the formula
	Example Example
	run     func(given) (Answer, error)
}

// Arg is one argument of a form.
type Arg struct {
	Name     string
	Words    string // what it is
	Kind     Kind
	Optional bool
	Zero     bool   // nothing at all is a sensible amount too
	Like     string // a value, to show how it is written
}

// Example is a worked example. A test runs it and compares.
type Example struct {
	Given  []Given
	Says   string // Answer.Words
	JSON   string // the answer as a program reads it
	Source string // who published it, or that it is plain arithmetic
}

// Given is one argument as a person gave it.
type Given struct{ Key, Text string }

// Refusal says what is wrong with what was given, and what to do.
type Refusal struct {
	Key   string // the argument at fault; empty: all of them together
	Text  string // its value as given
	Why   error  // what is wrong and what to do
	Wrong bool   // it cannot be understood at all, where else it is understood but cannot be
}

// Error names the argument, its value, the fault and the mend.
func (r *Refusal) Error() string {
	switch {
	case r.Key == "":
		return r.Why.Error()
	case r.Text == "":
		return r.Key + ": " + r.Why.Error()
	}
	return r.Key + "=" + r.Text + ": " + r.Why.Error()
}

// Unwrap gives what is wrong alone.
func (r *Refusal) Unwrap() error { return r.Why }

func wrong(key, given, code string, args ...any) *Refusal {
	return &Refusal{key, given, text.Failed(code, args...), true}
}

func refuse(key, given, code string, args ...any) *Refusal {
	return &Refusal{key, given, text.Failed(code, args...), false}
}

// Run answers the topic's question. An error is a *Refusal.
func (t Topic) Run(in []Given) (Answer, error) {
	f, err := t.form(in)
	if err != nil {
		return Answer{}, err
	}
	g := given{}
	for _, a := range f.Args {
		i := slices.IndexFunc(in, func(x Given) bool { return strings.EqualFold(x.Key, a.Name) })
		if i < 0 {
			continue
		}
		v, why := a.read(strings.TrimSpace(in[i].Text), t.Table)
		if why != nil {
			return Answer{}, why
		}
		g[a.Name] = v
	}
	ans, err := f.run(g)
	if err == nil {
		return ans, nil
	}
	if r, ok := err.(*Refusal); ok {
		return Answer{}, r
	}
	return Answer{}, &Refusal{Why: err}
}

// Answered is the answer to the worked example of a form.
func (t Topic) Answered(f Form) Answer {
	a, err := t.Run(f.Example.Given)
	if err != nil {
		panic(err) // a test runs each
	}
	return a
}

// form finds the form that what was given belongs to.
func (t Topic) form(in []Given) (Form, error) {
	var keys []string
	for _, x := range in {
		key := strings.ToLower(strings.TrimSpace(x.Key))
		switch {
		case !slices.ContainsFunc(t.Forms, func(f Form) bool { return f.takes(key) }):
			return Form{}, wrong("", "", "calc.takes-no-give", t.Name, x.Key, t.Usage())
		case slices.Contains(keys, key):
			return Form{}, wrong("", "", "calc.is-given-twice-say-it", key)
		case strings.TrimSpace(x.Text) == "":
			return Form{}, wrong(key, "", "calc.it-has-no-value-give", t.Usage())
		}
		keys = append(keys, key)
	}
	var fits []Form
	for _, f := range t.Forms {
		if !slices.ContainsFunc(keys, func(k string) bool { return !f.takes(k) }) {
			fits = append(fits, f)
		}
	}
	if len(fits) == 0 {
		return Form{}, wrong("", "", "calc.do-not-go-together-give", strings.Join(keys, ", "), t.Usage())
	}
	var usages []string
	for _, f := range fits {
		missing := f.missing(keys)
		if len(missing) == 0 {
			return f, nil
		}
		usages = append(usages, f.Usage())
	}
	if len(fits) > 1 {
		return Form{}, wrong("", "", "calc.something-is-missing-give", strings.Join(usages, " | "))
	}
	missing := fits[0].missing(keys)
	return Form{}, wrong(missing[0].Name, "", "calc.it-is-missing-give", text.Term("", missing[0].Words), usages[0])
}

func (f Form) takes(key string) bool {
	return slices.ContainsFunc(f.Args, func(a Arg) bool { return a.Name == key })
}

func (f Form) missing(keys []string) []Arg {
	var out []Arg
	for _, a := range f.Args {
		if !a.Optional && !slices.Contains(keys, a.Name) {
			out = append(out, a)
		}
	}
	return out
}

// Usage shows all forms as they are written, with values to show how.
func (t Topic) Usage() string {
	var all []string
	for _, f := range t.Forms {
		all = append(all, f.Usage())
	}
	return strings.Join(all, " | ")
}

// Usage shows the form as it is written. What may be left out is in brackets.
func (f Form) Usage() string {
	var all []string
	for _, a := range f.Args {
		s := Given{a.Name, a.Like}.String()
		if a.Kind == Amounts {
			s = a.Like
		}
		if a.Optional {
			s = "[" + s + "]"
		}
		all = append(all, s)
	}
	return strings.Join(all, " ")
}

// String writes the argument as it is given on a command line.
func (g Given) String() string {
	if strings.ContainsAny(g.Text, " ()") {
		return g.Key + "='" + g.Text + "'"
	}
	return g.Key + "=" + g.Text
}

// Command writes the example as it is typed behind the topic.
func (f Form) Command() string {
	var all []string
	for _, x := range f.Example.Given {
		if i := slices.IndexFunc(f.Args, func(a Arg) bool { return a.Name == x.Key }); i >= 0 && f.Args[i].Kind == Amounts {
			all = append(all, x.Text)
			continue
		}
		all = append(all, x.String())
	}
	return strings.Join(all, " ")
}

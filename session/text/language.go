package text

import (
	"bytes"
	"cmp"
	"embed"
	"encoding/json"
	"errors"
	"fmt"
	"io/fs"
	"path"
	"slices"
	"strconv"
	"strings"
	"sync"
	"unicode"
)

// Language is all sentences in one language, and its way to write numbers. Nothing
// changes it once it is made.
type Language struct {
	Tag  string // BCP 47
	Name string // as those who speak it call it
	Dir  string // of its writing: ltr, rtl

	mark   string // of decimals
	gap    string // between a number and its unit
	before string // what stands before a semicolon
	date   string // layout, with January where the month stands
	months string // all twelve; "": those of the layout
	first  string // behind the figure of the first day of a month, as in "1er mai"
	plural func(n int) plural

	// Both are made when the first is asked for: a language that nobody reads takes neither
	// time nor memory.
	sentences func() map[string]sentence
	terms     func() map[string]string    // own words for what tables of ours say, by their English; nil: it is English
	hear      func(english string) string // see heard; nil: it is English
	lacking   *Language                   // says what this one cannot say; nil: nobody
	spelling  *strings.Replacer           // of a country; nil: that of the language
}

// DecimalComma reports whether the language writes a decimal comma.
func (l *Language) DecimalComma() bool { return l.mark == "," }

// noBreak keeps a number and its unit on one line.
const noBreak = "\u00a0"

//go:embed en *.json
var files embed.FS

// English is the language that all others are translated from.
var English = read(files, Language{Tag: "en-GB", Name: "English", mark: ".", date: "2 January 2006", plural: onlyOne})

// All lists the languages. Decimal marks, dates and months are those of Unicode CLDR 48.2.
var All = []*Language{
	English,
	translated(files, Language{Tag: "de", Name: "Deutsch", mark: ",", date: "2. January 2006", plural: onlyOne,
		months: "Januar Februar März April Mai Juni Juli August September Oktober November Dezember"}),
	translated(files, Language{Tag: "fr", Name: "Français", mark: ",", before: "\u202f", date: "2 January 2006", first: "er", plural: uptoOne,
		months: "janvier février mars avril mai juin juillet août septembre octobre novembre décembre"}),
	translated(files, Language{Tag: "es", Name: "Español", mark: ",", date: "2 de January de 2006", plural: oneAndMillions,
		months: "enero febrero marzo abril mayo junio julio agosto septiembre octubre noviembre diciembre"}),
}

var plainEnglish = English.Plain()

// Plain is the same language for a terminal and for files, where a space is a space.
func (l *Language) Plain() *Language {
	p := *l
	p.gap = " "
	return &p
}

// Say makes the sentence of a message; a nil Language says it in plain English. What is missing is said in English, and shows by its
// code where that has no sentence either.
func (l *Language) Say(m Message) string {
	if l == nil {
		l = plainEnglish
	}
	s, _ := l.say(m)
	return s
}

// Spelt is text in the language, as its country spells it.
func (l *Language) Spelt(words string) string {
	if l.spelling == nil {
		return words
	}
	return l.spelling.Replace(words)
}

// Check reports what is missing for Say.
func (l *Language) Check(m Message) error {
	_, err := l.say(m)
	return err
}

// sentence finds that of a code.
func (l *Language) sentence(code string) (sentence, bool) {
	s, ok := l.sentences()[code]
	if !ok && l.lacking != nil {
		return l.lacking.sentence(code)
	}
	return s, ok
}

func (l *Language) say(m Message) (string, error) {
	if m.Code == "" {
		all, err := m.Words, error(nil)
		if all != "" && l.hear != nil {
			return l.hear(strings.Clone(all)), nil
		}
		for i := range m.Values { // sentences together, or a list
			v := &m.Values[i]
			switch between := v.Name; {
			case i == 0:
			case between == semicolon, between == comma && l.mark == comma:
				all += l.before + semicolon + " "
			default:
				all += between + " "
			}
			if v.said == nil {
				all += string(l.value(nil, v))
				continue
			}
			words, missing := l.say(*v.said)
			err = cmp.Or(err, missing)
			all += words
		}
		return all, err
	}
	s, ok := l.sentence(m.Code)
	if !ok {
		return "[" + m.Code + "]", errors.New(m.Code + ": no sentence in " + l.Tag)
	}
	pieces := s.forms[other]
	if len(pieces) == 1 && pieces[0].value == "" {
		return pieces[0].plain, nil
	}
	if s.plural {
		if f := s.forms[l.form(m.Values)]; f != nil {
			pieces = f
		}
	}
	var err error
	b := make([]byte, 0, 160)
	for _, p := range pieces {
		b = append(b, p.plain...)
		if p.value == "" {
			continue
		}
		switch v := find(m.Values, p.value); {
		case v == nil:
			b = append(b, "["+m.Code+": "+p.value+"]"...)
			err = errors.New(m.Code + ": no value for " + p.value)
		case v.said != nil:
			words, missing := l.say(*v.said)
			b, err = append(b, words...), cmp.Or(err, missing)
		default:
			b = l.value(b, v)
		}
	}
	return string(b), err
}

func find(values []Value, name string) *Value {
	for i := range values {
		if values[i].Name == name {
			return &values[i]
		}
	}
	return nil
}

// form is the plural that the first count among the values asks for.
func (l *Language) form(values []Value) plural {
	for _, v := range values {
		if n, err := strconv.Atoi(v.text); v.kind == count && err == nil {
			return l.plural(max(n, -n))
		}
	}
	return other
}

// digits appends a decimal as the language writes it, unit what it counts.
func (l *Language) digits(b []byte, s string) []byte {
	whole, rest, more := strings.Cut(s, ".")
	b = append(b, whole...)
	if more {
		b = append(append(b, l.mark...), rest...)
	}
	return b
}

func (l *Language) unit(b []byte, unit string) []byte { return append(append(b, l.gap...), unit...) }

// sentence is one message of a file, taken apart.
type sentence struct {
	forms  [plurals][]piece
	plural bool
}

// piece is plain text and the value behind it, if any.
type piece struct{ plain, value string }

// read makes a language of its files: TAG.json, with whole codes, or TAG/AREA.json. They are
// part of the program: one that cannot be read is a fault of the build.
func read(all fs.FS, l Language) *Language {
	l.gap, l.Dir = noBreak, cmp.Or(l.Dir, "ltr")
	l.sentences = sync.OnceValue(func() map[string]sentence {
		stem, _, _ := strings.Cut(l.Tag, "-")
		said := map[string]sentence{}
		names, err := fs.Glob(all, stem+"/*.json")
		if one, e := fs.Glob(all, stem+".json"); e == nil {
			names = append(names, one...)
		}
		for _, name := range names {
			b, e := fs.ReadFile(all, name)
			area := ""
			if path.Dir(name) == stem {
				area = strings.TrimSuffix(path.Base(name), ".json") + "."
			}
			if e == nil {
				e = add(said, area, b)
			}
			if e != nil {
				err = fmt.Errorf("%s: %w", name, e)
			}
		}
		if err != nil {
			panic(err)
		}
		return said
	})
	return &l
}

// translated is read of a language that leaves to English what it lacks.
func translated(all fs.FS, l Language) *Language {
	l.lacking = English
	read := read(all, l)
	read.terms, read.hear = sync.OnceValue(read.termsOf), read.heard
	return read
}

func (l *Language) termsOf() map[string]string {
	terms := map[string]string{}
	for code := range English.sentences() {
		if strings.HasPrefix(code, "data.") {
			terms[English.Pattern(code)] = l.Pattern(code)
		}
	}
	return terms
}

// Term gives the words of a language for what a table of ours says in English; what it has
// none for stays as it is.
func (l *Language) Term(english string) string {
	if l != nil {
		if l.terms != nil {
			if own, ok := l.terms()[english]; ok {
				return own
			}
			if own := l.hear(strings.Clone(english)); own != english {
				return own
			}
		}
		if !strings.ContainsFunc(english, unicode.IsLower) { // a number, "0.5 (OSHA)"
			return l.Digits(english)
		}
	}
	return english
}

// add takes in the sentences of a file; area is what its codes begin with.
func add(said map[string]sentence, area string, file []byte) error {
	d := json.NewDecoder(bytes.NewReader(file))
	if _, err := d.Token(); err != nil {
		return err
	}
	for d.More() {
		key, err := d.Token()
		if err != nil {
			return err
		}
		code := fmt.Sprint(area, key)
		if _, twice := said[code]; twice {
			return fmt.Errorf("%s stands there twice", code)
		}
		var words any
		if err := d.Decode(&words); err != nil {
			return err
		}
		s, err := parse(words)
		if err != nil {
			return fmt.Errorf("%s: %w", code, err)
		}
		said[code] = s
	}
	return nil
}

// parse takes a message apart: a string, or one string for each plural.
func parse(words any) (s sentence, err error) {
	switch w := words.(type) {
	case string:
		s.forms[other], err = pieces(w)
		return s, err
	case map[string]any:
		s.plural = true
		for name, form := range w {
			f, known := pluralNames[name]
			words, isText := form.(string)
			if !known || !isText {
				return s, fmt.Errorf("%q is no plural form", name)
			}
			if s.forms[f], err = pieces(words); err != nil {
				return s, err
			}
		}
		if s.forms[other] != nil {
			return s, nil
		}
	}
	return s, fmt.Errorf("neither a sentence nor plural forms with \"other\"")
}

func pieces(words string) (all []piece, err error) {
	for rest := words; ; {
		plain, behind, more := strings.Cut(rest, "{")
		if strings.Contains(plain, "}") || words == "" {
			return nil, fmt.Errorf("%q: empty, or a brace without its other one", words)
		}
		if !more {
			if plain != "" {
				all = append(all, piece{plain, ""})
			}
			return all, nil
		}
		value, behind, closed := strings.Cut(behind, "}")
		if !closed || value == "" {
			return nil, fmt.Errorf("%q: a brace without its other one, or without a name", words)
		}
		all = append(all, piece{plain, value})
		rest = behind
	}
}

// The packages that read a scale stand before this one on the way of a reading, and know no
// codes: they say in English what is wrong with a port or a line. Their sentences stand in the
// area heard too, with what changes in them as {1}; so a reader gets them in their own words. What
// is not known there stays as it was said.

// heards are the codes of the area, those with the most to be recognised by first.
var heards = sync.OnceValue(func() (codes []string) {
	plain := func(code string) (n int) {
		for _, p := range English.sentences()[code].forms[other] {
			n += len(p.plain)
		}
		return n
	}
	for code := range English.sentences() {
		if strings.HasPrefix(code, "heard.") {
			codes = append(codes, code)
		}
	}
	slices.SortFunc(codes, func(a, b string) int {
		if by := plain(b) - plain(a); by != 0 {
			return by
		}
		return strings.Compare(a, b)
	})
	return codes
})

// heard puts into a language what was said in English.
func (l *Language) heard(english string) string {
	if english == "" {
		return english
	}
	for _, code := range heards() {
		values, ok := taken(English.sentences()[code].forms[other], english)
		if !ok {
			continue
		}
		for i := range values {
			values[i].text = l.heard(values[i].text)
		}
		return l.Say(Message{Code: code, Values: values})
	}
	return english
}

// taken gives what stands in words where the values of a sentence stand, if they are that sentence.
func taken(pieces []piece, words string) (values []Value, ok bool) {
	as := ""
	for _, p := range pieces {
		at := strings.Index(words, p.plain)
		switch {
		case p.plain == "" && as == "":
		case as == "" && at != 0, at < 0:
			return nil, false
		case as != "":
			values = append(values, Value{Name: as, kind: name, text: words[:at]})
		}
		words, as = words[max(at, 0)+len(p.plain):], p.value
	}
	if as != "" {
		return append(values, Value{Name: as, kind: name, text: words}), true
	}
	return values, words == ""
}

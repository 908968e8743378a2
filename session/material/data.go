package material

import (
	"embed"
	"encoding/json"
	"maps"
	"slices"
	"strings"
	"sync"

	"tared/session/text"
)

// The data: sources.json has every source by its short name, and the other files name
// them so. clp.json has rows of the EU list by index number, statements.json the wording of their codes, limits.json limits of dust
// in air by substance, lines.json what is said of several materials, materials.json
// the table; words.json says which words are the same, dangers.json which mean a poison.
//
//go:embed data
var embedded embed.FS

func load(name string, to any) {
	b, err := embedded.ReadFile("data/" + name + ".json")
	if err == nil {
		err = json.Unmarshal(b, to)
	}
	if err != nil {
		panic("material: " + name + ": " + err.Error()) // a test reads it
	}
}

// clause is a row of the EU list of harmonised classification.
type clause struct {
	Codes []string
	Act   string // that set it
	Least bool   // the supplier must go higher where the data say so
}

// limit is what the air may hold of a substance.
type limit struct {
	Of         string
	EU, UK, AU level
	US         []level
}

type level struct{ Is, Source string }

type library struct {
	statements map[string]string // wording of hazard statements, by code
	sources    map[string]string
	clauses    map[string]clause
	limits     map[string]limit
	lines      map[string]Said
	vocabulary
	dangers
}

var shelf = sync.OnceValue(func() *library {
	l := &library{}
	load("sources", &l.sources)
	load("clp", &l.clauses)
	load("statements", &l.statements)
	load("limits", &l.limits)
	load("lines", &l.lines)
	var v struct {
		Words                   map[string][]string
		Idle, Qualifiers, Tails []string
	}
	load("words", &v)
	l.vocabulary = newVocabulary(v)
	var d dangerFile
	load("dangers", &d)
	l.dangers = newDangers(d)
	return l
})

// cite gives a source in full where it is named by its short name.
func (l *library) cite(source string) string {
	if s, ok := l.sources[source]; ok {
		return s
	}
	return source
}

// expand writes out what an entry only names: its lines, its limits in air, its row of
// the EU list, and its sources.
func (l *library) expand(m *Material) (errs []error) {
	m.Density.Source, m.Metal.Source, m.Sold.Source = l.cite(m.Density.Source), l.cite(m.Metal.Source), l.cite(m.Sold.Source)
	m.Solubility.Source = l.cite(m.Solubility.Source)
	for _, key := range m.Says {
		s, ok := l.lines[key]
		if !ok {
			errs = append(errs, text.Refuse("material.says", text.Name("key", key), text.Names("keys", slices.Sorted(maps.Keys(l.lines)))))
		}
		m.Lines = append(m.Lines, Said{s.Words, l.cite(s.Source)})
	}
	for _, key := range m.Air {
		a, ok := l.limits[key]
		if !ok {
			errs = append(errs, text.Refuse("material.air", text.Name("key", key), text.Names("keys", slices.Sorted(maps.Keys(l.limits)))))
			continue
		}
		m.Limits, m.air = append(m.Limits, l.limitSaid(a)), append(m.air, a)
	}
	m.Says, m.Air = nil, nil
	switch m.CLP {
	case "":
	case "none":
		m.none = text.New("material.clp-none")
	case "none17":
		m.none = text.New("material.clp-none17")
	default:
		c, ok := l.clauses[m.CLP]
		if !ok {
			errs = append(errs, text.Refuse("material.clp-unknown", text.Name("index", m.CLP)))
			break
		}
		m.Codes, m.row = c.Codes, text.New("material.clp", text.Name("index", m.CLP), text.Name("act", c.Act))
		if c.Least {
			m.row = text.New("material.clp-least", text.Said("row", m.row))
		}
		m.CodesBy = m.row.String()
	}
	return errs
}

// limitSaid is limit in plain English.
func (l *library) limitSaid(a limit) Said {
	is, by := l.levels(a)
	return Said{text.New("material.limit", text.Term("of", a.Of), text.Said("limits", is)).String(), by}
}

// limit puts the limits of a substance into one sentence, each with its source.
func (l *library) limit(a limit) text.Message {
	is, by := l.levels(a)
	return text.New("material.line", text.Said("words", text.New("material.limit", text.Term("of", a.Of), text.Said("limits", is))), text.Name("source", by))
}

// levels are the limits of a substance, each in a sentence, and their sources.
func (l *library) levels(a limit) (text.Message, string) {
	var is []text.Message
	var by []string
	say := func(v level, m text.Message) {
		if v.Is == "" {
			return
		}
		is = append(is, m)
		if s := l.cite(v.Source); !slices.Contains(by, s) {
			by = append(by, s)
		}
	}
	say(a.EU, text.New("material.limit-eu", text.Term("is", a.EU.Is)))
	say(a.UK, text.New("material.limit-uk", text.Term("is", a.UK.Is)))
	for _, v := range a.US {
		say(v, text.New("material.limit-us", text.Term("is", v.Is)))
	}
	if a.AU.Is == "" {
		say(level{"?", "SWA"}, text.New("material.limit-au", text.Said("is", text.New("material.limit-look"))))
	} else {
		say(a.AU, text.New("material.limit-au", text.Term("is", a.AU.Is)))
	}
	return text.Listed(is...), strings.Join(by, "; ")
}

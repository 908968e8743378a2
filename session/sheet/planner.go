package sheet

import (
	"slices"

	"tared/protocol"
	"tared/session/doubt"
	"tared/session/material"
	"tared/session/recipe"
	"tared/session/text"
)

// planner carries what Plan works with.
type planner struct {
	req    Request
	table  *material.Table
	allow  map[Role]Allow
	scales []measured
	lines  []Line
	known  []material.Material // beside lines; the zero value where the table has none
	words  []string
	quiet  string // a name that is no material of the table on purpose: a cup of a series
	// brought is the water that moist materials bring.
	brought protocol.Mass
	// firstWater is what the slip takes, whether it is weighed or not, and dissolved what of
	// it solutions bring.
	firstWater, dissolved protocol.Mass
	whyNot                map[string]text.Message // why a material cannot be diluted
	memo                  *memo                   // what the cups of a series have in common
}

// memo keeps what is the same in many cups of a series.
type memo struct {
	known map[string]found         // materials, by the name as written
	u     map[string]protocol.Mass // expanded uncertainty, by scale
	suits map[suited]dilution
}

// suited is what an aliquot depends on.
type suited struct {
	need, allowed protocol.Mass
	bounds
	scale string
}

type dilution struct {
	a  Aliquot
	ok bool
}

type found struct {
	material.Material
	ok      bool
	hazards []string
}

// newMemo remembers nothing yet.
func newMemo() *memo {
	return &memo{map[string]found{}, map[string]protocol.Mass{}, map[suited]dilution{}}
}

// scale finds one of the scales by its name; a line is on none that is not there.
func (p *planner) scale(name string) measured {
	return p.scales[slices.IndexFunc(p.scales, func(s measured) bool { return s.Name == name })]
}

// look finds a material and what to say of it.
func (p *planner) look(name string) found {
	f, ok := p.memo.known[name]
	if !ok {
		if f.Material, f.ok = p.table.Lookup(name); f.ok {
			f.hazards = f.HazardLines(p.req.Reader)
		}
		p.memo.known[name] = f
	}
	return f
}

// suit is suit, worked out once for each amount.
func (p *planner) suit(need, allowed protocol.Mass, s measured, b bounds) (Aliquot, bool) {
	k := suited{need, allowed, b, s.Name}
	d, ok := p.memo.suits[k]
	if !ok {
		d.a, d.ok = suit(need, allowed, s, b)
		p.memo.suits[k] = d
	}
	return d.a, d.ok
}

// netU is the expanded uncertainty of one net weight of a scale, without its span.
func (p *planner) netU(s Scale) protocol.Mass {
	u, ok := p.memo.u[s.Name]
	if !ok {
		u = doubt.RootUp(s.Weighs().Reading())
		p.memo.u[s.Name] = u
	}
	return u
}

func (p *planner) say(m text.Message) { p.words = append(p.words, p.tell(m)) }

// tell puts a message into the words of who reads the sheet.
func (p *planner) tell(m text.Message) string { return p.req.Reader.Say(m) }

func (p *planner) inRecipe(name string) bool {
	return slices.ContainsFunc(p.req.Recipe.Items, func(it recipe.Item) bool { return recipe.Key(it.Name) == recipe.Key(name) })
}

func (p *planner) names() (ns []string) {
	for _, it := range p.req.Recipe.Items {
		ns = append(ns, it.Name)
	}
	return ns
}

func (p *planner) allowed(i int) Allow {
	if a, ok := named(p.req.AllowFor, p.req.Recipe.Items[i].Name); ok {
		return a
	}
	return p.allow[p.lines[i].Role]
}

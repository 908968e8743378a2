package session

import (
	"time"

	"slices"

	"tared/session/fact"
	"tared/session/material"
	"tared/session/recipe"
	"tared/session/sheet"
)

// givenRoles are those that people gave to materials which no table knows, by recipe.Key.
// The last word holds.
type givenRoles map[string]string

// Reads reports whether facts of a kind matter here.
func (r *givenRoles) Reads(kind, _ string, _ time.Time) bool { return kind == (fact.Role{}).Kind() }

// Add takes the role of a material.
func (r *givenRoles) Add(f fact.Fact) {
	if v, ok := f.Body.(fact.Role); ok {
		if *r == nil {
			*r = givenRoles{}
		}
		(*r)[recipe.Key(v.Material)] = v.Role
	}
}

// taught adds to a wish what people told about materials before: the user's own
// table, and the roles of those that no table knows.
func (b *Bench) taught(r *PlanRequest) {
	if r.Habit == "" {
		r.Habit = b.cfg.Water
	}
	if r.Materials == nil {
		r.Materials = b.cfg.Materials
	}
	if r.Stock == nil {
		r.Stock = b.workshop.Stock.Snapshot()
	}
	rec, err := recipe.Parse(r.Recipe)
	if err != nil {
		return // the plan says so
	}
	names := make([]string, 0, len(rec.Items))
	for _, it := range rec.Items {
		names = append(names, it.Name)
	}
	if r.Series != nil {
		names = append(names, r.Series.names()...)
	}
	roles := map[string]string{}
	for _, name := range names {
		if role, ok := b.workshop.Roles[recipe.Key(name)]; ok {
			roles[name] = role
		}
	}
	for name, role := range r.Roles {
		for told := range roles {
			if recipe.Key(told) == recipe.Key(name) {
				delete(roles, told)
			}
		}
		roles[name] = role
	}
	if len(roles) > 0 {
		r.Roles = roles
	}
}

// learnt gives what a plan teaches: the role of a material that no table knows,
// where a person gave one that is not on record yet.
func (b *Bench) learnt(r PlanRequest, sh sheet.Sheet) []fact.Body {
	table := r.Materials
	if table == nil {
		table = material.Default()
	}
	lines := slices.Clone(sh.Lines)
	for _, c := range sh.Cups {
		lines = append(lines, c.Lines...)
	}
	var out []fact.Body
	seen := map[string]bool{}
	for _, l := range lines {
		k := recipe.Key(l.Material)
		if _, known := table.Lookup(l.Material); known || seen[k] {
			continue
		}
		seen[k] = true
		for name, role := range r.Roles {
			if recipe.Key(name) == k && b.workshop.Roles[k] != role {
				out = append(out, fact.Role{Material: l.Material, Role: role})
			}
		}
	}
	return out
}

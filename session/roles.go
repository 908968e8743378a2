package session

import (
	"time"

	"tared/session/fact"
	"tared/session/recipe"
)

// givenRoles are those that people gave to materials which no table knows, by recipe.Key.
// The last word holds.
type givenRoles map[string]string

// Reads reports whether facts of a kind matter here.
func (r *givenRoles) Reads(kind, _ string, _ time.Time, _ []byte) bool {
	return kind == (fact.Role{}).Kind()
}

// Add takes the role of a material.
func (r *givenRoles) Add(f fact.Fact) {
	if v, ok := f.Body.(fact.Role); ok {
		if *r == nil {
			*r = givenRoles{}
		}
		(*r)[recipe.Key(v.Material)] = v.Role
	}
}

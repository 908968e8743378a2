package batch

import (
	"math/big"
	"slices"
	"strconv"
	"strings"

	"tared/protocol"
	"tared/session/fact"
	"tared/session/recipe"
	"tared/session/sheet"
	"tared/session/text"
)

// Allowed reads "base" to "1%" or "0.5g"; what is no role is the name of a
// material, and goes before its role.
func Allowed(in map[string]string) (map[sheet.Role]sheet.Allow, map[string]sheet.Allow, error) {
	roles, names := map[sheet.Role]sheet.Allow{}, map[string]sheet.Allow{}
	for name, s := range in {
		a, err := parseAllow(s)
		if err != nil {
			return nil, nil, text.Refuse("sheet.tolerance-of", text.Name("what", name), text.Because("why", err))
		}
		if role := sheet.Role(name); slices.Contains([]sheet.Role{sheet.Base, sheet.Addition, sheet.Strong, sheet.Water}, role) {
			roles[role] = a
		} else {
			names[name] = a
		}
	}
	return roles, names, nil
}

// AllowedFor gives the rule of a material.
func AllowedFor(l fact.Line, roles map[sheet.Role]sheet.Allow, names map[string]sheet.Allow) sheet.Allow {
	for name, a := range names {
		if recipe.Key(name) == recipe.Key(l.Material) {
			return a
		}
	}
	if a, ok := roles[sheet.Role(l.Role)]; ok {
		return a
	}
	return sheet.Standard(sheet.Role(l.Role))
}

func parseAllow(s string) (sheet.Allow, error) {
	t := strings.TrimSpace(s)
	if p, ok := strings.CutSuffix(t, "%"); ok {
		d, err := protocol.ParseHumanDecimal(p)
		if err != nil {
			return sheet.Allow{}, err
		}
		r, _ := new(big.Rat).SetString(d.String())
		r.Quo(r, big.NewRat(100, 1))
		if r.Sign() <= 0 || r.Cmp(big.NewRat(1, 2)) > 0 {
			return sheet.Allow{}, text.Refuse("sheet.tolerance-share", text.Name("value", strconv.Quote(s)))
		}
		return sheet.Allow{Share: r}, nil
	}
	m, err := protocol.ParseMass(t)
	if err != nil {
		return sheet.Allow{}, text.Refuse("sheet.tolerance-mass", text.Because("why", err))
	}
	if m <= 0 {
		return sheet.Allow{}, text.Refuse("sheet.tolerance-positive", text.Name("value", strconv.Quote(s)))
	}
	return sheet.Allow{Fixed: m}, nil
}

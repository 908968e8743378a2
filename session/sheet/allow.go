package sheet

import (
	"math/big"
	"slices"
	"strconv"
	"strings"

	"tared/protocol"
	"tared/session/doubt"
	"tared/session/text"
)

// ReadAllow reads "base" to "1%" or "0.5g"; what is no role is the name of a
// material, and goes before its role.
func ReadAllow(in map[string]string) (map[Role]Allow, map[string]Allow, error) {
	roles, names := map[Role]Allow{}, map[string]Allow{}
	for name, s := range in {
		a, err := parseAllow(s)
		if err != nil {
			return nil, nil, text.Refuse("sheet.tolerance-of", text.Name("what", name), text.Because("why", err))
		}
		if role := Role(name); role == Water || slices.Contains(Roles, role) {
			roles[role] = a
		} else {
			names[name] = a
		}
	}
	return roles, names, nil
}

// ReadRule reads by what a weight is accepted: simple, which is also meant where nothing is
// said, or guarded.
func ReadRule(s string) (doubt.Rule, error) {
	switch r := doubt.Rule(strings.ToLower(strings.TrimSpace(s))); r {
	case "":
		return doubt.Simple, nil
	case doubt.Simple, doubt.Guarded:
		return r, nil
	}
	return "", text.Refuse("plan.rule", text.Name("value", strconv.Quote(s)))
}

func parseAllow(s string) (Allow, error) {
	t := strings.TrimSpace(s)
	if p, ok := strings.CutSuffix(t, "%"); ok {
		d, err := protocol.ParseHumanDecimal(p)
		if err != nil {
			return Allow{}, err
		}
		r, _ := new(big.Rat).SetString(d.String())
		r.Quo(r, big.NewRat(100, 1))
		if r.Sign() <= 0 || r.Cmp(big.NewRat(1, 2)) > 0 {
			return Allow{}, text.Refuse("sheet.tolerance-share", text.Name("value", strconv.Quote(s)))
		}
		return Allow{Share: r}, nil
	}
	m, err := protocol.ParseMass(t)
	if err != nil {
		return Allow{}, text.Refuse("sheet.tolerance-mass", text.Because("why", err))
	}
	if m <= 0 {
		return Allow{}, text.Refuse("sheet.tolerance-positive", text.Name("value", strconv.Quote(s)))
	}
	return Allow{Fixed: m}, nil
}

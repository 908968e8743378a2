package main

import (
	"strings"

	"github.com/spf13/cobra"

	"tared/protocol"
	"tared/session"
)

// batchFlags is what a batch needs besides its recipe: how large, and how far a
// weighing may be off.
type batchFlags struct {
	base, dry, wet string
	allow, roles   []string
	container      string
}

func (b *batchFlags) add(cmd *cobra.Command) {
	f := cmd.Flags()
	f.StringVar(&b.base, "base", "", "size of the batch by its base materials, additions on top, such as 750g")
	f.StringVar(&b.dry, "dry", "", "size of the batch by everything dry, such as 800g")
	f.StringVar(&b.wet, "wet", "", `size of the batch by the slip wanted, such as "2l at 1.45"`)
	f.StringArrayVar(&b.allow, "allow", nil, "how far a weighing may be off, by role (base, addition, strong) or material, such as base=1% or \"Tin oxide=0.1g\"; may be repeated")
	f.StringArrayVar(&b.roles, "role", nil, `role of a material where the materials table is wrong, such as "Rutile=strong"; may be repeated`)
	f.StringVar(&b.container, "container", "", "usual weight of your container, such as 120g, so that portions leave room for it")
}

// request makes the wish for a batch out of the flags and a recipe's text.
// Every error is about the command line.
func (b *batchFlags) request(text string) (session.PlanRequest, error) {
	r := session.PlanRequest{Recipe: text, Base: b.base, Dry: b.dry, Wet: b.wet, Container: b.container}
	given := 0
	for _, size := range []string{b.base, b.dry, b.wet} {
		if size != "" {
			given++
		}
	}
	switch given {
	case 0:
		return r, usagef("the size of the batch is missing: give --base 750g, --dry 800g or --wet \"2l at 1.45\"")
	case 1:
	default:
		return r, usagef("--base, --dry and --wet are three ways to say one thing: give one of them")
	}
	for _, m := range []struct{ flag, value string }{{"--base", b.base}, {"--dry", b.dry}, {"--container", b.container}} {
		if m.value == "" {
			continue
		}
		v, err := protocol.ParseMass(m.value)
		if err != nil {
			return r, usagef("%s: %w", m.flag, err)
		}
		if v <= 0 {
			return r, usagef("%s %s: must be more than nothing", m.flag, m.value)
		}
	}
	var err error
	if r.Allow, err = pairs("--allow", "base=1%", b.allow); err != nil {
		return r, err
	}
	for _, v := range r.Allow {
		if err := checkAllow(v); err != nil {
			return r, err
		}
	}
	r.Roles, err = pairs("--role", "Rutile=strong", b.roles)
	return r, err
}

// pairs reads the repeated values of a flag that says name=value.
func pairs(flag, example string, values []string) (map[string]string, error) {
	m := map[string]string{}
	for _, s := range values {
		name, value, ok := strings.Cut(s, "=")
		name, value = strings.TrimSpace(name), strings.TrimSpace(value)
		if !ok || name == "" || value == "" {
			return nil, usagef("%s %q: want a name, an equals sign and a value, such as %s", flag, s, example)
		}
		if _, twice := m[name]; twice {
			return nil, usagef("%s %q: %s was given before: say it once", flag, s, name)
		}
		m[name] = value
	}
	return m, nil
}

// checkAllow tells whether v is a share or a mass, each with its unit.
func checkAllow(v string) error {
	if share, ok := strings.CutSuffix(v, "%"); ok {
		if d, err := protocol.ParseHumanDecimal(share); err != nil || d.Neg || d.Coef == 0 {
			return usagef("--allow %s: not a share: write it as 2%%", v)
		}
		return nil
	}
	m, err := protocol.ParseMass(v)
	if err != nil {
		return usagef("--allow %s: want a share such as 2%% or a mass such as 0.1g: %w", v, err)
	}
	if m <= 0 {
		return usagef("--allow %s: must be more than nothing", v)
	}
	return nil
}

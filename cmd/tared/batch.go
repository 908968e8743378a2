package main

import (
	"strings"

	"github.com/spf13/cobra"

	"tared/session/plan"
	"tared/session/recipe"
	"tared/session/sheet"
)

// batchFlags is what a batch needs besides its recipe: how large, and how far a
// weighing may be off.
type batchFlags struct {
	base, dry, wet string
	allow, roles   []string
	order, aliquot []string
	materials      string
	cup, spare     string
	blend          string
	steps          int
	vary           []string
	swap           string
	container      string
	fromStock      bool
	short          bool
	lots, moist    []string
	most           string
	water, habit   string
}

func (b *batchFlags) add(cmd *cobra.Command) {
	f := cmd.Flags()
	f.StringVar(&b.base, "base", "", "")
	f.StringVar(&b.dry, "dry", "", "")
	f.StringVar(&b.wet, "wet", "", "")
	f.StringArrayVar(&b.allow, "allow", nil, "")
	f.StringArrayVar(&b.roles, "role", nil, "")
	f.StringArrayVar(&b.aliquot, "aliquot", nil, "")
	f.StringArrayVar(&b.order, "order", nil, "")
	f.StringVar(&b.materials, "materials", "", "")
	f.StringVar(&b.cup, "cup", "", "")
	f.StringArrayVar(&b.vary, "vary", nil, "")
	f.StringVar(&b.swap, "swap", "", "")
	f.StringVar(&b.blend, "blend", "grid", "")
	f.IntVar(&b.steps, "steps", 5, "")
	f.StringVar(&b.spare, "spare", "", "")
	f.StringVar(&b.water, "water", "", "")
	f.StringVar(&b.habit, "configured-water", "", "")
	_ = f.MarkHidden("configured-water")
	fills(f, "configured-water", "water")
	fills(f, "materials", "materials")
	f.BoolVar(&b.fromStock, "from-stock", false, "")
	f.StringArrayVar(&b.lots, "lot", nil, "")
	f.StringArrayVar(&b.moist, "moist", nil, "")
	f.StringVar(&b.container, "container", "", "")
	f.StringVar(&b.most, "most", "", "")
}

// request makes the wish for a batch out of the flags and the text of a recipe,
// understood once so that its faults show now. A fault in the recipe is a
// failure; any other is a mistake in the command line.
func (b *batchFlags) request(text string, scales []sheet.Scale) (plan.Request, error) {
	r := plan.Request{Reader: language, Recipe: text, Base: b.base, Dry: b.dry, Wet: b.wet, Container: b.container, Most: b.most, Order: b.order, Aliquot: b.aliquot, Water: b.water, Habit: b.habit}
	if err := b.checkSize(); err != nil {
		return r, err
	}
	r.FromStock, r.Short = b.fromStock, b.short
	var err error
	if r.Series, err = b.series(); err != nil {
		return r, err
	}
	if r.Materials, err = openMaterials(b.materials); err != nil {
		return r, err
	}
	for _, f := range []struct {
		to            *map[string]string
		flag, example string
		values        []string
	}{
		{&r.Allow, "--allow", "base=1%", b.allow}, {&r.Lots, "--lot", "Quartz=L3", b.lots},
		{&r.Moist, "--moist", "Ball clay=3%", b.moist}, {&r.Roles, "--role", "Rutile=strong", b.roles},
	} {
		if *f.to, err = pairs(f.flag, f.example, f.values); err != nil {
			return r, err
		}
	}
	if _, err := recipe.Parse(text); err != nil {
		return r, err
	}
	if _, err := r.SheetRequest(scales); err != nil {
		return r, usage(err)
	}
	return r, nil
}

// checkSize holds the flags to one way of saying the size.
func (b *batchFlags) checkSize() error {
	given := 0
	for _, size := range []string{b.base, b.dry, b.wet} {
		if size != "" {
			given++
		}
	}
	switch {
	case b.cup != "" && given > 0:
		return usagef("cli.cup-is-for-a-series")
	case b.cup == "" && (len(b.vary) > 0 || b.swap != ""):
		return usagef("cli.vary-and-swap-are-for")
	case b.fromStock && (given > 0 || b.cup != ""):
		return usagef("cli.from-stock-finds-the-size")
	case given == 0 && b.cup == "" && !b.fromStock:
		return usagef("cli.the-size-of-the-batch")
	case given > 1:
		return usagef("cli.base-dry-and-wet-are")
	}
	return nil
}

// series makes the series that --cup asks for; nil: none.
func (b *batchFlags) series() (*plan.Series, error) {
	if b.cup == "" {
		return nil, nil
	}
	s := &plan.Series{Cup: b.cup, Spare: b.spare, Blend: b.blend, Steps: b.steps}
	for _, v := range b.vary {
		name, levels, ok := strings.Cut(v, "=")
		if !ok {
			return nil, usagef("cli.vary-give-a-material-an", v)
		}
		s.Vary = append(s.Vary, plan.Addition{Material: strings.TrimSpace(name), Levels: levels})
	}
	if b.swap != "" {
		out, in, ok := strings.Cut(b.swap, "=")
		if out, in = strings.TrimSpace(out), strings.TrimSpace(in); !ok || out == "" || in == "" {
			return nil, usagef("cli.swap-give-a-material-of", b.swap)
		}
		s.Swap = plan.Swap{Out: out, In: in}
	}
	return s, nil
}

// pairs reads the repeated values of a flag that says name=value.
func pairs(flag, example string, values []string) (map[string]string, error) {
	m := map[string]string{}
	for _, s := range values {
		name, value, ok := strings.Cut(s, "=")
		name, value = strings.TrimSpace(name), strings.TrimSpace(value)
		if !ok || name == "" || value == "" {
			return nil, usagef("cli.give-a-name-an-equals", flag, s, example)
		}
		if _, twice := m[name]; twice {
			return nil, usagef("cli.was-given-before-say-it", flag, s, name)
		}
		m[name] = value
	}
	return m, nil
}

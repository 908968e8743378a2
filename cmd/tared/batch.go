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
	f.StringVar(&b.base, "base", "", "size of the batch by its base materials, additions on top, such as 750g")
	f.StringVar(&b.dry, "dry", "", "size of the batch by everything dry, such as 800g")
	f.StringVar(&b.wet, "wet", "", `size of the batch by the slip wanted, such as "2l at 1.45", or by the bucket, such as "10l bucket at 1.45" (three quarters full)`)
	f.StringArrayVar(&b.allow, "allow", nil, "how far a weighing may be off, by role (base, addition, suspender, opacifier, strong, water) or by material, such as base=1%, strong=0.1g or \"Tin oxide=1%\"; may be repeated")
	f.StringArrayVar(&b.roles, "role", nil, `role of a material where the materials table is wrong, such as "Rutile=strong"; may be repeated`)
	f.StringArrayVar(&b.aliquot, "aliquot", nil, `material that goes in diluted: more of it is mixed into a material of the recipe, and a part of that is weighed, such as "Cobalt carbonate"; may be repeated`)
	f.StringArrayVar(&b.order, "order", nil, `material to weigh first; repeated, those after it in that order, and the rest follow in the sheet's own order`)
	f.StringVar(&b.materials, "materials", "", materialsUse)
	f.StringVar(&b.cup, "cup", "", "a series of tests in place of one batch: base in each cup, such as 100g")
	f.StringArrayVar(&b.vary, "vary", nil, `addition that a series varies, with its levels in percent of the base, such as "Rutile=2 4 6"; up to three`)
	f.StringVar(&b.swap, "swap", "", `material of the recipe that another takes the place of, in --steps equal steps from cup to cup, such as "Potash feldspar=Nepheline syenite"; with --vary each step goes with each level`)
	f.StringVar(&b.blend, "blend", "grid", "how a series is varied: grid (each level with each), line (from one addition to another), triangle (between three)")
	f.IntVar(&b.steps, "steps", 5, "cups of a line, steps a side of a triangle, or steps of a swap (4: cups with 0, 25, 50, 75 and 100 % swapped)")
	f.StringVar(&b.spare, "spare", "", "how much more of the common base to mix than the cups take (default 5%)")
	f.StringVar(&b.water, "water", "", waterUse+"; none leaves out what the recipe has")
	f.StringVar(&b.habit, "configured-water", "", "")
	_ = f.MarkHidden("configured-water")
	fills(f, "configured-water", "water")
	fills(f, "materials", "materials")
	f.BoolVar(&b.fromStock, "from-stock", false, "in place of a size: as much as the stock is enough for")
	f.StringArrayVar(&b.lots, "lot", nil, `lot that a material is taken from, such as "Quartz=L3"; else the one opened first that holds enough; a kept mixture, or new for none that was kept, such as "Cobalt carbonate=new"; may be repeated`)
	f.StringArrayVar(&b.moist, "moist", nil, `moisture of a material in percent of the whole (wet basis), such as "Ball clay=3%", before that of its lot; may be repeated`)
	f.StringVar(&b.container, "container", "", "usual weight of your container, such as 120g, so that portions leave room for it")
	f.StringVar(&b.most, "most", "", "the largest dry batch that is wanted, such as 2kg: to no more is it enlarged after an overpour")
}

// confirmUse says what a flag for a second person takes.
const confirmUse = "what a second person confirms: strong (each portion of a strong colourant), typed (each weight that is typed), or both with a comma between"

// acceptUse says what a flag for the rule of acceptance takes.
const acceptUse = "when a weight is in its band: simple (by the weight alone, where U is within what is allowed) or guarded (the whole of weight ± U)"

// waterUse says what a flag for the first water takes.
const waterUse = "first water as the last step, in percent of everything dry, such as 85% (a recipe may say so itself, in a line \"Water 85%\")"

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
		return usagef("--cup is for a series, whose size follows from its cups: leave out --base, --dry and --wet")
	case b.cup == "" && (len(b.vary) > 0 || b.swap != ""):
		return usagef("--vary and --swap are for a series: say --cup 100g as well")
	case b.fromStock && (given > 0 || b.cup != ""):
		return usagef("--from-stock finds the size by itself: leave out --base, --dry, --wet and --cup")
	case given == 0 && b.cup == "" && !b.fromStock:
		return usagef("the size of the batch is missing: give --base 750g, --dry 800g or --wet \"2l at 1.45\", --cup 100g for a series, or --from-stock")
	case given > 1:
		return usagef("--base, --dry and --wet are three ways to say one thing: give one of them")
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
			return nil, usagef("--vary %q: give a material, an equals sign and its levels, for example \"Rutile=2 4 6\"", v)
		}
		s.Vary = append(s.Vary, plan.Addition{Material: strings.TrimSpace(name), Levels: levels})
	}
	if b.swap != "" {
		out, in, ok := strings.Cut(b.swap, "=")
		if out, in = strings.TrimSpace(out), strings.TrimSpace(in); !ok || out == "" || in == "" {
			return nil, usagef("--swap %q: give a material of the recipe, an equals sign and what takes its place, for example \"Potash feldspar=Nepheline syenite\"", b.swap)
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
			return nil, usagef("%s %q: give a name, an equals sign and a value, for example %s", flag, s, example)
		}
		if _, twice := m[name]; twice {
			return nil, usagef("%s %q: %s was given before: say it once", flag, s, name)
		}
		m[name] = value
	}
	return m, nil
}

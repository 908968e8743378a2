package sheet

import (
	"errors"
	"math/big"
	"slices"
	"strings"

	"tared/protocol"
	"tared/session/material"
	"tared/session/recipe"
	"tared/session/slip"
	"tared/session/text"
)

// ErrRefused is in the chain of every error by which a request is refused.
var ErrRefused = text.ErrRefused

// Plan makes the sheet of a batch. Base targets add up to the base exactly, and
// with Size.Dry or Size.Wet all targets add up to the dry total exactly. It
// refuses, in words and with all reasons found, what cannot be weighed at all.
// What can only be weighed badly it plans, and says so line by line with the
// ways out.
func Plan(req Request) (Sheet, error) { return (&planner{req: req, memo: newMemo()}).plan() }

func (p *planner) plan() (Sheet, error) {
	req := p.req
	p.table = req.Materials.Or()
	if err := p.check(); err != nil {
		return Sheet{}, err
	}
	sh := Sheet{Title: req.Recipe.Title, Scales: slices.Clone(req.Scales), Allow: p.allow, AllowFor: req.AllowFor}
	p.materials()
	if err := p.blocked(); err != nil {
		return Sheet{}, err
	}
	p.roles()
	if err := p.onTop(); err != nil {
		return Sheet{}, err
	}
	var solid *big.Rat
	if p.quiet == "" {
		solid = p.solid()
	}
	if err := p.targets(&sh, solid); err != nil {
		return Sheet{}, err
	}
	if err := p.wetten(&sh); err != nil {
		return Sheet{}, err
	}
	if err := p.assign(); err != nil {
		return Sheet{}, err
	}
	p.wetted(sh.Slip)
	p.waysOut(sh.Base)
	if err := p.chosen(); err != nil {
		return Sheet{}, err
	}
	if err := p.order(); err != nil {
		return Sheet{}, err
	}
	if err := p.water(&sh); err != nil {
		return Sheet{}, err
	}
	p.lessWater(&sh)
	sh.Lines = p.lines
	if p.quiet == "" {
		p.total(&sh)
		for _, m := range req.Recipe.ReadBack() {
			sh.Read = append(sh.Read, p.tell(m))
		}
	}
	sh.Words = p.words
	return sh, nil
}

// materials opens a line for each item and says what the table does not know.
func (p *planner) materials() {
	base := map[string]bool{}
	same := map[string]string{}
	for _, it := range p.req.Recipe.Items {
		f := p.look(it.Name)
		m, ok := f.Material, f.ok
		_, told := named(p.req.Roles, it.Name)
		l := Line{Material: it.Name, Addition: it.Addition, Share: it.Share, Percent: percent(it.Share)}
		if !it.Addition {
			base[recipe.Key(it.Name)] = true
		}
		if ok {
			l.Hazards = f.hazards
			if other, twice := same[m.Name]; twice && !m.Various() && recipe.Key(other) != recipe.Key(it.Name) {
				p.say(text.New("sheet.same", text.Name("one", other), text.Name("other", it.Name)))
			}
			same[m.Name] = it.Name
			if l.Unknown = len(m.Means) > 0 && !told; l.Unknown {
				p.say(text.New("sheet.means", text.Name("material", it.Name), text.Names("means", m.Means)))
			}
		} else if it.Name != p.quiet && told {
			l.Hazards = material.UnknownLines(p.req.Reader)
			p.say(text.New("sheet.unlisted", text.Name("material", it.Name)))
		} else if it.Name != p.quiet {
			l.Unknown, l.Hazards = true, material.UnknownLines(p.req.Reader)
			said := text.New("sheet.unknown-base", text.Name("material", it.Name))
			if it.Addition {
				said = text.New("sheet.unknown-addition", text.Name("material", it.Name))
			}
			if s := p.table.Suggest(it.Name); len(s) > 0 {
				said = text.New("sheet.suggest", text.Said("said", said), text.Names("names", s))
			}
			p.say(said)
		}
		p.lines = append(p.lines, l)
		p.known = append(p.known, m)
	}
	// One name in the base and on top of it would be two lines that nobody can
	// tell apart on the bench.
	for i := range p.lines {
		if p.lines[i].Addition && base[recipe.Key(p.lines[i].Material)] {
			p.lines[i].Material += " (addition)"
		}
	}
}

func (p *planner) blocked() error {
	var errs []error
	for i, m := range p.known {
		if m.Blocked != "" {
			errs = append(errs, text.Refuse("sheet.blocked", text.Name("material", p.lines[i].Material), text.Name("why", m.Blocked)))
		}
	}
	return errors.Join(errs...)
}

func (p *planner) roles() {
	for i := range p.lines {
		l, it := &p.lines[i], p.req.Recipe.Items[i]
		switch {
		case p.known[i].Strong:
			l.Role = Strong
		case l.Addition && p.known[i].Kind == material.Suspender:
			l.Role = Suspender
		case l.Addition && p.known[i].Kind == material.Opacifier:
			l.Role = Opacifier
		case l.Addition:
			l.Role = Addition
		default:
			l.Role = Base
		}
		if role, ok := named(p.req.Roles, it.Name); ok {
			l.Role = role
		}
	}
}

// onTop refuses a base that makes exactly 100 without its colourants, though none has a
// plus: were they meant on top of the hundred, every weight would be off. A note "in the
// base" behind an amount, or a role that was given, settles it.
func (p *planner) onTop() error {
	hundredth, rest := new(big.Rat), new(big.Rat)
	var names []string
	for i, it := range p.req.Recipe.Items {
		_, told := named(p.req.Roles, it.Name)
		settled := told || strings.Contains(strings.ToLower(it.Note), "base")
		switch {
		case it.Addition && p.lines[i].Role == Strong:
			return nil // the writer knows the plus
		case it.Addition || it.Amount == nil || it.Unit != "" && it.Unit != "%":
		case p.known[i].Strong && !settled:
			names = append(names, it.Name)
			hundredth.Add(hundredth, it.Amount)
		default:
			rest.Add(rest, it.Amount)
		}
	}
	if len(names) == 0 || rest.Cmp(hundred) != 0 {
		return nil
	}
	return text.Refuse("sheet.on-top", text.Names("materials", names), text.Share("all", recipe.Decimal(rest.Add(rest, hundredth), 3)))
}

// solid gives the relative density of the dry batch: its mass over the volume
// of its grains.
func (p *planner) solid() *big.Rat {
	if w := p.req.Size.Wet; w != nil && w.Solid != nil {
		return w.Solid
	}
	mass, volume := new(big.Rat), new(big.Rat)
	var unknown []string
	for i, l := range p.lines {
		d, known := p.known[i].Solid()
		if !known {
			unknown = append(unknown, l.Material)
		}
		mass.Add(mass, l.Share)
		volume.Add(volume, new(big.Rat).Quo(l.Share, d))
	}
	if len(unknown) > 0 && p.req.Size.Wet != nil {
		p.say(text.New("sheet.density", text.Names("materials", unknown)))
	}
	return mass.Quo(mass, volume)
}

// targets works out the size and the exact targets.
func (p *planner) targets(sh *Sheet, solid *big.Rat) error {
	size := p.req.Size
	var err error
	dry := size.Dry
	if w := size.Wet; w != nil {
		if solid.Cmp(w.Gravity) <= 0 {
			return text.Refuse("sheet.wet-thick", text.Number("gravity", w.Gravity.FloatString(3)), text.Number("solid", solid.FloatString(3)))
		}
		per, err := slip.Dry(w.Gravity, solid)
		if err != nil {
			return text.Refuse("sheet.wet", text.Because("why", err))
		}
		if dry, err = protocol.RoundRat(per.Mul(per, w.Litres)); err != nil {
			return text.Refuse("sheet.wet", text.Because("why", err))
		}
	}
	over := func(error) error { return text.Refuse("sheet.too-large") }
	shares := make([]*big.Rat, len(p.lines))
	if dry > 0 {
		// Everything is apportioned from the dry total, so that it adds up.
		for i := range p.lines {
			shares[i] = p.lines[i].Share
		}
		parts, err := recipe.Apportion(int64(dry), shares)
		if err != nil {
			return over(err)
		}
		for i := range parts {
			p.lines[i].Target = protocol.Mass(parts[i])
		}
	} else {
		for i := range p.lines {
			shares[i] = new(big.Rat)
			if !p.lines[i].Addition {
				shares[i] = p.lines[i].Share
			}
		}
		parts, err := recipe.Apportion(int64(size.Base), shares)
		if err != nil {
			return over(err)
		}
		for i := range parts {
			if p.lines[i].Target = protocol.Mass(parts[i]); p.lines[i].Addition {
				g := new(big.Rat).Mul(p.lines[i].Share, size.Base.Rat())
				if p.lines[i].Target, err = protocol.RoundRat(g.Quo(g, big.NewRat(100, 1))); err != nil {
					return over(err)
				}
			}
		}
	}
	sum := new(big.Rat)
	for i := range p.lines {
		l := &p.lines[i]
		if l.Target <= 0 {
			return text.Refuse("sheet.too-small-for", text.Name("material", l.Material))
		}
		if !l.Addition {
			sh.Base += l.Target
		}
		sum.Add(sum, l.Target.Rat())
	}
	if sum.Cmp(protocol.OnBench.Rat()) > 0 {
		return over(err)
	}
	sh.Dry, _ = protocol.RoundRat(sum) // whole picograms, and no more than a bench holds
	if p.quiet != "" {
		return nil // nobody asks what a single cup becomes with water
	}
	sh.Slip, err = p.slip(sh.Dry, solid)
	return err
}

func (p *planner) slip(dry protocol.Mass, solid *big.Rat) (*Slip, error) {
	s := &Slip{Solid: solid.FloatString(3)}
	litres, gravity := new(big.Rat), new(big.Rat)
	var water *big.Rat
	if w := p.req.Size.Wet; w != nil {
		s.Wished = true
		litres, gravity = w.Litres, w.Gravity
		water = new(big.Rat).Mul(litres, gravity)
		water.Mul(water, big.NewRat(1000, 1)).Sub(water, dry.Rat())
	} else {
		to := slip.FirstWater()
		if p.req.Water != nil {
			to.Quo(p.req.Water, big.NewRat(100, 1))
		}
		water = new(big.Rat).Mul(dry.Rat(), to)
		litres.Add(water, new(big.Rat).Quo(dry.Rat(), solid))
		litres.Quo(litres, big.NewRat(1000, 1))
		gravity.Add(water, dry.Rat())
		gravity.Quo(gravity, new(big.Rat).Mul(litres, big.NewRat(1000, 1)))
	}
	var err error
	if s.Water, err = protocol.RoundRat(water); err != nil {
		return nil, text.Refuse("sheet.too-large")
	}
	s.Litres, s.Gravity = litres.FloatString(3), gravity.FloatString(3)
	return s, nil
}

// assign gives each line its scale, band and marks.
func (p *planner) assign() error {
	var errs []error
	largest := protocol.Mass(0)
	blind := true
	for i := range p.lines {
		l := &p.lines[i]
		l.Allowed = p.allowed(i).Of(l.Target)
		for _, s := range p.scales {
			l.Fits = append(l.Fits, s.fit(l.Target, l.Allowed))
		}
		c := choose(l.Fits)
		if c < 0 {
			errs = append(errs, text.Refuse("sheet.no-room", text.Exact("mass", l.Target, 0), text.Name("material", l.Material), text.Count("count", maxPortions)))
			continue
		}
		l.use(p.scales[c].Scale, l.Fits[c])
		largest = max(largest, l.Target)
		blind = blind && l.Verdict == Blind
	}
	if len(errs) > 0 {
		return errors.Join(errs...)
	}
	finest := p.scales[0].Step
	for _, s := range p.scales {
		finest = min(finest, s.Step)
	}
	if largest < finest {
		return text.Refuse("sheet.too-small", text.Exact("largest", largest, 0), text.Exact("step", finest, 0))
	}
	if blind {
		p.say(text.New("sheet.blind"))
	}
	return nil
}

// order sorts the lines: base by size, additions by size, strong colourants
// last and together by scale; a wish goes before.
func (p *planner) order() error {
	at := map[string]int{}
	for i, s := range p.scales {
		at[s.Name] = i
	}
	rank := map[Role]int{Base: 0, Addition: 1, Suspender: 1, Opacifier: 1, Strong: 2}
	wish := map[string]int{}
	var errs []error
	for i, name := range p.req.Order {
		k := recipe.Key(name)
		if _, twice := wish[k]; twice {
			errs = append(errs, text.Refuse("sheet.order-twice", text.Name("material", name)))
		}
		if !slices.ContainsFunc(p.lines, func(l Line) bool { return recipe.Key(l.Material) == k }) {
			errs = append(errs, text.Refuse("sheet.order-unknown", text.Name("material", name), text.Names("names", p.names())))
		}
		wish[k] = i
	}
	if len(errs) > 0 {
		return errors.Join(errs...)
	}
	wished := func(l Line) (int, bool) {
		if len(wish) == 0 {
			return 0, false
		}
		i, ok := wish[recipe.Key(l.Material)]
		return i, ok
	}
	slices.SortStableFunc(p.lines, func(a, b Line) int {
		wa, oka := wished(a)
		wb, okb := wished(b)
		switch {
		case oka && okb:
			return wa - wb
		case oka:
			return -1
		case okb:
			return 1
		case rank[a.Role] != rank[b.Role]:
			return rank[a.Role] - rank[b.Role]
		case a.Role == Strong && a.Scale != b.Scale:
			return at[a.Scale] - at[b.Scale]
		case a.Target > b.Target:
			return -1
		case a.Target < b.Target:
			return 1
		}
		return 0
	})
	return nil
}

// total says the size in all three ways.
func (p *planner) total(sh *Sheet) {
	adds := new(big.Rat)
	for _, l := range sh.Lines {
		if l.Addition {
			adds.Add(adds, l.Share)
		}
	}
	base, dry := sh.SizePlaces(sh.Base), sh.SizePlaces(sh.Dry)
	if p := protocol.Apart(sh.Base, sh.Dry, min(base, dry)); p > dry {
		base, dry = p, p
	}
	size := text.New("sheet.total", text.Mass("base", sh.Base, min(base, sh.Base.Places())), text.Share("additions", percent(adds)), text.Mass("dry", sh.Dry, dry))
	var wet text.Message
	switch {
	case sh.Slip.Wished:
		wet = text.New("sheet.total-wet", text.Mass("water", sh.Slip.Water, 0), text.Number("litres", sh.Slip.Litres), text.Number("gravity", sh.Slip.Gravity))
	case p.req.Water != nil:
		wet = text.New("sheet.total-first-water", text.Mass("water", sh.Slip.Water, 0), text.Share("share", percent(p.req.Water)), text.Number("litres", sh.Slip.Litres), text.Number("gravity", sh.Slip.Gravity))
	default:
		wet = text.New("sheet.total-usual-water", text.Mass("water", sh.Slip.Water, 0), text.Number("litres", sh.Slip.Litres), text.Number("gravity", sh.Slip.Gravity))
	}
	p.words = append([]string{p.tell(size) + " " + p.tell(wet)}, p.words...)
	if names, share := p.banded(sh, Opacifier); len(names) > 0 {
		p.say(text.New("sheet.opacifier-band", text.Names("materials", names), text.Share("share", share)))
	}
	if names, share := p.banded(sh, Strong); len(names) > 0 {
		p.say(text.New("sheet.strong-band", text.Names("materials", names), text.Share("share", share)))
	}
	p.spans(sh)
}

// banded names what has a role, with the percent by which it may be off; none where that is
// no share.
func (p *planner) banded(sh *Sheet, r Role) (names []string, share string) {
	a := p.allow[r]
	if a.Share == nil {
		return nil, ""
	}
	for _, l := range sh.Lines {
		if l.Role == r {
			names = append(names, l.Material)
		}
	}
	return names, percent(new(big.Rat).Mul(a.Share, hundred))
}

// spans tells once which scales weigh with a span of which nothing is known.
func (p *planner) spans(sh *Sheet) {
	var open []string
	for _, s := range sh.Scales {
		if !s.Vouched() && slices.ContainsFunc(sh.Lines, func(l Line) bool { return l.Scale == s.Name }) {
			open = append(open, s.Name)
		}
	}
	if len(open) > 0 {
		p.say(text.New("sheet.no-span", text.Names("scales", open)))
	}
}

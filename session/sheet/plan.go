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
	memo    *memo // what the cups of a series have in common; nil: a batch
}

// memo keeps what is the same in many cups of a series.
type memo struct {
	known map[string]found         // materials, by the name as written
	u     map[string]protocol.Mass // expanded uncertainty, by scale
	suits map[suited]dilution
}

// suited is what an aliquot depends on.
type suited struct {
	need, allowed, most protocol.Mass
	scale               string
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

// look finds a material and what to say of it.
func (p *planner) look(name string) found {
	if p.memo == nil {
		m, ok := p.table.Lookup(name)
		f := found{Material: m, ok: ok}
		if ok {
			f.hazards = m.HazardLines()
		}
		return f
	}
	f, ok := p.memo.known[name]
	if !ok {
		m, in := p.table.Lookup(name)
		f = found{Material: m, ok: in}
		if in {
			f.hazards = m.HazardLines()
		}
		p.memo.known[name] = f
	}
	return f
}

// suit is suit, worked out once for each amount.
func (p *planner) suit(need, allowed protocol.Mass, s measured, most protocol.Mass) (Aliquot, bool) {
	if p.memo == nil {
		return suit(need, allowed, s, most)
	}
	k := suited{need, allowed, most, s.Name}
	d, ok := p.memo.suits[k]
	if !ok {
		d.a, d.ok = suit(need, allowed, s, most)
		p.memo.suits[k] = d
	}
	return d.a, d.ok
}

// netU is the expanded uncertainty of one net weight of a scale.
func (p *planner) netU(s Scale) protocol.Mass {
	if p.memo != nil {
		if u, ok := p.memo.u[s.Name]; ok {
			return u
		}
	}
	_, U, _ := Uncertainty(s.Step, s.Spread)
	if p.memo != nil {
		p.memo.u[s.Name] = U
	}
	return U
}

// measured is a scale with what follows from its step once for all targets.
type measured struct {
	Scale
	u protocol.Mass // expanded uncertainty of one net weight
	// room is what it holds beside the container, where limited.
	room    protocol.Mass
	limited bool
}

// Plan makes the sheet of a batch. Base targets add up to the base exactly, and
// with Size.Dry or Size.Wet all targets add up to the dry total exactly. It
// refuses, in words and with all reasons found, what cannot be weighed at all.
// What can only be weighed badly it plans, and says so line by line with the
// ways out.
func Plan(req Request) (Sheet, error) { return (&planner{req: req}).plan() }

func (p *planner) plan() (Sheet, error) {
	req := p.req
	p.table = req.Materials
	if p.table == nil {
		p.table = material.Default()
	}
	if err := p.check(); err != nil {
		return Sheet{}, err
	}
	sh := Sheet{Title: req.Recipe.Title, Scales: slices.Clone(req.Scales), Allow: p.allow, AllowFor: req.AllowFor}
	p.materials()
	if err := p.blocked(); err != nil {
		return Sheet{}, err
	}
	p.roles()
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
	sh.Lines = p.lines
	if p.quiet == "" {
		p.total(&sh)
	}
	sh.Words = p.words
	return sh, nil
}

func (p *planner) say(m text.Message) { p.words = append(p.words, m.String()) }

// sortErrors gives errors that come from maps an order that is always the same.
func sortErrors(errs []error) {
	slices.SortFunc(errs, func(a, b error) int { return strings.Compare(a.Error(), b.Error()) })
}

func (p *planner) inRecipe(name string) bool {
	return slices.ContainsFunc(p.req.Recipe.Items, func(it recipe.Item) bool { return recipe.Key(it.Name) == recipe.Key(name) })
}

func (p *planner) names() (ns []string) {
	for _, it := range p.req.Recipe.Items {
		ns = append(ns, it.Name)
	}
	return ns
}

// materials opens a line for each item and says what the table does not know.
func (p *planner) materials() {
	base := map[string]bool{}
	same := map[string]string{}
	for _, it := range p.req.Recipe.Items {
		f := p.look(it.Name)
		m, ok := f.Material, f.ok
		l := Line{Material: it.Name, Addition: it.Addition, Share: it.Share, Percent: percent(it.Share)}
		if !it.Addition {
			base[recipe.Key(it.Name)] = true
		}
		if ok {
			l.Hazards = f.hazards
			if other, twice := same[m.Name]; twice && !m.Family && recipe.Key(other) != recipe.Key(it.Name) {
				p.say(text.New("sheet.same", text.Name("one", other), text.Name("other", it.Name)))
			}
			same[m.Name] = it.Name
		} else if it.Name != p.quiet && p.told(it.Name) {
			p.say(text.New("sheet.unlisted", text.Name("material", it.Name)))
		} else if it.Name != p.quiet {
			l.Unknown = true
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

// told tells whether somebody gave the role of a material.
func (p *planner) told(name string) bool {
	for given := range p.req.Roles {
		if recipe.Key(given) == recipe.Key(name) {
			return true
		}
	}
	return false
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
		case l.Addition:
			l.Role = Addition
		default:
			l.Role = Base
		}
		for name, role := range p.req.Roles {
			if recipe.Key(name) == recipe.Key(it.Name) {
				l.Role = role
			}
		}
	}
}

func (p *planner) allowed(i int) Allow {
	for name, a := range p.req.AllowFor {
		if recipe.Key(name) == recipe.Key(p.req.Recipe.Items[i].Name) {
			return a
		}
	}
	return p.allow[p.lines[i].Role]
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
	if sh.Dry, err = protocol.RoundRat(sum); err != nil {
		return over(err)
	}
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

// fit is how a scale would do for a target.
func (s measured) fit(target, allowed protocol.Mass) Fit {
	n := portions(target, s.room, s.limited)
	u := times(s.u, n)
	return Fit{Scale: s.Name, Verdict: Judge(allowed, s.Step, u), U: u, Room: n == 1, Portions: n}
}

// choose picks the scale for a target: the first in the user's order that is
// good and takes it in one weighing; else the good one with the fewest
// portions; else, of those that take it in one weighing or, failing that, in
// portions, the one with the smallest U. -1 when every one would need more than
// 20 portions.
func choose(fits []Fit) int {
	best := -1
	for i, f := range fits {
		if f.Portions > maxPortions {
			continue
		}
		if f.Verdict == Good && f.Room {
			return i
		}
		if best < 0 || better(f, fits[best]) {
			best = i
		}
	}
	return best
}

func better(a, b Fit) bool {
	if ga, gb := a.Verdict == Good, b.Verdict == Good; ga || gb {
		return ga && (!gb || a.Portions < b.Portions)
	}
	if a.Room != b.Room {
		return a.Room
	}
	return a.U < b.U
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

// use puts a line on a scale.
func (l *Line) use(s Scale, f Fit) {
	l.Scale, l.Step, l.Verdict, l.U, l.Portions, l.Assumed = s.Name, s.Step, f.Verdict, f.U, f.Portions, s.Spread == 0
	l.marks()
}

// marks sets the band and the marks. The low mark is never at or under nothing,
// or an empty container would be in the band.
func (l *Line) marks() {
	l.Band = Band(l.Allowed, l.Step)
	l.Low, l.High = max(l.Target-l.Band, protocol.Nanogram), l.Target+l.Band
}

// order sorts the lines: base by size, additions by size, strong colourants
// last and together by scale; a wish goes before.
func (p *planner) order() error {
	at := map[string]int{}
	for i, s := range p.scales {
		at[s.Name] = i
	}
	rank := map[Role]int{Base: 0, Addition: 1, Strong: 2}
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
		case a.Role != b.Role:
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
	size := text.New("sheet.total", text.Mass("base", sh.Base, 2), text.Share("additions", percent(adds)), text.Mass("dry", sh.Dry, 2))
	var wet text.Message
	switch {
	case sh.Slip.Wished:
		wet = text.New("sheet.total-wet", text.Mass("water", sh.Slip.Water, 0), text.Number("litres", sh.Slip.Litres), text.Number("gravity", sh.Slip.Gravity))
	case p.req.Water != nil:
		wet = text.New("sheet.total-first-water", text.Mass("water", sh.Slip.Water, 0), text.Share("share", percent(p.req.Water)), text.Number("litres", sh.Slip.Litres), text.Number("gravity", sh.Slip.Gravity))
	default:
		wet = text.New("sheet.total-usual-water", text.Mass("water", sh.Slip.Water, 0), text.Number("litres", sh.Slip.Litres), text.Number("gravity", sh.Slip.Gravity))
	}
	p.words = append([]string{size.String() + " " + wet.String()}, p.words...)
}

// percent writes a share for people: in full when it is short, else with three
// decimals.
func percent(r *big.Rat) string {
	if d := recipe.Decimal(r, 3); !strings.Contains(d, "/") {
		return d
	}
	return r.FloatString(3)
}

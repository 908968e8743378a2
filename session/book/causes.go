package book

import (
	"cmp"
	"math/big"
	"slices"
	"strings"

	"tared/session/batch"
	"tared/session/fact"
	"tared/session/recipe"
	"tared/session/sheet"
	"tared/session/text"
)

// Cause is one thing in which the batches differ, in one sentence. Those of a
// Comparison stand in the order in which they are likely to have made the tiles
// differ.
type Cause struct {
	Kind     string `json:"kind"`
	Material string `json:"material,omitempty"`
	Weighing bool   `json:"weighing,omitempty"` // what went in is not what was planned, by more than the weighing can be wrong by
	Words    string `json:"words"`
}

// The kinds of causes, the likeliest first. The order is common practice, no
// source: the colour answers to a strong colourant first and to the fire next,
// then to the thickness of the coat; who weighed comes near the end.
const (
	byPlan     = "recipe"
	byOther    = "substitute"
	byStrong   = "strong colourant"
	byCone     = "cone"
	byAir      = "atmosphere"
	byAddition = "addition"
	byGravity  = "gravity"
	byCoats    = "coats"
	byClay     = "clay"
	byBase     = "base material"
	byMoved    = "moved with it"
	byLot      = "lot"
	byWater    = "water"
	bySieve    = "sieve"
	byHold     = "hold"
	byKiln     = "kiln"
	byPlace    = "place in the kiln"
	byScale    = "scale"
	byPerson   = "operator"
	bySmall    = "within the bands"
)

var byWeight = []string{byPlan, byOther, byStrong, byCone, byAir, byAddition, byGravity, byCoats, byClay, byBase, byMoved, byLot, byWater, bySieve,
	byHold, byKiln, byPlace, byScale, byPerson, bySmall}

// excess gives how much more of a material is in b than in a, in percent of the
// base, beyond what the two recipes say.
func excess(a, b side) *big.Rat { return new(big.Rat).Sub(b.over, a.over) }

// strays reports whether that is more than the joint U.
func strays(a, b side) bool {
	if a.plan.Cmp(b.plan) == 0 {
		return differ(a, b) // the same in whole numbers, which is quicker
	}
	n, four := joint(a, b)
	d := excess(a, b)
	d.Quo(d, big.NewRat(100, 1))
	return d.Mul(d, d).Cmp(new(big.Rat).SetFrac(n, four)) > 0
}

// What a difference is taken for.
type weight int

const (
	none  weight = iota // within the joint U, or as planned
	small               // not surely more than the bands of the two allow
	moved               // weighed as alike as that, and only the shares are further apart: the base is not the same
	real                // what went in can explain a difference
)

// judge weighs the difference of two batches in one material.
func judge(a, b side) weight {
	switch {
	case a.open || b.open:
		return none
	case other(a, b):
		return real
	case !strays(a, b):
		return none
	}
	n, four := joint(a, b)
	u := new(big.Rat).SetFrac(n, four)
	band := new(big.Rat).Add(a.band(), b.band())
	within := func(d *big.Rat) bool { // d less the bands is within U
		if d.Abs(d).Sub(d, band); d.Sign() <= 0 {
			return true
		}
		d.Quo(d, big.NewRat(100, 1))
		return d.Mul(d, d).Cmp(u) <= 0
	}
	switch {
	case within(excess(a, b)):
		return small
	case within(new(big.Rat).Sub(b.own(), a.own())):
		return moved
	}
	return real
}

// band gives half the band, as percent of the base. It is no wider than what a
// role is allowed where the user sets nothing: a band can be as wide as a step of
// the scale is coarse, and to be in it is not to be alike.
func (s side) band() *big.Rat {
	if s.target <= 0 {
		return new(big.Rat)
	}
	half := min((s.high-s.low)/2, sheet.Standard(sheet.Role(s.role)).Of(s.target))
	r := big.NewRat(int64(half), int64(s.target))
	return r.Mul(r, s.plan)
}

// own gives how far a material is off by its own weighing, as percent of the base
// planned: what the other materials do to its share is not in it.
func (s side) own() *big.Rat {
	if s.target <= 0 {
		return new(big.Rat).Set(s.over)
	}
	r := big.NewRat(int64(s.weighed), int64(s.target))
	return r.Sub(r, big.NewRat(1, 1)).Mul(r, s.plan)
}

// finding is what is to be said of a material: how far apart the batches are, or
// one of them from all others.
type finding struct {
	kind, material string
	says           []text.Message
}

// weighed finds what the amounts that went in can explain, material by material,
// and what they cannot though it is more than U.
func weighed(batches []*Batch, c Comparison, sides [][]side) (found []finding, shifted, slight []string) {
	for m, l := range c.Lines {
		row := sides[m]
		apart := make([][]weight, len(row))
		worst := none
		for i := range row {
			apart[i] = make([]weight, len(row))
			for j := range i {
				apart[i][j] = judge(row[j], row[i])
				apart[j][i] = apart[i][j]
				worst = max(worst, apart[i][j])
			}
		}
		switch worst {
		case small:
			slight = append(slight, l.Material)
		case moved:
			shifted = append(shifted, l.Material)
		case real:
			found = append(found, findings(batches, l, row, apart)...)
		}
	}
	slices.SortStableFunc(found, func(a, b finding) int {
		return cmp.Compare(slices.Index(byWeight, a.kind), slices.Index(byWeight, b.kind))
	})
	return found, shifted, slight
}

func findings(batches []*Batch, l Against, row []side, apart [][]weight) (out []finding) {
	kind := byAddition
	switch {
	case slices.ContainsFunc(row, func(s side) bool { return s.role == "strong" }):
		kind = byStrong
	case !l.Addition:
		kind = byBase
	}
	if used := tally(batches, func(k int) string { return cmpOr(row[k].as, l.Material) }, func(k int) bool { return row[k].in && !row[k].open }); len(used) > 1 {
		out = append(out, finding{byOther, l.Material, []text.Message{text.New("compare.other", text.Name("material", l.Material), text.Names("batches", grouped(used)))}})
	}
	real := func(i, j int) bool { return apart[i][j] == real && !other(row[i], row[j]) }
	crowd, odd := split(row, real)
	if len(crowd) == 0 {
		// No crowd to stand apart from: the two that are furthest apart.
		var a, b int
		var most *big.Rat
		for i := range row {
			for j := range i {
				if d := excess(row[j], row[i]); real(i, j) && (most == nil || d.Abs(d).Cmp(most) > 0) {
					a, b, most = j, i, d
				}
			}
		}
		if most == nil {
			return out
		}
		from, to := span(row[a], row[b:b+1])
		say := text.New("compare.two", text.Name("material", l.Material), text.Share("from", from), text.Share("to", to))
		if len(row) > 2 {
			say = text.New("compare.furthest", text.Name("material", l.Material), text.Name("one", batches[a].Mark), text.Name("other", batches[b].Mark), text.Share("from", from), text.Share("to", to))
		}
		return append(out, finding{kind, l.Material, append([]text.Message{say}, whose(batches[a], batches[b], row[a], row[b])...)})
	}
	var rest []side
	var marks []string
	for _, j := range crowd {
		rest = append(rest, row[j])
		marks = append(marks, batches[j].Mark)
	}
	for _, k := range odd {
		from, to := span(row[k], rest)
		say := text.New("compare.apart", text.Name("batch", batches[k].Mark), text.Name("material", l.Material), text.Share("from", from), text.Share("to", to), text.Names("others", marks))
		out = append(out, finding{kind, l.Material, append([]text.Message{say}, whose(batches[crowd[0]], batches[k], row[crowd[0]], row[k])...)})
	}
	return out
}

// split parts the finished batches into a crowd, more than half of them, in which
// none is far from another, and those that are far from all of it. It gives no
// crowd where there is no such parting, or only two batches.
func split(row []side, real func(i, j int) bool) (crowd, odd []int) {
	var all []int
	for k, s := range row {
		if !s.open {
			all = append(all, k)
		}
	}
	if len(all) < 3 {
		return nil, nil
	}
	for _, i := range all {
		var with []int
		for _, j := range all {
			if i == j || !real(i, j) {
				with = append(with, j)
			}
		}
		if len(with) > len(crowd) {
			crowd = with
		}
	}
	for _, i := range all {
		in := slices.Contains(crowd, i)
		for _, j := range crowd {
			if i != j && real(i, j) == in {
				return nil, nil
			}
		}
		if !in {
			odd = append(odd, i)
		}
	}
	if 2*len(crowd) <= len(all) || len(odd) == 0 {
		return nil, nil
	}
	return crowd, odd
}

// whose says in which batch there is more, whether the plans differed, and whether it
// was left out of one.
func whose(first, n *Batch, a, b side) (says []text.Message) {
	if a.plan.Cmp(b.plan) != 0 {
		says = append(says, text.New("compare.beyond-plan"))
	}
	if excess(a, b).Sign() < 0 {
		says = append(says, text.New("compare.less-in", text.Name("batch", n.Mark)))
	} else {
		says = append(says, text.New("compare.more-in", text.Name("batch", n.Mark)))
	}
	if a.verdict == "skipped" {
		says = append(says, text.New("compare.left-out", text.Name("batch", first.Mark)))
	}
	if b.verdict == "skipped" {
		says = append(says, text.New("compare.left-out", text.Name("batch", n.Mark)))
	}
	return says
}

// group is a value and the batches that have it.
type group struct {
	value string
	marks []string
}

// tally groups batches by a value; use says which have one at all.
func tally(batches []*Batch, value func(k int) string, use func(k int) bool) (all []group) {
	for k, n := range batches {
		if !use(k) {
			continue
		}
		v := value(k)
		i := slices.IndexFunc(all, func(g group) bool { return recipe.Key(g.value) == recipe.Key(v) })
		if i < 0 {
			i = len(all)
			all = append(all, group{value: v})
		}
		all[i].marks = append(all[i].marks, n.Mark)
	}
	return all
}

// grouped writes "6 (A, C)" and "7 (B)".
func grouped(all []group) (out []string) {
	for _, g := range all {
		out = append(out, g.value+" ("+strings.Join(g.marks, ", ")+")")
	}
	return out
}

// why says why the batches may differ: the verdict on the weighing, each cause
// in a sentence, and what else is to be known.
func (c *Comparison) why(batches []*Batch, sides [][]side) {
	c.Causes, c.Notes, c.Words = []Cause{}, []string{}, []string{}
	var closed []*Batch
	for _, n := range batches {
		if n.Finished {
			closed = append(closed, n)
		}
	}
	note := func(m text.Message) { c.Notes = append(c.Notes, m.String()) }
	if len(closed) > 1 {
		c.weighing(batches, sides)
		c.around(closed)
		slices.SortStableFunc(c.Causes, func(a, b Cause) int {
			return cmp.Compare(slices.Index(byWeight, a.Kind), slices.Index(byWeight, b.Kind))
		})
	}
	if len(batches) > 1 {
		for _, n := range batches {
			if !n.Finished {
				note(text.New("compare.open", text.Name("batch", n.Mark)))
			}
		}
		correctedNotes(batches, *c, note)
		notes(closed, note)
	}
	if c.Verdict != "" {
		c.Words = append(c.Words, c.Verdict)
	}
	for _, x := range c.Causes {
		if !strings.Contains(c.Verdict, x.Words) {
			c.Words = append(c.Words, x.Words)
		}
	}
	c.Words = append(c.Words, c.Notes...)
}

// weighing judges what went in.
func (c *Comparison) weighing(batches []*Batch, sides [][]side) {
	add := func(kind, material string, weighing bool, says ...text.Message) {
		c.Causes = append(c.Causes, Cause{kind, material, weighing, text.Join(english, says)})
	}
	planned := false
	for m, l := range c.Lines {
		row := sides[m]
		plans := tally(batches, func(k int) string {
			return percentText(row[k].plan.RatString()) + " %"
		}, func(k int) bool { return !row[k].open })
		if len(plans) > 1 {
			planned = true
			add(byPlan, l.Material, false, text.New("compare.plan", text.Name("material", l.Material), text.Names("batches", grouped(plans))))
		}
	}
	found, shifted, slight := weighed(batches, *c, sides)
	for _, f := range found {
		add(f.kind, f.material, true, f.says...)
	}
	c.lots(batches, sides, add)
	if len(shifted) > 0 {
		add(byMoved, "", false, text.New("compare.moved", text.Names("materials", shifted)))
	}
	if len(slight) > 0 {
		add(bySmall, "", false, text.New("compare.small", text.Names("materials", slight)))
	}
	c.Explains = len(found) > 0
	verdict := text.New("compare.no")
	switch {
	case len(found) > 1:
		verdict = text.New("compare.yes-more", text.Name("what", text.Join(english, found[0].says)), text.Count("count", len(found)-1))
	case len(found) == 1:
		verdict = text.New("compare.yes", text.Name("what", text.Join(english, found[0].says)))
	case planned:
		verdict = text.New("compare.no-recipes")
	case len(slight) > 0:
		verdict = text.New("compare.no-surely")
	}
	c.Verdict = verdict.String()
}

// lots tells of materials that came from another bag.
func (c *Comparison) lots(batches []*Batch, sides [][]side, add func(kind, material string, weighing bool, says ...text.Message)) {
	for m, l := range c.Lines {
		row := sides[m]
		lot := func(k int) string { return batch.LotOf(batches[k].Plan.Lots, l.Material).Lot }
		from := tally(batches, lot, func(k int) bool { return row[k].in && !row[k].open && row[k].as == "" && lot(k) != "" })
		if len(from) > 1 {
			add(byLot, l.Material, false, text.New("compare.lots", text.Name("material", l.Material), text.Names("batches", grouped(from))))
		}
	}
}

// others say in what the batches differ beside the weighing.
var others = []struct {
	kind string
	says func(batches []string) text.Message
}{
	{byCone, func(b []string) text.Message { return text.New("compare.cones", text.Names("batches", b)) }},
	{byAir, func(b []string) text.Message { return text.New("compare.atmospheres", text.Names("batches", b)) }},
	{byCoats, func(b []string) text.Message { return text.New("compare.coats", text.Names("batches", b)) }},
	{byClay, func(b []string) text.Message { return text.New("compare.clay", text.Names("batches", b)) }},
	{bySieve, func(b []string) text.Message { return text.New("compare.sieves", text.Names("batches", b)) }},
	{byHold, func(b []string) text.Message { return text.New("compare.hold", text.Names("batches", b)) }},
	{byKiln, func(b []string) text.Message { return text.New("compare.kilns", text.Names("batches", b)) }},
	{byPlace, func(b []string) text.Message { return text.New("compare.places", text.Names("batches", b)) }},
	{byPerson, func(b []string) text.Message { return text.New("compare.people", text.Names("batches", b)) }},
}

// around finds what differs beside the weighing.
func (c *Comparison) around(batches []*Batch) {
	add := func(kind string, m text.Message) { c.Causes = append(c.Causes, Cause{Kind: kind, Words: m.String()}) }
	traits := make([]map[string]string, len(batches))
	for k, n := range batches {
		traits[k] = n.traits()
	}
	for _, t := range others {
		has := func(k int) bool { return traits[k][t.kind] != "" }
		if all := tally(batches, func(k int) string { return traits[k][t.kind] }, has); len(all) > 1 {
			add(t.kind, t.says(grouped(all)))
		}
	}
	unfired := without(batches, func(k int) bool { return traits[k][byKiln] != "" || traits[k][byCone] != "" })
	unmeasured := c.wet(batches, add)
	if strangers(batches) {
		add(byScale, text.New("compare.scales"))
	}
	note := func(marks []string, some, all text.Message) {
		switch {
		case len(marks) == len(batches):
			c.Notes = append(c.Notes, all.String())
		case len(marks) > 0:
			c.Notes = append(c.Notes, some.String())
		}
	}
	note(unfired, text.New("compare.no-firing", text.Names("batches", unfired)), text.New("compare.no-firings"))
	note(unmeasured, text.New("compare.no-gravity", text.Names("batches", unmeasured)), text.New("compare.no-gravities"))
}

// without names the batches that lack something.
func without(batches []*Batch, has func(k int) bool) (marks []string) {
	for k, n := range batches {
		if !has(k) {
			marks = append(marks, n.Mark)
		}
	}
	return marks
}

// wet compares gravities, and the water for each hundred of dry material; it names the
// batches without a gravity.
func (c *Comparison) wet(batches []*Batch, add func(kind string, m text.Message)) []string {
	gravity, water := make([]about, len(batches)), make([]about, len(batches))
	for k, n := range batches {
		gravity[k], water[k] = n.wetness()
	}
	if all := farApart(batches, gravity, func(a about) string { return a.mid.FloatString(3) }); all != nil {
		add(byGravity, text.New("compare.gravities", text.Names("batches", all)))
	}
	if all := farApart(batches, water, func(a about) string { return a.mid.FloatString(1) + " g" }); all != nil {
		add(byWater, text.New("compare.water", text.Names("batches", all)))
	}
	return without(batches, func(k int) bool { return gravity[k].mid != nil })
}

// about is a value and how far it may be off; no mid: it is not known.
type about struct{ mid, u *big.Rat }

// farApart tells the values where some two differ by more than their joint U.
func farApart(batches []*Batch, all []about, show func(about) string) []string {
	far := false
	for i, a := range all {
		for _, b := range all[:i] {
			if a.mid == nil || b.mid == nil {
				continue
			}
			d := new(big.Rat).Sub(a.mid, b.mid)
			u := new(big.Rat).Add(new(big.Rat).Mul(a.u, a.u), new(big.Rat).Mul(b.u, b.u))
			far = far || d.Mul(d, d).Cmp(u) > 0
		}
	}
	if !far {
		return nil
	}
	return grouped(tally(batches, func(k int) string { return show(all[k]) }, func(k int) bool { return all[k].mid != nil }))
}

// wetness gives the gravity as last measured, and the grams of water that were
// weighed in for a hundred of dry material.
func (n *Batch) wetness() (gravity, water about) {
	in, u := new(big.Rat), new(big.Rat)
	if w := n.WaterStep(); w != nil {
		in.Add(in, w.Delivered.Rat())
		u.Add(u, w.DeliveredU().Rat())
	}
	for _, t := range n.facts {
		v, ok := t.Body.(fact.Watered)
		if !ok || t.void {
			continue
		}
		if v.Added.Mass > 0 {
			in.Add(in, v.Added.Mass.Rat())
			u.Add(u, typedU(v.Added))
		}
		if v.Gravity == "" {
			continue
		}
		if low, mid, high, err := bounds(v); err == nil {
			off := new(big.Rat).Sub(high, low)
			gravity = about{mid, off.Quo(off, big.NewRat(2, 1))}
		}
	}
	if in.Sign() == 0 {
		return gravity, water
	}
	dry, dryU, solid, moist, _ := n.blend()
	if solid == nil || dry.Sign() <= 0 {
		return gravity, water
	}
	in.Add(in, moist)
	per := new(big.Rat).Quo(big.NewRat(100, 1), dry)
	// Relative doubts add up here; they are small beside what thickness depends on.
	off := new(big.Rat).Add(new(big.Rat).Quo(u, in), new(big.Rat).Quo(dryU, dry))
	mid := per.Mul(per, in)
	return gravity, about{mid, off.Mul(off, mid)}
}

// traits gives what is known of a batch in words, by the kind of cause that it
// would be. Where it was fired more than once, all that it was fired to.
func (n *Batch) traits() map[string]string {
	all := map[string][]string{}
	put := func(kind, value string) {
		value = strings.TrimSpace(value)
		if value != "" && !slices.ContainsFunc(all[kind], func(s string) bool { return recipe.Key(s) == recipe.Key(value) }) {
			all[kind] = append(all[kind], value)
		}
	}
	for _, t := range n.facts {
		if t.void {
			continue
		}
		switch v := t.Body.(type) {
		case fact.Portion:
			if t.Fact.By != "scale" && t.Fact.By != "tared" {
				put(byPerson, t.Fact.By)
			}
		case fact.Watered:
			if v.Opening != "" {
				put(bySieve, v.Opening+" µm")
			}
		case fact.Fired:
			put(byCone, strings.TrimPrefix(recipe.Key(v.Cone), "cone "))
			put(byAir, v.Atmosphere)
			put(byHold, v.Hold)
			put(byKiln, v.Kiln)
		case fact.Judged:
			put(byClay, v.Clay)
			put(byCoats, strings.Trim(v.Coats+", "+v.Thick, ", "))
			put(byPlace, v.Place)
		}
	}
	out := map[string]string{}
	for kind, values := range all {
		slices.SortFunc(values, func(a, b string) int { return cmp.Compare(recipe.Key(a), recipe.Key(b)) })
		out[kind] = strings.Join(values, ", ")
	}
	return out
}

// notes says what else a reader should know.
func notes(batches []*Batch, note func(text.Message)) {
	var simulated []string
	assumed := map[string][]string{}
	var order []string
	for _, n := range batches {
		if n.Plan.Simulated {
			simulated = append(simulated, n.Mark)
		}
		if names := n.assumed(); len(names) > 0 {
			on := strings.Join(names, ", ")
			if assumed[on] == nil {
				order = append(order, on)
			}
			assumed[on] = append(assumed[on], n.Mark)
		}
	}
	if len(simulated) > 0 {
		note(text.New("compare.simulated", text.Names("batches", simulated)))
	}
	for _, on := range order {
		note(text.New("compare.assumed", text.Names("batches", assumed[on]), text.Name("scales", on)))
	}
	if len(batches) == 0 {
		return
	}
	if s := batches[0].Plan.Series.Of; s != "" && !slices.ContainsFunc(batches, func(n *Batch) bool { return n.Plan.Series.Of != s }) {
		note(text.New("compare.cups", text.Name("tub", s)))
	}
}

// span gives the least and the most that a batch can differ from any of others,
// rounded outwards to two decimals, to three where two would hide that it is more
// than nothing.
func span(a side, others []side) (from, to string) {
	var low, high *big.Rat
	for _, b := range others {
		n, four := joint(a, b)
		d := excess(a, b)
		d.Abs(d)
		u := rooted(n, four, 9)
		least, most := new(big.Rat).Sub(d, u), new(big.Rat).Add(d, u)
		if low == nil || least.Cmp(low) < 0 {
			low = least
		}
		if high == nil || most.Cmp(high) > 0 {
			high = most
		}
	}
	for _, places := range []int{2, 3, 6} {
		if from = towards(low, places, false); strings.Trim(from, "-0.") != "" || places == 6 {
			return from, towards(high, places, true)
		}
	}
	return "", ""
}

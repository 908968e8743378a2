package book

import (
	"cmp"
	"math/big"
	"slices"
	"strings"

	"tared/session/batch"
	"tared/session/fact"
	"tared/session/recipe"
	"tared/session/text"
)

// others say in what the batches differ beside the weighing.
var others = []struct {
	kind cause
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

// besideWeighing finds what differs beside the weighing.
func (c *Comparison) besideWeighing(batches []*Batch) {
	add := func(kind cause, m text.Message) {
		c.Causes = append(c.Causes, Cause{Kind: kind, Words: c.reader.Say(m)})
	}
	traits := make([]map[cause]string, len(batches))
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
			c.Notes = append(c.Notes, c.reader.Say(all))
		case len(marks) > 0:
			c.Notes = append(c.Notes, c.reader.Say(some))
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
func (c *Comparison) wet(batches []*Batch, add func(kind cause, m text.Message)) []string {
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
	if w := n.WaterIn(); w.Delivered > 0 {
		in.Add(in, w.Delivered.Rat())
		u.Add(u, w.U.Rat())
	}
	for _, t := range n.facts {
		v, ok := t.Body.(fact.Watered)
		if !ok || t.void {
			continue
		}
		if v.Added.Mass > 0 {
			in.Add(in, v.Added.Mass.Rat())
			u.Add(u, typedU(v.Added).Rat())
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
func (n *Batch) traits() map[cause]string {
	all := map[cause][]string{}
	put := func(kind cause, value string) {
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
			if t.Fact.By != "scale" && t.Fact.By != "tared" && t.Fact.By != fact.NotNamed {
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
	out := map[cause]string{}
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

// assumed names the scales of the batch whose repeatability nobody measured.
func (n *Batch) assumed() []string {
	var names []string
	for _, s := range n.Plan.Scales {
		if s.Assumed && slices.ContainsFunc(n.Materials(), func(m batch.Material) bool { return m.Line.Scale == s.Name && m.Portions > 0 }) {
			names = append(names, s.Name)
		}
	}
	return names
}

// strangers reports whether the batches rest on different instruments.
func strangers(batches []*Batch) bool {
	id := func(n *Batch) string {
		var all []string
		for _, s := range n.Plan.Scales {
			all = append(all, cmp.Or(s.Identity, s.Name))
		}
		slices.Sort(all)
		return strings.Join(all, "\n")
	}
	for _, n := range batches[1:] {
		if id(n) != id(batches[0]) {
			return true
		}
	}
	return false
}

// correctedNotes tell what of the batches of a comparison was corrected after they
// were closed.
func correctedNotes(batches []*Batch, c Comparison, note func(text.Message)) {
	typed := false
	for k, n := range batches {
		if n.asClosed() == nil {
			continue
		}
		lines, _, _ := n.asMade()
		for _, l := range lines {
			if l.AtClosing == nil {
				continue
			}
			note(text.New("compare.corrected", text.Name("material", l.Material), text.Name("batch", c.Batches[k].Mark), text.Mass("is", l.Delivered.Mass, l.Delivered.Places), text.Mass("was", l.AtClosing.Mass, l.AtClosing.Places), text.Share("was_share", l.ShareAtClosing), text.Share("is_share", l.Share)))
		}
		typed = typed || n.hasTypedCorrection()
	}
	if typed {
		note(text.New("compare.corrected-typed"))
	}
}

package batch

import (
	"cmp"
	"math/big"

	"tared/protocol"
	"tared/session/doubt"
	"tared/session/fact"
	"tared/session/sheet"
)

// Material is one material of the recipe as it stands.
type Material struct {
	Line     fact.Line
	In       Delivery
	Portions int
	Places   int  // decimals that its weights have
	Kept     bool // over, and a person kept it so
}

// Deliveries gives what reached the batch of each material of the recipe: what was
// weighed of it by itself, and what it has in parts of mixtures, in the proportion in
// which they were mixed. A material whose mixture was left out counts as skipped
// when it is not weighed by itself as well.
func (b *Batch) Deliveries() []Delivery {
	all := make([]Delivery, len(b.Lines))
	for i, l := range b.Lines {
		if k := b.StepOf(l.Material); k >= 0 {
			all[i] = b.Steps[k].Delivery()
		}
	}
	for mix, m := range b.Mixes {
		_, _, take := b.CupSteps(mix)
		parts, brought := b.parts(mix), b.brought(mix)
		for k, p := range m.Parts {
			i := b.lineOf(p.Material)
			if i < 0 {
				continue
			}
			d := &all[i]
			d.add(brought[k])
			d.As = cmp.Or(d.As, parts[k].As)
			d.Skipped = d.Skipped || take.Skipped && m.whole(k)
			d.NotKnown = d.NotKnown || take.NotKnown > 0
		}
	}
	return moisten(b.Lines, all, b.Plan.Lots)
}

// add adds what a part of a mixture holds.
func (d *Delivery) add(w sheet.Weighed) {
	d.Delivered += w.Mass
	own := new(big.Int).Add(doubt.Own(d.U, d.On), doubt.Own(w.U, w.On))
	d.On = doubt.Both(d.On, w.On)
	d.U = doubt.Root(own.Add(own, doubt.Spans(d.On)))
}

// Materials gives those of the recipe, then what went in though nobody planned it.
func (b *Batch) Materials() []Material {
	all := make([]Material, len(b.Lines))
	for i, in := range b.Deliveries() {
		l := b.Lines[i]
		all[i] = Material{Line: l, In: in, Places: b.Scale(l.Scale).Step.StepPlaces()}
		if k := b.StepOf(l.Material); k >= 0 {
			st := b.Steps[k]
			all[i].Portions, all[i].Places, all[i].Kept = st.Portions, st.Places, st.Kept
		}
	}
	for mix, m := range b.Mixes {
		_, _, take := b.CupSteps(mix)
		for k, p := range m.Parts {
			i := b.lineOf(p.Material)
			if i < 0 {
				continue
			}
			all[i].Portions += take.Portions
			if m.whole(k) {
				// A part in so many can be known finer than a step of the scale.
				all[i].Places = max(all[i].Places, places(all[i].In.U))
				all[i].Kept = all[i].Kept || take.Kept
			}
		}
	}
	return all
}

// places gives the decimals that show two figures of an uncertainty.
func places(u protocol.Mass) int {
	n := 0
	for unit := protocol.Gram; u > 0 && u < 10*unit && n < 6; unit /= 10 {
		n++
	}
	return n
}

// OutOfBags gives what was taken out of the bags for a material: what went in, and
// what stayed in a mixing cup; in a cup of a series its part of the tub.
func (b *Batch) OutOfBags(m Material) protocol.Mass {
	sum := m.In.Delivered
	for mix, x := range b.Mixes {
		if x.From != "" {
			continue
		}
		parts, brought := b.parts(mix), b.brought(mix)
		for k, p := range x.Parts {
			switch {
			case p.Material != m.Line.Material:
			case x.Lot != "": // that came out of its bag when the lot was mixed
				sum -= brought[k].Mass
			default:
				sum += parts[k].Delivered - brought[k].Mass
			}
		}
	}
	return sum
}

// Verdict says how what went in of a material stands to its band; it is empty while
// the batch is open and nothing is in of it yet.
func (b *Batch) Verdict(l fact.Line, in Delivery, portions int) string {
	if !b.Finished && !in.Skipped && portions == 0 {
		return ""
	}
	return b.judged(l, in, cmp.Or(b.Plan.Rule, doubt.Simple))
}

// StepVerdict is the same of one weighing.
func (b *Batch) StepVerdict(st Step) string {
	return b.verdict(st.Delivery(), st.Target, b.StepAllowed(st), st.High, cmp.Or(b.Plan.Rule, doubt.Simple))
}

// recorded is the verdict that the record of a batch has: by the rule of its plan.
func (b *Batch) recorded(l fact.Line, in Delivery) string {
	if b.Plan.Rule == "" {
		return marked(l, in)
	}
	return b.judged(l, in, b.Plan.Rule)
}

func (b *Batch) judged(l fact.Line, in Delivery, rule doubt.Rule) string {
	return b.verdict(in, l.Target, b.Allowed(l), l.High, rule)
}

func (b *Batch) verdict(in Delivery, target, allowed, high protocol.Mass, rule doubt.Rule) string {
	switch {
	case in.Skipped:
		return "skipped"
	case in.NotKnown && in.Delivered <= high:
		return Unknown
	}
	return string(rule.Judge(in.Delivered, in.U, target, allowed))
}

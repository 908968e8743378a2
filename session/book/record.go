package book

import (
	"cmp"
	"strconv"

	"tared/protocol"
	"tared/session/doubt"
	"tared/session/fact"
	"tared/session/sentence"
	"tared/session/signer"
	"tared/session/text"
)

// Made gives the batch as it stands.
func (n *Batch) Made() Made {
	lines, base, dry := n.asMade()
	m := Made{
		reader: n.reader, Row: n.Row(), Recipe: n.Plan.Recipe, RecipeHash: n.Plan.RecipeHash,
		Dry: n.size(n.Plan.Dry), Lines: lines, Scales: n.Plan.Scales, Rule: cmp.Or(n.Plan.Rule, doubt.Simple), Hash: n.hash, Bench: n.bench(), MadeBase: Amount{Mass: base}, MadeDry: Amount{Mass: dry},
		Changes: []Change{}, Pours: n.pours(), Facts: []RecordEntry{}, Words: []string{}, Check: n.check(),
	}
	if n.Dry != n.Plan.Dry {
		grown := n.size(n.Dry)
		m.GrownDry = &grown
	}
	m.KeptRecipe, m.Cost = n.Plan.Kept, n.bags(lines)
	for _, l := range lines {
		m.MadeDry.Places = max(m.MadeDry.Places, l.Delivered.Places)
		if !l.Addition {
			m.MadeBase.Places = max(m.MadeBase.Places, l.Delivered.Places)
		}
	}
	for _, c := range n.changes {
		m.Changes = append(m.Changes, n.changed(c))
	}
	for _, t := range n.facts {
		m.Facts = append(m.Facts, RecordEntry{Seq: t.Seq, At: t.At, Kind: t.Body.Kind(), By: n.person(t.Fact.By), Words: n.told(t.Fact),
			Hash: t.hash, Void: t.void, AmendedBy: t.by})
	}
	m.Water = n.firstWater(dry)
	m.Words = append(append(m.Words, n.words(m)...), n.checkWords()...)
	return m
}

// person is who did something, in words where nobody was named.
func (n *Batch) person(by string) string {
	if by == fact.NotNamed {
		return n.reader.Say(text.New("record.nobody-named"))
	}
	return by
}

// told tells a fact of the batch with its masses in the unit that the scales showed, where
// that was another than the gram.
func (n *Batch) told(f fact.Fact) string {
	on := n.Scale(n.scaleOf(f.Body))
	return text.Join(n.reader, sentence.In(f, on.Unit, on.Step))
}

// scaleOf names the scale that a fact is of, the only one of its batch included.
func (n *Batch) scaleOf(b fact.Body) string {
	switch v := b.(type) {
	case fact.Tared:
		return v.Scale
	case fact.Portion:
		return v.Scale
	case fact.Found:
		return v.Scale
	case fact.Noticed:
		return v.Scale
	}
	if len(n.Plan.Scales) == 1 {
		return n.Plan.Scales[0].Name
	}
	return ""
}

// pours gives all portions in order.
func (n *Batch) pours() []Pour {
	out := []Pour{}
	for _, t := range n.facts {
		if d, ok := t.Body.(fact.Decided); ok && d.Question == "confirm" {
			for i := range out {
				if out[i].Material == d.Material && out[i].Confirmed == "" && !out[i].Void {
					out[i].Confirmed = d.With
				}
			}
		}
		v, ok := t.Body.(fact.Portion)
		if !ok {
			continue
		}
		places := v.Step.StepPlaces()
		a := func(m protocol.Mass) Amount { return Amount{m, places} }
		p := Pour{reader: n.reader, Seq: t.Seq, At: t.At, By: n.person(t.Fact.By), Material: v.Material, As: v.As, Into: v.Into, Scale: v.Scale, Before: a(v.Before), After: a(v.After),
			Delivered: a(v.Delivered), Target: a(v.Target), Low: a(v.Low), High: a(v.High), U: a(v.U), Verdict: v.Verdict, How: v.How, Raw: v.Raw,
			Trace: v.Trace, Void: t.void}
		if is := n.counts(t.Seq, v); is != v.Delivered && !t.void {
			is := Amount{is, max(places, is.Places())}
			p.Is = &is
		}
		p.Correction = n.correction(t.Seq, v, places)
		out = append(out, p)
	}
	return out
}

// check tells how the closing hash is checked without this program.
func (n *Batch) check() []string {
	if n.closed == 0 {
		return []string{}
	}
	all := []string{n.reader.Say(text.New("record.hash-check", text.Number("line", strconv.FormatUint(n.closed, 10)))), n.reader.Say(text.New("record.hash-chain"))}
	if id, s := n.bench(), n.signed; id != "" {
		all = append(all, n.reader.Say(text.New("record.signed", text.Name("bench", id))),
			n.reader.Say(text.New("record.signed-check", text.Number("line", strconv.FormatUint(n.closed, 10)), text.Name("key", s.Key), text.Name("signature", s.Signature))))
	}
	return all
}

// bench is the fingerprint of the bench that signed the line that closed the batch.
func (n *Batch) bench() string {
	if n.signed.Signature == "" {
		return ""
	}
	id, _ := signer.ID(n.signed.Key) // what is no key is nobody's
	return id
}

package book

import (
	"cmp"
	"math/big"
	"slices"

	"tared/protocol"
	"tared/session/batch"
	"tared/session/text"
)

// line is a material as it was weighed: all but its share.
func (n *Batch) line(m batch.Material) Line {
	l, in := m.Line, m.In
	a := func(g protocol.Mass) Amount { return Amount{g, m.Places} }
	d := in.Delivered - l.Target
	fine := max(m.Places, n.Scale(l.Scale).Step.StepPlaces()) // what was typed with fewer digits takes none from the target
	o := Line{Material: l.Material, As: in.As, Role: l.Role, Scale: l.Scale, Weighable: l.Weighable,
		Target: Amount{l.Target, l.Target.PlacesTo(n.Allowed(l), fine)}, Low: Amount{l.Low, fine}, High: Amount{l.High, fine}, Allowed: Amount{n.Allowed(l), fine}, Delivered: a(in.Delivered), Portions: m.Portions,
		U: a(in.U), Deviation: a(d), Bands: bands(d, l.High-l.Low), Beyond: m.Portions > 0 && d.Abs() > in.U,
		Planned: percentText(l.Share), Kept: m.Kept && in.Delivered > l.High, Verdict: n.Verdict(l, in, m.Portions)}
	if o.Unknown() { // of what nobody knows there is no deviation
		o.Bands, o.Beyond = 0, false
	} else if l.Target > 0 {
		r := big.NewRat(int64(d), int64(l.Target))
		o.Percent = signed(r.Mul(r, big.NewRat(100, 1)).FloatString(2))
	}
	return o
}

// bands gives the deviation in thousandths of half the width of the band, halves
// away from zero; what is not between -1000000 and 1000000 stands on that end.
func bands(d, width protocol.Mass) int {
	if width <= 0 {
		return 0
	}
	n := new(big.Int).Mul(big.NewInt(int64(d.Abs())), big.NewInt(4000))
	w := big.NewInt(int64(width))
	n.Add(n, w).Quo(n, w.Lsh(w, 1))
	v := int64(1_000_000)
	if n.IsInt64() {
		v = min(v, n.Int64())
	}
	if d < 0 {
		v = -v
	}
	return int(v)
}

func lineWords(l Line, reader *text.Language) []string {
	var w []string
	say := func(m text.Message) { w = append(w, reader.Say(m)) }
	if l.As != "" {
		say(text.New("record.line-as", text.Name("as", l.As)))
	}
	if l.Role == "" {
		say(text.New("record.line-unplanned"))
	}
	if l.Verdict == "skipped" {
		say(text.New("record.line-left-out"))
	}
	if l.Kept {
		say(text.New("record.line-kept"))
	}
	if l.ByWeight() {
		say(text.New("record.line-by-weight"))
	}
	if l.First != nil {
		say(text.New("record.line-first", text.Mass("target", l.First.Mass, l.First.Places)))
	}
	if d := l.Diluted; d != nil && d.Lot != "" {
		say(text.New("record.line-from-lot", text.Name("lot", d.Lot), text.Mass("weighed", d.Weighed.Mass, d.Weighed.Places), text.Mass("dilute", d.Dilute.Mass, d.Dilute.Places), text.Name("carrier", d.Carrier), text.Mass("take", d.Take.Mass, d.Take.Places)))
	} else if d != nil {
		say(text.New("record.line-diluted", text.Mass("weighed", d.Weighed.Mass, d.Weighed.Places), text.Mass("dilute", d.Dilute.Mass, d.Dilute.Places), text.Name("carrier", d.Carrier), text.Mass("take", d.Take.Mass, d.Take.Places)))
	}
	if l.Portions > 1 {
		say(text.New("record.line-portions", text.Count("count", l.Portions)))
	}
	if l.AtClosing != nil {
		say(text.New("record.line-corrected", text.Mass("was", l.AtClosing.Mass, l.AtClosing.Places)))
	}
	return w
}

// diluted gives the mixture by which a line went in, where it did.
func (n *Batch) diluted(material string) *Diluted {
	for k, m := range n.Mixes {
		if m.From != "" || m.Parts[0].Material != material {
			continue
		}
		w, d, t := n.CupSteps(k)
		if m.Lot != "" {
			if t.Portions == 0 {
				return nil
			}
			a := func(m protocol.Mass) Amount { return Amount{m, m.Places()} }
			return &Diluted{Lot: m.Lot, Weighed: a(m.Parts[0].Mass), Carrier: m.Parts[1].Material, Dilute: a(m.Parts[1].Mass), Take: Amount{t.Delivered, t.Places}, Mixing: mixingPercent(m.Mixing)}
		}
		if w.Portions == 0 {
			return nil
		}
		places := max(w.Places, d.Places, t.Places)
		a := func(m protocol.Mass) Amount { return Amount{m, places} }
		return &Diluted{"", a(w.Delivered), cmp.Or(d.As, m.Parts[1].Material), a(d.Delivered), a(t.Delivered), a(w.Delivered + d.Delivered - t.Delivered), mixingPercent(m.Mixing)}
	}
	return nil
}

func mixingPercent(share string) string {
	r, ok := new(big.Rat).SetString(share)
	if !ok {
		return ""
	}
	return percentText(r.Mul(r, big.NewRat(100, 1)).RatString())
}

func (n *Batch) asMade() (out []Line, base, dry protocol.Mass) {
	in := n.Deliveries()
	made, base, dry := batch.AsMade(n.Lines, in)
	onBase := batch.Bases(n.Lines)
	doubts, four := shareDoubts(onBase, batch.DriedAll(in), base), fourth(max(base, 0))
	for i, m := range n.Materials() {
		o := n.line(m)
		o.Addition = !onBase[i]
		if n.Finished { // else it would be of a base that is not there yet
			if o.Share = made[i].Share; o.Share != "" {
				o.ShareU = rooted(doubts[i], four, batch.SharePlaces).FloatString(batch.SharePlaces)
			}
		}
		if i < len(n.Plan.Lines) && n.Plan.Lines[i].Target != m.Line.Target {
			o.First = &Amount{n.Plan.Lines[i].Target, m.Places}
		}
		if m.In.Moisture != nil && m.In.Delivered != 0 {
			o.Dry = &Amount{m.In.Dry(), m.Places}
		}
		o.Diluted = n.diluted(m.Line.Material)
		out = append(out, o)
	}
	n.atClosing(out)
	for i := range out {
		out[i].Words = lineWords(out[i], n.reader)
	}
	return out, base, dry
}

// firstWater gives the first water as planned and as it went in, beside so much
// dry; nil: it was no step.
func (n *Batch) firstWater(dry protocol.Mass) *Line {
	st := n.WaterStep()
	if st == nil {
		return nil
	}
	in := n.WaterIn()
	o := n.line(batch.Material{Line: n.WaterLine(), In: in, Portions: st.Portions, Places: st.Places, Kept: st.Kept})
	if n.Finished && !n.unknown() && !o.Unknown() {
		o.Share = batch.OfDry(in.Delivered, dry)
	}
	if c := n.AtClosing; c != nil && c.WaterIn().Delivered != in.Delivered {
		_, _, dry := batch.AsMade(c.Lines, c.Deliveries())
		o.AtClosing, o.ShareAtClosing = &Amount{c.WaterIn().Delivered, st.Places}, batch.OfDry(c.WaterIn().Delivered, dry)
		o.Corrected = n.corrections(st.Material)
	}
	o.Words = lineWords(o, n.reader)
	return &o
}

// unknown reports whether nobody knows how much of some material went in.
func (n *Batch) unknown() bool {
	return slices.ContainsFunc(n.Deliveries(), func(d batch.Delivery) bool { return d.NotKnown })
}

// weighedOf gives a line's weighed and dry mass for a table.
func weighedOf(l Line, reader *text.Language) string {
	switch {
	case l.Unknown():
		return reader.Say(text.New("record.not-known"))
	case l.Dry == nil:
		return l.Delivered.String()
	}
	return reader.Say(text.New("record.col-dry", text.Number("amount", l.Delivered.String()), text.Number("dry", l.Dry.String())))
}

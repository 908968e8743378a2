package sheet

import (
	"math/big"
	"slices"
	"strconv"
	"strings"

	"tared/protocol"
	"tared/session/doubt"
	"tared/session/material"
	"tared/session/recipe"
	"tared/session/slip"
	"tared/session/text"
)

// carriers are the kinds that take up a colourant well and do not melt away in
// water: silica, clay, feldspar.
var carriers = []material.Kind{material.GlassFormer, material.Clay, material.Feldspar}

// dilute plans an aliquot on the line's own scale: of a mixture that was kept, where one
// holds enough; else dissolved in water where the material dissolves; else in the largest base
// material that can carry it. Where there is none it says why.
func (p *planner) dilute(i int) {
	l := &p.lines[i]
	if !l.Addition && l.Role != Strong {
		return // a base material is not thinned with another
	}
	p.kept(i)
	dissolves, wet := p.known[i].Dissolves()
	carrier, b := p.carrier(i), bounds{batch: p.dry()}
	if wet {
		carrier, _ = p.line(WaterName)
		b.water, b.thin = true, thin(dissolves)
	}
	if b.carrier = carrier.Target; carrier.Material == "" {
		return
	}
	s := p.scale(l.Scale)
	a, ok := p.suit(l.Target, l.Allowed, s, b)
	if !ok {
		p.cannot(l, carrier.Material, s, b)
		return
	}
	a.Material, a.Carrier, a.Scale = l.Material, carrier.Material, l.Scale
	a.Steps = l.words(a, carrier, p.req.Reader)
	limit := within(a.U <= l.Allowed, a.U, l.Allowed)
	if a.Solution() {
		l.offer(a, p.req.Reader, text.New("sheet.out-dissolve", text.In("weigh", a.Weigh, l.Unit, l.Step), text.Name("material", a.Material), text.In("dilute", a.Dilute, l.Unit, l.Step),
			text.In("total", a.Total, l.Unit, l.Step), text.In("take", a.Take-a.Off, l.Unit, l.Step), text.In("less", a.Less-a.Off, l.Unit, l.Step), text.Said("limit", limit)))
		return
	}
	l.offer(a, p.req.Reader, text.New("sheet.out-dilute", text.In("weigh", a.Weigh, l.Unit, l.Step), text.Name("material", a.Material), text.In("dilute", a.Dilute, l.Unit, l.Step), text.Name("carrier", a.Carrier),
		text.In("total", a.Total, l.Unit, l.Step), text.In("take", a.Take-a.Off, l.Unit, l.Step), text.In("less", a.Less-a.Off, l.Unit, l.Step), text.Said("limit", limit)))
}

// thin is one part in how many a solution is at least, where 100 g of water are given so much.
func thin(most *big.Rat) int64 {
	if most == nil {
		return 0
	}
	n := new(big.Rat).Quo(hundred, most)
	q := new(big.Int).Add(n.Num(), n.Denom())
	q.Quo(q.Sub(q, big.NewInt(1)), n.Denom())
	if !q.IsInt64() || q.Int64() > 1<<40 {
		return 1 << 40
	}
	return q.Int64() + 1
}

// carrier gives the base material that carries line i; without a name: none can.
func (p *planner) carrier(i int) (c Line) {
	for _, kinds := range []bool{true, false} {
		for j, b := range p.lines {
			m := p.known[j]
			if j != i && !b.Addition && b.Role == Base && m.Soluble == "" && kinds == slices.Contains(carriers, m.Kind) && b.Target > c.Target {
				c = b
			}
		}
		if c.Material != "" {
			break
		}
	}
	return c
}

// line finds what the recipe has of a carrier; the first water is one.
func (p *planner) line(name string) (Line, bool) {
	if name == WaterName {
		return Line{Material: WaterName, Target: p.firstWater}, true
	}
	i := slices.IndexFunc(p.lines, func(l Line) bool { return !l.Addition && recipe.Key(l.Material) == recipe.Key(name) })
	if i < 0 {
		return Line{}, false
	}
	return p.lines[i], true
}

// dry is everything dry.
func (p *planner) dry() (sum protocol.Mass) {
	for _, l := range p.lines {
		sum += l.Target
	}
	return sum
}

// wetted sets the first water, whether it is weighed or not.
func (p *planner) wetted(s *Slip) {
	if s != nil {
		p.firstWater = s.Water
		return
	}
	to := new(big.Rat).Mul(slip.FirstWater(), hundred)
	if p.req.Water != nil {
		to = p.req.Water
	}
	p.firstWater = Allow{Share: new(big.Rat).Quo(to, hundred)}.Of(p.dry())
}

// kept offers the part of a mixture that was kept, where one holds enough and it is known
// well enough.
func (p *planner) kept(i int) {
	l := &p.lines[i]
	for n := range p.req.Kept {
		k := &p.req.Kept[n]
		carrier, ok := p.line(k.Carrier)
		if !ok || recipe.Key(k.Material) != recipe.Key(l.Material) || l.Moisture != "" || carrier.Moisture != "" {
			continue
		}
		s := p.scale(l.Scale)
		a, ok := k.part(l.Target, s)
		switch {
		case !ok || a.Less > carrier.Target || s.limited && a.Take > s.room || a.Off.Abs().Times(a.Need, a.Take)+a.U > l.Allowed:
			p.why(l, text.New("sheet.kept-doubt", text.Name("lot", k.Lot), text.Name("material", l.Material), text.Name("carrier", k.Carrier)))
		case a.Take > k.Left:
			p.say(text.New("sheet.kept-short", text.Name("lot", k.Lot), text.In("left", k.Left, l.Unit, l.Step), text.In("take", a.Take, l.Unit, l.Step), text.Name("material", l.Material)))
		default:
			a.Material, a.Scale = l.Material, l.Scale
			a.Steps = l.keptWords(a, carrier, p.req.Reader)
			l.offer(a, p.req.Reader, text.New("sheet.out-kept", text.In("take", a.Take-a.Off, l.Unit, l.Step), text.Name("lot", k.Lot), text.Name("material", l.Material), text.In("less", a.Less-a.Off, l.Unit, l.Step), text.Name("carrier", a.Carrier),
				text.Said("limit", within(a.U <= l.Allowed, a.U, l.Allowed))))
		}
	}
}

// part is the part of a kept mixture that holds so much of its material.
func (k *Kept) part(need protocol.Mass, s measured) (Aliquot, bool) {
	weigh := k.Parts[0].Mass
	total := weigh + k.Parts[1].Mass
	if weigh <= 0 || total <= weigh || need > protocol.OnBench {
		return Aliquot{}, false
	}
	a := Aliquot{Carrier: k.Carrier, Lot: k.Lot, Kept: k, Need: need, Weigh: weigh, Dilute: total - weigh, Total: total, Take: Need(need, weigh, total)}
	a.Less, a.Off = a.Take-need, a.Take-a.Take.Round(s.Step)
	held, err := Part(k.Parts[:], s.Scale.weighed(a.Take), k.Mixing)
	if err != nil || a.Less <= 0 {
		return Aliquot{}, false
	}
	a.U = held[0].U
	return a, true
}

// weighed is a net weight on the scale with its doubt.
func (s Scale) weighed(m protocol.Mass) Weighed {
	w := s.Weighs()
	return Weighed{Mass: m, U: w.U(m), On: []doubt.On{{Scale: s.Name, Mass: m, Span: w.Span(m)}}}
}

// cannot says why a material cannot be diluted here.
func (p *planner) cannot(l *Line, carrier string, s measured, b bounds) {
	free := b
	free.batch = protocol.OnBench
	why := text.New("sheet.dilution-part", text.Name("material", l.Material), text.Name("scale", l.Scale), text.Name("carrier", carrier), text.In("has", b.carrier, l.Unit, l.Step))
	if a, ok := suit(l.Target, l.Allowed, s, free); ok {
		why = text.New("sheet.dilution-left", text.Name("material", l.Material), text.Name("scale", l.Scale), text.Name("carrier", carrier), text.In("weigh", a.Weigh, l.Unit, l.Step), text.In("total", a.Total, l.Unit, l.Step),
			text.In("left", a.Total-a.Take, l.Unit, l.Step), text.In("most", mostLeft(b.batch), l.Unit, l.Step))
	}
	p.why(l, why)
	if p.quiet == "" {
		p.say(why)
	}
}

// why notes why a line has no aliquot.
func (p *planner) why(l *Line, why text.Message) {
	if p.whyNot == nil {
		p.whyNot = map[string]text.Message{}
	}
	if _, told := p.whyNot[l.Material]; !told {
		p.whyNot[l.Material] = why
	}
}

// offer adds an aliquot to the ways out.
func (l *Line) offer(a Aliquot, reader *text.Language, said text.Message) {
	l.Outs = append(l.Outs, Out{Kind: "aliquot", Scale: l.Scale, U: a.U, Good: a.U <= l.Allowed, Aliquot: &a, Words: strings.Join(sentences(reader, append([]text.Message{said}, l.near(a)...)), " ")})
}

// near says that no part of the mixture is in whole steps, and how far off the nearest is.
func (l Line) near(a Aliquot) []text.Message {
	if a.Off == 0 {
		return nil
	}
	return []text.Message{text.New("sheet.step-near", text.Grams("need", a.Need.Known(a.U)), text.Name("scale", a.Scale), text.In("take", a.Take-a.Off, l.Unit, l.Step),
		text.Grams("off", a.Off.Abs().Times(a.Need, a.Take).Doubt()), text.Name("material", a.Material))}
}

// words are the steps at the bench; from is the line of the carrier.
func (l Line) words(a Aliquot, from Line, reader *text.Language) []string {
	parts := strconv.FormatInt(int64(a.Total/a.Weigh), 10)
	if a.Solution() {
		return sentences(reader, slices.Concat([]text.Message{
			text.New("sheet.step-water", text.In("dilute", a.Dilute, l.Unit, l.Step)),
			text.New("sheet.step-dissolve", text.In("weigh", a.Weigh, l.Unit, l.Step), text.Name("material", a.Material), text.In("total", a.Total, l.Unit, l.Step)),
			text.New("sheet.step-gloves", text.Name("material", a.Material)),
		}, l.takeWords(a, from), []text.Message{text.New("sheet.step-bottle", text.In("left", a.Total-a.Take+a.Off, l.Unit, l.Step), text.Name("material", a.Material), text.Number("parts", parts))}))
	}
	all := []text.Message{
		text.New("sheet.step-weigh", text.In("weigh", a.Weigh, l.Unit, l.Step), text.Name("material", a.Material)),
		text.New("sheet.step-carrier", text.In("dilute", a.Dilute, l.Unit, l.Step), text.Name("carrier", a.Carrier), text.In("weigh", a.Weigh, l.Unit, l.Step), text.In("total", a.Total, l.Unit, l.Step)),
	}
	// As much as is there already, so that a little is never lost in a lot.
	there := a.Weigh
	for i, add := range Geometric(a.Weigh, a.Dilute) {
		there += add
		all = append(all, text.New("sheet.step-mix", text.Number("number", strconv.Itoa(i+1)), text.In("add", add, l.Unit, l.Step), text.Name("carrier", a.Carrier), text.In("there", there, l.Unit, l.Step)))
	}
	return sentences(reader, slices.Concat(all, l.takeWords(a, from), []text.Message{text.New("sheet.step-label", text.In("left", a.Total-a.Take+a.Off, l.Unit, l.Step), text.Name("material", a.Material), text.Number("parts", parts))}))
}

// keptWords are the steps where the mixture is there.
func (l Line) keptWords(a Aliquot, from Line, reader *text.Language) []string {
	first := text.New("sheet.step-shake", text.Name("lot", a.Lot))
	if a.Solution() {
		first = text.New("sheet.step-clear", text.Name("lot", a.Lot))
	}
	return sentences(reader, append([]text.Message{first}, l.takeWords(a, from)...))
}

// takeWords say what is weighed out, and how much less of the carrier.
func (l Line) takeWords(a Aliquot, from Line) []text.Message {
	all := []text.Message{text.New("sheet.step-take", text.In("take", a.Take-a.Off, l.Unit, l.Step), text.Grams("need", a.Need.Known(a.U)), text.Name("material", a.Material), text.In("less", a.Less-a.Off, l.Unit, l.Step), text.Name("carrier", a.Carrier))}
	all = append(all, l.near(a)...)
	if a.Solution() {
		return append(all, text.New("sheet.step-less-water", text.In("less", a.Less-a.Off, l.Unit, l.Step)))
	}
	return append(all, text.New("sheet.step-instead", text.In("weigh", from.Target-a.Less, from.Unit, from.Step), text.Name("carrier", a.Carrier), text.In("instead", from.Target, from.Unit, from.Step)))
}

func sentences(reader *text.Language, all []text.Message) (words []string) {
	for _, m := range all {
		words = append(words, reader.Say(m))
	}
	return words
}

package session

import (
	"fmt"
	"math/big"
	"slices"

	"tared/protocol"
	"tared/session/book"
	"tared/session/fact"
	"tared/session/sheet"
)

// Part says what a step has to do with a mixture.
type Part uint8

// The parts. NoPart goes straight into the batch.
const (
	NoPart     Part = iota
	WeighPart       // the material that is diluted, into the mixing cup
	DilutePart      // its carrier, into the same cup
	TakePart        // some of the mixture, into the batch
)

// mixingCup is what the record calls the vessel of an aliquot.
const mixingCup = "mixing cup"

// Mix is a mixture of the batch.
type Mix struct {
	fact.Mix
	Mixed bool // a person said so, or it was mixed before this batch
}

// cup tells whether the step goes into a mixing cup.
func (s Step) cup() bool { return s.Part == WeighPart || s.Part == DilutePart }

// into names where the step goes, for the record; empty: the batch.
func (s Step) into() string {
	if s.cup() {
		return mixingCup
	}
	return ""
}

// steps lays out the weighings of the plan: a material that goes in diluted has
// three in its place, and what comes out of a tub has one in place of them all.
func (b *Batch) steps() {
	add := func(l fact.Line, p Part, mix int) {
		b.Steps = append(b.Steps, Step{Line: l, Part: p, Mix: mix, U2: new(big.Int)})
	}
	for i, m := range b.Plan.Mixes {
		b.Mixes = append(b.Mixes, Mix{Mix: m, Mixed: m.From != "" && (b.Plan.Series.Cup != 1 || m.Mixed)})
		if m.From != "" {
			add(m.Take, TakePart, i)
		}
	}
	for _, l := range b.Plan.Lines {
		made := slices.ContainsFunc(b.Plan.Mixes, func(m fact.Mix) bool { return m.From != "" && holds(m, l.Material) })
		k := slices.IndexFunc(b.Plan.Mixes, func(m fact.Mix) bool {
			return m.From == "" && len(m.Parts) == 2 && m.Parts[0].Material == l.Material
		})
		switch {
		case made:
		case k < 0:
			add(l, NoPart, 0)
		default:
			m := b.Plan.Mixes[k]
			add(m.Parts[0].Step, WeighPart, k)
			add(m.Parts[1].Step, DilutePart, k)
			add(m.Take, TakePart, k)
		}
	}
	if b.Plan.Water.Target > 0 {
		add(b.Plan.Water, NoPart, 0)
	}
	b.remix()
}

func holds(m fact.Mix, material string) bool {
	return slices.ContainsFunc(m.Parts, func(p fact.MixPart) bool { return p.Material == material })
}

// cups gives the steps of a mixture that is mixed here.
func (b *Batch) cups(mix int) (weigh, dilute, take *Step) {
	for i := range b.Steps {
		if st := &b.Steps[i]; st.Mix == mix {
			switch st.Part {
			case WeighPart:
				weigh = st
			case DilutePart:
				dilute = st
			case TakePart:
				take = st
			}
		}
	}
	return weigh, dilute, take
}

// remix makes the targets of what follows fit what is in the mixing cups: too
// much colourant gets more carrier, and the part to take holds what the recipe
// wants, whatever the two came to. The carrier's own target is what the parts do
// not bring.
func (b *Batch) remix() {
	brought := map[string]protocol.Mass{}
	for i := range b.Mixes {
		m := &b.Mixes[i]
		if m.From != "" {
			continue
		}
		weigh, dilute, take := b.cups(i)
		l := b.line(m.Parts[0].Material)
		if take.Skipped {
			brought[m.Parts[1].Material] += b.broughtBy(i)
			continue
		}
		w, d := m.Parts[0].Step.Target, m.Parts[1].Step.Target // as planned
		if weigh.Done() {
			// The same dilution as planned: the part stays what it was.
			to := sheet.Need(d, w, weigh.Delivered)
			w = weigh.Delivered
			shift(&dilute.Line, m.Parts[1].Step, to)
			d = to
		}
		if weigh.Done() && dilute.Done() {
			d = dilute.Delivered
		}
		take.Target = sheet.Need(l.Target, w, w+d)
		take.Low, take.High = sheet.Need(l.Low, w, w+d), sheet.Need(l.High, w, w+d)
		if take.Done() {
			brought[m.Parts[1].Material] += b.broughtBy(i)
		} else {
			brought[m.Parts[1].Material] += take.Target - l.Target
		}
	}
	for i := range b.Steps {
		st := &b.Steps[i]
		if less, ok := brought[st.Material]; ok && st.Part == NoPart {
			l := b.line(st.Material)
			shift(&st.Line, l, l.Target-less)
		}
	}
	b.rewater()
}

// shift moves a target with its marks.
func shift(l *fact.Line, from fact.Line, to protocol.Mass) {
	by := to - from.Target
	l.Target, l.Low, l.High = to, from.Low+by, from.High+by
}

// broughtBy gives what a mixture brought of its carrier.
func (b *Batch) broughtBy(mix int) protocol.Mass {
	weigh, dilute, take := b.cups(mix)
	in, err := sheet.Part([]sheet.Weighed{{Mass: weigh.Delivered}, {Mass: dilute.Delivered}}, sheet.Weighed{Mass: take.Delivered})
	if err != nil {
		return 0
	}
	return in[1].Mass
}

// line gives a material of the recipe.
func (b *Batch) line(material string) fact.Line {
	if k := slices.IndexFunc(b.Lines, func(l fact.Line) bool { return l.Material == material }); k >= 0 {
		return b.Lines[k]
	}
	return fact.Line{Material: material}
}

// leaveOut skips a step; with one of a mixing cup the whole cup is left out.
func (b *Batch) leaveOut(i int) {
	b.Steps[i].Skipped = true
	if st := b.Steps[i]; st.Part != NoPart && b.Mixes[st.Mix].From == "" {
		for k := range b.Steps {
			if b.Steps[k].Part != NoPart && b.Steps[k].Mix == st.Mix {
				b.Steps[k].Skipped = true
			}
		}
	}
}

// unmixed tells whether step i waits for a cup to be mixed.
func (b *Batch) unmixed(i int) bool {
	return i >= 0 && b.Steps[i].Part == TakePart && !b.Steps[i].Over() && !b.Mixes[b.Steps[i].Mix].Mixed
}

// went gives what reached the batch of each material of the recipe.
func (b *Batch) went() []book.Went {
	had := map[string]book.Went{}
	for _, st := range b.Steps {
		had[st.Material] = book.Went{As: st.As, Delivered: st.Delivered, U: sheet.RootUp(st.U2, 1), Skipped: st.Skipped}
	}
	return book.Moisten(b.Lines, book.Fold(b.Lines, b.Plan.Mixes, had), b.Plan.Lots)
}

// mixWords tell how a cup is mixed.
func (b *Batch) mixWords(i int) (question string, lines []string) {
	if m := b.Mixes[b.Steps[i].Mix]; m.From != "" {
		return "Mix the tub dry. Is it mixed?", []string{
			fmt.Sprintf("Then %d cups are filled from it, each a batch of its own: %s%s1 is the first.", b.Plan.Series.Cups, m.From, cupSign),
			"Sieve it or shake it in a closed tub until no streak shows: what is uneven in the tub is uneven between the cups.",
		}
	}
	weigh, dilute, take := b.cups(b.Steps[i].Mix)
	dw, dd, dt := places(b.scaleOf(weigh.Scale).Step), places(b.scaleOf(dilute.Scale).Step), places(b.scaleOf(take.Scale).Step)
	question = fmt.Sprintf("Mix %s g of %s into %s g of %s. Is it mixed?", weigh.Delivered.Grams(dw), b.what(*weigh), dilute.Delivered.Grams(dd), b.what(*dilute))
	there := weigh.Delivered
	adds := sheet.Geometric(weigh.Delivered, dilute.Delivered)
	if len(adds) > 1 {
		lines = append(lines, "Tip the carrier out of the cup and put it back little by little: each time about as much as is there already, and mix until no streak shows.")
	}
	for k, add := range adds {
		there += add
		lines = append(lines, fmt.Sprintf("%d: add about %s g and mix; that is %s g", k+1, add.Rounded(dd), there.Rounded(dd)))
	}
	lines = append(lines, fmt.Sprintf("Then %s g of the mixture go into the batch; they hold %s g of %s. The rest, about %s g, is waste: label it.",
		take.Target.Rounded(dt), b.line(b.Mixes[take.Mix].Parts[0].Material).Target.Rounded(dw+1), b.what(*weigh), (weigh.Delivered+dilute.Delivered-take.Target).Rounded(dt)))
	return question, lines
}

// what names the material of a step without what is to be done with it.
func (b *Batch) what(st Step) string {
	switch {
	case st.As != "":
		return st.As
	case st.Part == WeighPart:
		return b.Mixes[st.Mix].Parts[0].Material
	case st.Part == DilutePart:
		return b.Mixes[st.Mix].Parts[1].Material
	}
	return st.Material
}

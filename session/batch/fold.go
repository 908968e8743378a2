package batch

import (
	"cmp"
	"math/big"
	"slices"
	"strings"
	"time"

	"tared/session/doubt"
	"tared/session/fact"
	"tared/session/material"
	"tared/session/sheet"
)

// LongBreak is the pause after which mask and ventilation are asked for again
// (common practice, no source).
const LongBreak = 30 * time.Minute

// New is the batch that a fact opens.
func New(f fact.Fact, p fact.Planned) *Batch {
	b := &Batch{Mark: f.Batch, Title: p.Title, Plan: p, Base: p.Base, Dry: p.Dry, By: f.By, At: f.At,
		Reminded: p.Series.Reminded || p.Again != ""}
	if b.By == fact.NotNamed {
		b.By = "" // until somebody gives a name
	}
	b.Lines, b.water = slices.Clone(p.Lines), p.Water
	b.allow, b.names, _ = sheet.ReadAllow(p.Allowed) // what it cannot read is as usual
	b.layOut()
	return b
}

// layOut makes the weighings of the plan: a material that goes in diluted has
// three in its place, and what comes out of a tub has one in place of them all.
func (b *Batch) layOut() {
	add := func(l fact.Line, p Part, mix int) {
		step := b.Scale(l.Scale).Step
		st := Step{Line: l, Part: p, Mix: mix, U2: new(big.Int), Places: step.StepPlaces()}
		if p == NoPart { // the band of a part is that of what is diluted in it
			st.Grain = step
		}
		b.Steps = append(b.Steps, st)
	}
	for _, m := range b.Plan.Mixes {
		if m.From == "" && (len(m.Parts) != 2 || b.lineOf(m.Parts[0].Material) < 0) {
			continue // no bench ever wrote such a plan
		}
		b.Mixes = append(b.Mixes, Mix{Mix: m, Mixed: m.Lot != "" || m.From != "" && (b.Plan.Series.Cup != 1 || m.Mixed), planned: m.Parts})
		if m.From != "" {
			add(m.Take, TakePart, len(b.Mixes)-1)
		}
	}
	for _, l := range b.Plan.Lines {
		k := slices.IndexFunc(b.Mixes, func(m Mix) bool { return m.From == "" && m.Parts[0].Material == l.Material })
		switch {
		case b.InTub(l.Material):
		case k < 0:
			add(l, NoPart, 0)
		default:
			m := b.Mixes[k]
			switch {
			case m.Lot != "":
			case m.Solution():
				add(m.Parts[1].Step, DilutePart, k)
				add(m.Parts[0].Step, WeighPart, k)
			default:
				add(m.Parts[0].Step, WeighPart, k)
				add(m.Parts[1].Step, DilutePart, k)
			}
			add(m.Take, TakePart, k)
		}
	}
	if b.Plan.Water.Target > 0 {
		add(b.Plan.Water, NoPart, 0)
	}
	b.retarget()
}

// Apply takes the next fact of this batch. It is the only way in which a batch
// changes, live, in a replay and in the book, so all end in the same place.
func (b *Batch) Apply(f fact.Fact) {
	switch v := f.Body.(type) {
	case fact.Reminded:
		b.Reminded = true
		b.By = cmp.Or(f.By, b.By)
	case fact.Portion:
		b.take(f, v)
	case fact.Decided:
		if v.Question == "material" || v.Question == "overpour" && v.Answer == "keep" {
			b.choose(f.Seq, v.Material, v.Answer)
		}
		b.decide(v)
	case fact.Moved:
		b.move(v)
	case fact.Enlarged:
		b.choose(f.Seq, v.Because, "enlarge")
		b.enlarge(v)
	case fact.Amended:
		b.amend(v)
	case fact.Noted:
		if !b.Finished {
			b.SeriesClosed = ClosesSeries(v.Text)
		}
	case fact.Paused:
		b.Paused = true
	case fact.Resumed:
		if f.At.Sub(b.At) > LongBreak {
			b.Reminded = false
		}
		b.Paused, b.BeginAgain = false, false
	case fact.Finished:
		b.Finished, b.Early = true, v.Abandoned
	}
	b.At = f.At
	b.retarget()
}

func (b *Batch) take(f fact.Fact, v fact.Portion) {
	i := b.StepOf(v.Material)
	if i < 0 {
		i = b.unplanned(v)
	}
	st := &b.Steps[i]
	st.As = cmp.Or(v.As, st.As)
	if st.Portions == 0 && v.How == "typed" {
		st.Places = v.Step.StepPlaces() // digits that nobody typed are not shown
	}
	st.Places = max(st.Places, v.Step.StepPlaces())
	st.Portions++
	st.Typed = st.Typed || v.How == "typed"
	k := Take{Seq: f.Seq, Step: i, Delivered: v.Delivered, U: v.U, On: doubt.On{Scale: v.Scale, Mass: v.Delivered, Span: v.Span}, By: f.By, Asks: b.asksFor(*st, v), NotKnown: v.How == Unknown}
	st.count(k)
	if k.NotKnown {
		st.NotKnown++
	}
	b.Takes = append(b.Takes, k)
}

// unplanned makes a step for what nobody planned: what went in is told, planned or
// not.
func (b *Batch) unplanned(v fact.Portion) int {
	l := fact.Line{Material: v.Material, Share: "0", Scale: v.Scale}
	b.Steps = append(b.Steps, Step{Line: l, U2: new(big.Int), Places: b.Scale(v.Scale).Step.StepPlaces(), Unplanned: true})
	if b.lineOf(v.Material) < 0 {
		b.Lines = append(b.Lines, l)
	}
	return len(b.Steps) - 1
}

// asksFor reports whether a portion waits for a second person.
func (b *Batch) asksFor(st Step, v fact.Portion) bool {
	has := func(kind string) bool { return slices.Contains(b.Plan.Confirm, kind) }
	return has("typed") && v.How == "typed" || has("strong") && st.Role == string(sheet.Strong)
}

func (b *Batch) decide(v fact.Decided) {
	i := b.StepOf(v.Material)
	b.BeginAgain = v.Answer == "anew" && v.Question != "operator"
	switch {
	case v.Question == "operator":
		b.By = cmp.Or(v.Answer, b.By)
	case i < 0:
	case v.Question == "confirm":
		b.confirm(i)
	case v.Question == "order":
		b.First = v.Material
	case v.Question == "mix":
		b.Mixes[b.Steps[i].Mix].Mixed = true
	case v.Answer == "skip":
		b.leaveOut(i)
	case v.Answer == "keep" && v.Question == "overpour":
		b.Steps[i].Kept = true
	case v.Answer == "substitute":
		b.Steps[i].As = v.With
	}
}

func (b *Batch) confirm(step int) {
	for k := range b.Takes {
		if b.Takes[k].Step == step {
			b.Takes[k].Asks = false
		}
	}
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

func (b *Batch) move(v fact.Moved) {
	i := b.StepOf(v.Material)
	if i < 0 {
		return
	}
	st := &b.Steps[i]
	if st.Named == "" {
		st.Named = st.Scale
	}
	st.Line = moved(st.Line, v.Line)
	if st.Part == NoPart {
		st.Grain = b.Scale(v.Line.Scale).Step
	}
	if k := b.lineOf(v.Material); k >= 0 {
		b.Lines[k] = moved(b.Lines[k], v.Line)
	}
	if st.IsWater() {
		b.water = moved(b.water, v.Line)
	}
}

// moved gives a line as it is on another scale: how far it may be off goes with the
// scale, the target stays. The two lines may have other targets, where a part of
// the material comes in with a mixture.
func moved(l, to fact.Line) fact.Line {
	l.Scale, l.Weighable, l.U = to.Scale, to.Weighable, to.U
	l.Low, l.High = l.Target-(to.Target-to.Low), l.Target+(to.High-to.Target)
	return l
}

func (b *Batch) enlarge(v fact.Enlarged) {
	b.Base, b.Dry = v.Base, v.Dry
	for _, l := range v.Lines {
		if k := b.lineOf(l.Material); k >= 0 {
			l.Place = b.Lines[k].Place
			b.Lines[k] = l
		}
		if i := b.StepOf(l.Material); i >= 0 {
			b.Steps[i].Line = l
			b.Steps[i].Kept = false
		}
	}
	for i := range b.Steps {
		if b.Steps[i].Part == TakePart {
			b.Steps[i].Kept = false
		}
	}
}

func (b *Batch) amend(v fact.Amended) {
	if v.Field == "title" {
		b.Title = v.New
	}
	if v.Void && v.How == "undone" {
		b.retract(v.Of)
	}
	if !b.Amends(v) {
		return
	}
	if b.Finished && b.AtClosing == nil {
		b.AtClosing = b.Clone()
	}
	k := b.takeOf(v.Of)
	t := b.Takes[k]
	st := &b.Steps[t.Step]
	st.Kept = false
	if t.NotKnown { // it does not count any more, or it is known now
		st.NotKnown--
		b.Takes[k].NotKnown = false
	}
	if st.InCup() {
		b.Mixes[st.Mix].Mixed = false // what is in the cup is not what was mixed
	}
	st.uncount(t)
	if v.Void {
		st.Portions--
		b.Takes = slices.Delete(b.Takes, k, k+1)
		return
	}
	if v.Step > 0 {
		st.Places = max(st.Places, v.Step.StepPlaces())
	} else {
		st.Places = max(st.Places, v.Is.Places())
	}
	t.Delivered, t.On.Mass = v.Is, v.Is
	if v.U > 0 {
		t.U, t.On.Span = v.U, v.Span
	}
	b.Takes[k] = t
	st.count(t)
}

// Fill tells a cup of a series what is in its tub, as that stands now: a correction
// of the tub reaches its cups. Nil: as it was known when the cup was planned.
func (b *Batch) Fill(tub *Batch) {
	for i, m := range b.Mixes {
		b.Mixes[i].Parts = m.planned
		if m.From == "" || tub == nil || tub.AtClosing == nil {
			continue
		}
		in := tub.Deliveries()
		b.Mixes[i].Parts = slices.Clone(m.planned)
		for k := range m.planned {
			p := &b.Mixes[i].Parts[k]
			if j := tub.lineOf(p.Material); j >= 0 {
				p.Mass, p.U, p.On, p.As = in[j].Delivered, in[j].U, in[j].On, in[j].As
			}
		}
	}
	b.retarget()
}

// Closing is the fact that ends the batch: what went in, as shares of the
// delivered base.
func (b *Batch) Closing(early bool) fact.Finished {
	f := fact.Finished{Abandoned: early, Reminders: material.Closing()}
	in := b.Deliveries()
	f.Lines, f.Base, f.Dry = AsMade(b.Lines, in)
	for i, l := range b.Lines {
		f.Lines[i].Verdict = b.recorded(l, in[i])
	}
	if st := b.WaterStep(); st != nil {
		// Nothing dry comes any more, also where the batch is closed early.
		l, in := FirstWater(b.water, b.Plan.Dry, f.Dry), b.WaterIn()
		f.Water = in.made(l, OfDry(in.Delivered, f.Dry))
		f.Water.Verdict = b.recorded(l, in)
	}
	return f
}

// ClosesSeries reports whether the reason for which a cup was closed closes the
// whole series.
func ClosesSeries(reason string) bool {
	first, _, _ := strings.Cut(reason, " ")
	return first == "series"
}

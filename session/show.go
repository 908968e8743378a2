package session

import (
	"cmp"
	"math"
	"slices"
	"strings"
	"time"

	"tared/protocol"
	"tared/session/batch"
	"tared/session/doubt"
	"tared/session/text"
)

// barFull is the target on the bar of a view, in its own thousandths.
const barFull = 1000

// Shown fills in how the view looks.
func (v View) Shown() View {
	n := &v.Now
	s := Show{Spoken: n.spoken(), Take: v.take(), About: v.about()}
	s.Tone, s.Shape, s.Word = v.sign()
	s.Label, s.Digits = n.figure()
	if bar, ok := n.bar(); ok {
		s.Bar = &bar
	}
	n.Show = s
	if b := v.Batch; b != nil && slices.ContainsFunc(b.Steps, func(s StepView) bool { return s.Mark.None() }) {
		marked := *b
		marked.Steps = nil
		for _, step := range b.Steps {
			marked.Steps = append(marked.Steps, step.shown())
		}
		v.Batch = &marked
	}
	return v
}

func (s StepView) shown() StepView {
	done := s.State == "done"
	s.Shape, s.Mark = "in", text.New("show.step-in")
	switch {
	case s.State == "now":
		s.Shape, s.Mark = "now", text.New("show.step-now")
	case s.State == "skipped":
		s.Shape, s.Mark = "skip", text.New("show.step-skipped")
	case s.State == "waiting":
		s.Shape, s.Mark = "", text.New("show.step-waiting")
	case s.Verdict == batch.Unknown:
		s.Shape, s.Mark = "wait", text.New("show.step-not-known")
	case s.Verdict == string(doubt.Cannot):
		s.Shape, s.Mark = "ask", text.New("show.step-cannot")
	case s.Verdict == "under":
		s.Shape, s.Mark = "under", text.New("show.step-under")
	case s.Verdict == "over":
		s.Shape, s.Mark = "over", text.New("show.step-over")
	}
	s.Notes = nil
	if done {
		s.Notes = append(s.Notes, text.New("show.of-target", text.Grams("target", strings.TrimSpace(s.Target+" "+s.Unit))))
	}
	s.Notes = append(s.Notes, text.Written(s.Scale))
	if s.As != "" {
		s.Notes = append(s.Notes, text.New("show.instead", text.Name("material", s.Material)))
	}
	switch {
	case done && s.Verdict == batch.Unknown:
		s.Notes = append(s.Notes, text.New("show.step-not-known"))
	case done && s.Verdict == string(doubt.Cannot):
		s.Notes = append(s.Notes, text.New("show.note-cannot"))
	case done && s.Verdict == "under":
		s.Notes = append(s.Notes, text.New("show.note-under"))
	case done && s.Verdict == "over":
		s.Notes = append(s.Notes, text.New("show.note-over"))
	case s.State == "skipped":
		s.Notes = append(s.Notes, text.New("show.note-skipped"))
	}
	return s
}

type signView struct {
	tone, shape string
	word        text.Message
}

// signs are the signs of the states, as long as nothing else is to be said.
var signs = map[string]signView{
	"idle":      {"idle", "idle", text.New("show.idle")},
	"reminder":  {"ask", "ask", text.New("show.ready")},
	"container": {"idle", "place", text.New("show.container")},
	"pour":      {"under", "under", text.New("show.under")},
	"settle":    {"idle", "wait", text.New("show.settling")},
	"in":        {"in", "in", text.New("show.in")},
	"over":      {"over", "over", text.New("show.over")},
	"lifted":    {"idle", "tip", text.New("show.tip")},
	"blind":     {"lost", "lost", text.New("show.blind")},
	"lost":      {"lost", "lost", text.New("show.lost")},
	"decide":    {"ask", "ask", text.New("show.decide")},
	"paused":    {"idle", "pause", text.New("show.paused")},
	"finished":  {"in", "in", text.New("show.finished")},
}

func (v *View) sign() (tone, shape string, word text.Message) {
	n := &v.Now
	pouring := n.State == "pour"
	switch {
	case n.State == "finished" && v.Batch != nil && v.Batch.Early:
		return "idle", "skip", text.New("show.closed")
	case pouring && n.Eye:
		return "idle", "eye", text.New("show.eye")
	case (pouring || n.State == "settle") && n.Cue == "stop":
		return "stop", "stop", text.New("show.stop")
	case pouring && n.Cue == "ease":
		return "under", "under", text.New("show.ease")
	case (pouring || n.State == "container") && n.Cue == "ask":
		return "ask", "ask", text.New("show.look")
	case n.State == "lifted" && n.Cue == "ask":
		return "ask", "ask", text.New("show.too-soon")
	case n.State == "lifted" && n.Cue == "over":
		return "over", "over", text.New("show.over") // never "tip it in" over "put it back"
	}
	s := n.usual()
	return s.tone, s.shape, s.word
}

func (n *NowView) usual() signView {
	if n.Cannot {
		return signView{"ask", "ask", text.New("show.cannot")}
	}
	if s, ok := signs[n.State]; ok {
		return s
	}
	return signs["idle"]
}

// figure is the main figure, with what it means.
func (n *NowView) figure() (label text.Message, digits string) {
	short, over := strings.CutPrefix(n.Missing, "-")
	switch {
	case signs[n.State].tone == "lost":
		return text.New("show.not-known"), ""
	case n.State == "lifted" && n.Lifted != "" && n.Cue == "over":
		return text.New("show.in-it"), n.Lifted
	case n.State == "lifted" && n.Lifted != "":
		return text.New("show.goes-in"), n.Lifted
	case (n.In == "" || n.Missing == "") && n.Eye:
		return text.New("show.by-eye"), n.Target
	case (n.In == "" || n.Missing == "") && n.State == "lifted":
		return text.New("show.target"), n.Target
	case n.In == "" || n.Missing == "":
		return text.New("show.to-weigh"), n.Target
	case strings.Trim(short, "0.") == "":
		return text.New("show.on-mark"), short
	case over && n.State == "over":
		return text.New("show.too-much"), "+" + short
	case over:
		return text.New("show.over-mark"), "+" + short
	case n.State == "in":
		return text.New("show.short"), n.Missing
	}
	return text.New("show.to-pour"), n.Missing
}

// about tells what is known of the material in work beside its name.
func (v *View) about() (all []text.Message) {
	n := &v.Now
	if n.Material == "" {
		if n.State == "finished" && v.Batch != nil {
			all = append(all, text.New("show.batch", text.Name("batch", v.Batch.Mark)))
		}
		return all
	}
	if v.Batch != nil {
		for i, s := range v.Batch.Steps {
			if s.State == "now" {
				all = append(all, text.New("show.step", text.Count("step", i+1), text.Count("of", len(v.Batch.Steps))))
			}
		}
	}
	switch n.Role {
	case "base":
		all = append(all, text.New("show.base"))
	case "addition":
		all = append(all, text.New("show.addition"))
	case "suspender":
		all = append(all, text.New("show.suspender"))
	case "opacifier":
		all = append(all, text.New("show.opacifier"))
	case "strong":
		all = append(all, text.New("show.strong"))
	case "water":
		all = append(all, text.New("show.water"))
	}
	if n.As != "" {
		all = append(all, text.New("show.instead", text.Name("material", n.Material)))
	}
	if n.Portions > 1 && n.State != "decide" {
		all = append(all, text.New("show.portion", text.Count("portion", n.Portion), text.Count("of", n.Portions)))
	}
	return all
}

// take tells how a portion comes to be recorded, and how far that has come: it is in,
// it rests, it is lifted. There is no countdown: the lift records it, and nothing else.
func (v *View) take() []TakeView {
	n := &v.Now
	if n.Eye || n.State != "settle" && n.State != "in" {
		return nil
	}
	enough := TakeView{text.New("show.enough"), "in", "done"}
	if n.State != "in" || !n.Settled {
		return []TakeView{enough, {text.New("show.hands-off"), "wait", "now"}, {text.New("show.lift"), "lift", "to come"}}
	}
	rests := text.New("show.steady")
	if d := v.At.Sub(n.Since).Truncate(time.Second); d > 0 && d < 100*time.Second {
		rests = text.New("show.steady-for", text.Duration("time", d))
	}
	return []TakeView{enough, {rests, "in", "done"}, {text.New("show.lift"), "lift", "now"}}
}

// spoken is what is said, and stands on the screen, when a material begins.
func (n *NowView) spoken() text.Message {
	switch n.State {
	case "container", "pour", "settle", "in", "over":
	default:
		return text.Message{}
	}
	material := n.Material
	if n.As != "" {
		material = n.As
	}
	switch foreign := n.Unit != "" && n.Unit != string(protocol.UnitGram); {
	case n.Material == "" || n.Target == "":
		return text.Message{}
	case foreign && n.Portions > 1:
		return text.New("show.spoken-other-portion", text.Name("material", material), text.Grams("amount", n.Target+" "+n.Unit), text.Name("scale", n.Scale), text.Count("portion", n.Portion), text.Count("of", n.Portions))
	case foreign:
		return text.New("show.spoken-other", text.Name("material", material), text.Grams("amount", n.Target+" "+n.Unit), text.Name("scale", n.Scale))
	case n.Portions > 1:
		return text.New("show.spoken-portion", text.Name("material", material), text.Number("grams", n.Target), text.Name("scale", n.Scale), text.Count("portion", n.Portion), text.Count("of", n.Portions))
	}
	return text.New("show.spoken", text.Name("material", material), text.Number("grams", n.Target), text.Name("scale", n.Scale))
}

// barWidth is the whole bar; the stretched scale is even up to evenWidth to both sides
// of its middle, and pressed together beyond.
const (
	barWidth  = 10_000
	middle    = barWidth / 2
	evenWidth = 3800
	mostLines = 40 // more would run together at two metres
)

// bar places the pour; false where there is none, or nothing to place.
func (n *NowView) bar() (b BarView, ok bool) {
	switch n.State {
	case "pour", "settle", "in", "over", "lost", "container", "lifted":
	default:
		return b, false
	}
	target, low, high, step := massOf(n.Target, n.Unit), massOf(n.Low, n.Unit), massOf(n.High, n.Unit), massOf(n.Step, n.Unit)
	if n.Eye || target <= 0 || step <= 0 {
		return b, false
	}
	half := max(high-target, target-low, step)
	even := half/2*5 + half%2*2
	all := max(target/10, even/2*3)
	known := n.Fill >= 0 && n.In != "" && n.State != "lost"

	// The part up to five half bands before the mark takes two fifths of the whole bar; the
	// rest is stretched, so that the band can be seen from afar.
	band := max(n.HighFill-barFull, barFull-n.LowFill, 1)
	from, to := max(barFull-5*band, 0), barFull+4*band
	if from > 0 {
		b.Break = barWidth * 2 / 5
	}
	whole := func(fill int) int {
		if fill <= from && from > 0 {
			return max(0, fill*b.Break/from)
		}
		return max(0, min(barWidth, b.Break+(fill-from)*(barWidth-b.Break)/(to-from)))
	}
	b.Whole = Marks{-1, whole(n.LowFill), whole(barFull), whole(n.HighFill)}

	// The stretched scale: the target in the middle. Floats only place things here.
	fine := func(m protocol.Mass) int {
		d := min((m - target).Abs(), all)
		p := float64(d) / float64(even) * evenWidth
		if d > even {
			p = evenWidth + float64(d-even)/float64(all-even)*(middle-evenWidth)
		}
		return middle + int(math.Copysign(math.Round(p), float64(m-target)))
	}
	b.Fine = Marks{-1, fine(low), middle, fine(high)}
	few := protocol.Mass(2000)
	for _, f := range []protocol.Mass{1, 2, 5, 10, 20, 50, 100, 200, 500, 1000} {
		if even/step*2 <= f*mostLines {
			few = f
			break
		}
	}
	line := few * step
	b.Lines = int(even / line)
	b.Gap = int(float64(line) / float64(even) * evenWidth)
	unit := protocol.Unit(n.Unit)
	b.Line = text.New("show.line", text.In("amount", line, unit, step))
	b.Band = text.New("show.bar-band", text.In("low", low, unit, step), text.In("high", high, unit, step), text.In("target", target, unit, step))
	if !known {
		b.Near = 1 // a cable that falls out does not change the scale
		b.Says = text.New("show.bar-unknown")
		return b, true
	}
	in := massOf(n.In, n.Unit)
	b.Whole.Fill, b.Fine.Fill = whole(n.Fill), fine(in)
	switch missing := target - in; {
	case missing <= all:
		b.Near = 2
	case missing <= all/4*5:
		b.Near = 1
	}
	away := n.LowFill - n.Fill
	if n.Fill > n.HighFill {
		away = n.Fill - n.HighFill
	}
	b.Closeness = max(0, min(1000, 1000-away*10))
	b.Says = text.New("show.bar", text.In("in", in, unit, step))
	return b, true
}

func massOf(digits, unit string) protocol.Mass {
	m, err := protocol.ParseMass(digits + cmp.Or(unit, string(protocol.UnitGram)))
	if err != nil {
		return 0
	}
	return m
}

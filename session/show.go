package session

import (
	"cmp"
	"math"
	"slices"
	"strings"

	"tared/protocol"
	"tared/session/batch"
	"tared/session/doubt"
	"tared/session/text"
)

// barFull is the target on the bar of a view, in its own thousandths.
const barFull = 1000

// Shown is the view with how it looks.
func (v View) Shown() View {
	v.look()
	return v
}

// look fills in how the view looks.
func (v *View) look() {
	n := &v.Now
	is := v.sign()
	s := Show{Tone: is.tone, Shape: is.shape, Word: is.word, Spoken: n.spoken(), About: v.about()}
	s.Label, s.Digits = is.figure(n)
	s.Same = n.State == "decide" || slices.Contains(plain, n.Headline.Code)
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

// sign is what the whole page says: one deed, and the one figure that goes with it. They
// come from one place, so that they cannot contradict each other.
type sign struct {
	tone, shape string
	word        text.Message
	figure      func(n *NowView) (label text.Message, digits string)
}

// signs are the signs of the states, and of deeds that a state alone does not tell.
var signs = map[string]sign{
	"idle":      {"idle", "idle", text.New("show.begin"), nothing},
	"reminder":  {"ask", "mask", text.New("show.mask"), nothing},
	"container": {"idle", "place", text.New("show.put-on"), toWeigh},
	"pour":      {"pour", "under", text.New("show.pour"), toPour},
	"settle":    {"wait", "wait", text.New("show.wait"), inIt},
	"in":        {"in", "lift", text.New("show.lift"), inIt},
	"over":      {"over", "over", text.New("show.take-out"), tooMuch},
	"lifted":    {"in", "tip", text.New("show.tip"), goesIn},
	"blind":     {"lost", "lost", text.New("show.stop"), notKnown},
	"lost":      {"lost", "lost", text.New("show.stop"), notKnown},
	"decide":    {"ask", "ask", text.New("show.choose"), nothing},
	"paused":    {"idle", "pause", text.New("show.paused"), nothing},
	"finished":  {"in", "in", text.New("show.done"), nothing},

	"closed":   {"idle", "skip", text.New("show.closed"), nothing},
	"cannot":   {"ask", "lift", text.New("show.lift"), inIt},
	"ease":     {"ease", "under", text.New("show.ease"), toPour},
	"empty":    {"idle", "back", text.New("show.put-back"), toWeigh}, // there is nothing in it to be tipped
	"look":     {"ask", "stop", text.New("show.stop"), inIt},
	"print":    {"wait", "now", text.New("show.print"), notKnown},
	"put-back": {"over", "back", text.New("show.put-back"), tooMuch},
	"stop":     {"stop", "stop", text.New("show.stop"), inIt},
	"take-off": {"lost", "lift", text.New("show.take-off"), notKnown},
	"too-soon": {"ask", "back", text.New("show.put-back"), notKnown},
	"unread":   {"lost", "wait", text.New("show.wait"), notKnown},
	"wait":     {"wait", "wait", text.New("show.wait"), toWeigh},
	"weigh":    {"idle", "eye", text.New("show.weigh"), toWeigh},
}

// plain are the headlines that say what the deed and the material say already.
var plain = []string{"bench.pour", "bench.pour-rest", "bench.ease", "bench.stop", "bench.wait", "bench.take-out", "bench.by-eye", "bench.paused"}

// deed is the word of the sign that stands.
func (v *View) deed() string {
	n := &v.Now
	switch {
	case n.Deed != "":
		return n.Deed
	case n.State == "finished" && v.Batch != nil && v.Batch.Early:
		return "closed"
	case n.In == "" && (n.State == "in" || n.State == "over" || n.State == "settle"):
		return "unread" // the scale fell silent
	case n.State == "in" && n.Cannot:
		return "cannot"
	case n.State == "lifted":
		return n.lifting()
	case n.State == "container" && n.Cue == "ask":
		return "look"
	case n.State == "pour" || n.State == "settle":
		return n.pouring()
	case signs[n.State].figure == nil:
		return "idle"
	}
	return n.State
}

// lifting is the deed while the container is off the scale.
func (n *NowView) lifting() string {
	switch {
	case n.Cue == "over":
		return "put-back" // never "tip" over "put it back"
	case strings.HasPrefix(n.Lifted, "-"):
		return "empty"
	case n.Cue == "ask" || n.Lifted == "":
		return "too-soon"
	}
	return n.State
}

// pouring is the deed while powder runs, or may run.
func (n *NowView) pouring() string {
	switch {
	case n.State == "pour" && n.Eye:
		return "weigh"
	case n.Cue == "stop":
		return "stop"
	case n.State == "settle":
		return "settle"
	case n.Cue == "ask":
		return "look"
	case n.Missing == "":
		return "unread"
	case strings.HasPrefix(n.Missing, "-"), strings.Trim(n.Missing, "0.") == "":
		return "stop" // nothing more is to be poured
	case n.Cue == "ease":
		return "ease"
	}
	return "pour"
}

func (v *View) sign() sign { return signs[v.deed()] }

func nothing(*NowView) (label text.Message, digits string) { return }

func notKnown(*NowView) (text.Message, string) { return text.New("show.not-known"), "" }

func toWeigh(n *NowView) (text.Message, string) { return text.New("show.to-weigh"), n.Target }

func toPour(n *NowView) (text.Message, string) { return text.New("show.to-pour"), n.Missing }

func inIt(n *NowView) (text.Message, string) {
	if n.In == "" {
		return notKnown(n)
	}
	return text.New("show.in-it"), n.In
}

func goesIn(n *NowView) (text.Message, string) { return text.New("show.goes-in"), n.Lifted }

func tooMuch(n *NowView) (text.Message, string) {
	if over, is := strings.CutPrefix(n.Missing, "-"); is {
		return text.New("show.too-much"), "+" + over
	}
	return notKnown(n)
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

// barWidth is the whole bar. Its scale is even for four bands, two on each side of the
// aim in its middle; what is beyond is off it.
const (
	barWidth  = 10_000
	middle    = barWidth / 2
	bandsEven = 4  // half bands to each side
	mostLines = 16 // to each side; more would run together at three metres
)

// place is where a mass is on it. Floats only place things here.
func (s *barScale) place(m protocol.Mass) int {
	return middle + int(math.Round(float64(m-s.target)/float64(s.even)*middle))
}

// barOf makes the bar of a weighing; one without a step is none.
func (n *NowView) barOf() *barScale {
	target, low, high, step := massOf(n.Target, n.Unit), massOf(n.Low, n.Unit), massOf(n.High, n.Unit), massOf(n.Step, n.Unit)
	if n.Eye || target <= 0 || step <= 0 {
		return &barScale{}
	}
	even := bandsEven * max(high-target, target-low, step)
	s := &barScale{target: target, even: even, step: step}
	b := &s.empty
	b.Low, b.Mark, b.High = s.place(low), middle, s.place(high)
	few := protocol.Mass(2000)
	for _, f := range []protocol.Mass{1, 2, 5, 10, 20, 50, 100, 200, 500, 1000} {
		if even/step <= f*mostLines {
			few = f
			break
		}
	}
	line, unit := few*step, protocol.Unit(n.Unit)
	b.Lines, b.Gap = int(even/line), int(float64(line)/float64(even)*middle)
	b.Line = text.New("show.line", text.In("amount", line, unit, step))
	b.Band = text.New("show.bar-band", text.In("low", low, unit, step), text.In("high", high, unit, step), text.In("target", target, unit, step))
	return s
}

// bar places the pour; false where there is none, or nothing to place.
func (n *NowView) bar() (b BarView, ok bool) {
	switch n.State {
	case "pour", "settle", "in", "over", "lost", "container", "lifted":
	default:
		return b, false
	}
	if n.scale == nil {
		n.scale = n.barOf()
	}
	if n.scale.step == 0 {
		return b, false
	}
	b = n.scale.empty
	if n.Fill < 0 || n.In == "" || n.State == "lost" {
		b.Fill, b.Needle = -1, -1
		b.Says = text.New("show.bar-unknown")
		return b, true
	}
	in := massOf(n.In, n.Unit)
	switch b.Needle = n.scale.place(in); {
	case b.Needle < 0:
		b.Needle, b.Off = 0, "under"
	case b.Needle > barWidth:
		b.Needle, b.Off = barWidth, "over"
	}
	b.Fill = max(0, min(barWidth, n.Fill*(barWidth/barFull)))
	away := n.LowFill - n.Fill
	if n.Fill > n.HighFill {
		away = n.Fill - n.HighFill
	}
	b.Closeness = max(0, min(1000, 1000-away*10))
	b.Says = text.New("show.bar", text.In("in", in, protocol.Unit(n.Unit), n.scale.step))
	return b, true
}

func massOf(digits, unit string) protocol.Mass {
	m, err := protocol.ParseMass(digits + cmp.Or(unit, string(protocol.UnitGram)))
	if err != nil {
		return 0
	}
	return m
}

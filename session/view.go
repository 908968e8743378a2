package session

import (
	"math"
	"slices"
	"strings"
	"time"

	"tared/protocol"
	"tared/session/text"
)

// View is the whole of what a watcher may show, as codes and numbers that need no
// further computing; In puts the codes into words. It is made anew after every input;
// the newest wins. Masses are decimal strings in grams, with as many digits as the
// scale shows.
type View struct {
	Seq       uint64      `json:"seq"` // grows with every view
	At        time.Time   `json:"at"`
	Recording Recording   `json:"recording"`
	Batch     *BatchView  `json:"batch"` // nil: none in work
	Now       NowView     `json:"now"`
	Asked     *AskedView  `json:"asked"` // nil: nothing needs a word
	Keys      []KeyView   `json:"keys"`  // what a key or pedal does now
	Scales    []ScaleView `json:"scales"`
	Said      []Notice    `json:"said"` // the last notices, newest first
	Simulated bool        `json:"simulated"`
	Due       []DueView   `json:"due"` // batches that wait to be measured, the longest first

	Learnt []LearntView `json:"learnt"` // of the people who poured, since the start
}

// DueView is a batch that has stood in its water and waits to be measured.
type DueView struct {
	Batch string       `json:"batch"`
	Says  text.Message `json:"says"`
}

// Recording tells whether the journal takes records.
type Recording struct {
	OK  bool         `json:"ok"`
	Why text.Message `json:"why"` // it does not, and what to do
}

// BatchView is the batch in work.
type BatchView struct {
	Mark  string     `json:"mark"`
	Title string     `json:"title"`
	Base  string     `json:"base"`
	Dry   string     `json:"dry"`
	By    string     `json:"by"`
	Steps []StepView `json:"steps"`
	Done  int        `json:"done"`  // steps complete
	Early bool       `json:"early"` // closed before everything was in
}

// StepView is one material of the batch.
type StepView struct {
	Material  string `json:"material"`
	As        string `json:"as,omitempty"` // substitute
	Role      string `json:"role"`         // base, addition, strong
	Target    string `json:"target"`
	Delivered string `json:"delivered"`
	Scale     string `json:"scale"`
	State     string `json:"state"`   // waiting, now, done, skipped
	Verdict   string `json:"verdict"` // "", under, in, over

	Shape string         `json:"shape"` // of its mark
	Mark  text.Message   `json:"mark"`
	Notes []text.Message `json:"notes"` // scale, and what is not as planned
}

// NowView is what is to be done now.
type NowView struct {
	// State: idle, reminder, container, pour, settle, in, over, lifted, lost,
	// decide, paused, finished.
	State    string `json:"state"`
	Material string `json:"material"`
	As       string `json:"as,omitempty"`
	Role     string `json:"role"`
	Scale    string `json:"scale"`
	Eye      bool   `json:"eye"` // read by eye: type the amount
	Portion  int    `json:"portion"`
	Portions int    `json:"portions"` // 1 when not split
	Target   string `json:"target"`   // of this portion
	Low      string `json:"low"`
	High     string `json:"high"`
	Step     string `json:"step"`
	In       string `json:"in"`      // in the container now; "" when not known
	Missing  string `json:"missing"` // target minus In; negative when over
	Lifted   string `json:"lifted"`  // in the container that is off the pan: what counts when all of it is tipped; "" when not known
	// Fill places In on the bar: thousandths of the target, -1 when not known;
	// LowFill and HighFill are the band's marks on the same scale.
	Fill     int            `json:"fill"`
	LowFill  int            `json:"low_fill"`
	HighFill int            `json:"high_fill"`
	Headline text.Message   `json:"headline"` // what to do, in few words
	Detail   []text.Message `json:"detail"`   // sentences below it
	// Cue is what the ear should hear: "", near, ease, stop, in, over, lost, ask, taken.
	Cue     string    `json:"cue"`
	Since   time.Time `json:"since"`   // when State began
	Settled bool      `json:"settled"` //
	Next    *NextView `json:"next"`    // nil after the last
	Show    Show      `json:"show"`    // what it looks like
}

// NextView is what comes after.
type NextView struct {
	Material string `json:"material"`
	Target   string `json:"target"`
	Scale    string `json:"scale"`
	Role     string `json:"role"`
}

// AskedView is a question that waits for a word.
type AskedView struct {
	Question string         `json:"question"` // one word for programs: reminder, overpour, tare, …
	Says     text.Message   `json:"says"`
	Lines    []text.Message `json:"lines"` // what to know before answering
	Answers  []AnswerView   `json:"answers"`
}

// AnswerView is one possible answer.
type AnswerView struct {
	Word  string       `json:"word"`  // the command word
	Label text.Message `json:"label"` // what it does
	Needs string       `json:"needs"` // "", name, mass, text: what must be behind the word
}

// KeyView tells what a key does now.
type KeyView struct {
	Key   string       `json:"key"` // as in KeyboardEvent.key
	Word  string       `json:"word"`
	Label text.Message `json:"label"`
}

// ScaleView is one instrument.
type ScaleView struct {
	Name    string    `json:"name"`
	Port    string    `json:"port"`
	USB     string    `json:"usb"`
	Format  string    `json:"format"`
	Line    string    `json:"line"`
	Link    string    `json:"link"` // waiting, up, lost
	Why     string    `json:"why"`
	Shows   string    `json:"shows"` // digits as shown; "" when none
	Unit    string    `json:"unit"`
	Status  string    `json:"status"`
	Settled bool      `json:"settled"`
	Step    string    `json:"step"`
	Max     string    `json:"max"`
	Raw     string    `json:"raw"` // the last frame, printable
	At      time.Time `json:"at"`  // of the last frame
	Frames  uint64    `json:"frames"`
	Damaged uint64    `json:"damaged"`
	Foreign uint64    `json:"foreign"`
	Eye     bool      `json:"eye"`
	Print   bool      `json:"print"` // it speaks on its print key only: what it shows is its last frame
	On      string    `json:"on"`    // empty, container, unknown

	Pan text.Message `json:"pan"` // On, in words

	Lag string `json:"lag"` // of its display behind the load, as learnt, "0.31 s"; "": not yet

	Check *CheckView `json:"check"` // of the scale itself
}

// In puts the view into words.
func (v View) In(l *text.Language) View {
	v.Recording.Why = v.Recording.Why.In(l)
	v.Now.Headline, v.Now.Detail, v.Now.Show = v.Now.Headline.In(l), text.In(l, v.Now.Detail), v.Now.Show.in(l)
	if v.Batch != nil {
		b := *v.Batch
		b.Steps = slices.Clone(b.Steps)
		for i := range b.Steps {
			b.Steps[i].Mark, b.Steps[i].Notes = b.Steps[i].Mark.In(l), text.In(l, b.Steps[i].Notes)
		}
		v.Batch = &b
	}
	if v.Asked != nil {
		a := *v.Asked
		a.Says, a.Lines, a.Answers = a.Says.In(l), text.In(l, a.Lines), slices.Clone(a.Answers)
		for i := range a.Answers {
			a.Answers[i].Label = a.Answers[i].Label.In(l)
		}
		v.Asked = &a
	}
	v.Keys, v.Scales, v.Said, v.Due = slices.Clone(v.Keys), slices.Clone(v.Scales), slices.Clone(v.Said), slices.Clone(v.Due)
	for i := range v.Keys {
		v.Keys[i].Label = v.Keys[i].Label.In(l)
	}
	for i := range v.Scales {
		v.Scales[i].Pan = v.Scales[i].Pan.In(l)
	}
	for i := range v.Said {
		v.Said[i].Says = v.Said[i].Says.In(l)
	}
	for i := range v.Due {
		v.Due[i].Says = v.Due[i].Says.In(l)
	}
	return v
}

// Show is how what is to be done looks on a page: words, shapes and places. A page
// works none of it out.
type Show struct {
	Tone   string         `json:"tone"`  // idle, under, in, over, stop, ask, lost
	Shape  string         `json:"shape"` // of the sign
	Word   text.Message   `json:"word"`
	Label  text.Message   `json:"label"`  // what the large figure is
	Digits string         `json:"digits"` // of it; "": not known
	About  []text.Message `json:"about"`  // the material: step, role, portion
	Take   []TakeView     `json:"take"`   // how the portion comes to be recorded; none: not now
	Spoken text.Message   `json:"spoken"` // what is said when a material begins
	Bar    *BarView       `json:"bar"`    // nil: nothing is poured
}

// TakeView is one step towards recording a portion.
type TakeView struct {
	Says  text.Message `json:"says"`
	Shape string       `json:"shape"`
	State string       `json:"state"` // done, now, to come
}

// BarView places a pour on the bar, in ten-thousandths of its width.
type BarView struct {
	// Near is how near the band is: 2 near enough for the stretched scale, 1 near enough
	// to stay with it, so that noise does not change the scale, 0 far.
	Near  int   `json:"near"`
	Whole Marks `json:"whole"`
	Break int   `json:"break"` // where the whole bar is stretched from; 0: nowhere
	Fine  Marks `json:"fine"`
	// Gap is from line to line of the stretched scale, Lines how many there are on each
	// side of the target; Line is what one of them stands for.
	Gap       int          `json:"gap"`
	Lines     int          `json:"lines"`
	Line      text.Message `json:"line"`
	Says      text.Message `json:"says"`      // where things stand, for who cannot see it
	SaysFine  text.Message `json:"says_fine"` // the same, stretched
	Closeness int          `json:"closeness"` // thousandths: 0 a tenth of the target off the band, or more; 1000 at its edge
}

// Marks are the places on one of the two scales; Fill is -1 where it is not known.
type Marks struct {
	Fill int `json:"fill"`
	Low  int `json:"low"`
	Mark int `json:"mark"`
	High int `json:"high"`
}

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

// shown marks a step of the batch.
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
	case s.Verdict == "under":
		s.Shape, s.Mark = "under", text.New("show.step-under")
	case s.Verdict == "over":
		s.Shape, s.Mark = "over", text.New("show.step-over")
	}
	s.Notes = nil
	if done {
		s.Notes = append(s.Notes, text.New("show.of-target", text.Mass("target", massOf(s.Target), placesOf(s.Target))))
	}
	s.Notes = append(s.Notes, text.Written(s.Scale))
	if s.As != "" {
		s.Notes = append(s.Notes, text.New("show.instead", text.Name("material", s.Material)))
	}
	switch {
	case done && s.Verdict == "under":
		s.Notes = append(s.Notes, text.New("show.note-under"))
	case done && s.Verdict == "over":
		s.Notes = append(s.Notes, text.New("show.note-over"))
	case s.State == "skipped":
		s.Notes = append(s.Notes, text.New("show.note-skipped"))
	}
	return s
}

// in puts it into words, and keeps nothing else: it goes out with every line of a scale.
func (s Show) in(l *text.Language) Show {
	put := func(m text.Message) text.Message { return text.Written(l.Say(m)) }
	about, take := make([]text.Message, len(s.About)), make([]TakeView, len(s.Take))
	for i, m := range s.About {
		about[i] = put(m)
	}
	for i, t := range s.Take {
		t.Says = put(t.Says)
		take[i] = t
	}
	s.Word, s.Label, s.Spoken, s.About, s.Take = put(s.Word), put(s.Label), put(s.Spoken), about, take
	if s.Bar != nil {
		b := *s.Bar
		b.Line, b.Says, b.SaysFine = put(b.Line), put(b.Says), put(b.SaysFine)
		s.Bar = &b
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
	s, ok := signs[n.State]
	if !ok {
		s = signs["idle"]
	}
	return s.tone, s.shape, s.word
}

// figure is the main figure, with what it means.
func (n *NowView) figure() (label text.Message, digits string) {
	short, over := strings.CutPrefix(n.Missing, "-")
	switch {
	case n.State == "lost":
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
	switch {
	case n.Material == "" || n.Target == "":
		return text.Message{}
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
	target, low, high, step := massOf(n.Target), massOf(n.Low), massOf(n.High), massOf(n.Step)
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
	places := step.Places()
	b.Line = text.New("show.line", text.Mass("amount", line, places))
	if !known {
		b.Near = 1 // a cable that falls out does not change the scale
		b.Says = text.New("show.bar-unknown", text.Mass("low", low, places), text.Mass("high", high, places), text.Mass("target", target, places))
		b.SaysFine = b.Says
		return b, true
	}
	in := target - massOf(n.Missing)
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
	b.Says = text.New("show.bar", text.Mass("in", in, places), text.Mass("low", low, places), text.Mass("high", high, places), text.Mass("target", target, places))
	b.SaysFine = text.New("show.bar-fine", text.Mass("in", in, places), text.Mass("line", line, places), text.Mass("low", low, places), text.Mass("high", high, places), text.Mass("target", target, places))
	return b, true
}

// placesOf counts the places of a decimal.
func placesOf(digits string) int {
	_, rest, _ := strings.Cut(digits, ".")
	return len(rest)
}

// massOf reads a mass of the view back.
func massOf(digits string) protocol.Mass {
	m, err := protocol.ParseMass(digits + "g")
	if err != nil {
		return 0
	}
	return m
}

// CheckView is a scale's own check, on the scales page.
type CheckView struct {
	// State: "" where no check is asked for, never, overdue, passed, failed.
	State string     `json:"state"`
	Words string     `json:"words"` // of the last check, and what is due
	At    *time.Time `json:"at"`    // of the last check
	By    string     `json:"by"`
	// Weight is the usual check weight, "" where none is set.
	Weight string `json:"weight"`
	Limits string `json:"limits"` // by what it is judged
	Spread string `json:"spread"` // words of the last repeatability run, "" for none
	Used   bool   `json:"used"`   // the sheet uses that spread
	// Doing tells what to do in the run that is under way, "" when none is.
	Doing string   `json:"doing"`
	Seen  []string `json:"seen"` // what the placings so far weighed
	Want  int      `json:"want"` // placings of the run
	Said  string   `json:"said"` // what became of a run that was not recorded
}

// LearntView is what the bench has learnt of a person.
type LearntView struct {
	By       string `json:"by"`
	Reaction string `json:"reaction"` // as "0.31 s"
}

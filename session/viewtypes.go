package session

import (
	"time"

	"tared/protocol"
	"tared/session/text"
)

// View is the whole of what a watcher may show, as codes and numbers that need no
// further computing; a Watcher puts the codes into words, and
// writes digits as its language does. It is made anew after every input; the newest wins. Masses are decimal strings, with as many digits as the scale
// shows: in grams, and those of a weighing in the unit that stands beside them.
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

	Learnt []LearntView `json:"learnt"` // since the start
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
	Base  string     `json:"base" write:"digits"`
	Dry   string     `json:"dry" write:"digits"`
	By    string     `json:"by"`
	Steps []StepView `json:"steps"`
	Done  int        `json:"done"`  // steps complete
	Early bool       `json:"early"` // closed before everything was in
	Left  bool       `json:"left"`  // of a mixture something is left over that can be kept
}

// StepView is one material of the batch.
type StepView struct {
	Material  string `json:"material"`
	As        string `json:"as"`   // substitute
	Role      string `json:"role"` // base, addition, strong
	Target    string `json:"target" write:"digits"`
	Delivered string `json:"delivered" write:"digits"`
	Scale     string `json:"scale"`
	Unit      string `json:"unit"`    // of the masses
	State     string `json:"state"`   // waiting, now, done, skipped
	Verdict   string `json:"verdict"` // "", under, in, over

	Shape string         `json:"shape"` // of its mark
	Mark  text.Message   `json:"mark"`
	Notes []text.Message `json:"notes"` // scale, and what is not as planned
}

// NowView is what is to be done now.
type NowView struct {
	// State: idle, reminder, container, pour, settle, in, over, lifted, lost,
	// decide, blind, paused, finished.
	State    string `json:"state"`
	Blind    string `json:"blind"` // why it is: recording, another-scale
	Material string `json:"material"`
	As       string `json:"as"`
	Role     string `json:"role"`
	Scale    string `json:"scale"`
	Eye      bool   `json:"eye"` // read by eye: type the amount
	Portion  int    `json:"portion"`
	Portions int    `json:"portions"`              // 1 when not split
	Unit     string `json:"unit"`                  // in which the scale shows, and so do the masses here
	Target   string `json:"target" write:"digits"` // of this portion
	Low      string `json:"low" write:"digits"`
	High     string `json:"high" write:"digits"`
	Step     string `json:"step" write:"digits"`
	In       string `json:"in" write:"digits"`      // in the container now; "" when not known
	Missing  string `json:"missing" write:"digits"` // target minus In, or minus Lifted; negative when over
	Lifted   string `json:"lifted" write:"digits"`  // in the container that is off the pan: what counts when all of it is tipped; "" when not known
	// Fill places In on the bar: thousandths of the target, -1 when not known;
	// LowFill and HighFill are the band's marks on the same scale.
	Fill     int `json:"fill"`
	LowFill  int `json:"low_fill"`
	HighFill int `json:"high_fill"`
	// Deed is what to do where the state alone does not tell it: ease, print, stop,
	// take-off, unread, wait; a container that stands there and is not to be touched yet
	// waits. A word stands for half a second at least before a weaker one follows, which
	// Cue need not.
	Deed     string         `json:"deed"`
	Headline text.Message   `json:"headline"` // what to do, in few words
	Detail   []text.Message `json:"detail"`   // sentences below it
	// Cue is what the ear should hear: "", near, ease, stop, in, over, lost, ask, taken.
	Cue     string    `json:"cue"`
	Since   time.Time `json:"since"`   // when State began
	Settled bool      `json:"settled"` //
	Cannot  bool      `json:"cannot"`  // in by the marks, and nobody can tell whether it is in the band
	Next    *NextView `json:"next"`    // nil after the last
	Show    Show      `json:"show"`    // what it looks like

	scale *barScale // of its bar; nil: not made yet
}

// NextView is what comes after.
type NextView struct {
	Material string `json:"material"`
	Target   string `json:"target" write:"digits"`
	Unit     string `json:"unit"` // of Target
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
	Key    string       `json:"key"` // as in KeyboardEvent.key; "": a button only
	Word   string       `json:"word"`
	Label  text.Message `json:"label"`
	Needs  string       `json:"needs"`  // "", name, mass, text, reason, material: what must be behind the word
	Hold   bool         `json:"hold"`   // it is held for a second; a short press does nothing
	Seldom bool         `json:"seldom"` // a page keeps it out of the way
}

// ScaleView is one instrument.
type ScaleView struct {
	Name    string    `json:"name"`
	Port    string    `json:"port"`
	USB     string    `json:"usb"`
	Format  string    `json:"format"`
	Line    string    `json:"line"`
	Link    string    `json:"link"` // waiting, up, lost
	Why     string    `json:"why" write:"words"`
	Shows   string    `json:"shows" write:"digits"` // digits as shown; "" when none
	Unit    string    `json:"unit"`
	Status  string    `json:"status"`
	Settled bool      `json:"settled"`
	Step    string    `json:"step" write:"digits"`
	Max     string    `json:"max" write:"digits"`
	Raw     string    `json:"raw"` // the last frame, printable
	At      time.Time `json:"at"`  // of the last frame
	Frames  uint64    `json:"frames"`
	Damaged uint64    `json:"damaged"`
	Foreign uint64    `json:"foreign"`
	Eye     bool      `json:"eye"`
	Print   bool      `json:"print"` // it speaks on its print key only: what it shows is its last frame
	On      string    `json:"on"`    // empty, container, unknown

	Pan text.Message `json:"pan"` // On, in words

	Lag string `json:"lag" write:"digits"` // of its display behind the load, as learnt, "0.31 s"; "": not yet

	Check *CheckView `json:"check"` // of the scale itself
}

// Show is how what is to be done looks on a page: words, shapes and places. A page
// works none of it out.
type Show struct {
	Tone   string         `json:"tone"`                  // idle, pour, ease, stop, wait, in, over, ask, lost
	Shape  string         `json:"shape"`                 // of the sign
	Word   text.Message   `json:"word"`                  // the deed
	Label  text.Message   `json:"label"`                 // what the figure is; none: there is no figure
	Digits string         `json:"digits" write:"digits"` // of it, as the deed wants it; "": not known
	Same   bool           `json:"same"`                  // the headline says no more than the deed, the material and the question
	About  []text.Message `json:"about"`                 // the material: step, role, portion
	Spoken text.Message   `json:"spoken"`                // what is said when a material begins
	Bar    *BarView       `json:"bar"`                   // nil: nothing is poured
}

// BarView places a pour in ten-thousandths of a width: on a scale that is even for four
// bands around the aim in its middle, and as a share of the whole.
type BarView struct {
	Needle int    `json:"needle"` // on the scale; -1: not known
	Off    string `json:"off"`    // where the needle is, beyond the scale: "", under, over
	Fill   int    `json:"fill"`   // how much of the whole is in; -1: not known
	Low    int    `json:"low"`
	Mark   int    `json:"mark"` // the aim: the middle of the band, and what will cling
	High   int    `json:"high"`
	// Gap is from line to line of the scale, Lines how many there are on each side of the
	// aim; Line is what one of them stands for.
	Gap       int          `json:"gap"`
	Lines     int          `json:"lines"`
	Line      text.Message `json:"line"`
	Says      text.Message `json:"says"`      // how much is in, for who cannot see it
	Band      text.Message `json:"band"`      // where it ends and what the target is, the same
	Closeness int          `json:"closeness"` // thousandths: 0 a tenth of the target off the band, or more; 1000 at its edge
}

// barScale is the bar of a weighing with nothing in it yet.
type barScale struct {
	empty              BarView
	target, even, step protocol.Mass // even: from the middle to either end
}

// CheckView is a scale's own check, on the scales page.
type CheckView struct {
	// State: "" where no check is asked for, never, overdue, passed, failed.
	State string       `json:"state"`
	Words text.Message `json:"words"` // of the last check, and what is due
	At    *time.Time   `json:"at"`    // of the last check
	By    string       `json:"by"`
	// Weight is the usual check weight, "" where none is set.
	Weight string       `json:"weight" write:"digits"`
	Limits text.Message `json:"limits"` // by what it is judged
	Spread text.Message `json:"spread"` // words of the last repeatability run, none where there was none
	Used   bool         `json:"used"`   // the sheet uses that spread
	// Doing tells what to do in the run that is under way, nothing when none is.
	Doing text.Message `json:"doing"`
	Seen  []string     `json:"seen" write:"digits"` // what the placings so far weighed
	Want  int          `json:"want"`                // placings of the run
	Said  text.Message `json:"said"`                // what became of a run that was not recorded
}

// LearntView is what the bench has learnt of a person, or of a material in a container.
type LearntView struct {
	Of   string       `json:"of"` // what "relearn" forgets
	Says text.Message `json:"says"`
}

// tell sets what is said.
func (n *NowView) tell(cue string, headline text.Message, detail ...text.Message) {
	n.Cue, n.Headline, n.Detail = cue, headline, detail
}

package session

import (
	"slices"
	"time"

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
	Said      []SaidView  `json:"said"` // the last notices, newest first
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

// SaidView is one notice.
type SaidView struct {
	At   time.Time    `json:"at"`
	Says text.Message `json:"says"`
}

// In puts the view into words.
func (v View) In(l *text.Language) View {
	v.Recording.Why = v.Recording.Why.In(l)
	v.Now.Headline, v.Now.Detail = v.Now.Headline.In(l), text.In(l, v.Now.Detail)
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

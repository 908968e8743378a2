package main

import (
	"encoding/json"
	"fmt"
	"io"
	"strings"
	"sync"
	"time"
	"unicode/utf8"

	"tared/protocol"
	"tared/session"
	"tared/session/sheet"
	"tared/session/text"
)

// event is one thing that the bench has to tell: a line of the journal, or a
// view with something new in it.
type event struct {
	line []byte // as written, without its end of line; nil: a view
	view session.View
	live bool // only the number moved; the event may be left out when a newer one is there
}

// events carries what the bench tells to the goroutine that prints, in order,
// and never makes the bench wait. Journal lines and changes are all kept; of
// the numbers in between only the newest is.
type events struct {
	C     chan struct{} // gets a token when something is there
	mu    sync.Mutex
	queue []event
	last  session.View
	began bool
}

func newEvents() *events { return &events{C: make(chan struct{}, 1)} }

// facts is the bench's OnFacts.
func (e *events) facts(lines [][]byte) {
	e.mu.Lock()
	defer e.mu.Unlock()
	for _, l := range lines {
		e.queue = append(e.queue, event{line: []byte(strings.TrimRight(string(l), "\r\n"))})
	}
	e.wake()
}

// view is the bench's OnView.
func (e *events) view(v session.View) {
	e.mu.Lock()
	defer e.mu.Unlock()
	live := e.began && sameNow(e.last, v) && sameAsked(e.last.Asked, v.Asked) && e.last.Recording.OK == v.Recording.OK && newSaid(e.last, v) == nil
	e.began, e.last = true, v
	if n := len(e.queue); live && n > 0 && e.queue[n-1].live {
		e.queue[n-1].view = v
	} else {
		e.queue = append(e.queue, event{view: v, live: live})
	}
	e.wake()
}

func (e *events) wake() {
	select {
	case e.C <- struct{}{}:
	default:
	}
}

// take empties the queue.
func (e *events) take() []event {
	e.mu.Lock()
	defer e.mu.Unlock()
	q := e.queue
	e.queue = nil
	return q
}

// sameNow tells whether two views ask the same of the hands.
func sameNow(a, b session.View) bool {
	x, y := a.Now, b.Now
	return x.State == y.State && x.Material == y.Material && x.As == y.As && x.Scale == y.Scale &&
		x.Target == y.Target && x.Low == y.Low && x.High == y.High
}

func sameAsked(a, b *session.AskedView) bool {
	if a == nil || b == nil {
		return a == b
	}
	return a.Question == b.Question && a.Says.Same(b.Says)
}

// newSaid gives the notices of v that were not in was, oldest first.
func newSaid(was, v session.View) []string {
	var fresh []string
	for _, s := range v.Said { // newest first
		if len(was.Said) > 0 && s.At.Equal(was.Said[0].At) && s.Says.Same(was.Said[0].Says) {
			break
		}
		fresh = append([]string{language.Say(s.Says)}, fresh...)
	}
	return fresh
}

// teller tells a person or a program what the bench says. One goroutine uses it.
type teller interface {
	tell(event) error
	// refused tells that a word was not carried out.
	refused(words string) error
	// remark is something that is worth telling and is not in any view.
	remark(words string) error
	// read tells what the text of a recipe was taken for.
	read(lines []string) error
	// sheet tells what will be weighed, and on what.
	sheet(s sheet.Sheet) error
	// ask wants one of these answers before the batch begins.
	ask(question, words string, answers []string) error
}

// jsonTeller writes one object a line, for programs.
type jsonTeller struct {
	w     io.Writer
	every time.Duration // that a weight that moves is told, at most; 0: never
	last  *session.View
	at    time.Time // of the last "now"
}

// massIn is a mass as a view shows it; nil where there is none.
func massIn(digits, unit string) *protocol.Mass {
	m, err := protocol.ParseMass(digits + unit)
	if err != nil {
		return nil
	}
	return &m
}

// inGrams is a mass as the page shows it, digits kept; null where there is none.
type inGrams struct {
	G string `json:"g"`
}

func asShown(s, unit string) *inGrams {
	if s == "" {
		return nil
	}
	if m, err := protocol.ParseMass(s + unit); err == nil && unit != string(protocol.UnitGram) {
		s = m.Grams(0)
	}
	return &inGrams{s}
}

type nowLine struct {
	Kind     string   `json:"kind"`
	Batch    string   `json:"batch"`
	Material string   `json:"material"`
	As       string   `json:"as,omitempty"`
	Scale    string   `json:"scale"`
	State    string   `json:"state"`
	Unit     string   `json:"unit"` // in which the scale shows; the masses are in grams
	Target   *inGrams `json:"target"`
	Low      *inGrams `json:"low"`
	High     *inGrams `json:"high"`
	In       *inGrams `json:"in"`
	Settled  bool     `json:"settled"`
	Lifted   *inGrams `json:"lifted"` // what goes in when all of it is tipped; null where that is not known
	Portion  int      `json:"portion"`
	Portions int      `json:"portions"`
	Headline string   `json:"headline"`
	Detail   string   `json:"detail"`
}

type askedLine struct {
	Kind     string            `json:"kind"`
	Question string            `json:"question"`
	Words    string            `json:"words"`
	Lines    []string          `json:"lines"`
	Answers  []string          `json:"answers"`
	Needs    map[string]string `json:"needs"` // answer to what must stand behind it: name, mass, text
}

type wordsLine struct {
	Kind  string `json:"kind"`
	Words string `json:"words"`
}

// turns reports whether a view asks something else of the hands than the last one, or
// a weight has settled.
func (t *jsonTeller) turns(v session.View) bool {
	if t.last == nil || !sameNow(*t.last, v) {
		return true
	}
	was := t.last.Now
	return v.Now.Settled && (!was.Settled || v.Now.In != was.In)
}

// moves reports whether another weight is shown, and it is time to tell it.
func (t *jsonTeller) moves(v session.View) bool {
	return t.every > 0 && v.At.Sub(t.at) >= t.every && (v.Now.In != t.last.Now.In || v.Now.Lifted != t.last.Now.Lifted)
}

func (t *jsonTeller) tell(e event) error {
	if e.line != nil {
		_, err := t.w.Write(append(e.line, '\n'))
		return err
	}
	v := e.view
	if n := v.Now; n.State != "idle" && (t.turns(v) || t.moves(v)) {
		t.at = v.At
		l := nowLine{Kind: "now", Material: n.Material, As: n.As, Scale: n.Scale, State: n.State, Unit: n.Unit, Target: asShown(n.Target, n.Unit), Low: asShown(n.Low, n.Unit),
			High: asShown(n.High, n.Unit), In: asShown(n.In, n.Unit), Settled: n.Settled, Lifted: asShown(n.Lifted, n.Unit), Portion: n.Portion, Portions: n.Portions,
			Headline: language.Say(n.Headline), Detail: text.Join(language, n.Detail)}
		if v.Batch != nil {
			l.Batch = v.Batch.Mark
		}
		if err := t.write(l); err != nil {
			return err
		}
	}
	if v.Asked != nil && (t.last == nil || !sameAsked(t.last.Asked, v.Asked)) {
		a := askedLine{Kind: "asked", Question: v.Asked.Question, Words: language.Say(v.Asked.Says), Lines: []string{}, Answers: []string{}, Needs: map[string]string{}}
		for _, l := range v.Asked.Lines {
			a.Lines = append(a.Lines, language.Say(l))
		}
		for _, x := range v.Asked.Answers {
			a.Answers = append(a.Answers, x.Word)
			if x.Needs != "" {
				a.Needs[x.Word] = x.Needs
			}
		}
		if err := t.write(a); err != nil {
			return err
		}
	}
	if !v.Recording.OK && (t.last == nil || t.last.Recording.OK) {
		if err := t.write(wordsLine{"stopped", language.Say(v.Recording.Why)}); err != nil {
			return err
		}
	}
	t.last = &v
	return nil
}

func (t *jsonTeller) refused(words string) error { return t.write(wordsLine{"refused", words}) }
func (t *jsonTeller) remark(words string) error  { return t.write(wordsLine{"said", words}) }

func (t *jsonTeller) read(lines []string) error {
	return t.write(struct {
		Kind  string   `json:"kind"`
		Lines []string `json:"lines"`
	}{"read", lines})
}

func (t *jsonTeller) sheet(s sheet.Sheet) error {
	return t.write(struct {
		Kind string `json:"kind"`
		sheet.Sheet
	}{"sheet", s})
}

func (t *jsonTeller) ask(question, words string, answers []string) error {
	return t.write(askedLine{Kind: "asked", Question: question, Words: words, Lines: []string{}, Answers: answers, Needs: map[string]string{}})
}

func (t *jsonTeller) write(v any) error {
	return json.NewEncoder(t.w).Encode(v)
}

// wordTeller writes sentences for a person. On a terminal it also keeps a line
// with the number that moves; elsewhere (a pipe, a screen reader's log) it
// speaks only when there is something to do.
type wordTeller struct {
	w        io.Writer
	terminal bool
	console  *console // that a person types at, and w writes to
	last     *session.View
	moving   int // length of the moving line that is on the screen
}

func (t *wordTeller) tell(e event) error {
	if e.line != nil {
		return nil // the facts of a batch are told as notices
	}
	v := e.view
	var was session.View
	if t.last != nil {
		was = *t.last
	}
	for _, s := range newSaid(was, v) {
		if err := t.line("  " + s); err != nil {
			return err
		}
	}
	if !v.Recording.OK && (t.last == nil || was.Recording.OK) {
		if err := t.line(says("cli.not-recording", v.Recording.Why)); err != nil {
			return err
		}
	}
	if (t.last == nil || !sameNow(was, v)) && v.Now.State != "idle" {
		if err := t.line(nowWords(was, v)); err != nil {
			return err
		}
	}
	if v.Asked != nil && !sameAsked(was.Asked, v.Asked) {
		if err := t.line(askedWords(v.Asked)); err != nil {
			return err
		}
	}
	t.last = &v
	return t.move(v)
}

// nowWords says what to do; the amounts are named when they are new.
func nowWords(was, v session.View) string {
	n := v.Now
	var b strings.Builder
	if n.Material != "" && (n.Material != was.Now.Material || n.Target != was.Now.Target) {
		what := n.Material
		if n.As != "" {
			what = says("cli.in-place-of", n.As, n.Material)
		}
		fmt.Fprint(&b, "\n"+says("cli.on-the-scale-from-to", what, text.Grams("", n.Target+" "+string(n.Unit)), n.Scale, language.Digits(n.Low), text.Grams("", n.High+" "+string(n.Unit))))
		if n.Portions > 1 {
			b.WriteString(", " + says("cli.portion-of", n.Portion, n.Portions))
		}
		b.WriteString("\n")
	}
	headline := language.Say(n.Headline)
	b.WriteString("  " + headline)
	if !strings.HasSuffix(headline, "?") {
		b.WriteString(".")
	}
	if len(n.Detail) > 0 {
		b.WriteString(" " + text.Join(language, n.Detail))
	}
	return b.String()
}

func askedWords(a *session.AskedView) string {
	var b strings.Builder
	b.WriteString("? " + language.Say(a.Says))
	for _, l := range a.Lines {
		b.WriteString("\n    " + language.Say(l))
	}
	for _, x := range a.Answers {
		word := x.Word
		if x.Needs != "" {
			word += " " + strings.ToUpper(x.Needs)
		}
		fmt.Fprintf(&b, "\n  > %-12s %s", word, language.Say(x.Label))
	}
	return b.String()
}

// move redraws the moving line.
func (t *wordTeller) move(v session.View) error {
	switch {
	case v.Now.In == "" && t.console != nil:
		return t.console.show("")
	case !t.terminal || v.Now.In == "":
		return nil
	}
	s := "  " + says("cli.still-missing", text.Grams("", v.Now.In+" "+string(v.Now.Unit)), text.Grams("", v.Now.Missing+" "+string(v.Now.Unit)))
	switch v.Now.Cue {
	case "ease":
		s += "   " + says("cli.ease")
	case "stop", "over":
		s += "   " + says("cli.stop")
	case "in":
		s += "   " + says("cli.in-band")
	}
	if t.console != nil {
		return t.console.show(s + "  ")
	}
	_, err := fmt.Fprintf(t.w, "\r%-*s", t.moving, s)
	t.moving = utf8.RuneCountInString(s)
	return err
}

// line writes whole lines, where the moving line stood.
func (t *wordTeller) line(s string) error {
	if t.moving > 0 {
		s = "\r" + strings.Repeat(" ", t.moving) + "\r" + s
		t.moving = 0
	}
	_, err := io.WriteString(t.w, s+"\n")
	return err
}

func (t *wordTeller) refused(words string) error { return t.line("  " + says("cli.no", words)) }
func (t *wordTeller) remark(words string) error  { return t.line("  " + words) }

func (t *wordTeller) read(lines []string) error {
	return t.line("  " + says("cli.recipe-read") + "\n    " + strings.Join(lines, "\n    "))
}

func (t *wordTeller) sheet(s sheet.Sheet) error { return t.line("\n" + sheetWords(s)) }

func (t *wordTeller) ask(_, words string, answers []string) error {
	return t.line("? " + words + "\n    " + strings.Join(answers, ", "))
}

package session

import (
	"context"
	"errors"
	"fmt"
	"slices"
	"strings"
	"sync"
	"sync/atomic"
	"time"

	"github.com/rs/zerolog"

	"tared/scale"
	"tared/scale/pan"
	"tared/session/fact"
	"tared/session/guide"
	"tared/session/material"
	"tared/session/sheet"
	"tared/session/signer"
	"tared/session/text"
)

// Config is what a Bench is made of.
type Config struct {
	Recorder  Recorder
	Past      Past             // what the journal holds already, from Open
	Scales    []sheet.Scale    // in the user's order
	Now       func() time.Time // nil: time.Now
	Log       zerolog.Logger
	Checks    map[string]CheckRule // of each scale, by name
	Simulated bool                 // the scales are simulated; views and records say so

	Materials *material.Table // nil: the embedded one
	// Confirm is what a second person confirms, see CheckConfirm.
	Confirm string
	// Accept is by what a weight is accepted, see sheet.ReadRule.
	Accept string
	// Water is the studio's habit for the first water, as in plan.Request.Water, for
	// a recipe that says nothing of it.
	Water string

	// Photos is the data directory that keeps photographs; empty: none are kept.
	Photos string

	// Broken says why nothing can be recorded from the start, such as a journal
	// that is damaged; the bench then shows so. Empty: it can.
	Broken string

	// Reopen opens the journal again after it failed; nil: only a restart does. It is
	// called by the bench's goroutine.
	Reopen func() (Recorder, Past, error)

	// Order passes on what a person tells a scale to do; nil: nothing can be told.
	// It may wait, and is not called by the bench's goroutine.
	Order func(scale string, what scale.Order) error

	// OnFacts is told of lines that are on disk, OnView of every view, one at a time. They
	// must not wait. Nil: nobody.
	OnFacts func(lines [][]byte)
	OnView  func(View)
}

// Bench is the one goroutine that owns the weighing, and the doors to it. A line of a
// scale that changes only what is shown does not wake it: whoever brings the line takes
// its place for as long, see Feed.
//
// What is promised: inputs are taken in the order in which they arrive; a fact
// is on disk before the state that rests on it is shown; a watcher sees the
// newest view, and may miss those between.
type Bench struct {
	cfg     Config
	updates chan scale.Update
	calls   chan func()
	stopped chan struct{}
	entries sync.Mutex // one amendment of a closed batch at a time

	mine sync.Mutex // who has it owns what follows

	runs     bool
	tick     *time.Timer
	looked   time.Time      // when the clock was looked at last, but for a pour in a hurry
	waiting  []scale.Update // came while the disk was waited for
	s        State
	room     []pan.Pan // of the state before it
	workshop Workshop  // what the facts say beside the batches
	broken   string
	begins   *fact.Began // the first thing to record; nil: nothing
	key      *signer.Key // nil: nothing is signed
	closed   []byte      // line that is to be signed; nil: none
	seq      uint64      // of the last view
	epoch    uint64      // view that first showed the last facts
	shown    *View       // the last view that was news
	readings readings
	checker  checker

	dueNow []DueView
	dueAt  time.Time // when dueNow was made; zero: make it anew

	clockAt time.Time // at the last tick

	door    door
	tallied tallied
	views   Views
	wants   atomic.Pointer[map[string]bool] // by scale; see Wants
}

// ErrStopped says that the bench no longer runs.
var ErrStopped = errors.New("the bench has stopped")

// New makes a bench that stands where the past facts left it. It starts
// nothing; call Run.
func New(cfg Config) *Bench {
	if cfg.Now == nil {
		cfg.Now = time.Now
	}
	b := &Bench{cfg: cfg, updates: make(chan scale.Update, 64), calls: make(chan func()), stopped: make(chan struct{}), broken: cfg.Broken}
	b.stand(cfg.Past)
	b.checker = checker{scales: cfg.Scales, rules: cfg.Checks, simulated: cfg.Simulated, gauges: &b.workshop.scales}
	b.cfg.Past = Past{} // it lives on in the state
	b.shown = b.view()
	b.views.Show(b.shown)
	return b
}

// stand puts the bench where the facts left it.
func (b *Bench) stand(past Past) {
	s := NewState(b.cfg.Scales)
	for _, f := range past.Facts {
		s = s.Apply(f)
	}
	s.Seq, s.Table, s.Now, s.blind = past.Seq, b.cfg.Materials, b.cfg.Now(), blindOf(b.broken)
	if s.open() {
		for i := range s.Pans {
			restorePan(&s.Pans[i], s.Containers)
		}
	}
	b.s, b.workshop, b.begins, b.key, b.closed = s, past.Workshop, past.Begin, past.Key, past.Closed
}

// How often the bench looks at the clock: seldom, and often where a scale has said nothing
// of late, so that it turns to dashes in time. While a pour runs on a scale that speaks
// slowly it looks more often still, for "stop" is said between two lines then.
const (
	calmTick  = time.Second
	tickEvery = 250 * time.Millisecond
	hurryTick = 40 * time.Millisecond
)

// Run blocks until ctx ends. A journal that cannot be written does not end it:
// the bench then shows so and records nothing more.
func (b *Bench) Run(ctx context.Context) error {
	defer close(b.stopped)
	b.tick = time.NewTimer(tickEvery)
	defer b.tick.Stop()
	b.turn(func() {
		b.resume(fact.Resumed{Restart: true})
		b.runs = true
	})
	defer b.turn(func() { b.runs = false })
	for {
		select {
		case <-ctx.Done():
			return nil
		case u := <-b.updates:
			b.turn(func() { b.heard(&u) })
		case f := <-b.calls:
			b.turn(f)
		case <-b.tick.C:
			b.turn(b.look)
		}
	}
}

// turn does one thing.
func (b *Bench) turn(do func()) {
	b.mine.Lock()
	defer b.mine.Unlock()
	do()
	b.hurry()
}

// hurry has the clock looked at soon, where "stop" may have to be said between two lines.
func (b *Bench) hurry() {
	if b.s.hurry {
		b.tick.Reset(hurryTick)
	}
}

// look looks at the clock.
func (b *Bench) look() {
	if time.Since(b.looked) >= tickEvery-hurryTick {
		b.looked = time.Now()
		b.present()
		b.clock()
	}
	_ = b.input(Input{At: b.cfg.Now()}) // the view says so
	b.tick.Reset(b.s.looksAgain())
}

func (b *Bench) heard(u *scale.Update) {
	_ = b.input(Input{At: u.At, Update: u}) // the view says so
	b.gauged(u)
}

// resume takes up the batch that was left. What was to follow from its last fact may
// not be in the journal, where the power failed in mid-write: it is made up for.
func (b *Bench) resume(again fact.Resumed) {
	t := change{s: b.s, at: b.cfg.Now(), by: "tared"}
	t.s.Pans = slices.Clone(b.s.Pans)
	if t.begin(b.begins); len(t.facts) > 0 { // what follows bears its sign
		b.begins = nil
		_ = b.commit(t.s, t.facts)
		t.s, t.facts = b.s, nil
		t.s.Pans = slices.Clone(b.s.Pans)
	}
	switch {
	case b.s.Batch == nil || b.s.Batch.Paused:
	case b.s.open():
		t.Record(again)
		if again.Restart {
			t.Tell(text.New("notice.restarted", text.Name("batch", b.s.Batch.Mark)))
		}
		t.Finish()
	case b.s.Batch.BeginAgain:
		_ = t.afresh(b.workshop.Marks.next(t.at, b.workshop.epochs.sign), text.New("command.anew-restarted").String())
	case !b.s.Batch.SeriesClosed:
		t.nextCup()
	}
	_ = b.commit(t.s, t.facts) // the view says so
	b.publish(true)
}

// input takes one input through the machine, to disk, and to the watchers.
func (b *Bench) input(in Input) error {
	var was mood
	if in.Command == nil && in.Update == nil { // else it is not asked
		was = b.mood()
	}
	if in.Command != nil && b.broken != "" { // also what is only asked about at first
		return text.Refuse("bench.cannot-record", text.Name("why", b.broken))
	}
	next, facts, err := Next(b.s, in)
	if err != nil {
		return err
	}
	if err := b.commit(next, facts); err != nil {
		b.publish(true)
		return err
	}
	switch {
	case in.Command != nil || len(facts) > 0:
		b.publish(len(facts) > 0)
	case in.Update != nil && len(b.waiting) > 0: // what follows it is newer
	case in.Update != nil:
		b.refresh()
	case b.mood() != was: // else it was a tick that changed nothing
		b.publish(false)
	}
	return nil
}

// refresh publishes what came of a scale's update, unless it was nothing: a bench that
// stands still is silent.
func (b *Bench) refresh() {
	v := b.viewOfLine()
	if v.weights() != b.shown.weights() || !v.like(b.shown) {
		b.show(v, false)
		return
	}
	v.Seq = b.seq
	b.views.Keep(v)
}

// mood sums up what a tick can change.
type mood struct {
	word string
	live uint64
	due  int
	cue  guide.Cue // what is said between two lines
}

func (b *Bench) mood() (m mood) {
	m.word, m.due = b.s.word, len(b.dues())
	if b.s.hurry {
		m.cue = b.s.cue
	}
	for i := range b.s.Pans {
		if b.s.Pans[i].Live(b.s.Now) {
			m.live |= 1 << i
		}
	}
	return m
}

func (b *Bench) gauged(u *scale.Update) {
	by, body, changed := b.checker.hear(u, b.s.pan(u.Scale), b.s.uses(u.Scale))
	if body != nil {
		if _, err := b.record("", by, body); err != nil {
			b.checker.end(u.Scale, text.Of(err))
		}
	}
	if changed {
		b.publish(true)
	}
}

func (b *Bench) record(mark, by string, body fact.Body) (fact.Fact, error) {
	t := change{s: b.s, at: b.cfg.Now()}
	t.put(mark, strings.TrimSpace(by), body)
	err := b.commit(t.s, t.facts)
	b.publish(err == nil)
	if err != nil {
		return fact.Fact{}, err
	}
	return t.facts[0], nil
}

// commit writes the facts, then takes the state, and then what came meanwhile. The journal
// is not a listener: without it, the state does not change. Whoever calls shows what is.
func (b *Bench) commit(next State, facts []fact.Fact) error {
	err := b.write(next, facts)
	for len(b.waiting) > 0 {
		u := b.waiting[0]
		b.waiting = b.waiting[1:]
		b.heard(&u)
	}
	return err
}

func (b *Bench) write(next State, facts []fact.Fact) error {
	var lines [][]byte
	if len(facts) > 0 {
		if b.broken != "" {
			return text.Refuse("bench.cannot-record", text.Name("why", b.broken))
		}
		var err error
		if lines, err = b.append(facts); err != nil {
			b.stopRecording(err)
			return fmt.Errorf("write the journal: %w", err)
		}
		for _, f := range facts {
			b.workshop.Add(f)
			b.cfg.Log.Debug().Str("kind", f.Body.Kind()).Uint64("seq", f.Seq).Msg("recorded")
			b.dueAt = time.Time{}
		}
		if b.cfg.OnFacts != nil {
			b.cfg.OnFacts(lines)
		}
	}
	b.s = next
	b.sign(facts, lines)
	return nil
}

// append writes the facts. A disk may take its time while the hand goes on: until they are
// there the page shows what the scale says, but nothing that rests on a fact.
func (b *Bench) append(facts []fact.Fact) (lines [][]byte, err error) {
	done, began := make(chan struct{}), time.Now()
	go func() {
		defer close(done)
		lines, err = b.cfg.Recorder.Append(facts)
	}()
	was := b.s
	defer func() { b.s = was }()
	for shows := true; ; {
		select {
		case <-done:
			if err == nil {
				b.tallied.synced(time.Since(began), facts)
			}
			return lines, err
		case u := <-b.updates:
			b.waiting = append(b.waiting, u)
			next, more, err := Next(b.s, Input{At: u.At, Update: &u})
			if shows = shows && err == nil && len(more) == 0; shows {
				b.s = next
				b.refresh()
			}
		}
	}
}

// present asks the journal whether it is still there, so that nobody weighs for a file
// that was deleted.
func (b *Bench) present() {
	j, ok := b.cfg.Recorder.(interface{ Check(at time.Time) error })
	if !ok || b.broken != "" {
		return
	}
	if err := j.Check(b.cfg.Now()); err != nil {
		b.stopRecording(err)
	}
}

// stopRecording shows on all pages that nothing is recorded any more. Nobody sees from here
// on what hands do: none is guided, and the pans are asked about afterwards.
func (b *Bench) stopRecording(err error) {
	b.broken = err.Error()
	b.s.blind = notRecording
	b.s.Pans = slices.Clone(b.s.Pans)
	for i, now := 0, b.cfg.Now(); i < len(b.s.Pans); i++ {
		b.s.Pans[i].Gap(now)
		b.s.Pans[i].Found(now)
	}
	b.cfg.Log.Error().Err(err).Msg("the journal cannot be written; recording has stopped")
	b.publish(true)
}

// recordAgain opens the journal anew and stands where it ends. What is known of the pans
// is kept, unless the journal knows more: lines of which nobody heard whether they
// reached the disk.
func (b *Bench) recordAgain() error {
	switch {
	case b.broken == "":
		return text.Refuse("bench.still-recording")
	case b.cfg.Reopen == nil:
		return text.Refuse("bench.cannot-reopen")
	}
	rec, past, err := b.cfg.Reopen()
	if err != nil {
		b.broken = err.Error()
		b.publish(true)
		return text.Refuse("bench.cannot-record", text.Name("why", b.broken))
	}
	b.broken, b.cfg.Recorder = "", rec
	was := b.s
	b.stand(past)
	if was.Seq == b.s.Seq {
		b.s.Pans = was.Pans
	}
	b.s.Learnt, b.s.said = was.Learnt, was.said
	b.cfg.Log.Info().Msg("the journal was opened again; recording goes on")
	b.resume(fact.Resumed{Blind: true})
	return nil
}

func (b *Bench) publish(facts bool) { b.show(b.view(), facts) }

// view makes a view, all but its number.
func (b *Bench) view() *View {
	b.checker.shownAt = time.Time{}
	return b.viewOfLine()
}

// viewOfLine makes one that differs from the last by a line of a scale.
func (b *Bench) viewOfLine() *View {
	v := b.s.View()
	v.Simulated = v.Simulated || b.cfg.Simulated
	if b.broken != "" {
		v.Recording = Recording{false, text.New("bench.not-recording", text.Said("why", text.Written(b.broken)), key("record"))}
	}
	b.eyes(v)
	b.checker.show(v, b.s.uses, b.known)
	v.Due = b.dues()
	v.look()
	return v
}

// show numbers a view and shows it to all who watch.
func (b *Bench) show(v *View, facts bool) {
	b.shown = v
	b.want()
	b.seq++
	if facts {
		b.epoch = b.seq
	}
	v.Seq = b.seq
	if b.cfg.OnView != nil {
		b.cfg.OnView(*v)
	}
	b.views.Show(v)
}

// eyes adds the scales that people read.
func (b *Bench) eyes(v *View) {
	for _, s := range b.cfg.Scales {
		if s.Eye {
			v.Scales = append(v.Scales, ScaleView{Name: s.Name, Port: "eye", Link: "up", Eye: true, Step: s.Step.Grams(0), Max: s.Max.Grams(0),
				On: "unknown", Pan: text.New("scale.pan-by-eye")})
		}
	}
}

// call runs f in the bench's goroutine and waits for it.
func (b *Bench) call(ctx context.Context, f func()) error {
	done := make(chan struct{})
	g := func() { defer close(done); f() }
	select {
	case b.calls <- g:
		<-done
		return nil
	case <-b.stopped:
		return ErrStopped
	case <-ctx.Done():
		return ctx.Err()
	}
}

func (b *Bench) do(ctx context.Context, f func() error) error {
	_, err := ask(ctx, b, func() (struct{}, error) { return struct{}{}, f() })
	return err
}

// ask runs f in the goroutine of a bench and gives what it gives.
func ask[T any](ctx context.Context, b *Bench, f func() (T, error)) (got T, err error) {
	if e := b.call(ctx, func() { got, err = f() }); e != nil {
		return got, e
	}
	return got, err
}

// Do carries out a command and returns when its record is on disk. One that does not fit
// gives ErrRefused.
func (b *Bench) Do(ctx context.Context, c Command) error {
	if err := written(c); err != nil {
		return err
	}
	return b.do(ctx, func() error {
		c.At = b.cfg.Now()
		if c.Seen != 0 && c.Seen < b.epoch && c.Word != "note" && c.Word != "pause" {
			return text.Refuse("bench.moved-on")
		}
		if c.Word == Record {
			return b.recordAgain()
		}
		if c.Word == "anew" {
			c.mark = b.workshop.Marks.next(c.At, b.workshop.epochs.sign)
		}
		return b.input(Input{At: c.At, Command: &c})
	})
}

// Watch gives a new watcher, see Views.Watch.
func (b *Bench) Watch(news func()) *Watcher { return b.views.Watch(news) }

// Alive returns nil when the bench answers before ctx ends.
func (b *Bench) Alive(ctx context.Context) error { return b.call(ctx, func() {}) }

// known gives the scales as the bench knows them by now: steps read off their
// digits, identities heard.
func (b *Bench) known() []sheet.Scale {
	out := make([]sheet.Scale, len(b.cfg.Scales))
	for i, s := range b.cfg.Scales {
		if p := b.s.pan(s.Name); p != nil {
			if p.Step() > 0 {
				s.Step, s.Unit = p.Step(), p.Line().Unit
			}
			if p.Instrument().ID.Format != "" {
				s.Format = p.Instrument().ID.Format
			}
			if p.Instrument().ID.Port != "" {
				s.Port = p.Instrument().ID.Port
			}
			s.Identity = p.Instrument().ID.USB
		}
		out[i] = b.workshop.Measured(s)
	}
	return out
}

// dues are the batches that wait to be measured; it looks anew when a fact came, and
// every minute.
func (b *Bench) dues() []DueView {
	if now := b.s.Now; b.dueAt.IsZero() || now.Sub(b.dueAt).Abs() >= time.Minute {
		b.dueNow, b.dueAt = b.workshop.standing.due(now), now
	}
	return b.dueNow
}

// Wants reports whether somebody needs the weight of a scale now: a batch in work
// that is not paused, or a check. A scale that must be asked is asked only then.
// Any goroutine may call it.
func (b *Bench) Wants(name string) bool {
	wants := b.wants.Load()
	return wants != nil && (*wants)[name]
}

// want notes what Wants tells.
func (b *Bench) want() {
	wants := func(name string) bool {
		return b.s.uses(name) && !b.s.Batch.Paused || b.checker.runs[name] != nil || b.s.Now.Before(b.readings.until[name])
	}
	if was := b.wants.Load(); was != nil && !slices.ContainsFunc(b.cfg.Scales, func(s sheet.Scale) bool { return wants(s.Name) != (*was)[s.Name] }) {
		return
	}
	all := make(map[string]bool, len(b.cfg.Scales))
	for _, s := range b.cfg.Scales {
		all[s.Name] = wants(s.Name)
	}
	b.wants.Store(&all)
}

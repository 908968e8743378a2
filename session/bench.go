package session

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"reflect"
	"runtime"
	"slices"
	"sync"
	"sync/atomic"
	"time"

	"github.com/rs/zerolog"

	"tared/scale"
	"tared/session/fact"
	"tared/session/guide"
	"tared/session/material"
	"tared/session/plan"
	"tared/session/sheet"
	"tared/session/text"
)

// Recorder puts facts on disk. When Append returns without an error they are
// there, all of them, in order; it returns the lines as written.
type Recorder interface {
	Append(facts []fact.Fact) ([][]byte, error)
}

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
	// Water is the studio's habit for the first water, as in plan.Request.Water, for
	// a recipe that says nothing of it.
	Water string

	// Photos is the data directory that keeps photographs; empty: none are kept.
	Photos string

	// Broken says why nothing can be recorded from the start, such as a journal
	// that does not hold; the bench then shows so. Empty: it can.
	Broken string

	// Order passes on what a person tells a scale to do; nil: nothing can be told.
	// It may wait, and is not called by the bench's goroutine.
	Order func(scale string, what scale.Order) error

	// OnFacts is told of lines that are on disk, OnView of every view; both are
	// called by the bench's own goroutine and must not wait. Nil: nobody.
	OnFacts func(lines [][]byte)
	OnView  func(View)
}

// Bench is the one goroutine that owns the weighing, and the doors to it.
//
// What is promised: inputs are taken in the order in which they arrive; a fact
// is on disk before the state that rests on it is shown; a watcher sees the
// newest view, and may miss those between.
type Bench struct {
	cfg     Config
	updates chan scale.Update
	calls   chan func()
	stopped chan struct{}
	afters  sync.Mutex // one amendment of a closed batch at a time

	// owned by Run
	s        State
	workshop Workshop // what the facts say beside the batches
	broken   string
	seq      uint64 // of the last view
	epoch    uint64 // view that first showed the last facts
	shown    View   // the last view, without what a line that repeats itself changes
	told     time.Time
	slow     seldom // of the last view
	slowJSON []byte

	readings  []Reading // the last few that a person asked for
	lastRead  uint64
	readUntil map[string]time.Time // by scale: so long it is asked for them

	dueNow []DueView
	dueAt  time.Time // when dueNow was made; zero: make it anew

	door  door
	views Views
	wants atomic.Pointer[map[string]bool] // by scale; see Wants
}

// ErrStopped says that the bench no longer runs.
var ErrStopped = errors.New("the bench has stopped")

// New makes a bench that stands where the past facts left it. It starts
// nothing; call Run.
func New(cfg Config) *Bench {
	if cfg.Now == nil {
		cfg.Now = time.Now
	}
	b := &Bench{cfg: cfg, updates: make(chan scale.Update, 64), calls: make(chan func()), stopped: make(chan struct{}),
		s: NewState(cfg.Scales), broken: cfg.Broken}
	for _, f := range cfg.Past.Facts {
		b.s = b.s.Apply(f)
	}
	b.s.Seq = cfg.Past.Seq
	b.s.Table = cfg.Materials
	b.workshop = cfg.Past.Workshop
	b.cfg.Past = Past{} // it lives on in the state
	b.s.Now = cfg.Now()
	if b.s.open() {
		for i := range b.s.Pans {
			restorePan(&b.s.Pans[i], b.s.Batch)
		}
	}
	v := b.view()
	b.views.Show(b.encode(&v))
	return b
}

// tickEvery is how often the bench looks at the clock: often enough that a
// silent scale turns to dashes in time. A tick may come so much early as to
// fall together with a line of the scale. While a pour runs on a scale that speaks
// slowly it looks more often, for "stop" is said between two lines then.
const (
	tickEvery = 250 * time.Millisecond
	tickSlack = 100 * time.Millisecond
	hurryTick = 40 * time.Millisecond
)

// Run blocks until ctx ends. A journal that cannot be written does not end it:
// the bench then shows so and records nothing more.
func (b *Bench) Run(ctx context.Context) error {
	defer close(b.stopped)
	b.resume()
	tick := time.NewTimer(tickEvery)
	defer tick.Stop()
	ticked := time.Now()
	for {
		due := false
		select {
		case <-ctx.Done():
			return nil
		case u := <-b.updates:
			b.input(Input{At: u.At, Update: &u})
			if b.gauged(&u) {
				b.publish(true)
			}
			// A machine that is awake need not be woken for the tick.
			due = time.Since(ticked) >= tickEvery-tickSlack
		case f := <-b.calls:
			f()
		case <-tick.C:
			due = true
		}
		if due {
			b.input(Input{At: b.cfg.Now()})
			ticked = time.Now()
			tick.Reset(tickEvery)
		}
		if b.s.hurry {
			tick.Reset(hurryTick)
		}
	}
}

// resume takes up the batch that was left. What was to follow from its last fact may
// not be in the journal, where the power failed in mid-write: it is made up for.
func (b *Bench) resume() {
	t := change{s: b.s, at: b.cfg.Now(), by: "tared"}
	t.s.Pans = slices.Clone(b.s.Pans)
	switch {
	case b.s.Batch == nil || b.s.Batch.Paused:
	case b.s.open():
		t.emit(fact.Resumed{Restart: true})
		t.say(text.New("notice.restarted", text.Name("batch", b.s.Batch.Mark)))
		t.finish()
	case b.s.Batch.BeginAgain:
		_ = t.afresh(b.newMark(t.at), "so it was decided before tared was started again")
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
	case in.Update != nil:
		b.refresh()
	case b.mood() != was: // else it was a tick that changed nothing
		b.publish(false)
	}
	return nil
}

// repeatEvery is how often a scale that says the same again and again is worth
// a view. A scale that falls silent shows in any case; so this decides only how
// old the time of the last line may look. It is a little less than a page waits
// for a view before it wants another sign of life.
const repeatEvery = 800 * time.Millisecond

// refresh publishes what came of a scale's update, unless it was nothing.
func (b *Bench) refresh() {
	v := b.view()
	if age := v.At.Sub(b.told); age >= 0 && age < repeatEvery && reflect.DeepEqual(v.still(), b.shown) {
		return
	}
	b.show(v, false)
}

// still is the view without what changes with every line of a scale at rest.
func (v View) still() View {
	v.At, v.Seq, v.Scales = time.Time{}, 0, slices.Clone(v.Scales)
	for i := range v.Scales {
		v.Scales[i].At, v.Scales[i].Frames = time.Time{}, 0
	}
	return v
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

// commit writes the facts, then takes the state. The journal is not a
// listener: without it, the state does not change.
func (b *Bench) commit(next State, facts []fact.Fact) error {
	if len(facts) > 0 {
		if b.broken != "" {
			return text.Refuse("bench.cannot-record", text.Name("why", b.broken))
		}
		lines, err := b.cfg.Recorder.Append(facts)
		if err != nil {
			b.broken = err.Error()
			b.cfg.Log.Error().Err(err).Msg("the journal cannot be written; recording has stopped")
			b.publish(true) // whoever asked for it, all pages must know
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
	return nil
}

// publish shows how things stand.
func (b *Bench) publish(facts bool) { b.show(b.view(), facts) }

// view makes a view, all but its number.
func (b *Bench) view() View {
	v := b.s.View()
	v.Simulated = v.Simulated || b.cfg.Simulated
	if b.broken != "" {
		v.Recording = Recording{false, text.New("bench.not-recording", text.Said("why", text.Written(b.broken)))}
	}
	b.eyes(&v)
	b.checks(&v)
	v.Due = b.dues()
	return v.Shown()
}

// show numbers a view, encodes it, and shows it to all who watch.
func (b *Bench) show(v View, facts bool) {
	b.shown, b.told = v.still(), v.At
	b.want()
	b.seq++
	if facts {
		b.epoch = b.seq
	}
	v.Seq = b.seq
	if b.cfg.OnView != nil {
		b.cfg.OnView(v)
	}
	b.views.Show(b.encode(&v))
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

// seldom is the part of a view that seldom changes, and its encoding. Most views
// come of a line of a scale, on whose way every encoding counts.
type seldom struct {
	Recording Recording  `json:"recording"`
	Batch     *BatchView `json:"batch"`
	Asked     *AskedView `json:"asked"`
	Keys      []KeyView  `json:"keys"`
	Said      []Notice   `json:"said"`
	Simulated bool       `json:"simulated"`
	Due       []DueView  `json:"due"`

	Learnt []LearntView `json:"learnt"`
}

// quick is the part of a view that changes with every line.
type quick struct {
	Seq    uint64      `json:"seq"`
	At     time.Time   `json:"at"`
	Now    NowView     `json:"now"`
	Scales []ScaleView `json:"scales"`
}

func (s seldom) in(l *text.Language) seldom {
	v := View{Recording: s.Recording, Batch: s.Batch, Asked: s.Asked, Keys: s.Keys, Said: s.Said, Due: s.Due}.In(l)
	s.Recording, s.Batch, s.Asked, s.Keys, s.Said, s.Due = v.Recording, v.Batch, v.Asked, v.Keys, v.Said, v.Due
	return s
}

func (q quick) in(l *text.Language) quick {
	v := View{Now: q.Now, Scales: q.Scales}.In(l)
	q.Now, q.Scales = v.Now, v.Scales
	return q
}

func (b *Bench) encode(v *View) []byte {
	// Batch and Asked are the same pointers as long as they are the same.
	if s := (seldom{v.Recording, v.Batch, v.Asked, v.Keys, v.Said, v.Simulated, v.Due, v.Learnt}); b.slowJSON == nil || !reflect.DeepEqual(s, b.slow) {
		b.slow, b.slowJSON = s, encoded(s.in(text.English))
	}
	j := encoded(quick{v.Seq, v.At, v.Now, v.Scales}.in(text.English))
	return append(append(j[:len(j)-1], ','), b.slowJSON[1:]...)
}

// encoded gives the JSON of a part of a view, which holds nothing that cannot be
// encoded.
func encoded(part any) []byte {
	j, err := json.Marshal(part)
	if err != nil {
		panic(err)
	}
	return j
}

// Feed gives the bench what an instrument did. Any goroutine may call it. Of a
// scale that says the same for long the bench is told about once a second, so that
// an idle machine may sleep.
func (b *Bench) Feed(u scale.Update) {
	if b.door.idle(u) {
		return
	}
	select {
	case b.updates <- u:
		// The caller goes on to wait for the port, and would keep its processor until
		// the runtime takes it away: the bench had to be woken on another one.
		runtime.Gosched()
	case <-b.stopped:
	}
}

// longSame is how long a scale must have said the same until nothing follows any
// more from its saying it again: the longest window of a flow is a second.
const longSame = 2 * time.Second

// door knows what came through it last, scale by scale.
type door struct {
	mu   sync.Mutex
	came map[string]*came
}

type came struct {
	what   scale.Update // without its time and its number
	since  time.Time    // when it was said first
	passed time.Time    // when it came through last
}

// idle tells whether an update is one that the bench need not be woken for.
func (d *door) idle(u scale.Update) bool {
	d.mu.Lock()
	defer d.mu.Unlock()
	what := u
	what.At, what.Counts.Frames = time.Time{}, 0
	c := d.came[u.Scale]
	if c == nil {
		c = &came{}
		if d.came == nil {
			d.came = map[string]*came{}
		}
		d.came[u.Scale] = c
	}
	age := u.At.Sub(c.passed)
	switch {
	case !reflect.DeepEqual(what, c.what):
		c.what, c.since = what, u.At
	case age >= 0 && age < repeatEvery && u.At.Sub(c.since) >= longSame:
		return true
	}
	c.passed = u.At
	return false
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

// Do carries out a command and returns when its record is on disk. A command
// that does not fit gives an error with ErrRefused in its chain.
func (b *Bench) Do(ctx context.Context, c Command) error {
	var err error
	if e := b.call(ctx, func() {
		c.At = b.cfg.Now()
		if c.Seen != 0 && c.Seen < b.epoch && c.Word != "note" && c.Word != "pause" {
			err = text.Refuse("bench.moved-on")
			return
		}
		if c.Word == "anew" {
			c.mark = b.newMark(c.At)
		}
		err = b.input(Input{At: c.At, Command: &c})
	}); e != nil {
		return e
	}
	return err
}

// Watch gives a new watcher; Close it.
func (b *Bench) Watch() *Watcher { return b.views.Watch() }

// Alive returns nil when the bench answers before ctx ends: a connection that is
// alive says nothing of the bench behind it.
func (b *Bench) Alive(ctx context.Context) error { return b.call(ctx, func() {}) }

// Open gives the mark and the plan of the batch in work, with a cup of a series
// the plan of its tub; ok is false when there is none. The error says that nobody
// could tell: ErrStopped, or that of ctx.
func (b *Bench) Open(ctx context.Context) (mark string, plan fact.Planned, ok bool, err error) {
	err = b.call(ctx, func() {
		if b.s.open() {
			mark, plan, ok = b.s.Batch.Mark, b.s.Batch.Plan, true
			if b.s.Series != nil {
				plan = b.s.Series.Tub.Plan
			}
		}
	})
	return mark, plan, ok, err
}

// known gives the scales as the bench knows them by now: steps read off their
// digits, identities heard.
func (b *Bench) known() []sheet.Scale {
	out := make([]sheet.Scale, len(b.cfg.Scales))
	for i, s := range b.cfg.Scales {
		if p := b.s.pan(s.Name); p != nil {
			if p.Step() > 0 {
				s.Step = p.Step()
			}
			if p.Identity().Format != "" {
				s.Format = p.Identity().Format
			}
			if p.Identity().Port != "" {
				s.Port = p.Identity().Port
			}
			s.Identity = p.Identity().USB
		}
		if s.Spread == 0 {
			s.Spread = b.spread(s)
		}
		out[i] = s
	}
	return out
}

func (b *Bench) newMark(at time.Time) string {
	day := at.Format("060102")
	for n := 0; ; n++ {
		m := day
		for k := n; ; k = k/len(markLetters) - 1 {
			m = day + string(markLetters[k%len(markLetters)]) + m[len(day):]
			if k < len(markLetters) {
				break
			}
		}
		if !b.workshop.Marks[m] {
			return m
		}
	}
}

// Start plans and opens a batch, and returns its mark.
func (b *Bench) Start(ctx context.Context, r plan.Request) (string, error) {
	var mark string
	var err error
	if e := b.call(ctx, func() { mark, err = b.start(r) }); e != nil {
		return "", e
	}
	return mark, err
}

// Plan makes a sheet and changes nothing.
func (b *Bench) Plan(ctx context.Context, r plan.Request) (sheet.Sheet, error) {
	var scales []sheet.Scale
	if e := b.call(ctx, func() { scales = b.known(); b.taught(&r) }); e != nil {
		return sheet.Sheet{}, e
	}
	return r.Sheet(scales)
}

package main

import (
	"context"
	"errors"
	"net"
	"slices"
	"sync"
	"time"

	"github.com/rs/zerolog"

	"tared/scale"
	"tared/session"
	"tared/session/fact"
	"tared/session/glaze"
	"tared/session/journal"
	"tared/session/sentence"
	"tared/web"
)

// liveBench is a running bench: a journal, the session that writes it, and the
// scales that feed the session. It is what weigh, serve and demo have in common.
type liveBench struct {
	bench   *session.Bench
	journal *journal.Journal // nil where the journal is damaged
	record  bookReader
	scales  []scale.Config
	remotes map[string]*scale.Remote
	listen  func(ctx context.Context, c scale.Config, emit func(scale.Update)) error
	log     zerolog.Logger
	site    *web.Server // by which commands come; nil: one of its own
}

// liveBenchConfig is what a liveBench is made of.
type liveBenchConfig struct {
	dir       string
	witness   string // where the head of the journal is noted; empty: nowhere
	scales    []scale.Config
	shelf     glaze.Shelf // what is known of materials
	water     string      // the studio's habit for the first water
	confirm   string      // what a second person confirms
	accept    string      // by what a weight is accepted
	sign      string      // of the bench, as a person chose it; empty: it stays, or is ours
	simulated bool
	now       func() time.Time
	stamp     func(time.Time) time.Time // what the record gives for a time of now; nil: the same
	log       zerolog.Logger
	onFacts   func(lines [][]byte)
	onView    func(session.View)
	// listen hears one scale until ctx ends.
	listen func(ctx context.Context, c scale.Config, emit func(scale.Update)) error
	// damaged lets the bench come up beside a journal that cannot be used, with
	// recording stopped, so that the page can say so.
	damaged bool
}

// into records in a journal.
func (cfg *liveBenchConfig) into(j *journal.Journal) session.Recorder {
	if cfg.stamp == nil {
		return session.Into(j)
	}
	return stamped{session.Into(j), cfg.stamp}
}

// stamped records facts of a bench whose time runs faster than that of the record.
type stamped struct {
	session.Recorder
	stamp func(time.Time) time.Time
}

func (s stamped) Append(facts []fact.Fact) ([][]byte, error) {
	facts = slices.Clone(facts)
	for i := range facts {
		facts[i].At = s.stamp(facts[i].At)
	}
	return s.Recorder.Append(facts)
}

// newLiveBench opens the journal and puts a bench where it left off. Close it.
func newLiveBench(cfg liveBenchConfig) (*liveBench, error) {
	w := &liveBench{scales: cfg.scales, listen: cfg.listen, log: cfg.log, record: bookReader{dir: cfg.dir, shelf: cfg.shelf, todo: make(chan struct{}, 1)}}
	open := func() (*journal.Journal, session.Past, journal.Report, error) {
		j, past, rep, err := session.Open(cfg.dir, cfg.witness, time.Now())
		if err == nil {
			past.Own(session.Owner{Dir: cfg.dir, Sign: cfg.sign, Version: thisEdition().Version, Warn: func(err error) {
				cfg.log.Warn().Err(err).Str("data", cfg.dir).Msg("the key or the sign of the bench")
			}})
		}
		return j, past, rep, err
	}
	j, past, report, err := open()
	var rec session.Recorder
	var broken string
	switch {
	case err == nil:
		w.journal, rec = j, cfg.into(j)
	case errors.Is(err, journal.ErrLocked):
		return nil, failf("cli.another-tared-is-running-on", err, cfg.dir)
	case cfg.damaged:
		cfg.log.Error().Err(err).Str("data", cfg.dir).Msg("the journal cannot be used; nothing is recorded")
		broken = err.Error()
	default:
		return nil, failf("cli.open-the-journal-in", cfg.dir, err)
	}
	if past.Begin != nil && past.Begin.Why != "" {
		cfg.log.Warn().Uint64("lines", past.Begin.Lines).Str("head", past.Begin.Head).Msg(sentence.Of(fact.Fact{Body: *past.Begin}))
	}
	if t := report.Torn; t != nil {
		cfg.log.Warn().Uint64("line", t.Line).Int64("bytes", t.Bytes).Str("saved", t.Saved).
			Msg("the last line of the journal was cut off while it was written; it was never acknowledged and has been set aside")
	}
	w.remotes = map[string]*scale.Remote{}
	for _, c := range cfg.scales {
		if !c.ByEye() {
			w.remotes[c.Name] = scale.NewRemote(func() bool { return w.bench.Wants(c.Name) })
		}
	}
	reopen := func() (session.Recorder, session.Past, error) {
		if w.journal != nil {
			if journalIn(cfg.dir) != nil { // a new one in its place would leave the batch in work behind
				return nil, session.Past{}, w.journal.Broken()
			}
			_ = w.journal.Close()
			w.journal = nil
		}
		j, past, _, err := open()
		w.record.begin(j, &past, err)
		if err != nil {
			return nil, past, err
		}
		w.journal = j
		return cfg.into(j), past, nil
	}
	w.record.begin(j, &past, err)
	told := func(lines [][]byte) {
		w.record.feed(lines)
		if cfg.onFacts != nil {
			cfg.onFacts(lines)
		}
	}
	w.bench = session.New(session.Config{Recorder: rec, Past: past, Reopen: reopen, Scales: onSheet(cfg.scales), Materials: cfg.shelf.Table, Water: cfg.water, Confirm: cfg.confirm, Accept: cfg.accept, Photos: cfg.dir, Checks: checkRules(cfg.scales), Order: w.order, Now: cfg.now, Log: cfg.log,
		Simulated: cfg.simulated, Broken: broken, OnFacts: told, OnView: cfg.onView})
	return w, nil
}

// Run blocks until ctx ends or the bench does, then waits for all that it
// started. A scale that cannot be heard never ends it.
func (w *liveBench) Run(ctx context.Context) error {
	ctx, cancel := context.WithCancel(ctx)
	var group sync.WaitGroup
	w.letCommandsIn(ctx, &group)
	for _, c := range w.scales {
		if c.ByEye() {
			continue
		}
		c.Remote = w.remotes[c.Name]
		group.Go(func() {
			if err := w.listen(ctx, c, w.bench.Feed); err != nil && ctx.Err() == nil {
				w.log.Error().Err(err).Str("scale", c.Name).Msg("this scale is no longer listened to")
				w.bench.Feed(scale.Update{Scale: c.Name, At: time.Now(), Link: scale.Lost, Why: err.Error()})
			}
		})
	}
	group.Go(func() { w.record.keep(ctx) })
	err := w.bench.Run(ctx)
	cancel()
	group.Wait()
	w.record.save(1)
	return err
}

// letCommandsIn lets the commands of the terminal through to this bench, from now on until
// ctx ends. Without them it weighs all the same.
func (w *liveBench) letCommandsIn(ctx context.Context, group *sync.WaitGroup) {
	var err error
	if w.site == nil {
		w.site, err = web.New(web.Config{Bench: w.bench, Book: pageBook{&w.record}, Photos: w.record.dir, Materials: w.record.shelf.Table, Log: w.log})
	}
	var ln net.Listener
	if err == nil {
		ln, err = listenControl(w.record.dir)
	}
	if err != nil {
		w.log.Warn().Err(err).Msg("commands cannot go through this bench")
		return
	}
	group.Go(func() {
		if err := w.site.Control(ctx, ln); err != nil {
			w.log.Warn().Err(err).Msg("commands no longer go through this bench")
		}
	})
}

// order passes on what a person tells a scale to do.
func (w *liveBench) order(name string, what scale.Order) error { return w.remotes[name].Order(what) }

// Close gives the journal back.
func (w *liveBench) Close() error {
	if w.journal == nil {
		return nil
	}
	return w.journal.Close()
}

// checkRules gives what the user says of the check of each scale.
func checkRules(scales []scale.Config) map[string]session.CheckRule {
	rules := map[string]session.CheckRule{}
	for _, c := range scales {
		rules[c.Name] = session.CheckRule{Class: c.Class, Interval: c.Interval, Weight: c.Weight, Every: c.Every}
	}
	return rules
}

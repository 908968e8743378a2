package main

import (
	"context"
	_ "embed"
	"errors"
	"fmt"
	"io"
	"net"
	"os"
	"path/filepath"
	"runtime"
	"sync"
	"sync/atomic"
	"syscall"
	"time"

	"github.com/rs/zerolog"
	"github.com/spf13/cobra"

	"tared/protocol"
	"tared/scale"
	"tared/scale/serialport"
	"tared/scale/sim"
	"tared/session"
	"tared/session/book"
	"tared/session/glaze"
	"tared/session/plan"
	"tared/session/question"
	"tared/web"
	"tared/web/help"
)

// sampleRecipe is invented, and says so.
//
//go:embed tidewrack.txt
var sampleRecipe string

const (
	// sampleBase is a size at which the bench scale is good for all but the strong
	// colourant, so that the fine one has its turn.
	sampleBase = "400g"
	// sampleBy is one of the two people of an invented workshop.
	sampleBy = "Mara"
)

// demoOptions is what the demo is asked for.
type demoOptions struct {
	auto   bool
	speed  float64
	data   string
	listen string
	seed   uint64
	json   bool
	help   help.Book
}

func demoCommand() *cobra.Command {
	var o demoOptions
	var level string
	cmd := &cobra.Command{
		Use:  "demo",
		Args: noArgs,
		RunE: func(cmd *cobra.Command, _ []string) error {
			lvl, err := parseLevel(level)
			if err != nil {
				return err
			}
			if !(o.speed >= 0.1 && o.speed <= maxSpeed) {
				return usagef("cli.speed-give-a-number-from", o.speed, maxSpeed)
			}
			if o.listen != "" {
				if err := checkAddr(o.listen); err != nil {
					return usagef("cli.listen", err)
				}
			}
			o.help = helpBook(cmd.Root())
			return o.run(cmd.Context(), cmd.OutOrStdout(), newLog(cmd.ErrOrStderr(), lvl))
		},
	}
	f := cmd.Flags()
	f.BoolVar(&o.auto, "auto", false, "")
	f.Float64Var(&o.speed, "speed", 1, "")
	f.StringVar(&o.data, "data", "", "")
	f.StringVar(&o.listen, "listen", "", "")
	f.Uint64Var(&o.seed, "seed", 1, "")
	f.BoolVar(&o.json, "json", false, "")
	addLog(cmd, &level)
	return cmd
}

// maxSpeed keeps a simulated second longer than what a process may be paused
// for; beyond it scales would seem to fall silent.
const maxSpeed = 60

func (o demoOptions) run(ctx context.Context, out io.Writer, log zerolog.Logger) error {
	dir, witness := o.data, ""
	if dir != "" {
		witness = witnessFile(dir)
	} else {
		var err error
		if dir, err = os.MkdirTemp("", "tared-demo-"); err != nil {
			return failf("cli.make-a-directory-for-the", err)
		}
	}
	ln, err := o.listener(ctx)
	if err != nil {
		return err
	}
	d, err := newDemo(o, log)
	if err != nil {
		ln.Close()
		return err
	}
	defer d.close()
	ev := newEvents()
	var latest atomic.Pointer[session.View]
	w, err := newLiveBench(liveBenchConfig{dir: dir, witness: witness, scales: d.configs, simulated: true, now: d.clock.Now, stamp: d.clock.Real, log: log, listen: d.listen,
		onFacts: ev.facts, onView: func(v session.View) { latest.Store(&v); ev.view(v) }})
	if err != nil {
		ln.Close()
		return err
	}
	say := sayer{out, o.json}
	say.say("data", "dir", dir, says("cli.records-in", dir))
	var tell teller = &wordTeller{w: out}
	if o.json {
		tell = &jsonTeller{w: out}
	}
	ctx, cancel := context.WithCancel(ctx)
	defer cancel()
	var group sync.WaitGroup
	failed := make(chan error, len(d.lines)+2)
	for _, l := range d.lines {
		group.Go(func() {
			if err := l.Run(ctx); err != nil && ctx.Err() == nil {
				failed <- failf("cli.simulated-scale", err)
			}
		})
	}
	page := web.Config{Listener: ln, Log: log, Now: d.clock.Now, Book: pageBook{&w.record}, Photos: dir, Archive: pageArchive{dir, nil, newNightly(dir, backupSettings{}, log)}, Hands: demoHands{d, &latest},
		Samples: []web.Sample{{Name: "Tidewrack", Text: sampleRecipe}}, Ready: say.address, Code: say.invitation, Help: o.help}
	// Commands such as water and judge go through this bench while it runs.
	forget, err := keepAddress(dir, "http://"+pageHost(ln.Addr())+"/")
	if err != nil {
		log.Warn().Err(err).Msg("commands cannot go through this bench")
	}
	defer forget()
	group.Go(func() { failed <- withPage(ctx, w, page) })
	mark, err := o.begin(ctx, w.bench)
	if err == nil && o.auto {
		group.Go(func() {
			err := d.auto(ctx, w.bench, &latest)
			if err == nil || ctx.Err() == nil {
				failed <- err
			}
		})
	}
	if ctx.Err() != nil {
		err = nil // Ctrl-C is the usual end of a demo
	}
	err = errors.Join(err, o.watch(ctx, err == nil, ev, tell, failed))
	cancel()
	group.Wait()
	if err == nil && o.auto && d.finished.Load() {
		for _, e := range ev.take() {
			err = errors.Join(err, tell.tell(e))
		}
		return errors.Join(err, w.Close(), withBatch(dir, glaze.Shelf{}, mark, func(n *book.Batch) error { return render(out, o.json, n.Made()) }))
	}
	return errors.Join(err, w.Close())
}

// watch tells what happens until the demo ends.
func (o demoOptions) watch(ctx context.Context, begun bool, ev *events, tell teller, failed <-chan error) error {
	for begun {
		select {
		case <-ctx.Done():
			return nil
		case err := <-failed:
			return err
		case <-ev.C:
			for _, e := range ev.take() {
				if !o.auto {
					continue // the page tells it
				}
				if err := tell.tell(e); err != nil {
					return err
				}
			}
		}
	}
	return nil
}

// begin opens a batch of the sample, unless one stands unfinished.
func (o demoOptions) begin(ctx context.Context, b *session.Bench) (string, error) {
	if mark, _, open, err := b.Open(ctx); open || err != nil {
		return mark, err
	}
	return b.Start(ctx, plan.Request{Recipe: sampleRecipe, Base: sampleBase, By: sampleBy, Container: "120g"})
}

// listener takes the usual port of the page, or any where that one is taken.
func (o demoOptions) listener(ctx context.Context) (net.Listener, error) {
	addr := o.listen
	if addr == "" {
		addr = web.DefaultAddr
	}
	ln, err := (&net.ListenConfig{}).Listen(ctx, "tcp", addr)
	if err != nil && o.listen == "" && errors.Is(err, syscall.EADDRINUSE) {
		ln, err = (&net.ListenConfig{}).Listen(ctx, "tcp", "127.0.0.1:0")
	}
	if err != nil {
		return nil, failf("cli.listen-on-for-the-page", addr, err)
	}
	return ln, nil
}

// demo is the simulated bench: a world, the cables of its scales, and what
// hears them.
type demo struct {
	clock    sim.Clock
	world    *sim.World
	configs  []scale.Config
	lines    []*sim.Line
	opener   scale.Opener
	quick    map[string]*quickened
	hands    *sim.Hands
	seed     uint64
	log      zerolog.Logger
	tty      string // directory of the links to the pseudo-terminals
	finished atomic.Bool
}

// newDemo builds the simulated bench and starts nothing but its clock.
func newDemo(o demoOptions, log zerolog.Logger) (*demo, error) {
	clock, err := sim.NewClock(o.speed)
	if err != nil {
		return nil, err
	}
	d := &demo{clock: clock, seed: o.seed, log: log, quick: map[string]*quickened{}, opener: serialport.Ports{}}
	places := []sim.Place{{Name: "bench", Model: sim.Bench(), Container: 118.4}, {Name: "fine", Model: sim.Fine(), Container: 21.37}}
	if d.world, err = sim.NewWorld(o.seed, clock.Now(), places...); err != nil {
		return nil, err
	}
	d.hands = sim.NewHands(d.world, sim.Steady(), sim.Free(), o.seed)
	if d.tty, err = os.MkdirTemp("", "tared-tty-"); err != nil {
		return nil, err
	}
	formats := map[string]string{"bench": "header-comma-mode", "fine": "letter-status"}
	pipes := map[string]*sim.Line{}
	for _, p := range places {
		src, err := d.world.Scale(p.Name)
		if err != nil {
			return nil, err
		}
		lo := sim.LineOptions{Format: formats[p.Name], Clock: clock, Link: filepath.Join(d.tty, p.Name)}
		if runtime.GOOS == "windows" {
			// No pseudo-terminals there: a pipe inside the program takes their place.
			lo.Link, lo.Pipe = "", true
		}
		l, err := sim.NewLine(src, lo)
		if err != nil {
			d.close()
			return nil, fmt.Errorf("simulated %s scale: %w", p.Name, err)
		}
		d.lines = append(d.lines, l)
		port := l.Path()
		if lo.Pipe {
			port = "simulated-" + p.Name
			pipes[port] = l
		}
		step, err := p.Model.Units[0].Ranges[0].Step.Mass(p.Model.Units[0].Unit)
		if err != nil {
			d.close()
			return nil, err
		}
		d.configs = append(d.configs, scale.Config{Name: p.Name, Port: port, Format: lo.Format, Baud: 9600, Step: step, Max: p.Model.Max})
		d.quick[p.Name] = &quickened{clock: clock}
	}
	if len(pipes) > 0 {
		d.opener = scale.OpenFunc(func(path string, _ protocol.Line) (scale.Port, error) {
			return pipes[path].Open()
		})
	}
	return d, nil
}

func (d *demo) close() {
	for _, l := range d.lines {
		_ = l.Close() // Run has closed it where it ran
	}
	_ = os.RemoveAll(d.tty)
}

// listen hears one simulated scale through the real port and the real parser.
func (d *demo) listen(ctx context.Context, c scale.Config, emit func(scale.Update)) error {
	q := d.quick[c.Name]
	return scale.New(c, d.opener, func(u scale.Update) { emit(q.update(u)) }, d.log).Run(ctx)
}

// quickened puts updates onto the demo's clock. An instrument judges rest by
// the wall clock; at speed 20 a second of rest lasts a twentieth of it, so the
// same judge is asked again with the demo's time.
type quickened struct {
	clock   sim.Clock
	settler scale.Settler
}

func (q *quickened) update(u scale.Update) scale.Update {
	start := q.clock.Start()
	u.At = start.Add(time.Duration(float64(u.At.Sub(start)) * q.clock.Speed()))
	if q.clock.Speed() == 1 {
		return u
	}
	if !u.HasMass {
		q.settler.Reset()
		return u
	}
	u.Settled = q.settler.Add(u.At, u.Mass, u.Step, u.Reading.Stable)
	return u
}

// auto lets simulated hands mix the batch to its end.
func (d *demo) auto(ctx context.Context, b *session.Bench, latest *atomic.Pointer[session.View]) error {
	ctx, halt := context.WithCancelCause(ctx)
	defer halt(nil)
	err := sim.Runner{
		World: d.world, Clock: d.clock,
		Auto: sim.NewAuto(sim.AutoOptions{Seed: d.seed, Potter: sim.Steady(), Material: powder, By: sampleBy, Truth: question.Truth}),
		Guide: func() (sim.Guidance, bool) {
			v := latest.Load()
			if v == nil {
				return sim.Guidance{}, false
			}
			if !v.Recording.OK {
				halt(errors.New(language.Say(v.Recording.Why))) // the hands would wait for ever
			}
			return guidance(*v), true
		},
		Say: func(ctx context.Context, word string) error {
			c := session.ParseCommand(word)
			c.By = sampleBy
			return b.Do(ctx, c)
		},
		Refused: func(word string, err error) { d.log.Debug().Str("word", word).Err(err).Msg("refused") },
	}.Run(ctx)
	if err == nil {
		d.finished.Store(true)
	} else if why := context.Cause(ctx); why != nil {
		err = why
	}
	return err
}

// guidance is what a person sees on the page, and no more.
func guidance(v session.View) sim.Guidance {
	n := v.Now
	g := sim.Guidance{State: n.State, Material: n.Material, Scale: n.Scale, Cue: n.Cue, Eye: n.Eye}
	for _, m := range []struct {
		text string
		to   *protocol.Mass
	}{{n.Target, &g.Target}, {n.Low, &g.Low}, {n.High, &g.High}, {n.Step, &g.Step}, {n.In, &g.In}} {
		if shown := massIn(m.text, "g"); shown != nil {
			*m.to = *shown
		}
	}
	g.Known = n.In != ""
	for _, s := range v.Scales {
		if s.Name == n.Scale {
			if g.Link = s.Link; v.At.Sub(s.At) > scale.StaleAfter {
				g.Link = "lost" // the page shows dashes
			}
		}
	}
	if v.Asked != nil {
		g.Asked = v.Asked.Question
		for _, a := range v.Asked.Answers {
			g.Answers = append(g.Answers, sim.Answer{Word: a.Word, Needs: a.Needs})
		}
	}
	return g
}

// powder tells how a material of the sample runs; invented, like the recipe.
func powder(name string) sim.Material {
	m := sim.Free()
	switch name {
	case "Whiting", "Tin oxide":
		m = sim.Sticky()
	case "Ball clay":
		m = sim.Lumpy()
	}
	m.Name = name
	return m
}

// demoHands are the hands on the page.
type demoHands struct {
	d      *demo
	latest *atomic.Pointer[session.View]
}

// moves are what the hands can do at a scale, in the order in which a weighing
// needs them, then what goes wrong in a workshop.
var moves = []web.HandMove{
	{Do: "put", Label: "put on"},
	{Do: "pour", Label: "pour"},
	{Do: "pinch", Label: "pinch"},
	{Do: "stop", Label: "stop"},
	{Do: "spoon-out", Label: "spoon out"},
	{Do: "tip-and-return", Label: "tip and return"},
	{Do: "lift", Label: "lift"},
	{Do: "tare-key", Label: "tare key"},
	{Do: "zero-key", Label: "zero key"},
	{Do: "unit-key", Label: "unit key"},
	{Do: "power-key", Label: "power key"},
	{Do: "unplug", Label: "unplug"},
	{Do: "replug", Label: "plug in"},
	{Do: "spoon-lay", Label: "lay a spoon"},
	{Do: "spoon-take", Label: "take it"},
	{Do: "lean", Label: "lean"},
	{Do: "knock", Label: "knock"},
	{Do: "draught", Label: "draught"},
}

func (h demoHands) Moves() []web.HandMoves {
	var all []web.HandMoves
	for _, name := range h.d.world.Names() {
		all = append(all, web.HandMoves{Scale: name, Moves: moves})
	}
	return all
}

func (h demoHands) Move(_ context.Context, name, do string) error {
	o := sim.Order{Scale: name, Word: do}
	if v := h.latest.Load(); v != nil && v.Now.Scale == name {
		o.Material = v.Now.Material
		if m := massIn(v.Now.Missing, v.Now.Unit); m != nil {
			// The world is made of floats; nothing of this gets back into a record but
			// through the digits of a display.
			o.Missing = float64(*m) / float64(protocol.Gram)
		}
	}
	return h.d.hands.Do(h.d.clock.Now(), o)
}

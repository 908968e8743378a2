package main

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"strings"

	"github.com/rs/zerolog"
	"github.com/spf13/cobra"

	"tared/scale"
	"tared/session"
	"tared/session/fact"
	"tared/session/sheet"
)

// gaugeFlags are what `scales` is told to do with one scale.
type gaugeFlags struct {
	scales                              scaleFlags
	check, repeat, edges, zero, tareKey string
	data, by                            string
}

func (g *gaugeFlags) add(cmd *cobra.Command) {
	f := cmd.Flags()
	f.StringVar(&g.check, "check", "", "")
	f.StringVar(&g.repeat, "repeat", "", "")
	f.StringVar(&g.edges, "edges", "", "")
	f.StringVar(&g.zero, "zero", "", "")
	f.StringVar(&g.tareKey, "tare", "", "")
	f.StringArrayVar(&g.scales.specs, "scale", nil, "")
	g.scales.addConfigured(cmd)
	dataFlag(cmd, &g.data) // a look at the ports needs none
	f.StringVar(&g.by, "by", "", "")
}

// beside gives what was asked for, where it goes with all else that was.
func (g *gaugeFlags) beside(ports []string, watch, save, setUp, asJSON bool) (what string, err error) {
	for _, p := range ports {
		if strings.TrimSpace(p) == "" {
			return "", usagef("cli.a-port-is-named-by")
		}
	}
	what, _, _, err = g.asked()
	switch {
	case err != nil:
		return "", err
	case what != "" && (len(ports) > 0 || watch):
		return "", usagef("cli.a-check-is-of-one")
	case setUp && (what != "" || watch || asJSON):
		return "", usagef("cli.set-up-asks")
	case save && (what != "" || watch):
		return "", usagef("cli.save-keeps-what-a-look")
	case what == "" && len(g.scales.specs) > 0:
		if _, err := g.scales.parse(false); err != nil {
			return "", err
		}
		return "", usagef("cli.scale-needs-one-of-check")
	}
	return what, nil
}

// asked gives the one thing that was asked for; what is "" when nothing was.
func (g *gaugeFlags) asked() (what, name, mass string, err error) {
	given := 0
	for _, f := range []struct{ what, flag, value string }{
		{session.CheckMass, "--check", g.check}, {session.CheckRepeat, "--repeat", g.repeat}, {session.CheckEdges, "--edges", g.edges},
		{string(scale.OrderZero), "--zero", g.zero}, {string(scale.OrderTare), "--tare", g.tareKey},
	} {
		if f.value == "" {
			continue
		}
		given++
		what = f.what
		order := what == string(scale.OrderZero) || what == string(scale.OrderTare)
		var ok bool
		if name, mass, ok = strings.Cut(f.value, "="); ok == order || name == "" || !order && mass == "" {
			if order {
				return "", "", "", usagef("cli.give-the-name-of-a", f.flag, f.value)
			}
			return "", "", "", usagef("cli.give-the-name-of-a-2", f.flag, f.value)
		}
	}
	if given > 1 {
		return "", "", "", usagef("cli.check-repeat-edges-zero-and")
	}
	return what, name, mass, nil
}

// gauging is one check at the terminal.
type gauging struct {
	out    io.Writer
	json   bool
	live   *liveBench
	events *events
	name   string
}

func (g *gaugeFlags) run(ctx context.Context, out io.Writer, files []string, log zerolog.Logger, asJSON bool) error {
	what, name, mass, err := g.asked()
	if err != nil {
		return err
	}
	g.scales.files = files
	configs, err := g.scales.parse(false)
	if err != nil {
		return err
	}
	var one []scale.Config
	for _, c := range configs {
		if c.Name == name {
			one = append(one, c)
		}
	}
	if len(one) == 0 {
		return usagef("cli.no-scale-is-called-give", strings.ReplaceAll(what, session.CheckMass, "check"), name)
	}
	if one[0].ByEye() {
		return usagef("cli.the-scale-is-read-by", name)
	}
	dir, err := dataDir(g.data)
	if err != nil {
		return err
	}
	run := &gauging{out: out, json: asJSON, events: newEvents(), name: name}
	if what == string(scale.OrderZero) || what == string(scale.OrderTare) {
		return run.tellScale(ctx, dir, one[0], scale.Order(what), log)
	}
	run.live, err = newLiveBench(liveBenchConfig{dir: dir, witness: witnessFile(dir), scales: one, log: log, onFacts: run.events.facts, onView: run.events.view, listen: listenPorts(dir, log)})
	if err != nil {
		return err
	}
	return errors.Join(run.beside(ctx, session.CheckRequest{Scale: name, What: what, Mass: mass, By: g.by}), run.live.Close())
}

func (g *gauging) beside(ctx context.Context, r session.CheckRequest) error {
	ctx, cancel := context.WithCancel(ctx)
	done := make(chan error, 1)
	go func() { done <- g.live.Run(ctx) }()
	err := g.live.bench.Check(ctx, r)
	if err == nil {
		err = g.follow(ctx)
	} else if errors.Is(err, session.ErrRefused) {
		err = usagef("cli.layout-2", err)
	}
	cancel()
	return errors.Join(err, <-done)
}

// follow tells how the check goes, until it is recorded or given up.
func (g *gauging) follow(ctx context.Context) error {
	told, seen := "", 0
	for {
		for _, e := range g.events.take() {
			if e.line != nil {
				if over, err := g.ended(e.line); over || err != nil {
					return err
				}
				continue
			}
			for _, s := range e.view.Scales {
				if s.Name != g.name || s.Check == nil {
					continue
				}
				if !s.Check.Said.None() {
					return errors.New(language.Say(s.Check.Said))
				}
				if len(s.Check.Seen) > seen {
					seen = len(s.Check.Seen)
					g.say("placed", fmt.Sprintf("%d of %d: %s g", seen, s.Check.Want, s.Check.Seen[seen-1]))
				}
				words := language.Say(s.Check.Doing)
				if s.Link != "up" && s.Why != "" {
					words = s.Why
				}
				if words != "" && words != told {
					told = words
					g.say("now", words)
				}
			}
		}
		select {
		case <-ctx.Done():
			return failf("cli.interrupted-nothing-is-recorded")
		case <-g.events.C:
		}
	}
}

func (g *gauging) say(kind, words string) {
	if g.json {
		_ = json.NewEncoder(g.out).Encode(map[string]string{"kind": kind, "words": words})
		return
	}
	_, _ = fmt.Fprintln(g.out, words)
}

// ended tells what was recorded, and whether that was the check. One that fails is
// a failure.
func (g *gauging) ended(line []byte) (over bool, err error) {
	f, _, err := fact.Decode(line)
	if err != nil {
		return false, err
	}
	words, pass := "", true
	switch v := f.Body.(type) {
	case fact.Checked:
		words, pass = v.Words, v.Pass
	case fact.Repeatability:
		words = v.Words
	default:
		return false, nil
	}
	if g.json {
		words = strings.TrimSpace(string(line))
	}
	if _, err := fmt.Fprintln(g.out, words); err != nil {
		return true, failf("cli.write-to-standard-output", err)
	}
	if !pass {
		return true, failf("cli.the-scale-failed-the-check", g.name)
	}
	return true, nil
}

// tellScale tells a scale to zero or to tare.
func (g *gauging) tellScale(ctx context.Context, dir string, c scale.Config, what scale.Order, log zerolog.Logger) error {
	ctx, cancel := context.WithTimeout(ctx, surveyWithin)
	defer cancel()
	c.Remote = scale.NewRemote(nil)
	ended := failf("cli.scale-it-was-not-understood", c.Name)
	told := make(chan error, 1)
	sent := false
	hear := func(u scale.Update) {
		switch known := c.Format != "" && c.Baud > 0 || u.HasReading; {
		case u.Link == scale.Lost:
			ended = fmt.Errorf("%s scale: %s", c.Name, u.Why)
			cancel()
		case known && !sent:
			sent = true
			go func() { // the instrument is in this very call, and must return to obey
				told <- c.Remote.Order(what)
				cancel()
			}()
		}
	}
	if err := listenPorts(dir, log)(ctx, c, hear); err != nil {
		return err
	}
	if !sent {
		return ended
	}
	if err := <-told; err != nil {
		return fmt.Errorf("%s scale: %w", c.Name, err)
	}
	g.say("told", says("cli.the-scale-was-told-to", c.Name, what))
	return nil
}

// withMeasured gives scales what the journal knows of them.
func withMeasured(w *session.Workshop, scales []sheet.Scale) []sheet.Scale {
	for i, s := range scales {
		scales[i] = w.Measured(s)
	}
	return scales
}

package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"strings"
	"time"

	"github.com/rs/zerolog"

	"tared/scale"
	"tared/session/text"
	"tared/web"
)

// contact sets a scale up at the terminal: what comes, what is proposed, a known weight,
// and the file of settings.
type contact struct {
	ports *openPorts
	port  string
	out   io.Writer
	typed <-chan string // lines; closed at the end of input
	data  string        // directory of the record, for a bench that runs beside; "": none is asked
}

// The times of a dialog.
const (
	contactLook = 100 * time.Millisecond // between two looks at what came
	contactWait = 5 * time.Second        // for lines to propose something from
)

// runContact asks for what is missing, and writes the scale into the file of settings.
func runContact(ctx context.Context, ports named, port, file, data string, in io.Reader, out io.Writer, log zerolog.Logger) error {
	ports.paths = []string{port}
	p := &openPorts{Lookout: scale.NewLookout(ports), file: file, reload: make(chan struct{}, 1)}
	p.Always, p.Formats, p.Log = true, ports.formats, log
	ctx, cancel := context.WithCancel(ctx)
	ended := make(chan struct{})
	go func() { defer close(ended); _ = p.Run(ctx) }() // it ends with ctx alone
	defer func() { cancel(); <-ended }()
	typed := make(chan string)
	go readWords(ctx, in, typed)
	c := &contact{ports: p, port: port, out: out, typed: typed, data: data}
	return c.run(ctx)
}

// errNotSetUp ends a dialog without a scale.
func errNotSetUp() error { return failf("ports.not-set-up") }

func (c *contact) run(ctx context.Context) error {
	s, err := c.until(ctx, contactWait, func(s scale.Sighting) bool {
		return s.Format != "" && s.Shows != "" || s.Met != nil && s.Met.Proposal != nil && s.Met.Proposal.Read > 2
	})
	if err != nil {
		return err
	}
	if s.Format == "" && proposalOf(s.Met) == nil {
		return failf("cli.no-scale-was-understood-on", c.port)
	}
	answer, err := c.ask(ctx, says("ports.ask-set-up"), says("ports.yes"), says("ports.no"))
	if err != nil {
		return err
	}
	if !strings.HasPrefix(says("ports.yes"), strings.ToLower(answer)) {
		return errNotSetUp()
	}
	if s.Format == "" {
		if err := c.try(ctx); err != nil {
			return err
		}
	}
	for {
		name, err := c.ask(ctx, says("ports.ask-name"), "bench")
		if err != nil {
			return err
		}
		file, err := c.ports.Take(web.TakePort{Port: c.port, Name: name})
		if errors.Is(err, text.ErrRefused) {
			c.say(language.Say(text.Of(err)))
			continue
		}
		if err != nil {
			return err
		}
		c.say(says("ports.written", file))
		return c.takenUp(ctx)
	}
}

// takenUp has a bench that runs read its settings again.
func (c *contact) takenUp(ctx context.Context) error {
	err := call(ctx, c.data, "POST", "api/ports/reload", "application/json", strings.NewReader("{}"), &struct{}{})
	switch {
	case errors.Is(err, errNoBench):
		c.say(says("ports.serve-it"))
	case err != nil:
		c.say(says("ports.restart-it", err))
	default:
		c.say(says("ports.taken-up"))
	}
	return nil
}

// try has a known weight put on until what is proposed reads it right.
func (c *contact) try(ctx context.Context) error {
	var unit string
	for {
		s, err := c.until(ctx, contactWait, func(s scale.Sighting) bool { return proposalOf(s.Met) != nil })
		if err != nil {
			return err
		}
		if p := proposalOf(s.Met); p != nil && p.NoUnit && unit == "" {
			if unit, err = c.ask(ctx, says("ports.ask-unit"), "g", "kg", "oz", "lb"); err != nil {
				return err
			}
		}
		weight, err := c.ask(ctx, says("ports.ask-weight"), "500g", "200g", "100g", "1kg")
		if err != nil {
			return err
		}
		if err := c.ports.Try(web.TryPort{Port: c.port, Weight: weight, Unit: unit}); errors.Is(err, text.ErrRefused) {
			c.say(language.Say(text.Of(err)))
			unit = ""
			continue
		} else if err != nil {
			return err
		}
		passed, err := c.follow(ctx)
		if passed || err != nil {
			return err
		}
		unit = ""
	}
}

// follow tells how a trial goes until it is passed, or somebody wants another: a line that
// is typed meanwhile.
func (c *contact) follow(ctx context.Context) (passed bool, err error) {
	told := ""
	tick := time.NewTicker(contactLook)
	defer tick.Stop()
	for {
		s, _ := c.ports.at(c.port)
		if p := proposalOf(s.Met); p != nil {
			if words := language.Say(p.Says); words != told {
				told = words
				c.say(words)
			}
			switch scale.Trial(p.Trial) {
			case scale.TrialPassed:
				return true, nil
			case scale.TrialLight, scale.TrialLost, scale.TrialUnit:
				return false, nil
			}
		}
		select {
		case <-ctx.Done():
			return false, errNotSetUp()
		case line, ok := <-c.typed:
			if !ok || strings.EqualFold(strings.TrimSpace(line), says("ports.stop")) {
				return false, errNotSetUp()
			}
			return false, nil
		case <-tick.C:
		}
	}
}

func (c *contact) say(words string) { _, _ = fmt.Fprintln(c.out, words) }

// ask asks for one of some answers, or for another. An empty line takes the first.
func (c *contact) ask(ctx context.Context, question string, answers ...string) (string, error) {
	_, _ = fmt.Fprintf(c.out, "%s\n%s\n> ", question, says("ports.answers", strings.Join(answers, " · "), answers[0]))
	select {
	case <-ctx.Done():
		return "", errNotSetUp()
	case line, ok := <-c.typed:
		if !ok {
			return "", errNotSetUp()
		}
		if line = strings.TrimSpace(line); line == "" {
			return answers[0], nil
		}
		return line, nil
	}
}

// until waits for what comes at the port.
func (c *contact) until(ctx context.Context, most time.Duration, ok func(scale.Sighting) bool) (s scale.Sighting, err error) {
	over := time.After(most)
	for {
		if s, err = c.ports.at(c.port); err == nil && ok(s) {
			return s, nil
		}
		select {
		case <-ctx.Done():
			return s, errNotSetUp()
		case <-over:
			return s, err
		case <-time.After(contactLook):
		}
	}
}

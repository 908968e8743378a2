package main

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"strings"
	"sync"
	"time"

	"github.com/rs/zerolog"
	"github.com/spf13/cobra"

	"tared/protocol"
	"tared/scale"
	"tared/scale/serialport"
	"tared/session/text"
	"tared/web"
)

// surveyWithin bounds a survey: a port that talks nonsense at every setting
// would take for ever.
const surveyWithin = 30 * time.Second

func scalesCommand() *cobra.Command {
	var watch, asJSON, setUp bool
	var level, save string
	var files []string
	var gauge gaugeFlags
	cmd := &cobra.Command{
		Use: "scales [PORT…]",
		RunE: func(cmd *cobra.Command, args []string) error {
			lvl, err := parseLevel(level)
			if err != nil {
				return err
			}
			log := newLog(cmd.ErrOrStderr(), lvl)
			what, err := gauge.beside(args, watch, save != "", setUp, asJSON)
			switch {
			case err != nil:
				return err
			case what != "":
				return gauge.run(cmd.Context(), cmd.OutOrStdout(), files, log, asJSON)
			}
			own, err := readFormats(files)
			if err != nil {
				return err
			}
			ports := named{Machine: serialport.Ports{}, paths: args, formats: own}
			if watch {
				return watchScales(cmd.Context(), cmd.OutOrStdout(), ports, log, asJSON)
			}
			found, err := survey(cmd.Context(), cmd.OutOrStdout(), cmd.ErrOrStderr(), ports, save, log, asJSON)
			asks := setUp || isTerminal(cmd.InOrStdin()) && isTerminal(cmd.OutOrStdout())
			one, ok := toSetUp(found, setUp)
			if asJSON || !asks || !ok {
				return err
			}
			dir, err := dataDir(gauge.data)
			if err != nil {
				return err
			}
			return runContact(cmd.Context(), ports, one.Port, settingsFile(cmd.Flag("config").Value.String()), dir, cmd.InOrStdin(), cmd.OutOrStdout(), log)
		},
	}
	cmd.Flags().BoolVar(&watch, "watch", false, "")
	cmd.Flags().BoolVar(&asJSON, "json", false, "")
	cmd.Flags().StringVar(&save, "save", "", "")
	cmd.Flags().BoolVar(&setUp, "set-up", false, "")
	gauge.add(cmd)
	addFormats(cmd, &files)
	addLog(cmd, &level)
	return cmd
}

// toSetUp gives the scale that somebody may want set up: the one that no format knows and
// for which one can be proposed, or, if that was asked for, the one that is understood. Of
// several none is meant.
func toSetUp(found []scale.Sighting, wanted bool) (one scale.Sighting, ok bool) {
	strange := func(s scale.Sighting) bool { return proposalOf(s.Met) != nil }
	for _, is := range []func(scale.Sighting) bool{strange, func(s scale.Sighting) bool { return wanted && s.Format != "" }} {
		n := 0
		for _, s := range found {
			if is(s) {
				one, n = s, n+1
			}
		}
		if n > 0 {
			return one, n == 1
		}
	}
	return one, false
}

// survey tells what is at each port.
func survey(ctx context.Context, out, errs io.Writer, ports named, save string, log zerolog.Logger, asJSON bool) ([]scale.Sighting, error) {
	ctx, cancel := context.WithTimeout(ctx, surveyWithin)
	defer cancel()
	quiet := listening(errs, asJSON, surveyWithin)
	found, err := scale.Survey(ctx, ports, nil, ports.formats, log)
	quiet()
	if err != nil {
		return nil, err
	}
	if err := saveCaptures(save, found); err != nil {
		return nil, err
	}
	understood := 0
	for _, s := range found {
		if s.Format != "" {
			understood++
		}
		if asJSON {
			if err := json.NewEncoder(out).Encode(sightingLine(s)); err != nil {
				return nil, err
			}
		} else if err := tellSighting(out, s); err != nil {
			return nil, err
		}
	}
	switch {
	case len(found) == 0 && !asJSON:
		_, err = fmt.Fprintln(out, says("cli.no-ports"))
	case len(ports.paths) > 0 && understood == 0:
		err = failf("cli.no-scale-was-understood-on", strings.Join(ports.paths, ", "))
	}
	return found, err
}

// sightedLine is a line of scales --json.
type sightedLine struct {
	scale.Sighting
	Spec string `json:"spec,omitempty"` // for --scale
	// Where no format knows what comes: the last lines, and how they could be read.
	Lines    []string      `json:"lines,omitempty"`
	Proposal *web.Proposal `json:"proposal,omitempty"`
}

func sightingLine(s scale.Sighting) sightedLine {
	l := sightedLine{Sighting: s, Spec: s.Spec(), Proposal: proposalOf(s.Met).In(language)}
	if s.Met != nil {
		l.Lines = s.Met.Lines
	}
	return l
}

// saveCaptures writes what was heard at each port into a new file.
func saveCaptures(file string, found []scale.Sighting) error {
	if file == "" {
		return nil
	}
	f, err := os.OpenFile(file, os.O_WRONLY|os.O_CREATE|os.O_EXCL, 0o644)
	if err != nil {
		return fmt.Errorf("--save: %w", err)
	}
	for _, s := range found {
		if _, err = f.WriteString(s.Capture); err != nil {
			break
		}
	}
	if err = errors.Join(err, f.Close()); err != nil {
		return fmt.Errorf("--save %s: %w", file, err)
	}
	return nil
}

func tellSighting(out io.Writer, s scale.Sighting) error {
	var b strings.Builder
	b.WriteString(s.Port)
	if s.Product != "" {
		b.WriteString("  " + s.Product)
	}
	if s.USB != "" {
		b.WriteString("  usb " + s.USB)
	}
	b.WriteString("\n")
	if s.Format != "" {
		b.WriteString("  " + says("cli.shows", language.Digits(s.Shows), s.Format, orElse(s.Line, says("cli.no-line-settings"))) + "\n")
	}
	if s.Why != "" {
		fmt.Fprintf(&b, "  %s\n", language.Say(text.Written(s.Why)))
	}
	if s.Met != nil && len(s.Met.Lines) > 0 {
		tellStrange(&b, s)
	}
	if spec := s.Spec(); spec != "" {
		fmt.Fprint(&b, "  "+says("cli.use-it-with-scale-step", spec)+"\n")
	}
	_, err := io.WriteString(out, b.String())
	return err
}

// tellStrange tells what comes in no known format, and how it could be read.
func tellStrange(b *strings.Builder, s scale.Sighting) {
	for _, l := range s.Met.Lines {
		fmt.Fprintf(b, "    %s\n", l)
	}
	p := proposalOf(s.Met)
	if p == nil {
		if why := unclearWords(s.Met.Unclear); !why.None() {
			b.WriteString("  " + language.Say(why) + "\n")
		}
		return
	}
	tellProposal(b, p)
	b.WriteString("  " + says("ports.set-up-so", s.Port) + "\n")
}

func orElse(s, other string) string {
	if s == "" {
		return other
	}
	return s
}

// watched is one line of scales --watch --json.
type watched struct {
	At      time.Time `json:"at"`
	Port    string    `json:"port"`
	Link    string    `json:"link"`
	Format  string    `json:"format"`
	Line    string    `json:"line"`
	Status  string    `json:"status"` // "" when nothing was read
	Shows   string    `json:"shows"`  // digits and unit
	Settled bool      `json:"settled"`
	Why     string    `json:"why"`
}

// watchScales shows what each port says until ctx ends.
func watchScales(ctx context.Context, out io.Writer, ports named, log zerolog.Logger, asJSON bool) error {
	found, err := ports.List()
	if err != nil {
		return failf("cli.list-the-ports", err)
	}
	if len(found) == 0 {
		_, err := fmt.Fprintln(out, says("cli.no-ports"))
		return err
	}
	ctx, cancel := context.WithCancelCause(ctx)
	defer cancel(nil)
	var mu sync.Mutex
	last := map[string]watched{}
	show := func(port string, u scale.Update) {
		w := watched{At: u.At, Port: port, Link: u.Link.String(), Format: u.Identity.Format, Line: u.Identity.Line, Settled: u.Settled, Why: u.Why}
		if u.HasReading {
			w.Status = u.Reading.Status.String()
			if u.Reading.Status == protocol.OK {
				w.Shows = strings.TrimSpace(u.Reading.Value.String() + " " + string(u.Reading.Unit))
			}
		}
		mu.Lock()
		defer mu.Unlock()
		was := last[port]
		was.At = w.At
		if was == w {
			return
		}
		last[port] = w
		if err := w.tell(out, asJSON); err != nil {
			cancel(failf("cli.write-to-standard-output", err))
		}
	}
	var group sync.WaitGroup
	for _, f := range found {
		group.Go(func() {
			c := scale.Config{Name: strings.ReplaceAll(filepath.Base(f.Port), " ", "-"), Port: f.Port, Formats: ports.formats}
			if err := scale.New(c, ports, func(u scale.Update) { show(f.Port, u) }, log).Run(ctx); err != nil {
				show(f.Port, scale.Update{At: time.Now(), Link: scale.Lost, Why: err.Error()})
			}
		})
	}
	group.Wait()
	if err := context.Cause(ctx); err != nil && !errors.Is(err, context.Canceled) {
		return err
	}
	return nil // Ctrl-C is the usual end
}

func (w watched) tell(out io.Writer, asJSON bool) error {
	if asJSON {
		return json.NewEncoder(out).Encode(w)
	}
	shows := orElse(w.Shows, w.Status)
	if shows == "" {
		shows = w.Link
	} else if w.Settled {
		shows += "  " + says("cli.settled")
	}
	if w.Format != "" {
		shows += fmt.Sprintf("  (%s, %s)", w.Format, orElse(w.Line, says("cli.no-line-settings")))
	}
	if w.Why != "" {
		shows += "  " + w.Why
	}
	_, err := fmt.Fprintf(out, "%s  %s\n", w.Port, shows)
	return err
}

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
)

// surveyWithin bounds a survey: a port that talks nonsense at every setting
// would take for ever.
const surveyWithin = 30 * time.Second

func scalesCommand() *cobra.Command {
	var watch, asJSON bool
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
			for _, a := range args {
				if strings.TrimSpace(a) == "" {
					return usagef("cli.a-port-is-named-by")
				}
			}
			log := newLog(cmd.ErrOrStderr(), lvl)
			what, _, _, err := gauge.asked()
			switch {
			case err != nil:
				return err
			case what != "" && (len(args) > 0 || watch):
				return usagef("cli.a-check-is-of-one")
			case save != "" && (what != "" || watch):
				return usagef("cli.save-keeps-what-a-look")
			case what != "":
				return gauge.run(cmd.Context(), cmd.OutOrStdout(), files, log, asJSON)
			case len(gauge.scales.specs) > 0:
				if _, err := gauge.scales.parse(false); err != nil {
					return err
				}
				return usagef("cli.scale-needs-one-of-check")
			}
			own, err := readFormats(files)
			if err != nil {
				return err
			}
			ports := named{Machine: serialport.Ports{}, paths: args, formats: own}
			if watch {
				return watchScales(cmd.Context(), cmd.OutOrStdout(), ports, log, asJSON)
			}
			return survey(cmd.Context(), cmd.OutOrStdout(), ports, save, log, asJSON)
		},
	}
	cmd.Flags().BoolVar(&watch, "watch", false, "")
	cmd.Flags().BoolVar(&asJSON, "json", false, "")
	cmd.Flags().StringVar(&save, "save", "", "")
	gauge.add(cmd)
	addFormats(cmd, &files)
	addLog(cmd, &level)
	return cmd
}

// named is a machine of which only some ports count, where some were named.
type named struct {
	scale.Machine
	paths   []string
	formats []*protocol.Format // the user's own
}

func (n named) List() ([]scale.Found, error) {
	if len(n.paths) == 0 {
		return n.Machine.List()
	}
	all, err := n.Machine.List()
	if err != nil {
		all = nil // a port that was named is looked at all the same
	}
	var out []scale.Found
	for _, p := range n.paths {
		f := scale.Found{Port: p}
		for _, known := range all {
			if known.Port == p || known.Lasting == p {
				f = known
			}
		}
		out = append(out, f)
	}
	return out, nil
}

func survey(ctx context.Context, out io.Writer, ports named, save string, log zerolog.Logger, asJSON bool) error {
	ctx, cancel := context.WithTimeout(ctx, surveyWithin)
	defer cancel()
	found, err := scale.Survey(ctx, ports, nil, ports.formats, log)
	if err != nil {
		return err
	}
	if err := saveCaptures(save, found); err != nil {
		return err
	}
	understood := 0
	for _, s := range found {
		if s.Format != "" {
			understood++
		}
		if asJSON {
			if err := json.NewEncoder(out).Encode(struct {
				scale.Sighting
				Spec string `json:"spec,omitempty"` // for --scale
			}{s, s.Spec()}); err != nil {
				return err
			}
		} else if err := tellSighting(out, s); err != nil {
			return err
		}
	}
	switch {
	case len(found) == 0 && !asJSON:
		_, err = fmt.Fprintln(out, says("cli.no-ports"))
		return err
	case len(ports.paths) > 0 && understood == 0:
		return failf("cli.no-scale-was-understood-on", strings.Join(ports.paths, ", "))
	}
	return nil
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
		fmt.Fprintf(&b, "  %s\n", s.Why)
	}
	if spec := s.Spec(); spec != "" {
		fmt.Fprint(&b, "  "+says("cli.use-it-with-scale-step", spec)+"\n")
	}
	_, err := io.WriteString(out, b.String())
	return err
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

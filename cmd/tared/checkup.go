package main

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"net/http"
	"os"
	"path/filepath"
	"strings"
	"time"

	"github.com/rs/zerolog"
	"github.com/spf13/cobra"
	"github.com/spf13/pflag"

	"tared/scale"
	"tared/scale/serialport"
	"tared/session/copies"
	"tared/session/journal"
	"tared/session/text"
	"tared/web/peers"
)

// What a checkup finds of one thing.
const (
	isWell  = "well"
	isDoubt = "doubt" // it works, and somebody should look at it
	isIll   = "ill"   // it keeps tared from doing its work
)

// finding is what a checkup says of one thing, with the mend where there is one to make.
type finding struct {
	Of   string `json:"of"` // program, settings, data, record, disk, clock, page, port, scale, rules
	How  string `json:"how"`
	Says string `json:"says"`
	Mend string `json:"mend,omitempty"`
}

// checkup looks at a machine.
type checkup struct {
	s        settings
	flags    *pflag.FlagSet
	ports    scale.Machine
	now      time.Time
	found    []finding
	captures []string
}

// How much of a disk is little, and how long a port is listened to.
const (
	littleSpace = 1 << 30
	noSpace     = 64 << 20
	lookWithin  = 8 * time.Second
	pageWithin  = 3 * time.Second
)

func checkupCommand() *cobra.Command {
	var s settings
	var asJSON bool
	var bundle string
	cmd := &cobra.Command{
		Use:  "checkup",
		Args: noArgs,

		Annotations: map[string]string{goesOn: ""},
	}
	s.add(cmd)
	f := cmd.Flags()
	f.BoolVar(&asJSON, "json", false, "")
	f.StringVar(&bundle, "bundle", "", "")
	cmd.RunE = func(cmd *cobra.Command, _ []string) error {
		c := &checkup{flags: cmd.Flags(), ports: serialport.Ports{}, now: time.Now()}
		why := text.Written(cmd.Annotations[goesOn])
		if why.None() {
			var err error
			if c.s, err = s.gather(cmd.Flags()); errors.As(err, new(*usageError)) {
				return err // a slip of the hand just now, and nothing of this machine
			} else if err != nil {
				why = text.Of(err)
			}
		}
		if !why.None() { // the rest can be looked at all the same
			c.say("settings", isIll, why, text.New("checkup.settings-mend"))
			c.s.data, _ = dataDir(s.data)
		}
		c.run(cmd.Context())
		if err := c.tell(cmd.OutOrStdout(), asJSON); err != nil {
			return err
		}
		if bundle != "" {
			if err := c.bundle(bundle); err != nil {
				return err
			}
		}
		for _, x := range c.found {
			if x.How == isIll {
				return fmt.Errorf("%w: %s", errSaid, x.Says)
			}
		}
		return nil
	}
	return cmd
}

func (c *checkup) say(of, how string, says text.Message, mend text.Message) {
	x := finding{Of: of, How: how, Says: language.Say(says)}
	if !mend.None() {
		x.Mend = language.Say(mend)
	}
	c.found = append(c.found, x)
}

var nothing text.Message

func (c *checkup) run(ctx context.Context) {
	e := thisEdition()
	c.say("program", isWell, text.New("checkup.program", text.Name("version", e.Version), text.Name("system", e.System)), nothing)
	if len(c.found) == 1 { // else they are wrong, and that was said
		c.settings()
	}
	c.record()
	c.copies()
	c.peers()
	c.disk()
	c.clock()
	running := c.page(ctx)
	c.scales(ctx, running)
	c.rules()
}

func (c *checkup) settings() {
	file := findConfig(c.flags.Lookup("config").Value.String())
	if file == "" {
		c.say("settings", isWell, text.New("checkup.no-settings"), nothing)
	} else {
		c.say("settings", isWell, text.New("checkup.settings", text.Name("file", file)), nothing)
	}
	for _, f := range c.s.faults {
		c.say("settings", isIll, text.Written(f), text.New("checkup.settings-mend"))
	}
}

// peers tells of other benches.
func (c *checkup) peers() {
	for _, p := range peers.List(c.s.data) {
		how := isWell
		if p.Wrong() {
			how = isDoubt
		}
		c.say("peers", how, text.New("page.shop.peer", text.Name("sign", p.Sign), text.Name("bench", p.Short()), text.Name("how", language.Say(p.Says()))), nothing)
	}
}

// record looks at the directory of the record and walks its lines.
func (c *checkup) record() {
	dir := c.s.data
	info, err := os.Stat(dir)
	switch {
	case errors.Is(err, fs.ErrNotExist):
		c.say("record", isWell, text.New("checkup.no-record", text.Name("dir", dir)), nothing)
		return
	case err != nil:
		c.say("record", isIll, text.Of(err), text.New("checkup.rights-mend", text.Name("dir", dir)))
		return
	case info.Mode().Perm()&0o007 != 0:
		c.say("data", isDoubt, text.New("checkup.open-dir", text.Name("dir", dir)), text.New("checkup.open-dir-mend", text.Name("dir", dir)))
	}
	rep, err := journal.ReadWith(dir, journal.Options{Witness: witnessFile(dir)})
	switch {
	case errors.Is(err, fs.ErrNotExist):
		c.say("record", isWell, text.New("checkup.no-record", text.Name("dir", dir)), nothing)
		return
	case errors.Is(err, fs.ErrPermission):
		c.say("record", isIll, text.Of(err), text.New("checkup.rights-mend", text.Name("dir", dir)))
		return
	case err != nil:
		c.say("record", isIll, text.Of(err), text.New("checkup.record-mend"))
		return
	case rep.Missing != nil:
		c.say("record", isIll, text.New("checkup.other-record", text.Name("dir", dir)), text.New("checkup.record-mend"))
	default:
		c.say("record", isWell, text.New("checkup.record", text.Name("dir", dir), text.Count("count", int(rep.Lines))), nothing)
	}
	if rep.Last.After(c.now.Add(time.Minute)) {
		c.say("clock", isIll, text.New("checkup.clock-behind", text.Moment("time", rep.Last)), text.New("checkup.clock-mend"))
	}
}

// copies looks whether copies of the record are made, and how old the last one is.
func (c *checkup) copies() {
	dir := c.s.backup.dir
	if dir == "" {
		c.say("backup", isDoubt, text.New("checkup.no-backup"), text.New("checkup.no-backup-mend"))
		return
	}
	bench, err := benchOf(c.s.data)
	if err != nil {
		return // what is wrong with the record was said, and one without a line needs no copy
	}
	switch last, err := newest(dir, bench, c.now.Location()); {
	case err != nil:
		c.say("backup", isIll, text.New("backup.folder-gone", text.Name("folder", dir)), text.New("checkup.backup-mend"))
	case last.IsZero():
		c.say("backup", isDoubt, text.New("checkup.no-copy", text.Name("dir", dir)), text.New("checkup.backup-mend"))
	case copies.Late(last, c.now):
		c.say("backup", isDoubt, text.New("checkup.backup-old", text.Moment("time", last)), text.New("checkup.backup-mend"))
	default:
		c.say("backup", isWell, text.New("checkup.backup", text.Moment("time", last)), nothing)
	}
}

func (c *checkup) disk() {
	at := c.s.data
	for at != filepath.Dir(at) {
		if _, err := os.Stat(at); err == nil {
			break
		}
		at = filepath.Dir(at)
	}
	free, err := freeSpace(at)
	says := text.New("checkup.disk", text.Count("count", int(free>>20)), text.Name("dir", at))
	switch {
	case err != nil:
		c.say("disk", isDoubt, text.Of(err), nothing)
	case free < noSpace:
		c.say("disk", isIll, says, text.New("checkup.disk-mend"))
	case free < littleSpace:
		c.say("disk", isDoubt, says, text.New("checkup.disk-mend"))
	default:
		c.say("disk", isWell, says, nothing)
	}
}

func (c *checkup) clock() {
	says := text.New("checkup.clock", text.Moment("time", c.now))
	built, err := time.Parse(time.RFC3339, thisEdition().Date)
	switch set, known := clockSet(); {
	case err == nil && c.now.Before(built):
		c.say("clock", isIll, text.New("checkup.clock-before", text.Moment("time", c.now)), text.New("checkup.clock-mend"))
	case known && !set:
		c.say("clock", isDoubt, text.New("checkup.clock-unset", text.Moment("time", c.now)), text.New("checkup.clock-mend"))
	default:
		c.say("clock", isWell, says, nothing)
	}
}

// page tells whether a daemon serves this record, and whether its page answers.
func (c *checkup) page(ctx context.Context) (running bool) {
	url, err := os.ReadFile(filepath.Join(c.s.data, addressName))
	if err != nil || !journal.InUse(c.s.data) {
		c.say("page", isWell, text.New("checkup.no-page"), nothing)
		return false
	}
	at := strings.TrimSpace(string(url))
	ctx, cancel := context.WithTimeout(ctx, pageWithin)
	defer cancel()
	var v struct {
		Scales []struct{ Name, Link, Why string }
	}
	err = call(ctx, c.s.data, http.MethodGet, "api/view", "", nil, &v)
	if errors.Is(err, errNoBench) {
		err = whoHasIt(c.s.data)
	}
	if err != nil {
		c.say("page", isIll, text.New("checkup.page-silent", text.Name("url", at), text.Because("why", err)), text.New("checkup.page-mend"))
		return true
	}
	c.say("page", isWell, text.New("checkup.page", text.Name("url", at)), nothing)
	for _, s := range v.Scales {
		how := isWell
		if s.Link == scale.Lost.String() {
			how = isIll
		} else if s.Link != scale.Up.String() {
			how = isDoubt
		}
		c.say("scale", how, text.New("checkup.scale", text.Name("scale", s.Name), text.Name("link", s.Link)), text.Written(s.Why))
	}
	return true
}

// scales listens at each port for a moment. What another program holds, and who may not
// open it, is said with the mend that opening it gives.
func (c *checkup) scales(ctx context.Context, running bool) {
	ctx, cancel := context.WithTimeout(ctx, lookWithin)
	defer cancel()
	found, err := scale.Survey(ctx, c.ports, nil, nil, zerolog.Nop())
	if err != nil {
		c.say("port", isIll, text.Of(err), nothing)
		return
	}
	if len(found) == 0 {
		c.say("port", isDoubt, text.New("checkup.no-ports"), text.New("checkup.no-ports-mend"))
	}
	for _, s := range found {
		c.captures = append(c.captures, s.Capture)
		name := strings.TrimSpace(s.Port + " " + s.Product)
		switch {
		case s.Format != "":
			c.say("port", isWell, text.New("checkup.port", text.Name("port", name), text.Name("format", s.Format), text.Name("shows", s.Shows)), nothing)
		case running && strings.Contains(s.Why, scale.ErrBusy.Error()):
			c.say("port", isWell, text.New("checkup.port-ours", text.Name("port", name)), nothing)
		default:
			c.say("port", isDoubt, text.New("checkup.port-unread", text.Name("port", name)), text.Written(s.Why))
		}
	}
	for _, s := range c.s.scales {
		if s.ByEye() || running {
			continue
		}
		if p, err := c.ports.Open(s.Port, usualLine); err != nil {
			c.say("scale", isIll, text.New("checkup.scale-gone", text.Name("scale", s.Name)), text.Of(err))
		} else {
			_ = p.Close()
		}
	}
}

// rules looks, where USB scales without a serial line are plugged in, for the rule that
// lets them be read.
func (c *checkup) rules() {
	all, err := c.ports.List()
	hid := false
	for _, f := range all {
		hid = hid || f.Resource == "hid"
	}
	if err != nil || !hid {
		return
	}
	for _, p := range pieces() {
		if p.name != "rules" {
			continue
		}
		for _, at := range []string{p.local, p.deb} {
			if _, err := os.Stat(at); err == nil {
				c.say("rules", isWell, text.New("checkup.rules", text.Name("file", at)), nothing)
				return
			}
		}
		c.say("rules", isDoubt, text.New("checkup.no-rules"), text.New("checkup.rules-mend"))
	}
}

func (c *checkup) tell(out io.Writer, asJSON bool) error {
	for _, x := range c.found {
		if asJSON {
			if err := json.NewEncoder(out).Encode(x); err != nil {
				return err
			}
			continue
		}
		sign := map[string]string{isWell: "  ", isDoubt: "? ", isIll: "! "}[x.How]
		if _, err := fmt.Fprintf(out, "%s%-9s %s\n", sign, x.Of, x.Says); err != nil {
			return err
		}
		if x.Mend != "" {
			if _, err := fmt.Fprintf(out, "            %s\n", x.Mend); err != nil {
				return err
			}
		}
	}
	return nil
}

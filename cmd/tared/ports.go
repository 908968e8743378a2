package main

import (
	"bytes"
	"errors"
	"io/fs"
	"os"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"time"

	"github.com/BurntSushi/toml"

	"tared/protocol"
	"tared/scale"
	"tared/session/text"
	"tared/web"
)

// openPorts are the ports that are not set up, for the scales page.
type openPorts struct {
	*scale.Lookout
	s      settings
	before []scale.Sighting // what was heard under the settings before, where no scale is set up now
	file   string           // of settings, that a scale is written into
	reload chan<- struct{}
}

// newOpenPorts makes them for the settings that serve now. Where no scale is set up they
// are listened to all the time. before is what was heard under the settings before these:
// whoever sets up one scale after another need not wait until all are heard anew.
func newOpenPorts(ports scale.Machine, s settings, before []scale.Sighting, reload chan<- struct{}) *openPorts {
	p := &openPorts{scale.NewLookout(ports), s, before, s.file, reload}
	p.Always = !slices.ContainsFunc(s.scales, func(c scale.Config) bool { return !c.ByEye() })
	for _, c := range s.scales {
		p.Taken = append(p.Taken, c.Port)
		p.Formats = c.Formats
		p.before = slices.DeleteFunc(p.before, func(b scale.Sighting) bool {
			usb, by := scale.ByUSB(c.Port)
			return by && usb == b.USB || c.Port == b.Port || c.Port == b.Lasting
		})
	}
	if len(p.before) > 0 {
		p.Look()
	}
	return p
}

func (p *openPorts) Look() { p.Lookout.Look(time.Now()) }

func (p *openPorts) Seen() web.PortsView {
	v := web.PortsView{Here: true, Looking: p.Looking(time.Now()), Faults: p.s.faults}
	for _, s := range p.Lookout.Seen() {
		one := web.Port{Port: s.Port, USB: s.USB, Product: s.Product, Line: s.Line, Format: s.Format, Shows: s.Shows, Raw: s.Raw, Why: s.Why, Proposal: proposalOf(s.Met)}
		if s.Met != nil && one.Proposal == nil {
			one.Unclear = unclearWords(s.Met.Unclear)
		}
		v.Ports = append(v.Ports, one)
	}
	return v
}

// saysMore tells whether what is heard at a port now counts, and not what was heard there
// before: it is understood, or another device, or its lines come anew, unless a known weight
// had shown before how they are read and no other trial has begun.
func saysMore(now, before scale.Sighting) bool {
	passed := before.Met != nil && before.Met.Trial == scale.TrialPassed
	return now.Format != "" || now.USB != before.USB || now.Met != nil && (!passed || now.Met.Trial != scale.TrialNone)
}

// at gives what is heard at a port, or was before.
func (p *openPorts) at(port string) (scale.Sighting, error) {
	seen := p.Lookout.Seen()
	is := func(s scale.Sighting) bool { return s.Port == port }
	if i := slices.IndexFunc(p.before, is); i >= 0 && !slices.ContainsFunc(seen, func(s scale.Sighting) bool { return is(s) && saysMore(s, p.before[i]) }) {
		return p.before[i], nil
	}
	if i := slices.IndexFunc(seen, is); i >= 0 {
		return seen[i], nil
	}
	return scale.Sighting{}, text.Refuse("ports.gone", text.Name("port", port))
}

// scaleTable is a scale as the page writes it into the file.
type scaleTable struct {
	Name   string `toml:"name"`
	USB    string `toml:"usb,omitempty"`
	Port   string `toml:"port,omitempty"`
	Format string `toml:"format,omitempty"`
	Step   string `toml:"step,omitempty"`
	Max    string `toml:"max,omitempty"`
}

// Take writes the scale into the file of settings, and has that read again.
func (p *openPorts) Take(t web.TakePort) (string, error) {
	switch {
	case len(p.s.given.specs) > 0:
		return "", text.Refuse("ports.by-flag")
	case p.file == "":
		return "", text.Refuse("ports.no-file")
	}
	s, err := p.at(t.Port)
	if err != nil {
		return "", err
	}
	table := scaleTable{Name: strings.TrimSpace(t.Name), Format: s.Format, Step: strings.TrimSpace(t.Step), Max: strings.TrimSpace(t.Max)}
	if key, where, _ := strings.Cut(s.Where(), "="); key == "usb" {
		table.USB = where
	} else {
		table.Port = where
	}
	var own *scaleFormat
	switch m := s.Met; {
	case m == nil:
	case m.Proposal == nil:
		if why := unclearWords(m.Unclear); !why.None() {
			return "", text.Refuse("ports.not-right", text.Said("why", why))
		}
	default:
		if m.Trial != scale.TrialPassed {
			return "", text.Refuse("ports.try-first")
		}
		own = &scaleFormat{*m.Proposal, scale.LineText(m.Line), m.Lines}
	}
	if err := addScale(p.file, table, own); err != nil {
		return "", err
	}
	p.Reload()
	return p.file, nil
}

// Reload has the settings read again.
func (p *openPorts) Reload() {
	select {
	case p.reload <- struct{}{}:
	default: // they are about to be read anyway
	}
}

// Try has what is proposed for a port tried with a known weight.
func (p *openPorts) Try(t web.TryPort) error {
	weight, err := protocol.ParseMass(t.Weight)
	if err != nil || weight <= 0 {
		return text.Refuse("ports.no-weight", text.Name("weight", t.Weight))
	}
	unit, ok := protocol.LookupUnit(t.Unit)
	if t.Unit != "" && (!ok || !unit.IsMass()) {
		return text.Refuse("ports.no-unit", text.Name("unit", t.Unit))
	}
	if !p.Lookout.Try(time.Now(), t.Port, weight, unit) {
		return text.Refuse("ports.gone", text.Name("port", t.Port))
	}
	return nil
}

// addScale adds a scale to a file of settings, with a format of its own where it needs one,
// and makes the file where there is none. A file that would not be right with it is left as
// it was.
func addScale(path string, table scaleTable, own *scaleFormat) error {
	if real, err := filepath.EvalSymlinks(path); err == nil {
		path = real // the link stays one
	}
	old, err := os.ReadFile(path)
	mode := fs.FileMode(0o644)
	switch info, e := os.Stat(path); {
	case e == nil:
		mode = info.Mode().Perm()
	case !errors.Is(e, fs.ErrNotExist):
		return notWritten(path, e)
	default:
		err = os.MkdirAll(filepath.Dir(path), 0o755)
	}
	if err != nil {
		return notWritten(path, err)
	}
	b := bytes.NewBuffer(bytes.TrimRight(old, "\n"))
	if b.Len() > 0 {
		b.WriteString("\n\n")
	}
	if own != nil {
		before, err := parseConfig(path, string(old))
		if err != nil {
			return text.Refuse("ports.not-right", text.Because("why", err))
		}
		table.Format = freeName(table.Name+"-lines", before.formats)
		if err := own.write(b, table.Format); err != nil {
			return err
		}
	}
	b.WriteString("[[scale]]\n")
	if err := toml.NewEncoder(b).Encode(table); err != nil {
		return err
	}
	c, err := parseConfig(path, b.String())
	if err == nil && len(c.faults) > 0 {
		err = c.faults[len(c.faults)-1]
	}
	if err != nil {
		return text.Refuse("ports.not-right", text.Because("why", err))
	}
	return replaceFile(path, b.Bytes(), mode)
}

// replaceFile puts b in the place of a file in one step: whoever reads it, and a cut of
// power, finds the old one or the new one.
func replaceFile(path string, b []byte, mode fs.FileMode) error {
	f, err := os.CreateTemp(filepath.Dir(path), "."+filepath.Base(path)+".*")
	if err != nil {
		return notWritten(path, err)
	}
	_, err = f.Write(b)
	err = errors.Join(err, f.Chmod(mode), f.Sync(), f.Close())
	if err == nil {
		err = os.Rename(f.Name(), path)
	}
	if err != nil {
		_ = os.Remove(f.Name())
		return notWritten(path, err)
	}
	return nil
}

func notWritten(path string, err error) error {
	return text.Refuse("ports.not-written", text.Name("file", path), text.Said("why", whyFile(err)))
}

// capturesDir is the directory beside the journal for what scales sent.
const capturesDir = "captures"

// KeepCapture writes what came at a port into a new file.
func (p *openPorts) KeepCapture(port string) (string, error) {
	s, err := p.at(port)
	if err != nil {
		return "", err
	}
	dir := filepath.Join(p.s.data, capturesDir)
	if err := os.MkdirAll(dir, 0o750); err != nil {
		return "", notWritten(dir, err)
	}
	base := filepath.Join(dir, time.Now().Format(time.DateOnly)+"-"+filepath.Base(port))
	for n := 1; ; n++ {
		path := base + ".txt"
		if n > 1 {
			path = base + "-" + strconv.Itoa(n) + ".txt"
		}
		f, err := os.OpenFile(path, os.O_WRONLY|os.O_CREATE|os.O_EXCL, 0o640)
		if errors.Is(err, fs.ErrExist) && n < 1000 {
			continue
		}
		if err != nil {
			return "", notWritten(path, err)
		}
		_, err = f.WriteString(s.Capture)
		if err = errors.Join(err, f.Sync(), f.Close()); err != nil {
			return "", notWritten(path, err)
		}
		return path, nil
	}
}

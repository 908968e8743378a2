package main

import (
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"unicode/utf8"

	"tared/session/fact"
	"tared/session/journal"
	"tared/session/photo"
)

// photosNamed gathers the photographs that a journal names, each once.
type photosNamed struct {
	seen map[string]uint64 // name to the line that names it first
	all  []string
	step *byteGauge // of the work that looks at the lines
}

// line looks at a line of the journal.
func (n *photosNamed) line(r journal.Record) error {
	n.step.add(len(r.Line))
	if r.Kind != "judged" && r.Kind != "fired" {
		return nil
	}
	body, err := fact.DecodeBody(r.Kind, r.Line)
	if err != nil {
		return nil // told when the book is read
	}
	var names []string
	switch v := body.(type) {
	case fact.Judged:
		names = v.Photos
	case fact.Fired:
		names = v.Photos
	}
	for _, name := range names {
		if _, twice := n.seen[name]; !twice {
			if n.seen == nil {
				n.seen = map[string]uint64{}
			}
			n.seen[name] = r.Seq
			n.all = append(n.all, name)
		}
	}
	return nil
}

// photoFault is a photograph that is not what the journal says.
type photoFault struct {
	Name string `json:"name"`
	Line uint64 `json:"line"` // that names it
	Why  string `json:"why"`
}

// faults looks at every photograph that is photosNamed. Unnamed are those that no line
// names: they harm nothing.
func (n *photosNamed) faults(dir string) (bad []photoFault, unnamed int, err error) {
	for _, name := range n.all {
		n.step.add(int(sizeOf(os.Stat(filepath.Join(dir, photo.Dir, name)))))
		if err := photo.Check(dir, name); err != nil {
			bad = append(bad, photoFault{name, n.seen[name], err.Error()})
		}
	}
	there, err := photo.List(dir)
	if err != nil {
		return bad, 0, failf("cli.list-the-photographs", err)
	}
	for _, name := range there {
		if _, ok := n.seen[name]; !ok {
			unnamed++
		}
	}
	return bad, unnamed, nil
}

// photosBeside is the directory that goes with a backup in one file. What is in it
// from an earlier backup is not copied again, for a name is a hash.
func photosBeside(file string) string { return file + ".files" }

// copyPhotos copies the photographs that are photosNamed from one data directory to
// another, and says which are not there.
func copyPhotos(to, from string, names []string) (copied int, missing []string, err error) {
	for _, name := range names {
		switch err := photo.Copy(to, from, name); {
		case errors.Is(err, fs.ErrNotExist):
			missing = append(missing, name)
		case err != nil:
			return copied, missing, err
		default:
			copied++
		}
	}
	slices.Sort(missing)
	return copied, missing, nil
}

// tellPhotos says what became of the photographs of a copy.
func tellPhotos(out io.Writer, to string, copied int, missing []string) error {
	var err error
	if copied > 0 {
		_, err = fmt.Fprintln(out, "  "+says("cli.photos-in", copied, filepath.Join(to, photo.Dir)))
	}
	if len(missing) > 0 && err == nil {
		_, err = fmt.Fprint(out, "  "+says("cli.photos-not-there", len(missing))+"\n"+nameList(missing))
	}
	return err
}

// mostNamed is how many photographs are named one by one.
const mostNamed = 20

// nameList writes names under each other.
func nameList(names []string) string {
	var b strings.Builder
	for _, name := range names[:min(len(names), mostNamed)] {
		b.WriteString("    " + name + "\n")
	}
	if more := len(names) - mostNamed; more > 0 {
		b.WriteString("    " + says("cli.and-more", more) + "\n")
	}
	return b.String()
}

// tellLeft says which photographs lines name that went out without them.
func tellLeft(out io.Writer, dir string, names []string) error {
	if len(names) == 0 {
		return nil
	}
	_, err := fmt.Fprint(out, says("cli.photos-left", len(names))+"\n"+nameList(names)+wrapped(says("cli.photos-where", filepath.Join(dir, photo.Dir), photo.Dir)))
	return err
}

// photosTaken is what becomes of the photographs of lines that are taken in.
type photosTaken struct {
	named   photosNamed
	from    map[string]string // name to the directory over the one where it lies
	missing []string
}

// find looks for them: with the lines, and in the directory itself. One that was
// changed is an error.
func (p *photosTaken) find(with []string, dir string) error {
	p.from = map[string]string{}
	for _, name := range p.named.all {
		for _, at := range append(slices.Clone(with), dir) {
			err := photo.Check(at, name)
			if errors.Is(err, fs.ErrNotExist) {
				continue
			}
			if err != nil {
				return failf("cli.nothing-was-taken-in-move", filepath.Join(at, photo.Dir), err)
			}
			p.from[name] = at
			break
		}
		if p.from[name] == "" {
			p.missing = append(p.missing, name)
		}
	}
	slices.Sort(p.missing)
	return nil
}

// bring copies those that were found into a data directory.
func (p *photosTaken) bring(dir string) error {
	for _, name := range p.named.all {
		if at := p.from[name]; at != "" {
			if err := photo.Copy(dir, at, name); err != nil {
				return failf("cli.the-lines-were-not-taken", err)
			}
		}
	}
	return nil
}

// tell says it, and what can be done about those that were not there.
func (p *photosTaken) tell(out io.Writer, dir, file string) error {
	if err := tellPhotos(out, dir, len(p.from), p.missing); err != nil || len(p.missing) == 0 {
		return err
	}
	_, err := fmt.Fprint(out, wrapped(says("cli.photos-looked", filepath.Join(photosBeside(file), photo.Dir), filepath.Join(filepath.Dir(file), photo.Dir), filepath.Join(dir, photo.Dir))))
	return err
}

// wrapped breaks words into lines for a terminal.
func wrapped(words string) string {
	var b strings.Builder
	long := 0
	for _, w := range strings.Fields(words) {
		n := utf8.RuneCountInString(w)
		if long > 0 && long+1+n > helpWidth {
			b.WriteString("\n")
			long = 0
		} else if long > 0 {
			b.WriteString(" ")
			long++
		}
		b.WriteString(w)
		long += n
	}
	return b.String() + "\n"
}

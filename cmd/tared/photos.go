package main

import (
	"errors"
	"fmt"
	"io"
	"io/fs"
	"slices"

	"tared/session/fact"
	"tared/session/journal"
	"tared/session/photo"
)

// photosNamed gathers the photographs that a journal names, each once.
type photosNamed struct {
	seen map[string]uint64 // name to the line that names it first
	all  []string
}

// line looks at a line of the journal.
func (n *photosNamed) line(r journal.Record) error {
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
		if err := photo.Check(dir, name); err != nil {
			bad = append(bad, photoFault{name, n.seen[name], err.Error()})
		}
	}
	there, err := photo.List(dir)
	if err != nil {
		return bad, 0, fmt.Errorf("list the photographs: %w", err)
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
		_, err = fmt.Fprintf(out, "  photos %d, in %s\n", copied, to)
	}
	if len(missing) > 0 && err == nil {
		_, err = fmt.Fprintf(out, "  photos that are named and were not there: %d, such as %s\n", len(missing), missing[0])
	}
	return err
}

package fact

import (
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"slices"
	"time"
)

// A fault of the program: the journal looks at each line that is written and read.
var errNoKind = errors.New("it has no kind")

// Head is what the journal adds to a fact beyond the fields of Fact.
type Head struct {
	Prev string // hash of the line before, 64 hex digits
}

// Unknown is the body of a kind that this program does not know. It is kept and
// can be shown and written again, so that an old program reads a newer journal.
type Unknown struct {
	Name string          // the word in "kind"
	JSON json.RawMessage // the body's own fields as one object, without those of the head
}

// Kind gives the word as it was read.
func (u Unknown) Kind() string { return u.Name }

// MarshalJSON writes the fields as they were read.
func (u Unknown) MarshalJSON() ([]byte, error) {
	if len(u.JSON) == 0 {
		return []byte("{}"), nil
	}
	return u.JSON, nil
}

// headNames are the top-level names of a line that are not the body's.
var headNames = []string{"seq", "at", "kind", "batch", "by", "prev"}

type head struct {
	Seq   uint64    `json:"seq"`
	At    time.Time `json:"at"`
	Kind  string    `json:"kind"`
	Batch string    `json:"batch"`
	By    string    `json:"by"`
	Prev  string    `json:"prev,omitempty"`
}

// Decode reads a line of the journal, with or without its newline. A kind that
// is not known gives an Unknown body and no error; fields that are not known are
// left out.
func Decode(line []byte) (Fact, Head, error) {
	var h head
	if err := json.Unmarshal(line, &h); err != nil {
		return Fact{}, Head{}, fmt.Errorf("line %.60q: %w: %w", line, ErrFact, err)
	}
	if h.Kind == "" {
		return Fact{}, Head{}, fmt.Errorf("line %.60q: %w: %w", line, ErrFact, errNoKind)
	}
	b, err := DecodeBody(h.Kind, line)
	if err != nil {
		return Fact{}, Head{}, fmt.Errorf("line %d: %w", h.Seq, err)
	}
	return Fact{Seq: h.Seq, At: h.At, Batch: h.Batch, By: h.By, Body: b}, Head{Prev: h.Prev}, nil
}

// DecodeBody reads the body of a kind from a JSON object: the body alone, or the
// whole line of the journal.
func DecodeBody(kind string, data []byte) (Body, error) {
	if k, ok := Lookup(kind); ok {
		return k.decode(data)
	}
	own, err := withoutHead(data)
	if err != nil {
		return nil, fmt.Errorf("%s: %w: %w", kind, ErrFact, err)
	}
	return Unknown{Name: kind, JSON: own}, nil
}

// withoutHead copies an object without the head's fields and keeps the order and
// the digits of all others.
func withoutHead(data []byte) (json.RawMessage, error) {
	d := json.NewDecoder(bytes.NewReader(data))
	if t, err := d.Token(); err != nil {
		return nil, err
	} else if t != json.Delim('{') {
		return nil, errors.New("not an object")
	}
	out := []byte{'{'}
	for d.More() {
		t, err := d.Token()
		if err != nil {
			return nil, err
		}
		var v json.RawMessage
		if err := d.Decode(&v); err != nil {
			return nil, err
		}
		name, _ := t.(string)
		if slices.Contains(headNames, name) {
			continue
		}
		k, err := plain(name)
		if err != nil {
			return nil, err
		}
		if len(out) > 1 {
			out = append(out, ',')
		}
		out = append(append(append(out, k...), ':'), v...)
	}
	if _, err := d.Token(); err != nil {
		return nil, err
	}
	return append(out, '}'), nil
}

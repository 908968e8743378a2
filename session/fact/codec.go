package fact

import (
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"slices"
	"time"

	"tared/protocol"
)

// ErrFact is in the chain of every error about a line that cannot be understood
// as a fact.
var ErrFact = errors.New("not a fact")

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

// Encode writes a fact as one JSON object without a newline: the fields of the
// head, then those of the body. Only the journal knows "prev", so it is not
// there; a line of the journal is the record, this is for showing and export.
func Encode(f Fact) ([]byte, error) {
	if f.Body == nil {
		return nil, fmt.Errorf("fact %d: it has no body: %w", f.Seq, ErrFact)
	}
	h, err := plain(head{Seq: f.Seq, At: f.At, Kind: f.Body.Kind(), Batch: f.Batch, By: f.By})
	if err != nil {
		return nil, fmt.Errorf("fact %d: %w", f.Seq, err)
	}
	b, err := EncodeBody(f.Body)
	if err != nil {
		return nil, fmt.Errorf("fact %d: %w", f.Seq, err)
	}
	if len(b) > len("{}") {
		h = append(append(h[:len(h)-1], ','), b[1:]...)
	}
	return h, nil
}

// EncodeBody writes the body alone as one JSON object, without escapes for HTML.
func EncodeBody(b Body) ([]byte, error) {
	j, err := plain(b)
	if err != nil {
		return nil, fmt.Errorf("%s: %w", b.Kind(), err)
	}
	return j, nil
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
		return Fact{}, Head{}, fmt.Errorf("line %.60q: %w: it has no kind", line, ErrFact)
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
	switch kind {
	case "planned":
		return into[Planned](data)
	case "reminded":
		return into[Reminded](data)
	case "tared":
		return into[Tared](data)
	case "portion":
		return into[Portion](data)
	case "lifted":
		return into[Lifted](data)
	case "returned":
		return into[Returned](data)
	case "overpoured":
		return into[Overpoured](data)
	case "decided":
		return into[Decided](data)
	case "enlarged":
		return into[Enlarged](data)
	case "moved":
		return into[Moved](data)
	case "finished":
		return into[Finished](data)
	case "amended":
		return into[Amended](data)
	case "lost":
		return into[Lost](data)
	case "found":
		return into[Found](data)
	case "role":
		return into[Role](data)
	case "noted":
		return into[Noted](data)
	case "paused":
		return into[Paused](data)
	case "resumed":
		return into[Resumed](data)
	case "noticed":
		return into[Noticed](data)
	case "checked":
		return into[Checked](data)
	case "repeatability":
		return into[Repeatability](data)
	}
	for _, more := range []func(string, []byte) (Body, bool, error){laterBody, keptBody} {
		if b, known, err := more(kind, data); known {
			return b, err
		}
	}
	own, err := withoutHead(data)
	if err != nil {
		return nil, fmt.Errorf("%s: %w: %w", kind, ErrFact, err)
	}
	return Unknown{Name: kind, JSON: own}, nil
}

func into[B Body](data []byte) (Body, error) {
	var b B
	if err := json.Unmarshal(data, &b); err != nil {
		return nil, fmt.Errorf("%s: %w: %w", b.Kind(), ErrFact, err)
	}
	return b, nil
}

// withoutHead copies an object without the head's fields and keeps the order and
// the digits of all others.
func withoutHead(data []byte) (json.RawMessage, error) {
	d := json.NewDecoder(bytes.NewReader(data))
	if t, err := d.Token(); err != nil {
		return nil, err
	} else if t != json.Delim('{') {
		return nil, errors.New("want an object")
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

// plain is json.Marshal without the escapes for HTML: a person reads the journal
// with a pager, and "<" is easier to read than its code.
func plain(v any) ([]byte, error) {
	var b bytes.Buffer
	e := json.NewEncoder(&b)
	e.SetEscapeHTML(false)
	if err := e.Encode(v); err != nil {
		return nil, err
	}
	return bytes.TrimRight(b.Bytes(), "\n"), nil
}

// shown is a mass written with at least so many decimals: what a scale with a
// step of 0.1 g showed as 84.0 is recorded as "84.0".
type shown struct {
	m      protocol.Mass
	places int
}

// MarshalJSON writes {"g":"84.0"}.
func (s shown) MarshalJSON() ([]byte, error) {
	return []byte(`{"g":"` + s.m.Grams(s.places) + `"}`), nil
}

// object writes one JSON object by hand, byte for byte as encoding/json would.
// The facts of a take are written so: somebody stands there with a cup in the
// hand until they are on the disk.
type object []byte

func (o object) name(name string) object {
	if len(o) == 0 {
		o = append(o, '{')
	} else {
		o = append(o, ',')
	}
	o = append(append(append(o, '"'), name...), '"', ':')
	return o
}

func (o object) text(name, s string) object { return o.name(name).quoted(s) }

// some is text where there is one.
func (o object) some(name, s string) object {
	if s == "" {
		return o
	}
	return o.text(name, s)
}

func (o object) texts(name string, all []string) object {
	o = o.name(name)
	if all == nil {
		return append(o, "null"...)
	}
	o = append(o, '[')
	for i, s := range all {
		if i > 0 {
			o = append(o, ',')
		}
		o = o.quoted(s)
	}
	return append(o, ']')
}

// mass is written as shown.
func (o object) mass(name string, m protocol.Mass, places int) object {
	o = append(o.name(name), `{"g":"`...)
	return append(append(o, m.Grams(places)...), `"}`...)
}

func (o object) quoted(s string) object {
	for i := range len(s) {
		if c := s[i]; c < ' ' || c > '~' || c == '"' || c == '\\' {
			q, err := plain(s)
			if err != nil { // no text is refused
				q = []byte(`""`)
			}
			return append(o, q...)
		}
	}
	return append(append(append(o, '"'), s...), '"')
}

// end closes an object that has members.
func (o object) end() []byte { return append(o, '}') }

// AppendJSON writes the masses with the digits of the scale's step.
func (p Portion) AppendJSON(b []byte) []byte {
	n := p.Step.Places()
	o := object(nil).text("material", p.Material).some("as", p.As).some("into", p.Into).text("scale", p.Scale).
		mass("before", p.Before, n).mass("after", p.After, n).mass("delivered", p.Delivered, n).
		mass("target", p.Target, n).mass("low", p.Low, n).mass("high", p.High, n).
		text("verdict", p.Verdict).text("how", p.How).mass("u", p.U, n).mass("step", p.Step, n).
		some("words", p.Words).texts("raw", p.Raw).some("trace", p.Trace)
	return append(b, o.end()...)
}

// MarshalJSON writes the same.
func (p Portion) MarshalJSON() ([]byte, error) { return p.AppendJSON(nil), nil }

// AppendJSON writes the masses with the digits of the scale's step.
func (t Tared) AppendJSON(b []byte) []byte {
	n := t.Step.Places()
	o := object(nil).some("material", t.Material).text("scale", t.Scale).
		mass("container", t.Container, n).mass("weight", t.Weight, n).mass("carried", t.Carried, n).
		text("how", t.How).mass("step", t.Step, n).texts("raw", t.Raw)
	return append(b, o.end()...)
}

// MarshalJSON writes the same.
func (t Tared) MarshalJSON() ([]byte, error) { return t.AppendJSON(nil), nil }

// MarshalJSON writes the weights of a typed correction with the digits that were
// typed.
func (a Amended) MarshalJSON() ([]byte, error) {
	type plainAmended Amended
	if a.Step == 0 {
		return plain(plainAmended(a))
	}
	n := a.Step.Places()
	return plain(struct {
		Of     uint64 `json:"of"`
		Reason string `json:"reason"`
		Was    shown  `json:"was"`
		Is     shown  `json:"is"`
		plainAmended
		Step shown `json:"step"`
	}{a.Of, a.Reason, shown{a.Was, n}, shown{a.Is, n}, plainAmended(a), shown{a.Step, n}})
}

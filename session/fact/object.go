package fact

import (
	"bytes"
	"encoding/json"

	"tared/protocol"
)

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

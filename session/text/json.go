package text

import (
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"strconv"
	"time"
	"unicode/utf8"
)

// MarshalJSON writes what AppendJSON does.
func (m Message) MarshalJSON() ([]byte, error) { return m.AppendJSON(make([]byte, 0, 256)), nil }

// AppendJSON appends {"code", "values", "words"}, each where it is there. Views are
// encoded with every line of a scale, so this is written by hand.
func (m Message) AppendJSON(b []byte) []byte {
	b = append(b, '{')
	if m.Code != "" {
		b = AppendQuoted(append(b, `"code":`...), m.Code)
		if len(m.Values) > 0 {
			b = append(b, `,"values":{`...)
			for i, v := range m.Values {
				if i > 0 {
					b = append(b, ',')
				}
				b = v.appendJSON(append(AppendQuoted(b, v.Name), ':'))
			}
			b = append(b, '}')
		}
	}
	words := m.Words
	if m.Code == "" && m.Values != nil {
		words = m.String() // sentences together are for who reads them now: no record has any
	}
	if words != "" || m.Code == "" {
		if m.Code != "" {
			b = append(b, ',')
		}
		b = AppendQuoted(append(b, `"words":`...), words)
	}
	return append(b, '}')
}

// AppendQuoted appends a string as JSON, the same that encoding/json makes of it.
func AppendQuoted(b []byte, s string) []byte {
	n, from := len(b), 0
	b = append(b, '"')
	for i, r := range s {
		switch {
		case r == '"' || r == '\\':
			b = append(append(b, s[from:i]...), '\\')
			from = i
		case r < ' ' || r == '<' || r == '>' || r == '&' || r == '\u2028' || r == '\u2029' || r == utf8.RuneError:
			j, _ := json.Marshal(s) // a string can always be encoded
			return append(b[:n], j...)
		}
	}
	return append(append(b, s[from:]...), '"')
}

func (v Value) appendJSON(b []byte) []byte {
	switch v.kind {
	case name:
		return AppendQuoted(b, v.text)
	case count:
		return append(b, v.text...)
	case message:
		return v.said.AppendJSON(b)
	}
	b = append(AppendQuoted(append(b, '{'), string(v.kind)), ':')
	return append(AppendQuoted(b, v.text), '}')
}

// UnmarshalJSON reads what MarshalJSON writes, and a plain string as a sentence that is
// written already.
func (m *Message) UnmarshalJSON(b []byte) error {
	*m = Message{}
	if len(b) > 0 && b[0] == '"' {
		return json.Unmarshal(b, &m.Words)
	}
	var read struct {
		Code   string
		Values json.RawMessage
		Words  string
	}
	if err := json.Unmarshal(b, &read); err != nil {
		return err
	}
	m.Code, m.Words = read.Code, read.Words
	if len(read.Values) == 0 {
		return nil
	}
	d := json.NewDecoder(bytes.NewReader(read.Values))
	if _, err := d.Token(); err != nil {
		return err
	}
	for d.More() {
		name, err := d.Token()
		if err != nil {
			return err
		}
		var raw json.RawMessage
		if err := d.Decode(&raw); err != nil {
			return err
		}
		v := Value{Name: fmt.Sprint(name)}
		if err := v.read(raw); err != nil {
			return fmt.Errorf("value %s: %w", v.Name, err)
		}
		m.Values = append(m.Values, v)
	}
	return nil
}

// read takes in what appendJSON writes.
func (v *Value) read(raw json.RawMessage) (err error) {
	switch raw[0] {
	case '"':
		v.kind = name
		return json.Unmarshal(raw, &v.text)
	case '{':
	default:
		var n int
		err := json.Unmarshal(raw, &n)
		v.kind, v.text = count, strconv.Itoa(n)
		return err
	}
	var o map[kind]json.RawMessage
	if err := json.Unmarshal(raw, &o); err != nil {
		return err
	}
	if len(o) != 1 || o["code"] != nil {
		v.kind, v.said = message, &Message{}
		return json.Unmarshal(raw, v.said)
	}
	for v.kind = range o { // the one
		err = json.Unmarshal(o[v.kind], &v.text)
	}
	switch v.kind {
	case names, number, term, mass, percent, date, clock, moment, press:
		return err
	case duration:
		_, bad := time.ParseDuration(v.text)
		return errors.Join(err, bad)
	}
	return fmt.Errorf("%q is no kind of value", v.kind)
}

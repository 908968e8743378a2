package text

import (
	"bytes"
	"encoding/json"
	"fmt"
	"strconv"
	"time"
)

// MarshalJSON writes {"code", "values", "words"}, each where it is there. Views are
// encoded with every line of a scale, so this is written by hand.
func (m Message) MarshalJSON() ([]byte, error) { return m.appendJSON(make([]byte, 0, 256)), nil }

func (m Message) appendJSON(b []byte) []byte {
	b = append(b, '{')
	if m.Code != "" {
		b = quoted(append(b, `"code":`...), m.Code)
		if len(m.Values) > 0 {
			b = append(b, `,"values":{`...)
			for i, v := range m.Values {
				if i > 0 {
					b = append(b, ',')
				}
				b = v.is.appendJSON(append(quoted(b, v.Name), ':'))
			}
			b = append(b, '}')
		}
	}
	if m.Words != "" || m.Code == "" {
		if m.Code != "" {
			b = append(b, ',')
		}
		b = quoted(append(b, `"words":`...), m.Words)
	}
	return append(b, '}')
}

// quoted appends a JSON string.
func quoted(b []byte, s string) []byte {
	for i := 0; i < len(s); i++ {
		if c := s[i]; c < ' ' || c >= 0x7f || c == '"' || c == '\\' || c == '<' || c == '>' || c == '&' {
			j, _ := json.Marshal(s) // a string can always be encoded
			return append(b, j...)
		}
	}
	return append(append(append(b, '"'), s...), '"')
}

func object(b []byte, key, value string) []byte {
	return append(quoted(append(quoted(append(b, '{'), key), ':'), value), '}')
}

func (v named) appendJSON(b []byte) []byte  { return quoted(b, string(v)) }
func (v count) appendJSON(b []byte) []byte  { return strconv.AppendInt(b, int64(v), 10) }
func (v names) appendJSON(b []byte) []byte  { return object(b, "names", string(v)) }
func (v number) appendJSON(b []byte) []byte { return object(b, "number", string(v)) }
func (v mass) appendJSON(b []byte) []byte   { return object(b, "g", string(v)) }
func (v share) appendJSON(b []byte) []byte  { return object(b, "percent", string(v)) }
func (v moment) appendJSON(b []byte) []byte { return object(b, v.as, v.at) }
func (v nested) appendJSON(b []byte) []byte { return Message(v).appendJSON(b) }
func (v duration) appendJSON(b []byte) []byte {
	return object(b, "for", time.Duration(v).String())
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
		is, err := readContent(raw)
		if err != nil {
			return fmt.Errorf("value %v: %w", name, err)
		}
		m.Values = append(m.Values, Value{fmt.Sprint(name), is})
	}
	return nil
}

func readContent(raw json.RawMessage) (content, error) {
	switch raw[0] {
	case '"':
		var s string
		err := json.Unmarshal(raw, &s)
		return named(s), err
	case '{':
	default:
		var n int
		err := json.Unmarshal(raw, &n)
		return count(n), err
	}
	var o map[string]json.RawMessage
	if err := json.Unmarshal(raw, &o); err != nil {
		return nil, err
	}
	if len(o) == 1 && o["words"] == nil && o["code"] == nil {
		for key, v := range o {
			var s string
			if err := json.Unmarshal(v, &s); err != nil {
				return nil, err
			}
			return readQuantity(key, s)
		}
	}
	var m Message
	err := json.Unmarshal(raw, &m)
	return nested(m), err
}

func readQuantity(key, s string) (content, error) {
	switch key {
	case "names":
		return names(s), nil
	case "number":
		return number(s), nil
	case "g":
		return mass(s), nil
	case "percent":
		return share(s), nil
	case "date", "clock", "at":
		return moment{s, key}, nil
	case "for":
		d, err := time.ParseDuration(s)
		return duration(d), err
	}
	return nil, fmt.Errorf("%q is no kind of value", key)
}

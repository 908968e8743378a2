// Package facttest writes facts as lines of a journal, for the tests of those who read
// them. The journal itself writes them with "prev", which only it knows.
package facttest

import (
	"bytes"
	"encoding/json"
	"time"

	"tared/session/fact"
)

// Line is a fact as one JSON object without a newline: the fields of the head, then those
// of the body.
func Line(f fact.Fact) ([]byte, error) {
	head, err := Body(struct {
		Seq   uint64    `json:"seq"`
		At    time.Time `json:"at"`
		Kind  string    `json:"kind"`
		Batch string    `json:"batch"`
		By    string    `json:"by"`
	}{f.Seq, f.At, f.Body.Kind(), f.Batch, f.By})
	if err != nil {
		return nil, err
	}
	body, err := Body(f.Body)
	if err != nil || string(body) == "{}" {
		return head, err
	}
	return append(append(head[:len(head)-1], ','), body[1:]...), nil
}

// Body is a body, or a part of one, alone, without escapes for HTML.
func Body(b any) ([]byte, error) {
	var out bytes.Buffer
	e := json.NewEncoder(&out)
	e.SetEscapeHTML(false)
	err := e.Encode(b)
	return bytes.TrimSuffix(out.Bytes(), []byte("\n")), err
}

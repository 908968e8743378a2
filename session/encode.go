package session

import (
	"bytes"
	"encoding/json"
	"reflect"
	"time"

	"tared/session/text"
)

// Encoder puts views into words and into JSON. It keeps what seldom changes: most views
// come of a line of a scale, on whose way every encoding counts. The zero value is ready.
type Encoder struct {
	of     seldom // of the last view
	seldom []byte
	quick  bytes.Buffer
}

// seldom is the part of a view that seldom changes.
type seldom struct {
	Recording Recording  `json:"recording"`
	Batch     *BatchView `json:"batch"`
	Asked     *AskedView `json:"asked"`
	Keys      []KeyView  `json:"keys"`
	Said      []Notice   `json:"said"`
	Simulated bool       `json:"simulated"`
	Due       []DueView  `json:"due"`

	Learnt []LearntView `json:"learnt"`
}

// quick is the part of a view that changes with every line.
type quick struct {
	Seq    uint64      `json:"seq"`
	At     time.Time   `json:"at"`
	Now    NowView     `json:"now"`
	Scales []ScaleView `json:"scales"`
}

// Encode gives the whole of a view, in bytes that nothing changes afterwards.
func (e *Encoder) Encode(v View) []byte {
	// Batch and Asked are the same pointers as long as they are the same.
	if s := (seldom{v.Recording, v.Batch, v.Asked, v.Keys, v.Said, v.Simulated, v.Due, v.Learnt}); e.seldom == nil || !reflect.DeepEqual(s, e.of) {
		e.of = s
		w := View{Recording: s.Recording, Batch: s.Batch, Asked: s.Asked, Keys: s.Keys, Said: s.Said, Due: s.Due, Learnt: s.Learnt}.In(text.English)
		var b bytes.Buffer
		encode(&b, seldom{w.Recording, w.Batch, w.Asked, w.Keys, w.Said, s.Simulated, w.Due, w.Learnt})
		e.seldom = b.Bytes()
	}
	w := View{Now: v.Now, Scales: v.Scales}.In(text.English)
	e.quick.Reset()
	encode(&e.quick, quick{v.Seq, v.At, w.Now, w.Scales})
	q := e.quick.Bytes()
	out := make([]byte, 0, len(q)+len(e.seldom))
	return append(append(append(out, q[:len(q)-1]...), ','), e.seldom[1:]...)
}

// encode writes a part of a view, which holds nothing that cannot be encoded.
func encode(b *bytes.Buffer, part any) {
	if err := json.NewEncoder(b).Encode(part); err != nil {
		panic(err)
	}
	b.Truncate(b.Len() - 1) // its newline
}

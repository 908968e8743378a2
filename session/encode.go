package session

import (
	"encoding/json"
	"reflect"
	"tared/session/text"
	"time"
)

// seldom is the part of a view that seldom changes, and its encoding. Most views
// come of a line of a scale, on whose way every encoding counts.
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

func (s seldom) in(l *text.Language) seldom {
	v := View{Recording: s.Recording, Batch: s.Batch, Asked: s.Asked, Keys: s.Keys, Said: s.Said, Due: s.Due}.In(l)
	s.Recording, s.Batch, s.Asked, s.Keys, s.Said, s.Due = v.Recording, v.Batch, v.Asked, v.Keys, v.Said, v.Due
	return s
}

func (q quick) in(l *text.Language) quick {
	v := View{Now: q.Now, Scales: q.Scales}.In(l)
	q.Now, q.Scales = v.Now, v.Scales
	return q
}

// encoder encodes views, and what seldom changes only when it changed.
type encoder struct {
	slow     seldom
	slowJSON []byte
}

func (e *encoder) encode(v *View) []byte {
	// Batch and Asked are the same pointers as long as they are the same.
	if s := (seldom{v.Recording, v.Batch, v.Asked, v.Keys, v.Said, v.Simulated, v.Due, v.Learnt}); e.slowJSON == nil || !reflect.DeepEqual(s, e.slow) {
		e.slow, e.slowJSON = s, encoded(s.in(text.English))
	}
	j := encoded(quick{v.Seq, v.At, v.Now, v.Scales}.in(text.English))
	return append(append(j[:len(j)-1], ','), e.slowJSON[1:]...)
}

// encoded gives the JSON of a part of a view, which holds nothing that cannot be
// encoded.
func encoded(part any) []byte {
	j, err := json.Marshal(part)
	if err != nil {
		panic(err)
	}
	return j
}

package session

import (
	"strings"
	"time"

	"tared/session/signer"
)

// markLetters follow the date in a batch's mark.
var markLetters = strings.ToLower(signer.Letters)

// afterMark is the mark of a cup that takes the place of another: 260302a-3, then
// 260302a-3a, 260302a-3c and on through markLetters.
func afterMark(mark string) string {
	last := mark[len(mark)-1:]
	if k := strings.Index(markLetters, last); k >= 0 && k+1 < len(markLetters) {
		return mark[:len(mark)-1] + markLetters[k+1:k+2]
	}
	return mark + markLetters[:1]
}

// marks are those of all batches.
type marks map[string]bool

func (m *marks) add(mark string) {
	if mark == "" || (*m)[mark] {
		return
	}
	if *m == nil {
		*m = marks{}
	}
	(*m)[strings.Clone(mark)] = true // it may be a part of a line
}

// next is the mark of a batch that a bench of that sign begins: KA260302a.
func (m marks) next(at time.Time, sign string) string {
	day := sign + at.Format("060102")
	for n := 0; ; n++ {
		mark := day
		for k := n; ; k = k/len(markLetters) - 1 {
			mark = day + string(markLetters[k%len(markLetters)]) + mark[len(day):]
			if k < len(markLetters) {
				break
			}
		}
		if !m[mark] {
			return mark
		}
	}
}

package material

import (
	"regexp"
	"slices"

	"tared/session/text"
)

var statement = regexp.MustCompile(`^H[234]\d\d(?:i|D|F|FD|d|f|fd|Df|Fd)?$`)

func validCode(c string) bool { return statement.MatchString(c) }

// HazardLines gives what to say before the bag is opened: the lines and the
// air limits, each with its source in brackets, in a language; nil: in English.
func (m Material) HazardLines(l *text.Language) []string {
	if m.said != nil && l == nil {
		return slices.Clone(m.said)
	}
	return m.hazardLines(l)
}

func (m Material) hazardLines(l *text.Language) (out []string) {
	for _, s := range m.Hazards() {
		out = append(out, l.Say(s))
	}
	return out
}

// Hazards are the lines of HazardLines.
func (m Material) Hazards() (out []text.Message) {
	for _, s := range slices.Concat(m.Lines, m.Limits[:len(m.Limits)-len(m.air)]) {
		out = append(out, s.line())
	}
	for _, a := range m.air {
		out = append(out, shelf().limit(a))
	}
	if len(m.Codes) > 0 {
		if m.row.None() {
			out = append(out, text.New("material.codes", text.Names("codes", m.Codes), text.Term("source", m.CodesBy)))
		} else {
			out = append(out, text.New("material.codes", text.Names("codes", m.Codes), text.Said("source", m.row)))
		}
	}
	if !m.none.None() {
		out = append(out, m.none)
	}
	if len(m.Australia) > 0 {
		out = append(out, text.New("material.australia", text.Names("codes", m.Australia), text.Term("source", shelf().cite("HCIS"))))
	}
	return out
}

// line says it with its source.
func (s Said) line() text.Message {
	return text.New("material.line", text.Term("words", s.Words), text.Term("source", s.Source))
}

// Unknown is what to say of a dry material that no table has.
func Unknown() []text.Message {
	unknown := shelf().lines["unknown"]
	return []text.Message{Said{unknown.Words, shelf().cite(unknown.Source)}.line(), shelf().limit(shelf().limits["dust"])}
}

// UnknownLines is Unknown in the words of a language; nil: in English.
func UnknownLines(l *text.Language) (out []string) {
	for _, m := range Unknown() {
		out = append(out, l.Say(m))
	}
	return out
}

package material

import (
	"regexp"
	"slices"

	"tared/session/text"
)

var statement = regexp.MustCompile(`^H[234]\d\d(?:i|D|F|FD|d|f|fd|Df|Fd)?$`)

func validCode(c string) bool { return statement.MatchString(c) }

// HazardLines gives what to say before the bag is opened: the lines and the
// air limits, each with its source in brackets.
func (m Material) HazardLines() []string {
	if m.said != nil {
		return slices.Clone(m.said)
	}
	return m.hazardLines()
}

func (m Material) hazardLines() []string {
	var out []string
	for _, s := range slices.Concat(m.Lines, m.Limits) {
		out = append(out, text.New("material.line", text.Name("words", s.Words), text.Name("source", s.Source)).String())
	}
	if len(m.Codes) > 0 {
		out = append(out, text.New("material.codes", text.Names("codes", m.Codes), text.Name("source", m.CodesBy)).String())
	}
	if m.none != "" {
		out = append(out, m.none)
	}
	if len(m.Australia) > 0 {
		out = append(out, text.New("material.australia", text.Names("codes", m.Australia), text.Name("source", shelf().cite("HCIS"))).String())
	}
	return out
}

// UnknownLines gives what to say of a dry material that no table has.
func UnknownLines() []string {
	var out []string
	for _, s := range []Said{{shelf().lines["unknown"].Words, shelf().cite(shelf().lines["unknown"].Source)}, shelf().limit(shelf().limits["dust"])} {
		out = append(out, text.New("material.line", text.Name("words", s.Words), text.Name("source", s.Source)).String())
	}
	return out
}

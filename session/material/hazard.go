package material

import (
	"regexp"
	"slices"

	"tared/session/text"
)

var code = regexp.MustCompile(`^H[234]\d\d(?:i|D|F|FD|d|f|fd|Df|Fd)?$`)

func validCode(c string) bool { return code.MatchString(c) }

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
	return out
}

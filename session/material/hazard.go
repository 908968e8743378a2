package material

import (
	"regexp"
	"slices"
	"strings"
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
		out = append(out, s.Words+" ("+s.Source+")")
	}
	if len(m.Codes) > 0 {
		out = append(out, "hazard statements "+strings.Join(m.Codes, ", ")+" ("+m.CodesBy+")")
	}
	return out
}

package text

import "strings"

// Pattern gives a sentence with the names of its values in braces, for a script of a
// page that puts them in.
func (l *Language) Pattern(code string) string {
	s, ok := l.sentence(code)
	if !ok {
		return "[" + code + "]"
	}
	var b strings.Builder
	for _, p := range s.forms[other] {
		b.WriteString(p.plain)
		if p.value != "" {
			b.WriteString("{" + p.value + "}")
		}
	}
	return b.String()
}

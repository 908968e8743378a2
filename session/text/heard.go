package text

import (
	"slices"
	"strings"
	"sync"
)

// The packages that read a scale stand before this one on the way of a reading, and know no
// codes: they say in English what is wrong with a port or a line. Their sentences stand in the
// area heard too, with what changes in them as {1}; so a reader gets them in their own words. What
// is not known there stays as it was said.

// heards are the codes of the area, those with the most to be recognised by first.
var heards = sync.OnceValue(func() (codes []string) {
	plain := func(code string) (n int) {
		for _, p := range English.sentences()[code].forms[other] {
			n += len(p.plain)
		}
		return n
	}
	for code := range English.sentences() {
		if strings.HasPrefix(code, "heard.") {
			codes = append(codes, code)
		}
	}
	slices.SortFunc(codes, func(a, b string) int {
		if by := plain(b) - plain(a); by != 0 {
			return by
		}
		return strings.Compare(a, b)
	})
	return codes
})

// heard puts into a language what was said in English.
func (l *Language) heard(english string) string {
	if english == "" {
		return english
	}
	for _, code := range heards() {
		values, ok := taken(English.sentences()[code].forms[other], english)
		if !ok {
			continue
		}
		for i := range values {
			values[i].text = l.heard(values[i].text)
		}
		return l.Say(Message{Code: code, Values: values})
	}
	return english
}

// taken gives what stands in words where the values of a sentence stand, if they are that sentence.
func taken(pieces []piece, words string) (values []Value, ok bool) {
	as := ""
	for _, p := range pieces {
		at := strings.Index(words, p.plain)
		switch {
		case p.plain == "" && as == "":
		case as == "" && at != 0, at < 0:
			return nil, false
		case as != "":
			values = append(values, Value{Name: as, kind: name, text: words[:at]})
		}
		words, as = words[max(at, 0)+len(p.plain):], p.value
	}
	if as != "" {
		return append(values, Value{Name: as, kind: name, text: words}), true
	}
	return values, words == ""
}

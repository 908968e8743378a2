package session

import (
	"slices"
	"strconv"
	"strings"

	"tared/session/text"
)

// A second person looks at what is easily got wrong, where the workshop asks for
// that: each portion of a strong colourant, each weight that was typed. The bench
// goes on when somebody other than the one who weighed says yes; the record has
// both names. Names are typed, here as elsewhere, and prove nobody.

// confirmKinds are what a second person can be asked for.
var confirmKinds = []string{"strong", "typed"}

// CheckConfirm reads what a second person is to confirm: strong, typed, or both
// with a comma between; empty: nothing.
func CheckConfirm(s string) ([]string, error) {
	var out []string
	for _, w := range strings.Split(s, ",") {
		w = strings.ToLower(strings.TrimSpace(w))
		switch {
		case w == "" || slices.Contains(out, w):
		case !slices.Contains(confirmKinds, w):
			return nil, text.Refuse("command.confirm", text.Name("word", strconv.Quote(w)))
		default:
			out = append(out, w)
		}
	}
	return out, nil
}

package protocol

import (
	"slices"
	"strings"
)

// side gives the expression of what stands on one side of the number, behind it or
// before it. All lines have the same there, but for one mark that may change or be
// missing, and but for numbers such as a count or the time.
func (s *shape) side(of func(aroundNumber) []piece, behind bool) (string, bool) {
	lines := make([][]piece, len(s.rows))
	tail := false // blanks behind all
	for i, a := range s.rows {
		lines[i] = of(a)
		if n := len(lines[i]); n > 0 && lines[i][n-1].isBlankTail() {
			lines[i], tail = lines[i][:n-1], true
		}
	}
	first, last := sharedEnds(lines)
	marks, vary := make([]string, len(lines)), false
	for i, l := range lines {
		marks[i] = textOf(l[first : len(l)-last])
		vary = vary || marks[i] != marks[0]
	}
	if !vary {
		first, last = len(lines[0]), 0
	}
	var b strings.Builder
	missing := slices.Contains(marks, "")
	for i := range first {
		b.WriteString(together(lines, func(l []piece) piece { return l[i] }))
	}
	if vary {
		expr, ok := s.mark(marks)
		if !ok {
			return "", false
		}
		b.WriteString(" *" + expr)
		if missing && (last > 0 || behind) {
			b.WriteString(" *")
		}
	}
	for i := range last {
		of := together(lines, func(l []piece) piece { return l[len(l)-last+i] })
		if i == 0 && missing {
			of = strings.TrimLeft(of, " *+")
		}
		b.WriteString(of)
	}
	if behind && tail && !strings.HasSuffix(b.String(), " *") {
		b.WriteString(" *")
	}
	return b.String(), true
}

// sharedEnds counts the pieces that all lines begin and end with. Numbers are alike.
func sharedEnds(lines [][]piece) (first, last int) {
	same := func(a, b piece) bool { return a.kind == b.kind && (a.kind == aNumber || a.text == b.text) }
	least := len(lines[0])
	for _, l := range lines {
		least = min(least, len(l))
	}
	all := func(at func(l []piece) piece) bool {
		return !slices.ContainsFunc(lines, func(l []piece) bool { return !same(at(l), at(lines[0])) })
	}
	for first < least && all(func(l []piece) piece { return l[first] }) {
		first++
	}
	for last < least-first && all(func(l []piece) piece { return l[len(l)-1-last] }) {
		last++
	}
	return first, last
}

// together writes the piece that all lines have at one place.
func together(lines [][]piece, at func(l []piece) piece) string {
	gap, text, vary := gaps{least: -1}, at(lines[0]).text, false
	for _, l := range lines {
		gap.see(at(l).blank)
		vary = vary || at(l).text != text
	}
	if vary {
		return gap.expr() + `[0-9]+(?:[.,][0-9]+)?`
	}
	return gap.expr() + quoted(text)
}

func textOf(all []piece) string {
	var b strings.Builder
	for i, t := range all {
		if i > 0 {
			b.WriteString(strings.Repeat(" ", t.blank))
		}
		b.WriteString(t.text)
	}
	return b.String()
}

// mostMarks is how many texts one place can have and still be a mark: more are a name, or
// a check of the line.
const mostMarks = 4

// mark gives the expression of a mark that changes from line to line. What holds digits
// or a sign is none: that may be part of a number.
func (s *shape) mark(marks []string) (string, bool) {
	seen := map[string]bool{}
	for _, m := range marks {
		if seen[m] = true; strings.ContainsAny(m, "0123456789+-") {
			return "", false
		}
	}
	if len(seen) > mostMarks {
		return "", false
	}
	rest, guessed := knownRest(seen), false
	if rest == nil {
		rest, guessed = s.restOf(marks, seen), true
	}
	if rest == nil || s.stable != nil {
		// It may say tare, total or fault: only lines with the usual one are read.
		s.guesses = append(s.guesses, GuessMark)
		return quoted(usual(marks)), true
	}
	if s.stable = rest; guessed {
		s.guesses = append(s.guesses, GuessRest)
	}
	return "(?P<stable>" + alternatives(seen) + ")", true
}

// usual gives the mark that most lines have.
func usual(marks []string) string {
	count, best := map[string]int{}, marks[0]
	for _, m := range marks {
		if count[m]++; count[m] > count[best] {
			best = m
		}
	}
	return best
}

// restWords are marks that say whether a load rests, as the formats of this package have
// them; see there for the sources.
var restWords = []map[string]bool{
	{"ST": true, "US": false}, {"S": true, "U": false}, {"S": true, "D": false}, {"": true, "?": false},
	{"S": true, "M": false}, {"S": true, "": false},
}

// knownRest gives what the marks mean, where all of them are known.
func knownRest(seen map[string]bool) map[string]bool {
	for _, words := range restWords {
		known := len(seen) == len(words)
		for m := range seen {
			_, ok := words[m]
			known = known && ok
		}
		if known {
			return words
		}
	}
	return nil
}

// restOf tells which of two marks means rest from how the number moves: it stands still
// under the one, and not under the other.
func (s *shape) restOf(marks []string, seen map[string]bool) map[string]bool {
	if len(seen) != 2 {
		return nil
	}
	still, moved := map[string]int{}, map[string]int{}
	for i := 1; i < len(marks); i++ {
		if a, b := s.rows[i], s.rows[i-1]; a.number == b.number && a.minus == b.minus {
			still[marks[i]]++
		} else {
			moved[marks[i]]++
		}
	}
	rest := map[string]bool{}
	for m := range seen {
		switch n := still[m] + moved[m]; {
		case n < 2:
			return nil
		case moved[m]*4 <= n:
			rest[m] = true
		case moved[m]*2 >= n:
			rest[m] = false
		default:
			return nil
		}
	}
	all := make([]bool, 0, 2)
	for _, r := range rest {
		all = append(all, r)
	}
	if all[0] == all[1] {
		return nil
	}
	return rest
}

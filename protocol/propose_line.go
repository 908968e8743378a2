package protocol

import (
	"fmt"
	"slices"
	"strings"
)

// aroundNumber is a line as seen from one of its numbers.
type aroundNumber struct {
	before, after []piece
	number        string
	minus         bool
	padded        bool // two blanks or more stand before it, or zeros that fill a column
}

// around looks at a line from its number k; ok is false where what touches the number
// belongs to it: the rest of 1'234.5, of 12:07.50, of 1.2E+03.
func (r wireRow) around(k int) (a aroundNumber, ok bool) {
	at := -1
	for i, t := range r.all {
		if t.kind == aNumber {
			if k--; k < 0 {
				at = i
				break
			}
		}
	}
	n := r.all[at]
	before, after := r.all[:at], slices.Clone(r.all[at+1:])
	blanks := n.blank
	if last := len(before) - 1; last >= 0 && before[last].kind == aSign {
		a.minus = before[last].text == "-"
		blanks += before[last].blank
		before = before[:last]
	}
	if goesOn(before, blanks) || len(after) > 0 && after[0].blank == 0 && partOfNumber(after) {
		return a, false
	}
	a.before, a.after, a.number = before, parted(after), n.text
	a.padded = blanks > 1 || len(n.text) > 1 && n.text[0] == '0' && isDigit(n.text[1])
	return a, true
}

// goesOn tells whether a number that so many blanks stand before is the rest of the one
// before it.
func goesOn(before []piece, blanks int) bool {
	last := len(before) - 1
	if last < 0 || blanks > 0 {
		return false
	}
	t := before[last]
	joins := t.kind == aMark && strings.Contains(".,':/[_^", t.text) || t.kind == aWord && strings.EqualFold(t.text, "e")
	return joins && (t.text == "." || last > 0 && t.blank == 0 && before[last-1].kind == aNumber)
}

func partOfNumber(after []piece) bool {
	switch t := after[0]; {
	case t.kind == aMark && strings.Contains(".,':/[_^", t.text):
		return true
	case t.kind == aSign:
		return len(after) == 1 || after[1].kind == aNumber // a minus behind the number
	case t.kind == aWord && strings.EqualFold(t.text, "e"):
		return len(after) > 1 && (after[1].kind == aSign || after[1].kind == aNumber)
	}
	return false
}

// parted takes a letter of state off the unit that it stands at, as in kgS.
func parted(after []piece) []piece {
	if len(after) == 0 || after[0].kind != aWord {
		return after
	}
	w, end := after[0], len(after[0].text)-1
	if _, ok := massWord(w.text); ok || end < 1 || !strings.Contains("SUDM", w.text[end:]) {
		return after
	}
	if _, ok := massWord(w.text[:end]); !ok {
		return after
	}
	return append([]piece{{aWord, w.text[:end], w.blank}, {aWord, w.text[end:], 0}}, after[1:]...)
}

// massWord finds a unit of mass behind a number. A lone T is a tare as often as a tonne.
func massWord(w string) (Unit, bool) {
	u, ok := LookupUnit(w)
	return u, ok && u.IsMass() && u != UnitTonne
}

// shape is a Pattern being made.
type shape struct {
	rows     []aroundNumber
	guesses  []Guess
	stable   map[string]bool
	unit     Unit
	comma    bool
	unitExpr string
	blank    bool // lines without the unit are among them
}

// propose makes the format in which number k is the weight.
func propose(rows []wireRow, k int, end string, unit Unit) (Proposal, int, Unclear) {
	s := &shape{}
	for _, r := range rows {
		a, ok := r.around(k)
		if !ok {
			return Proposal{}, 0, UnclearDigits
		}
		s.rows = append(s.rows, a)
	}
	number, ok := s.number()
	if !ok {
		return Proposal{}, 0, UnclearDigits
	}
	if why := s.findUnit(); why != "" {
		return Proposal{}, 0, why
	}
	before, ok := s.side(func(a aroundNumber) []piece { return a.before }, false)
	after, ok2 := s.side(func(a aroundNumber) []piece { return a.after }, true)
	if !ok || !ok2 {
		return Proposal{}, 0, UnclearUneven
	}
	p := Proposal{Unit: s.unit, Pattern: Pattern{Expr: before + ` *(?P<sign>[-+]?) *(?P<number>` + number + `)` + s.unitExpr + after,
		End: end, Stable: s.stable, DecimalComma: s.comma, Length: s.length(rows)}}
	if end == "" {
		p.Pattern.End = ""
	}
	switch {
	case s.blank:
		p.Pattern.BlankUnit = string(s.unit)
	case s.unit == UnitNone && unit != UnitNone:
		p.Unit, p.Asked, p.Pattern.BlankUnit = unit, true, string(unit)
	}
	if !p.reads(rows, s.rows) {
		return Proposal{}, 0, UnclearUneven
	}
	if p.Guesses = s.guesses; !p.Minus {
		p.Guesses = append(p.Guesses, GuessMinus)
	}
	if p.Read < agreeing {
		p.Guesses = append(p.Guesses, GuessFew)
	}
	return p, s.rank(), ""
}

// agreeing is how many lines show their shape.
const agreeing = 3

// reads tries the format on the lines that it was made of: each that it reads must say
// the number that stands there, and most must be read.
func (p *Proposal) reads(rows []wireRow, at []aroundNumber) bool {
	pattern := p.Pattern
	pattern.Name = "proposed"
	f, err := CompilePattern(pattern)
	if err != nil {
		return false
	}
	for i, row := range rows {
		var r Reading
		if f.Parse(row.line, &r) != nil || r.Status != OK {
			continue
		}
		want, ok := ParseDigits([]byte(strings.Replace(at[i].number, ",", ".", 1)))
		if want.Neg = at[i].minus; !ok || r.Value != want {
			return false
		}
		p.Read, p.Shows, p.Minus = p.Read+1, r.Value, p.Minus || r.Value.Neg
	}
	return p.Read*3 >= len(rows)*2
}

// rank is the higher the likelier the number is the weight.
func (s *shape) rank() (n int) {
	moves := map[string]bool{}
	for _, a := range s.rows {
		moves[a.number] = true
	}
	if s.unit != UnitNone {
		n += 4
	}
	if strings.ContainsAny(s.rows[0].number, ".,") {
		n += 2
	}
	if len(moves) > 1 {
		n++
	}
	return n
}

// number gives the expression of the number.
func (s *shape) number() (string, bool) {
	marks, places := map[string]bool{}, map[int]bool{}
	sure := false // a comma cannot mark thousands
	for _, a := range s.rows {
		i := strings.IndexAny(a.number, ".,")
		if i < 0 {
			places[0] = true
			continue
		}
		marks[a.number[i:i+1]] = true
		places[len(a.number)-i-1] = true
		sure = sure || len(a.number)-i-1 != 3 || a.number[0] == '0'
	}
	if len(marks) > 1 {
		return "", false
	}
	mark := `\.`
	if s.comma = marks[","]; s.comma {
		mark = ","
		if !sure {
			s.guesses = append(s.guesses, GuessComma)
		}
	}
	if len(places) > 1 {
		return `[0-9]+(?:` + mark + `[0-9]+)?`, true
	}
	for n := range places {
		if n == 0 {
			return `[0-9]+`, true
		}
		return `[0-9]+` + mark + times(`[0-9]`, n), true
	}
	return "", false
}

func times(what string, n int) string {
	if n == 1 {
		return what
	}
	return fmt.Sprintf("%s{%d}", what, n)
}

// length gives the length of all lines where they show that it is always the same: it
// stays while the number has other digits, or is filled up with blanks or zeros.
func (s *shape) length(rows []wireRow) int {
	n := len(rows[0].line)
	padded, digits := false, len(s.rows[0].number)
	for i, r := range rows {
		if len(r.line) != n {
			return 0
		}
		padded = padded || s.rows[i].padded || len(s.rows[i].number) != digits
	}
	if !padded || len(rows) < agreeing {
		return 0
	}
	return n
}

// findUnit looks for the unit behind the number, and takes it off what stands there.
func (s *shape) findUnit() Unclear {
	seen := map[string]bool{}
	touched, gap := false, gaps{least: -1}
	for _, a := range s.rows {
		word := ""
		if len(a.after) > 0 {
			word = a.after[0].text
		}
		if u, ok := LookupUnit(word); ok && (u == UnitPieces || u == UnitPercent) {
			return UnclearNotMass
		}
		u, ok := massWord(word)
		switch {
		case ok:
			s.unit, seen[word] = u, true
			gap.see(a.after[0].blank)
			touched = touched || len(a.after) > 1 && a.after[1].blank == 0 && a.after[1].kind != aMark
		case word != "" && a.after[0].kind == aWord:
			s.unit = UnitNone
			return "" // letters that are no unit: they must always be there
		default:
			s.blank = true
		}
	}
	s.takeUnit(seen, touched, gap)
	return ""
}

// takeUnit writes the expression of a unit with these letters, and takes it off what stands
// behind the number. touched says that something stands close behind it.
func (s *shape) takeUnit(seen map[string]bool, touched bool, gap gaps) {
	if len(seen) == 0 {
		s.blank = false
		return
	}
	if seen["G"] && len(seen) == 1 {
		s.guesses = append(s.guesses, GuessGram)
	}
	letters := `[A-Za-z]{1,3}`
	if touched || s.blank {
		letters = alternatives(seen)
	}
	for i := range s.rows {
		if a := &s.rows[i]; len(a.after) > 0 && seen[a.after[0].text] {
			a.after = a.after[1:]
		}
	}
	between := ""
	if gap.most > 0 {
		between = " *" // a longer unit takes a blank
	}
	s.unitExpr = between + `(?P<unit>` + letters + `)`
	if s.blank {
		s.unitExpr = ` *(?P<stable>(?P<unit>` + letters + `)?) *`
		s.guesses = append(s.guesses, GuessBlank)
		s.stable = map[string]bool{"": false}
		for word := range seen {
			s.stable[word] = true
		}
	}
}

// gaps are the blanks met at one place of a line.
type gaps struct{ least, most int }

func (g *gaps) see(n int) {
	if g.least < 0 || n < g.least {
		g.least = n
	}
	g.most = max(g.most, n)
}

func (g gaps) expr() string {
	switch {
	case g.least == g.most:
		return strings.Repeat(" ", g.most)
	case g.least == 0:
		return " *"
	}
	return " +"
}

// alternatives writes texts as an expression that matches each of them alone.
func alternatives(texts map[string]bool) string {
	var all []string
	for t := range texts {
		all = append(all, quoted(t))
	}
	slices.Sort(all)
	slices.Reverse(all) // the empty one last
	return strings.Join(all, "|")
}

// quoted writes a text so that an expression means it letter by letter, in signs that a
// file can hold between single quotes.
func quoted(text string) string {
	var b strings.Builder
	for _, c := range []byte(text) {
		switch {
		case c < ' ' || c > '~' || c == '\'':
			fmt.Fprintf(&b, `\x%02x`, c)
		case strings.IndexByte(`\.+*?()|[]{}^$`, c) >= 0:
			b.WriteByte('\\')
			b.WriteByte(c)
		default:
			b.WriteByte(c)
		}
	}
	return b.String()
}

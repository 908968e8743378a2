package protocol

import (
	"bytes"
	"errors"
	"fmt"
	"regexp"
	"regexp/syntax"
	"slices"
	"strings"
)

// Pattern declares a text format that is not built in: a regular expression with
// named groups, for an instrument that its owner knows.
//
//	Pattern{
//		Name: "kitchen-scale",
//		Expr: `W(?P<stable>[ ?]) (?P<sign>[ -]) *(?P<number>[0-9]+\.[0-9]) (?P<unit>g|kg)`,
//		Stable: map[string]bool{" ": true, "?": false},
//		Overload: `W.  *OVER`,
//	}
//
// The expressions are those of Go (https://pkg.go.dev/regexp/syntax) and must
// match a whole frame.
type Pattern struct {
	Name    string // must differ from the built-in names
	Summary string // one line for people; may be empty

	// Expr matches a frame that is a weight. The group "number" must be there:
	// digits, with one point at most. The groups "sign" ("-", "+", or blanks),
	// "unit", "stable" and "mode" may be there; blanks around what they match
	// are of no account, except in "stable".
	Expr string
	// Overload and Underload match frames that say so. They go before Expr, and
	// may be empty.
	Overload, Underload string

	// End closes a frame: "\r\n", "\x03". Empty: any CR or LF, as with the
	// built-in lines.
	End string

	// Stable says what the text of the group "stable" means. A text that is not
	// here is damage.
	Stable map[string]bool
	// Modes says what the text of the group "mode" means: "gross", "net" or
	// "tare". Empty: G and GS are gross, N and NT net, without regard to case.
	Modes map[string]string
	// Units says what the text of the group "unit" means, for letters of the
	// instrument's own. What is not here is looked up as LookupUnit does.
	Units map[string]string
	// BlankUnit is the unit of a frame in which the group "unit" is missing or
	// blank. Empty: it means nothing by itself.
	BlankUnit string

	// DecimalComma reads a comma in the number as the decimal mark, and refuses
	// a point.
	DecimalComma bool
	// Length is how many bytes a frame has that is a weight, where all have as many;
	// one that Expr matches and that has more or fewer is damage. 0: any.
	Length int
	// Pairs believes a frame only when the next one is equal.
	Pairs bool
	// Lines lists port settings to try; may be empty.
	Lines []Line
}

// ErrPattern is in the chain of every error about a Pattern.
var ErrPattern = errors.New("cannot use this format")

func (p *Pattern) fault(place, what string) error {
	return fmt.Errorf("format %q: %s: %w: %s", p.Name, place, ErrPattern, what)
}

// CompilePattern makes a Format of a Pattern. An error names the field at fault
// and what to write instead.
func CompilePattern(p Pattern) (*Format, error) {
	if p.Name == "" || strings.ContainsAny(p.Name, " \t\r\n\",") {
		return nil, p.fault("name", "it must have a name, without blanks, quotes and commas")
	}
	if _, taken := Lookup(p.Name); taken {
		return nil, p.fault("name", "a built-in format has this name; choose another")
	}
	c := &compiled{decimalComma: p.DecimalComma, stable: p.Stable, length: p.Length}
	var err error
	if c.expr, err = p.expression("expr", p.Expr); err != nil {
		return nil, err
	}
	if err := p.groups(c); err != nil {
		return nil, err
	}
	for _, e := range []struct {
		place, text string
		to          **regexp.Regexp
	}{{"overload", p.Overload, &c.overload}, {"underload", p.Underload, &c.underload}} {
		if e.text == "" {
			continue
		}
		if *e.to, err = p.expression(e.place, e.text); err != nil {
			return nil, err
		}
	}
	if c.modes, err = p.modes(); err != nil {
		return nil, err
	}
	if c.units, err = p.units(); err != nil {
		return nil, err
	}
	f := &Format{
		Name:    p.Name,
		Summary: p.Summary,
		Split:   splitLine,
		Parse:   c.parse,
		Lines:   slices.Clone(p.Lines),
		Pairs:   p.Pairs,
		Ends:    true, // an expression with an optional tail matches a cut frame, too
	}
	if f.Summary == "" {
		f.Summary = "declared by the user"
	}
	if p.End != "" {
		f.Split = splitEnd(p.End)
	}
	if p.BlankUnit != "" {
		u, ok := LookupUnit(p.BlankUnit)
		if !ok {
			return nil, p.fault("blank unit", fmt.Sprintf("%q is no unit; write g, kg, mg, oz, lb, ct or gn", p.BlankUnit))
		}
		f.BlankUnit = u
	}
	return f, nil
}

// expression compiles a text that must match a whole frame.
func (p *Pattern) expression(place, text string) (*regexp.Regexp, error) {
	if text == "" {
		return nil, p.fault(place, "it is empty; write an expression that matches a whole frame")
	}
	// Alone first, so that the message quotes what the user wrote.
	if _, err := regexp.Compile(text); err != nil {
		var bad *syntax.Error
		if errors.As(err, &bad) && bad.Expr != "" {
			at := strings.Index(text, bad.Expr)
			return nil, p.fault(place, fmt.Sprintf("%s at character %d: %s", bad.Code, at+1, bad.Expr))
		}
		return nil, p.fault(place, err.Error())
	}
	e := regexp.MustCompile(`\A(?:` + text + `)\z`)
	if e.MatchString("") {
		return nil, p.fault(place, "it matches an empty frame; ask for at least one character")
	}
	return e, nil
}

// groups finds the named groups and checks that each has what it needs.
func (p *Pattern) groups(c *compiled) error {
	known := map[string]*int{"sign": &c.sign, "number": &c.number, "unit": &c.unit, "stable": &c.stableAt, "mode": &c.mode}
	for _, at := range known {
		*at = -1
	}
	for i, name := range c.expr.SubexpNames() {
		if name == "" {
			continue
		}
		at, ok := known[name]
		switch {
		case !ok:
			return p.fault("expr", fmt.Sprintf("the group %q is not known; the groups are sign, number, unit, stable and mode", name))
		case *at >= 0:
			return p.fault("expr", fmt.Sprintf("the group %q is there twice", name))
		}
		*at = i
	}
	switch {
	case c.number < 0:
		return p.fault("expr", "no group is named number; write the digits as (?P<number>[0-9.]+)")
	case c.stableAt >= 0 && len(p.Stable) == 0:
		return p.fault("stable", "the expression has a group stable, but nothing says what its texts mean")
	case c.stableAt < 0 && len(p.Stable) > 0:
		return p.fault("stable", "it says what texts mean, but the expression has no group stable")
	}
	return nil
}

func (p *Pattern) modes() (map[string]Mode, error) {
	if len(p.Modes) == 0 {
		return map[string]Mode{"": ModeUnsaid, "g": Gross, "gs": Gross, "n": Net, "nt": Net,
			"G": Gross, "GS": Gross, "N": Net, "NT": Net}, nil
	}
	out := map[string]Mode{}
	for text, name := range p.Modes {
		i := slices.Index(modeNames[:], name)
		if i < 0 {
			return nil, p.fault("modes", fmt.Sprintf("%q is none of gross, net and tare", name))
		}
		out[text] = Mode(i)
	}
	return out, nil
}

func (p *Pattern) units() (map[string]Unit, error) {
	out := map[string]Unit{}
	for text, name := range p.Units {
		u, ok := LookupUnit(name)
		if !ok {
			return nil, p.fault("units", fmt.Sprintf("%q is no unit; write g, kg, mg, oz, lb, ct or gn", name))
		}
		out[text] = u
	}
	return out, nil
}

// splitEnd cuts frames that a text of several bytes closes. CR, LF and NUL in
// front of a frame belong to the one before, CR and LF behind it to its end. A
// NUL behind it may have been a character (see splitLine).
func splitEnd(end string) func(b []byte, atEOF bool) (drop int, frame []byte) {
	return func(b []byte, atEOF bool) (drop int, frame []byte) {
		for i := 0; i+len(end) <= len(b); i++ {
			if string(b[i:i+len(end)]) == end {
				return i + len(end), trimEdges(b[:i])
			}
		}
		if atEOF {
			return len(b), trimEdges(b)
		}
		return 0, nil
	}
}

func trimEdges(b []byte) []byte {
	for len(b) > 0 && (isEnd(b[0]) || b[0] == 0) {
		b = b[1:]
	}
	for len(b) > 0 && isEnd(b[len(b)-1]) {
		b = b[:len(b)-1]
	}
	return b
}

// compiled is a Pattern ready to read.
type compiled struct {
	expr, overload, underload          *regexp.Regexp
	sign, number, unit, stableAt, mode int // numbers of the groups; -1: there is none
	stable                             map[string]bool
	modes                              map[string]Mode
	units                              map[string]Unit
	decimalComma                       bool
	length                             int // of a frame; 0: any
}

func (c *compiled) parse(frame []byte, r *Reading) error {
	switch {
	case c.overload != nil && c.overload.Match(frame):
		return r.is(Overload, "")
	case c.underload != nil && c.underload.Match(frame):
		return r.is(Underload, "")
	}
	m := c.expr.FindSubmatchIndex(frame)
	if m == nil {
		if c.wantsComma(frame) {
			return damaged(wantsComma)
		}
		return foreign("the expression does not match")
	}
	if c.length > 0 && len(frame) != c.length {
		return damaged("the line has more or fewer signs than length says")
	}
	group := func(i int) []byte {
		if i < 0 || m[2*i] < 0 {
			return nil
		}
		return frame[m[2*i]:m[2*i+1]]
	}
	num := group(c.number)
	if num == nil {
		return damaged("the group number matched nothing")
	}
	if c.numberLeftOver(frame, m) {
		return damaged("digits, a point or a sign beside the number are not part of it; widen the groups number and sign")
	}
	v, err := c.decimal(num)
	if err != nil {
		return err
	}
	switch sign := string(trimBlanks(group(c.sign))); sign {
	case "", "+":
	case "-":
		v.Neg = true
	default:
		return damaged("the sign is none of '+', '-' and blank")
	}
	if err := c.words(group, r); err != nil {
		return err
	}
	if r.Mode == Tare {
		*r = Reading{Mode: Tare, Why: "this is the tare, not the load"}
		return nil
	}
	r.Status, r.Value = OK, v
	return nil
}

// wantsComma is said where the lines would be read if only the format knew their decimal
// mark.
const wantsComma = "a comma in the number; if it is the decimal mark, the format needs comma = true, and a comma where expr has the point"

// wantsComma tells whether the frame would match with a point in the place of each comma
// that stands between digits.
func (c *compiled) wantsComma(frame []byte) bool {
	if c.decimalComma || bytes.IndexByte(frame, ',') < 0 {
		return false
	}
	pointed := bytes.Clone(frame)
	for i := 1; i+1 < len(frame); i++ {
		if frame[i] == ',' && isDigit(frame[i-1]) && isDigit(frame[i+1]) {
			pointed[i] = '.'
		}
	}
	return c.expr.Match(pointed)
}

// words reads the groups unit, stable and mode.
func (c *compiled) words(group func(int) []byte, r *Reading) error {
	if letters := string(trimBlanks(group(c.unit))); letters != "" {
		u, ok := c.units[letters]
		if !ok {
			if u, ok = LookupUnit(letters); !ok {
				return damaged("unknown unit")
			}
		}
		r.Unit = u
	}
	if c.stableAt >= 0 {
		stable, ok := c.stable[string(group(c.stableAt))]
		if !ok {
			return damaged("nothing says whether this text means stable")
		}
		r.Stable = No
		if stable {
			r.Stable = Yes
		}
	}
	if c.mode >= 0 {
		mode, ok := c.modes[string(trimBlanks(group(c.mode)))]
		if !ok {
			return damaged("unknown mode")
		}
		r.Mode = mode
	}
	return nil
}

// numberLeftOver tells whether the number goes on beside its group. A greedy
// ".*" in front of it eats the leading digits of "120.7" and leaves "0.7"; a
// minus that no group holds would be lost.
func (c *compiled) numberLeftOver(frame []byte, m []int) bool {
	from, to := m[2*c.number], m[2*c.number+1]
	if to < len(frame) && c.ofNumber(frame[to]) {
		return true
	}
	if c.sign >= 0 && m[2*c.sign] >= 0 && m[2*c.sign+1] <= from {
		for _, x := range frame[m[2*c.sign+1]:from] {
			if x == '-' || c.ofNumber(x) {
				return true
			}
		}
		return false
	}
	before := trimRight(frame[:from])
	if len(before) == 0 {
		return false
	}
	last := before[len(before)-1]
	return last == '-' || len(before) == from && c.ofNumber(last)
}

// ofNumber reports whether a byte can stand within a number.
func (c *compiled) ofNumber(x byte) bool {
	return isDigit(x) || x == '.' || x == ',' && c.decimalComma
}

func (c *compiled) decimal(num []byte) (Decimal, error) {
	num = trimBlanks(num)
	if c.decimalComma {
		var buf [24]byte
		if len(num) > len(buf) {
			return Decimal{}, damaged("the number is too long")
		}
		for i, x := range num {
			switch x {
			case ',':
				x = '.'
			case '.':
				return Decimal{}, damaged("a point in a number with a decimal comma")
			}
			buf[i] = x
		}
		num = buf[:len(num)]
	}
	v, ok := number(num)
	switch {
	case !ok && !c.decimalComma && bytes.IndexByte(num, ',') >= 0:
		return Decimal{}, damaged("a comma in the number; if it is the decimal mark, the format needs comma = true")
	case !ok:
		return Decimal{}, damaged("the group number holds more than digits and one decimal mark")
	}
	return v, nil
}

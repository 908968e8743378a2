package recipe

import (
	"errors"
	"math/big"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"unicode"
	"unicode/utf8"

	"tared/protocol"
	"tared/session/text"
)

// header takes a header row: every cell is a known word and one of them means
// the name.
func (p *parser) header(cells []string, sep byte) bool {
	if p.cols != nil || len(p.r.Items) > 0 || len(cells) < 2 {
		return false
	}
	c := columns{sep, -1, -1, -1, -1, -1, ""}
	for i, cell := range cells {
		k := Key(strings.Trim(cell, `"*_:`))
		unit := ""
		if m := inBrackets.FindStringSubmatch(k); m != nil {
			unit = m[1]
			k = Key(inBrackets.ReplaceAllString(k, ""))
		}
		if !c.take(i, k, unit, cells) {
			return false
		}
	}
	if c.name < 0 || c.amount < 0 {
		return false
	}
	p.cols = &c
	return true
}

// take understands the head of column i: its word in lower case, and the unit in brackets
// behind it. False: it is no head.
func (c *columns) take(i int, k, unit string, cells []string) bool {
	switch {
	case nameHeads[k] && c.name < 0:
		c.name = i
	case nameHeads[k] && c.recipe < 0 && bareNames[Key(cells[c.name])]: // "name,material,amount"
		c.recipe, c.name = c.name, i
	case amountHeads[k]:
		if c.amount >= 0 {
			break // the first column of amounts counts: "%" before "grams"
		}
		c.amount = i
		if unit == "" {
			unit = k
		}
		c.unit = headUnit(unit)
	case recipeHeads[k] && c.recipe < 0:
		c.recipe = i
	case kindHeads[k] && c.kind < 0:
		c.kind = i
	case noteHeads[k] && c.note < 0:
		c.note = i
	case otherHeads[k], k == "":
	default:
		return false
	}
	return true
}

// headUnit is the unit that a column of amounts is in; "" where the head names none.
func headUnit(word string) string {
	if u := unitOf(word); u != nil && u.grams != nil {
		return u.name
	}
	return ""
}

// row takes the cells of one material; false when they do not look like that
// and the line is to be read as plain text.
func (p *parser) row(n int, line string, cells []string, note string) bool {
	l := row{n: n, text: line, note: note, addition: p.addition}
	done, recipe := false, false
	if p.cols != nil && p.cols.sep != ' ' {
		done, recipe = p.columnRow(&l, cells), true
	} else {
		done, recipe = p.looseRow(&l, cells)
	}
	if recipe && !done {
		p.item(l.n, l.text, l.name, l.amount, l.addition, l.note)
	}
	return recipe
}

// row is a line of the text, as far as it is understood.
type row struct {
	n            int
	text         string
	name, amount string
	addition     bool
	note         string
}

// columnRow reads a row by the columns of its header. done says that there is no
// item in it, or that it was refused.
func (p *parser) columnRow(l *row, cells []string) (done bool) {
	c := p.cols
	at := func(i int) string {
		if i < 0 || i >= len(cells) {
			return ""
		}
		return cells[i]
	}
	l.name, l.amount = at(c.name), at(c.amount)
	if !p.ofTable(at(c.recipe)) {
		return true
	}
	switch k := Key(at(c.kind)); {
	case additionHeads[k], k == "yes", k == "y", k == "x", k == "true", k == "+":
		l.addition = true
	case baseHeads[k], k == "no", k == "n", k == "false":
		l.addition = false
	}
	if l.note == "" {
		l.note = clean(at(c.note))
	}
	switch {
	case l.name == "" && l.amount == "":
	case l.amount == "":
		p.fail(l.n, l.text, text.New("recipe.cell-empty"))
	case !whole.MatchString(l.amount):
		p.fail(l.n, l.text, text.New("recipe.unreadable", text.Name("amount", l.amount)))
	case p.splitDecimal(l.text, cells):
		p.fail(l.n, l.text, text.New("recipe.one-or-two", text.Name("amount", l.amount), text.Name("rest", cells[c.amount+1])))
	default:
		return false
	}
	return true
}

// ofTable keeps the name of the recipe that a row of a table belongs to, and reports
// whether it is the one that is read: the only one, or the one asked for.
func (p *parser) ofTable(name string) bool {
	if name == "" {
		return true
	}
	if !slices.ContainsFunc(p.names, func(n string) bool { return Key(n) == Key(name) }) {
		p.names = append(p.names, name)
	}
	if p.wanted != "" {
		return Key(name) == Key(p.wanted)
	}
	return len(p.names) == 1
}

// splitDecimal reports whether the comma behind the amount may be a decimal mark.
func (p *parser) splitDecimal(text string, cells []string) bool {
	c := p.cols
	return p.commas && len(cells) > c.amount+1 && c.kind < 0 && c.note < 0 && isAmount(cells[c.amount+1]) && c.amount == 1 && !strings.Contains(text, `"`)
}

// looseRow reads a row by what its cells look like. recipe is false where they are
// words with no amount.
func (p *parser) looseRow(l *row, cells []string) (done, recipe bool) {
	for _, cell := range cells {
		switch k := Key(cell); {
		case cell == "":
		case k == "+" || additionHeads[k]:
			l.addition = true
		case isAmount(cell):
			if l.amount != "" {
				p.fail(l.n, l.text, text.New("recipe.two-cells", text.Name("amount", l.amount), text.Name("other", cell)))
				return true, true
			}
			l.amount = cell
		case unitOf(k) != nil && l.amount != "" && !strings.ContainsFunc(l.amount, unicode.IsLetter):
			l.amount += cell
		case l.name == "" && l.amount == "" || l.name == "" && strings.ContainsFunc(cell, unicode.IsLetter):
			l.name = cell
		case l.amount == "":
			return false, false // words in several cells before any amount
		case l.note == "":
			l.note = clean(cell)
		}
	}
	if l.amount == "" {
		return false, false
	}
	return p.commas && !strings.Contains(l.text, `"`) && p.cutDecimal(l), true
}

// cutDecimal refuses "Silica 24,5" among CSV lines: a small whole number before
// the comma and one behind it may be one decimal.
func (p *parser) cutDecimal(l *row) bool {
	w := strings.Fields(l.name)
	if len(w) < 2 || len(w[len(w)-1]) > 2 || !isAmount(w[len(w)-1]) || strings.Contains(l.text, ", ") {
		return false
	}
	p.fail(l.n, l.text, text.New("recipe.name-or-amount", text.Name("word", w[len(w)-1]), text.Name("amount", l.amount)))
	return true
}

// item checks one material and takes it.
func (p *parser) item(n int, line, name, amt string, addition bool, note string) {
	name, plus := tidy(name)
	addition = addition || plus
	m := parts.FindStringSubmatch(strings.TrimSpace(amt))
	u := unitOf(unitWord(amt))
	if m == nil || u == nil {
		p.fail(n, line, text.New("recipe.unreadable-units", text.Name("amount", amt)))
		return
	}
	if !u.wrong.None() {
		p.fail(n, line, u.wrong)
		return
	}
	d, err := protocol.ParseHumanDecimal(m[2])
	switch {
	case errors.Is(err, protocol.ErrAmbiguous):
		p.fail(n, line, text.New("recipe.ambiguous", text.Because("why", err)))
		return
	case err != nil:
		p.fail(n, line, text.New("recipe.unreadable-because", text.Because("why", err)))
		return
	}
	if m[1] == "+" {
		addition = true // "Tin oxide +4" is an addition too
	}
	v, _ := new(big.Rat).SetString(d.String())
	name = withPounds(name, v, u)
	if total[Key(name)] && (!addition || p.addition) {
		p.check(n, line, v, d.Places, u)
		return
	}
	if isWater(name) {
		if u == units[""] && p.cols != nil && p.cols.unit != "" {
			u = unitOf(p.cols.unit)
		}
		p.water(n, line, v, u, m[1], addition, note)
		return
	}
	if p.refuses(n, line, name, v, m[1], addition) {
		return
	}
	unit := u.name
	if unit == "" && p.cols != nil && u == units[""] {
		unit = p.cols.unit
	}
	p.r.Items = append(p.r.Items, Item{Name: name, Amount: v, Unit: unit, Addition: addition, Line: n, Note: note})
}

// poundsBefore are the pounds of "Silica 1 lb 4 oz" at the end of what stands before the ounces.
var poundsBefore = regexp.MustCompile(`(?i)^(.*\pL.*?)[\s:.]+(\d{1,4})\s*(?:lbs?|pounds?)$`)

// withPounds adds the pounds that stand before ounces, 16 oz each, and takes them off the
// name: 1 lb 4 oz is 20 oz.
func withPounds(name string, ounces *big.Rat, u *unit) string {
	m := poundsBefore.FindStringSubmatch(name)
	if m == nil || u != ounce {
		return name
	}
	lb, _ := new(big.Rat).SetString(m[2])
	ounces.Add(ounces, lb.Mul(lb, big.NewRat(16, 1)))
	return m[1]
}

// refuses says what is wrong with an item that was read.
func (p *parser) refuses(n int, line, name string, v *big.Rat, sign string, addition bool) bool {
	switch {
	case !strings.ContainsFunc(name, unicode.IsLetter):
		p.fail(n, line, text.New("recipe.no-name"))
		return true
	case utf8.RuneCountInString(name) > maxName:
		p.fail(n, line, text.New("recipe.name-long", text.Number("most", strconv.Itoa(maxName))))
		return true
	case v.Sign() == 0:
		p.fail(n, line, text.New("recipe.zero"))
		return true
	case sign != "" && sign != "+":
		p.fail(n, line, text.New("recipe.negative"))
		return true
	case len(p.r.Items) >= maxItems:
		if len(p.r.Items) == maxItems {
			p.fail(n, line, text.New("recipe.many", text.Number("most", strconv.Itoa(maxItems))))
		}
		return true
	}
	for _, it := range p.r.Items {
		if it.Addition == addition && Key(it.Name) == Key(name) {
			p.fail(n, line, text.New("recipe.twice", text.Name("material", name), text.Number("line", strconv.Itoa(it.Line)), text.Number("here", strconv.Itoa(n))))
			return true
		}
	}
	return false
}

package recipe

import (
	"cmp"
	"encoding/csv"
	"errors"
	"math/big"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"unicode"
	"unicode/utf8"

	"tared/session/text"
)

// Error is one fault in the text of a recipe.
type Error struct {
	Line int          // from 1; 0 for the line as a whole
	Text string       // the line as written
	Why  text.Message // what is wrong and what to do
	// Among are the recipes of a table that holds several, where none of them was named.
	Among []One
}

// One is a recipe of a table that holds several.
type One struct {
	Name string `json:"name"`
	Text string `json:"text"` // of it alone, as Parse reads it
}

// Error names the line, its text, the fault and the mend.
func (e *Error) Error() string {
	if e.Line == 0 {
		return text.New("recipe.fault", text.Said("why", e.Why)).String()
	}
	return text.New("recipe.fault-line", text.Number("line", strconv.Itoa(e.Line)), text.Name("text", strconv.Quote(e.Text)), text.Said("why", e.Why)).String()
}

// The most that a recipe text may hold; a longer one is not a recipe.
const (
	maxText  = 64 << 10
	maxItems = 200
	maxName  = 80
	maxLine  = 500
)

// Parse reads a recipe as people write it. A line holds a name and an amount;
// the last number of the line is the amount, for names have digits of their own
// ("Frit 3134 20"). Between the two may stand blanks, a tab, a colon, an equals
// sign or a row of dots; cells from a spreadsheet and CSV are read too, with or
// without a header row. A "+" before the name, or a heading such as "plus" or
// "additions" above it, makes an addition. "#" begins a comment; the first is
// the title.
//
// Amounts are parts, percent ("%") or masses (g, kg, mg, oz, lb, gn, "1 lb 4 oz"), one kind for the whole
// base. An addition in parts or percent is percent of the base; one as a mass
// needs a base in masses. The decimal mark is a point or a comma.
//
// A line "Water 85%" is the first water, in percent of everything dry; where the
// base is in masses it may be a mass. It is no material of the recipe.
//
// All faults found are reported together, each an *Error in the chain, in the
// order of the lines. What could be read in two ways is refused, for a wrong
// weight is worse than none.
func Parse(source string) (Recipe, error) { return Named(source, "") }

// Named is Parse of a table that holds several recipes, with a column that names them:
// it reads the one of that name.
func Named(source, name string) (Recipe, error) {
	p := parser{r: Recipe{Text: source}, wanted: name}
	if len(source) > maxText {
		return Recipe{Text: source}, &Error{Why: text.New("recipe.long", text.Count("count", len(source)), text.Number("most", strconv.Itoa(maxText)))}
	}
	if !utf8.ValidString(source) {
		return Recipe{Text: source}, &Error{Why: text.New("recipe.not-utf8")}
	}
	lines := strings.Split(strings.ReplaceAll(strings.TrimPrefix(source, "\ufeff"), "\r\n", "\n"), "\n")
	p.commas = commaSeparated(lines)
	for i, l := range lines {
		p.line(i+1, strings.TrimRight(l, "\r"))
	}
	p.finish()
	if len(p.errs) > 0 {
		slices.SortStableFunc(p.errs, func(a, b error) int { return a.(*Error).Line - b.(*Error).Line })
		return p.r, errors.Join(p.errs...)
	}
	return p.r, nil
}

type parser struct {
	r        Recipe
	errs     []error
	comments int
	notes    []string
	addition bool // below a heading for additions
	commas   bool // the line is CSV
	cols     *columns
	names    []string // of the recipes in a table of several
	wanted   string   // the one to read; empty: there is one
}

func (p *parser) fail(n int, line string, why text.Message) {
	p.errs = append(p.errs, &Error{Line: n, Text: strings.TrimSpace(line), Why: why})
}

var (
	blanks  = regexp.MustCompile(`[\s\p{Z}]`)
	bullet  = regexp.MustCompile(`^(?:[-*•·–—◦▪‣]\s+|[•◦▪‣]|\d{1,2}[.)]\s+(?:\pL))`)
	heading = regexp.MustCompile(`^[\pL\s/&%()-]*$`)
	adds    = regexp.MustCompile(`(?i)^(?:\+|(?:plus|add)\b[\s:]*)\s*`)
	leaders = regexp.MustCompile(`\s*(?:\.{3,}|…+|_{3,}|-{3,}|(?:\. ){3,}\.?|(?:·\s?){3,}|→|⇒|=>|->)\s*`)
	wide    = regexp.MustCompile(`(?:\t| {2,})[\t ]*`)
	comment = regexp.MustCompile(`(?:^|\s)#(?:\D|$)|^#`)
	perCent = regexp.MustCompile(`(?i)\bper cent\b`)
	trailer = regexp.MustCompile(`^(.*?)\s*\(([^()]*)\)$`)
	tail    = regexp.MustCompile(`^(.*)(\x00|[\s:=])\s*(` + amount + `)$`)
	first   = regexp.MustCompile(`^(` + amountFirst + `)\s+(?:of\s+)?([^\d\x00]*\pL[^\d\x00]*)$`)
	whole   = regexp.MustCompile(`^` + amount + `$`)
	parts   = regexp.MustCompile(`^([-−–+]?)\s*([\d.,'’/]*\d[\d.,'’/]*)\s*(.*)$`)
)

const (
	amount      = `[-−–+]?[.,]?\d[\d.,'’/]*\s*(?:%|\pL+\.?)?`
	amountFirst = `[-−–+]?[.,]?\d[\d.,'’/]*\s*(?:%|(?i:g|kg|mg|oz|ounces?|lbs?|pounds?|gn|grains?|grams?|grammes?|gms?|parts?|pts?|percent)\b\.?)?`
)

// line takes one line of the text.
func (p *parser) line(n int, line string) {
	if len(line) > maxLine {
		p.fail(n, line[:40]+"…", text.New("recipe.line-long", text.Number("most", strconv.Itoa(maxLine))))
		return
	}
	s := strings.TrimSpace(blanks.ReplaceAllStringFunc(line, func(b string) string {
		if b == "\t" {
			return b
		}
		return " "
	}))
	for _, c := range s {
		if unicode.Is(unicode.Cc, c) && c != '\t' || c == utf8.RuneError {
			p.fail(n, line, text.New("recipe.control"))
			return
		}
	}
	s, note := cutComment(s)
	s = perCent.ReplaceAllString(s, "percent")
	if s == "" {
		if note != nil {
			p.remark(*note)
		}
		return
	}
	if sep := strings.ToLower(s); n == 1 && strings.HasPrefix(sep, "sep=") && len(sep) <= len("sep=")+2 {
		return // a spreadsheet says so what divides its cells
	}
	words := ""
	if note != nil {
		words = clean(*note)
	}
	if p.heading(s) {
		if words != "" {
			p.remark(words)
		}
		return
	}
	// A tab in front belongs to the cells, so look at the text, not at s.
	if cells, sep := p.cells(s); cells != nil {
		if p.header(cells, sep) {
			return
		}
		if p.row(n, line, cells, words) {
			return
		}
	}
	p.plain(n, line, s, words)
}

// cutComment divides a line at its comment mark. "#3134" behind a name is a
// number of a frit, not a comment.
func cutComment(s string) (string, *string) {
	at := comment.FindStringIndex(s)
	if at == nil {
		return s, nil
	}
	i := at[0] + strings.IndexByte(s[at[0]:], '#')
	note := strings.TrimSpace(s[i+1:])
	return strings.TrimSpace(s[:i]), &note
}

func clean(s string) string { return strings.Join(strings.Fields(s), " ") }

func (p *parser) remark(s string) {
	s = clean(strings.TrimLeft(s, "# \t"))
	p.comments++
	if p.comments == 1 {
		p.r.Title = s
	} else if s != "" {
		p.notes = append(p.notes, s)
	}
}

// heading takes a line that only says what kind of lines follow.
func (p *parser) heading(s string) bool {
	k := Key(strings.Trim(s, "*_-=:;,.| \t"))
	switch {
	case strings.Trim(s, "-=_*|:.~ \t") == "": // a ruled line
		return true
	case k == "+" || k == "": // a lone plus
		p.addition = k == "+"
		return true
	case !heading.MatchString(k):
		return false
	case additionHeads[k]:
		p.addition = true
		return true
	case baseHeads[k]:
		p.addition = false
		return true
	}
	return false
}

// columns says which cell of a row holds what; -1 for none.
type columns struct {
	sep                      byte
	name, amount, kind, note int
	recipe                   int    // the name of the recipe, where a table holds several
	unit                     string // of the amounts, from the header
}

// commaSeparated judges whether the text is CSV: at least half of the lines that
// can be rows have a comma between a letter and a number. In such a text
// "Frit 3134,20" is a name and an amount.
func commaSeparated(lines []string) bool {
	rows, clear := 0, 0
	for _, l := range lines {
		if len(l) > maxLine {
			continue
		}
		l, _ := cutComment(strings.TrimSpace(l))
		if !strings.ContainsFunc(l, unicode.IsDigit) {
			if cells := splitCSV(l); len(cells) > 1 && slices.ContainsFunc(cells[:2], func(c string) bool { return nameHeads[Key(c)] }) {
				return true
			}
			continue
		}
		rows++
		if cells := splitCSV(l); len(cells) > 1 && isAmount(cells[1]) {
			if r, _ := utf8.DecodeLastRuneInString(cells[0]); r != utf8.RuneError && !unicode.IsDigit(r) {
				clear++
			}
		}
	}
	return clear > 0 && 2*clear >= rows
}

func splitCSV(l string) []string {
	if !strings.Contains(l, ",") {
		return nil
	}
	r := csv.NewReader(strings.NewReader(l))
	r.LazyQuotes, r.TrimLeadingSpace, r.FieldsPerRecord = true, true, -1
	cells, err := r.Read()
	if err != nil {
		return nil
	}
	for i := range cells {
		cells[i] = strings.TrimSpace(cells[i])
	}
	return cells
}

// cells divides a row of a table; nil when the line is none.
func (p *parser) cells(s string) ([]string, byte) {
	var cells []string
	var sep byte
	switch {
	case p.cols != nil && p.cols.sep == ' ':
		return nil, 0
	case strings.Contains(s, "\t"):
		cells, sep = strings.Split(s, "\t"), '\t'
	case strings.Contains(s, "|"):
		cells, sep = strings.Split(strings.Trim(s, "|"), "|"), '|'
	case strings.Contains(s, ";"):
		cells, sep = strings.Split(s, ";"), ';'
	case p.commas && strings.Contains(s, ","):
		return bare(splitCSV(s)), ','
	case p.cols == nil && len(p.r.Items) == 0:
		// A header above columns made of blanks.
		cells, sep = wide.Split(s, -1), ' '
		if len(cells) == 1 {
			cells = strings.Fields(s)
		}
		for _, c := range cells {
			if k := Key(inBrackets.ReplaceAllString(c, "")); !nameHeads[k] && !amountHeads[k] && !kindHeads[k] && !noteHeads[k] {
				return nil, 0
			}
		}
		return cells, sep
	}
	return bare(cells), sep
}

// bare takes blanks, quotes and the marks of bold and italic type off cells.
func bare(cells []string) []string {
	for i, c := range cells {
		c = strings.Trim(strings.TrimSpace(c), `"`)
		for _, mark := range []string{"**", "__", "*", "_"} {
			if len(c) > 2*len(mark) && strings.HasPrefix(c, mark) && strings.HasSuffix(c, mark) {
				c = strings.TrimSpace(c[len(mark) : len(c)-len(mark)])
			}
		}
		cells[i] = c
	}
	return cells
}

// plain takes a line of running text.
func (p *parser) plain(n int, line, s, note string) {
	addition, whole := p.addition, s
	s, plus := strip(s)
	addition = addition || plus
	if m := trailer.FindStringSubmatch(s); m != nil && m[1] != "" && hasTail(m[1]) {
		s = m[1]
		if note == "" {
			note = clean(m[2])
		}
	}
	marked := mark(s)
	if m := tail.FindStringSubmatch(marked); m != nil && unitOf(unitWord(m[3])) != nil {
		name, sep, amt := strings.ReplaceAll(m[1], "\x00", " "), m[2], m[3]
		if sep != "\x00" && whole[0] != '+' && p.aside(clean(whole), name) {
			return
		}
		if sep == " " {
			if why := doubtful(name, amt); !why.None() {
				p.fail(n, line, why)
				return
			}
		}
		p.item(n, line, name, amt, addition, note)
		return
	}
	if m := first.FindStringSubmatch(strings.ReplaceAll(marked, "\x00", " ")); m != nil {
		p.item(n, line, m[2], m[1], addition, note)
		return
	}
	p.fail(n, line, unread(marked))
}

// aside takes a line that only looks like a material: it is the title where it is the
// first line of all, and names a cone, else a note.
func (p *parser) aside(line, name string) bool {
	is, cone := aside(Key(name))
	switch {
	case cone && len(p.r.Items) == 0 && p.comments == 0:
		p.remark(line)
	case is:
		p.notes = append(p.notes, line)
	}
	return is
}

// strip takes bullets and plus signs off the front of a line.
func strip(s string) (string, bool) {
	plus := false
	for {
		s = strings.TrimSpace(s)
		t := s
		if m := bullet.FindString(s); m != "" {
			r, size := utf8.DecodeLastRuneInString(m)
			if unicode.IsLetter(r) {
				m = m[:len(m)-size]
			}
			t = s[len(m):]
		} else if m := adds.FindString(s); m != "" && len(m) < len(s) {
			t, plus = s[len(m):], true
		}
		if t == s {
			return s, plus
		}
		s = t
	}
}

// mark puts one mark where a name clearly ends: at rows of dots, tabs, several
// blanks.
func mark(s string) string {
	return wide.ReplaceAllString(leaders.ReplaceAllString(s, "\x00"), "\x00")
}

func hasTail(s string) bool {
	m := tail.FindStringSubmatch(mark(s))
	return m != nil && unitOf(unitWord(m[3])) != nil
}

var numberedNames = words(`frit, frits, ferro, stain, mason, mesh, no, no., nr, nr., cone, cmc, grade, type`)

// doubtful finds what one blank between name and amount leaves open.
func doubtful(name, amt string) (why text.Message) {
	w := strings.Fields(name)
	m := parts.FindStringSubmatch(amt)
	if len(w) == 0 || m == nil {
		return why
	}
	last, num, unit := w[len(w)-1], m[2], m[3]
	whole, _, _ := strings.Cut(strings.ReplaceAll(num, ",", "."), ".")
	switch {
	case len(whole) == 3 && len(w) > 1 && len(last) <= 3 && digits(last):
		why = text.New("recipe.split-number", text.Name("amount", num), text.Name("joined", last+num))
	case numberedNames[Key(last)] && len(whole) >= 3 && unit == "" && m[1] == "":
		why = text.New("recipe.part-of-name", text.Name("amount", num))
	case digits(w[0]) && len(w) > 1 && len(w[0]) <= 2 && len(whole) >= 3 && unit == "":
		why = text.New("recipe.first-or-last", text.Name("first", w[0]), text.Name("last", num))
	}
	return why
}

func digits(s string) bool {
	return s != "" && strings.IndexFunc(s, func(r rune) bool { return r < '0' || r > '9' }) < 0
}

// unread explains a line without an amount at its end.
func unread(s string) text.Message {
	s = strings.TrimSpace(strings.ReplaceAll(s, "\x00", " "))
	w := strings.Fields(s)
	if len(w) == 0 {
		return text.New("recipe.unread")
	}
	last := w[len(w)-1]
	if isAmount(s) {
		return text.New("recipe.nameless")
	}
	if len(w) > 1 && unitOf(unitWord(w[len(w)-2]+" "+last)) == nil && digits(w[len(w)-2]) {
		return text.New("recipe.unknown-unit", text.Name("unit", last))
	}
	if strings.ContainsFunc(last, unicode.IsDigit) && !startsLetter(last) || strings.ContainsAny(last, "½¼¾⅓⅔") {
		return text.New("recipe.unreadable", text.Name("amount", last))
	}
	return text.New("recipe.no-amount")
}

func startsLetter(s string) bool {
	r, _ := utf8.DecodeRuneInString(s)
	return unicode.IsLetter(r)
}

// isAmount reports whether a cell is a number with at most a unit.
func isAmount(s string) bool {
	s = strings.TrimSpace(s)
	return whole.MatchString(s) && unitOf(unitWord(s)) != nil
}

func unitWord(s string) string {
	m := parts.FindStringSubmatch(strings.TrimSpace(s))
	if m == nil {
		return "?"
	}
	return Key(strings.TrimRight(m[3], "."))
}

// check compares a written total with the lines above it; one without a unit is in
// that of the first line. Half of the finest digit of all is allowed for each line, for
// the amounts may be rounded.
func (p *parser) check(n int, line string, want *big.Rat, places uint8, u *unit) {
	if u.grams == nil && len(p.r.Items) > 0 {
		u = unitOf(p.r.Items[0].Unit)
	}
	base, all := new(big.Rat), new(big.Rat)
	fine, least := int(places), weight(&Item{Amount: big.NewRat(1, 2), Unit: u.name})
	for _, it := range p.r.Items {
		if !it.Addition {
			base.Add(base, weight(&it))
		}
		all.Add(all, weight(&it))
		if w, exact := it.Amount.FloatPrec(); exact {
			fine = max(fine, w)
		}
		if half := weight(&Item{Amount: big.NewRat(1, 2), Unit: it.Unit}); half.Cmp(least) < 0 {
			least = half
		}
	}
	slack := least.Mul(least, big.NewRat(int64(len(p.r.Items))+1, 1))
	for range fine {
		slack.Quo(slack, big.NewRat(10, 1))
	}
	want = weight(&Item{Amount: want, Unit: u.name})
	off := func(sum *big.Rat) bool {
		d := new(big.Rat).Sub(sum, want)
		return d.Abs(d).Cmp(slack) > 0
	}
	if off(base) && off(all) {
		per := weight(&Item{Amount: big.NewRat(1, 1), Unit: u.name})
		p.fail(n, line, text.New("recipe.total", text.Number("sum", strings.TrimSpace(Decimal(base.Quo(base, per), 12)+" "+u.name))))
	}
}

// tidy makes a name of what stood before the amount.
func tidy(s string) (string, bool) {
	plus := false
	for {
		t := clean(strings.Map(func(r rune) rune {
			if r == '"' || r == '|' || r == ';' || r == 0 {
				return ' '
			}
			return r
		}, s))
		t = strings.Trim(t, " ,:=.-–—_…·*#→")
		t, more := strip(t)
		plus = plus || more
		if t == s {
			return t, plus
		}
		s = t
	}
}

// finish works out the shares and what can only be seen of the whole.
func (p *parser) finish() {
	p.named()
	p.r.Notes = strings.Join(p.notes, "\n")
	if len(p.r.Items) == 0 {
		if len(p.errs) == 0 {
			p.fail(0, "", text.New("recipe.empty"))
		}
		return
	}
	sum := new(big.Rat)
	var lead *Item // the first base item tells which kind of amounts the base has
	for i := range p.r.Items {
		it := &p.r.Items[i]
		if it.Addition {
			continue
		}
		if lead == nil {
			lead = it
		}
		if (unitOf(it.Unit).grams == nil) != (unitOf(lead.Unit).grams == nil) {
			p.fail(it.Line, p.text(it.Line), text.New("recipe.mixed", text.Number("line", strconv.Itoa(lead.Line))))
			return
		}
		sum.Add(sum, weight(it))
	}
	if lead == nil {
		if len(p.errs) == 0 {
			p.fail(0, "", text.New("recipe.no-base"))
		}
		return
	}
	hundred := big.NewRat(100, 1)
	masses := unitOf(lead.Unit).grams != nil
	for i := range p.r.Items {
		it := &p.r.Items[i]
		mass := unitOf(it.Unit).grams != nil
		switch {
		case !it.Addition, mass && masses:
			it.Share = new(big.Rat).Mul(weight(it), hundred)
			it.Share.Quo(it.Share, sum)
		case mass:
			p.fail(it.Line, p.text(it.Line), text.New("recipe.mass-on-parts"))
		case masses && it.Unit != "%" && sum.Cmp(hundred) != 0:
			// With a base of 100 g both readings are the same.
			p.fail(it.Line, p.text(it.Line), text.New("recipe.grams-or-percent", text.Number("amount", Decimal(it.Amount, 12))))
		default:
			it.Share = new(big.Rat).Set(it.Amount)
		}
	}
	if !masses {
		sum = nil
	}
	p.finishWater(sum)
}

// named holds a table of several recipes to the one that was asked for.
func (p *parser) named() {
	switch found := slices.ContainsFunc(p.names, func(n string) bool { return Key(n) == Key(p.wanted) }); {
	case p.wanted == "" && len(p.names) > 1:
		all := &Error{Why: text.New("recipe.several", text.Names("names", p.names))}
		for _, name := range p.names {
			if one, err := Named(p.r.Text, name); err == nil {
				all.Among = append(all.Among, One{name, one.Format()})
			}
		}
		p.errs = append(p.errs, all)
	case p.wanted != "" && !found:
		p.fail(0, "", text.New("recipe.not-there", text.Name("name", p.wanted), text.Names("names", p.names)))
	case p.r.Title == "" && len(p.names) > 0:
		p.r.Title = cmp.Or(p.wanted, p.names[0])
	}
}

func (p *parser) text(n int) string {
	return strings.Split(strings.ReplaceAll(strings.TrimPrefix(p.r.Text, "\ufeff"), "\r\n", "\n"), "\n")[n-1]
}

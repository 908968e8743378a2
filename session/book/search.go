package book

import (
	"cmp"
	"math/big"
	"slices"
	"strconv"
	"strings"
	"unicode"

	"tared/protocol"
	"tared/session/recipe"
	"tared/session/text"
)

// Query says which batches are wanted. All that is set must hold, and is in lower case; a
// part of a word is enough.
type Query struct {
	Text     []string // each somewhere in mark, title, recipe, materials, people, notes, reasons
	Material string   // planned, or gone in
	Mark     string
	Title    string
	By       string
	Tag      string   // of a tile, whole
	Date     string   // day or month or year of the start, where it was: 2026-11-25, 2026-11, 2026
	Amounts  []Wanted // of materials that went in
	Order    Order    // of the rows
	Before   int      // only batches that were planned before this one, by its number, the newest first; 0: all
}

// Order is how rows are listed: Newest first, or by something else and the newest first
// among those that are alike.
type Order string

const (
	Newest   Order = ""
	Oldest   Order = "oldest"
	ByRecipe Order = "recipe"
	ByPerson Order = "person"
	MostOff  Order = "off" // those with most materials out of band
)

// key is by what the batches of an order are compared.
type key struct {
	word string
	many int
	at   int // of the batch
}

func (o Order) key(i int, d *digest) key {
	switch o {
	case ByRecipe:
		return key{strings.ToLower(d.Title), 0, i}
	case ByPerson:
		return key{strings.ToLower(d.By), 0, i}
	}
	return key{"", d.Off + d.Cannot, i}
}

func (k key) compare(l key) int {
	return cmp.Or(strings.Compare(k.word, l.word), cmp.Compare(l.many, k.many), cmp.Compare(l.at, k.at))
}

// Wanted is an amount that is searched for. It is held against what was
// delivered, as it stands; U is left out of it.
type Wanted struct {
	Material string        // part of its name
	Is       string        // one of > >= < <= =
	Mass     protocol.Mass // delivered
	Share    *big.Rat      // percent of the delivered base; nil: Mass counts
}

// ParseQuery reads what a person types: words to be found anywhere; words behind a
// name: material: mark: title: by: tag: date:; and amounts: a material, a sign and
// a share or a mass, as in "chromium oxide > 0.5%" or "quartz <= 180g". The words
// before the sign are the material; with other words before them it is put into
// double quotes, as is all that holds a blank: material:"copper carbonate".
func ParseQuery(s string) (Query, error) {
	var q Query
	all := words(s)
	for i := 0; i < len(all); i++ {
		w := all[i]
		if w.sign {
			if err := q.amount(s, all[:i], all[i+1:], w.text); err != nil {
				return Query{}, err
			}
			i++ // the amount
			if i+1 < len(all) && !all[i+1].quoted && unitWord(all[i+1].text) {
				i++
			}
			continue
		}
		name, value, named := strings.Cut(w.text, ":")
		value = strings.ToLower(strings.TrimSpace(value))
		to := map[string]*string{"material": &q.Material, "mark": &q.Mark, "title": &q.Title, "by": &q.By, "tag": &q.Tag, "date": &q.Date}[strings.ToLower(name)]
		switch {
		case !named || to == nil:
			q.Text = append(q.Text, strings.ToLower(w.text))
		case value == "":
			return Query{}, text.Refuse("search.empty", text.Name("search", strconv.Quote(s)), text.Name("name", name))
		case *to != "":
			return Query{}, text.Refuse("search.twice", text.Name("search", strconv.Quote(s)), text.Name("name", name))
		default:
			*to = value
		}
	}
	return q, nil
}

func unitWord(s string) bool {
	u, ok := protocol.LookupUnit(s)
	return s == "%" || ok && u.IsMass()
}

// amount takes the material from what was read before the sign, and the amount
// from what follows.
func (q *Query) amount(all string, before, after []word, sign string) error {
	w := Wanted{Is: strings.NewReplacer("≥", ">=", "≤", "<=").Replace(sign)}
	if !slices.Contains([]string{">", ">=", "<", "<=", "="}, w.Is) {
		return text.Refuse("search.sign", text.Name("search", strconv.Quote(all)), text.Name("sign", sign))
	}
	switch k := len(q.Text); {
	case k == 0 && q.Material == "":
		return text.Refuse("search.material", text.Name("search", strconv.Quote(all)), text.Name("sign", sign))
	case strings.HasPrefix(strings.ToLower(before[len(before)-1].text), "material:"):
		w.Material, q.Material = q.Material, ""
	case k == 0:
		return text.Refuse("search.material", text.Name("search", strconv.Quote(all)), text.Name("sign", sign))
	case before[len(before)-1].quoted:
		w.Material, q.Text = q.Text[k-1], q.Text[:k-1]
	default:
		w.Material, q.Text = strings.Join(q.Text, " "), nil
	}
	w.Material = recipe.Key(w.Material)
	if len(after) == 0 {
		return text.Refuse("search.amount", text.Name("search", strconv.Quote(all)), text.Name("sign", sign))
	}
	value := after[0].text
	if len(after) > 1 && !after[1].quoted && unitWord(after[1].text) {
		value += after[1].text
	}
	if num, ok := strings.CutSuffix(value, "%"); ok {
		d, err := protocol.ParseHumanDecimal(strings.TrimSpace(num))
		if err != nil {
			return text.Refuse("search.because", text.Name("search", strconv.Quote(all)), text.Because("why", err))
		}
		w.Share, _ = new(big.Rat).SetString(d.String())
	} else {
		m, err := protocol.ParseMass(value)
		if err != nil {
			return text.Refuse("search.mass", text.Name("search", strconv.Quote(all)), text.Because("why", err))
		}
		w.Mass = m
	}
	q.Amounts = append(q.Amounts, w)
	return nil
}

// word is a word of a search.
type word struct {
	text   string
	quoted bool
	sign   bool // a sign before an amount
}

// words cuts a text at blanks outside double quotes, and at signs of comparison
// that stand alone or before a digit; the quotes are taken off.
func words(s string) []word {
	var out []word
	var b strings.Builder
	quoted, some, held := false, false, false
	end := func() {
		if some && b.Len() > 0 {
			out = append(out, word{text: b.String(), quoted: held})
		}
		b.Reset()
		some, held = false, false
	}
	all := []rune(s)
	for i := 0; i < len(all); i++ {
		r := all[i]
		switch {
		case r == '"':
			quoted, some, held = !quoted, true, true
		case unicode.IsSpace(r) && !quoted:
			end()
		case !quoted && strings.ContainsRune("<>=≤≥", r):
			j := i + 1
			for j < len(all) && strings.ContainsRune("<>=", all[j]) {
				j++
			}
			if j < len(all) && !unicode.IsSpace(all[j]) && !unicode.IsDigit(all[j]) && all[j] != '.' && all[j] != ',' {
				b.WriteRune(r)
				some = true
				continue
			}
			end()
			out = append(out, word{text: string(all[i:j]), sign: true})
			i = j - 1
		default:
			b.WriteRune(r)
			some = true
		}
	}
	end()
	return out
}

// Search gives the rows of the batches that a query finds, in its order, and how many there
// are in all. The first of them are passed over; most is how many rows are made.
func (x *Index) Search(q Query, first, most int) (rows []Row, all int, err error) {
	return x.search(q, first, most, true)
}

// SearchMade is Search among the batches of which the row was made already, which costs no
// reading of the journal; where nothing is searched for, and no more is wanted than a page
// can show, the rows that are shown are made.
func (x *Index) SearchMade(q Query, first, most int) (rows []Row, all int, err error) {
	return x.search(q, first, most, q.anything() && most <= 1000)
}

func (x *Index) search(q Query, first, most int, whole bool) (rows []Row, all int, err error) {
	x.mu.Lock()
	defer x.mu.Unlock()
	if q.Order != Newest && q.Order != Oldest {
		return x.sorted(q, first, most, whole)
	}
	var d digest
	count := len(x.batches)
	if q.Before > 0 {
		count = min(count, q.Before-1)
	}
	for n := range count {
		i := n
		if q.Order == Newest {
			i = count - 1 - n
		}
		shown := all >= first && all < first+most
		if shown || !q.anything() {
			if fits, err := x.look(i, &d, q, whole); err != nil {
				return nil, 0, err
			} else if !fits {
				continue
			}
		}
		if all++; shown {
			rows = append(rows, d.Row)
		}
	}
	return rows, all, nil
}

// look looks whether a batch is wanted; where it is not whole, among those whose row is made.
// x.mu is held, and let go of now and then, for others have their turn.
func (x *Index) look(i int, d *digest, q Query, whole bool) (fits bool, err error) {
	if i%256 == 0 {
		x.mu.Unlock()
		x.mu.Lock()
	}
	if !whole && x.batches[i].digest == nil {
		return false, nil
	}
	if err := x.digest(i, d); err != nil {
		return false, err
	}
	return x.fits(d, q), nil
}

// sorted is search in an order that the batches themselves tell. It keeps a key of each, and
// makes the rows of those that are shown.
func (x *Index) sorted(q Query, first, most int, whole bool) (rows []Row, all int, err error) {
	var keys []key
	var d digest
	for i := range x.batches {
		fits, err := x.look(i, &d, q, whole)
		if err != nil {
			return nil, 0, err
		}
		if fits {
			keys = append(keys, q.Order.key(i, &d))
		}
	}
	slices.SortFunc(keys, key.compare)
	all = len(keys)
	for _, k := range keys[min(first, all):min(first+most, all)] {
		if err := x.digest(k.at, &d); err != nil {
			return nil, 0, err
		}
		rows = append(rows, d.Row)
	}
	return rows, all, nil
}

// anything reports whether all batches are wanted.
func (q Query) anything() bool {
	return len(q.Text) == 0 && len(q.Amounts) == 0 && q.Material+q.Mark+q.Title+q.By+q.Tag+q.Date == ""
}

func (x *Index) fits(d *digest, q Query) bool {
	has := func(s, part string) bool { return part == "" || strings.Contains(strings.ToLower(s), part) }
	if !has(d.Mark, q.Mark) || !has(d.Title, q.Title) || !has(d.By, q.By) || q.Date != "" && !strings.HasPrefix(d.Started.Format("2006-01-02"), q.Date) {
		return false
	}
	if q.Tag != "" && !slices.ContainsFunc(d.tags, func(n name) bool { return x.names.text(n) == q.Tag }) {
		return false
	}
	for _, t := range q.Text {
		if !has(d.Mark, t) && !slices.ContainsFunc(d.texts, func(n name) bool { return strings.Contains(x.names.text(n), t) }) {
			return false
		}
	}
	named := func(m indexed, part string) bool {
		return strings.Contains(x.names.text(m.key), part) || m.as != 0 && strings.Contains(x.names.text(m.as), part)
	}
	if q.Material != "" && !slices.ContainsFunc(d.materials, func(m indexed) bool { return named(m, recipe.Key(q.Material)) }) {
		return false
	}
	for _, w := range q.Amounts {
		if !slices.ContainsFunc(d.materials, func(m indexed) bool { return m.weighed && named(m, w.Material) && d.holds(m, w) }) {
			return false
		}
	}
	return true
}

// holds reports whether so much of a material went in.
func (d *digest) holds(m indexed, w Wanted) bool {
	c := cmp.Compare(m.delivered, w.Mass)
	if w.Share != nil {
		if d.base <= 0 {
			return false
		}
		c = compareShare(m.dry, d.base, w.Share)
	}
	switch w.Is {
	case ">":
		return c > 0
	case ">=":
		return c >= 0
	case "<":
		return c < 0
	case "<=":
		return c <= 0
	}
	return c == 0
}

// compareShare holds 100·m/base against a share, exactly.
func compareShare(m, base protocol.Mass, share *big.Rat) int {
	a := new(big.Int).Mul(big.NewInt(100), share.Denom())
	return a.Mul(a, big.NewInt(int64(m))).Cmp(new(big.Int).Mul(share.Num(), big.NewInt(int64(base))))
}

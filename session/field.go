package session

import (
	"math/big"
	"strconv"
	"strings"
	"unicode"
	"unicode/utf8"

	"tared/protocol"
	"tared/session/fact"
	"tared/session/text"
)

// What a person writes in a field, and how it is read.

// maxWords is the longest text of such an entry, in bytes.
const maxWords = 4000

// words holds a text to what a person may write.
func words(what text.Message, s string, most int) error {
	if len(s) > most {
		return text.Refuse("field.long", text.Said("field", what), text.Number("most", strconv.Itoa(most)))
	}
	if !utf8.ValidString(s) {
		return text.Refuse("field.not-utf8", text.Said("field", what))
	}
	for _, c := range s {
		if unicode.IsControl(c) && c != '\n' && c != '\r' && c != '\t' {
			return text.Refuse("field.sign", text.Said("field", what), text.Name("sign", strconv.QuoteRune(c)))
		}
	}
	return nil
}

// who holds the name of the one who writes to what it can be.
func who(by string) error {
	if strings.TrimSpace(by) == "" {
		return text.Refuse("entry.who")
	}
	return words(text.New("field.name"), by, 100)
}

func count(given ...bool) (n int) {
	for _, g := range given {
		if g {
			n++
		}
	}
	return n
}

// typedMass reads a weight and the worth of its last digit.
func typedMass(what text.Message, s string) (t fact.Typed, err error) {
	if t.Mass, err = protocol.ParseMass(s); err != nil {
		return t, text.Refuse("field.because", text.Said("field", what), text.Because("why", err))
	}
	if t.Mass <= 0 {
		return t, text.Refuse("field.positive", text.Said("field", what), text.Name("value", s))
	}
	last := strings.LastIndexAny(s, "0123456789")
	one := strings.Map(func(c rune) rune {
		if c >= '0' && c <= '9' {
			return '0'
		}
		return c
	}, s[:last]) + "1" + s[last+1:]
	if i := strings.IndexAny(one, ".,"); i > 0 {
		one = "0" + one[i:]
	} else {
		one = strings.TrimLeft(one, "0 ")
	}
	if t.Step, err = protocol.ParseMass(one); err != nil {
		return t, text.Refuse("field.because", text.Said("field", what), text.Because("why", err))
	}
	return t, nil
}

func inRange(what text.Message, s, like string, from, to int64) (*big.Rat, error) {
	d, err := protocol.ParseHumanDecimal(strings.TrimSpace(s))
	if err != nil {
		return nil, text.Refuse("field.number", text.Said("field", what), text.Name("value", s), text.Because("why", err), text.Name("like", like))
	}
	r, _ := new(big.Rat).SetString(d.String())
	if r.Cmp(big.NewRat(from, 1)) < 0 || r.Cmp(big.NewRat(to, 1)) > 0 {
		return nil, text.Refuse("field.range", text.Said("field", what), text.Name("value", s), text.Number("from", strconv.FormatInt(from, 10)), text.Number("to", strconv.FormatInt(to, 10)))
	}
	return r, nil
}

func decimals(r *big.Rat, n int) string {
	s := r.FloatString(n)
	if strings.Contains(s, ".") {
		s = strings.TrimSuffix(strings.TrimRight(s, "0"), ".")
	}
	return s
}

func entryNumber(seq uint64) string { return strconv.FormatUint(seq, 10) }

// fields are what a person fills in, by name.
var fields = map[string]text.Message{
	"kiln": text.New("field.kiln"), "cone": text.New("field.cone"), "hold": text.New("field.hold"), "atmosphere": text.New("field.atmosphere"),
	"words": text.New("field.words"), "note": text.New("field.note"), "reason": text.New("field.reason"), "name": text.New("field.name"),
	"tile": text.New("field.tile"), "clay": text.New("field.clay-body"), "coats": text.New("field.coats"), "thickness": text.New("field.thickness"),
	"place": text.New("field.place"), "verdict": text.New("field.verdict"), "next": text.New("field.next"),
	"material": text.New("field.material"), "supplier": text.New("field.supplier"),
}

// texts holds short and long texts to their lengths and trims them.
func texts(long string, all map[string]*string) error {
	for name, s := range all {
		what := fields[name]
		most := 200
		if name == long {
			most = maxWords
		}
		if err := words(what, *s, most); err != nil {
			return err
		}
		*s = strings.TrimSpace(*s)
	}
	return nil
}

// list holds a list of short texts to its length, and drops what is empty or
// stands in it twice.
func list(what text.Message, in []string) (out []string, err error) {
	for _, s := range in {
		if err := words(what, s, 60); err != nil {
			return nil, err
		}
		s = strings.TrimSpace(s)
		twice := false
		for _, o := range out {
			twice = twice || strings.EqualFold(o, s)
		}
		if s != "" && !twice {
			out = append(out, s)
		}
	}
	if len(out) > 100 {
		return nil, text.Refuse("field.many", text.Said("field", what), text.Count("count", len(out)))
	}
	return out, nil
}

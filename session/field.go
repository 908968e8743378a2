package session

import (
	"math/big"
	"reflect"
	"slices"
	"strconv"
	"strings"
	"unicode"
	"unicode/utf8"

	"tared/protocol"
	"tared/session/fact"
	"tared/session/text"
)

// What a person writes in a field, and how it is read.

// The longest texts, in bytes.
const (
	maxWords = 4000
	maxLong  = 256 << 10 // of a recipe or a curve, which have limits of their own
	maxName  = 100       // of a person
)

// words holds a text to what a person may write. Of the signs without a form it may have
// those that people copy, and that some scripts need.
func words(what text.Message, s string, most int) error {
	return shown(what, s, most, "\n\r\t\u00ad\u200c\u200d\ufeff")
}

func shown(what text.Message, s string, most int, besides string) error {
	if len(s) > most {
		return text.Refuse("field.long", text.Said("field", what), text.Number("most", strconv.Itoa(most)))
	}
	if !utf8.ValidString(s) {
		return text.Refuse("field.not-utf8", text.Said("field", what))
	}
	for _, c := range s {
		if unshown(c) && !strings.ContainsRune(besides, c) {
			return text.Refuse("field.sign", text.Said("field", what), text.Name("sign", strconv.QuoteRuneToASCII(c)))
		}
	}
	return nil
}

// unshown reports whether a sign has no form of its own: it controls a terminal, or turns
// round the order in which others are read.
func unshown(c rune) bool {
	return unicode.In(c, unicode.Cc, unicode.Cf, unicode.Zl, unicode.Zp)
}

// person holds a name to what can stand for a person. None at all is left to who asks.
func person(name string) error {
	what, name := fields["by"], strings.TrimSpace(name)
	if err := shown(what, name, maxName, ""); err != nil {
		return err
	}
	switch {
	case strings.HasPrefix(name, "-"):
		return text.Refuse("field.name-dash", text.Name("name", name))
	case slices.ContainsFunc([]string{"scale", "tared", fact.NotNamed}, func(own string) bool { return strings.EqualFold(name, own) }):
		return text.Refuse("field.name-taken", text.Name("name", name))
	}
	return nil
}

// written holds every text of a request to what a person may write, whatever becomes of it.
func written(request any) error { return writtenIn("", reflect.ValueOf(request)) }

// signed is written where the record needs to know by whom.
func signed(request any, by string) error {
	if strings.TrimSpace(by) == "" {
		return text.Refuse("entry.who")
	}
	return written(request)
}

func writtenIn(name string, v reflect.Value) error {
	switch v.Kind() {
	case reflect.String:
		switch name {
		case "by":
			return person(v.String())
		case "recipe", "text", "curve":
			return words(fields["words"], v.String(), maxLong)
		}
		what, ok := fields[name]
		if !ok {
			what = fields["words"]
		}
		return words(what, v.String(), maxWords)
	case reflect.Pointer:
		if !v.IsNil() {
			return writtenIn(name, v.Elem())
		}
	case reflect.Slice:
		for i := range v.Len() {
			if err := writtenIn(name, v.Index(i)); err != nil {
				return err
			}
		}
	case reflect.Map:
		for key, value := range v.Seq2() {
			for _, one := range []reflect.Value{key, value} {
				if err := writtenIn(name, one); err != nil {
					return err
				}
			}
		}
	case reflect.Struct:
		for i := range v.NumField() {
			f := v.Type().Field(i)
			if f.Tag.Get("json") == "-" || !f.IsExported() {
				continue // it is none of the person's
			}
			if err := writtenIn(strings.ToLower(f.Name), v.Field(i)); err != nil {
				return err
			}
		}
	}
	return nil
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
	"by": text.New("field.name"), "material": text.New("field.material"), "supplier": text.New("field.supplier"),
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

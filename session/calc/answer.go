package calc

import (
	"bytes"
	"encoding/json"
	"errors"
	"math/big"
	"strings"

	"tared/protocol"
	"tared/session/text"
)

// Answer is the answer to a question, for people and for programs.
//
// MarshalJSON writes the values for programs as one object, in order. Its
// numbers are exact decimals, rounded once to nine decimals (a mass to the
// nanogram), halves away from zero; a least weighable mass is rounded up. The
// text is rounded to about four digits.
type Answer struct {
	Words text.Message   // the answer in a sentence
	Facts []Fact         // what belongs to it, line by line
	Table *Table         // where the answer is a list
	Steps []text.Message // what to do, in order
	Notes []text.Message // what to know before it is relied on

	values []keyed
}

// Fact is one line under an answer.
type Fact struct{ Name, Value text.Message }

// Table is a list under an answer. Cells are numbers but for those of the first
// column.
type Table struct {
	Heads []text.Message
	Rows  [][]string
}

type keyed struct {
	key string
	raw json.RawMessage
}

// MarshalJSON writes the values for programs.
func (a Answer) MarshalJSON() ([]byte, error) {
	var b bytes.Buffer
	b.WriteByte('{')
	for i, v := range a.values {
		if i > 0 {
			b.WriteByte(',')
		}
		key, err := json.Marshal(v.key)
		if err != nil {
			return nil, err
		}
		b.Write(key)
		b.WriteByte(':')
		b.Write(v.raw)
	}
	b.WriteByte('}')
	return b.Bytes(), nil
}

func (a *Answer) put(key string, raw string) {
	a.values = append(a.values, keyed{key, json.RawMessage(raw)})
}

// number adds a value that is no mass; nil is written as null.
func (a *Answer) number(key string, r *big.Rat) {
	if r == nil {
		a.put(key, "null")
		return
	}
	a.put(key, trim(r.FloatString(9)))
}

// mass adds a mass, in grams; the key must say so with _g.
func (a *Answer) mass(key string, m protocol.Mass) { a.put(key, m.Grams(0)) }

// numbers adds a list.
func (a *Answer) numbers(key string, texts []string) { a.put(key, "["+strings.Join(texts, ",")+"]") }

// text adds a value that is text, or a list of it.
func (a *Answer) text(key string, v any) {
	raw, err := json.Marshal(v)
	if err != nil {
		raw = []byte("null")
	}
	a.values = append(a.values, keyed{key, raw})
}

func (a *Answer) fact(name, value text.Message) { a.Facts = append(a.Facts, Fact{name, value}) }

func (a *Answer) note(code string, args ...any) { a.Notes = append(a.Notes, says(code, args...)) }

func says(code string, args ...any) text.Message { return text.Put(code, args...) }

// trim cuts the zeros at the end of a decimal.
func trim(s string) string {
	if !strings.Contains(s, ".") {
		return s
	}
	return strings.TrimRight(strings.TrimRight(s, "0"), ".")
}

// places is how many decimals show at least three, and four digits of what is
// under 1.
func places(r *big.Rat) int {
	n, x := 3, new(big.Rat).Abs(r)
	for x.Sign() > 0 && x.Cmp(one) < 0 && n < 9 {
		x.Mul(x, ten)
		n++
	}
	return n
}

// digits writes a number for people.
func digits(r *big.Rat) string { return trim(r.FloatString(places(r))) }

// plain, ofGrams, show and percent are a number, one of grams, a mass and a share of 1 for a sentence.
func plain(r *big.Rat) text.Value { return text.Number("", digits(r)) }

func ofGrams(r *big.Rat) text.Value { return text.Grams("", digits(r)) }

func show(m protocol.Mass) text.Value { return ofGrams(m.Rat()) }

func percent(r *big.Rat) text.Value { return text.Share("", digits(mul(r, hundred))) }

// factorOf is a factor with four decimals at most.
func factorOf(r *big.Rat) text.Value { return text.Number("", trim(r.FloatString(4))) }

// showUp is show rounded up, for a mass that is the least.
func showUp(m protocol.Mass) text.Value {
	unit := protocol.Gram
	for range places(m.Rat()) {
		unit /= 10
	}
	return show(m.Up(unit))
}

// grams rounds an exact number of grams to the nanogram, or says that it is too much.
func grams(r *big.Rat) (protocol.Mass, error) {
	m, err := protocol.RoundRat(r)
	if errors.Is(err, protocol.ErrRange) {
		return 0, refuse("", "", "calc.the-answer-is-ask-for", err)
	}
	return m.Round(protocol.Nanogram), err
}

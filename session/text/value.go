package text

import (
	"cmp"
	"slices"
	"strconv"
	"strings"
	"time"

	"tared/protocol"
)

// Value is one named value of a message. Two of the same content are deeply equal. It
// holds no interface, for the bench makes sentences with every line of a scale.
type Value struct {
	Name string
	kind kind
	text string        // as the journal keeps it; empty where it is a message
	of   protocol.Mass // of a mass that text rounds, all of it, which JSON does not keep
	said *Message      // nil where it is none
}

func (v Value) same(o Value) bool {
	return v.Name == o.Name && v.kind == o.kind && v.text == o.text && (v.said == o.said || v.said != nil && o.said != nil && v.said.Same(*o.said))
}

// kind is what a value is: how it reads in a language, and how it is kept. A quantity
// has its kind for a key in JSON.
type kind string

const (
	name     kind = "name"
	names    kind = "names"
	number   kind = "number"
	count    kind = "count"
	mass     kind = "g"
	percent  kind = "percent"
	duration kind = "for"
	date     kind = "date"
	clock    kind = "clock"
	moment   kind = "at"
	press    kind = "key"
	term     kind = "words" // older programs read it as a sentence that is written already
	message  kind = "message"
)

// Name is what somebody called a thing: a material, a scale, a person, a batch. It is
// never inflected.
func Name(as, called string) Value { return Value{Name: as, kind: name, text: called} }

// Key is a key of the bench, as its cap shows it; a page may have another for it.
func Key(as, cap string) Value { return Value{Name: as, kind: press, text: cap} }

// Names is a list of names.
func Names(as string, list []string) Value {
	return Value{Name: as, kind: names, text: strings.Join(list, ", ")}
}

// List is several values, with commas between them, or semicolons where a comma is the mark of
// decimals.
func List(as string, all []Value) Value {
	m := Message{Values: slices.Clone(all)}
	for i := range m.Values {
		m.Values[i].Name = comma
	}
	return Value{Name: as, kind: message, said: &m}
}

const (
	comma     = ","
	semicolon = ";"
)

// Term is something that a table of ours says in English: a caution, a substance, a source. A
// language has its own words for it in the area data of its file.
func Term(as, english string) Value { return Value{Name: as, kind: term, text: english} }

// Number is a plain decimal, digits as they stand: a factor, a specific gravity.
func Number(as, digits string) Value { return Value{Name: as, kind: number, text: digits} }

// Count is a number of things; the plural of the sentence follows it.
func Count(as string, n int) Value { return Value{Name: as, kind: count, text: strconv.Itoa(n)} }

// Mass is a mass in grams, rounded to so many places.
func Mass(as string, m protocol.Mass, places int) Value {
	v := Grams(as, m.Rounded(places))
	if m.Places() > places {
		v.of = m
	}
	return v
}

// Known is a mass in grams with no digit that a doubt of u does not support.
func Known(as string, m, u protocol.Mass) Value { return Mass(as, m, min(u.Digits(), m.Places())) }

// Exact is a mass in grams with all of its digits, and not fewer places than these.
func Exact(as string, m protocol.Mass, places int) Value { return Grams(as, m.Grams(places)) }

// Grams is a mass whose digits were chosen already.
func Grams(as, digits string) Value { return Value{Name: as, kind: mass, text: digits} }

// In is a mass in the unit of a scale, with as many places as its step has; "" is the gram.
func In(as string, m protocol.Mass, u protocol.Unit, step protocol.Mass) Value {
	return Grams(as, m.In(u, step)+" "+string(cmp.Or(u, protocol.UnitGram)))
}

// Measured gives the message with its masses in the unit that a scale shows, each with the
// digits that it had in grams: those of the step where it is whole steps, one more than the
// step has where it is not, and as many as say the same where it has fewer.
func (m Message) Measured(u protocol.Unit, step protocol.Mass) Message {
	if u == protocol.UnitNone || u == protocol.UnitGram || step <= 0 {
		return m
	}
	m.Values = slices.Clone(m.Values)
	for i := range m.Values {
		v := &m.Values[i]
		switch {
		case v.kind == message && v.said != nil:
			said := v.said.Measured(u, step)
			v.said = &said
		case v.kind == mass && !strings.Contains(v.text, " "):
			*v = inUnit(*v, u, step)
		}
	}
	return m
}

func inUnit(v Value, u protocol.Unit, step protocol.Mass) Value {
	d, err := protocol.ParseDecimal(v.text)
	if err != nil {
		return v
	}
	of, err := d.Mass(protocol.UnitGram)
	if err != nil {
		return v
	}
	of = cmp.Or(v.of, of)
	digits := step
	switch places := int(d.Places); {
	case of%step == 0:
	case places >= step.StepPlaces():
		digits = max(step/10, 1)
	default:
		for digits = protocol.Gram; places > 0; places-- {
			digits /= 10
		}
	}
	return In(v.Name, of, u, digits)
}

// Share is a share in percent, digits as they stand, without the sign.
func Share(as, digits string) Value { return Value{Name: as, kind: percent, text: digits} }

// Duration is a stretch of time, to the second from a minute on.
func Duration(as string, d time.Duration) Value {
	return Value{Name: as, kind: duration, text: d.String()}
}

// Date is a day, Clock a time of day, Moment both.
func Date(as string, t time.Time) Value {
	return Value{Name: as, kind: date, text: t.Format(time.RFC3339)}
}
func Clock(as string, t time.Time) Value {
	return Value{Name: as, kind: clock, text: t.Format(time.RFC3339)}
}
func Moment(as string, t time.Time) Value {
	return Value{Name: as, kind: moment, text: t.Format(time.RFC3339)}
}

// Said is another message, whole, such as the reason in a refusal.
func Said(as string, m Message) Value {
	if m.Code == "" && m.Values == nil {
		return Term(as, m.Words)
	}
	return Value{Name: as, kind: message, said: &m}
}

// Because is what an error has to say.
func Because(as string, err error) Value { return Said(as, Of(err)) }

// value appends a value, other than a message, as the language writes it.
func (l *Language) value(b []byte, v *Value) []byte {
	switch v.kind {
	case mass:
		digits, unit, _ := strings.Cut(v.text, " ")
		return l.unit(l.digits(b, digits), cmp.Or(unit, "g"))
	case percent:
		return l.unit(l.digits(b, v.text), "%")
	case number:
		return l.digits(b, v.text)
	case term:
		return append(b, l.Term(v.text)...)
	case duration:
		return l.duration(b, v.text)
	case date:
		return l.when(b, v.text, l.date)
	case clock:
		return l.when(b, v.text, hourMinute)
	case moment:
		return l.when(b, v.text, l.date+" "+hourMinute)
	}
	return append(b, v.text...)
}

func (l *Language) duration(b []byte, s string) []byte {
	d, err := time.ParseDuration(strings.Clone(s)) // so that the value can stay on the stack
	two := func(n time.Duration, unit string, rest time.Duration, of string) []byte {
		b := append(l.unit(strconv.AppendInt(b, int64(n), 10), unit), l.gap...)
		return l.unit(strconv.AppendInt(b, int64(rest), 10), of)
	}
	switch {
	case err != nil:
		return append(b, s...)
	case d < time.Minute:
		return l.unit(l.digits(b, strconv.FormatFloat(d.Seconds(), 'f', -1, 64)), "s")
	case d < time.Hour:
		return two(d/time.Minute, "min", d%time.Minute/time.Second, "s")
	}
	return two(d/time.Hour, "h", d%time.Hour/time.Minute, "min")
}

// hourMinute is how a time of day is written in every language.
const hourMinute = "15:04"

func (l *Language) when(b []byte, s, layout string) []byte {
	t, err := time.Parse(time.RFC3339, s)
	if err != nil {
		return append(b, s...)
	}
	if l.first != "" && t.Day() == 1 {
		layout = strings.Replace(layout, "2 ", "2"+l.first+" ", 1)
	}
	before, behind, month := strings.Cut(layout, "January")
	if !month || l.months == "" {
		return t.AppendFormat(b, layout)
	}
	b = append(t.AppendFormat(b, before), strings.Fields(l.months)[t.Month()-1]...)
	return t.AppendFormat(b, behind)
}

// Digits writes a decimal as the language does; anything else stays as it is.
func (l *Language) Digits(s string) string {
	if l == nil {
		return s
	}
	return string(l.digits(make([]byte, 0, len(s)), s))
}

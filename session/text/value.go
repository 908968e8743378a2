package text

import (
	"strconv"
	"strings"
	"time"

	"tared/protocol"
)

// Value is one named value of a message. Two of the same content are deeply equal.
type Value struct {
	Name string
	is   content
}

// content is what a value is: how it reads in a language, and how it is kept.
type content interface {
	say(b []byte, l *Language) []byte
	appendJSON(b []byte) []byte
}

// Name is what somebody called a thing: a material, a scale, a person, a batch. It is
// never inflected.
func Name(as, name string) Value { return Value{as, named(name)} }

// Names is a list of names.
func Names(as string, list []string) Value { return Value{as, names(strings.Join(list, ", "))} }

// Number is a plain decimal, digits as they stand: a factor, a specific gravity.
func Number(as, digits string) Value { return Value{as, number(digits)} }

// Count is a number of things; the plural of the sentence follows it.
func Count(as string, n int) Value { return Value{as, count(n)} }

// Mass is a mass in grams, rounded to so many places.
func Mass(as string, m protocol.Mass, places int) Value { return Value{as, mass(m.Rounded(places))} }

// Exact is a mass in grams with all of its digits, and not fewer places than these.
func Exact(as string, m protocol.Mass, places int) Value { return Value{as, mass(m.Grams(places))} }

// Grams is a mass whose digits were chosen already.
func Grams(as, digits string) Value { return Value{as, mass(digits)} }

// Share is a share in percent, digits as they stand, without the sign.
func Share(as, percent string) Value { return Value{as, share(percent)} }

// Duration is a stretch of time, to the second from a minute on.
func Duration(as string, d time.Duration) Value { return Value{as, duration(d)} }

// Date is a day, Clock a time of day, Moment both.
func Date(as string, t time.Time) Value   { return Value{as, moment{t.Format(time.RFC3339), "date"}} }
func Clock(as string, t time.Time) Value  { return Value{as, moment{t.Format(time.RFC3339), "clock"}} }
func Moment(as string, t time.Time) Value { return Value{as, moment{t.Format(time.RFC3339), "at"}} }

// Said is another message, whole, such as the reason in a refusal.
func Said(as string, m Message) Value { return Value{as, nested(m)} }

// Because is what an error has to say.
func Because(as string, err error) Value { return Said(as, Of(err)) }

type (
	named    string
	names    string
	number   string
	count    int
	mass     string
	share    string
	duration time.Duration
	moment   struct{ at, as string }
	nested   Message
)

func (v named) say(b []byte, _ *Language) []byte  { return append(b, v...) }
func (v names) say(b []byte, _ *Language) []byte  { return append(b, v...) }
func (v number) say(b []byte, l *Language) []byte { return l.digits(b, string(v)) }
func (v count) say(b []byte, _ *Language) []byte  { return strconv.AppendInt(b, int64(v), 10) }
func (v mass) say(b []byte, l *Language) []byte   { return l.unit(l.digits(b, string(v)), "g") }
func (v share) say(b []byte, l *Language) []byte  { return l.unit(l.digits(b, string(v)), "%") }
func (v moment) say(b []byte, l *Language) []byte { return append(b, v.in(l)...) }
func (v nested) say(b []byte, l *Language) []byte { return append(b, l.Say(Message(v))...) }
func (v duration) say(b []byte, l *Language) []byte {
	d := time.Duration(v)
	two := func(n time.Duration, unit string, rest time.Duration, of string) []byte {
		b := append(l.unit(strconv.AppendInt(b, int64(n), 10), unit), l.gap...)
		return l.unit(strconv.AppendInt(b, int64(rest), 10), of)
	}
	switch {
	case d < time.Minute:
		return l.unit(l.digits(b, strconv.FormatFloat(d.Seconds(), 'f', -1, 64)), "s")
	case d < time.Hour:
		return two(d/time.Minute, "min", d%time.Minute/time.Second, "s")
	}
	return two(d/time.Hour, "h", d%time.Hour/time.Minute, "min")
}

func (v moment) in(l *Language) string {
	t, err := time.Parse(time.RFC3339, v.at)
	switch {
	case err != nil:
		return v.at
	case v.as == "date":
		return t.Format(l.date)
	case v.as == "clock":
		return t.Format(clock)
	}
	return t.Format(l.date + " " + clock)
}

// clock is how a time of day is written in every language.
const clock = "15:04"

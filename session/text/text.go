// Package text holds every sentence that a person reads, by code.
//
// What happened is kept as a [Message]: a code and typed values. A [Language] makes
// the sentence of it when it is shown, so that each reader gets their own, and a
// journal holds none. A sentence is always whole in the file of its language
// (en/bench.json and its neighbours; the name of the file is the first word of a code): it
// is never put together from two, since no other language would cut it at the same
// place. Values stand in it by name, {material}; how a mass, a share, a count or a date is
// written is the business of the language, and no file holds a unit. A sentence that
// depends on a number has one form for each plural of the language:
//
//	{"one": "{count} portion is left.", "other": "{count} portions are left."}
//
// The form follows the count among the values.
//
// To add a sentence: write it in the file of its area, and use its code in a call of [New],
// [Refuse] or [Fault], with the code and the names of its values as literals there. A test finds
// each such call in the source, and fails by name for a code without a sentence, a
// sentence that no code uses, and a value that the one has and the other lacks. Then it wants
// its words in the other languages, each of which is one file (de.json), by whole codes:
//
//	go test ./session/text -run Missing -missing de
//
// prints what one lacks, as lines for its file. To add a language: its file, and its entry in
// [All].
//
// The reader of these files is our own, and short. The usual library for this
// (go-i18n) writes "<no value>" where a value is missing and gives the English sentence
// for one that is not translated, both without a word; and the bench makes sentences
// between a line of the scale and the page, where a template is too slow. Here a fault
// shows its code in plain sight, and fails the tests.
//
// Start with Message and New, then [Language.Say].
package text

import (
	"errors"
	"fmt"
	"slices"
	"strconv"
	"strings"

	"tared/protocol"
)

// Message is something to tell a person: the code of a sentence and the values in it.
// Words are there once a language has put it so, or where the sentence itself is all
// there is, see [Written]. The zero Message says nothing.
type Message struct {
	Code   string
	Values []Value
	Words  string
}

// New makes a message.
func New(code string, values ...Value) Message { return Message{Code: code, Values: values} }

// Put is New for values that are named by their place: {1}, {2} and so on. An error says what it
// has to say, a number of things is a count, anything else is a name.
func Put(code string, args ...any) Message {
	m := Message{Code: code}
	for i, arg := range args {
		as := strconv.Itoa(i + 1)
		switch a := arg.(type) {
		case Value:
			a.Name = as
			m.Values = append(m.Values, a)
		case Message:
			m.Values = append(m.Values, Said(as, a))
		case error:
			m.Values = append(m.Values, Because(as, a))
		case int:
			m.Values = append(m.Values, Count(as, a))
		default:
			m.Values = append(m.Values, Name(as, fmt.Sprint(a)))
		}
	}
	return m
}

// Together makes one message of whole sentences, one behind the other.
func Together(all ...Message) Message {
	var m Message
	for i := range all {
		m.Values = append(m.Values, Value{kind: message, said: &all[i]})
	}
	return m
}

// Listed is Together for parts of a sentence, with semicolons between them.
func Listed(all ...Message) Message {
	m := Together(all...)
	for i := range m.Values {
		m.Values[i].Name = semicolon
	}
	return m
}

// Written makes a message of a sentence that is written already: by a person, by an
// old journal, by the system.
func Written(words string) Message { return Message{Words: words} }

// Codes are the code of the message and those of the messages in it.
func (m Message) Codes() []string {
	all := []string{m.Code}
	for _, v := range m.Values {
		if v.said != nil {
			all = append(all, v.said.Codes()...)
		}
	}
	return all
}

// None reports whether the message says nothing.
func (m Message) None() bool { return m.Code == "" && m.Words == "" && m.Values == nil }

// Same reports whether two messages say the same.
func (m Message) Same(o Message) bool {
	return m.Code == o.Code && m.Words == o.Words && slices.EqualFunc(m.Values, o.Values, Value.same)
}

// In puts the message into words.
func (m Message) In(l *Language) Message {
	m.Words = l.Say(m)
	return m
}

// Join sets whole sentences one behind the other.
func Join(l *Language, all []Message) string {
	words := make([]string, len(all))
	for i, m := range all {
		words[i] = l.Say(m)
	}
	return strings.Join(words, " ")
}

// String says the message in plain English, for a log or an error.
func (m Message) String() string { return plainEnglish.Say(m) }

// ErrRefused is in the chain of every [Refusal].
var ErrRefused = errors.New("refused")

// Refusal is an error that tells a person what is wrong and what to do about it.
type Refusal struct{ Message Message }

// Refuse makes a Refusal.
func Refuse(code string, values ...Value) error { return &Refusal{New(code, values...)} }

func (r *Refusal) says() Message { return r.Message }
func (f *fault) says() Message   { return f.message }

// Error says it in plain English.
func (r *Refusal) Error() string { return r.Message.String() }

// Is makes errors.Is(err, ErrRefused) true.
func (r *Refusal) Is(target error) bool { return target == ErrRefused }

// Fault makes an error that tells a person what went wrong where nobody asked for
// anything wrong: a full disk, a damaged file. It is no Refusal.
func Fault(code string, values ...Value) error { return &fault{message: New(code, values...)} }

type fault struct {
	message Message
	cause   error
}

func (f *fault) Error() string { return f.message.String() }
func (f *fault) Unwrap() error { return f.cause }

// Failed is Fault for values by their place, as in [Put]. The first error among them is in its chain.
func Failed(code string, args ...any) error {
	f := &fault{message: Put(code, args...)}
	for _, a := range args {
		if err, ok := a.(error); ok && f.cause == nil {
			f.cause = err
		}
	}
	return f
}

// Kind gives a refusal a kind of its own, which errors.Is then finds too.
func Kind(kind, refusal error) error { return &ofKind{refusal, kind} }

type ofKind struct {
	error
	kind error
}

func (k *ofKind) Unwrap() []error { return []error{k.error, k.kind} }

// Of gives what an error has to say: the message of the Refusal or Fault in its chain,
// else the words of the error.
func Of(err error) Message {
	var said interface{ says() Message }
	if errors.As(err, &said) {
		return said.says()
	}
	if m := amount(err); !m.None() {
		return m
	}
	return Written(err.Error())
}

// longest is how much of an amount that cannot be read is said again.
const longest = 40

// amount says what is wrong with an amount that was typed; nothing for any other error.
func amount(err error) Message {
	var e *protocol.AmountError
	if !errors.As(err, &e) {
		return Message{}
	}
	typed := []rune(e.Amount)
	if len(typed) > longest {
		typed = append(typed[:longest], '…')
	}
	m := New("amount."+e.Why, Name("amount", string(typed)))
	if e.Why == protocol.AmountOtherUnit {
		m.Values = append(m.Values, Name("unit", e.Unit))
	}
	return m
}

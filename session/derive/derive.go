// Package derive works out again what a record says, from what the record itself keeps:
// the weights of a portion from the lines of its scale, the verdict from its band, the
// sums of a batch from its portions. Where the two differ, one of them was changed, or
// the bench was wrong: it asks before it records, and verify names the line.
//
//	derive.go   one portion, one tare, one lift
//	journal.go  all lines of a journal, one after the other
package derive

import (
	"cmp"
	"encoding/hex"
	"slices"
	"strings"

	"tared/protocol"
	"tared/session/batch"
	"tared/session/fact"
	"tared/session/text"
)

// Known is what was recorded of a scale before the fact that is looked at.
type Known struct {
	Format  string        // that its lines are written in; empty: not known
	Stood   protocol.Mass // by how much its zero had moved when the container was last seen there
	Carried protocol.Mass // and by how much it has moved by now
	Lift    *fact.Lifted  // of the container that is off; nil: it is not
}

// Result is what a look at one fact has found. Neither: all follows.
type Result struct {
	Wrong  []text.Message // what it says, and what follows
	Cannot bool           // some of it cannot be derived: a line is missing, or cannot be read
}

func (r *Result) differs(told telling, says, follows, step protocol.Mass) {
	if says != follows {
		r.Wrong = append(r.Wrong, told(pair{says, follows, step.Places()}))
	}
}

// pair is what a line says, and what follows in its place.
type pair struct {
	said, derived protocol.Mass
	places        int
}

func (p pair) says() text.Value    { return text.Exact("says", p.said, p.places) }
func (p pair) follows() text.Value { return text.Exact("follows", p.derived, p.places) }

// telling puts a pair into a sentence.
type telling func(pair) text.Message

func ofAfter(p pair) text.Message     { return text.New("derive.after", p.says(), p.follows()) }
func ofBase(p pair) text.Message      { return text.New("derive.base", p.says(), p.follows()) }
func ofBefore(p pair) text.Message    { return text.New("derive.before", p.says(), p.follows()) }
func ofCarried(p pair) text.Message   { return text.New("derive.carried", p.says(), p.follows()) }
func ofContainer(p pair) text.Message { return text.New("derive.container", p.says(), p.follows()) }
func ofDelivered(p pair) text.Message { return text.New("derive.delivered", p.says(), p.follows()) }
func ofDry(p pair) text.Message       { return text.New("derive.dry", p.says(), p.follows()) }
func ofOther(p pair) text.Message     { return text.New("derive.other", p.says(), p.follows()) }
func ofTyped(p pair) text.Message     { return text.New("derive.typed", p.says(), p.follows()) }

// shows compares a weight with the line that it rests on. The first of the offsets is
// told where none of them fits.
func (r *Result) shows(told telling, says, step protocol.Mass, format string, lines []string, at int, offsets ...protocol.Mass) {
	if at >= len(lines) {
		r.Cannot = true
		return
	}
	shown, ok := Shown(format, lines[at])
	if !ok {
		r.Cannot = true
		return
	}
	if !slices.Contains(offsets, says-shown) {
		r.differs(told, says, shown+offsets[0], step)
	}
}

// Shown reads the weight off a line of a scale as a record keeps it, in printable form.
// ok is false where the format is not known, or the line is no weight in it.
func Shown(format, line string) (m protocol.Mass, ok bool) {
	f, known := protocol.Lookup(format)
	raw, whole := bytesOf(line)
	if !known || !whole || len(raw) == 0 {
		return 0, false
	}
	var r protocol.Reading
	if err := f.Parse(raw, &r); err != nil || r.Status != protocol.OK {
		return 0, false
	}
	m, err := r.Value.Mass(cmp.Or(r.Unit, f.BlankUnit))
	return m, err == nil
}

// bytesOf takes back what pan.Printable did.
func bytesOf(line string) ([]byte, bool) {
	var raw []byte
	for {
		plain, rest, more := strings.Cut(line, `\x`)
		raw = append(raw, plain...)
		if !more {
			return raw, true
		}
		if len(rest) < 2 {
			return nil, false
		}
		b, err := hex.DecodeString(rest[:2])
		if err != nil {
			return nil, false
		}
		raw, line = append(raw, b...), rest[2:]
	}
}

// Tared looks at what counts as zero. What a person answered, and what a pan proved after
// a silence, rests on lines before.
func Tared(f fact.Tared, format string) (r Result) {
	if f.How != "container" {
		return Result{Cannot: true}
	}
	r.shows(ofContainer, f.Container, f.Step, format, f.Raw, 0, f.Carried)
	return r
}

// Lifted looks at what stood there before a lift.
func Lifted(f fact.Lifted, k Known, step protocol.Mass) (r Result) {
	if f.Settled {
		r.shows(ofBefore, f.Before, step, k.Format, f.Raw, 0, f.Carried, k.Stood)
	}
	return r
}

// Portion looks at a portion.
func Portion(f fact.Portion, k Known) (r Result) {
	if f.Carried != nil {
		k.Carried = *f.Carried
	}
	switch f.How {
	case batch.Unknown: // nobody says how much
		r.differs(ofDelivered, f.Delivered, 0, f.Step)
		r.Cannot = true
	case "typed":
		r.typed(f)
	case "tub":
		r.differs(ofDelivered, f.Delivered, f.After-f.Before, f.Step)
		r.shows(ofAfter, f.After, f.Step, k.Format, f.Raw, 0, k.Carried)
	default:
		r.differs(ofDelivered, f.Delivered, f.Before-f.After, f.Step)
		r.weighed(f, k)
	}
	switch is := batch.PortionVerdict(f); {
	case f.Low == 0 && f.High == 0: // it has no band
		r.Cannot = true
	case f.Verdict != is:
		r.Wrong = append(r.Wrong, text.New("derive.verdict", text.Name("says", f.Verdict), text.Name("follows", is)))
	}
	return r
}

// weighed looks at the weights of a container that was tipped. Where two lines show what
// left it, its zero does not matter.
func (r *Result) weighed(f fact.Portion, k Known) {
	if len(f.Raw) > 1 && f.How == "tipped" {
		before, ok := Shown(k.Format, f.Raw[0])
		after, ok2 := Shown(k.Format, f.Raw[1])
		if ok && ok2 && before-after == f.Before-f.After {
			return
		}
	}
	if l := k.Lift; l != nil && l.Settled && f.How != "unsettled" {
		r.shows(ofBefore, f.Before, f.Step, k.Format, f.Raw, 0, l.Carried, k.Carried, k.Stood)
	} else {
		r.Cannot = true
	}
	switch {
	case f.How == "tipped" && r.below(f, k.Format):
	case f.How == "tipped":
		r.shows(ofAfter, f.After, f.Step, k.Format, f.Raw, 1, k.Carried)
	case f.Other != 0:
		r.shows(ofOther, f.Other, f.Step, k.Format, f.Raw, 1, k.Carried)
	}
}

// below reports whether the container was back, tared with the scale's own key, and off
// again: the empty pan then shows its weight below zero.
func (r *Result) below(f fact.Portion, format string) bool {
	if len(f.Raw) < 2 {
		return false
	}
	shown, ok := Shown(format, f.Raw[1])
	return ok && shown < 0 && f.After == -shown
}

// typed looks at what a person said went in.
func (r *Result) typed(f fact.Portion) {
	if len(f.Raw) == 0 {
		r.Cannot = true
		return
	}
	m, err := protocol.ParseMass(strings.TrimPrefix(f.Raw[len(f.Raw)-1], "typed "))
	if err != nil {
		r.Cannot = true
		return
	}
	r.differs(ofTyped, f.Delivered, m, f.Step)
}

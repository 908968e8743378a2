// Package guide tells a pouring hand when to ease off and when to stop. It knows
// numbers only: no scale, no page, no clock.
//
// A Pour is what the scale shows of it and an Aim what is wanted. Person.Cue judges
// where the pour would land if the hand were told to stop now, rather than where the
// reading stands: the reading runs behind by the filter's lag, some powder is in the
// air, and the hand needs its reaction time. Learnt watches how far pours run on after
// "stop", and knows from that how quick each person is, and from each tip how much clings
// to the container; it serves the cues alone, never a record. learn.go and cling.go hold
// that, and guide.go the cues.
package guide

import (
	"slices"
	"time"

	"tared/protocol"
)

// The times that follow "stop".
const (
	// UsualReaction is how long a hand takes to stop a pour once told, until its own
	// is known (the design value; young adults need 0.16 to 0.19 s for a sound or a
	// light, Kosinski's review).
	UsualReaction = 250 * time.Millisecond
	// usualSway is how far a reaction is off the usual one, until more is known: the
	// spread of the people in package sim, whose sources stand there.
	usualSway = 50 * time.Millisecond
	// swayMargin is how many times that is reckoned with: of a normal spread some one
	// in a hundred is beyond.
	swayMargin = 3
	// InTheAir is how long powder falls: 0.15 m at 9.81 m/s², the air left out.
	InTheAir = 170 * time.Millisecond
	// easeTime and half the scale's lag are how long before "stop" the pour should be
	// eased: so long that the hand has eased and the display has followed. In the
	// study less has the word "stop" come while the old flow is still believed, and
	// more only costs time.
	easeTime = 750 * time.Millisecond
	// slowLines is the time between lines from which it matters.
	slowLines = 200 * time.Millisecond
)

// Cue is what the hand should be told; empty: nothing.
type Cue string

// The cues.
const (
	Near    Cue = "near"
	Ease    Cue = "ease"
	StopNow Cue = "stop"
)

// shortest is how long a cue stands at least before a weaker one may follow: a word that
// gives way sooner cannot be read, and a flow that wavers must not change it to and fro.
const shortest = 800 * time.Millisecond

// Told is the cue that a hand is told, and when the guide last meant it. The zero value
// is nothing told.
type Told struct {
	Cue Cue
	at  time.Time
}

// Then gives what is told next: at once what is more urgent, and what is less when the
// present cue has stood long enough.
func (t Told) Then(c Cue, now time.Time) Told {
	if c.urgency() < t.Cue.urgency() && now.Sub(t.at) < shortest {
		return t
	}
	return Told{c, now}
}

func (c Cue) urgency() int { return slices.Index([]Cue{Ease, StopNow}, c) }

// Aim is what one weighing should reach.
type Aim struct{ Target, Low, High protocol.Mass }

// Pour is a pour as the last lines of its scale show it.
type Pour struct {
	Scale string        // with Base, which pour it is
	Base  protocol.Mass // what the container weighed when it began
	In    protocol.Mass // in the container
	Flow  protocol.Mass // what comes in a second
	Lump  protocol.Mass // how much more than its share came at once of late
	Step  protocol.Mass // the scale's
	Lag   time.Duration // of the scale's filter
	Every time.Duration // between two lines
	Since time.Duration // since the last line
}

// Brings is what a flow brings in some time.
func Brings(flow protocol.Mass, d time.Duration) protocol.Mass {
	return flow / 1000 * protocol.Mass(d.Milliseconds())
}

// Runs reports whether something comes at all.
func (w Pour) Runs() bool { return w.Flow > w.Step/2 }

// Slow reports whether lines come so seldom that the pour goes on unseen between two
// of them.
func (w Pour) Slow() bool { return w.Every >= slowLines }

// unseen is how long the pour may have gone on since the last line of a slow scale;
// little more than the time to the next, after which it may have stopped as well.
func (w Pour) unseen() time.Duration {
	if !w.Slow() {
		return 0
	}
	return max(0, min(w.Since, w.Every*5/4))
}

// Person is how quick a hand is, and how far off that on the whole. The zero value is
// somebody of whom nothing is known.
type Person struct{ Reaction, Sway time.Duration }

func (p Person) reaction() time.Duration {
	if p.Reaction == 0 {
		return UsualReaction
	}
	return p.Reaction
}

func (p Person) sway() time.Duration {
	if p.Sway == 0 {
		return usualSway
	}
	return p.Sway
}

// Cue judges what the hand should be told now.
func (p Person) Cue(a Aim, w Pour) Cue {
	if w.Runs() {
		landing := w.In + Brings(w.Flow, w.unseen()+w.Lag+InTheAir+p.reaction())
		// A hand is not always as quick, and one more lump may fall: what may land over
		// the high mark is stopped sooner, though not much under the low mark. A little
		// more is soon poured, and too much is dear.
		mark := min(a.Target, a.High-Brings(w.Flow, swayMargin*p.sway())-w.Lump)
		mark = max(mark, a.Low-2*(a.Target-a.Low), a.Target/2)
		ease := easeTime + w.Lag/2
		if w.Slow() {
			ease += w.Every
		}
		switch {
		case landing >= mark:
			return StopNow
		case landing+Brings(w.Flow, ease)+w.Lump >= mark:
			return Ease
		}
	}
	if w.In >= a.Target/10*9 {
		return Near
	}
	return ""
}

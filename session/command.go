package session

import (
	"strings"
	"time"

	"tared/scale"
	"tared/scale/pan"
	"tared/session/text"
)

// Command is one word from a person, with what it needs behind it.
type Command struct {
	At   time.Time `json:"-"`
	Word string    `json:"word"` // yes, enlarge, keep, skip, undo, pause, resume, note, typed, done, …
	Rest string    `json:"rest"` // name, mass, text
	By   string    `json:"by"`   // who; empty: the operator of the batch
	// Seen is the Seq of the view that the person saw; 0 when unknown. An answer
	// to a question that is no longer asked is refused, so that two browsers
	// pressing at once do one thing.
	Seen uint64 `json:"seen"`

	mark string // for a batch that takes the place of this one; the bench gives it
}

// Record is the word by which a person has the journal opened again, once what was
// wrong with it was put right.
const Record = "record"

// Input is one thing that reaches the bench: an update of a scale, a command of
// a person, or, when both are nil, a tick of the clock.
type Input struct {
	At      time.Time
	Update  *scale.Update
	Command *Command

	room []pan.Pan // for those of the next state; nil: it makes its own
}

// ErrRefused is in the chain of every error about a command that does not fit
// the state; its text tells the person what fits.
var ErrRefused = text.ErrRefused

// ParseCommand reads a line such as "yes Mara" or "typed 12.3g".
func ParseCommand(line string) Command {
	word, rest, _ := strings.Cut(strings.TrimSpace(line), " ")
	return Command{Word: strings.ToLower(word), Rest: strings.TrimSpace(rest)}
}

// Package fact names what the journal records: one type for each kind of fact, all
// in one table, [Kinds]. A fact says what happened, in codes and values; it is never
// changed, only followed by another. Session writes them, folds read them, and book
// makes a sentence of each; the journal itself does not look inside.
package fact

import (
	"errors"
	"time"
)

// Body is the part of a fact that depends on its kind.
type Body interface {
	// Kind is the word in the record's "kind" field.
	Kind() string
}

// Fact is one thing that happened.
type Fact struct {
	Seq   uint64    // set by the journal
	At    time.Time // when it happened
	Batch string    // mark of the batch; empty where it belongs to none
	By    string    // operator, or "scale" / "tared" where no person acted
	Body  Body
}

// NotNamed stands for a person who gave no name.
const NotNamed = "not-named"

// ErrFact is in the chain of every error about a line that cannot be understood
// as a fact.
var ErrFact = errors.New("not a fact")

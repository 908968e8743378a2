// Package session is the weighing itself.
//
// The words: a batch is a recipe at a size, one Step for each material; a
// pan.Pan, of package scale/pan, is what the bench believes of one scale (a
// container, its tare, what is in it); an Input is an update of a scale, a
// Command of a person, or a tick, each with its time; a fact is what the journal
// keeps.
//
// Next is the machine: state and input in, state and facts out, and nothing
// else, so that a batch replays from its journal and a million pours can be
// tried without a clock. What must outlive a power cut is changed by facts
// alone (apply), live or replayed: that is why a restarted bench stands where
// it stood. Bench is the one goroutine that owns a State; it writes the facts
// to the journal, then takes the new state, then shows the View. A line of a scale
// from which no fact follows is taken in by whoever brings it (feed.go), one at a time.
//
// A batch begins with a plan.Request: package plan makes the sheet, planned.go the
// fact that opens the batch, start.go starts it.
//
// Read on in state.go, then machine.go (what follows from what hands did on a
// pan), follow.go (another scale is used than the sheet named), learnt.go (when the
// hand should stop, by package guide), view.go (what the potter reads) and show.go (how
// that looks), bench.go. doors.go is what people ask of the bench beside its commands,
// record.go the same where no bench is running; check.go checks a scale itself.
package session

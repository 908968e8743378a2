package session

import (
	"maps"
	"time"

	"tared/session/fact"
	"tared/session/journal"
	say "tared/session/sentence"
)

// epochs know how often this journal began anew, in which format it is written, and by
// which bench.
type epochs struct {
	epoch, format uint64
	bench, sign   string
	since         uint64            // line from which on it is that bench; 0: none is named
	signs         map[string]string // the bench that each sign is of
}

// Reads reports whether it is a beginning.
func (*epochs) Reads(kind, _ string, _ time.Time, _ []byte) bool {
	return kind == (fact.Began{}).Kind()
}

// Add takes the next fact.
func (e *epochs) Add(f fact.Fact) {
	if v, ok := f.Body.(fact.Began); ok {
		e.epoch, e.format = v.Epoch, max(e.format, v.Format)
		if v.Bench != "" {
			if e.bench != v.Bench {
				e.since = f.Seq
			}
			e.bench, e.sign, e.signs = v.Bench, v.Sign, maps.Clone(e.signs)
			if e.signs == nil {
				e.signs = map[string]string{}
			}
			e.signs[v.Sign] = v.Bench
		}
	}
}

// taken reports whether a sign is that of another bench.
func (e *epochs) taken(sign, bench string) bool {
	of, known := e.signs[sign]
	return known && of != bench
}

// begins gives the line that a bench must write before all else: the first of a
// journal, or one that names the journal that should be here and is not; nil: none. No
// copy and no loss goes on unseen, and the record says itself where it is not whole.
func (e *epochs) begins(rep journal.Report) *fact.Began {
	b := fact.Began{Epoch: e.epoch + 1, Format: fact.Format}
	switch {
	case rep.Missing != nil:
		b.Why, b.Lines, b.Head, b.Seen = fact.BeganOlder, rep.Missing.Lines, rep.Missing.Head.String(), rep.Missing.At.Format(time.RFC3339)
		if rep.Lines == 0 {
			b.Why, b.Epoch = fact.BeganGone, 2 // at least
		}
	case e.epoch == 0:
	case rep.Unwitnessed:
		return e.next(fact.BeganCopy, rep.Place)
	default:
		return nil
	}
	return &b
}

// next begins another epoch behind a place of the journal.
func (e *epochs) next(why string, p journal.Place) *fact.Began {
	return &fact.Began{Epoch: e.epoch + 1, Format: fact.Format, Why: why, Lines: p.Lines, Head: p.Head.String(), Seen: p.Last.Format(time.RFC3339)}
}

// begin records the beginning of an epoch, where one is due, and says so.
func (t *change) begin(v *fact.Began) {
	if v == nil {
		return
	}
	t.put("", "tared", *v)
	if v.Why != "" {
		for _, m := range say.Messages(t.facts[0]) {
			t.Tell(m)
		}
	}
}

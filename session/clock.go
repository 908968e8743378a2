package session

import (
	"time"

	"tared/scale"
	"tared/session/fact"
	say "tared/session/sentence"
)

// clock says when the clock of the machine was set while the bench ran: times in the
// record then follow the new one, and a person who reads it later must know.
func (b *Bench) clock() {
	now := b.cfg.Now()
	if by := jumped(now.Round(0).Sub(b.clockAt.Round(0)), now.Sub(b.clockAt)); by != 0 && !b.clockAt.IsZero() {
		b.clockSet(now, by)
	}
	b.clockAt = now
}

func (b *Bench) clockSet(now time.Time, by time.Duration) {
	t := change{s: b.s, at: now}
	set := fact.Noticed{What: "clock", Set: by.Round(time.Second).String()}
	t.Tell(say.Messages(fact.Fact{Body: set})[0])
	if b.s.open() {
		t.put(b.s.Batch.Mark, "tared", set)
	}
	_ = b.commit(t.s, t.facts) // the view says so
	b.publish(true)
}

// jumped tells by how much more the clock went on than time passed; what is less than two
// seconds is none, for a clock that is kept right is moved by little.
func jumped(clock, passed time.Duration) time.Duration {
	if by := clock - passed; by.Abs() >= 2*time.Second {
		return by
	}
	return 0
}

// looksAgain tells how long the clock need not be looked at.
func (s *State) looksAgain() time.Duration {
	for i := range s.Pans {
		if p := &s.Pans[i]; p.Live(s.Now) && s.Now.Sub(p.Line().At) >= scale.StaleAfter-calmTick {
			return tickEvery // it may be about to fall silent
		}
	}
	return calmTick
}

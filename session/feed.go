package session

import (
	"bytes"
	"reflect"
	"runtime"
	"sync"
	"time"

	"tared/scale"
)

// Feed gives the bench what an instrument did. Any goroutine may call it. Of a
// scale that says the same for long the bench is told about once a second, so that
// an idle machine may sleep.
func (b *Bench) Feed(u scale.Update) {
	if b.door.idle(u) || b.overhear(&u) {
		return
	}
	select {
	case b.updates <- u:
		// The caller goes on to wait for the port, and would keep its processor until
		// the runtime takes it away: the bench had to be woken on another one.
		runtime.Gosched()
	case <-b.stopped:
	}
}

// overhear takes up an update of which nothing has to be recorded, and tells whether it
// was one. Whoever brings it does the work: no other goroutine has to be woken.
func (b *Bench) overhear(u *scale.Update) bool {
	if !b.mine.TryLock() {
		return false // at work, or waiting for the disk
	}
	defer b.mine.Unlock()
	if !b.runs || len(b.updates) > 0 || b.checker.runs[u.Scale] != nil {
		return false
	}
	next, facts, err := Next(b.s, Input{At: u.At, Update: u, room: b.room})
	if err != nil || len(facts) > 0 {
		return false
	}
	b.room, b.s = b.s.Pans, next // nobody else has them
	b.refresh()
	b.hurry()
	return true
}

// repeatEvery is how often the bench is woken by a scale that says the same again and
// again. A scale that falls silent shows in any case; so this decides only how old the
// time of the last line may look to who asks.
const repeatEvery = 800 * time.Millisecond

// longSame is how long a scale must have said the same until nothing follows any
// more from its saying it again: the longest window of a flow is a second.
const longSame = 2 * time.Second

// door knows what came through it last, scale by scale.
type door struct {
	mu   sync.Mutex
	came map[string]*came
}

type came struct {
	what   scale.Update // without its time and its number
	since  time.Time    // when it was said first
	passed time.Time    // when it came through last
}

// idle tells whether an update is one that the bench need not be woken for.
func (d *door) idle(u scale.Update) bool {
	d.mu.Lock()
	defer d.mu.Unlock()
	what := u
	what.At, what.Counts.Frames = time.Time{}, 0
	c := d.came[u.Scale]
	if c == nil {
		c = &came{}
		if d.came == nil {
			d.came = map[string]*came{}
		}
		d.came[u.Scale] = c
	}
	age := u.At.Sub(c.passed)
	switch {
	case !bytes.Equal(what.Reading.Raw, c.what.Reading.Raw) || !reflect.DeepEqual(what, c.what):
		c.what, c.since = what, u.At
	case age >= 0 && age < repeatEvery && u.At.Sub(c.since) >= longSame:
		return true
	}
	c.passed = u.At
	return false
}

package session

import (
	"reflect"
	"sync"
	"time"

	"tared/scale"
)

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
	case !reflect.DeepEqual(what, c.what):
		c.what, c.since = what, u.At
	case age >= 0 && age < repeatEvery && u.At.Sub(c.since) >= longSame:
		return true
	}
	c.passed = u.At
	return false
}

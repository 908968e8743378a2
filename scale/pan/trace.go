package pan

import (
	"strconv"
	"time"

	"tared/protocol"
)

// A trace is a pour as the scale showed it, thinned to a few points while it is
// made, so that a take stays quick and the journal small: with its line of 300
// bytes more it costs the disk nothing that can be measured. What it is for is the
// picture; evidence are the lines in "raw".
const (
	tracePoints = 32
	traceEvery  = 200 * time.Millisecond // between two points at first; twice that each time there is no more room
)

type trace struct {
	start time.Time
	every time.Duration
	n     int
	at    [tracePoints]time.Duration // since start
	g     [tracePoints]protocol.Mass // gross
}

func (t *trace) add(at time.Time, g protocol.Mass) {
	if t.n == 0 || at.Before(t.start) {
		*t = trace{start: at, every: traceEvery, n: 1}
		t.g[0] = g
		return
	}
	since, last := at.Sub(t.start), t.n-1
	switch {
	case t.n == 1 && t.g[0] == g: // nothing has come yet
		t.start = at
		return
	case t.n > 1 && t.g[last] == g && t.g[last-1] == g, t.n > 1 && t.at[last]-t.at[last-1] < t.every:
		t.at[last], t.g[last] = since, g
		return
	case t.n == tracePoints: // every second one makes room; the first stays
		for i := 1; 2*i < t.n; i++ {
			t.at[i], t.g[i] = t.at[2*i], t.g[2*i]
		}
		t.n /= 2
		t.every *= 2
	}
	t.at[t.n], t.g[t.n] = since, g
	t.n++
}

// fall takes off what the scale showed while the container went: all points at
// the end that are lighter than it was.
func (t *trace) fall(before protocol.Mass) {
	for t.n > 0 && t.g[t.n-1] < before {
		t.n--
	}
}

// text writes the trace with what was in the container: seconds, a colon, grams.
// It is empty where there are too few points to see anything.
func (t *trace) text(base protocol.Mass, places int) string {
	if t.n < 3 {
		return ""
	}
	b := make([]byte, 0, 12*t.n)
	for i := range t.n {
		if i > 0 {
			b = append(b, ' ')
		}
		tenths := int64(t.at[i] / (100 * time.Millisecond))
		b = append(strconv.AppendInt(b, tenths/10, 10), '.', byte('0'+tenths%10), ':')
		b = append(b, (t.g[i] - base).Grams(places)...)
	}
	return string(b)
}

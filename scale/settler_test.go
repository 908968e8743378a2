package scale

import (
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"tared/protocol"
)

const tenth = 100 * protocol.Milligram

var noon = time.Date(2026, 11, 25, 12, 0, 0, 0, time.UTC)

// shows turns tenths of a gram into masses.
func shows(tenths ...int) []protocol.Mass {
	var ms []protocol.Mass
	for _, t := range tenths {
		ms = append(ms, protocol.Mass(t)*tenth)
	}
	return ms
}

// settledAt feeds readings at an even pace and gives the number of the first at
// which the settler says rest (from 1), or 0.
func settledAt(s *Settler, every time.Duration, claim protocol.Claim, ms []protocol.Mass) int {
	at := 0
	for i, m := range ms {
		if s.Add(noon.Add(time.Duration(i)*every), m, tenth, claim) && at == 0 {
			at = i + 1
		}
	}
	return at
}

func repeat(n int, ms ...protocol.Mass) []protocol.Mass {
	var out []protocol.Mass
	for range n {
		out = append(out, ms...)
	}
	return out
}

func TestSettler(t *testing.T) {
	const tick = 100 * time.Millisecond
	for _, c := range []struct {
		name   string // and where the rule is from
		window time.Duration
		every  time.Duration
		claim  protocol.Claim
		shows  []protocol.Mass
		want   int
	}{
		// "within NR steps for NT ms", NR 1, NT 500 ms: transmitter manual EM100-F
		// p. 37, read as a spread of one step.
		{"flicker between neighbours, EM100-F p. 37", 500 * time.Millisecond, tick, protocol.Unsaid,
			shows(500, 501, 500, 501, 500, 501), 6},
		{"a spread of two steps, EM100-F p. 37", 500 * time.Millisecond, tick, protocol.Unsaid,
			shows(500, 501, 502, 501, 500, 501), 0},
		{"a ramp of a fifth of a step a reading, derived from EM100-F p. 37", 500 * time.Millisecond, tick, protocol.Unsaid,
			shows(500, 500, 500, 501, 501, 501), 0},
		// The rules of the design: one step over one second with no trend.
		{"constant: one second, and not earlier", 0, tick, protocol.Unsaid, repeat(20, 50*protocol.Gram), 11},
		{"constant and flagged", 0, tick, protocol.Yes, repeat(20, 50*protocol.Gram), 11},
		{"constant but flagged as moving", 0, tick, protocol.No, repeat(40, 50*protocol.Gram), 0},
		{"flagged as stable but running away", 0, tick, protocol.Yes, shows(0, 2, 4, 6, 8, 10, 12, 14, 16, 18, 20, 22, 24), 0},
		{"one step every 0.5 s, one way", 0, tick, protocol.Unsaid,
			shows(0, 0, 0, 0, 0, 1, 1, 1, 1, 1, 2, 2, 2, 2, 2, 3, 3, 3, 3, 3, 4, 4, 4, 4, 4, 5), 0},
		{"one step every 0.8 s, one way", 0, tick, protocol.Unsaid,
			shows(0, 0, 0, 0, 1, 1, 1, 1, 1, 1, 1, 1, 2, 2, 2, 2, 2, 2, 2, 2, 3, 3, 3, 3, 3, 3, 3, 3, 4, 4, 4, 4, 4, 4, 4, 4), 0},
		{"one step every 0.8 s, downwards", 0, tick, protocol.Unsaid,
			shows(4, 4, 4, 4, 3, 3, 3, 3, 3, 3, 3, 3, 2, 2, 2, 2, 2, 2, 2, 2, 1, 1, 1, 1, 1, 1, 1, 1, 0, 0, 0, 0, 0, 0, 0, 0), 0},
		{"a slow flicker, half a second each", 0, tick, protocol.Unsaid,
			shows(0, 0, 0, 0, 0, 1, 1, 1, 1, 1, 0, 0, 0, 0, 0, 1), 11},
		{"a pour that stops: one second after the last step", 0, tick, protocol.Unsaid,
			append(shows(0, 50, 100, 150), repeat(15, 20*protocol.Gram)...), 15},
		{"a pour that ends in a flicker", 0, tick, protocol.Unsaid,
			append(shows(0, 50, 100), repeat(8, shows(200, 201)...)...), 14},
		// Few lines.
		{"two lines a second", 0, 500 * time.Millisecond, protocol.Unsaid, repeat(5, 50*protocol.Gram), 3},
		{"one line a second", 0, time.Second, protocol.Unsaid, repeat(5, 50*protocol.Gram), 2},
		{"one line in two seconds", 0, 2 * time.Second, protocol.Unsaid, repeat(5, 50*protocol.Gram), 2},
		{"one line in five seconds says nothing of the time between", 0, 5 * time.Second, protocol.Yes, repeat(5, 50*protocol.Gram), 0},
		{"a burst of old lines", 0, time.Microsecond, protocol.Yes, repeat(500, 50*protocol.Gram), 0},
	} {
		t.Run(c.name, func(t *testing.T) {
			assert.Equal(t, c.want, settledAt(&Settler{Window: c.window}, c.every, c.claim, c.shows))
		})
	}
}

func TestSettlerCountsABurstOnce(t *testing.T) {
	var s Settler
	at := func(ms int) time.Time { return noon.Add(time.Duration(ms) * time.Millisecond) }
	assert.False(t, s.Add(at(0), 0, tenth, protocol.Yes))
	// A stall of 0.9 s, then the buffer hands over what it held.
	for range 9 {
		assert.False(t, s.Add(at(900), 0, tenth, protocol.Yes))
	}
	assert.True(t, s.Add(at(1000), 0, tenth, protocol.Yes))
	// A burst whose lines differ by more than a step is no rest, though its last
	// line is the old value again.
	s.Add(at(1100), 5*tenth, tenth, protocol.Yes)
	assert.False(t, s.Add(at(1100), 0, tenth, protocol.Yes))
	assert.False(t, s.Add(at(2000), 0, tenth, protocol.Yes))
	assert.False(t, s.Add(at(2050), 0, tenth, protocol.Yes))
	assert.False(t, s.Add(at(2100), 0, tenth, protocol.Yes), "the burst stood at the beginning of this second")
	assert.True(t, s.Add(at(2200), 0, tenth, protocol.Yes))
}

func TestSettlerForgets(t *testing.T) {
	fill := func() *Settler {
		s := &Settler{}
		require.Equal(t, 11, settledAt(s, 100*time.Millisecond, protocol.Yes, repeat(11, tenth)))
		return s
	}
	t.Run("after a reset", func(t *testing.T) {
		s := fill()
		s.Reset()
		assert.False(t, s.Add(noon.Add(1100*time.Millisecond), tenth, tenth, protocol.Yes))
	})
	t.Run("after a gap", func(t *testing.T) {
		s := fill()
		assert.False(t, s.Add(noon.Add(6*time.Second), tenth, tenth, protocol.Yes))
	})
	t.Run("when the clock goes back", func(t *testing.T) {
		s := fill()
		assert.False(t, s.Add(noon, tenth, tenth, protocol.Yes))
	})
}

func TestSettlerChangeOfRange(t *testing.T) {
	var s Settler
	const g = protocol.Gram
	for i := range 11 {
		s.Add(noon.Add(time.Duration(i)*100*time.Millisecond), 100*g, tenth, protocol.Yes)
	}
	// 100.0 becomes 101 in the coarser range: one of its steps.
	at := noon.Add(1100 * time.Millisecond)
	s.Add(at, 101*g, g, protocol.Yes)
	for i := 1; i < 12; i++ {
		at = at.Add(100 * time.Millisecond)
		s.Add(at, 101*g, g, protocol.Yes)
	}
	assert.Equal(t, g, s.step)
	// Back in the fine range, ten fine steps away, once the coarse one is out of the
	// window it no longer excuses a spread.
	var got bool
	for i := 1; i < 15; i++ {
		got = s.Add(at.Add(time.Duration(i)*100*time.Millisecond), 100*g+5*tenth, tenth, protocol.Yes)
	}
	assert.True(t, got)
	assert.Equal(t, tenth, s.step)
	assert.False(t, s.Add(at.Add(1500*time.Millisecond), 100*g, tenth, protocol.Yes))
}

// The computer was busy while a container came to rest. The first line that it
// reads then is an old one, and says nothing of the time since.
func TestSettlerDoubtsLinesReadLate(t *testing.T) {
	var s Settler
	at, m := noon, 150*protocol.Gram
	for range 40 { // still rising, by a step every quarter of a second
		at = at.Add(50 * time.Millisecond)
		if at.UnixMilli()%250 == 0 {
			m += tenth
		}
		require.False(t, s.Add(at, m, tenth, protocol.Unsaid))
	}
	at = at.Add(1800 * time.Millisecond)
	assert.False(t, s.Add(at, m, tenth, protocol.Unsaid), "a line that lay in a buffer")
	for i := range 6 {
		assert.False(t, s.Add(at.Add(time.Duration(i)*20*time.Microsecond), m+protocol.Mass(i)*tenth, tenth, protocol.Unsaid), "the heap behind it")
	}
	m += 5 * tenth
	for range 19 {
		at = at.Add(50 * time.Millisecond)
		assert.False(t, s.Add(at, m, tenth, protocol.Unsaid), "not yet a second since")
	}
	rests := false
	for range 3 {
		at = at.Add(50 * time.Millisecond)
		rests = s.Add(at, m, tenth, protocol.Unsaid)
	}
	assert.True(t, rests)

	// A scale that always speaks so slowly is not late.
	slow := Settler{}
	for i := range 4 {
		rests = slow.Add(noon.Add(time.Duration(i)*1200*time.Millisecond), m, tenth, protocol.Unsaid)
	}
	assert.True(t, rests)
}

func TestSettlerPrintKey(t *testing.T) {
	s := Settler{Print: true}
	at := func(ms int) time.Time { return noon.Add(time.Duration(ms) * time.Millisecond) }
	assert.True(t, s.Add(at(0), 5*protocol.Gram, tenth, protocol.Unsaid), "a key pressed after silence")
	assert.False(t, s.Add(at(100), 9*protocol.Gram, tenth, protocol.Unsaid), "a stream, not a key")
	assert.True(t, s.Add(at(200), 9*protocol.Gram, tenth, protocol.Yes), "the scale itself says so")
	assert.False(t, s.Add(at(9000), 9*protocol.Gram, tenth, protocol.No), "the scale itself says no")
	one := Settler{}
	assert.False(t, one.Add(at(0), 5*protocol.Gram, tenth, protocol.Yes), "one line of a streaming scale settles nothing")
}

// However the readings fall: rest is never said while the last second spreads
// over more than a step, before a second is over, or against the scale's flag.
func TestSettlerNeverRestsWhileMoving(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		var s Settler
		type seen struct {
			at time.Time
			m  protocol.Mass
		}
		var all []seen
		at := noon
		m := protocol.Mass(0)
		for range rapid.IntRange(1, 200).Draw(t, "n") {
			at = at.Add(time.Duration(rapid.IntRange(10, 400).Draw(t, "ms")) * time.Millisecond)
			m += protocol.Mass(rapid.SampledFrom([]int{0, 0, 0, 0, 1, -1, 1, -1, 3}).Draw(t, "move")) * tenth
			all = append(all, seen{at, m})
			claim := rapid.SampledFrom([]protocol.Claim{protocol.Unsaid, protocol.Yes, protocol.Yes, protocol.No}).Draw(t, "claim")
			if !s.Add(at, m, tenth, claim) {
				continue
			}
			if claim == protocol.No {
				t.Fatalf("rest against the flag")
			}
			lo, hi, first := m, m, at
			for i := len(all) - 1; i >= 0; i-- {
				lo, hi, first = min(lo, all[i].m), max(hi, all[i].m), all[i].at
				if at.Sub(first) >= time.Second {
					break
				}
			}
			if at.Sub(first) < time.Second {
				t.Fatalf("rest after %v", at.Sub(first))
			}
			if hi-lo > tenth {
				t.Fatalf("rest with a spread of %v", hi-lo)
			}
		}
	})
}

// A steady trickle of more than a step a second never rests.
func TestSettlerNeverRestsOnATrickle(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		var s Settler
		every := time.Duration(rapid.IntRange(50, 250).Draw(t, "every ms")) * time.Millisecond
		perSecond := protocol.Mass(rapid.Int64Range(int64(tenth)*11/10, int64(tenth)*20).Draw(t, "pg a second"))
		if rapid.Bool().Draw(t, "down") {
			perSecond = -perSecond
		}
		start := protocol.Mass(rapid.Int64Range(0, int64(tenth)).Draw(t, "start"))
		for i := range 100 {
			d := time.Duration(i) * every
			m := start + 1000*protocol.Gram + perSecond*protocol.Mass(d.Milliseconds())/1000
			if s.Add(noon.Add(d), m/tenth*tenth, tenth, protocol.Unsaid) {
				t.Fatalf("rest after %v of a trickle of %v a second", d, perSecond)
			}
		}
	})
}

// Whatever happened before, a value that stays is at rest a second later.
func TestSettlerRestsInTheEnd(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		var s Settler
		at := noon
		for range rapid.IntRange(0, 100).Draw(t, "n") {
			at = at.Add(time.Duration(rapid.IntRange(1, 300).Draw(t, "ms")) * time.Millisecond)
			s.Add(at, protocol.Mass(rapid.IntRange(-50, 50).Draw(t, "m"))*tenth, tenth, protocol.Unsaid)
		}
		got := false
		for range 11 {
			at = at.Add(100 * time.Millisecond)
			got = s.Add(at, 7*tenth, tenth, protocol.Unsaid)
		}
		if !got {
			t.Fatal("no rest after a second without change")
		}
	})
}

func TestSettlerDoesNotAllocate(t *testing.T) {
	var s Settler
	at := noon
	assert.Zero(t, testing.AllocsPerRun(1000, func() {
		at = at.Add(50 * time.Millisecond)
		s.Add(at, 5*protocol.Gram, tenth, protocol.Yes)
	}))
}

func BenchmarkSettlerAdd(b *testing.B) {
	var s Settler
	at := noon
	b.ReportAllocs()
	for i := 0; b.Loop(); i++ {
		at = at.Add(50 * time.Millisecond)
		s.Add(at, protocol.Mass(i&1)*tenth, tenth, protocol.Yes)
	}
}

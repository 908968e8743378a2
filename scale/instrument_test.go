package scale

import (
	"bytes"
	"encoding/json"
	"fmt"
	"path/filepath"
	"strings"
	"sync/atomic"
	"testing"
	"testing/synctest"
	"time"

	"github.com/rs/zerolog"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"tared/protocol"
)

// line writes a header-comma line as A&D's manuals show it: "ST,+00123.45  g\r\n".
func line(head, digits string) string { return head + "," + digits + "  g\r\n" }

const given = "name=bench,port=x,format=header-comma,baud=2400,line=7E1"

func readings(all []Update) (out []Update) {
	for _, u := range all {
		if u.HasReading {
			out = append(out, u)
		}
	}
	return out
}

func links(all []Update) (out []string) {
	for _, u := range all {
		if !u.HasReading {
			s := u.Link.String()
			if u.Stale {
				s = "stale"
			}
			out = append(out, s)
		}
	}
	return out
}

func TestInstrumentReads(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		w, u := newWire(), &updates{}
		stop := run(t, New(spec(t, given), w, u.feed, quietLog))
		defer stop()
		time.Sleep(100 * time.Millisecond)
		// The first partial frame is dropped: it still looks like a weight.
		w.send("T,+0000020.7  g\r\n")
		for range 12 {
			time.Sleep(100 * time.Millisecond)
			w.send(line("ST", "+00123.45"))
		}
		synctest.Wait()
		all := u.take()
		assert.Equal(t, []string{"waiting", "up"}, links(all))
		rs := readings(all)
		require.Len(t, rs, 12)
		assert.Equal(t, 123450*protocol.Milligram, rs[0].Mass)
		assert.Equal(t, 10*protocol.Milligram, rs[0].Step)
		assert.Equal(t, "ST,+00123.45  g", string(rs[0].Reading.Raw))
		assert.Equal(t, Identity{Port: "x", Format: "header-comma", Line: "2400 7E1"}, rs[0].Identity)
		assert.False(t, rs[9].Settled)
		assert.True(t, rs[10].Settled)
		assert.Equal(t, uint64(12), rs[11].Counts.Frames)
		for _, r := range rs {
			assert.True(t, r.HasMass)
			assert.Equal(t, "bench", r.Scale)
		}
	})
}

// In the log a lost scale is a warning, one that was found is not, and neither is an
// error.
func TestLogLevels(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		w, u := newWire(), &updates{}
		var log bytes.Buffer
		stop := run(t, New(spec(t, given), w, u.feed, zerolog.New(&log)))
		time.Sleep(time.Second)
		w.send(line("ST", "+00123.45"))
		synctest.Wait()
		close(w.dead)
		time.Sleep(time.Second)
		stop()
		levels := map[string]string{}
		for l := range strings.Lines(log.String()) {
			var x struct{ Level, Link string }
			require.NoError(t, json.Unmarshal([]byte(l), &x))
			if x.Link != "" {
				levels[x.Link] = x.Level
			}
		}
		assert.Equal(t, map[string]string{"waiting": "info", "up": "info", "lost": "warn"}, levels)
	})
}

// Every status that is no weight comes as a reading without mass and says why.
func TestInstrumentStates(t *testing.T) {
	for _, c := range []struct{ line, status, why string }{
		{"OL,+9999999E+19\r\n", "overload", "take something off"},
		{"OL,-9999999E+19\r\n", "underload", "is the pan in its place"},
		{"EC,E11\r\n", "error", "no weight now"},
		{"QT,+00012345 PC\r\n", "ok", "shows pcs, which is not a weight"},
		{"ST,+01000.01 kg\r\n", "ok", "no bench has a scale for more than 1000 kg"},
	} {
		t.Run(c.line, func(t *testing.T) {
			synctest.Test(t, func(t *testing.T) {
				w, u := newWire(), &updates{}
				defer run(t, New(spec(t, given), w, u.feed, quietLog))()
				time.Sleep(time.Second)
				w.send(c.line)
				synctest.Wait()
				got := u.last(t)
				assert.True(t, got.HasReading)
				assert.False(t, got.HasMass)
				assert.False(t, got.Settled)
				assert.Equal(t, Up, got.Link)
				assert.Equal(t, c.status, got.Reading.Status.String())
				assert.Contains(t, got.Why, c.why)
			})
		})
	}
}

func TestInstrumentStep(t *testing.T) {
	for _, c := range []struct{ step, digits, want string }{
		{"", "+00123.45", "0.01 g"},
		{",step=0.05g", "+00123.45", "0.05 g"}, // it counts by fives: the digits show finer than it has
		{",step=0.01g", "+001234.5", "0.1 g"},  // another range: the digits are the coarser
		{",step=0.01g", "+00123.45", "0.01 g"},
	} {
		synctest.Test(t, func(t *testing.T) {
			w, u := newWire(), &updates{}
			defer run(t, New(spec(t, given+c.step), w, u.feed, quietLog))()
			time.Sleep(time.Second)
			w.send(line("ST", c.digits))
			synctest.Wait()
			assert.Equal(t, c.want, u.last(t).Step.String())
		})
	}
}

// An overload, a change of unit and a gap each end the history of the settler.
func TestInstrumentRestIsNotCarriedOver(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		w, u := newWire(), &updates{}
		defer run(t, New(spec(t, given), w, u.feed, quietLog))()
		time.Sleep(time.Second)
		settle := func() {
			for range 11 {
				w.send(line("ST", "+00123.45"))
				time.Sleep(100 * time.Millisecond)
			}
			require.True(t, u.last(t).Settled, "%+v", u.last(t))
		}
		settle()
		w.send("OL,+9999999E+19\r\n")
		time.Sleep(100 * time.Millisecond)
		w.send(line("ST", "+00123.45"))
		synctest.Wait()
		assert.False(t, u.last(t).Settled)
		settle()
		w.send("ST,+00123.45 lb\r\n")
		synctest.Wait()
		assert.True(t, u.last(t).HasMass)
		assert.False(t, u.last(t).Settled)
		settle()
		time.Sleep(2500 * time.Millisecond) // stale
		w.send(line("ST", "+00123.45"))
		synctest.Wait()
		assert.False(t, u.last(t).Settled)
	})
}

func TestInstrumentSilence(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		w, u := newWire(), &updates{}
		defer run(t, New(spec(t, given), w, u.feed, quietLog))()
		time.Sleep(4900 * time.Millisecond)
		assert.Contains(t, u.last(t).Why, "Waiting for the first reading")
		time.Sleep(300 * time.Millisecond)
		got := u.last(t)
		assert.Equal(t, Waiting, got.Link)
		assert.Contains(t, got.Why, "sends nothing")
		u.take()

		w.send(line("ST", "+00123.45"))
		time.Sleep(1900 * time.Millisecond)
		assert.Equal(t, []string{"up"}, links(u.take()))
		time.Sleep(400 * time.Millisecond)
		got = u.last(t)
		assert.True(t, got.Stale)
		assert.Equal(t, Up, got.Link)
		time.Sleep(4 * time.Second)
		assert.Equal(t, []string{"stale", "waiting"}, links(u.take()))
		w.send(line("ST", "+00123.45"))
		synctest.Wait()
		assert.Equal(t, []string{"up"}, links(u.take()))
	})
}

func TestInstrumentPrintKey(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		w, u := newWire(), &updates{}
		defer run(t, New(spec(t, given+",print=yes"), w, u.feed, quietLog))()
		time.Sleep(20 * time.Second)
		assert.Contains(t, u.last(t).Why, "Press the print key")
		// The first line after a silence is whole and counts.
		w.send(line("ST", "+00123.45"))
		synctest.Wait()
		got := u.last(t)
		assert.True(t, got.HasMass)
		assert.True(t, got.Settled)
		u.take()
		time.Sleep(time.Minute)
		assert.Empty(t, u.take(), "it stays up, and its frame stands")
	})
}

// A byte lost on a live line makes no wrong weight, not even where several lines
// of a handful lost one.
func TestInstrumentOnALossyLine(t *testing.T) {
	whole, short := line("ST", "+00123.456"), line("ST", "+0012.456")
	for name, c := range map[string]struct {
		spec string
		in   []string
		want []string
	}{
		"one of many":     {given, []string{whole, whole, whole, short, whole}, []string{"123.456", "123.456", "123.456", "123.456"}},
		"two in a row":    {given, []string{whole, short, short, whole}, []string{"123.456", "123.456"}},
		"early":           {given, []string{whole, short, whole, short, whole}, []string{"123.456", "123.456", "123.456"}},
		"after a silence": {given, []string{whole, "", short, whole}, []string{"123.456", "123.456"}},
		"another range":   {given, []string{whole, short, short, short}, []string{"123.456", "12.456"}},
		"print key":       {given + ",print=yes", []string{whole, "", short, "", whole}, []string{"123.456", "123.456"}},
		"pressed again":   {given + ",print=yes", []string{whole, "", short, "", short}, []string{"123.456", "12.456"}},
	} {
		t.Run(name, func(t *testing.T) {
			synctest.Test(t, func(t *testing.T) {
				w, u := newWire(), &updates{}
				defer run(t, New(spec(t, c.spec), w, u.feed, quietLog))()
				time.Sleep(time.Second)
				for _, s := range c.in {
					if s == "" {
						time.Sleep(3 * time.Second)
						continue
					}
					w.send(s)
					time.Sleep(100 * time.Millisecond)
				}
				var got []string
				for _, r := range readings(u.seen()) {
					got = append(got, strings.TrimLeft(r.Reading.Value.String(), "+0"))
				}
				assert.Equal(t, c.want, got)
			})
		})
	}
}

// A frame that was cut by a silence is not glued to the next.
func TestInstrumentDoesNotGlue(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		w, u := newWire(), &updates{}
		defer run(t, New(spec(t, given), w, u.feed, quietLog))()
		time.Sleep(time.Second)
		w.send(line("ST", "+00123.45"))
		time.Sleep(100 * time.Millisecond)
		w.send("ST,+001")
		time.Sleep(1500 * time.Millisecond)
		w.send("23.45  g\r\n")
		w.send(line("ST", "+00001.00"))
		synctest.Wait()
		rs := readings(u.take())
		require.Len(t, rs, 2)
		assert.Equal(t, protocol.Gram, rs[1].Mass)
		assert.NotZero(t, rs[1].Counts.Foreign+rs[1].Counts.Damaged)
	})
}

func TestInstrumentLostAndFound(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		w, u := newWire(), &updates{}
		defer run(t, New(spec(t, given), w, u.feed, quietLog))()
		time.Sleep(time.Second)
		w.send(line("ST", "+00123.45"))
		synctest.Wait()
		u.take()
		w.mu.Lock()
		w.fail = &PortError{Port: "x", Kind: ErrNoPort, Mend: "plug it in"}
		w.mu.Unlock()
		close(w.dead)
		time.Sleep(time.Hour)
		assert.Equal(t, []string{"lost", "lost"}, links(u.take()), "each reason once, however long it takes")
		w.mu.Lock()
		w.fail = nil
		w.dead = make(chan struct{})
		w.mu.Unlock()
		back := time.Now()
		time.Sleep(110 * time.Millisecond)
		again := u.take()
		assert.Equal(t, []string{"waiting"}, links(again))
		assert.Equal(t, Counts{Gaps: 1}, again[0].Counts, "lines count from the opening, gaps from the start")
		assert.Less(t, time.Since(back), 500*time.Millisecond)
		assert.Equal(t, 2, w.count(&w.opens))
		assert.Equal(t, 1, w.count(&w.closes))
	})
}

// Each reason why a port cannot be used comes out as its sentence.
func TestInstrumentReasons(t *testing.T) {
	for _, kind := range []error{ErrNoPort, ErrNotPort, ErrDenied, ErrBusy, ErrGone, ErrSetting, ErrUnsupported, ErrPort} {
		synctest.Test(t, func(t *testing.T) {
			w, u := newWire(), &updates{}
			w.fail = &PortError{Port: "x", Kind: kind, Mend: "do this"}
			stop := run(t, New(spec(t, given), w, u.feed, quietLog))
			time.Sleep(time.Minute)
			stop()
			require.Len(t, u.seen(), 1)
			assert.Equal(t, Lost, u.seen()[0].Link)
			assert.Equal(t, fmt.Sprintf("port %q: %s: do this", "x", kind), u.seen()[0].Why)
		})
	}
}

// panicPort is a port on which the serial library panics, as it does when a
// descriptor has too high a number.
type panicPort struct{ closes *int }

func (panicPort) Read([]byte) (int, error)    { panic("index out of range [16]") }
func (panicPort) Write(b []byte) (int, error) { return len(b), nil }
func (p panicPort) Close() error              { *p.closes++; return nil }

func TestInstrumentSurvivesAPanic(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		u := &updates{}
		opens, closes := 0, 0
		open := OpenFunc(func(string, protocol.Line) (Port, error) { opens++; return panicPort{&closes}, nil })
		stop := run(t, New(spec(t, given), open, u.feed, quietLog))
		time.Sleep(time.Minute)
		stop()
		assert.Equal(t, opens, closes)
		assert.Less(t, opens, 200, "it must not be tried in a frenzy")
		assert.Contains(t, u.last(t).Why, "the reader failed")
	})
}

func TestInstrumentReadByEye(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		u := &updates{}
		stop := run(t, New(spec(t, "name=fine,port=eye,step=0.01g"), nil, u.feed, quietLog))
		time.Sleep(time.Hour)
		stop()
		require.Len(t, u.seen(), 1)
		assert.Equal(t, Up, u.seen()[0].Link)
	})
}

func TestInstrumentRefusesWhatCannotWork(t *testing.T) {
	c := spec(t, "name=bench,port=x,format=no-such-format")
	err := New(c, newWire(), func(Update) {}, quietLog).Run(t.Context())
	var se *SpecError
	require.ErrorAs(t, err, &se)
	assert.Equal(t, "format", se.Key)
}

func TestInstrumentNamesForeignLines(t *testing.T) {
	for _, setting := range []string{"", ",baud=9600,line=8N1"} {
		synctest.Test(t, func(t *testing.T) {
			w, u := newWire(), &updates{}
			c := spec(t, "name=bench,port=x,format=stars"+setting)
			c.Formats = []*protocol.Format{stars}
			defer run(t, New(c, w, u.feed, quietLog))()
			for range 60 {
				time.Sleep(100 * time.Millisecond)
				w.send(line("ST", "+00123.45"))
			}
			got := u.last(t)
			assert.Equal(t, Waiting, got.Link)
			assert.Contains(t, got.Why, "is another scale on this cable? If not, set format=header-comma")
			assert.Equal(t, setting != "", got.Counts.Foreign > 0, "only where the setting is known a line is foreign")
			assert.Empty(t, readings(u.seen()))
		})
	}
}

func TestInstrumentNamesParity(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		w, u := newWire(), &updates{}
		w.sent = protocol.Line{Baud: 9600, Bits: 7, Parity: 'E', Stop: 1}
		c := spec(t, "name=bench,port=x,format=header-comma,baud=9600,line=8N1")
		defer run(t, New(c, w, u.feed, quietLog))()
		for range 60 {
			time.Sleep(100 * time.Millisecond)
			w.send(line("ST", "+00123.45"))
		}
		assert.Contains(t, u.last(t).Why, "Set line=7E1")
	})
}

// Garbage without end: no reading, bounded memory, and few updates.
func TestInstrumentGarbage(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		w, u := newWire(), &updates{}
		defer run(t, New(spec(t, given), w, u.feed, quietLog))()
		junk := bytes.Repeat([]byte{0x00, 0x91, 'S', 0xfe, 'T', ',', '+', 0x80}, 100)
		for range 600 {
			time.Sleep(100 * time.Millisecond)
			w.in <- junk
		}
		assert.Empty(t, readings(u.seen()))
		assert.Less(t, len(u.seen()), 40)
		assert.Equal(t, Waiting, u.last(t).Link)
	})
}

func TestInstrumentAsks(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		w, u := newWire(), &updates{}
		w.answers = func(q []byte) []byte {
			assert.Equal(t, "Q\r\n", string(q))
			return []byte(line("ST", "+00123.45"))
		}
		stop := run(t, New(spec(t, given+",ask=yes"), w, u.feed, quietLog))
		time.Sleep(10 * time.Second)
		n := len(readings(u.take()))
		assert.Greater(t, n, 30)
		assert.Less(t, n, 10*int(time.Second/askEvery))
		assert.InDelta(t, n, w.questions()/3, 1, "one question for each answer")
		// In standby it answers nothing: the questions become few, and it is not lost.
		w.mu.Lock()
		w.answers, w.wrote = nil, nil
		w.mu.Unlock()
		time.Sleep(60 * time.Second)
		assert.Less(t, w.questions()/3, 20)
		assert.Greater(t, w.questions()/3, 8)
		assert.Contains(t, u.last(t).Why, "stopped answering")
		w.mu.Lock()
		w.answers = func([]byte) []byte { return []byte(line("ST", "+00001.00")) }
		w.mu.Unlock()
		time.Sleep(6 * time.Second)
		assert.Equal(t, protocol.Gram, u.last(t).Mass)
		stop()
	})
}

func TestInstrumentDoesNotAskUnasked(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		for _, s := range []string{given, "name=bench,port=x,ask=yes", "name=bench,port=x,format=header-comma,ask=yes"} {
			w, u := newWire(), &updates{}
			stop := run(t, New(spec(t, s), w, u.feed, quietLog))
			time.Sleep(30 * time.Second)
			stop()
			assert.Zero(t, w.questions(), s)
		}
	})
}

const dialogue = "name=bench,port=x,format=soh-stx-bcc,baud=9600,line=8N1,ask=yes"

// The dialogue of soh-stx-bcc (CAS "SW-II" manual p. 15): ENQ, ACK, DC1, frame.
func TestInstrumentDialogue(t *testing.T) {
	const light, heavy = "\x01\x02S 01.250kgg\x03\x04", "\x01\x02S 02.250kgd\x03\x04"
	synctest.Test(t, func(t *testing.T) {
		w, u := newWire(), &updates{}
		var said []string
		w.answers = func(q []byte) []byte {
			said = append(said, string(q))
			if string(q) == "\x05" {
				return []byte("\x06")
			}
			return []byte(light)
		}
		stop := run(t, New(spec(t, dialogue), w, u.feed, quietLog))
		time.Sleep(3 * time.Second)
		stop()
		n := len(readings(u.take()))
		assert.Greater(t, n, 5)
		require.Greater(t, len(said), 2*n-1)
		for i, q := range said {
			assert.Equal(t, []string{"\x05", "\x11"}[i%2], q, "called, then asked, in turn")
		}
	})
	synctest.Test(t, func(t *testing.T) {
		// An answer that comes after its question was given up is of another moment.
		w, u := newWire(), &updates{}
		asks := 0
		w.answers = func(q []byte) []byte {
			if string(q) == "\x05" {
				return []byte("\x06")
			}
			if asks++; asks == 1 {
				go func() { time.Sleep(1500 * time.Millisecond); w.send(heavy) }()
				return nil
			}
			return []byte(light)
		}
		stop := run(t, New(spec(t, dialogue), w, u.feed, quietLog))
		time.Sleep(5 * time.Second)
		stop()
		rs := readings(u.take())
		require.NotEmpty(t, rs)
		for _, r := range rs {
			assert.Equal(t, "1.250", r.Reading.Value.String())
		}
	})
	synctest.Test(t, func(t *testing.T) {
		// It is called and says nothing: no question follows.
		w, u := newWire(), &updates{}
		w.answers = func(q []byte) []byte {
			assert.Equal(t, "\x05", string(q))
			return nil
		}
		stop := run(t, New(spec(t, dialogue), w, u.feed, quietLog))
		time.Sleep(20 * time.Second)
		assert.Contains(t, u.last(t).Why, "does not answer")
		w.send(heavy)
		time.Sleep(time.Second)
		stop()
		assert.Empty(t, readings(u.take()), "nothing comes unasked from this one")
	})
}

// Asked while somebody wants the weight, and not else: a beep per question.
func TestInstrumentIsAskedWhileWanted(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		w, u := newWire(), &updates{}
		w.answers = func([]byte) []byte { return []byte(line("ST", "+00123.45")) }
		var wanted atomic.Bool
		c := spec(t, given+",ask=yes")
		c.Remote = NewRemote(wanted.Load)
		defer run(t, New(c, w, u.feed, quietLog))()
		time.Sleep(10 * time.Second)
		assert.Len(t, readings(u.seen()), 1, "the first weight tells the step")
		assert.Equal(t, "stale", links(u.seen())[len(links(u.seen()))-1])
		assert.Contains(t, u.last(t).Why, "not asked while nothing is weighed")
		assert.Equal(t, Up, u.last(t).Link)
		asked := w.questions()
		time.Sleep(10 * time.Minute)
		assert.Equal(t, asked, w.questions())
		wanted.Store(true)
		time.Sleep(3 * time.Second)
		assert.True(t, u.last(t).HasMass)
		assert.True(t, u.last(t).Settled)
		wanted.Store(false)
		time.Sleep(3 * time.Second)
		assert.True(t, u.last(t).Stale, "what it showed is of the past")
	})
}

func TestInstrumentOrders(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		w, u := newWire(), &updates{}
		i := New(spec(t, given), w, u.feed, quietLog)
		assert.ErrorIs(t, i.cfg.Remote.Order(OrderZero), ErrOrder, "it does not run")
		stop := run(t, i)
		time.Sleep(time.Second)
		require.NoError(t, i.cfg.Remote.Order(OrderZero))
		require.NoError(t, i.cfg.Remote.Order(OrderTare))
		stop()
		assert.Equal(t, "Z\r\nT\r\n", string(w.wrote), "A&D FX-i manual: Z re-zeroes, T tares")

		for _, c := range []struct{ spec, want string }{
			{"name=bench,port=x,format=stx-weight-cr,baud=9600", "no command to tare is documented for stx-weight-cr"},
			{"name=bench,port=x,format=colon-letter-mass,baud=9600", "no command to tare is documented"},
			{"name=bench,port=x", "not known yet"},
		} {
			w := newWire()
			i := New(spec(t, c.spec), w, u.feed, quietLog)
			stop := run(t, i)
			time.Sleep(time.Second)
			assert.ErrorContains(t, i.cfg.Remote.Order(OrderTare), c.want)
			stop()
			assert.Zero(t, w.questions())
		}
	})
}

// One that was understood before may be asked at the setting of then.
func TestInstrumentAsksAtTheRememberedSetting(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		m, err := OpenMemory(filepath.Join(t.TempDir(), "ports.json"))
		require.NoError(t, err)
		for _, s := range []string{given + ",ask=yes", "name=bench,port=x,format=header-comma,ask=yes"} {
			w, u := newWire(), &updates{}
			w.answers = func([]byte) []byte { return []byte(line("ST", "+00123.45")) }
			i := New(spec(t, s), w, u.feed, quietLog)
			i.Remember(m)
			stop := run(t, i)
			time.Sleep(5 * time.Second)
			stop()
			assert.Greater(t, len(readings(u.take())), 5, s)
			// What the hunt would remember; the settings given need no memory.
			require.NoError(t, m.Store("x", Remembered{Line: protocol.Line{Baud: 2400, Bits: 7, Parity: 'E', Stop: 1}, Format: "header-comma"}))
		}
	})
}

func TestInstrumentGoesOnWhereNobodyReads(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		w, u := newWire(), &updates{}
		w.deaf = true
		defer run(t, New(spec(t, given+",ask=yes"), w, u.feed, quietLog))()
		time.Sleep(10 * time.Second)
		w.send(line("ST", "+00123.45"))
		synctest.Wait()
		assert.True(t, u.last(t).HasMass)
	})
}

// Two adapters have changed names: the weight of the wrong scale is not taken,
// and the right one is found where it is now.
func TestInstrumentFollowsItsDevice(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		mine, other, u := newWire(), newWire(), &updates{}
		mine.usb, other.usb = "0403:6001:MINE", "0403:6001:OTHER"
		bus := &bus{at: map[string]*wire{"x": mine}}
		defer run(t, New(spec(t, given), bus, u.feed, quietLog))()
		time.Sleep(time.Second)
		mine.send(line("ST", "+00123.45"))
		synctest.Wait()
		require.Equal(t, "0403:6001:MINE", u.last(t).Identity.USB)

		bus.set("x", other)
		close(mine.dead)
		time.Sleep(time.Second)
		other.send(line("ST", "+00666.00"))
		time.Sleep(time.Second)
		assert.Contains(t, u.last(t).Why, "another device, 0403:6001:OTHER, has its name now")

		mine.mu.Lock()
		mine.dead = make(chan struct{})
		mine.mu.Unlock()
		bus.set("y", mine)
		time.Sleep(time.Second)
		mine.send(line("ST", "+00123.45"))
		synctest.Wait()
		assert.Equal(t, "123.45 g", u.last(t).Mass.String())
		for _, r := range readings(u.take()) {
			assert.NotEqual(t, 666*protocol.Gram, r.Mass)
		}
	})
}

func TestSaveCapture(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		w, u := newWire(), &updates{}
		i := New(spec(t, given), w, u.feed, quietLog)
		defer run(t, i)()
		time.Sleep(time.Second)
		for range 100 {
			w.send(line("ST", "+00123.45") + "\xb0?\r\n")
			time.Sleep(100 * time.Millisecond)
		}
		var b strings.Builder
		require.NoError(t, i.SaveCapture(&b))
		got := b.String()
		assert.Contains(t, got, "# line: 2400 7E1\n# format: header-comma\n# first frame: ")
		assert.Contains(t, got, "\n\"ST,+00123.45  g\"\n")
		assert.Contains(t, got, "# +3.100s\n")
		assert.Len(t, i.heard.all(), kept)
		require.NoError(t, New(spec(t, given), w, u.feed, quietLog).SaveCapture(&b))
	})
}

// From bytes to the update, without a port.
func BenchmarkInstrumentLine(b *testing.B) {
	n := 0
	i := New(spec(b, given), nil, func(u Update) { n++ }, quietLog)
	f, _ := i.cfg.format("header-comma")
	e := &listener{i: i, opened: noon}
	e.at(*i.cfg.Line)
	e.read(f, false)
	now := noon
	text := []byte(line("ST", "+00123.45"))
	buf := make([]byte, len(text))
	b.ReportAllocs()
	for b.Loop() {
		now = now.Add(50 * time.Millisecond)
		copy(buf, text)
		if err := e.bytes(buf, now); err != nil {
			b.Fatal(err)
		}
	}
	if n < b.N {
		b.Fatal("lines were lost")
	}
}

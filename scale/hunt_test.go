package scale

import (
	"math/rand/v2"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"testing"
	"testing/synctest"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"tared/protocol"
)

// A scale that speaks ten times a second is found at every usual setting.
func TestHuntFindsEverySetting(t *testing.T) {
	for _, l := range usualLines {
		t.Run(LineText(l), func(t *testing.T) {
			synctest.Test(t, func(t *testing.T) {
				w, u := newWire(), &updates{}
				w.sent = l
				defer run(t, New(spec(t, "name=bench,port=x"), w, u.feed, quietLog))()
				start := time.Now()
				for len(readings(u.seen())) == 0 && time.Since(start) < 5*time.Minute {
					time.Sleep(100 * time.Millisecond)
					w.send(line("ST", "+00123.45"))
					synctest.Wait()
				}
				got := u.last(t)
				require.True(t, got.HasMass, got.Why)
				assert.Equal(t, "123.45 g", got.Mass.String())
				assert.Equal(t, "header-comma", got.Identity.Format)
				assert.Equal(t, LineText(l), got.Identity.Line)
				assert.Less(t, time.Since(start), time.Minute)
				assert.Equal(t, 1, w.count(&w.opens), "the handshake lines are not toggled")
				assert.Zero(t, w.questions(), "it only listens")
			})
		})
	}
}

// Seven data bits with even parity show themselves when read as 8N1: the hunt does
// not have to go through the whole list.
func TestHuntUsesParity(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		w, u := newWire(), &updates{}
		w.sent = protocol.Line{Baud: 9600, Bits: 7, Parity: 'E', Stop: 1}
		defer run(t, New(spec(t, "name=bench,port=x"), w, u.feed, quietLog))()
		for range 15 {
			time.Sleep(100 * time.Millisecond)
			w.send(line("ST", "+00123.45"))
		}
		assert.True(t, u.last(t).HasMass)
		assert.Equal(t, "9600 7E1", u.last(t).Identity.Line)
		assert.Equal(t, 1, w.count(&w.sets))
	})
}

// Where the user gave the speed and the format only the framing is open, and the
// first readings are believed.
func TestOnlyFramingIsOpen(t *testing.T) {
	for _, framing := range []string{"8N1", "7E1", "7O1", "8O1"} {
		synctest.Test(t, func(t *testing.T) {
			w, u := newWire(), &updates{}
			l, err := ParseFraming(framing)
			require.NoError(t, err)
			l.Baud = 9600
			w.sent = l
			m, err := OpenMemory(filepath.Join(t.TempDir(), "lines.json"))
			require.NoError(t, err)
			i := New(spec(t, "name=bench,port=x,format=header-comma,baud=9600"), w, u.feed, quietLog)
			i.Remember(m)
			defer run(t, i)()
			for range 150 {
				time.Sleep(100 * time.Millisecond)
				w.send(line("ST", "+00123.45"))
			}
			require.True(t, u.last(t).HasMass, u.last(t).Why)
			assert.Equal(t, "9600 "+framing, u.last(t).Identity.Line)
			r, ok := m.Recall("x")
			require.True(t, ok)
			assert.Equal(t, framing, frameText(r.Line))
		})
	}
}

func TestHuntLeavesTheSilentAlone(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		w, u := newWire(), &updates{}
		defer run(t, New(spec(t, "name=bench,port=x"), w, u.feed, quietLog))()
		time.Sleep(time.Hour)
		assert.Zero(t, w.count(&w.sets))
		assert.Zero(t, w.questions())
		assert.Equal(t, 1, w.count(&w.opens))
		assert.Contains(t, u.last(t).Why, "sends nothing")
		assert.LessOrEqual(t, len(u.seen()), 3)
	})
}

// Noise at every setting: the hunt goes round and says so, without memory or
// updates growing.
func TestHuntGivesUpOnNothing(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		w, u := newWire(), &updates{}
		defer run(t, New(spec(t, "name=bench,port=x"), w, u.feed, quietLog))()
		rnd := rand.New(rand.NewPCG(1, 2))
		for range 3000 {
			time.Sleep(100 * time.Millisecond)
			b := make([]byte, 40)
			for k := range b {
				b[k] = byte(rnd.Uint32())
			}
			w.in <- b
		}
		assert.Empty(t, readings(u.seen()))
		assert.Contains(t, u.last(t).Why, "not in a format tared recognises")
		assert.Less(t, len(u.seen()), 200)
	})
}

// Three lines must agree: a print key gives them one at a time.
func TestHuntWithAPrintKey(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		w, u := newWire(), &updates{}
		defer run(t, New(spec(t, "name=bench,port=x"), w, u.feed, quietLog))()
		for k := range 3 {
			time.Sleep(20 * time.Second)
			assert.Empty(t, readings(u.seen()), k)
			w.send(line("ST", "+00123.45"))
		}
		time.Sleep(time.Second)
		assert.Len(t, readings(u.seen()), 1)
		assert.Zero(t, w.count(&w.sets))
	})
}

func TestHuntBeginsWithTheLastGoodSetting(t *testing.T) {
	path := filepath.Join(t.TempDir(), "lines.json")
	sent := protocol.Line{Baud: 1200, Bits: 7, Parity: 'O', Stop: 1}
	for visit := range 2 {
		synctest.Test(t, func(t *testing.T) {
			w, u := newWire(), &updates{}
			w.sent, w.usb = sent, "0403:6001:A5"
			m, err := OpenMemory(path)
			require.NoError(t, err)
			i := New(spec(t, "name=bench,port=x"), w, u.feed, quietLog)
			i.Remember(m)
			defer run(t, i)()
			start := time.Now()
			for len(readings(u.seen())) == 0 && time.Since(start) < time.Minute {
				time.Sleep(100 * time.Millisecond)
				w.send(line("ST", "+00123.45"))
				synctest.Wait()
			}
			require.True(t, u.last(t).HasMass)
			if visit == 1 {
				assert.Less(t, time.Since(start), time.Second)
			}
		})
	}
	b, err := os.ReadFile(path)
	require.NoError(t, err)
	assert.Contains(t, string(b), `"usb 0403:6001:A5"`)
	assert.Contains(t, string(b), `"framing": "7O1"`)
}

func TestLinesFor(t *testing.T) {
	f := &protocol.Format{Lines: []protocol.Line{{Baud: 2400, Bits: 7, Parity: 'E', Stop: 1}}}
	last := &Remembered{Line: protocol.Line{Baud: 600, Bits: 8, Parity: 'E', Stop: 1}}
	first := func(c Config, n int) string {
		var out []string
		for _, l := range linesFor(c, f, last) {
			out = append(out, LineText(l))
		}
		return strings.Join(out[:n], ",")
	}
	assert.Equal(t, "600 8E1,2400 7E1,9600 8N1", first(Config{}, 3))
	assert.Equal(t, "9600 8N1,9600 7E1,9600 8O1,9600 7O1,9600 8E1", first(Config{Baud: 9600}, 5))
	assert.Equal(t, "600 7O1,2400 7O1,9600 7O1", first(Config{Line: &protocol.Line{Bits: 7, Parity: 'O', Stop: 1}}, 3))
	only := linesFor(Config{Baud: 4800, Line: &protocol.Line{Bits: 7, Parity: 'O', Stop: 1}}, f, last)
	require.Len(t, only, 1)
	assert.Equal(t, "4800 7O1", LineText(only[0]))
	for _, l := range usualLines {
		assert.NotEmpty(t, l.Source)
	}
}

func TestMemory(t *testing.T) {
	dir := t.TempDir()
	path := filepath.Join(dir, "lines.json")
	m, err := OpenMemory(path)
	require.NoError(t, err)
	r := Remembered{protocol.Line{Baud: 9600, Bits: 8, Parity: 'N', Stop: 1}, "header-comma", noon}
	require.NoError(t, m.Store("a", r))
	before, err := os.Stat(path)
	require.NoError(t, err)
	r.At = noon.Add(time.Hour)
	require.NoError(t, m.Store("a", r))
	after, err := os.Stat(path)
	require.NoError(t, err)
	assert.True(t, os.SameFile(before, after), "no news, nothing written")

	m, err = OpenMemory(path)
	require.NoError(t, err)
	got, ok := m.Recall("a")
	require.True(t, ok)
	assert.Equal(t, "9600 8N1", LineText(got.Line))
	assert.Equal(t, "header-comma", got.Format)
	assert.True(t, noon.Equal(got.At))

	for _, bad := range []string{"{", `{"a":{"baud":0,"framing":"8N1"}}`, `{"a":{"baud":9600,"framing":"9N1"}}`, "null"} {
		require.NoError(t, os.WriteFile(path, []byte(bad), 0o600))
		m, err = OpenMemory(path)
		if bad != "null" {
			assert.Error(t, err, bad)
		}
		_, ok = m.Recall("a")
		assert.False(t, ok)
		require.NoError(t, m.Store("b", r), "it serves all the same")
	}
	m, err = OpenMemory(filepath.Join(dir, "none", "lines.json"))
	require.NoError(t, err)
	assert.Error(t, m.Store("a", r))
	left, err := filepath.Glob(filepath.Join(dir, "*"))
	require.NoError(t, err)
	assert.Len(t, left, 1, "no leavings")
	var none *Memory
	require.NoError(t, none.Store("a", r))
	_, ok = none.Recall("a")
	assert.False(t, ok)
}

// Whatever a scale speaks: by listening it is understood, or the look-alikes are
// named, and never is it taken for something else.
func TestHuntKnowsEveryFormat(t *testing.T) {
	for _, f := range protocol.All() {
		// The one comes through USB alone; the other reads all blocks, and the strict
		// format of a block goes before it.
		if f.Name == hidFormat || f.Name == "multi-line-print" {
			continue
		}
		t.Run(f.Name, func(t *testing.T) {
			example, err := strconv.Unquote(`"` + f.Example + `"`)
			require.NoError(t, err)
			synctest.Test(t, func(t *testing.T) {
				w, u := newWire(), &updates{}
				defer run(t, New(spec(t, "name=bench,port=x"), w, u.feed, quietLog))()
				for range 50 {
					time.Sleep(100 * time.Millisecond)
					w.send(example)
				}
				synctest.Wait()
				got := u.last(t)
				if got.HasReading {
					assert.Equal(t, f.Name, got.Identity.Format)
					assert.Equal(t, f.Name, got.Reading.Format)
					return
				}
				assert.Contains(t, got.Why, f.Name)
				t.Log(got.Why)
			})
		})
	}
}

// Text in no known format is told within three seconds, with the text itself, and the
// port stays at the setting at which it was clean. What it sends in a known format later
// is understood all the same.
func TestUnknownTextIsToldSoon(t *testing.T) {
	for _, every := range []time.Duration{50 * time.Millisecond, 100 * time.Millisecond, 500 * time.Millisecond, time.Second} {
		synctest.Test(t, func(t *testing.T) {
			w, u := newWire(), &updates{}
			w.sent = protocol.Line{Baud: 9600, Bits: 8, Parity: 'N', Stop: 1}
			defer run(t, New(spec(t, "name=bench,port=x"), w, u.feed, quietLog))()
			for start := time.Now(); time.Since(start) <= 3*time.Second; time.Sleep(every) {
				w.send("WT<  012.3>gram|ok\r\n") // invented
				synctest.Wait()
			}
			assert.Contains(t, u.last(t).Why, "Text comes, but in no format")
			assert.Contains(t, u.last(t).Why, "WT<  012.3>gram|ok")
			assert.Zero(t, w.count(&w.sets))
			for range 60 {
				w.send(line("ST", "+00123.45"))
				time.Sleep(100 * time.Millisecond)
			}
			assert.True(t, u.last(t).HasMass, u.last(t).Why)
		})
	}
}

// A known format that comes slowly, or in blocks, is not called unknown text meanwhile.
func TestSlowIsNotUnknown(t *testing.T) {
	for name, say := range map[string]func(w *wire){
		"a line a second":       func(w *wire) { w.send(line("ST", "+00123.45")); time.Sleep(time.Second) },
		"a line in two seconds": func(w *wire) { w.send(line("ST", "+00123.45")); time.Sleep(1900 * time.Millisecond) },
		"a bare number":         func(w *wire) { w.send("+00127.800\r\n"); time.Sleep(time.Second) },
	} {
		synctest.Test(t, func(t *testing.T) {
			w, u := newWire(), &updates{}
			defer run(t, New(spec(t, "name=bench,port=x"), w, u.feed, quietLog))()
			for range 8 {
				say(w)
			}
			synctest.Wait()
			for _, one := range u.seen() {
				assert.NotContains(t, one.Why, unknownText, name)
			}
			assert.True(t, u.last(t).HasReading, "%s: %s", name, u.last(t).Why)
		})
	}
}

// A declared format that would read the lines with a decimal comma says so, whether it was
// named or only declared.
func TestAFormatWithoutItsCommaSaysSo(t *testing.T) {
	own, err := protocol.CompilePattern(protocol.Pattern{Name: "point", Expr: `W (?P<number>[0-9]+\.[0-9]) g`})
	require.NoError(t, err)
	for _, words := range []string{"name=bench,port=x", "name=bench,port=x,format=point", "name=bench,port=x,format=point,baud=9600"} {
		synctest.Test(t, func(t *testing.T) {
			w, u := newWire(), &updates{}
			c := spec(t, words)
			c.Formats = []*protocol.Format{own}
			defer run(t, New(c, w, u.feed, quietLog))()
			for range 80 {
				w.send("W 12,5 g\r\n")
				time.Sleep(100 * time.Millisecond)
			}
			assert.Contains(t, u.last(t).Why, "comma = true", words)
		})
	}
}

// A wrong speed never passes for text.
func TestNoiseIsNoText(t *testing.T) {
	rnd := rand.New(rand.NewPCG(1, 2))
	for range 20000 {
		b := make([]byte, 96)
		for k := range b {
			b[k] = byte(rnd.Uint32())
		}
		require.Zero(t, plainLines(b), "%q", b)
	}
	assert.Equal(t, 1, plainLines([]byte("12.3 g\r\n12.3 g\r\n")), "the first may be cut")
	assert.Equal(t, 2, plainLines([]byte(".3 g\r\n12.3 g\r\n12.3 g\r\n12")))
	assert.Zero(t, plainLines([]byte("hello\r\nworld\r\nhello\r\n")), "no digit")
}

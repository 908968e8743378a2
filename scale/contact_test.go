package scale

import (
	"fmt"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"

	"tared/protocol"
)

// meeting is a Contact with an invented instrument, at ten lines a second.
type meeting struct {
	Contact
	now  time.Time
	says func(grams float64, rest bool) string
}

func meet(says func(grams float64, rest bool) string) *meeting {
	return &meeting{now: time.Date(2026, 12, 1, 9, 0, 0, 0, time.UTC), says: says}
}

var plainLine = protocol.Line{Baud: 9600, Bits: 8, Parity: 'N', Stop: 1}

func (m *meeting) line(grams float64, rest bool) {
	m.now = m.now.Add(100 * time.Millisecond)
	m.Hear(m.now, plainLine, []byte(m.says(grams, rest)))
}

// rests shows a weight at rest for some seconds.
func (m *meeting) rests(grams, seconds float64) {
	for range int(10 * seconds) {
		m.line(grams, true)
	}
}

// goes brings the weight from one to another within a second.
func (m *meeting) goes(from, to float64) {
	for k := range 10 {
		m.line(from+(to-from)*float64(k+1)/11, false)
	}
}

// A known weight decides: what reads it is right, in whatever way the line is written,
// and what reads something else is not taken, and says what it read.
func TestAKnownWeightDecides(t *testing.T) {
	const weight = 500 * protocol.Gram
	for _, c := range []struct {
		name  string
		says  func(g float64, rest bool) string
		unit  protocol.Unit
		trial Trial
		net   string
	}{
		{"a bare number in grams", func(g float64, _ bool) string { return fmt.Sprintf("%8.1f\r\n", g) }, "g", TrialPassed, "500.0"},
		{"a bare number, and the unit is wrong", func(g float64, _ bool) string { return fmt.Sprintf("%8.1f\r\n", g) }, "oz", TrialWrong, "14174.7615625"},
		{"a bare number, and no unit", func(g float64, _ bool) string { return fmt.Sprintf("%8.1f\r\n", g) }, "", TrialUnit, "0.0"},
		{"digits without their point", func(g float64, _ bool) string { return fmt.Sprintf("%08.0f\r\n", g*10) }, "g", TrialWrong, "5000.0"},
		{"a decimal comma, in kilograms", func(g float64, rest bool) string {
			return strings.Replace(fmt.Sprintf("W%s %7.4f kg\r\n", map[bool]string{true: " ", false: "?"}[rest], g/1000), ".", ",", 1)
		}, "", TrialPassed, "500.0"},
		{"a pan that is not at zero", func(g float64, _ bool) string { return fmt.Sprintf("%8.1f g\r\n", g+12.3) }, "", TrialPassed, "500.0"},
		{"a scale that is 1 % off", func(g float64, _ bool) string { return fmt.Sprintf("%8.1f g\r\n", g*1.01) }, "", TrialPassed, "505.0"},
		{"a scale that is 5 % off", func(g float64, _ bool) string { return fmt.Sprintf("%8.1f g\r\n", g*1.05) }, "", TrialWrong, "525.0"},
		{"a second number that counts the lines", func() func(g float64, rest bool) string {
			n := 0
			return func(g float64, _ bool) string { n++; return fmt.Sprintf("N%04d; %7.1f\r\n", n, g) }
		}(), "g", TrialPassed, "500.0"},
		{"a weight that counts down", func(g float64, _ bool) string { return fmt.Sprintf("%8.1f g\r\n", -g) }, "", TrialPut, "0.0"},
		{"steps too coarse for it", func(g float64, _ bool) string { return fmt.Sprintf("%8.1f kg\r\n", g/1000) }, "", TrialLight, "0.0"},
	} {
		t.Run(c.name, func(t *testing.T) {
			m := meet(c.says)
			m.rests(0, 2)
			assert.Equal(t, TrialNone, m.State().Trial)
			m.Try(m.now, weight, c.unit)
			m.rests(0, 2)
			m.goes(0, 500)
			m.rests(500, 2)
			s := m.State()
			assert.Equal(t, c.trial, s.Trial, "%+v", s)
			assert.Equal(t, c.net, s.Net().Grams(1))
			if c.trial == TrialPassed {
				m.goes(500, 0)
				m.rests(0, 120)
				assert.Equal(t, TrialPassed, m.State().Trial, "it stays, whatever comes")
			}
		})
	}
}

// A hand that rests beside the weight, or puts it on late, spoils nothing: what comes to
// rest last counts.
func TestATrialWaits(t *testing.T) {
	m := meet(func(g float64, _ bool) string { return fmt.Sprintf("%8.1f g\r\n", g) })
	m.rests(300, 2)
	m.Try(m.now, 500*protocol.Gram, "")
	m.rests(300, 2)
	assert.Equal(t, TrialPut, m.State().Trial)
	m.goes(300, 0)
	m.rests(0, 60)
	assert.Equal(t, TrialPut, m.State().Trial)
	assert.Equal(t, "0.0", m.State().Zero.Grams(1), "the pan was not empty when it began")
	m.rests(350, 2)
	assert.Equal(t, TrialWrong, m.State().Trial)
	m.rests(500, 2)
	assert.Equal(t, TrialPassed, m.State().Trial)
	m.Try(m.now, 200*protocol.Gram, "")
	m.rests(500, 2)
	assert.Equal(t, TrialPut, m.State().Trial, "a new trial begins anew")
	m.rests(500, 3600)
	assert.Equal(t, TrialLost, m.State().Trial, "it does not wait for ever")
	assert.LessOrEqual(t, m.size, contactBytes)
	assert.Equal(t, []string{"   500.0 g", "   500.0 g", "   500.0 g"}, m.State().Lines)
}

// Bytes at another setting of the port are another beginning.
func TestAnotherSettingBeginsAnew(t *testing.T) {
	m := meet(func(g float64, _ bool) string { return fmt.Sprintf("%8.1f g\r\n", g) })
	m.rests(0, 2)
	other := plainLine
	other.Baud = 2400
	m.Hear(m.now, other, []byte("\xf8\xe0"))
	assert.Equal(t, protocol.UnclearNothing, m.State().Unclear)
	assert.Equal(t, []string{`\xf8\xe0`}, m.State().Lines)
}

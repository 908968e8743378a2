package protocol

import (
	"fmt"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

func names(cs []Candidate) string {
	var out []string
	for _, c := range cs {
		out = append(out, c.Format.Name)
	}
	return strings.Join(out, " ")
}

// Whatever else reads a capture, its own format is never beaten, and nothing
// else is ever decided on.
func TestDetectCaptures(t *testing.T) {
	var b strings.Builder
	fmt.Fprintln(&b, "# what Detect makes of each capture")
	for _, c := range captures(t) {
		d := Detect(c.bytes)
		fmt.Fprintf(&b, "%s:", c.name)
		switch {
		case d.Format != nil:
			fmt.Fprintf(&b, " %s", d.Format.Name)
			// A format that is meant to be wide gives way to a narrower one.
			narrow := false
			for _, f := range wider[c.format] {
				narrow = narrow || f == d.Format
			}
			assert.True(t, narrow || d.Format == c.format, "%s was taken for %s", c.name, d.Format.Name)
		case len(d.Candidates) > 0:
			fmt.Fprintf(&b, " undecided: %s", names(d.Candidates))
			if d.Same {
				fmt.Fprint(&b, " (all the same)")
			}
			assert.Contains(t, strings.Fields(names(d.Candidates)), c.format.Name, c.name)
		default:
			fmt.Fprint(&b, " unknown")
		}
		if d.Parity != 0 {
			fmt.Fprintf(&b, ", parity %c", d.Parity)
		}
		fmt.Fprintln(&b)
		assert.NotEmpty(t, d.Why, c.name)
	}
	golden(t, filepath.Join(captureDir, "detected.golden"), b.String())
}

func TestDetect(t *testing.T) {
	for _, c := range []struct {
		name, sample string
		format       string // "" when undecided
		candidates   string
		same         bool
		live         bool
		parity       byte
	}{
		{"three lines", "ST,+00123.45  g\r\nUS,+00123.46  g\r\nST,+00123.46  g\r\n", "header-comma", "header-comma", false, true, 0},
		{"one line decides for a look", "ST,GS,+011.120kg\r\n", "header-comma-mode", "header-comma-mode", false, false, 0},
		{"a cut first line", ".45  g\r\nST,+00123.45  g\r\nST,+00123.46  g\r\nST,+00123.46  g\r\n", "header-comma", "header-comma", false, true, 0},
		{"a cut first line that is another's", "  186.65g \rS   186.65g \rS   186.65g \rS-  186.65g \r", "stability-letter-prefix", "stability-letter-prefix", false, true, 0},
		{"line noise and a cut last line", "\x00\x00\x7f\x7f\r\nST,NT,+  1.234kg\r\nST,NT,+  1.2", "header-comma-mode", "header-comma-mode", false, false, 0},
		{"look-alikes that differ about stable", "-    12.34 kg \r\n-    12.35 kg \r\n-    12.35 kg \r\n", "", "fixed-sign-unit sign-gap-unit2", false, false, 0},
		{"the next line tells them apart", "-    12.34 kg \r\n-    12.35  g \r\n-    12.35  g \r\n", "sign-gap-unit2", "sign-gap-unit2", false, true, 0},
		{"and so does this one", "-    12.34 kg \r\n-    12.35 g  \r\n-    12.35    \r\n", "fixed-sign-unit", "fixed-sign-unit", false, true, 0},
		{"look-alikes that say the same", "      183.64 g  \r\n", "", "stability-sign-mass-unit float-sign-unit", true, false, 0},
		{"an error that many share", "ES\r\n", "", "letter-status weight-unit-question stability-sign-mass-unit", true, false, 0},
		{"the error with a weight", "ES\r\nS S     100.00 g\r\n", "letter-status", "letter-status", false, false, 0},
		{"a bare number", "+00127.800\r\n+00127.801\r\n+00127.802\r\n", "bare-number", "bare-number", false, true, 0},
		{"overload only", "OL,GS,+999.999kg\r\n", "header-comma-mode", "header-comma-mode", false, false, 0},
		{"mostly rubbish", "hello\r\nworld\r\nfoo\r\nbar\r\nbaz\r\nqux\r\nST,GS,+011.120kg\r\nagain\r\n", "", "header-comma-mode", false, false, 0},
		{"text of nobody", "hello world\r\nCAS PD-II  Ver 1.00\r\n", "", "", false, false, 0},
		{"nothing", "", "", "", false, false, 0},
		{"noise", "\xf8\xe0\x81\x99\xfe\xf8\xc0\x13\xf0\x80", "", "", false, false, 0},
		{"7E1 read as 8N1", string(withParity("ST,+00123.45  g\r\nUS,+00123.46  g\r\nST,+00123.46  g\r\n", 'E')), "header-comma", "header-comma", false, true, 'E'},
		{"7O1 read as 8N1", string(withParity("ST,GS,   245.6 g\r\nUS,GS,   245.3 g\r\n", 'O')), "header-comma-mode", "header-comma-mode", false, false, 'O'},
		{"the same with one bit wrong is never masked", strings.Replace(string(withParity("ST,GS,   245.6 g\r\nUS,GS,   245.3 g\r\n", 'O')), "\xb6", "\xb7", 1), "", "", false, false, 0},
		{"lamps are no parity", "ST,GS,1\xc4,    13.5 kg\r\nST,GS,1\xc4,    13.5 kg\r\nST,GS,1\xc4,    13.5 kg\r\n", "header-comma-id-lamp", "header-comma-id-lamp", false, true, 0},
	} {
		t.Run(c.name, func(t *testing.T) {
			d := Detect([]byte(c.sample))
			got := ""
			if d.Format != nil {
				got = d.Format.Name
			}
			assert.Equal(t, c.format, got, d.Why)
			assert.Equal(t, c.candidates, names(d.Candidates))
			assert.Equal(t, c.same, d.Same)
			assert.Equal(t, c.live, d.Live())
			assert.Equal(t, c.parity, d.Parity)
			assert.NotEmpty(t, d.Why)
		})
	}
}

// withParity sends text as 7 data bits with parity and reads it as 8 and none.
func withParity(s string, parity byte) []byte {
	b := []byte(s)
	for i, c := range b {
		odd := false
		for x := c; x > 0; x >>= 1 {
			odd = odd != (x&1 == 1)
		}
		if odd == (parity == 'E') {
			b[i] |= 0x80
		}
	}
	return b
}

// A format that is said to be wider reads what the narrower one reads.
func TestWiderFormatsReadTheSame(t *testing.T) {
	n := 0
	for wide, narrows := range wider {
		for _, narrow := range narrows {
			for _, c := range captures(t) {
				if c.format != narrow {
					continue
				}
				w, s := readSample(wide, c.bytes, 0), readSample(narrow, c.bytes, 0)
				for i, sp := range s.spans {
					if s.read[i].Status != OK {
						continue
					}
					for j, wp := range w.spans {
						if sp == wp {
							require.Equal(t, s.read[i].Value, w.read[j].Value, c.name)
							require.Equal(t, s.read[i].Unit, w.read[j].Unit, c.name)
							require.Equal(t, s.read[i].Stable, w.read[j].Stable, c.name)
							n++
						}
					}
				}
			}
		}
	}
	require.Positive(t, n)
}

func TestDetectAdvises(t *testing.T) {
	broken := withParity("ST,GS,   245.6 g\r\nUS,GS,   245.3 g\r\n", 'O')
	broken[9] ^= 1
	for sample, word := range map[string]string{
		"":                                "nothing was received",
		"hello world\r\n":                 "a format of your own",
		string(broken):                    "7 data bits",
		"\xf8\xe1\x81\x99\xfe\xf8\xc0":    "baud rate, then parity",
		"\x01\x02\x1b\x10\x11\x12\x14Q8z": "baud rate",
	} {
		d := Detect([]byte(sample))
		assert.Empty(t, d.Candidates, "%q", sample)
		assert.Contains(t, d.Why, word, "%q", sample)
	}
}

func FuzzDetect(f *testing.F) {
	for _, c := range captures(f) {
		f.Add(c.bytes)
	}
	for _, h := range hostile {
		f.Add([]byte(h.in + h.in))
	}
	f.Fuzz(func(t *testing.T, sample []byte) {
		d := Detect(sample)
		if d.Why == "" {
			t.Fatalf("no word about %q", sample)
		}
		if d.Format != nil && (len(d.Candidates) != 1 || d.Candidates[0].Format != d.Format) {
			t.Fatalf("decided on %s among %s", d.Format.Name, names(d.Candidates))
		}
	})
}

// Formats that beat one another in a circle leave look-alikes, not silence: three
// blocks of print-outs in one sample, found by TestHammerDetect.
func TestDetectInACircle(t *testing.T) {
	d := Detect([]byte("\nN.W.:+ 1.234 kg\nGROSS    1.90 kg\r\nNo.      3\r\nTotal    5.82 kg\r" +
		"^KJIK000\r\n2023-11-07\r\n17:19:26\r\n  0.00 kg\r\n  1.94 kg\r\n0\r\n0\r\n  1.94 kg\r\n  1.94 kg\r\n    0 pcs\r\n \r\n \r\nE\r\n~P1\r"))
	assert.Nil(t, d.Format)
	assert.NotEmpty(t, d.Candidates)
	assert.NotEmpty(t, d.Why)
}

// What no sample may decide, and what still must be.
func TestDetectIsNotFooled(t *testing.T) {
	const strict, freshly, expanded = "\x02,0 001234000000\r", "\x02,p 001234000000\r", "\x02,00001234000000\r"
	records := strings.Repeat("------------\r\n12:34:56\r\n+00123.4 G S\r\n------------\r\n", 5)
	for _, c := range []struct {
		name, sample string
		format       string // "" when undecided
		candidates   string
		few          bool
	}{
		{"one spoilt byte makes reversed frames readable forward", strings.Repeat("=000.3000", 9) + "=000.3001", "", "equals-forward equals-reversed", false},
		{"and the other way round", strings.Repeat("=0003.000", 9) + "=1003.000", "", "equals-reversed equals-forward", false},
		{"a minus alone", "=-0001.00", "", "equals-forward", true},
		{"a minus that keeps coming", "=-0001.00=-0001.00", "equals-forward", "equals-forward", false},
		{"a minus at the end that keeps coming", "=000.3000=00.1000-=00.1000-", "equals-reversed", "equals-reversed", false},
		{"zero alone", strings.Repeat("=0000.000", 10), "", "equals-reversed equals-forward", false},
		{"the strict format says: expanded display", strings.Repeat(expanded, 4), "", "stx-status-word stx-status-word-loose", false},
		{"the strict format says: not zeroed since power-up", strings.Repeat(freshly, 4), "", "stx-status-word stx-status-word-loose", false},
		{"a flipped bit does not make it lenient", strict + strict + "\x02l0 001234000000\r" + strict + strict, "stx-status-word", "stx-status-word", false},
		{"a maker who always sets that bit", strings.Repeat("\x02l0 001234000000\r", 4), "stx-status-word-loose", "stx-status-word-loose", false},
		{"a print-out, line by line", "Gross\r\n    62.34 g \r\nTare\r\n    50.00 g \r\nNet\r\n    12.34 g \r\n", "", "sign-pad-unit", true},
		{"a print-out with letters", "No. 1\r\nG: 62.34 g\r\n    12.34 g \r\nT: 50.00 g\r\n    12.34 g \r\n", "", "sign-pad-unit", true},
		{"a cut first and last line are no titles", "   G 1.2\r\n   0.360 kg    G\r\n   0.360 kg    G\r\nN   12", "weight-unit-question", "weight-unit-question", false},
		{"interval printing", records, "sign-digits-unit-letters", "sign-digits-unit-letters", false},
		{"a thermometer among strangers", "hello\r\nroom 12\r\n+23.5 C \r\nworld\r\n", "", "sign-number-tail-letters", true},
		{"two lines, each read by another", "  183.010 lb\r\n  119.02020 lb\r\n", "", "weight-unit-question sign-pad-unit", false},
		{"acknowledgements in noise", strings.Repeat("\x06\x91q\x82\xb3z\r\x17", 30), "", "header-comma header-comma-csv header-space bare-number blank-unit-when-moving soh-stx-bcc", true},
	} {
		t.Run(c.name, func(t *testing.T) {
			d := Detect([]byte(c.sample))
			got := ""
			if d.Format != nil {
				got = d.Format.Name
			}
			assert.Equal(t, c.format, got, d.Why)
			assert.Equal(t, c.candidates, names(d.Candidates))
			assert.Equal(t, c.few, d.Few)
			assert.False(t, d.Same)
			for _, one := range d.Candidates {
				assert.Contains(t, d.Why, one.Format.Name)
			}
		})
	}
}

// A format that the user declared goes before one that is built in.
func TestDetectOwnFormats(t *testing.T) {
	own, err := CompilePattern(Pattern{Name: "till", Expr: `(?P<sign>[ -]) *(?P<number>[0-9.]+) (?P<unit>g) `})
	require.NoError(t, err)
	lines := []byte("    0.665 g \r\n    0.666 g \r\n")
	assert.Equal(t, signPadUnit, Detect(lines).Format)
	assert.Equal(t, own, Detect(lines, own).Format)
	assert.Equal(t, headerComma, Detect([]byte("ST,+00123.45  g\r\n"), own).Format)
}

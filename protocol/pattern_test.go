package protocol

import (
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

var kitchen = Pattern{
	Name:      "kitchen-scale",
	Expr:      `W(?P<stable>[ ?]) (?P<sign>[ +-]) *(?P<number>[0-9]+(?:\.[0-9]+)?) (?P<unit>g|kg| g|q)(?: (?P<mode>[A-Z]+))?`,
	Overload:  `W.  *OVER`,
	Underload: `W.  *UNDER`,
	Stable:    map[string]bool{" ": true, "?": false},
	Units:     map[string]string{"q": "mg"},
}

func TestPattern(t *testing.T) {
	f, err := CompilePattern(kitchen)
	require.NoError(t, err)
	const own = "an invented instrument"
	runRows(t, f, []row{
		{"W    12.50 g\r\n", "12.50", "g", "true", "-", "ok", own},
		{"W? -  12.50 kg NT\r\n", "-12.50", "kg", "false", "net", "ok", own},
		{"W  +12 q\r\n", "12", "mg", "true", "-", "ok", own},
		{"W   OVER\r\n", "", "", "", "-", "overload", own},
		{"W?  UNDER\r\n", "", "", "", "-", "underload", own},
	})
	runRefused(t, f, map[string]error{
		"W    12.50 g":          ErrDamaged, // no terminator
		"W    12.50 x\r\n":      ErrForeign,
		"xW    12.50 g\r\n":     ErrForeign,
		"W    12.50 g 7\r\n":    ErrForeign,
		"W    12..50 g\r\n":     ErrForeign,
		"W    12.50 g WHAT\r\n": ErrDamaged,
		"hello\r\n":             ErrForeign,
	})
}

// A careless expression loses digits or a sign; the reader notices.
func TestPatternLosesNothing(t *testing.T) {
	for _, c := range []struct {
		expr, line, want string // want "" when it must be refused
	}{
		{`W.*(?P<number>[0-9]+\.[0-9]) g`, "W 120.7 g", ""},
		{`W.*(?P<number>[0-9]+\.[0-9]) g`, "W 0.7 g", "0.7"},
		{`W.*?(?P<number>[0-9]+)\..*`, "W 120.7 g", ""},
		{`W.*?(?P<number>[0-9]+)[.].* g`, "W 120.7 g", ""},
		{`W[ -]*(?P<number>[0-9]+\.[0-9]) g`, "W - 120.7 g", ""},
		{`W[ -]*(?P<number>[0-9]+\.[0-9]) g`, "W 120.7 g", "120.7"},
		{`W(?P<sign>[ -]) *(?P<number>[0-9]+\.[0-9]) g`, "W- 120.7 g", "-120.7"},
		{`W(?P<sign>[ -]).*(?P<number>[0-9]+\.[0-9]) g`, "W- 120.7 g", ""},
		{`(?P<sign>.),GS, *(?P<number>[0-9]+\.[0-9]) g`, "-,GS, 120.7 g", "-120.7"},
		{`(?P<sign>.),GS, *(?P<number>[0-9]+\.[0-9]) g`, "x,GS, 120.7 g", ""},
		{`W (?P<number>[0-9.]+) g`, "W 1.2.3 g", ""},
		{`W (?P<number>[0-9.]+) g`, "W 12. g", ""},
		{`W (?:(?P<number>[0-9.]+)|none) g`, "W none g", ""},
		{`W (?P<number>[0-9 ]+) g`, "W 1 2 g", ""},
	} {
		f, err := CompilePattern(Pattern{Name: "careless", Expr: c.expr})
		require.NoError(t, err, c.expr)
		rs := decodeCut(f, Options{}, []byte(c.line+"\r\n"))
		require.Len(t, rs, 1)
		if c.want == "" {
			assert.Equal(t, Invalid, rs[0].Status, "%s on %q gave %s", c.expr, c.line, rs[0].Value)
			continue
		}
		if assert.Equal(t, OK, rs[0].Status, "%s on %q: %s", c.expr, c.line, rs[0].Why) {
			assert.Equal(t, c.want, rs[0].Value.String(), "%s on %q", c.expr, c.line)
		}
	}
}

func TestPatternEndUnitAndComma(t *testing.T) {
	f, err := CompilePattern(Pattern{Name: "etx", Expr: `(?P<number>[0-9]+,[0-9]+)(?P<mode>[a-z])`, End: "\x03\x04", BlankUnit: "g",
		Modes: map[string]string{"b": "gross", "n": "net", "t": "tare"}, DecimalComma: true})
	require.NoError(t, err)
	in := []byte("12,50b\x03\x04\r\n1,234n\x03\x0413,00t\x03\x041.5n\x03\x04\x03\x047,5b\x037\x03\x047,50b")
	whole := decodeCut(f, Options{}, in)
	assert.Equal(t, []string{"12.50 g", "1.234 g", "invalid", "invalid", "invalid", "invalid"}, said(whole))
	assert.Equal(t, Gross, whole[0].Mode)
	assert.Equal(t, Tare, whole[2].Mode)
	for i := range in {
		require.Equal(t, whole, decodeCut(f, Options{}, in[:i], in[i:]), "cut at %d", i)
	}
	// A frame that ends with the stream is whole when its end is there.
	assert.Equal(t, []string{"12.50 g"}, said(decodeCut(f, Options{}, []byte("12,50b\x03\x04"))))
	assert.Equal(t, []string{"invalid"}, said(decodeCut(f, Options{}, []byte("12,50b\x03"))))
}

func TestPatternFaults(t *testing.T) {
	good := kitchen
	for _, c := range []struct {
		name   string
		change func(*Pattern)
		words  []string
	}{
		{"no name", func(p *Pattern) { p.Name = "" }, []string{"name", "must have a name"}},
		{"a name with blanks", func(p *Pattern) { p.Name = "my scale" }, []string{`"my scale"`, "blanks"}},
		{"a built-in name", func(p *Pattern) { p.Name = "header-comma" }, []string{"built-in"}},
		{"no expression", func(p *Pattern) { p.Expr = "" }, []string{"expr", "empty"}},
		{"an open bracket", func(p *Pattern) { p.Expr = `W(?P<number>[0-9+` }, []string{"expr", "missing closing", "character 13", "[0-9+"}},
		{"no number", func(p *Pattern) { p.Expr = `W (?P<unit>g)`; p.Stable = nil }, []string{"expr", "number"}},
		{"an unknown group", func(p *Pattern) { p.Expr = `W (?P<numbr>[0-9]+)` }, []string{"expr", `"numbr"`, "sign, number, unit, stable and mode"}},
		{"a group twice", func(p *Pattern) { p.Expr = `(?P<number>[0-9]+)(?P<number>[0-9]+)` }, []string{"expr", "number"}},
		{"matches nothing at all", func(p *Pattern) { p.Expr = `(?P<number>[0-9]*)`; p.Stable = nil }, []string{"expr", "empty frame"}},
		{"stable without meaning", func(p *Pattern) { p.Stable = nil }, []string{"stable", "what its texts mean"}},
		{"meaning without stable", func(p *Pattern) { p.Expr = `W (?P<number>[0-9]+)` }, []string{"stable", "no group stable"}},
		{"a broken overload", func(p *Pattern) { p.Overload = `OVER(` }, []string{"overload", "missing closing"}},
		{"a broken underload", func(p *Pattern) { p.Underload = `*` }, []string{"underload", "character 1"}},
		{"a mode of nobody", func(p *Pattern) { p.Modes = map[string]string{"X": "netto"} }, []string{"modes", `"netto"`}},
		{"a unit of nobody", func(p *Pattern) { p.Units = map[string]string{"X": "stone"} }, []string{"units", `"stone"`}},
		{"a blank unit of nobody", func(p *Pattern) { p.BlankUnit = "stone" }, []string{"blank unit", `"stone"`}},
	} {
		t.Run(c.name, func(t *testing.T) {
			p := good
			c.change(&p)
			f, err := CompilePattern(p)
			require.ErrorIs(t, err, ErrPattern)
			assert.Nil(t, f)
			for _, w := range c.words {
				assert.Contains(t, strings.ToLower(err.Error()), strings.ToLower(w))
			}
		})
	}
}

func FuzzPattern(f *testing.F) {
	f.Add(kitchen.Expr, "W    12.50 g\r\n")
	f.Add(`W.*(?P<number>[0-9]+\.[0-9]) g`, "W 120.7 g\r\n")
	f.Fuzz(func(t *testing.T, expr, in string) {
		format, err := CompilePattern(Pattern{Name: "fuzz", Expr: expr})
		if err != nil {
			return
		}
		for _, r := range decodeCut(format, Options{}, []byte(in)) {
			checkReading(t, format, &r)
		}
	})
}

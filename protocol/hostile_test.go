package protocol

import (
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// Lines that instruments, print-outs and neighbours on the cable send and that no
// format may turn into a weight, however near they come to one. Where a line has a
// published source it stands beside it; the others are invented variants.
var hostile = []struct{ what, in string }{
	// Print-outs, a title before each number.
	{"title", "GROSS 12.3 g\r\n"},
	{"title", "NET        12.3 g\r\n"},
	{"title", "N  12.3\r\n"},
	{"title", "N     12.3 g\r\n"},
	{"tare line", "T 5.0\r\n"},
	{"tare line", "T      +    5.000 g  \r\n"},
	{"tare line", "     T       5.0000 g   \r\n"},
	{"tare memory; test data of public drivers of the letter-status command set", "TA A      2.486 g\r\n"},
	{"the tare, of header-comma; test data of public drivers", "TR,+00005.00  g\r\n"},
	{"total", "TOTAL      120.5 g\r\n"},
	{"total; Ohaus manuals", "     207.80 g  TOTAL\r\n"},
	{"Jadever manual", "N.W.:+ 1.234 kg\n\r"},
	{"time", " 12:34:56\r\n"},
	{"date with points", "01.11.24\r\n"},
	{"date behind a sign", "+01.11.24\r\n"},
	{"date and time", "12.11.24     10:25:33\r\n"},
	{"number of the print-out", "No.     00012\r\n"},
	{"weight and time; interval printing, Ohaus manuals", "     192.21 g 12:34:56\r\n"},
	// Neighbours on the cable.
	{"barcode EAN-13", "4006381333931\r\n"},
	{"barcode behind a sign", "+4006381333931\r\n"},
	{"temperature", " 23.5 \xb0C\r\n"},
	{"temperature", "T= 23.5C\r\n"},
	{"banner; wire-line corpus of a public scale reader", "CAS PD-II  Ver 1.00\r\n"},
	{"echo of the command; Arduino StackExchange 48969", "SI S S     100.00 g\r\n"},
	{"echo of the command", "QST,+00123.45  g\r\n"},
	{"echo of the command", "w       0.000 g  \r\n"},
	{"byte order mark", "\xef\xbb\xbfST,GS,+  1.234kg\r\n"},
	{"control sequence of a terminal", "\x1b[2JST,GS,+  1.234kg\r\n"},
	{"control sequence behind", "ST,GS,+  1.234kg\x1b[0m\r\n"},
	// Overload and faults by words and fillers, without a header that says so.
	{"word", "   OL   \r\n"},
	{"word", "TOL\r\n"},
	{"dashes", "  -------- g \r\n"},
	{"dashes", "+ -------- g  \r\n"},
	{"letters", " HHHHHHHH g \r\n"},
	{"letters", "+  LLLLLL g  \r\n"},
	{"word", "Err 3\r\n"},
	{"blanks", "         g \r\n"},
	{"blanks", "S S            g\r\n"},
	{"nines; OpenTrickler PR 49 met them read as a weight", "  9999999 g \r\n"},
	{"nines", "  99999.9 g \r\n"},
	{"nines", "+ 99999.99 g  \r\n"},
	{"nines", "+ 99999.99    \r\n"},
	{"nines", "S S   99999.99 g\r\n"},
	{"nines", "ST,GS,+9999.99kg\r\n"},
	{"nines", "ST,+9999999.9  g\r\n"},
	{"nines", "ST,+99999999  g\r\n"},
	{"nines", "  9999999.99 g  \r\n"},
	{"nines", "+99999.9 G S\r\n"},
	{"nines", "wn999.999kg\r\n"},
	{"nines", "\x02 9999.99KG \r\n"},
	{"nines", "=09999.99"},
	// Numbers as people and programs write them.
	{"thousands mark", " 1,234.50 g \r\n"},
	{"thousands mark", "ST,GS,+ 1,234kg\r\n"},
	{"thousands blank", " 1 234.50 g \r\n"},
	{"decimal comma where a comma divides fields", "ST,GS,+  1,234kg\r\n"},
	{"decimal comma", "    12,50 g \r\n"},
	{"decimal comma", "+    12,50 g  \r\n"},
	{"decimal comma; test data of a public driver", "W 2,750 kg\r\n"},
	{"exponent", "+1.23E+02 g\r\n"},
	{"two signs", "ST,GS,+- 1.234kg\r\n"},
	{"two points", "+   1.23.5 g  \r\n"},
	{"last digit blanked", "+   123.5  g  \r\n"},
	{"last digit blanked", "ST,GS,+  1.23 kg\r\n"},
	{"a hole", "+   12 .56 g  \r\n"},
	{"digits in brackets that are not the last", "+   12[3].56 g  \r\n"},
	{"slash without a point", "+00712/3 G S\r\n"},
	{"no point where the layout has one (Setra: point included)", "+12345   GS\r\n"},
	// Units that mean something else from maker to maker.
	{"grain or gross", "    12.34 gr\r\n"},
	{"grain or gross", "+   123.56 GR \r\n"},
	{"grain or gross", "S S     100.00 GR\r\n"},
	{"no unit of the tables", "    12.34 GM\r\n"},
	{"no unit of the tables", "    12.34 ml\r\n"},
	{"tonne or milligram", "    12.34 Mg\r\n"},
	{"tonne or milligram", "S S     100.00 Mg\r\n"},
	{"one letter where two stand", "    12.34 K \r\n"},
	// Two lines run together, and halves of one.
	{"glued", "ST,GS,+  1.234kgST,GS,+  1.235kg\r\n"},
	{"glued", "S S     100.00 gS S     101.00 g\r\n"},
	{"glued", "    0.665 g     0.666 g \r\n"},
	{"glued", "ST,+012.0078,  gST,+012.0079,  g\r\n"},
	{"head lost; NSerialCommTools, at the head of nearly every log", "S    20.7g  \r\n"},
	{"head lost", "0.7g  \r\n"},
	// What a serial port makes of a byte with a wrong parity: NUL.
	{"the last letter of ozt spoilt", "S S     100.00 oz\x00\r\n"},
	{"the last letter of ozt spoilt", "S  1000.00oz\x00\r"},
	{"the last digit spoilt", "+00127.80\x00\r\n"},
	{"the minus spoilt", "\x00   1.340 kg   ?N\r\n"},
	{"the mark of a moving load spoilt", "       0.01 g \x00\r\n"},
	{"a digit spoilt", "ST,+0\x0023.45  g\r\n"},
	{"a plus where the layout has none", "S S    +012.50 g\r\n"},
	// Held and averaged weights.
	{"animal weighing; KERN DE, FKB manuals", "M     29.186 g  \r\n"},
	{"hold lamp; CAS CI-600D family, bit 4", "ST,GS,1\xd4,    13.5 kg\r\n"},
	{"hold header", "HD,GS,+  1.234kg\r\n"},
	// Counts that could pass for a weight.
	{"a count in grams", "Qnt   +   253.00 g  \r\n"},
	{"a count in grams", "QT       +1250  g\r\n"},
	{"a count in grams", "QT,+00012345  g\r\n"},
	// Wrong case where the format knows one only.
	{"lower case", "st,gs,+  1.234kg\r\n"},
	{"lower case", "s s     100.00 g\r\n"},
}

func TestHostileLinesAreNoWeight(t *testing.T) {
	for _, h := range hostile {
		for _, f := range All() {
			for _, r := range decodeCut(f, Options{EachFrame: true, BlankUnit: UnitGram}, []byte(h.in)) {
				_, err := r.Mass()
				assert.Error(t, err, "%s: %q: %s reads %s %s", h.what, h.in, f.Name, r.Value, r.Unit)
			}
		}
		d := Detect([]byte(strings.Repeat(h.in, 4)))
		if d.Format != nil {
			assert.Zero(t, d.Candidates[0].Weights, "%s: %q taken for %s", h.what, h.in, d.Format.Name)
		}
	}
}

// What scales really do with the same lines and that must be read, by the one
// format that is told.
func TestAwkwardButWhole(t *testing.T) {
	for _, c := range []struct {
		format *Format
		in     string
		want   []string
		source string
	}{
		{headerCommaMode, "ST,NT,-  0.500kg\r\n", []string{"-0.500 kg"}, "tests of ellery-it/odoo-serial-scale-drivers"},
		{headerCommaMode, "ST,NT,-    0.0kg\r\n", []string{"-0.0 kg"}, "invented variant: minus, blanks, zero"},
		{headerCommaMode, "ST,GS,+  1.234kg\n\rST,GS,+  1.235kg\n\r", []string{"1.234 kg", "1.235 kg"}, "LF CR order, Jadever manual"},
		{headerCommaMode, "ST,GS,+  1.234kg\rST,GS,+  1.235kg\r", []string{"1.234 kg", "1.235 kg"}, "CR alone, pyserial issue 668"},
		{headerCommaMode, "ST,GS,+  1.234kg\r\nST,GS,+ 1234.0 g\r\n", []string{"1.234 kg", "1234.0 g"}, "invented variant: the unit key in mid-stream"},
		{headerCommaMode, "ST,GS,+  1.234kg\r\r\r\nST,GS,+  1.234kg\r\n", []string{"1.234 kg", "1.234 kg"}, "invented variant: doubled line ends and lines"},
		{headerComma, "\x00\x00\x00ST,+00123.45  g\r\n\x00\x00ST,+00123.46  g\r\n", []string{"123.45 g", "123.46 g"}, "invented variant: NULs as fill between lines"},
		{headerComma, "\x00\x00\x7f\x7f\r\nST,+00123.45  g\r\n", []string{"invalid", "123.45 g"}, "NSerialCommTools: noise before the first good line"},
		{headerComma, "ST,-00000.00  g\r\n", []string{"-0.00 g"}, "invented variant"},
		{headerComma, "Q\r\nST,+00123.45  g\r\n", []string{"invalid", "123.45 g"}, "an echo on a line of its own, Arduino StackExchange 48969"},
		{weightUnitQuestion, "-  1.340 kg   ?N\r\n", []string{"-1.340 kg"}, "NSerialCommTools DEFENDER3000"},
		{fixedSignUnit, "+   1.2345 /lb\r\n", []string{"1.2345 lb"}, "the pound as laboratory balances write it, from memory"},
		{fixedSignUnit, "+   999.99 g  \r\n", []string{"999.99 g"}, "five nines are a weight"},
		{signDigitsUnitLetters, "------------\r\n12:34:56\r\n+00123.4 G S\r\n", []string{"invalid", "invalid", "123.4 g"}, "interval printing, KERN EG interface section"},
		{fixedSignUnitID, "Qnt   +      253    \r\n", []string{"253 pcs"}, "Sartorius instructions: a blank unit is a moving one"},
		{lfWeightStatusETX, "W\r\n02.340LB\r\nS00\r\x03", []string{"invalid", "2.340 lb"}, "invented variant: echo of W in front"},
	} {
		rs := decodeCut(c.format, Options{EachFrame: true, BlankUnit: UnitGram}, []byte(c.in))
		assert.Equal(t, c.want, said(rs), "%q: %s", c.in, c.source)
	}
}

// Where a blank unit means "moving", the user's unit must not replace one that the
// instrument itself has shown: its key went from g to kg.
func TestBlankUnitGivesWayToTheOneShown(t *testing.T) {
	for f, in := range map[*Format][2]string{
		fixedSignUnit:       {"+   1.2340 kg \r\n", "+   1.2350    \r\n"},
		fixedSignUnitID:     {"N     +   1.2340 kg \r\n", "N     +   1.2350    \r\n"},
		blankUnitWhenMoving: {"+  1.2340 kg  \r\n", "+  1.2350     \r\n"},
		floatSignUnit:       {"       1.234 kg \r\n", "       1.235    \r\n"},
	} {
		o := Options{BlankUnit: UnitGram}
		rs := decodeCut(f, o, []byte(in[1]+in[0]+in[1]+strings.Replace(in[0], "kg", "g ", 1)+in[1]))
		require.Len(t, rs, 5, f.Name)
		var units []Unit
		for _, r := range rs {
			assert.Equal(t, OK, r.Status, "%s: %s", f.Name, r.Why)
			units = append(units, r.Unit)
		}
		assert.Equal(t, []Unit{"g", "kg", "", "g", "g"}, units, f.Name)
	}
}

// Nines are a number where each frame has a bit that says "out of range".
func TestNinesWithARangeBit(t *testing.T) {
	for f, in := range map[*Format]string{
		bcdFFFrame:         "\xff\x42\x99\x99\x99\x00",
		stxStatusWord:      "\x02,0 999999000000\r",
		stxStatusWordLF:    "\x02,0 999999000000\r\n",
		stxStatusWordShort: "\x02,0 999999\r\n",
	} {
		rs := decodeCut(f, Options{EachFrame: true}, []byte(in))
		assert.Equal(t, []string{"9999.99 kg"}, said(rs), f.Name)
	}
	for n, want := range map[uint64]bool{0: false, 9: false, 99_999: false, 999_999: true, 9_999_999: true, 9_999_998: false,
		1_000_000: false, 9_999_999_999_999_999_999: true, 1<<64 - 1: false} {
		assert.Equal(t, want, nineFilled(n), n)
	}
}

// While weighing, a frame that differs in length from many before it lost or
// doubled a byte.
func TestLengthThatChanges(t *testing.T) {
	line := "ST,+00123.456  g\r\n"
	in := []byte(strings.Repeat(line, enough) + "ST,+0012.456  g\r\n" + line + line)
	assert.Equal(t, []string{"123.456 g", "123.456 g", "123.456 g", "invalid", "123.456 g", "123.456 g"}, said(decodeCut(headerComma, Options{}, in)))
	// A lost k makes a thousandth of a kilogram of a gram.
	line = "S S      1.234 kg\r\n"
	in = []byte(strings.Repeat(line, enough) + "S S      1.234 g\r\n" + line)
	assert.Equal(t, []string{"1.234 kg", "1.234 kg", "1.234 kg", "invalid", "1.234 kg"}, said(decodeCut(letterStatus, Options{}, in)))
	// A line may have a tail of its own, but its number ends where the others do.
	in = []byte(strings.Repeat("   10.360 kg    G\r\n", enough) + "   10.360 kg    NET\r\n" + "   10.36 kg    G\r\n" + "   10.360 kg   ?G\r\n")
	assert.Equal(t, []string{"10.360 kg", "10.360 kg", "10.360 kg", "10.360 kg", "invalid", "10.360 kg"}, said(decodeCut(weightUnitQuestion, Options{}, in)))
	// Another range has another length: one frame is lost, and no more.
	line = "ST,+00123.456  g\r\n"
	in = []byte(strings.Repeat(line, enough) + strings.Repeat("ST,+0012.456  g\r\n", 3))
	assert.Equal(t, []string{"123.456 g", "123.456 g", "123.456 g", "invalid", "12.456 g", "12.456 g"}, said(decodeCut(headerComma, Options{}, in)))
	// A handful of recorded lines is no stream.
	assert.Equal(t, []string{"123.456 g", "123.456 g", "123.456 g", "12.456 g", "12.456 g", "12.456 g"}, said(decodeCut(headerComma, Options{EachFrame: true}, in)))
}

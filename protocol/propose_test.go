package protocol

import (
	"fmt"
	"math/rand/v2"
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// proposed makes the first format of lines, and compiles it.
func proposed(t *testing.T, unit Unit, lines ...string) (Proposal, *Format) {
	t.Helper()
	all, why := Propose([]byte(strings.Join(lines, "")), true, unit)
	require.NotEmpty(t, all, "%q: %s", lines, why)
	return all[0], compiledOf(t, all[0])
}

func compiledOf(t *testing.T, p Proposal) *Format {
	t.Helper()
	p.Pattern.Name = "own-scale"
	f, err := CompilePattern(p.Pattern)
	require.NoError(t, err, "%+v", p.Pattern)
	return f
}

// What is proposed of lines as instruments send them. Where a source is named its lines
// stand as published, or are made by its rule; the formats that read them are left out
// here, as for an instrument that nobody knew.
func TestPropose(t *testing.T) {
	for _, c := range []struct {
		name    string
		lines   []string
		unit    Unit // of the lines
		shows   string
		guesses string
		reads   map[string]string // further lines: what they say, "" where they must not be read
		source  string
	}{
		{"a bare number in a column", []string{"    0.0\r\n", "    0.0\r\n", "   55.5\r\n", "   55.5\r\n"}, "", "55.5", "minus",
			map[string]string{"  -12.5\r\n": "-12.5", "-  12.5\r\n": "-12.5", "  155.5\r\n": "155.5", "   5.5\r\n": "", "   55.5 g\r\n": "", "   5,5\r\n": "", "+0055.5\r\n": "55.5", "  5 5.5\r\n": ""},
			"the shape of many cheap scales, common practice, no source"},
		{"a sign and digits", []string{"+00127.800\r\n", "+00127.801\r\n", "-00000.102\r\n"}, "", "-0.102", "",
			map[string]string{"+0127.800\r\n": "", "+99999999\r\n": ""}, "A&D manuals FX-i, GX, AD-4212 (\"NU format\")"},
		{"a status before it", []string{"ST,+00123.45  g\r\n", "US,-00183.69  g\r\n", "ST,+00123.45  g\r\n"}, "g", "123.45", "",
			map[string]string{"OL,+9999999E+19\r\n": "", "ST,+00004.70 kg\r\n": "4.70 kg", "QT,+00012345 PC\r\n": ""}, "A&D manual EK-L p. 28"},
		{"gross lines that a moving mark follows", []string{"   0.360 kg    G\r\n", "   0.415 kg   ?G\r\n", "   0.415 kg    G\r\n"}, "kg", "0.415", "minus",
			map[string]string{"   0.360 kg    N\r\n": "", "-  1.340 kg   ?G\r\n": "-1.340 kg"}, "NSerialCommTools, folder DEFENDER3000 (capture)"},
		{"the state glued to the unit", []string{":W 118.70kgS \r", ":W  64.15kgU \r", ":W 118.70kgS \r"}, "kg", "118.70", "minus",
			map[string]string{":W-118.70kgS \r": "-118.70 kg", ":M  OVER     \r": ""}, "My Weigh HD manual p. 7, with a letter for moving"},
		{"a unit that is blank while it moves", []string{"       0.000 g  \r\n", "      29.180    \r\n", "     -29.186 g  \r\n"}, "g", "-29.186", "blank",
			map[string]string{"           Error\r\n": ""}, "KERN DE manual; OpenTrickler issue 15 (capture)"},
		{"brackets and a word", []string{"WT<  012.3>gram\r\n", "WT<  012.4>gram\r\n", "WT< -002.4>gram\r\n"}, "", "-2.4", "",
			map[string]string{"WT<  ----->gram\r\n": ""}, "invented"},
		{"a decimal comma", []string{"W 0,000 kg\r\n", "W 2,750 kg\r\n", "W 2,750 kg\r\n"}, "kg", "2.750", "minus",
			map[string]string{"W 2.750 kg\r\n": "", "W -2,750 kg\r\n": "-2.750 kg"}, "free-form lines of public driver tests"},
		{"a comma that could mark thousands", []string{"W 2,750 g\r\n", "W 2,751 g\r\n", "W 2,752 g\r\n"}, "g", "2.752", "comma minus", nil, "the same"},
		{"a letter and no blank", []string{"G+00123.4\n", "G+00123.4\n", "G+00120.0\n"}, "", "120.0", "minus",
			map[string]string{"T+00123.4\n": "", "G-00123.4\n": "-123.4"}, "invented"},
		{"framed by control characters", []string{"\x02+0012.5 g\x03", "\x02-0012.5 g\x03", "\x02+0012.5 g\x03"}, "g", "12.5", "",
			map[string]string{"+0012.5 g\x03": ""}, "invented"},
		{"whole grams", []string{"  120 g\r\n", "  121 g\r\n", "   98 g\r\n"}, "g", "98", "minus", map[string]string{"  12. g\r\n": ""}, "kitchen scales, common practice, no source"},
		{"a lone capital G", []string{"+ 12.50G\r\n", "+ 12.51G\r\n", "+ 12.52G\r\n"}, "g", "12.52", "gram minus", nil, "the letters of KERN EG, EW, PES interface sections"},
		{"a mark that nobody knows, told by how the number moves", []string{
			"12.1 g .\r\n", "12.5 g .\r\n", "13.9 g .\r\n", "14.0 g #\r\n", "14.0 g #\r\n", "14.0 g #\r\n", "14.0 g #\r\n"}, "g", "14.0", "minus rest", nil, "invented"},
	} {
		t.Run(c.name, func(t *testing.T) {
			p, f := proposed(t, UnitNone, c.lines...)
			assert.Equal(t, c.unit, p.Unit, "%s", p.Pattern.Expr)
			assert.Equal(t, c.shows, p.Shows.String(), "%s", p.Pattern.Expr)
			var guesses []string
			for _, g := range p.Guesses {
				guesses = append(guesses, string(g))
			}
			slices.Sort(guesses)
			assert.Equal(t, c.guesses, strings.Join(guesses, " "), "%s", p.Pattern.Expr)
			for line, want := range c.reads {
				rs := decodeCut(f, Options{EachFrame: true}, []byte(line))
				require.Len(t, rs, 1, "%q by %s", line, p.Pattern.Expr)
				got := ""
				if rs[0].Status == OK {
					got = strings.TrimSpace(rs[0].Value.String() + " " + string(rs[0].Unit))
					if rs[0].Unit == p.Unit && !strings.Contains(want, " ") {
						got = rs[0].Value.String()
					}
				}
				assert.Equal(t, want, got, "%q by %s", line, p.Pattern.Expr)
			}
		})
	}
}

// What is no clear line is not made one.
func TestProposeNothing(t *testing.T) {
	for _, c := range []struct {
		sample string
		want   Unclear
	}{
		{"", UnclearNothing},
		{"12.5", UnclearNothing},
		{"\xf8\xe0\r\n\x81\x99\xfe\r\n\xf8\xc0\x13\r\n", UnclearBinary},
		{"hello\r\nworld\r\n", UnclearNumber},
		{"GROSS  1.5 kg\r\nTARE  0.5 kg\r\nNET  1.0 kg\r\n", UnclearPrintout},
		{"G 1.5 kg\r\nT 0.5 kg\r\nN 1.0 kg\r\n", UnclearPrintout},
		{"  253 pcs\r\n  254 pcs\r\n  255 pcs\r\n", UnclearNotMass},
		{"12:07.50 lb:oz\r\n12:08.00 lb:oz\r\n12:08.50 lb:oz\r\n", UnclearDigits},
		{"1,234.5 g\r\n1,234.6 g\r\n1,234.7 g\r\n", UnclearDigits},
		{"+007.12/3 G S\r\n+007.12/4 G S\r\n+007.12/5 G S\r\n", UnclearDigits},
		{"12.5- g\r\n12.5  g\r\n11.5- g\r\n", UnclearUneven},
		{"12.5-\r\n12.6-\r\n11.5-\r\n", UnclearDigits},
		{"-,GS, 12.5 g\r\n ,GS, 12.5 g\r\n+,GS, 12.5 g\r\n", UnclearUneven},
		{"1.2E+03\r\n1.3E+03\r\n1.4E+03\r\n", UnclearDigits},
	} {
		all, why := Propose([]byte(c.sample), true, UnitNone)
		assert.Empty(t, all, "%q", c.sample)
		assert.Equal(t, c.want, why, "%q", c.sample)
	}
}

// A unit that a person names counts only for lines that show none.
func TestProposeTakesTheWordForTheUnit(t *testing.T) {
	p, f := proposed(t, "kg", "  0.125\r\n", "  0.126\r\n", " 10.127\r\n")
	assert.Equal(t, UnitKilogram, p.Unit)
	assert.True(t, p.Asked)
	assert.Equal(t, UnitKilogram, f.BlankUnit)
	p, _ = proposed(t, "kg", "  0.125 g\r\n", "  0.126 g\r\n", " 10.127 g\r\n")
	assert.Equal(t, UnitGram, p.Unit)
	assert.False(t, p.Asked)
}

// Where several numbers move each is a proposal, the one with a unit first.
func TestProposeEachNumber(t *testing.T) {
	all, why := Propose([]byte("001  0.0 17.3 g\r\n002  5.0 22.3 g\r\n003  5.0 22.4 g\r\n"), true, UnitNone)
	require.Len(t, all, 3, why)
	assert.Equal(t, "22.4", all[0].Shows.String())
	assert.Equal(t, UnitGram, all[0].Unit)
	for _, p := range all {
		assert.Contains(t, p.Guesses, GuessColumn)
	}
}

// oddScale is an instrument that nobody knows: what it writes around a number.
type oddScale struct {
	head, tail string
	width      int // of sign, blanks and digits
	places     int
	comma      bool
	unit       string
	marks      [2]string // at rest, moving
	end        string
}

func (s oddScale) line(n int, rest bool) string {
	number := fmt.Sprintf("%d", max(n, -n))
	if s.places > 0 {
		for len(number) <= s.places {
			number = "0" + number
		}
		i := len(number) - s.places
		number = number[:i] + "." + number[i:]
	}
	if s.comma {
		number = strings.Replace(number, ".", ",", 1)
	}
	if n < 0 {
		number = "-" + number
	}
	mark := s.marks[1]
	if rest {
		mark = s.marks[0]
	}
	return fmt.Sprintf("%s%*s%s%s%s%s", s.head, s.width, number, s.unit, mark, s.tail, s.end)
}

// Whatever an odd scale writes around its number, what is proposed reads its lines as what
// stands there, weights that were never heard, too, or does not read them.
func TestProposeReadsWhatStandsThere(t *testing.T) {
	r := rand.New(rand.NewPCG(1, 2))
	pick := func(of ...string) string { return of[r.IntN(len(of))] }
	made := 0
	for range 3000 {
		mark := [][2]string{{"", ""}, {"", "?"}, {" S", " U"}, {"", "~"}, {"*", " "}}[r.IntN(5)]
		s := oddScale{head: pick("", "W", "\x02", "A1,", "val: ", "[", "ID 07 ", "QX;"), tail: pick("", " ", ";", "]", " OK"), width: r.IntN(10),
			places: r.IntN(4), comma: r.IntN(4) == 0, unit: pick("", " g", "kg", "  kg", " oz"), marks: mark, end: pick("\r\n", "\n", "\r")}
		var lines []string
		for n, k := 0, r.IntN(20)-3; n < 8; n++ {
			if r.IntN(2) == 0 {
				k = r.IntN(20000) - 200
			}
			lines = append(lines, s.line(k, r.IntN(3) > 0))
		}
		all, _ := Propose([]byte(strings.Join(lines, "")), true, UnitNone)
		if len(all) == 0 {
			continue
		}
		made++
		f := compiledOf(t, all[0])
		for range 40 {
			n := r.IntN(2_000_000) - 1_000_000
			if r.IntN(2) == 0 {
				n /= 1000
			}
			line := s.line(n, r.IntN(2) == 0)
			for _, got := range decodeCut(f, Options{EachFrame: true}, []byte(line)) {
				if got.Status != OK {
					continue
				}
				number := Decimal{Coef: uint64(max(n, -n)), Places: uint8(s.places), Neg: n < 0}
				require.Equal(t, number.String(), got.Value.String(), "%q by %s, made of %q", line, all[0].Pattern.Expr, lines)
				if u := strings.TrimSpace(s.unit); u != "" {
					require.Equal(t, Unit(u), got.Unit, "%q by %s", line, all[0].Pattern.Expr)
				}
			}
		}
	}
	assert.Greater(t, made, 2000, "most of these scales are understood")
}

// A line that lost its first characters, or its last ones, is never another weight where
// the lines had one length.
func TestProposeRefusesCutLines(t *testing.T) {
	p, f := proposed(t, UnitNone, "    0.0\r\n", "   55.5\r\n", "  155.5\r\n", " 1155.5\r\n")
	require.Equal(t, 7, p.Pattern.Length)
	for _, line := range []string{"    0.0", "   55.5", "  155.5", " 1155.5"} {
		for from := range line {
			for to := from; to <= len(line); to++ {
				if to-from == len(line) {
					continue
				}
				for _, got := range decodeCut(f, Options{EachFrame: true}, []byte(line[from:to]+"\r\n")) {
					assert.NotEqual(t, OK, got.Status, "%q", line[from:to])
				}
			}
		}
	}
}

// A bare number that was declared takes no line of any built-in format for its own, but of
// the one that is a bare number itself.
func TestABareNumberIsMistakenForNothing(t *testing.T) {
	for _, lines := range [][]string{
		{"    0.0\r\n", "   55.5\r\n", "  155.5\r\n"}, {"0.0\r\n", "55.5\r\n", "155.5\r\n"}, {"  0\r\n", " 55\r\n", "155\r\n"}, {"+00127.800\r\n", "+00127.801\r\n", "-00000.102\r\n"},
	} {
		_, f := proposed(t, UnitGram, lines...)
		for _, c := range captures(t) {
			if d := Detect(c.bytes, f); c.format != bareNumber {
				assert.NotEqual(t, f, d.Format, "%s is taken for a bare number", c.name)
			}
		}
		// And nothing that is built in takes its lines for another weight.
		for _, c := range Detect([]byte(strings.Join(lines, ""))).Candidates {
			assert.Equal(t, bareNumber.Name, c.Format.Name, "%q", lines)
		}
	}
}

// What is proposed of the captures of a built-in format reads no line as another weight
// than that format does.
func TestProposeAgreesWithTheFormats(t *testing.T) {
	made := 0
	for _, c := range captures(t) {
		all, _ := Propose(c.bytes, true, UnitNone)
		for _, p := range all {
			if slices.Contains(p.Guesses, GuessColumn) || slices.Contains(p.Guesses, GuessComma) {
				continue // another number of the line, or said to be in doubt
			}
			made++
			f := compiledOf(t, p)
			for _, frame := range strings.FieldsFunc(string(c.bytes), func(r rune) bool { return r == '\r' || r == '\n' }) {
				var own Reading
				read := decodeCut(f, Options{EachFrame: true}, []byte(frame+"\r\n"))
				if c.format.Parse([]byte(frame), &own) != nil || len(read) != 1 || read[0].Status != OK {
					continue
				}
				mine := read[0]
				if assert.Equal(t, OK, own.Status, "%s: %q by %s", c.name, frame, p.Pattern.Expr) {
					assert.Equal(t, own.Value, mine.Value, "%s: %q by %s", c.name, frame, p.Pattern.Expr)
					if mine.Unit != UnitNone && own.Unit != UnitNone {
						assert.Equal(t, own.Unit, mine.Unit, "%s: %q by %s", c.name, frame, p.Pattern.Expr)
					}
				}
			}
		}
	}
	t.Log(made, "proposals")
	assert.Greater(t, made, 10)
}

// A declared format that would read the lines with a decimal comma says so.
func TestPatternWithoutItsComma(t *testing.T) {
	for _, expr := range []string{`W (?P<number>[0-9]+\.[0-9]+) g`, `W (?P<number>[0-9.,]+) g`} {
		f, err := CompilePattern(Pattern{Name: "point", Expr: expr})
		require.NoError(t, err)
		rs := decodeCut(f, Options{}, []byte("W 12,5 g\r\n"))
		require.Len(t, rs, 1)
		assert.ErrorIs(t, rs[0].Err, ErrDamaged)
		assert.Contains(t, rs[0].Why, "comma = true", expr)
	}
}

func FuzzPropose(f *testing.F) {
	for _, s := range []string{"    55.5\r\n   155.5\r\n     0.0\r\n", "ST,+00123.45  g\r\nUS,-00183.69  g\r\nST,+00123.45  g\r\n", "\x02+0012.5 g\x03\x02+0012.5 g\x03", "12.1 g .\r\n12.5 g #\r\n", "a1b2 3,000 kgS\n"} {
		f.Add([]byte(s))
	}
	f.Fuzz(func(t *testing.T, sample []byte) {
		all, why := Propose(sample, true, UnitNone)
		if len(all) == 0 && why == "" {
			t.Fatal("nothing, and no reason")
		}
		for _, p := range all {
			p.Pattern.Name = "fuzz"
			format, err := CompilePattern(p.Pattern)
			if err != nil {
				t.Fatalf("%+v: %v", p.Pattern, err)
			}
			if p.Read == 0 {
				t.Fatalf("%s reads none of its lines", p.Pattern.Expr)
			}
			for _, r := range decodeCut(format, Options{EachFrame: true}, sample) {
				checkReading(t, format, &r)
				if r.Status == OK && !strings.Contains(strings.ReplaceAll(string(r.Raw), ",", "."), digitsOf(r.Value)) {
					t.Fatalf("%q was read as %s", r.Raw, r.Value)
				}
			}
		}
	})
}

// digitsOf gives the digits of a number without the zeros in front.
func digitsOf(d Decimal) string {
	d.Neg = false
	return strings.TrimPrefix(strings.TrimPrefix(d.String(), "0."), "0")
}

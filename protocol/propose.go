package protocol

import (
	"bytes"
	"slices"
	"strings"
)

// Proposal is a format made from the lines of an instrument that no format knows, for a
// person to check with a weight that is known.
type Proposal struct {
	Pattern Pattern // without Name; it reads each of the lines counted in Read
	Shows   Decimal // what the last of these lines says
	Unit    Unit    // of the number; none: no line shows it, and nothing may be weighed until a person says it
	Asked   bool    // Unit is the word of the person who was asked
	Minus   bool    // a minus was among the lines
	Read    int     // lines that it reads
	Other   int     // lines that it does not read
	Guesses []Guess // what no line shows for certain
}

// Guess is something in a Proposal that the lines heard do not prove.
type Guess string

// The guesses.
const (
	GuessMinus  Guess = "minus"  // no line has one; it is looked for before the number
	GuessGram   Guess = "gram"   // a lone capital G is taken for grams
	GuessRest   Guess = "rest"   // which of two marks means "at rest" was told from how the number moves
	GuessMark   Guess = "mark"   // a mark changes, and nobody knows what it means: lines with another than the usual one are not read
	GuessBlank  Guess = "blank"  // lines without the unit are taken for "moving"
	GuessComma  Guess = "comma"  // a comma before three digits is taken for the decimal mark
	GuessColumn Guess = "column" // another number of the line may be the weight
	GuessFew    Guess = "few"    // fewer than three lines were heard
)

// Unclear is why nothing is proposed.
type Unclear string

// The reasons.
const (
	UnclearNothing  Unclear = "nothing"  // no whole line came
	UnclearBinary   Unclear = "binary"   // it is no text
	UnclearNumber   Unclear = "number"   // no line has a number
	UnclearUneven   Unclear = "uneven"   // the lines differ in more than a number and a mark
	UnclearPrintout Unclear = "printout" // lines with titles: which number lies on the pan cannot be told
	UnclearNotMass  Unclear = "not-mass" // it counts pieces, or shows a percentage
	UnclearDigits   Unclear = "digits"   // the digits cannot be read as one number
)

// Propose makes formats for the lines in a sample, likeliest first, or says why it makes
// none. Where a line holds several numbers each makes one. whole says that the sample
// begins with a whole line. unit is what a person said of lines that show none; where
// lines show one it is of no account.
//
// It looks at text alone: what stands around the number must be the same in each line,
// but for one mark that changes, and each line that is counted reads as the number that
// stands there. A line that is not of that shape is refused by what is proposed, so that
// an overload, a tare or another unit is never taken for a weight. It does not ask
// whether a built-in format reads the lines; see Detect.
func Propose(sample []byte, whole bool, unit Unit) ([]Proposal, Unclear) {
	lines, end := wholeLines(sample, whole)
	if len(lines) == 0 {
		return nil, UnclearNothing
	}
	rows := make([]wireRow, 0, len(lines))
	for _, l := range lines {
		if slices.ContainsFunc(l, func(c byte) bool { return c > '~' || c < ' ' && c != '\t' && c != 0x01 && c != 0x02 && c != 0x03 }) {
			continue
		}
		rows = append(rows, wireRow{l, pieces(l)})
	}
	if len(rows)*10 < len(lines)*8 {
		return nil, UnclearBinary
	}
	rows = slices.DeleteFunc(rows, func(r wireRow) bool { return ornament(r.line) || len(bytes.TrimSpace(r.line)) == 0 })
	counted := commonest(rows)
	if counted == 0 {
		return nil, UnclearNumber
	}
	if titled(rows) {
		return nil, UnclearPrintout
	}
	kept := slices.DeleteFunc(slices.Clone(rows), func(r wireRow) bool { return r.numbers() != counted })
	if len(kept)*3 < len(rows)*2 {
		return nil, UnclearUneven
	}
	var all []ranked
	unclear := UnclearUneven
	for k := range counted {
		p, rank, why := propose(kept, k, end, unit)
		if why != "" {
			if why != UnclearUneven {
				unclear = why
			}
			continue
		}
		p.Other = len(rows) - p.Read
		all = append(all, ranked{p, rank})
	}
	if len(all) == 0 {
		return nil, unclear
	}
	slices.SortStableFunc(all, func(a, b ranked) int { return b.rank - a.rank })
	out := make([]Proposal, len(all))
	for i, r := range all {
		out[i] = r.Proposal
		if len(all) > 1 {
			out[i].Guesses = append(out[i].Guesses, GuessColumn)
		}
	}
	return out, ""
}

// ranked is a proposal and how likely its number is the weight.
type ranked struct {
	Proposal
	rank int
}

// wholeLines cuts a sample into its lines, without those that may be cut, and gives what
// ends them: "" for CR or LF.
func wholeLines(sample []byte, whole bool) (lines [][]byte, end string) {
	ends := isEnd
	if !slices.ContainsFunc(sample, isEnd) {
		end, ends = "\x03", func(c byte) bool { return c == 0x03 }
	}
	from := -1
	if whole {
		from = 0
	}
	for i, c := range sample {
		if !ends(c) {
			continue
		}
		if l := bytes.TrimLeft(sample[max(from, 0):i], "\x00"); from >= 0 && len(l) > 0 {
			lines = append(lines, l)
		}
		from = i + 1
	}
	return lines, end
}

// wireRow is a line and its pieces.
type wireRow struct {
	line []byte
	all  []piece
}

func (r wireRow) numbers() (n int) {
	for _, t := range r.all {
		if t.kind == aNumber {
			n++
		}
	}
	return n
}

// commonest gives how many numbers most lines have; 0 where most have none.
func commonest(rows []wireRow) int {
	count := map[int]int{}
	best := 0
	for _, r := range rows {
		n := r.numbers()
		if count[n]++; count[n] > count[best] || count[n] == count[best] && n > best {
			best = n
		}
	}
	return best
}

// titled tells whether some lines open with another title than others, as on a print-out.
func titled(rows []wireRow) bool {
	seen := map[string]bool{}
	some := false
	for _, r := range rows {
		some = some || hasTitle(r.line)
		first := ""
		if len(r.all) > 0 && r.all[0].kind == aWord {
			first = strings.ToLower(r.all[0].text)
		}
		seen[first] = true
	}
	return some && len(seen) > 1
}

// piece is a piece of a line.
type piece struct {
	kind  pieceKind
	text  string
	blank int // blanks before it
}

type pieceKind uint8

const (
	aWord   pieceKind = iota // letters
	aNumber                  // digits with one decimal mark at most
	aSign
	aMark // any other sign, alone
)

// pieces cuts a line into pieces. Blanks behind the last are a piece of their own, with
// no text.
func pieces(line []byte) []piece {
	var all []piece
	for i := 0; i < len(line); {
		from := i
		for i < len(line) && line[i] == ' ' {
			i++
		}
		t := piece{kind: aMark, blank: i - from}
		if i == len(line) {
			return append(all, t)
		}
		at := i
		switch c := line[i]; {
		case isDigit(c):
			t.kind = aNumber
			i = endOfNumber(line, i, at > 0 && isLetter(line[at-1]))
		case isLetter(c):
			t.kind = aWord
			for i < len(line) && isLetter(line[i]) {
				i++
			}
		case c == '+' || c == '-':
			t.kind = aSign
			i++
		default:
			i++
		}
		t.text = string(line[at:i])
		all = append(all, t)
	}
	return all
}

// endOfNumber gives where a number ends. Behind a letter a comma is none of it: A1,12 is
// a name and a number.
func endOfNumber(line []byte, i int, named bool) int {
	digits := func() {
		for i < len(line) && isDigit(line[i]) {
			i++
		}
	}
	digits()
	if i+1 < len(line) && (line[i] == '.' || line[i] == ',' && !named) && isDigit(line[i+1]) {
		i++
		digits()
	}
	return i
}

// isBlankTail tells whether a piece is only the blanks behind the last one.
func (t piece) isBlankTail() bool { return t.text == "" }

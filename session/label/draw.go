package label

import (
	"fmt"
	"html"
	"slices"
	"strconv"
	"strings"
	"unicode/utf8"

	"tared/session/text"
)

const (
	// quiet is the blank edge, in millimetres: printers do not reach the edge of the
	// paper, and the standard for QR codes (ISO/IEC 18004) wants four modules of it.
	quiet = 5.0
	// The letters are as large as the label has room for. 9 points are 3.175 mm.
	least = 3.2
	// A phone held at 25 cm reads a code of a tenth of that (common practice, no source).
	leastCode, largestCode = 22.0, 45.0
	leading                = 1.15
)

func (l Label) draw(width, height float64) (string, error) {
	if width < leastWidth || height < leastHeight {
		return "", l.small(width, height)
	}
	code, err := Modules(l.Link)
	if err != nil {
		return "", err
	}
	f := l.fitted(width, height)
	var b strings.Builder
	fmt.Fprintf(&b, `<rect width="%g" height="%g" fill="#fff"/>`, width, height)
	drawCode(&b, code, width-quiet-f.code, f.code)
	for _, s := range f.set {
		weight := ""
		if s.bold {
			weight = ` font-weight="bold"`
		}
		fmt.Fprintf(&b, `<text x="%g" y="%.2f" font-family="sans-serif" font-size="%.2f"%s>%s</text>`, quiet, s.y, s.size, weight, html.EscapeString(s.words))
	}
	return b.String(), nil
}

func (Label) small(width, height float64) error {
	return text.Refuse("label.small", text.Number("width", fmt.Sprint(width)), text.Number("height", fmt.Sprint(height)), text.Number("least_width", strconv.Itoa(leastWidth)), text.Number("least_height", strconv.Itoa(leastHeight)))
}

func drawCode(b *strings.Builder, code Code, x, side float64) {
	fmt.Fprintf(b, `<path fill="#000" transform="translate(%.2f %g) scale(%.5f)" d="`, x, quiet, side/float64(len(code)))
	code.path(b)
	b.WriteString(`"/>`)
}

// words is something to be said on a label. Of what there is no room for, the last of the
// least wanted is left off first.
type words struct {
	text  string
	bold  bool
	spare int // 0: most wanted
}

// mostAdditions is how many of them are wanted more than the hazards below them.
const mostAdditions = 3

// says is what stands below the mark.
func (l Label) says() (all []words) {
	if l.Title != "" {
		all = append(all, words{l.Title, true, 0})
	}
	all = append(all, words{strings.TrimSpace(l.Date + " " + l.Hash), false, 0})
	for i, s := range l.Lines {
		all = append(all, words{s, true, 1 + 2*min(1, i/mostAdditions)})
	}
	for _, s := range l.Hazards {
		all = append(all, words{s, false, 2})
	}
	if len(l.Tiles) > 0 {
		all = append(all, words{l.Reader.Say(text.New("label.tiles", text.Name("tiles", strings.Join(l.Tiles, " ")))), false, 4})
	}
	if l.Bench != "" {
		all = append(all, words{l.Reader.Say(text.New("label.bench", text.Name("bench", l.Bench))), false, 5})
	}
	return all
}

// fitted sets the label as large as all of it fits, and else, in the least size, as much of
// it as fits, and says so: a label that looks whole must be.
func (l Label) fitted(width, height float64) flow {
	all := l.says()
	largestHere := min(largestCode, height-2*quiet, width*0.4)
	for size := height / 7; size > least; size -= 0.2 {
		for code := largestHere; code >= leastCode; code -= 4 {
			if f := l.flow(width, height, size, code, all, false); f.whole {
				return f
			}
		}
	}
	f := l.flow(width, height, least, leastCode, all, true)
	for !f.whole && len(all) > 0 {
		last := 0
		for i, w := range all {
			if w.spare >= all[last].spare {
				last = i
			}
		}
		all = slices.Delete(all, last, last+1)
		f = l.flow(width, height, least, leastCode, append(slices.Clone(all), words{text: l.Reader.Say(text.New("label.more"))}), true)
	}
	return f
}

// flow is text that runs beside the code, and below it over the whole width.
type flow struct {
	width, height, code float64
	y                   float64 // where the next line begins
	whole               bool    // all of it is on the label
	set                 []line
}

// line is one line of it, at its base line.
type line struct {
	words   string
	y, size float64
	bold    bool
}

// between is what stands between two things of a kind on one line.
func between(before string) string {
	if strings.HasPrefix(before, "+ ") || strings.HasSuffix(before, ".") || strings.HasSuffix(before, ":") {
		return " "
	}
	return " · "
}

func shortened(s string, most int) string {
	if r := []rune(s); len(r) > most {
		return string(r[:most-1]) + "…"
	}
	return s
}

// flow sets the label; dense: with a smaller mark, one line of title, and what is of one kind
// on one line.
func (l Label) flow(width, height, size, code float64, all []words, dense bool) flow {
	f := flow{width: width, height: height, code: code, y: quiet, whole: true}
	mark := min(2*size, height/6)
	if dense {
		mark = 1.5 * size
	}
	// A letter of the mark may be two thirds of its height wide, being bold: it must
	// not reach into the blank edge of the code.
	mark = min(mark, f.room(quiet, size)/(0.7*float64(max(1, utf8.RuneCountInString(l.Mark)))))
	f.add(l.Mark, max(mark, size), true)
	for i := 0; i < len(all); i++ {
		w := all[i]
		for dense && i+1 < len(all) && w.spare > 0 && all[i+1].spare == w.spare {
			i++
			w.text += between(w.text) + all[i].text
		}
		if dense && i == 0 {
			w.text = shortened(w.text, f.per(size, w.bold))
		}
		f.wrap(w.text, size, w.bold)
	}
	f.whole = f.y <= height-quiet
	return f
}

// room is how long a line may be whose top stands at y.
func (f *flow) room(y, size float64) float64 {
	if y < 2*quiet+f.code && y+size > quiet {
		return f.width - f.code - 3*quiet
	}
	return f.width - 2*quiet
}

func (f *flow) add(s string, size float64, bold bool) {
	f.y += size * leading
	f.set = append(f.set, line{s, f.y - size*0.25, size, bold})
}

// A letter is taken for so much of its height, which is wide for most fonts.
const wide, wideBold = 0.57, 0.64

// per is how many letters the next line has room for.
func (f *flow) per(size float64, bold bool) int {
	letter := size * wide
	if bold {
		letter = size * wideBold
	}
	return max(4, int(f.room(f.y, size)/letter))
}

// wrap breaks a text into lines.
func (f *flow) wrap(s string, size float64, bold bool) {
	now := ""
	for _, w := range together(s) {
		if now != "" && utf8.RuneCountInString(now)+1+utf8.RuneCountInString(w) > f.per(size, bold) {
			f.add(now, size, bold)
			now = ""
		}
		for n := f.per(size, bold); utf8.RuneCountInString(w) > n; n = f.per(size, bold) { // now is empty
			r := []rune(w)
			f.add(string(r[:n]), size, bold)
			w = string(r[n:])
		}
		now = strings.TrimSpace(now + " " + w)
	}
	if now != "" {
		f.add(now, size, bold)
	}
}

// together are the words of a text; a plus stays with what follows, a unit with its number.
func together(s string) (out []string) {
	plus := false
	for _, w := range strings.FieldsFunc(s, func(r rune) bool { return r == ' ' || r == '\n' }) {
		if k := len(out) - 1; plus || k >= 0 && w == "%" {
			out[k] += " " + w
		} else {
			out = append(out, w)
		}
		plus = w == "+"
	}
	return out
}

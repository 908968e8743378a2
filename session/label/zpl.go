package label

import (
	"fmt"
	"math"
	"strconv"
	"strings"

	"tared/session/text"
)

// Dots of a label printer for each millimetre, by how it is called: "8 dots = 1 mm, 12 dots =
// 1 mm" (Zebra, ZPL II Programming Guide, P1099958, commands ^MU and ^FO).
var dots = map[int]int{203: 8, 300: 12}

// largestModule is the most dots of a module of a code (the same guide, command ^BQ).
const largestModule = 10

// ZPL writes the label, of so many millimetres, in the language of label printers, ZPL II, so
// many times. The letters are those of the printer: font 0, which can be set in any size and
// has what the languages here need (the same guide, command ^CI, 28: UTF-8).
func (l Label) ZPL(width, height, dpi, count int) (string, error) {
	per, known := dots[dpi]
	switch {
	case !known:
		return "", text.Refuse("label.dpi", text.Number("dpi", strconv.Itoa(dpi)))
	case width < leastWidth || height < leastHeight:
		return "", l.small(float64(width), float64(height))
	}
	code, err := Modules(l.Link) // the printer makes its own: this tells how large that will be
	if err != nil {
		return "", err
	}
	f := l.fitted(float64(width), float64(height))
	at := func(mm float64) int { return int(math.Round(mm * float64(per))) }
	var b strings.Builder
	fmt.Fprintf(&b, "^XA\n^CI28\n^PW%d\n^LL%d\n^LH0,0\n", at(float64(width)), at(float64(height)))
	module := max(1, min(largestModule, at(f.code)/len(code)))
	fmt.Fprintf(&b, "^FO%d,%d^BQN,2,%d^FH_^FDMA,%s^FS\n", at(float64(width)-quiet-f.code), at(quiet), module, escaped(l.Link))
	for _, s := range f.set {
		// A font of ZPL is placed by its top, a line of SVG by its base line.
		fmt.Fprintf(&b, "^FO%d,%d^A0N,%d,%d^FH_^FD%s^FS\n", at(quiet), at(s.y-s.size*0.75), at(s.size), at(s.size), escaped(s.words))
	}
	fmt.Fprintf(&b, "^PQ%d\n^XZ\n", count)
	return b.String(), nil
}

// escaped writes a text behind ^FH_, where an underscore stands before the two hexadecimal
// digits of a byte: so no text holds what begins a command.
func escaped(s string) string {
	var b strings.Builder
	for i := range len(s) {
		switch c := s[i]; {
		case c == '^' || c == '~' || c == '_' || c == '\\' || c < ' ' || c == 0x7f:
			fmt.Fprintf(&b, "_%02X", max(c, ' '))
		default:
			b.WriteByte(c)
		}
	}
	return b.String()
}

// Package label draws labels for buckets: the mark, what is in it as it was made,
// its hazards, the short closing hash, and a QR code that opens the record.
//
// SVG draws one label, Sheet a page of A4 with many; both are SVG, in millimetres.
// Marks gives marks for tiles, short enough for a ceramic pencil. The QR code is
// that of github.com/boombuler/barcode.
package label

import (
	"fmt"
	"html"
	"image/color"
	"slices"
	"strconv"
	"strings"
	"unicode/utf8"

	"github.com/boombuler/barcode/qr"

	"tared/session/signer"
	"tared/session/text"
)

// Label is what stands on one.
type Label struct {
	Mark    string
	Title   string
	Date    string
	Lines   []string // additions as made
	Hazards []string // materials with what their hazard statements say
	Hash    string   // short closing hash
	Bench   string   // short fingerprint of the bench that signed it; empty: none did
	Link    string   // what the QR code says
	Tiles   []string // marks for tiles

	Reader *text.Language // of its own words; nil: who reads English
}

// A4 in millimetres.
const pageWidth, pageHeight = 210, 297

// The least size of a label, in millimetres: below it there is no room for the
// hazards beside a code that a phone can read.
const leastWidth, leastHeight = 90, 40

// Marks gives so many marks for tiles of the batch that was planned as number
// batch of the record, from 1: the sign of the bench and a stroke, where the batch has
// one; two letters or more for the batch, a stroke, one or more for the tile.
func Marks(sign string, batch, count int) []string {
	if sign != "" {
		sign += "-"
	}
	out := make([]string, count)
	for i := range out {
		out[i] = sign + word(batch+len(signer.Letters)) + "-" + word(i+1)
	}
	return out
}

// word counts in the letters of a sign: A, C, … Y, AA, AC, …
func word(n int) string {
	s := ""
	for ; n > 0; n = (n - 1) / len(signer.Letters) {
		s = string(signer.Letters[(n-1)%len(signer.Letters)]) + s
	}
	return s
}

// SVG draws the label in a frame of so many millimetres.
func (l Label) SVG(width, height int) (string, error) {
	body, err := l.draw(width, height)
	if err != nil {
		return "", err
	}
	return fmt.Sprintf(`<svg xmlns="http://www.w3.org/2000/svg" width="%dmm" height="%dmm" viewBox="0 0 %d %d" role="img"><title>%s</title>%s</svg>`,
		width, height, width, height, html.EscapeString(l.Reader.Say(text.New("label.title", text.Name("batch", l.Mark)))), body), nil
}

// Sheet draws a page of A4 that is divided evenly into columns and rows, with
// count labels on it.
func (l Label) Sheet(columns, rows, count int) (string, error) {
	if columns < 1 || rows < 1 || pageWidth/columns < leastWidth || pageHeight/rows < leastHeight {
		return "", text.Refuse("label.sheet", text.Number("columns", strconv.Itoa(columns)), text.Number("rows", strconv.Itoa(rows)), text.Number("most_columns", strconv.Itoa(pageWidth/leastWidth)), text.Number("most_rows", strconv.Itoa(pageHeight/leastHeight)))
	}
	if count < 1 || count > columns*rows {
		return "", text.Refuse("label.count", text.Count("count", count), text.Number("most", strconv.Itoa(columns*rows)), text.Number("columns", strconv.Itoa(columns)), text.Number("rows", strconv.Itoa(rows)))
	}
	return l.page(count, pageWidth/columns, pageHeight/rows, func(i int) (x, y float64) {
		// The page is divided exactly, though a label is whole millimetres.
		return float64(i%columns) * pageWidth / float64(columns), float64(i/columns) * pageHeight / float64(rows)
	})
}

// page draws a page of A4 with labels of so many millimetres, each at its place.
func (l Label) page(count, width, height int, at func(i int) (x, y float64)) (string, error) {
	body, err := l.draw(width, height)
	if err != nil {
		return "", err
	}
	var b strings.Builder
	fmt.Fprintf(&b, `<svg xmlns="http://www.w3.org/2000/svg" width="%dmm" height="%dmm" viewBox="0 0 %d %d" role="img"><title>%s</title>`,
		pageWidth, pageHeight, pageWidth, pageHeight, html.EscapeString(l.Reader.Say(text.New("label.titles", text.Count("count", count), text.Name("batch", l.Mark)))))
	for i := range count {
		x, y := at(i)
		fmt.Fprintf(&b, `<g transform="translate(%.2f %.2f)">%s</g>`, x, y, body)
	}
	b.WriteString("</svg>")
	return b.String(), nil
}

// gutter is the room between two columns of labels that are named by their size
// (common for sheets of A4, from memory).
const gutter = 2.5

// SheetOf draws a page of A4 with count labels of so many millimetres, as bought on a
// sheet: as many as it holds, the columns a little apart, the rows without, and the
// whole in the middle of the page. Count 0 fills it.
func (l Label) SheetOf(width, height float64, count int) (string, error) {
	if !(width >= leastWidth && height >= leastHeight && width <= pageWidth && height <= pageHeight) { // no number is refused, too
		return "", text.Refuse("label.size", text.Number("width", fmt.Sprint(width)), text.Number("height", fmt.Sprint(height)), text.Number("least_width", strconv.Itoa(leastWidth)), text.Number("least_height", strconv.Itoa(leastHeight)))
	}
	columns, rows := int((pageWidth+gutter)/(width+gutter)), int(pageHeight/height)
	if count == 0 {
		count = columns * rows
	}
	if count < 1 || count > columns*rows {
		return "", text.Refuse("label.count-of", text.Count("count", count), text.Number("most", strconv.Itoa(columns*rows)), text.Number("width", fmt.Sprint(width)), text.Number("height", fmt.Sprint(height)))
	}
	left := (pageWidth - float64(columns)*width - float64(columns-1)*gutter) / 2
	top := (pageHeight - float64(rows)*height) / 2
	return l.page(count, int(width), int(height), func(i int) (x, y float64) {
		return left + float64(i%columns)*(width+gutter), top + float64(i/columns)*height
	})
}

// quiet is the blank edge, in millimetres: printers do not reach the edge of the
// paper, and the standard for QR codes (ISO/IEC 18004) wants four modules of it.
const quiet = 5

func (l Label) draw(width, height int) (string, error) {
	if width < leastWidth || height < leastHeight {
		return "", text.Refuse("label.small", text.Number("width", strconv.Itoa(width)), text.Number("height", strconv.Itoa(height)), text.Number("least_width", strconv.Itoa(leastWidth)), text.Number("least_height", strconv.Itoa(leastHeight)))
	}
	code, err := qr.Encode(l.Link, qr.M, qr.Unicode)
	if err != nil {
		return "", text.Kind(err, text.Refuse("label.qr", text.Name("link", l.Link), text.Because("why", err)))
	}
	modules := code.Bounds().Dx()
	side := min(height-2*quiet, width*2/5, 45)
	var b strings.Builder
	fmt.Fprintf(&b, `<rect width="%d" height="%d" fill="#fff"/><path fill="#000" transform="translate(%d %d) scale(%.5f)" d="`,
		width, height, width-quiet-side, quiet, float64(side)/float64(modules))
	for y := range modules {
		for x := range modules {
			if code.At(x, y) == color.Black {
				fmt.Fprintf(&b, "M%d %dh1v1h-1z", x, y)
			}
		}
	}
	b.WriteString(`"/>`)
	room := float64(width - side - 3*quiet)
	y := float64(quiet)
	end := float64(height - quiet)
	line := func(s string, size float64, bold bool) {
		y += size * 1.2
		weight := ""
		if bold {
			weight = ` font-weight="bold"`
		}
		fmt.Fprintf(&b, `<text x="%d" y="%.2f" font-family="sans-serif" font-size="%.2f"%s>%s</text>`, quiet, y-size*0.25, size, weight, html.EscapeString(s))
	}
	// A letter of the mark may be two thirds of its height wide, being bold: it must
	// not reach into the blank edge of the code.
	line(l.Mark, min(7, room/(0.7*float64(max(1, utf8.RuneCountInString(l.Mark))))), true)
	for _, s := range wrap(l.Title, room, 3.2, 2) {
		line(s, 3.2, true)
	}
	// As large as the room lets it be.
	var size float64
	var rest []string
	for _, size = range []float64{3.6, 3.2, 2.8, 2.4} {
		rest = l.words(room, size)
		if float64(len(rest))*size*1.2 <= end-y {
			break
		}
	}
	if fits := int((end - y) / (size * 1.2)); len(rest) > fits {
		// What is left off is said: a label that looks whole must be.
		rest = append(rest[:max(0, fits-1)], l.Reader.Say(text.New("label.more")))
	}
	for _, s := range rest {
		line(s, size, false)
	}
	return b.String(), nil
}

// words are the lines below the title, what matters most first.
func (l Label) words(room, size float64) []string {
	all := []string{l.Date, l.Hash}
	if both := l.Date + " " + l.Hash; len(wrap(both, room, size, 2)) == 1 {
		all = []string{both}
	}
	if l.Bench != "" {
		all = append(all, wrap(l.Reader.Say(text.New("label.bench", text.Name("bench", l.Bench))), room, size, 2)...)
	}
	for _, h := range l.Hazards {
		all = append(all, wrap(h, room, size, 5)...)
	}
	for _, s := range l.Lines {
		all = append(all, wrap(s, room, size, 2)...)
	}
	if len(l.Tiles) > 0 {
		all = append(all, wrap("Tiles: "+strings.Join(l.Tiles, " "), room, size, 3)...)
	}
	return all
}

// wrap breaks a text into lines of so many millimetres. A letter is taken for 0.56
// of its height, which is wide for most fonts. What is too much for most lines ends
// in an ellipsis.
func wrap(s string, room, size float64, most int) []string {
	per := max(4, int(room/(size*0.56)))
	var out []string
	now := ""
	for _, w := range strings.Fields(s) {
		for utf8.RuneCountInString(w) > per {
			r := []rune(w)
			if now != "" {
				out, now = append(out, now), ""
			}
			out, w = append(out, string(r[:per])), string(r[per:])
		}
		switch {
		case now == "":
			now = w
		case utf8.RuneCountInString(now)+1+utf8.RuneCountInString(w) <= per:
			now += " " + w
		default:
			out, now = append(out, now), w
		}
	}
	if now != "" {
		out = append(out, now)
	}
	if len(out) > most {
		out = slices.Clone(out[:most])
		r := []rune(out[most-1])
		out[most-1] = string(r[:min(len(r), per-1)]) + "…"
	}
	return out
}

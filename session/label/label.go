// Package label draws labels for buckets: the mark, what is in it as it was made,
// its hazards, the short closing hash, and a QR code that opens the record.
//
// SVG draws one label, Sheet and SheetOf a page of paper with many; all are SVG, in
// millimetres, with no letter smaller than 9 points. Marks gives marks for tiles, short
// enough for a ceramic pencil. The QR code is that of github.com/boombuler/barcode.
package label

import (
	"fmt"
	"html"
	"strconv"
	"strings"

	"tared/session/signer"
	"tared/session/text"
)

// Label is what stands on one.
type Label struct {
	Mark    string
	Title   string
	Date    string
	Lines   []string // additions as made
	Hazards []string // of the materials, below them; what matters most first
	Hash    string   // short closing hash
	Bench   string   // short fingerprint of the bench that signed it; empty: none did
	Link    string   // what the QR code says
	Tiles   []string // marks for tiles

	Reader *text.Language // of its own words; nil: who reads English
}

// Paper is a page on which labels are printed, in millimetres.
type Paper struct{ Width, Height float64 }

// The papers there are (ISO 216; ANSI/ASME Y14.1, 8.5 by 11 inches).
var (
	A4     = Paper{210, 297}
	Letter = Paper{215.9, 279.4}
)

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
func (l Label) SVG(width, height float64) (string, error) {
	body, err := l.draw(width, height)
	if err != nil {
		return "", err
	}
	return framed(Paper{width, height}, l.Reader.Say(text.New("label.title", text.Name("batch", l.Mark))), body), nil
}

func framed(p Paper, title, body string) string {
	return fmt.Sprintf(`<svg xmlns="http://www.w3.org/2000/svg" width="%gmm" height="%gmm" viewBox="0 0 %g %g" role="img"><title>%s</title>%s</svg>`,
		p.Width, p.Height, p.Width, p.Height, html.EscapeString(title), body)
}

// Sheet draws a page of paper that is divided evenly into columns and rows, with
// count labels on it; 0 fills it.
func (l Label) Sheet(p Paper, columns, rows, count int) (string, error) {
	mostColumns, mostRows := int(p.Width/leastWidth), int(p.Height/leastHeight)
	if columns < 1 || rows < 1 || columns > mostColumns || rows > mostRows {
		return "", text.Refuse("label.sheet", text.Number("columns", strconv.Itoa(columns)), text.Number("rows", strconv.Itoa(rows)), text.Number("most_columns", strconv.Itoa(mostColumns)), text.Number("most_rows", strconv.Itoa(mostRows)))
	}
	if count == 0 {
		count = columns * rows
	}
	if count < 1 || count > columns*rows {
		return "", text.Refuse("label.count", text.Count("count", count), text.Number("most", strconv.Itoa(columns*rows)), text.Number("columns", strconv.Itoa(columns)), text.Number("rows", strconv.Itoa(rows)))
	}
	width, height := p.Width/float64(columns), p.Height/float64(rows)
	return l.page(p, count, width, height, func(i int) (x, y float64) {
		return float64(i%columns) * width, float64(i/columns) * height
	})
}

// page draws a page of paper with labels of so many millimetres, each at its place.
func (l Label) page(p Paper, count int, width, height float64, at func(i int) (x, y float64)) (string, error) {
	body, err := l.draw(width, height)
	if err != nil {
		return "", err
	}
	var b strings.Builder
	for i := range count {
		x, y := at(i)
		fmt.Fprintf(&b, `<g transform="translate(%.2f %.2f)">%s</g>`, x, y, body)
	}
	return framed(p, l.Reader.Say(text.New("label.titles", text.Count("count", count), text.Name("batch", l.Mark))), b.String()), nil
}

// gutter is the room between two columns of labels that are named by their size
// (common for sheets of A4, from memory).
const gutter = 2.5

// SheetOf draws a page of paper with count labels of so many millimetres, as bought on a
// sheet: as many as it holds, the columns a little apart, the rows without, and the
// whole in the middle of the page. Count 0 fills it.
func (l Label) SheetOf(p Paper, width, height float64, count int) (string, error) {
	if !(width >= leastWidth && height >= leastHeight && width <= p.Width && height <= p.Height) { // no number is refused, too
		return "", text.Refuse("label.size", text.Number("width", fmt.Sprint(width)), text.Number("height", fmt.Sprint(height)), text.Number("least_width", strconv.Itoa(leastWidth)), text.Number("least_height", strconv.Itoa(leastHeight)))
	}
	columns, rows := int((p.Width+gutter)/(width+gutter)), int(p.Height/height)
	if count == 0 {
		count = columns * rows
	}
	if count < 1 || count > columns*rows {
		return "", text.Refuse("label.count-of", text.Count("count", count), text.Number("most", strconv.Itoa(columns*rows)), text.Number("width", fmt.Sprint(width)), text.Number("height", fmt.Sprint(height)))
	}
	left := (p.Width - float64(columns)*width - float64(columns-1)*gutter) / 2
	top := (p.Height - float64(rows)*height) / 2
	return l.page(p, count, width, height, func(i int) (x, y float64) {
		return left + float64(i%columns)*(width+gutter), top + float64(i/columns)*height
	})
}

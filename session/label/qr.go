package label

import (
	"fmt"
	"image/color"
	"strings"

	"github.com/boombuler/barcode/qr"

	"tared/session/text"
)

// Code is a QR code, row by row; true is dark. The blank edge is not in it: the standard
// (ISO/IEC 18004) wants four modules.
type Code [][]bool

// Modules gives the QR code that leads to a link.
func Modules(link string) (Code, error) {
	code, err := qr.Encode(link, qr.M, qr.Unicode)
	if err != nil {
		return nil, text.Kind(err, text.Refuse("label.qr", text.Name("link", link), text.Because("why", err)))
	}
	c := make(Code, code.Bounds().Dy())
	for y := range c {
		c[y] = make([]bool, code.Bounds().Dx())
		for x := range c[y] {
			c[y][x] = code.At(x, y) == color.Black
		}
	}
	return c, nil
}

// path draws the dark modules, each a square of one.
func (c Code) path(b *strings.Builder) {
	for y, row := range c {
		for x, dark := range row {
			if dark {
				fmt.Fprintf(b, "M%d %dh1v1h-1z", x, y)
			}
		}
	}
}

// QR draws a QR code as SVG, with its blank edge.
func QR(link string) (string, error) {
	c, err := Modules(link)
	if err != nil {
		return "", err
	}
	var b strings.Builder
	n := len(c) + 8
	fmt.Fprintf(&b, `<svg xmlns="http://www.w3.org/2000/svg" viewBox="-4 -4 %d %d" aria-hidden="true"><path fill="#fff" d="M-4 -4h%dv%dh-%dz"/><path fill="#000" shape-rendering="crispEdges" d="`, n, n, n, n, n)
	c.path(&b)
	b.WriteString(`"/></svg>`)
	return b.String(), nil
}

// Lines draws a QR code for a terminal, two rows a line, dark on light whatever the terminal
// has, with its blank edge.
func (c Code) Lines() (lines []string) {
	dark := func(x, y int) bool { return y >= 0 && y < len(c) && x >= 0 && x < len(c) && c[y][x] }
	for y := -4; y < len(c)+4; y += 2 {
		var b strings.Builder
		b.WriteString("\x1b[30;107m")
		for x := -4; x < len(c)+4; x++ {
			switch up, down := dark(x, y), dark(x, y+1); {
			case up && down:
				b.WriteString("█")
			case up:
				b.WriteString("▀")
			case down:
				b.WriteString("▄")
			default:
				b.WriteString(" ")
			}
		}
		b.WriteString("\x1b[0m")
		lines = append(lines, b.String())
	}
	return lines
}

package label

import (
	"image"
	"image/color"
	"image/draw"
	"strings"
	"testing"

	"github.com/makiuchi-d/gozxing"
	"github.com/makiuchi-d/gozxing/qrcode"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

const pairing = "http://192.168.178.140:7410/pair#2eysr5dnh5"

// seen reads a picture of modules, each a square of 6 pixels, as a camera does.
func seen(t *testing.T, rows [][]bool) string {
	t.Helper()
	const side = 6
	m := image.NewGray(image.Rect(0, 0, len(rows[0])*side, len(rows)*side))
	draw.Draw(m, m.Bounds(), image.White, image.Point{}, draw.Src)
	for y, row := range rows {
		for x, dark := range row {
			if dark {
				draw.Draw(m, image.Rect(x*side, y*side, (x+1)*side, (y+1)*side), image.NewUniform(color.Black), image.Point{}, draw.Src)
			}
		}
	}
	bmp, err := gozxing.NewBinaryBitmapFromImage(m)
	require.NoError(t, err)
	got, err := qrcode.NewQRCodeReader().Decode(bmp, nil)
	require.NoError(t, err)
	return got.GetText()
}

// What stands in the terminal is what a camera reads, with its blank edge.
func TestACodeInTheTerminal(t *testing.T) {
	c, err := Modules(pairing)
	require.NoError(t, err)
	var rows [][]bool
	for _, line := range c.Lines() {
		line, found := strings.CutPrefix(line, "\x1b[30;107m")
		require.True(t, found)
		line, found = strings.CutSuffix(line, "\x1b[0m")
		require.True(t, found)
		var up, down []bool
		for _, r := range line {
			up = append(up, r == '█' || r == '▀')
			down = append(down, r == '█' || r == '▄')
		}
		rows = append(rows, up, down)
	}
	assert.Equal(t, pairing, seen(t, rows))
	assert.LessOrEqual(t, len(c.Lines()), 24, "it fits a terminal of 80 by 24")
	assert.LessOrEqual(t, len(rows[0]), 80)
	_, err = Modules(strings.Repeat("x", 5000))
	assert.Error(t, err)
}

func TestACodeAsPicture(t *testing.T) {
	svg, err := QR(pairing)
	require.NoError(t, err)
	c, err := Modules(pairing)
	require.NoError(t, err)
	dark := 0
	for _, row := range c {
		for _, is := range row {
			if is {
				dark++
			}
		}
	}
	assert.Equal(t, dark, strings.Count(svg, "h1v1h-1z"))
	_, err = QR(strings.Repeat("x", 5000))
	assert.Error(t, err)
}

package label

import (
	"encoding/xml"
	"image"
	"image/color"
	"io"
	"regexp"
	"strconv"
	"strings"
	"testing"

	"github.com/makiuchi-d/gozxing"
	"github.com/makiuchi-d/gozxing/qrcode"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

var invented = Label{Mark: "261125a", Title: "Lye <white> & matt", Date: "2026-11-25", Hash: "9429 a9f9 5762 b369",
	Link:    "http://192.168.178.40:7410/book/261125a#9429a9f95762b369",
	Lines:   []string{"+ Tin oxide 4.023 %", "+ Copper carbonate 1.189 %"},
	Hazards: []string{"Quartz: H372"}, Tiles: Marks("", 1, 4)}

// scanned draws the code of a label again from its SVG and has it read by gozxing,
// which shares nothing with the library that drew it.
func scanned(t *testing.T, svg string) string {
	t.Helper()
	m := regexp.MustCompile(`scale\(([0-9.]+)\)" d="([^"]*)"`).FindStringSubmatch(svg)
	require.NotNil(t, m)
	const px, edge = 6, 4
	var dark []image.Point
	most := 0
	for _, q := range regexp.MustCompile(`M(\d+) (\d+)h1v1h-1z`).FindAllStringSubmatch(m[2], -1) {
		x, _ := strconv.Atoi(q[1])
		y, _ := strconv.Atoi(q[2])
		dark = append(dark, image.Pt(x, y))
		most = max(most, x+1, y+1)
	}
	img := image.NewGray(image.Rect(0, 0, (most+2*edge)*px, (most+2*edge)*px))
	for i := range img.Pix {
		img.Pix[i] = 255
	}
	for _, p := range dark {
		for dy := range px {
			for dx := range px {
				img.SetGray((p.X+edge)*px+dx, (p.Y+edge)*px+dy, color.Gray{})
			}
		}
	}
	bmp, err := gozxing.NewBinaryBitmapFromImage(img)
	require.NoError(t, err)
	got, err := qrcode.NewQRCodeReader().Decode(bmp, nil)
	require.NoError(t, err)
	return got.GetText()
}

func wellFormed(t *testing.T, svg string) {
	t.Helper()
	d := xml.NewDecoder(strings.NewReader(svg))
	for {
		if _, err := d.Token(); err == io.EOF {
			return
		} else {
			require.NoError(t, err)
		}
	}
}

func TestTheCodeIsReadAgain(t *testing.T) {
	for _, link := range []string{invented.Link, "http://glaze.local:7410/book/a", "http://[fe80::1]:7410/book/261125a#ä"} {
		l := invented
		l.Link = link
		svg, err := l.SVG(105, 74)
		require.NoError(t, err)
		wellFormed(t, svg)
		assert.Equal(t, link, scanned(t, svg))
	}
}

func TestWhatStandsOnIt(t *testing.T) {
	svg, err := invented.SVG(105, 74)
	require.NoError(t, err)
	for _, words := range []string{"261125a", "Lye &lt;white&gt; &amp; matt", "2026-11-25", "9429 a9f9 5762 b369", "Quartz: H372", "+ Tin oxide 4.023 %", "Tiles: AA-A"} {
		assert.True(t, strings.Contains(svg, words), words)
	}
	l := invented
	for range 30 {
		l.Lines = append(l.Lines, "+ Something else 1 %")
	}
	svg, err = l.SVG(105, 42)
	require.NoError(t, err)
	assert.Contains(t, svg, "More is in the record.")
	assert.Contains(t, svg, "Quartz: H372", "hazards go before the rest")
	for _, q := range regexp.MustCompile(`<text x="\d+" y="([0-9.]+)"`).FindAllStringSubmatch(svg, -1) {
		y, err := strconv.ParseFloat(q[1], 64)
		require.NoError(t, err)
		assert.Less(t, y, 42.0, "nothing is drawn below the label")
	}
	_, err = l.SVG(40, 20)
	assert.Error(t, err)
	l.Link = strings.Repeat("x", 5000)
	_, err = l.SVG(105, 74)
	assert.Error(t, err, "more than a code can hold")
}

func TestSheet(t *testing.T) {
	svg, err := invented.Sheet(2, 7, 14)
	require.NoError(t, err)
	wellFormed(t, svg)
	assert.Equal(t, 14, strings.Count(svg, "<g transform"))
	assert.Contains(t, svg, `width="210mm" height="297mm"`)
	for _, bad := range [][3]int{{0, 7, 1}, {3, 7, 1}, {2, 8, 1}, {2, 7, 0}, {2, 7, 15}} {
		_, err := invented.Sheet(bad[0], bad[1], bad[2])
		assert.Error(t, err, bad)
	}
}

// No mark is given twice, and none holds a letter that looks like another.
func TestMarks(t *testing.T) {
	seen := map[string]bool{}
	for batch := 1; batch <= 2000; batch++ {
		for _, m := range Marks("", batch, 20) {
			require.False(t, seen[m], m)
			seen[m] = true
			require.NotRegexp(t, `[^A-Z-]|[BGIJLOQSUVZ]`, m)
			require.LessOrEqual(t, len(m), 6, m)
		}
	}
	assert.Equal(t, []string{"AA-A", "AA-C"}, Marks("", 1, 2))
}

// Bought sheets leave a margin: the labels stand in the middle of the page, and a
// code on one of them can still be read.
func TestASheetOfBoughtLabels(t *testing.T) {
	svg, err := invented.SheetOf(99.1, 67.7, 0)
	require.NoError(t, err)
	wellFormed(t, svg)
	assert.Equal(t, 8, strings.Count(svg, "<g transform"))
	// (210 - 2·99.1 - 2.5)/2 and (297 - 4·67.7)/2.
	assert.Contains(t, svg, `translate(4.65 13.10)`)
	assert.Contains(t, svg, `translate(106.25 216.20)`)
	assert.Equal(t, invented.Link, scanned(t, svg[:strings.Index(svg, "</g>")]))
	for _, bad := range []struct {
		w, h  float64
		count int
	}{{0, 0, 1}, {70, 36, 1}, {400, 50, 1}, {99.1, 67.7, 9}, {99.1, 67.7, -1}} {
		_, err := invented.SheetOf(bad.w, bad.h, bad.count)
		assert.Error(t, err, bad)
	}
}

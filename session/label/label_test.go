package label

import (
	"encoding/xml"
	"html"
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

	"tared/session/text"
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

// texts are the lines of a label as they stand on it.
func texts(t *testing.T, svg string) (all []drawn) {
	t.Helper()
	for _, q := range regexp.MustCompile(`<text x="([0-9.]+)" y="([0-9.]+)" font-family="sans-serif" font-size="([0-9.]+)"[^>]*>([^<]*)</text>`).FindAllStringSubmatch(svg, -1) {
		y, err := strconv.ParseFloat(q[2], 64)
		require.NoError(t, err)
		size, err := strconv.ParseFloat(q[3], 64)
		require.NoError(t, err)
		all = append(all, drawn{html.UnescapeString(q[4]), y, size})
	}
	return all
}

type drawn struct {
	words   string
	y, size float64
}

func said(all []drawn) string {
	var out []string
	for _, d := range all {
		out = append(out, d.words)
	}
	return strings.Join(out, " ")
}

// Additions stand before hazards, which stand before the marks of tiles.
func TestWhatStandsOnIt(t *testing.T) {
	svg, err := invented.SVG(105, 74)
	require.NoError(t, err)
	all := said(texts(t, svg))
	at := -1
	for _, words := range []string{"261125a", "Lye <white> & matt", "2026-11-25", "9429 a9f9 5762 b369", "+ Tin oxide 4.023 %", "+ Copper carbonate 1.189 %", "Quartz: H372", "Tiles: AA-A"} {
		now := strings.Index(all, words)
		assert.Greater(t, now, at, words)
		at = now
	}
	assert.NotContains(t, all, "More is in the record.")
	l := invented
	for range 30 {
		l.Lines = append(l.Lines, "+ Something else 1 %")
	}
	l.Lines = append(l.Lines, "+ The last one 1 %")
	svg, err = l.SVG(105, 42)
	require.NoError(t, err)
	all = said(texts(t, svg))
	assert.Contains(t, all, "More is in the record.")
	assert.Contains(t, all, "Quartz: H372", "hazards go before the thirtieth addition")
	assert.NotContains(t, all, "The last one")
	_, err = l.SVG(40, 20)
	assert.Error(t, err)
	l.Link = strings.Repeat("x", 5000)
	_, err = l.SVG(105, 74)
	assert.Error(t, err, "more than a code can hold")
}

// Whatever there is to say, of each size of label: no letter is smaller than 9 points,
// nothing stands below the label, no third of it is blank, and what is not left off is whole.
func TestALabelIsFilled(t *testing.T) {
	long := "Causes damage to organs through prolonged or repeated exposure, which here is said at the length of an official sentence"
	contents := map[string]Label{"as made": invented}
	short := invented
	short.Lines, short.Hazards, short.Tiles, short.Title = nil, []string{"No dust, no sanding dry."}, nil, "Lye"
	contents["little"] = short
	much := invented
	for _, m := range []string{"Quartz", "Nepheline syenite", "Cobalt carbonate", "Nickel oxide", "Manganese dioxide"} {
		much.Hazards = append(much.Hazards, "H372 "+long+": "+m)
	}
	contents["much"] = much
	for name, l := range contents {
		for _, reader := range text.All {
			l.Reader = reader
			for _, size := range []Paper{{105, 74}, {105, 74.25}, {105, 42.4}, {99.1, 67.7}, {99.1, 42.3}, {107.95, 69.85}, {107.95, 46.5}, {101.6, 50.8}, {101.6, 84.6}, {90, 40}, {210, 148.5}} {
				svg, err := l.SVG(size.Width, size.Height)
				require.NoError(t, err)
				all := texts(t, svg)
				end := 0.0
				for _, d := range all {
					assert.GreaterOrEqual(t, d.size, 9*25.4/72, "%s %v: %s", name, size, d.words)
					assert.Less(t, d.y, size.Height-quiet+1, "%s %v: %s", name, size, d.words)
					end = max(end, d.y)
				}
				assert.Greater(t, end, size.Height*2/3, "%s %v: a third is blank", name, size)
				assert.Equal(t, l.Link, scanned(t, svg))
				if more := l.Reader.Say(text.New("label.more")); !strings.Contains(said(all), more) {
					for _, w := range l.says() {
						if w.text == l.Title && strings.Contains(said(all), "…") {
							continue // where there is little room it is shortened, and says so
						}
						assert.Contains(t, strings.ReplaceAll(said(all), " ", ""), strings.ReplaceAll(w.text, " ", ""), "%s %v", name, size)
					}
				}
			}
		}
	}
}

func TestSheet(t *testing.T) {
	svg, err := invented.Sheet(A4, 2, 7, 14)
	require.NoError(t, err)
	wellFormed(t, svg)
	assert.Equal(t, 14, strings.Count(svg, "<g transform"))
	assert.Contains(t, svg, `width="210mm" height="297mm"`)
	svg, err = invented.Sheet(Letter, 2, 6, 0)
	require.NoError(t, err)
	assert.Equal(t, 12, strings.Count(svg, "<g transform"))
	assert.Contains(t, svg, `width="215.9mm" height="279.4mm"`)
	// Labels of 4 by 2 inches on letter paper: (215.9 - 2·101.6 - 2.5)/2 and (279.4 - 5·50.8)/2.
	svg, err = invented.SheetOf(Letter, 101.6, 50.8, 0)
	require.NoError(t, err)
	assert.Equal(t, 10, strings.Count(svg, "<g transform"))
	assert.Contains(t, svg, `translate(5.10 12.70)`)
	for _, bad := range [][3]int{{0, 7, 1}, {3, 7, 1}, {2, 8, 1}, {2, 7, -1}, {2, 7, 15}} {
		_, err := invented.Sheet(A4, bad[0], bad[1], bad[2])
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
	svg, err := invented.SheetOf(A4, 99.1, 67.7, 0)
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
		_, err := invented.SheetOf(A4, bad.w, bad.h, bad.count)
		assert.Error(t, err, bad)
	}
}

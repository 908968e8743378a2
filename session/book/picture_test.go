package book

import (
	"bytes"
	"encoding/xml"
	"errors"
	"io"
	"regexp"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"tared/session/fact"
)

// elements reads a drawing as XML and gives the names of its elements.
func elements(t *testing.T, svg string) string {
	t.Helper()
	d := xml.NewDecoder(strings.NewReader(svg))
	var names []string
	for {
		tok, err := d.Token()
		if errors.Is(err, io.EOF) {
			return strings.Join(names, " ")
		}
		require.NoError(t, err, svg)
		if e, ok := tok.(xml.StartElement); ok {
			names = append(names, e.Name.Local)
			for _, a := range e.Attr {
				assert.NotRegexp(t, "^on|style|href", a.Name.Local)
			}
		}
	}
}

func TestPictureOfDeviations(t *testing.T) {
	b := kept(t)
	m := b.Find("T2").Made()
	for _, slim := range []bool{false, true} {
		svg := m.Picture(slim)
		assert.Equal(t, 6, strings.Count(elements(t, svg), "text")-3-6, "a name and an amount for each material that went in: tin oxide was left out")
		assert.Contains(t, svg, "Whiting +1.2 g, +1.00 of the half band")
		assert.Equal(t, 6, strings.Count(svg, `class="pin"`))
	}
	// The band takes a third of the room between the names and the amounts.
	assert.Contains(t, m.Picture(false), `<rect class="band" x="423" y="20" width="183"`)
	assert.Contains(t, m.Picture(false), `<circle class="pin" fill="#111" cx="606" cy="121" r="8"/>`, "whiting stands on its high mark")
	assert.Empty(t, Made{}.Picture(false))
}

func TestPictureOfAPour(t *testing.T) {
	a := func(s string) Amount { return Amount{g(s), 1} }
	p := Pour{Material: "Quartz", Target: a("84.6"), Low: a("83.8"), High: a("85.4"), Delivered: a("84.3"), Trace: "0.0:0.0 0.4:12.0 3.0:80.1 9.9:84.5"}
	svg := p.Picture()
	assert.Equal(t, "svg title path path path text text text path", elements(t, svg))
	assert.Contains(t, svg, "9.9 seconds, to 84.5 g")
	assert.Contains(t, svg, `M58.0 140.0L`)
	for _, none := range []string{"", "0.0:1", "0.0:1 0.0:2", "1.0:1 0.5:2", "0.0:1 x:2", "0.0:1 1.0:two", "0:1 1:2", "0.0:1 9999999999.0:2", `0.0:1 1.0:<b>`, "-1.0:1 2.0:3", strings.Repeat("0.0:1 ", 1001) + "9.0:2"} {
		p.Trace = none
		assert.Empty(t, p.Picture(), "%q", none)
	}
	p.Trace = "0.0:-9000000000 1.0:9000000000"
	elements(t, p.Picture()) // as large as a mass can be: nothing overflows into something that is no drawing
	assert.NotContains(t, p.Picture(), "--")
}

// A name with markup in it is a name, on every page and in every export.
func TestNamesWithMarkupAreHarmless(t *testing.T) {
	const evil = `<script>alert(1)</script>"'><img src=x onerror=alert(2)>&`
	var b bench
	for _, mark := range []string{"A", "B"} {
		l := fact.Line{Role: "base", Share: "100", Target: g("40"), Low: g("39.6"), High: g("40.4"), Material: evil, Scale: evil, Weighable: "good"}
		b.put(mark, fact.Planned{Title: evil, Recipe: evil, Base: g("40"), Dry: g("40"), Lines: []fact.Line{l}, Scales: []fact.Scale{{Name: evil, Step: g("0.1")}}})
		b.put(mark, fact.Portion{Material: evil, As: evil, Scale: evil, Delivered: g("40"), U: g("0.1"), Step: g("0.1"), Words: evil, Raw: []string{evil}, Trace: "0.0:0.0 1.0:40.0" + evil, How: "typed"})
		b.put(mark, fact.Noted{Text: evil})
		b.put(mark, fact.Finished{Words: []string{evil}})
		b.put(mark, fact.Fired{Kiln: evil, Cone: evil, Words: evil, Tiles: []string{evil}})
		b.put(mark, fact.Judged{Tile: evil, Words: evil, Tags: []string{evil}, Verdict: evil})
		b.put(mark, fact.Amended{Of: 2, Material: evil, Was: g("40"), Is: g("40.1"), Reason: evil})
	}
	var out bytes.Buffer
	require.NoError(t, WritePage(&out, morning.Add(time.Hour), nil, nil, 2, Only(b.Find("A"), b.Find("B"))))
	assert.NotContains(t, out.String(), "<script")
	assert.NotContains(t, out.String(), "<img")
	assert.Greater(t, strings.Count(out.String(), "&lt;script&gt;"), 10, "it is there, as text")
	for _, svg := range regexp.MustCompile(`(?s)<svg.*?</svg>`).FindAllString(out.String(), -1) {
		elements(t, svg)
	}
	elements(t, b.Find("A").Made().Picture(true))
	out.Reset()
	require.NoError(t, WriteCSV(&out, false, nil, Only(b.Find("A"))))
	assert.Contains(t, out.String(), `"<script>alert(1)</script>""'><img src=x onerror=alert(2)>&"`, "quoted as RFC 4180 asks")
}

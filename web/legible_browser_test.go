package web

import (
	"cmp"
	"fmt"
	"math"
	"testing"

	"github.com/stretchr/testify/assert"

	"tared/session"
	"tared/session/text"
)

// viewedOn is what a page is looked at on, with the pitch of its CSS pixels in mm.
type viewedOn struct {
	name  string
	size  size
	pitch float64
	least float64 // mm, the height of a capital or digit that is read from afar
}

// The pitches, all computed from the diagonal, or the dots to the inch, that the makers
// publish (from memory):
//
//   - a tablet of 10.1 inches, 1280 x 800: 149.5 dots to the inch
//   - a tablet of 10.9 inches, 2360 x 1640 at 264 dots to the inch, two dots to the pixel
//   - a laptop of 13.3 inches, 16:10, shown as 1280 x 800: 113.5 pixels to the inch
//   - a monitor of 15.6 inches, 1920 x 1080: 141.2 dots to the inch
//   - a telephone of 6.1 inches, 1170 x 2532 at 460 dots to the inch, three dots to the pixel
var devices = []viewedOn{
	{"tablet", size{1180, 820}, 25.4 / 132, 14},
	{"tablet upright", size{820, 1180}, 25.4 / 132, 14},
	{"small tablet", size{1280, 752}, 25.4 / 149.5, 14}, // less the bar of its system
	{"small tablet upright", size{800, 1232}, 25.4 / 149.5, 14},
	{"laptop", size{1280, 800}, 25.4 / 113.5, 14},
	{"monitor", size{1920, 1080}, 25.4 / 141.2, 14},
	{"telephone", size{390, 844}, 25.4 * 3 / 460, 12},
	{"telephone on its side", size{844, 390}, 25.4 * 3 / 460, 12},
}

// heights are those of the capitals, or digits, of the deed, its figure and the material,
// in pixels; 0 is what does not stand there. A capital of the fonts that systems bring is
// 0.70 to 0.73 of their size (from memory), so no more than 0.7 of it is taken.
const heights = `(() => {
	const canvas = document.createElement("canvas").getContext("2d");
	return Object.fromEntries(["word", "digits", "material"].map((id) => {
		const el = document.getElementById(id), s = getComputedStyle(el);
		if (!el.checkVisibility() || el.getBoundingClientRect().height < 2 || getComputedStyle(el.parentElement).clipPath !== "none" || el.textContent.includes("–")) return [id, 0];
		const em = parseFloat(s.fontSize);
		canvas.font = s.fontWeight + " " + s.fontSize + " " + s.fontFamily;
		return [id, Math.min(canvas.measureText(id === "digits" ? "0" : "H").actualBoundingBoxAscent, 0.7 * em)];
	}));
})()`

// wants is how high that is wanted, in mm. At the end the title of the batch stands in the
// place of the material. A telephone is too narrow for a word of eight letters and more, in
// the widest of all fonts at least, in which this is measured (DejaVu Sans Bold); and too
// small for a name of more than 24 letters.
func (d viewedOn) wants(s scene, id, words string) float64 {
	tele := d.least < 14
	switch {
	case id == "material" && (s.view.Now.State == "finished" || tele && len(words) > 24):
		return d.least / 2
	case id == "word" && tele && len([]rune(words)) >= 8:
		return d.least * 3 / 4
	}
	return d.least
}

// minutes of arc under which so many mm appear from so far away.
func minutes(mm, metres float64) float64 { return math.Atan(mm/1000/metres) * 180 / math.Pi * 60 }

// What tells what to do can be read at three metres on a tablet or a laptop: 14 mm are 16
// minutes of arc there, which ISO 9241-303 has as the least height of a Latin character
// (from memory). It is so in each language, and with the hands of a demonstration below.
func TestWhatToDoIsReadAtThreeMetres(t *testing.T) {
	ctx := tab(t)
	address, b := served(t, nil)
	demo, c := served(t, func(c *Config) { c.Hands = &fakeHands{} })
	defer visit(t, ctx, address+"/?lang=en") // the tests behind it share the browser, and its choice
	for _, d := range devices {
		resize(t, ctx, d.size)
		high := func(s scene, l *text.Language, what string) {
			t.Helper()
			for id, px := range eval[map[string]float64](t, ctx, heights) {
				words := map[string]string{"word": l.Say(s.view.Shown().Now.Show.Word), "material": cmp.Or(s.view.Now.As, s.view.Now.Material)}[id]
				if mm := px * d.pitch; px > 0 {
					assert.GreaterOrEqual(t, mm, d.wants(s, id, words), "%s, %s%s: %s is %.1f mm high, %.1f minutes of arc at 3 m", d.name, s.name, what, id, mm, minutes(mm, 3))
				}
			}
		}
		for _, l := range text.All {
			visit(t, ctx, address+"/?lang="+l.Tag)
			seen := map[string]bool{}
			for _, s := range scenes() {
				word := s.view.Shown().Now.Show.Word.Code
				if l.Tag != "en" && seen[word] {
					continue
				}
				seen[word] = true
				b.show(s.view)
				until(t, ctx, told(s.view, l))
				settle(t, ctx)
				if l.Tag == "en" {
					shot(t, ctx, fmt.Sprintf("%s-%s-light", s.name, d.size), false)
				}
				high(s, l, " in "+l.Tag)
			}
		}
		visit(t, ctx, demo+"/?lang=en")
		until(t, ctx, `!document.getElementById("hands").hidden`)
		for _, s := range scenes() {
			if s.view.Asked == nil && s.name != "pour" {
				continue
			}
			c.show(s.view)
			drawn(t, ctx, s.view)
			shot(t, ctx, fmt.Sprintf("%s-%s-hands", s.name, d.size), false)
			high(s, text.English, " in a demonstration")
			if d.size.h > 600 {
				assert.Empty(t, eval[[]string](t, ctx, `[...document.querySelectorAll("#word, #digits, #material, .answer")].filter((el) => el.checkVisibility() && el.getBoundingClientRect().bottom > document.getElementById("hands").getBoundingClientRect().top + 1).map((el) => el.id || el.textContent)`), "%s, %s: under the hands", d.name, s.name)
			}
		}
	}
}

// told tells whether the page shows a view in a language.
func told(v session.View, l *text.Language) string {
	return fmt.Sprintf(`document.documentElement.lang === %q && document.getElementById("bench").dataset.state === %q && document.getElementById("word").textContent.replaceAll("\u00ad", "") === %q && document.getElementById("live").dataset.on === "true"`,
		l.Tag, v.Now.State, l.Say(v.Shown().Now.Show.Word))
}

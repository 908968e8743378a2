package web

import (
	"bytes"
	"context"
	"fmt"
	"image"
	"image/color"
	"image/png"
	"math"
	"os"
	"path/filepath"
	"slices"
	"testing"

	"github.com/chromedp/cdproto/emulation"
	browserpage "github.com/chromedp/cdproto/page"
	"github.com/chromedp/chromedp"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"tared/session/text"
)

// These tests look at pictures of the bench as other eyes see it, and at its letters twice
// as large.

// sight makes the browser draw as eyes with that deficiency see it; "none" for all others.
func sight(t *testing.T, ctx context.Context, deficiency string) {
	t.Helper()
	_, err := chromedp.Call(ctx, emulation.SetEmulatedVisionDeficiency, emulation.SetEmulatedVisionDeficiencyParams{Type: emulation.SetEmulatedVisionDeficiencyType(deficiency)})
	require.NoError(t, err)
}

func pictured(t *testing.T, ctx context.Context, name string) image.Image {
	t.Helper()
	b, err := chromedp.Run(ctx, chromedp.CaptureScreenshot())
	require.NoError(t, err)
	if dir := os.Getenv("TARED_SHOTS"); dir != "" {
		require.NoError(t, os.WriteFile(filepath.Join(dir, name+".png"), b, 0o644))
	}
	p, err := png.Decode(bytes.NewReader(b))
	require.NoError(t, err)
	return p
}

// light is the relative luminance of a colour, by WCAG 2.2.
func light(c color.Color) float64 {
	r, g, b := linear(c)
	return 0.2126*r + 0.7152*g + 0.0722*b
}

func linear(c color.Color) (float64, float64, float64) {
	r, g, b, _ := c.RGBA()
	of := func(v uint32) float64 {
		f := float64(v) / 0xffff
		if f <= 0.04045 {
			return f / 12.92
		}
		return math.Pow((f+0.055)/1.055, 2.4)
	}
	return of(r), of(g), of(b)
}

// contrast of two colours, by WCAG 2.2.
func contrast(a, b color.Color) float64 {
	x, y := light(a), light(b)
	return (max(x, y) + 0.05) / (min(x, y) + 0.05)
}

// apart is how far two colours are apart to the eye: CIE 1976, in L*a*b*, white D65.
func apart(a, b color.Color) float64 {
	lab := func(c color.Color) [3]float64 {
		r, g, b := linear(c)
		f := func(v float64) float64 {
			if v > 216.0/24389 {
				return math.Cbrt(v)
			}
			return (24389.0/27*v + 16) / 116
		}
		x, y, z := f((0.4124*r+0.3576*g+0.1805*b)/0.9505), f(0.2126*r+0.7152*g+0.0722*b), f((0.0193*r+0.1192*g+0.9505*b)/1.089)
		return [3]float64{116*y - 16, 500 * (x - y), 200 * (y - z)}
	}
	p, q := lab(a), lab(b)
	return math.Sqrt((p[0]-q[0])*(p[0]-q[0]) + (p[1]-q[1])*(p[1]-q[1]) + (p[2]-q[2])*(p[2]-q[2]))
}

type point struct{ X, Y int }

// scheme is one in which the page is drawn.
type scheme struct {
	name     string
	features []*emulation.MediaFeature
	eyes     []string // that look at it: with all colours, or with a deficiency
}

var (
	anyEyes = []string{"none", "achromatopsia", "deuteranopia", "protanopia"}
	schemes = []scheme{
		{"light", nil, anyEyes},
		{"dark", []*emulation.MediaFeature{dark}, anyEyes},
		{"more contrast", []*emulation.MediaFeature{{Name: "prefers-contrast", Value: "more"}}, anyEyes[:1]},
		{"dark, more contrast", []*emulation.MediaFeature{dark, {Name: "prefers-contrast", Value: "more"}}, anyEyes[:1]},
		{"forced colours", []*emulation.MediaFeature{{Name: "forced-colors", Value: "active"}}, anyEyes[:1]},
	}
)

// deeds are the scenes without those that differ in names and amounts alone.
func deeds() []scene {
	return slices.DeleteFunc(scenes(), func(s scene) bool {
		return slices.Contains([]string{"water", "waiting", "which", "unsettled", "portions", "broken", "blind"}, s.name)
	})
}

// Band, fill and needle stand out against what is under them by 3 : 1 (WCAG 2.2, 1.4.11) in
// each state and scheme, to eyes that see no colours, no red or no green too. The places
// are read off the page, the colours off its picture.
func TestTheBarStandsOut(t *testing.T) {
	ctx := tab(t)
	address, b := served(t, nil)
	resize(t, ctx, size{1280, 800})
	still := &emulation.MediaFeature{Name: "prefers-reduced-motion", Value: "reduce"}
	for _, sch := range schemes {
		media(t, ctx, append([]*emulation.MediaFeature{still}, sch.features...)...)
		visit(t, ctx, address)
		for _, s := range deeds() {
			b.show(s.view)
			drawn(t, ctx, s.view)
			if !eval[bool](t, ctx, `document.getElementById("bar").checkVisibility({ visibilityProperty: true })`) {
				continue
			}
			at := eval[map[string]*point](t, ctx, `(() => {
				const r = (q) => { const el = document.querySelector(q); return el.checkVisibility() ? el.getBoundingClientRect() : null; };
				const p = (x, y) => ({ X: Math.round(x), Y: Math.round(y) });
				const fine = r(".bar-fine"), whole = r(".bar-whole"), band = r(".bar-band"), needle = r(".bar-needle"), off = r(".bar-off"), fill = r(".bar-fill");
				return {
					field: p(3, fine.top), ground: p(fine.left + fine.width * 0.3, fine.top + 8), frame: p(fine.left + 1, fine.top + 40),
					band: p(band.left + 12, fine.top + 30), edge: p(band.left + 1, fine.top + 10), under: p(whole.left + whole.width - 8, whole.top + 3),
					needle: needle && p((needle.left + needle.right) / 2, fine.top + 30), off: off && p(off.left + 18, (off.top + off.bottom) / 2),
					fill: fill && fill.width > 12 ? p(fill.left + 6, (fill.top + fill.bottom) / 2) : null,
				};
			})()`)
			for _, eyes := range sch.eyes {
				sight(t, ctx, eyes)
				p := pictured(t, ctx, fmt.Sprintf("sight-%s-%s-%s", s.name, sch.name, eyes))
				c := map[string]color.Color{}
				for what, at := range at {
					if at != nil {
						c[what] = p.At(at.X, at.Y)
					}
				}
				stands := func(what string, against ...string) {
					t.Helper()
					if c[what] == nil {
						return
					}
					for _, a := range against {
						assert.GreaterOrEqual(t, contrast(c[what], c[a]), 3.0, "%s, %s, %s: %s on %s", s.name, sch.name, eyes, what, a)
					}
				}
				stands("needle", "ground", "band")
				stands("off", "ground")
				stands("fill", "under")
				assert.GreaterOrEqual(t, max(contrast(c["band"], c["ground"]), contrast(c["edge"], c["ground"])), 3.0, "%s, %s, %s: band", s.name, sch.name, eyes)
				assert.GreaterOrEqual(t, max(contrast(c["frame"], c["field"]), contrast(c["ground"], c["field"])), 3.0, "%s, %s, %s: the bar on its field", s.name, sch.name, eyes)
			}
			sight(t, ctx, "none")
		}
	}
	media(t, ctx)
}

// Each deed has a word and a shape of its own, whatever the eyes and the scheme; and a field
// that eyes which confuse hues tell from the fields of all others.
func TestDeedsAreToldApartByAllEyes(t *testing.T) {
	ctx := tab(t)
	address, b := served(t, nil)
	resize(t, ctx, size{1280, 800})
	for _, sch := range schemes {
		media(t, ctx, sch.features...)
		visit(t, ctx, address)
		for _, eyes := range sch.eyes {
			sight(t, ctx, eyes)
			fields, signs := map[string]color.Color{}, map[string]string{}
			for _, s := range deeds() {
				b.show(s.view)
				drawn(t, ctx, s.view)
				is := eval[struct {
					Tone, Word, Shape string
					Path              point
				}](t, ctx, `(() => { const svg = document.querySelector(".sign .shape"), r = svg.getBoundingClientRect(), path = svg.firstElementChild;
					const on = svg.createSVGPoint();
					let at = null; // a place within the shape
					const within = (x, y) => { on.x = x; on.y = y; return path.isPointInFill(on); };
					for (let x = 4; x < 60; x += 2) for (let y = 4; y < 60; y += 2)
						if (!at && within(x, y) && within(x - 3, y) && within(x + 3, y) && within(x, y - 3) && within(x, y + 3)) at = { X: Math.round(r.left + x / 64 * r.width), Y: Math.round(r.top + y / 64 * r.height) };
					return { Tone: document.documentElement.dataset.tone, Word: document.getElementById("word").textContent, Shape: path.getAttribute("d"), Path: at }; })()`)
				p := pictured(t, ctx, fmt.Sprintf("deed-%s-%s-%s", s.name, sch.name, eyes))
				field := p.At(3, 400)
				if is.Tone == "lost" {
					continue // it is striped: the test below
				}
				assert.GreaterOrEqual(t, contrast(p.At(is.Path.X, is.Path.Y), field), 4.5, "%s, %s, %s: the shape", s.name, sch.name, eyes)
				if other, seen := signs[is.Shape]; seen && other != is.Word {
					assert.Contains(t, []string{"Pour|Ease", "Ease|Pour", "Pour|Pour"}, other+"|"+is.Word, "one shape for two deeds")
				}
				signs[is.Shape] = is.Word
				for tone, other := range fields {
					if tone != is.Tone && sch.name[:4] != "forc" && eyes != "achromatopsia" {
						assert.GreaterOrEqual(t, apart(field, other), 12.0, "%s, %s: %s and %s", sch.name, eyes, tone, is.Tone)
					}
				}
				fields[is.Tone] = field
			}
		}
	}
	sight(t, ctx, "none")
	media(t, ctx)
}

// From the container to the lift nothing shifts but the figure and what moves on the bar, by
// the browser's own account.
func TestNothingShiftsWhileItIsWeighed(t *testing.T) {
	ctx := tab(t)
	address, b := served(t, nil)
	all := append(aPour(t), sceneOf(t, "lifted"), sceneOf(t, "container"))
	for _, d := range devices {
		resize(t, ctx, d.size)
		for _, name := range []string{"Whiting", "Nepheline syenite"} {
			first := sceneOf(t, "container")
			first.Now.Material = name
			b.show(first)
			visit(t, ctx, address)
			drawn(t, ctx, first)
			eval[bool](t, ctx, `window.shifts = [], new PerformanceObserver((list) => { for (const e of list.getEntries()) for (const s of e.sources) {
				const el = s.node?.nodeType === 3 ? s.node.parentElement : s.node;
				if (s.node?.nodeType === 3 && !s.node.textContent.trim()) continue; // a space between words
				const stayed = JSON.stringify(s.previousRect) === JSON.stringify(s.currentRect); // what is in it moved, and is told of by itself
				if (el && !stayed && !el.closest("#big, .bar-fine, .bar-whole, .bar-in, #label, .sill-said, #caption")) shifts.push((el.id || el.className) + " " + JSON.stringify(s.previousRect) + " " + JSON.stringify(s.currentRect));
			} }).observe({ type: "layout-shift" }), true`)
			for _, v := range all {
				v.Now.Material = name
				b.show(v)
				if v.Now.In != "" {
					until(t, ctx, showing(v))
				} else {
					drawn(t, ctx, v)
				}
			}
			settle(t, ctx)
			assert.Empty(t, eval[[]string](t, ctx, `shifts`), "%s, %s", d.name, name)
		}
	}
}

// Letters twice as large, as a person sets them in the browser (WCAG 2.2, 1.4.4): nothing lies over anything and nothing is cut, on
// each device and in each language.
func TestLettersTwiceAsLarge(t *testing.T) {
	ctx := tab(t)
	address, b := served(t, nil)
	letters := func(size int64) {
		t.Helper()
		_, err := chromedp.Call(ctx, browserpage.SetFontSizes, browserpage.SetFontSizesParams{FontSizes: &browserpage.FontSizes{Standard: size, Fixed: size * 13 / 16}})
		require.NoError(t, err)
	}
	defer letters(16)
	defer visit(t, ctx, address+"/?lang=en")
	for _, l := range text.All {
		visit(t, ctx, address+"/?lang="+l.Tag)
		for _, d := range devices {
			resize(t, ctx, d.size)
			letters(17) // what was set already is not set again for a new document; no picture may be taken, for that sets it back
			letters(32)
			until(t, ctx, `getComputedStyle(document.documentElement).fontSize === "32px"`)
			for _, s := range deeds() {
				b.show(s.view)
				until(t, ctx, told(s.view, l))
				settle(t, ctx)
				assert.Empty(t, eval[[]string](t, ctx, layout), "%s in %s on a %s", s.name, l.Tag, d.name)
			}
		}
	}
}

package book

import (
	"cmp"
	"fmt"
	"html"
	"strconv"
	"strings"

	"tared/protocol"
	"tared/session/text"
)

// Picture draws how far each material is off, in units of its band, which is
// from -1 to 1 for all of them. Slim is for a page that is narrow: the names then
// stand above.
func (m Made) Picture(slim bool) string {
	width, left, right, row, top, lift := 900, 240, 110, 38, 26, 0
	if slim {
		width, left, right, row, lift = 360, 12, 92, 54, 10
	}
	var shown []Line
	var described []string
	for _, l := range m.Lines {
		if l.Weighed() && (l.Verdict != "skipped" || l.Delivered.Mass > 0) {
			shown = append(shown, l)
			described = append(described, m.reader.Say(text.New("picture.off", text.Name("material", cmp.Or(l.As, l.Material)), text.Grams("off", l.Deviation.Signed()), text.Number("bands", l.BandsShown()))))
		}
	}
	if len(shown) == 0 {
		return ""
	}
	// What lies beyond three bands is drawn at the edge; its number stands beside it.
	x := func(thousandths int) int {
		return left + (max(-3000, min(3000, thousandths))+3000)*(width-left-right)/6000
	}
	height := top + len(shown)*row + 6
	var b strings.Builder
	add := func(format string, args ...any) { fmt.Fprintf(&b, format, args...) }
	add(`<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 %d %d" role="img" font-family="sans-serif" font-size="15"><title>%s</title><desc>%s</desc>`,
		width, height, m.reader.Say(text.New("picture.title")), html.EscapeString(strings.Join(described, "; ")))
	add(`<rect class="band" x="%d" y="%d" width="%d" height="%d" fill="#cde5d6"/>`, x(-1000), top-6, x(1000)-x(-1000), height-top)
	add(`<path class="edge" d="M%d %dV%dM%d %dV%d" stroke="#111" stroke-width="2"/>`, x(-1000), top-6, height-6, x(1000), top-6, height-6)
	add(`<path class="mid" d="M%d %dV%d" stroke="#555" stroke-width="2" stroke-dasharray="2 4"/>`, x(0), top-6, height-6)
	for _, w := range []struct {
		at   int
		word string
	}{{-1000, "low"}, {0, "target"}, {1000, "high"}} {
		add(`<text class="word" x="%d" y="13" text-anchor="middle" font-size="13" fill="#444">%s</text>`, x(w.at), m.reader.Term(w.word))
	}
	for i, l := range shown {
		y, at := top+i*row+row/2+lift, x(l.Bands)
		name := cmp.Or(l.As, l.Material)
		if r := []rune(name); len(r) > 28 {
			name = string(r[:27]) + "…"
		}
		nameY := y + 5
		if slim {
			nameY = y - 18
		}
		add(`<text class="name" x="0" y="%d" fill="#111">%s</text>`, nameY, html.EscapeString(name))
		add(`<path class="stem" d="M%d %dH%d" stroke="#111" stroke-width="3"/>`, x(0), y, at)
		// The verdict has its shape: a disc inside the band, arrowheads outside.
		switch l.Verdict {
		case "over":
			add(`<path class="pin" fill="#111" d="M%d %dl-16 -11v22z"/>`, at+12, y)
		case "under", "skipped":
			add(`<path class="pin" fill="#111" d="M%d %dl16 -11v22z"/>`, at-12, y)
		default:
			add(`<circle class="pin" fill="#111" cx="%d" cy="%d" r="8"/>`, at, y)
		}
		add(`<text class="name" x="%d" y="%d" text-anchor="end" fill="#111">%s g</text>`, width, y+5, html.EscapeString(l.Deviation.Signed()))
	}
	b.WriteString(`</svg>`)
	return b.String()
}

// tracePoint is a point of a trace: tenths of a second, and what was in the
// container.
type tracePoint struct {
	at int64
	m  protocol.Mass
}

// readTrace reads what fact.Portion keeps of a pour; nil: there is none, or it is
// none of ours.
func readTrace(trace string) []tracePoint {
	var out []tracePoint
	for _, f := range strings.Fields(trace) {
		at, grams, ok := strings.Cut(f, ":")
		whole, tenth, ok2 := strings.Cut(at, ".")
		s, err := strconv.ParseInt(whole, 10, 32)
		t, err2 := strconv.ParseInt(tenth, 10, 8)
		d, err3 := protocol.ParseDecimal(grams)
		if !ok || !ok2 || err != nil || err2 != nil || err3 != nil || s < 0 || t < 0 || t > 9 {
			return nil
		}
		m, err := d.Mass(protocol.UnitGram)
		p := tracePoint{10*s + t, m}
		if err != nil || len(out) > 0 && p.at < out[len(out)-1].at || len(out) == 1000 {
			return nil
		}
		out = append(out, p)
	}
	if len(out) < 2 || out[len(out)-1].at == out[0].at {
		return nil
	}
	return out
}

// Picture draws the pour as the scale showed it, with the band it was to end in;
// empty where no trace was kept.
func (p Pour) Picture() string {
	all := readTrace(p.Trace)
	if all == nil {
		return ""
	}
	const width, height, left, right, top, bottom = 420, 170, 58, 10, 12, 30
	least, most := min(0, all[0].m), max(p.High.Mass, all[0].m)
	for _, q := range all {
		least, most = min(least, q.m), max(most, q.m)
	}
	if most <= least {
		return ""
	}
	last := all[len(all)-1].at
	x := func(at int64) string { return tenths(left*10 + at*(width-left-right)*10/last) }
	// Millionths of the height are finer than any screen, and cannot overflow.
	y := func(m protocol.Mass) string {
		part := int64((most - m) / ((most-least)/1_000_000 + 1))
		all := int64((most - least) / ((most-least)/1_000_000 + 1))
		return tenths(top*10 + part*(height-top-bottom)*10/max(all, 1))
	}
	var b strings.Builder
	add := func(format string, args ...any) { fmt.Fprintf(&b, format, args...) }
	add(`<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 %d %d" role="img" font-family="sans-serif" font-size="13"><title>%s</title>`,
		width, height, html.EscapeString(p.reader.Say(text.New("picture.pour", text.Name("material", cmp.Or(p.As, p.Material)), text.Number("seconds", tenths(last)), text.Exact("mass", all[len(all)-1].m, p.Delivered.Places)))))
	add(`<path class="band" fill="#cde5d6" d="M%d %sH%dV%sH%dz"/>`, left, y(p.High.Mass), width-right, y(max(p.Low.Mass, least)), left)
	add(`<path class="mid" fill="none" stroke="#555" stroke-dasharray="2 4" d="M%d %sH%d"/>`, left, y(p.Target.Mass), width-right)
	add(`<path class="edge" fill="none" stroke="#111" d="M%d %dV%dH%d"/>`, left, top, height-bottom, width-right)
	add(`<text class="word" x="%d" y="%s" text-anchor="end" dominant-baseline="middle" fill="#444">%s g</text>`, left-6, y(p.Target.Mass), html.EscapeString(p.Target.String()))
	add(`<text class="word" x="%d" y="%s" text-anchor="end" dominant-baseline="middle" fill="#444">0 g</text>`, left-6, y(0))
	add(`<text class="word" x="%d" y="%d" text-anchor="end" fill="#444">%s s</text>`, width-right, height-8, tenths(last))
	b.WriteString(`<path class="line" fill="none" stroke="#111" stroke-width="2.5" stroke-linejoin="round" d="`)
	for i, q := range all {
		how := "L"
		if i == 0 {
			how = "M"
		}
		b.WriteString(how + x(q.at) + " " + y(q.m))
	}
	b.WriteString(`"/></svg>`)
	return b.String()
}

// tenths writes 123 as "12.3".
func tenths(n int64) string { return fmt.Sprintf("%d.%d", n/10, n%10) }

package sheet

import (
	"fmt"
	"html"
	"math"
	"slices"
	"strings"
)

// dot is one target on one scale.
type dot struct {
	number  int // of the line
	line    Line
	ratio   float64 // of the allowed deviation to U: from 1 on the weighing is certain enough
	coarse  float64 // of the step to U: below that the scale does not even show it
	mine    bool    // it is weighed there
	verdict Verdict
}

// Zoned are the words of the picture, in the reader's language.
type Zoned struct {
	Title, Blind, Good string
	Says               func(Verdict) string
}

// Zones makes them.
func Zones(title, blind, good string, says func(Verdict) string) Zoned {
	return Zoned{title, blind, good, says}
}

// Picture draws where each target stands on each scale: to the right the allowed
// deviation grows against what the scale can tell, logarithmically. The floats here
// place dots; verdicts come from the lines. Slim is for a page that is narrow.
func (s Sheet) Picture(slim bool, w Zoned) string {
	width, left, rows := 1000.0, 110.0, 2
	if slim {
		width, left, rows = 360, 66, 3
	}
	const right, gap, dotRow = 4.0, 16.0, 26.0
	strip := 22 + float64(rows)*dotRow
	lowest, highest := 0.1, 10.0
	var scales []Scale
	on := map[string][]dot{}
	for _, sc := range s.Scales {
		for i, l := range s.Lines {
			k := slices.IndexFunc(l.Fits, func(f Fit) bool { return f.Scale == sc.Name })
			if k < 0 || l.Fits[k].U <= 0 || sc.Step <= 0 {
				continue
			}
			u := float64(l.Fits[k].U)
			d := dot{i + 1, l, float64(l.Allowed) / u, float64(sc.Step) / u, l.Scale == sc.Name, l.Fits[k].Verdict}
			lowest, highest = min(lowest, d.ratio), max(highest, d.ratio)
			on[sc.Name] = append(on[sc.Name], d)
		}
		if len(on[sc.Name]) > 0 {
			scales = append(scales, sc)
		}
	}
	lo, hi := math.Log10(max(lowest, 1e-6)*0.7), math.Log10(highest*1.4)
	x := func(ratio float64) float64 {
		return left + (math.Log10(max(ratio, 1e-6))-lo)/(hi-lo)*(width-left-right)
	}
	var b strings.Builder
	add := func(format string, args ...any) { fmt.Fprintf(&b, format, args...) }
	var told []string
	for _, sc := range scales {
		for _, d := range on[sc.Name] {
			told = append(told, fmt.Sprintf("%s, %s: %s", d.line.Material, sc.Name, w.Says(d.verdict)))
		}
	}
	add(`<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 %.0f %.0f" role="img"><title>%s</title><desc>%s</desc>`, width, float64(len(scales))*(strip+gap), html.EscapeString(w.Title), html.EscapeString(strings.Join(told, "; ")))
	for k, sc := range scales {
		top := float64(k) * (strip + gap)
		dots := on[sc.Name]
		edge := min(dots[0].coarse, 1)
		zone := func(from, to float64, kind, word string) {
			add(`<rect class="zone-%s" x="%.2f" y="%.2f" width="%.2f" height="%.2f"/>`, kind, from, top, max(to-from, 0), strip)
			if word != "" {
				add(`<text class="zone-word" x="%.2f" y="%.2f">%s</text>`, from+6, top+15, html.EscapeString(word))
			}
		}
		zone(left, x(edge), "blind", w.Blind)
		zone(x(edge), x(1), "coarse", "")
		zone(x(1), width-right, "good", w.Good)
		for _, r := range []float64{edge, 1} {
			add(`<line class="edge" x1="%.2f" x2="%.2f" y1="%.2f" y2="%.2f"/>`, x(r), x(r), top, top+strip)
		}
		add(`<text class="name" x="0" y="%.2f">%s</text><text class="zone-word" x="0" y="%.2f">%s g</text>`, top+strip/2, html.EscapeString(sc.Name), top+strip/2+18, sc.Step.Grams(0))
		slices.SortStableFunc(dots, func(a, b dot) int { return sign(a.ratio - b.ratio) })
		var ends []float64 // of the last dot in each row
		for _, d := range dots {
			row := slices.IndexFunc(ends, func(end float64) bool { return end < x(d.ratio)-24 })
			switch {
			case row >= 0:
			case len(ends) < rows:
				row, ends = len(ends), append(ends, 0)
			default:
				row = slices.Index(ends, slices.Min(ends))
			}
			ends[row] = x(d.ratio)
			y, mine := top+32+float64(row)*dotRow, ""
			if d.mine {
				mine = " mine"
			}
			add(`<g><title>%s, %s: %s</title><circle class="dot%s" cx="%.2f" cy="%.2f" r="12"/><text class="dot-word%s" x="%.2f" y="%.2f">%d</text></g>`,
				html.EscapeString(d.line.Material), html.EscapeString(sc.Name), w.Says(d.verdict), mine, x(d.ratio), y, mine, x(d.ratio), y+4.5, d.number)
		}
	}
	b.WriteString(`</svg>`)
	return b.String()
}

func sign(f float64) int {
	switch {
	case f < 0:
		return -1
	case f > 0:
		return 1
	}
	return 0
}

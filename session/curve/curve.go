// Package curve reads how hot a kiln was from lines of minutes and degrees, tells where
// nothing was read, and draws it.
package curve

import (
	"fmt"
	"math/big"
	"slices"
	"strconv"
	"strings"

	"tared/protocol"
	"tared/session/text"
)

// Curve is how hot a kiln was, point by point.
type Curve []Point

// Point is one reading of a kiln: minutes from the start, and degrees Celsius.
// A Gap stands before it where it comes long after the one before.
type Point struct {
	Minute  *big.Rat
	Celsius *big.Rat
	Gap     bool
}

// What a curve may hold: a week, and hotter than any kiln.
const (
	maxMinute  = 7 * 24 * 60
	maxCelsius = 2000
	maxPoints  = 5000
	maxCurve   = 64 << 10
)

// Parse reads lines of minutes and degrees Celsius, with a comma or a
// semicolon between them; a first line of words is passed over. A value that is
// missing, is no number, or goes back in time is refused with its line. A long
// hole between two readings is kept and marked.
func Parse(source string) (Curve, error) {
	if len(source) > maxCurve {
		return nil, text.Refuse("curve.long", text.Number("most", strconv.Itoa(maxCurve)))
	}
	var c Curve
	for i, l := range strings.Split(strings.ReplaceAll(source, "\r\n", "\n"), "\n") {
		l = strings.TrimSpace(l)
		if l == "" {
			continue
		}
		sep := ","
		if strings.Contains(l, ";") {
			sep = ";"
		}
		cells := strings.Split(l, sep)
		if i == 0 && !strings.ContainsAny(l, "0123456789") {
			continue
		}
		bad := func(why text.Message) error {
			return text.Refuse("curve.line", text.Number("line", strconv.Itoa(i+1)), text.Name("text", strconv.Quote(l[:min(len(l), 40)])), text.Said("why", why))
		}
		if len(cells) != 2 {
			return nil, bad(text.New("curve.two"))
		}
		var p [2]*big.Rat
		for k, what := range []text.Message{text.New("curve.time"), text.New("curve.temperature")} {
			cell := strings.TrimSpace(cells[k])
			if cell == "" {
				return nil, bad(text.New("curve.missing", text.Said("what", what)))
			}
			d, err := protocol.ParseHumanDecimal(cell)
			if err != nil {
				return nil, bad(text.New("curve.unreadable", text.Said("what", what), text.Because("why", err)))
			}
			p[k], _ = new(big.Rat).SetString(d.String())
		}
		switch {
		case p[0].Sign() < 0 || p[0].Cmp(big.NewRat(maxMinute, 1)) > 0:
			return nil, bad(text.New("curve.minutes", text.Number("most", strconv.Itoa(maxMinute))))
		case p[1].Cmp(big.NewRat(-50, 1)) < 0 || p[1].Cmp(big.NewRat(maxCelsius, 1)) > 0:
			return nil, bad(text.New("curve.celsius", text.Number("most", strconv.Itoa(maxCelsius))))
		case len(c) > 0 && p[0].Cmp(c[len(c)-1].Minute) <= 0:
			return nil, bad(text.New("curve.back"))
		case len(c) == maxPoints:
			return nil, bad(text.New("curve.points", text.Number("most", strconv.Itoa(maxPoints))))
		}
		c = append(c, Point{Minute: p[0], Celsius: p[1]})
	}
	if len(c) < 2 {
		return nil, text.Refuse("curve.short")
	}
	c.gaps()
	return c, nil
}

// HasReadings reports whether a text is meant as lines of minutes and degrees, and
// not as words: one of its lines begins with a number, or with nothing, before a
// comma or a semicolon.
func HasReadings(source string) bool {
	for l := range strings.SplitSeq(source, "\n") {
		cell, _, ok := strings.Cut(strings.TrimSpace(l), ";")
		if !ok {
			cell, _, ok = strings.Cut(strings.TrimSpace(l), ",")
		}
		if !ok {
			continue
		}
		if cell = strings.TrimSpace(cell); cell == "" {
			return true
		}
		if _, err := protocol.ParseHumanDecimal(cell); err == nil {
			return true
		}
	}
	return false
}

// gaps marks what comes after more than five times the usual time, where the
// readings were taken at a pace. A few points set by hand have none.
func (c Curve) gaps() {
	var steps []*big.Rat
	for i := 1; i < len(c); i++ {
		steps = append(steps, new(big.Rat).Sub(c[i].Minute, c[i-1].Minute))
	}
	if len(steps) < 8 {
		return
	}
	sorted := slices.Clone(steps)
	slices.SortFunc(sorted, (*big.Rat).Cmp)
	most := new(big.Rat).Mul(sorted[len(sorted)/2], big.NewRat(5, 1))
	for i, s := range steps {
		c[i+1].Gap = s.Cmp(most) > 0
	}
}

// Gaps tells of each hole in the readings, in a language; nil: in English.
func (c Curve) Gaps(l *text.Language) (out []string) {
	for i, p := range c {
		if p.Gap {
			out = append(out, l.Say(text.New("curve.gap", text.Number("from", Number(c[i-1].Minute)), text.Number("to", Number(p.Minute)))))
		}
	}
	return out
}

// Hottest gives the highest reading.
func (c Curve) Hottest() *big.Rat {
	return slices.MaxFunc(c, func(a, b Point) int { return a.Celsius.Cmp(b.Celsius) }).Celsius
}

// Number writes at most two decimals.
func Number(r *big.Rat) string {
	s := r.FloatString(2)
	return strings.TrimSuffix(strings.TrimRight(s, "0"), ".")
}

// SVG draws the curve, with words of a language (nil: English); where nothing was read, no line is drawn.
func (c Curve) SVG(l *text.Language) string {
	const width, height, left, right, top, bottom = 720, 300, 62, 14, 14, 44
	last, hot := c[len(c)-1].Minute, new(big.Rat).Set(c.Hottest())
	cold := slices.MinFunc(c, func(a, b Point) int { return a.Celsius.Cmp(b.Celsius) }).Celsius
	if cold.Sign() > 0 {
		cold = new(big.Rat)
	}
	if span := new(big.Rat).Sub(hot, cold); span.Cmp(big.NewRat(10, 1)) < 0 {
		hot.Add(cold, big.NewRat(10, 1))
	}
	place := func(v, from, to *big.Rat, a, b int64) *big.Rat {
		r := new(big.Rat).Sub(v, from)
		r.Quo(r, new(big.Rat).Sub(to, from))
		r.Mul(r, big.NewRat(b-a, 1))
		return r.Add(r, big.NewRat(a, 1))
	}
	x := func(m *big.Rat) string { return place(m, new(big.Rat), last, left, width-right).FloatString(1) }
	y := func(t *big.Rat) string { return place(t, cold, hot, height-bottom, top).FloatString(1) }
	var b strings.Builder
	fmt.Fprintf(&b, `<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 %d %d" role="img" font-family="sans-serif" font-size="13">`, width, height)
	fmt.Fprintf(&b, `<title>%s</title>`, l.Say(text.New("curve.title", text.Number("hours", hours(last)), text.Number("celsius", Number(c.Hottest())))))
	fmt.Fprintf(&b, `<rect width="%d" height="%d" fill="#fff"/>`, width, height)
	for t := int64(0); t <= maxCelsius; t += 200 {
		r := big.NewRat(t, 1)
		if r.Cmp(cold) < 0 || r.Cmp(hot) > 0 {
			continue
		}
		fmt.Fprintf(&b, `<path d="M%d %sH%d" stroke="#bbb"/><text x="%d" y="%s" text-anchor="end" dominant-baseline="middle" fill="#222">%d °C</text>`, left, y(r), width-right, left-8, y(r), t)
	}
	every := int64(60)
	for big.NewRat(every*8, 1).Cmp(last) < 0 {
		every *= 2
	}
	for m := int64(0); big.NewRat(m, 1).Cmp(last) <= 0; m += every {
		fmt.Fprintf(&b, `<path d="M%s %dv6" stroke="#222"/><text x="%s" y="%d" text-anchor="middle" fill="#222">%d h</text>`, x(big.NewRat(m, 1)), height-bottom, x(big.NewRat(m, 1)), height-bottom+22, m/60)
	}
	fmt.Fprintf(&b, `<path d="M%d %dV%dH%d" fill="none" stroke="#222"/>`, left, top, height-bottom, width-right)
	b.WriteString(`<path fill="none" stroke="#111" stroke-width="2.5" stroke-linejoin="round" stroke-linecap="round" d="`)
	for i, p := range c {
		how := "L"
		if i == 0 || p.Gap {
			how = "M"
		}
		b.WriteString(how + x(p.Minute) + " " + y(p.Celsius))
		if how == "M" && (i+1 == len(c) || c[i+1].Gap) {
			b.WriteString("h0") // alone between two holes: a dot
		}
	}
	b.WriteString(`"/></svg>`)
	return b.String()
}

func hours(minutes *big.Rat) string { return Number(new(big.Rat).Quo(minutes, big.NewRat(60, 1))) }

package glaze

import (
	"cmp"
	"errors"
	"math"
	"slices"
	"strconv"

	"tared/session/text"
)

// Part is what went in of one material, dry.
type Part struct {
	Analysis Analysis
	Grams    float64
	// U is of the weighing alone, k = 2; Spans is what the span of each scale adds, which
	// errs alike in all that was weighed on it.
	U     float64
	Spans map[string]float64
}

// Doubted is a figure with U, k = 2, from two sources that are kept apart.
type Doubted struct {
	Value    float64 `json:"value"`
	Weighing float64 `json:"u_weighing"` // what the scale leaves open
	Analysis float64 `json:"u_analysis"` // what the analyses leave open
}

// U is of both together.
func (d Doubted) U() float64 { return math.Hypot(d.Weighing, d.Analysis) }

// decimals is how many decimals a doubt supports: those of its first figure that counts, of
// its second where the first is a one; never more than six.
func decimals(u float64) int {
	if u <= 0 {
		return 6
	}
	first := math.Floor(math.Log10(u))
	if u/math.Pow(10, first) < 2 {
		first--
	}
	return int(max(0, min(6, -first)))
}

// Digits writes the value and U with the digits that U supports.
func (d Doubted) Digits() (value, u string) {
	n := decimals(d.U())
	return strconv.FormatFloat(d.Value, 'f', n, 64), strconv.FormatFloat(d.U(), 'f', n, 64)
}

// String is both in one.
func (d Doubted) String() string {
	value, u := d.Digits()
	return value + " ± " + u
}

// Cell is one oxide of a glaze.
type Cell struct {
	Oxide
	Percent Doubted `json:"percent"`      // of the fired glaze by weight
	Moles   Doubted `json:"mole_percent"` // of the fired glaze
	Unity   Doubted `json:"unity"`        // moles to one mole of flux; zero where there is no flux
}

// Glaze is what a batch leaves in the fire.
type Glaze struct {
	Cells      []Cell      `json:"oxides"`            // oxides that are there, in the order of Oxides
	Loss       Doubted     `json:"loss"`              // what the fire takes away, percent of the dry weight
	KNaO       Doubted     `json:"knao"`              // potash and soda together, moles to one of flux
	SiAl       Doubted     `json:"silica_to_alumina"` // moles; zero where there is no alumina
	Fluxed     bool        `json:"fluxed"`            // there is a flux, and so a unity formula
	Expansions []Expansion `json:"expansion"`
}

// ErrEmpty is in the chain where nothing was weighed that leaves anything in the fire.
var ErrEmpty = errors.New("no glaze")

// Melt works out a glaze. Figures with their doubts follow the law of propagation, JCGM 100:2008,
// 5.1.2 and 5.2.2, with what each input changes found by a small step either way (5.1.3, note 2).
func Melt(parts []Part) (Glaze, error) {
	if err := checked(parts); err != nil {
		return Glaze{}, err
	}
	w := &work{parts: slices.Clone(parts)}
	v := w.values(w.figures, w.both())
	var g Glaze
	n := 0
	next := func() Doubted { n++; return v[n-1] }
	for _, o := range Oxides {
		c := Cell{o, next(), next(), next()}
		if c.Percent.Value > 0 {
			g.Cells, g.Fluxed = append(g.Cells, c), g.Fluxed || o.Column == Flux
		}
	}
	g.Loss, g.KNaO, g.SiAl = next(), next(), next()
	for _, s := range Sets {
		g.Expansions = append(g.Expansions, s.tell(g, next()))
	}
	return g, nil
}

func checked(parts []Part) error {
	left := 0.0
	for _, p := range parts {
		if p.Grams < 0 {
			return text.Kind(ErrEmpty, text.Refuse("glaze.negative", text.Name("material", p.Analysis.Material)))
		}
		left += p.Grams * p.Analysis.percent.sum("")
	}
	if left <= 0 {
		return text.Kind(ErrEmpty, text.Refuse("glaze.empty"))
	}
	return nil
}

// Cell finds an oxide of the glaze; the zero Cell where it has none.
func (g Glaze) Cell(oxide string) Cell {
	for _, c := range g.Cells {
		if c.Name == oxide {
			return c
		}
	}
	return Cell{}
}

// melt is what parts leave: masses and moles of each oxide.
type melt struct {
	raw, fired   float64
	grams, moles amounts
}

func melted(parts []Part) (m melt) {
	for _, p := range parts {
		m.raw += p.Grams
		for i, share := range p.Analysis.percent {
			m.grams[i] += p.Grams * share / 100
		}
	}
	for i, o := range Oxides {
		m.moles[i] = m.grams[i] / o.Molar
	}
	m.fired = m.grams.sum("")
	return m
}

// figures are all the figures of a glaze in one row: three for each oxide, then loss,
// KNaO, silica to alumina, and one for each set of factors.
func figures(m melt) (row []float64) {
	flux, all := m.moles.sum(Flux), m.moles.sum("")
	unity := func(moles float64) float64 { return over(moles, flux) }
	for i := range Oxides {
		row = append(row, 100*over(m.grams[i], m.fired), 100*over(m.moles[i], all), unity(m.moles[i]))
	}
	row = append(row, 100*(1-over(m.fired, m.raw)), unity(m.moles[places["K2O"]]+m.moles[places["Na2O"]]), over(m.moles[places["SiO2"]], m.moles[places["Al2O3"]]))
	for _, s := range Sets {
		row = append(row, s.alpha(m))
	}
	return row
}

func over(a, b float64) float64 {
	if b == 0 {
		return 0
	}
	return a / b
}

// work is a batch, or two of the same bags, whose inputs can be moved a little.
type work struct {
	parts []Part
	made  []Part // beside them, where two are compared; their analyses move together
}

func (w *work) figures() []float64 { return figures(melted(w.parts)) }

// shift gives the figures of the second less those of the first.
func (w *work) shift() []float64 {
	a, b := figures(melted(w.parts)), figures(melted(w.made))
	for i := range b {
		b[i] -= a[i]
	}
	return b
}

// move is one cause of doubt: it changes the inputs by t times U, and takes that back with -t.
type move func(t float64)

// moves gives the causes of doubt: those of the weighing, and those of the analyses.
type moves struct{ weighing, analysis []move }

func (w *work) both() (m moves) {
	m.weighing = append(weighed(w.parts), weighed(w.made)...)
	type bag struct{ name, source string }
	seen := map[bag]bool{}
	for _, p := range slices.Concat(w.parts, w.made) {
		b := bag{p.Analysis.Material, p.Analysis.Source}
		if seen[b] {
			continue
		}
		seen[b] = true
		for i, u := range p.Analysis.u {
			if u == 0 {
				continue
			}
			m.analysis = append(m.analysis, func(t float64) {
				for _, side := range [][]Part{w.parts, w.made} {
					for k := range side {
						if a := &side[k].Analysis; (bag{a.Material, a.Source}) == b {
							a.percent[i] += t * u
						}
					}
				}
			})
		}
	}
	return m
}

func weighed(parts []Part) (all []move) {
	spans := map[string]bool{}
	for k := range parts {
		if u := parts[k].U; u > 0 {
			all = append(all, func(t float64) { parts[k].Grams += t * u })
		}
		for scale := range parts[k].Spans {
			if spans[scale] {
				continue
			}
			spans[scale] = true
			all = append(all, func(t float64) {
				for k := range parts {
					parts[k].Grams += t * parts[k].Spans[scale]
				}
			})
		}
	}
	return all
}

// step is how much of U an input is moved: little, so that the figures change in proportion.
const step = 1e-3

func (w *work) values(f func() []float64, m moves) []Doubted {
	row := f()
	out := make([]Doubted, len(row))
	squares := func(causes []move) []float64 {
		sum := make([]float64, len(row))
		for _, c := range causes {
			c(step)
			up := f()
			c(-2 * step)
			down := f()
			c(step)
			for i := range sum {
				d := (up[i] - down[i]) / (2 * step)
				sum[i] += d * d
			}
		}
		return sum
	}
	weighing, analysis := squares(m.weighing), squares(m.analysis)
	for i := range out {
		out[i] = Doubted{row[i], math.Sqrt(weighing[i]), math.Sqrt(analysis[i])}
	}
	return out
}

// Shifted is by how much an oxide or another figure of one batch differs from another's.
type Shifted struct {
	Oxide   string  `json:"oxide"`
	Percent Doubted `json:"percent"` // of the fired glaze
	Unity   Doubted `json:"unity"`
	// Varies is U of the first batch's percent from the analyses: how much the material itself leaves open.
	Varies float64 `json:"varies"`
}

// Lost reports whether the difference is less than the materials vary anyway.
func (s Shifted) Lost() bool { return math.Abs(s.Percent.Value)+s.Percent.U() <= s.Varies }

// Sure reports whether there is a difference beyond its own doubt.
func (s Shifted) Sure() bool { return math.Abs(s.Percent.Value) > s.Percent.U() }

// Shift gives how the second batch differs from the first, the largest share of percent
// first. Both came out of the same bags: what the analyses leave open is the same in both, and
// only what it makes of the difference counts (JCGM 100:2008, 5.2).
func Shift(from, to []Part) ([]Shifted, error) {
	first, err := Melt(from)
	if err != nil {
		return nil, err
	}
	if err := checked(to); err != nil {
		return nil, err
	}
	w := &work{parts: slices.Clone(from), made: slices.Clone(to)}
	v := w.values(w.shift, w.both())
	var all []Shifted
	for i, o := range Oxides {
		c := v[3*i]
		if a := first.Cell(o.Name); a.Percent.Value > 0 || c.Value != 0 {
			all = append(all, Shifted{o.Name, c, v[3*i+2], a.Percent.Analysis})
		}
	}
	slices.SortStableFunc(all, func(a, b Shifted) int {
		return cmp.Compare(math.Abs(b.Percent.Value), math.Abs(a.Percent.Value))
	})
	return all, nil
}

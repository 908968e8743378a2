package glaze

import (
	_ "embed"
	"encoding/json"
	"math"

	"tared/session/text"
)

// Set is a set of factors that makes an estimate of the expansion of a glaze from its
// oxides. Each goes by weight or by moles, and holds for its range of temperature: figures of two sets must
// not be compared, and those of one set rank glazes on one body, fired alike (A. O. Knecht, J. Am. Ceram.
// Soc. 23 (1940), abstract). A regression over 900 selected glasses leaves 0.75e-6 either way
// (A. Fluegel, glassproperties.com/expansion).
type Set struct {
	Name   string `json:"set"`
	Source string `json:"source"`
	Range  string `json:"celsius"`
	alpha  func(melt) float64
	counts map[string]bool // oxides that it has a factor for
	limits func(Glaze) error
}

// Expansion is an estimate by one set, in 1e-6 per kelvin, linear.
type Expansion struct {
	Set
	Alpha Doubted `json:"alpha"`
	// LeftOut is the share of the glaze by weight that the set has no factor for, in percent.
	LeftOut float64 `json:"left_out_percent"`
	Outside error   `json:"-"` // why the set cannot be used; nil: it can
}

// What the set leaves out may not be more than this, in percent: ours.
const mostLeftOut = 5

func (s Set) tell(g Glaze, alpha Doubted) Expansion {
	e := Expansion{Set: s, Alpha: alpha}
	for _, c := range g.Cells {
		if !s.counts[c.Name] {
			e.LeftOut += c.Percent.Value
		}
	}
	if e.LeftOut > mostLeftOut {
		e.Outside = text.Refuse("glaze.left-out", text.Share("percent", figure(e.LeftOut)))
	} else if s.limits != nil {
		e.Outside = s.limits(g)
	}
	return e
}

//go:embed data/sets.json
var setsFile []byte

// Sets are the sets of factors, the one that fits most glazes first.
var Sets = func() (all []Set) {
	if err := json.Unmarshal(setsFile, &all); err != nil {
		panic(err) // the file is part of the program
	}
	appenSet(&all[0])
	englishTurnerSet(&all[1])
	return all
}()

// appenFactors are in 1e-7 per kelvin times the mole fraction, as smart2000.fr/dilatation.htm prints
// them. What depends on the rest of the glass is in appen.
var appenFactors = map[string]float64{
	"Li2O": 270, "Na2O": 395, "K2O": 465, "MgO": 60, "CaO": 130, "SrO": 160, "BaO": 200, "ZnO": 50, "MnO": 105, "Fe2O3": 55,
	"CoO": 50, "NiO": 50, "CuO": 30, "Al2O3": -30, "ZrO2": -60, "SnO2": -45, "P2O5": 140,
}

func appenSet(s *Set) { s.alpha, s.counts = appen, having(appenFactors, "SiO2", "B2O3", "TiO2", "PbO") }

// appen estimates from mole percent. The rules of silica, boron, titania and lead are from
// memory (Appen, Chemistry of Glass); their results lie in the ranges that smart2000.fr prints.
func appen(m melt) float64 {
	all := m.moles.sum("")
	p := func(oxide string) float64 { return 100 * over(m.moles[places[oxide]], all) }
	sum := 0.0
	for i, o := range Oxides {
		sum += appenFactors[o.Name] * over(m.moles[i], all)
	}
	silica := 38 - max(0, p("SiO2")-67)
	sum += silica * p("SiO2") / 100
	sum += (30 - 1.5*(min(80, max(50, p("SiO2")))-50)) * p("TiO2") / 100
	alkali := p("Na2O") + p("K2O") + p("Li2O")
	lead := 130.0
	if alkali >= 3 {
		lead = min(190, 115+5*alkali)
	}
	sum += lead * p("PbO") / 100
	if boron := p("B2O3"); boron > 0 {
		psi := (p("Na2O") + p("K2O") + p("BaO") + 0.7*(p("CaO")+p("SrO")+p("PbO")) + 0.3*(p("Li2O")+p("MgO")+p("ZnO")) - p("Al2O3")) / boron
		sum += math.Min(0, 12.5*(4-min(4, psi))-50) * boron / 100
	}
	return sum / 10
}

// englishTurner are factors in 1e-7 per kelvin and percent by weight: SiO2 as D. Rhodes (p. 242) and
// R. Fournier quote it and BaO as D. Hewitt does (both potters.org); the others from memory, after English and
// Turner, J. Am. Ceram. Soc. 10 (1927) 551 and 12 (1929) 760.
var englishTurner = map[string]float64{
	"SiO2": 0.05, "BaO": 1.40, "Na2O": 4.16, "K2O": 3.90, "MgO": 0.45, "CaO": 1.63, "ZnO": 0.70, "PbO": 1.06, "Al2O3": 0.14, "ZrO2": 0.23, "B2O3": -0.653,
}

func englishTurnerSet(s *Set) {
	s.counts = having(englishTurner)
	s.alpha = func(m melt) float64 {
		sum := 0.0
		for i, o := range Oxides {
			sum += englishTurner[o.Name] * 100 * over(m.grams[i], m.fired)
		}
		return sum / 10
	}
	s.limits = func(g Glaze) error {
		if g.Cell("B2O3").Percent.Value > 12 { // the factor is stated for no more than that
			return text.Refuse("glaze.boron", text.Share("percent", figure(g.Cell("B2O3").Percent.Value)))
		}
		return nil
	}
}

func having(factors map[string]float64, more ...string) map[string]bool {
	has := map[string]bool{}
	for oxide := range factors {
		has[oxide] = true
	}
	for _, oxide := range more {
		has[oxide] = true
	}
	return has
}

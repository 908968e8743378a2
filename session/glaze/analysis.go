package glaze

import (
	_ "embed"
	"encoding/json"
	"sync"

	"tared/session/material"
)

// Analysis is what a raw material brings, in percent of its dry weight before the fire.
type Analysis struct {
	Material string
	Source   string
	By       By
	percent  amounts
	u        amounts // U, k = 2, in the same percent
}

// By is where an analysis comes from.
type By string

// Where from. What is doubted of each major oxide (10 % or more) and minor one, as two
// relative standard uncertainties, is a judgement from rows of published analyses that lie beside one
// another, and no published rule: a chemical of a known formula 0.5 % and 0.5 %, a person's own
// analysis 2 % and 10 %, a natural material by another's analysis or by its ideal formula 4 %
// and 15 %.
const (
	Chemical  By = "chemical"
	Own       By = "own"
	Published By = "published"
	Ideal     By = "ideal" // a mineral taken as if it were pure
)

var spread = map[By][2]float64{Chemical: {0.005, 0.005}, Own: {0.02, 0.10}, Published: {0.04, 0.15}, Ideal: {0.04, 0.15}}

const major = 10 // percent

func (a *Analysis) doubt() {
	for i, p := range a.percent {
		s := spread[a.By][1]
		if p >= major {
			s = spread[a.By][0]
		}
		a.u[i] = max(a.u[i], 2*s*p)
	}
}

// Percent gives what of the raw material becomes an oxide, in percent; 0 for one that is not counted.
func (a Analysis) Percent(oxide string) float64 {
	if i := named(oxide); i >= 0 {
		return a.percent[i]
	}
	return 0
}

// Loss gives what of the raw material the fire takes away, in percent. It is what the oxides leave of 100.
func (a Analysis) Loss() float64 { return 100 - a.percent.sum("") }

// ByFormula works out the analysis of a compound from its formula as sold.
func ByFormula(name, formula string, by By) (Analysis, error) {
	f, err := material.ParseFormula(formula)
	if err != nil {
		return Analysis{}, err
	}
	a := Analysis{Material: name, Source: formula, By: by}
	molar, _ := f.Molar().Float64()
	for i, o := range Oxides {
		a.percent[i] = 100 * float64(f.Atoms(o.element)) / o.atoms * o.Molar / molar
	}
	a.doubt()
	return a, nil
}

//go:embed data/analyses.json
var publishedFile []byte

// published are analyses of natural materials, each with its source.
var published = sync.OnceValue(func() map[string]Analysis {
	var all []struct {
		Material string             `json:"material"`
		Source   string             `json:"source"`
		Percent  map[string]float64 `json:"percent"`
	}
	if err := json.Unmarshal(publishedFile, &all); err != nil {
		panic(err) // the file is part of the program, and a test reads it
	}
	by := map[string]Analysis{}
	for _, one := range all {
		a := Analysis{Material: one.Material, Source: one.Source, By: Published}
		for oxide, p := range one.Percent {
			a.percent[places[oxide]] = p
		}
		a.doubt()
		by[one.Material] = a
	}
	return by
})

// Of gives the analysis of a material of the table: a published one of a natural material,
// else what follows from its formula. False where neither is there: a ball clay, a frit, an ash, a
// stain differ from bag to bag, and only the supplier's analysis helps.
func Of(m material.Material) (Analysis, bool) {
	if a, ok := published()[m.Name]; ok {
		return a, true
	}
	if m.Formula == "" || len(m.Means) > 0 {
		return Analysis{}, false
	}
	by := Chemical
	if m.Various() {
		by = Ideal
	}
	a, err := ByFormula(m.Name, m.Formula, by)
	return a, err == nil && a.percent.sum("") > 0
}

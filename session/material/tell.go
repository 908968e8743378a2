package material

import (
	"math/big"
	"strings"

	"tared/session/text"
)

// Tell says all that the table knows of the material, each with its source.
func (m Material) Tell() (all []text.Message) {
	say := func(is bool, message text.Message) {
		if is {
			all = append(all, message)
		}
	}
	say(m.Blocked != "", text.New("material.tell-blocked", text.Term("why", m.Blocked)))
	say(len(m.Means) > 0, text.New("material.tell-means", text.Names("means", m.Means)))
	say(m.Strong, text.New("material.tell-strong"))
	if f, err := ParseFormula(m.Formula); err == nil {
		say(true, text.New("material.tell-formula", text.Name("formula", m.Formula), text.Number("mass", f.Molar().FloatString(3))))
	} else {
		say(len(m.Means) == 0, text.New("material.tell-no-formula"))
	}
	if l, ok := m.Loss(); ok {
		say(true, text.New("material.tell-loss", text.Share("loss", l.Mul(l, big.NewRat(100, 1)).FloatString(2)), text.Name("leaves", m.Leaves)))
	}
	say(m.Metal.Low != "", text.New("material.tell-metal", text.Share("low", m.Metal.Low), text.Share("high", m.Metal.High), text.Term("source", m.Metal.Source)))
	say(m.Sold.Words != "", text.New("material.tell-sold", text.Term("words", m.Sold.Words), text.Term("source", m.Sold.Source)))
	if m.Density.IsZero() {
		say(len(m.Means) == 0 && m.Blocked == "", text.New("material.tell-no-density"))
	} else {
		say(true, text.New("material.tell-density", text.Number("density", m.Density.digits()), text.Term("source", m.Density.Source)))
	}
	for _, s := range m.Hazards() {
		say(true, text.New("material.tell-hazard", text.Said("line", s)))
	}
	say(m.signal() != "", text.New("material.tell-signal", text.Term("word", m.signal())))
	all = append(all, m.statements()...)
	say(m.Soluble != "", text.New("material.tell-soluble", text.Term("how", m.Soluble)))
	say(m.Liquid, text.New("material.tell-liquid"))
	if !m.Solubility.IsZero() {
		say(true, text.New("material.tell-solubility", text.Grams("grams", m.Solubility.digits()), text.Term("source", m.Solubility.Source)))
	}
	say(m.Caustic, text.New("material.tell-caustic"))
	say(m.Band != "", text.New("material.tell-band", text.Name("band", m.Band)))
	say(m.Note != "", text.New("material.tell-note", text.Term("note", m.Note)))
	say(len(m.CAS) > 0, text.New("material.tell-cas", text.Names("numbers", m.CAS)))
	say(len(m.Synonyms) > 0, text.New("material.tell-names", text.Name("names", strings.Join(m.Synonyms, "; "))))
	return all
}

package material

import (
	"math/big"
	"regexp"
	"slices"
	"strings"
	"unicode"
)

// poisons are the elements that no sheet is made with in any compound, and the entry
// of the table that says so.
var poisons = map[string]string{
	"Pb": "Lead compounds", "Cd": "Cadmium pigment", "As": "Arsenic compounds", "Sb": "Antimony compounds", "Se": "Selenium compounds",
	"U": "Uranium compounds", "Th": "Uranium compounds", "Tl": "Thallium compounds", "Hg": "Mercury compounds", "Be": "Beryllium compounds",
}

// states are the oxidation numbers that the elements beside chromium and vanadium are
// taken to have: the usual ones, and the higher where there are two. Then chromite of
// iron is chromium(III), and a chromate of iron still is chromium(VI).
var states = map[string]int64{
	"H": 1, "Li": 1, "Na": 1, "K": 1, "Rb": 1, "Cs": 1, "Ag": 1, "Mg": 2, "Ca": 2, "Sr": 2, "Ba": 2, "Zn": 2, "Co": 2, "Ni": 2, "Cu": 2, "Mn": 2,
	"B": 3, "Al": 3, "Fe": 3, "Bi": 3, "Y": 3, "La": 3, "Nd": 3, "Er": 3, "C": 4, "Si": 4, "Ti": 4, "Zr": 4, "Hf": 4, "Sn": 4, "Ce": 4, "N": 5, "P": 5, "Nb": 5, "Ta": 5,
	"W": 6, "Mo": 6, "S": 6, "F": -1, "Cl": -1, "Br": -1, "I": -1, "O": -2,
}

// state gives the mean oxidation number of an element in the formula.
func (f Formula) state(element string) *big.Rat {
	charge := int64(0)
	for e, n := range f.atoms {
		s := states[e]
		switch {
		case e == element:
			continue
		case e == "N" && strings.Contains(f.text, "NH4"):
			s = -3
		case e == "S" && f.atoms["O"] < 4*n: // a sulfide
			s = -2
		}
		charge += s * n
	}
	return big.NewRat(-charge, f.atoms[element])
}

// Poison names the entry of the table that blocks the formula; "" where none does.
// Chromium over three and vanadium over four are taken for chromium(VI) and
// vanadium(V).
func (f Formula) Poison() string {
	for _, e := range f.order {
		if name, ok := poisons[e]; ok {
			return name
		}
	}
	if f.atoms["Cr"] > 0 && f.state("Cr").Cmp(big.NewRat(3, 1)) > 0 {
		return "Chromium(VI) compounds"
	}
	if f.atoms["V"] > 0 && f.state("V").Cmp(big.NewRat(4, 1)) > 0 {
		return "Vanadium pentoxide"
	}
	return ""
}

// dangers reads poisons out of names.
type dangers struct {
	groups                                     []danger
	formulas                                   map[string]string // poisons as people type them, in capitals only
	before, after, between, encapsulated, bare []string
	vanadiumBound, vanadiumFree, antimonyBound []string
	phrases                                    []string
}

// danger is what says that a name means a poison: any of the words, or all of several
// with a plus between them, where the word is none of unless.
type danger struct {
	material string
	words    [][]string // each one word, or several that must all be there
	unless   []string
}

type dangerFile struct {
	Dangers []struct {
		Material      string
		Words, Unless []string
	}
	Formulas, Before, After, Between, Phrases, Encapsulated, Bare []string
	VanadiumBound                                                 []string `json:"vanadium_bound"`
	VanadiumFree                                                  []string `json:"vanadium_free"`
	AntimonyBound                                                 []string `json:"antimony_bound"`
}

var unsigned = regexp.MustCompile(`[^*+]+`)

// patterns folds each word of the patterns, and leaves their signs.
func patterns(all []string) (out []string) {
	for _, p := range all {
		out = append(out, unsigned.ReplaceAllStringFunc(p, func(w string) string { return strings.Join(words(w), "") }))
	}
	return out
}

func newDangers(f dangerFile) dangers {
	d := dangers{formulas: map[string]string{}, before: patterns(f.Before), after: patterns(f.After), between: patterns(f.Between),
		encapsulated: patterns(f.Encapsulated), bare: patterns(f.Bare), vanadiumBound: patterns(f.VanadiumBound), vanadiumFree: patterns(f.VanadiumFree), antimonyBound: patterns(f.AntimonyBound)}
	for _, g := range f.Dangers {
		n := danger{g.Material, nil, patterns(g.Unless)}
		for _, p := range patterns(g.Words) {
			n.words = append(n.words, strings.Split(p, "+"))
		}
		d.groups = append(d.groups, n)
	}
	for _, p := range f.Phrases {
		d.phrases = append(d.phrases, strings.Join(words(p), " "))
	}
	for _, s := range f.Formulas {
		if p, err := ParseFormula(strings.ReplaceAll(s, ",", "")); err == nil {
			d.formulas[capitals(s)] = p.Poison()
		}
	}
	return d
}

func capitals(s string) string {
	return strings.Map(func(r rune) rune {
		switch {
		case r >= '₀' && r <= '₉':
			return '0' + r - '₀'
		case r < unicode.MaxASCII && (unicode.IsLetter(r) || unicode.IsDigit(r)):
			return unicode.ToUpper(r)
		}
		return -1
	}, s)
}

// fits tells whether a word is what a piece of a pattern says: the word itself, or
// with stars its beginning, its end or anything in it.
func fits(w, p string) bool {
	core := strings.Trim(p, "*")
	switch {
	case strings.HasPrefix(p, "*") && strings.HasSuffix(p, "*"):
		return strings.Contains(w, core)
	case strings.HasSuffix(p, "*"):
		return strings.HasPrefix(w, core)
	case strings.HasPrefix(p, "*"):
		return strings.HasSuffix(w, core)
	}
	return w == core
}

func fitsAny(w string, all []string) bool {
	return slices.ContainsFunc(all, func(p string) bool { return fits(w, p) })
}

func anyFits(ws, all []string) bool {
	return slices.ContainsFunc(ws, func(w string) bool { return fitsAny(w, all) })
}

// at gives where in the words the danger stands; none: -1. A place that is freed, as
// in "lead-free", does not count.
func (g danger) at(d *dangers, ws []string) int {
	for i, w := range ws {
		for _, pieces := range g.words {
			if !fits(w, pieces[0]) || fitsAny(w, g.unless) {
				continue
			}
			all := true
			for _, piece := range pieces[1:] {
				all = all && slices.ContainsFunc(ws, func(o string) bool { return fits(o, piece) })
			}
			if all && !d.freed(ws, i) {
				return i
			}
		}
	}
	return -1
}

// freed tells whether the name says of the word there that the material is free of it:
// lead-free, bleifrei, no lead, exento de plomo. Said twice it is not: not lead-free.
func (d *dangers) freed(ws []string, i int) bool {
	after := i+1 < len(ws) && slices.Contains(d.after, ws[i+1])
	for _, end := range []string{"frei", "freie", "freier", "freies"} {
		after = after || strings.HasSuffix(ws[i], end)
	}
	listed, steps := false, 0
	for j := i - 1; j >= 0 && steps < 5; j, steps = j-1, steps+1 {
		w := ws[j]
		switch {
		case slices.Contains(d.before, w):
			of := steps > 0 || !slices.Contains([]string{"fre", "fri", "libre", "frei"}, w) // "free lead silicate" is no negation
			return of != after
		case slices.Contains([]string{"or", "oder", "ou", "o", "u", "ni", "noc", "nor"}, w):
			listed = true
		case slices.Contains(d.between, w):
		case listed && slices.ContainsFunc(d.groups, func(g danger) bool {
			return slices.ContainsFunc(g.words, func(p []string) bool { return fits(w, p[0]) })
		}):
		default:
			return after
		}
	}
	return after
}

// read gives the entry of the table for the poison that a name means, or for a stain
// that holds one bound; "" where it means none.
func (d *dangers) read(name string) string {
	ws := words(name)
	entry, bound := d.named(ws)
	if entry == "" {
		entry, bound = d.named(d.joined(ws))
	}
	if entry != "" && !bound {
		return entry
	}
	if p := d.formula(name); p != "" && (entry != "Encapsulated cadmium stain" || p != poisons["Cd"] && p != poisons["Se"]) {
		return p
	}
	return entry
}

// joined gives each two words, one behind the other, as one, for what some write as one:
// Chrom-Gelb, Queck Silber. Left out is what is a danger, or free of it, by itself.
func (d *dangers) joined(ws []string) (pairs []string) {
	alone := func(w string) bool {
		return len(w) < 3 || slices.ContainsFunc(d.groups, func(g danger) bool {
			return slices.ContainsFunc(g.words, func(p []string) bool { return len(p) == 1 && fits(w, p[0]) })
		})
	}
	for i := 1; i < len(ws); i++ {
		if w := fold(ws[i-1] + ws[i]); !alone(ws[i-1]) && !alone(ws[i]) && d.begins(w) {
			pairs = append(pairs, w)
		}
	}
	return pairs
}

// begins tells whether a pattern of one word that is not found in the midst of another
// fits.
func (d *dangers) begins(w string) bool {
	return slices.ContainsFunc(d.groups, func(g danger) bool {
		return slices.ContainsFunc(g.words, func(p []string) bool { return len(p) == 1 && !strings.HasPrefix(p[0], "*") && fits(w, p[0]) })
	})
}

// named reads the words of a name, and tells whether the poison in it is bound.
func (d *dangers) named(ws []string) (entry string, bound bool) {
	text := " " + strings.Join(ws, " ") + " "
	for _, p := range d.phrases {
		text = strings.ReplaceAll(text, " "+p+" ", " ")
	}
	ws = strings.Fields(text)
	enclosed := d.enclosed(ws)
	for _, g := range d.groups {
		if g.at(d, ws) < 0 {
			continue
		}
		switch {
		case enclosed && (g.material == poisons["Cd"] || g.material == poisons["Se"]):
			entry = "Encapsulated cadmium stain"
		case g.material == "Vanadium pentoxide" && anyFits(ws, d.vanadiumBound) && !anyFits(ws, d.vanadiumFree):
			entry = "Vanadium stain"
		case g.material == poisons["Sb"] && anyFits(ws, d.antimonyBound):
			entry = "Antimony stain"
		default:
			return g.material, false
		}
	}
	return entry, entry != ""
}

// mixed is a word with capitals and small letters as a formula has them.
var mixed = regexp.MustCompile(`[A-Z][a-z].*[A-Z]|[A-Z].*[A-Z][a-z]`)

func (d *dangers) enclosed(ws []string) bool {
	for i, w := range ws {
		if fitsAny(w, d.encapsulated) && !fitsAny(w, d.bare) {
			return i == 0 || !slices.Contains([]string{"not", "non", "nict", "no", "pas", "un"}, ws[i-1])
		}
	}
	return false
}

// formula reads a poison out of a formula in the name: of the whole name if it is one,
// else of a word of it that looks like one.
func (d *dangers) formula(name string) string {
	name = strings.TrimSpace(name)
	if f, err := ParseFormula(name); err == nil {
		if p := f.Poison(); p != "" {
			return p
		}
	}
	if p := d.formulas[capitals(name)]; p != "" && strings.IndexFunc(name, unicode.IsSpace) < 0 {
		return p
	}
	for _, w := range pieces(name) {
		if p := d.formulas[capitals(w)]; p != "" {
			return p
		}
		if !strings.ContainsFunc(w, unicode.IsDigit) && !mixed.MatchString(w) {
			continue
		}
		if f, err := ParseFormula(w); err == nil && f.Poison() != "" {
			return f.Poison()
		}
	}
	return ""
}

// pieces are the words of a name in which a formula may stand.
func pieces(name string) []string {
	all := strings.FieldsFunc(name, func(r rune) bool { return unicode.IsSpace(r) || strings.ContainsRune(",;:/-+[]", r) })
	for i, w := range all {
		if strings.HasPrefix(w, "(") && strings.HasSuffix(w, ")") {
			all[i] = w[1 : len(w)-1]
		}
	}
	return all
}

package material

import (
	"errors"
	"maps"
	"math/big"
	"slices"
	"strconv"
	"strings"
	"unicode/utf8"

	"tared/session/text"
)

// ErrFormula is in the chain of every error about a formula.
var ErrFormula = errors.New("chemical formula")

// weights are standard atomic weights, abridged to five digits: T. Prohaska and others,
// Standard atomic weights of the elements 2021 (IUPAC Technical Report), Pure Appl.
// Chem. 94 (2022) 573, Table 2, read in a public transcription.
var weights = map[string]string{
	"H": "1.008", "Li": "6.94", "Be": "9.0122", "B": "10.81", "C": "12.011", "N": "14.007", "O": "15.999", "F": "18.998", "Na": "22.990", "Mg": "24.305",
	"Al": "26.982", "Si": "28.085", "P": "30.974", "S": "32.06", "Cl": "35.45", "K": "39.098", "Ca": "40.078", "Sc": "44.956", "Ti": "47.867",
	"V": "50.942", "Cr": "51.996", "Mn": "54.938", "Fe": "55.845", "Co": "58.933", "Ni": "58.693", "Cu": "63.546", "Zn": "65.38", "Ga": "69.723",
	"Ge": "72.630", "As": "74.922", "Se": "78.971", "Br": "79.904", "Rb": "85.468", "Sr": "87.62", "Y": "88.906", "Zr": "91.224", "Nb": "92.906",
	"Mo": "95.95", "Rh": "102.91", "Pd": "106.42", "Ag": "107.87", "Cd": "112.41", "In": "114.82", "Sn": "118.71", "Sb": "121.76", "Te": "127.60",
	"I": "126.90", "Cs": "132.91", "Ba": "137.33", "La": "138.91", "Ce": "140.12", "Pr": "140.91", "Nd": "144.24", "Sm": "150.36", "Eu": "151.96",
	"Gd": "157.25", "Tb": "158.93", "Dy": "162.50", "Ho": "164.93", "Er": "167.26", "Tm": "168.93", "Yb": "173.05", "Lu": "174.97", "Hf": "178.49",
	"Ta": "180.95", "W": "183.84", "Pt": "195.08", "Au": "196.97", "Hg": "200.59", "Tl": "204.38", "Pb": "207.2", "Bi": "208.98", "Th": "232.04",
	"U": "238.03",
}

// Formula is a chemical formula as a count of atoms, in the order in which they
// are first named.
type Formula struct {
	text  string
	order []string
	atoms map[string]int64
}

// The most that a formula may hold, so that no text can make the counts overflow.
const maxAtoms = 10_000

// ParseFormula reads a formula such as CaCO3, CaMg(CO3)2, Al2Si2O5(OH)4 or
// Na2B4O7·10H2O; the water may follow a "·", "." or "*", and figures may be
// small (CaCO₃).
func ParseFormula(s string) (Formula, error) {
	f := Formula{text: s, atoms: map[string]int64{}}
	t := strings.Map(func(r rune) rune {
		switch {
		case r >= '₀' && r <= '₉':
			return '0' + r - '₀'
		case r == '·' || r == '⋅' || r == '•' || r == '*' || r == '.':
			return '.'
		case r == ' ':
			return -1
		}
		return r
	}, s)
	for part := range strings.SplitSeq(t, ".") {
		p := formulaParser{s: part}
		n := int64(1)
		if c, ok := p.number(); ok {
			n = c
		}
		if err := p.group(&f, n, 0); err != nil {
			return Formula{}, text.Kind(ErrFormula, text.Refuse("material.formula", text.Name("formula", strconv.Quote(s)), text.Because("why", err)))
		}
	}
	return f, nil
}

type formulaParser struct {
	s string
	i int
}

func (p *formulaParser) number() (int64, bool) {
	start, n := p.i, int64(0)
	for p.i < len(p.s) && p.s[p.i] >= '0' && p.s[p.i] <= '9' {
		n = min(n*10+int64(p.s[p.i]-'0'), maxAtoms+1)
		p.i++
	}
	return n, p.i > start
}

// group reads atoms and brackets up to the end or the closing bracket and adds
// them times n.
func (p *formulaParser) group(f *Formula, n int64, depth int) error {
	if depth > 8 {
		return errors.New("too many brackets in one another")
	}
	start := p.i
	for p.i < len(p.s) && p.s[p.i] != ')' {
		if p.s[p.i] == '(' {
			if err := p.bracket(f, n, depth); err != nil {
				return err
			}
			continue
		}
		e := p.s[p.i : p.i+1]
		if e < "A" || e > "Z" {
			r, _ := utf8.DecodeRuneInString(p.s[p.i:])
			return text.Refuse("material.no-element", text.Name("sign", string(r)))
		}
		p.i++
		if p.i < len(p.s) && p.s[p.i] >= 'a' && p.s[p.i] <= 'z' {
			e += p.s[p.i : p.i+1]
			p.i++
		}
		if _, ok := weights[e]; !ok {
			return text.Refuse("material.element", text.Name("element", e))
		}
		c, err := p.count()
		if err != nil {
			return err
		}
		if err := f.add(e, 1, n, c); err != nil {
			return err
		}
	}
	if p.i == start {
		return text.Refuse("material.no-atoms")
	}
	if depth == 0 && p.i < len(p.s) {
		return text.Refuse("material.bracket-closed")
	}
	return nil
}

// bracket reads a group in brackets and its count.
func (p *formulaParser) bracket(f *Formula, n int64, depth int) error {
	inner := Formula{atoms: map[string]int64{}}
	p.i++
	if err := p.group(&inner, 1, depth+1); err != nil {
		return err
	}
	if p.i >= len(p.s) {
		return text.Refuse("material.bracket-open")
	}
	p.i++
	c, err := p.count()
	if err != nil {
		return err
	}
	for _, e := range inner.order {
		if err := f.add(e, inner.atoms[e], n, c); err != nil {
			return err
		}
	}
	return nil
}

func (p *formulaParser) count() (int64, error) {
	c, ok := p.number()
	switch {
	case !ok:
		return 1, nil
	case c == 0:
		return 0, text.Refuse("material.count-zero")
	}
	return c, nil
}

func (f *Formula) add(e string, factors ...int64) error {
	n := int64(1)
	for _, x := range factors {
		if n *= x; n > maxAtoms || x > maxAtoms {
			return text.Refuse("material.atoms", text.Number("most", strconv.Itoa(maxAtoms)))
		}
	}
	if n == 0 {
		return text.Refuse("material.count-zero")
	}
	if _, ok := f.atoms[e]; !ok {
		f.order = append(f.order, e)
	}
	if f.atoms[e] += n; f.atoms[e] > maxAtoms {
		return text.Refuse("material.atoms", text.Number("most", strconv.Itoa(maxAtoms)))
	}
	return nil
}

// balanced tells whether the usual oxidation numbers of the elements add up to nothing.
func (f Formula) balanced() bool {
	last := f.order[len(f.order)-1]
	s := states[last]
	if last == "S" {
		s = -2
	}
	return len(f.order) > 1 && s != 0 && f.state(last).Cmp(big.NewRat(s, 1)) == 0
}

// spellings gives every way to write a text in capitals with small second letters of elements.
func spellings(s string) []string {
	if s == "" {
		return []string{""}
	}
	var out []string
	if len(s) > 1 {
		if e := s[:1] + strings.ToLower(s[1:2]); e != s[:2] && weights[e] != "" {
			for _, rest := range spellings(s[2:]) {
				out = append(out, e+rest)
			}
		}
	}
	for _, rest := range spellings(s[1:]) {
		out = append(out, s[:1]+rest)
	}
	return out
}

// String gives the formula as it was written.
func (f Formula) String() string { return f.text }

// Elements are the elements in it, in the order in which it names them.
func (f Formula) Elements() []string { return slices.Clone(f.order) }

// Atoms gives how many atoms of an element the formula has.
func (f Formula) Atoms(element string) int64 { return f.atoms[element] }

func weight(element string) *big.Rat {
	w, _ := new(big.Rat).SetString(weights[element])
	return w
}

// Molar gives the molar mass in g/mol, exactly as the atomic weights add up.
func (f Formula) Molar() *big.Rat {
	sum := new(big.Rat)
	for e, n := range f.atoms {
		sum.Add(sum, new(big.Rat).Mul(weight(e), new(big.Rat).SetInt64(n)))
	}
	return sum
}

// Fraction gives the share of the mass that is the element, 0 to 1.
func (f Formula) Fraction(element string) *big.Rat {
	if f.atoms[element] == 0 {
		return new(big.Rat)
	}
	w := new(big.Rat).Mul(weight(element), new(big.Rat).SetInt64(f.atoms[element]))
	return w.Quo(w, f.Molar())
}

// metals are the elements that colour or opacify; Convert keeps their amount.
var metals = []string{"Co", "Cu", "Mn", "Fe", "Ni", "Cr", "Zr", "Sn", "Ti", "V", "Zn"}

// fluxes are the metals of fluxes. They count where the formula has nothing else
// that goes into the glass: in wollastonite the calcium comes with silica, and in a
// feldspar the potassium with alumina, so neither can stand for a carbonate.
var fluxes = []string{"Li", "Na", "K", "Mg", "Ca", "Sr", "Ba"}

// gone are the elements that leave in the fire beside a metal, or are oxygen.
var gone = []string{"H", "C", "N", "O", "S", "Cl"}

// Metal gives the one colouring or opacifying metal of the formula, or the one
// metal of a flux that brings nothing else into the glass; false when it has none
// or more than one, as ilmenite FeTiO3 and dolomite CaMg(CO3)2 do.
func (f Formula) Metal() (string, bool) {
	if m, ok := f.oneOf(metals); ok {
		return m, true
	}
	m, ok := f.oneOf(fluxes)
	for e := range f.atoms {
		if e != m && !slices.Contains(gone, e) {
			return "", false
		}
	}
	return m, ok
}

// made tells what the formula is made of, in the smallest whole numbers and without
// regard to how it is written.
func (f Formula) made() string {
	divisor := new(big.Int)
	for _, n := range f.atoms {
		divisor.GCD(nil, nil, divisor, big.NewInt(n))
	}
	var b strings.Builder
	for _, e := range slices.Sorted(maps.Keys(f.atoms)) {
		b.WriteString(e + strconv.FormatInt(f.atoms[e]/divisor.Int64(), 10))
	}
	return b.String()
}

// oneOf gives the one element of a list that the formula has.
func (f Formula) oneOf(list []string) (string, bool) {
	found := ""
	for _, m := range list {
		if f.atoms[m] > 0 {
			if found != "" {
				return "", false
			}
			found = m
		}
	}
	return found, found != ""
}

// Convert gives how many grams of the second compound carry the same metal as
// one gram of the first: Co3O4 to CoCO3 is 1.4819. Both must have the same one
// metal, and neither may be a poison. What is sold as copper carbonate is Cu2(OH)2CO3, not CuCO3, and rutile
// is not pure TiO2: the formula must be that of the bag.
func Convert(from, to Formula) (*big.Rat, error) {
	a, ok := from.Metal()
	b, ok2 := to.Metal()
	if !ok || !ok2 || a != b {
		return nil, text.Kind(ErrFormula, text.Refuse("material.no-metal", text.Name("from", from.String()), text.Name("to", to.String())))
	}
	for _, f := range []Formula{from, to} {
		if p := f.Poison(); p != "" {
			return nil, text.Kind(ErrFormula, text.Refuse("material.poison", text.Name("formula", f.String()), text.Name("poison", p)))
		}
	}
	return new(big.Rat).Quo(from.Fraction(a), to.Fraction(a)), nil
}

// Loss gives the loss on ignition as a share of the raw mass, 0 to 1, when the
// compound leaves only the named residue, of which n units come from one unit
// of the raw: CaCO3 leaves one CaO, Cu2(OH)2CO3 two CuO.
func Loss(raw, residue Formula, n int64) (*big.Rat, error) {
	left := new(big.Rat).Mul(residue.Molar(), new(big.Rat).SetInt64(n))
	if n < 1 || left.Cmp(raw.Molar()) > 0 {
		return nil, text.Kind(ErrFormula, text.Refuse("material.residue", text.Number("times", strconv.FormatInt(n, 10)), text.Name("residue", residue.String()), text.Name("raw", raw.String())))
	}
	left.Quo(left, raw.Molar())
	return left.Sub(big.NewRat(1, 1), left), nil
}

package calc

import (
	"cmp"
	"errors"
	"fmt"
	"math/big"
	"strings"

	"tared/protocol"
	"tared/scale"
	"tared/session/material"
	"tared/session/slip"
	"tared/session/text"
)

// Kind says what an argument is made of and how it is written.
type Kind string

// The kinds.
const (
	Mass    Kind = "mass"    // with its unit: 750g, 2mg, 1.5kg
	Volume  Kind = "volume"  // with its unit: 10l, 500ml
	Share   Kind = "share"   // with a percent sign: 2%
	Gravity Kind = "gravity" // specific gravity of a slip: 1.45
	Solid   Kind = "solid"   // relative density of a dry material: 2.6
	Count   Kind = "count"   // a whole number
	Formula Kind = "formula" // MnO2, Cu2(OH)2CO3
	Class   Kind = "class"   // I, II, III, IIII
	Degrees Kind = "degrees" // a plain number: 45
	Named   Kind = "named"   // a material by its name
	Amounts Kind = "amounts" // several numbers with blanks between them
)

// How tells a person how an argument of the kind is written.
func (k Kind) How() text.Message {
	switch k {
	case Mass:
		return says("calc.how-mass")
	case Volume:
		return says("calc.how-volume")
	case Share:
		return says("calc.how-share")
	case Gravity:
		return says("calc.how-gravity")
	case Solid:
		return says("calc.how-solid")
	case Count:
		return says("calc.how-count")
	case Formula:
		return says("calc.how-formula")
	case Degrees:
		return says("calc.how-degrees")
	case Named:
		return says("calc.how-named")
	case Class:
		return says("calc.how-class")
	}
	return says("calc.how-amounts")
}

// value is an argument understood: the field of its kind is set.
type value struct {
	text     string
	mass     protocol.Mass
	rat      *big.Rat // a share as a fraction of 1, a volume in litres, a gravity
	n        int64
	formula  material.Formula
	material material.Material
	sold     material.Material // what a name stood for
	class    scale.Class
	list     []*big.Rat
	texts    []string
}

// given holds the arguments of a form by name; every one that is not optional is there.
type given map[string]value

func (g given) has(name string) bool { _, ok := g[name]; return ok }

var (
	one     = big.NewRat(1, 1)
	two     = big.NewRat(2, 1)
	three   = big.NewRat(3, 1)
	ten     = big.NewRat(10, 1)
	hundred = big.NewRat(100, 1)
	litre   = big.NewRat(1000, 1) // grams of water, and millilitres, in a litre
)

func mul(a, b *big.Rat) *big.Rat { return new(big.Rat).Mul(a, b) }
func quo(a, b *big.Rat) *big.Rat { return new(big.Rat).Quo(a, b) }
func add(a, b *big.Rat) *big.Rat { return new(big.Rat).Add(a, b) }
func sub(a, b *big.Rat) *big.Rat { return new(big.Rat).Sub(a, b) }

// The most that counts and lists may be, so that no question takes long.
const (
	maxCount   = 1_000_000
	maxAmounts = 100
)

// read understands the text of an argument; names of materials are looked up in the
// table, nil for the embedded one.
func (a Arg) read(s string, t *material.Table) (value, *Refusal) {
	v := value{text: s}
	var err error
	switch a.Kind {
	case Mass:
		if v.mass, err = protocol.ParseMass(s); err != nil {
			// Too much or too fine is understood, and cannot be.
			return v, &Refusal{a.Name, s, text.Failed("calc.is", err), !errors.Is(err, protocol.ErrRange)}
		}
		return v, a.sign(s, v.mass.Rat())
	case Volume:
		num, per, why := a.unit(s)
		if why != nil {
			return v, why
		}
		var r *Refusal
		if v.rat, r = a.number(s, num); r != nil {
			return v, r
		}
		v.rat = mul(v.rat, per)
		return v, a.sign(s, v.rat)
	case Share:
		num, ok := strings.CutSuffix(s, "%")
		if !ok {
			return v, wrong(a.Name, s, "calc.share-percent", a.Like)
		}
		var r *Refusal
		if v.rat, r = a.number(s, num); r != nil {
			return v, r
		}
		v.rat = quo(v.rat, hundred)
		return v, a.sign(s, v.rat)
	case Gravity, Solid:
		return a.gravity(v)
	case Count, Degrees:
		var r *Refusal
		if v.rat, r = a.number(s, s); r != nil || a.Kind == Degrees {
			return v, cmp.Or(r, a.sign(s, cmp.Or(v.rat, one)))
		}
		if !v.rat.IsInt() {
			return v, refuse(a.Name, s, "calc.give-a-whole-number-for", a.Like)
		}
		if v.rat.Cmp(big.NewRat(maxCount, 1)) > 0 {
			return v, refuse(a.Name, s, "calc.that-is-too-many-use-2", fmt.Sprint(maxCount))
		}
		v.n = v.rat.Num().Int64()
		return v, a.sign(s, v.rat)
	case Named:
		return a.named(v, t)
	case Formula:
		return a.compound(v, t)
	case Class:
		if v.class, err = scale.ParseClass(s); err != nil {
			return v, refuse(a.Name, s, "calc.is", err)
		}
		return v, nil
	}
	return a.amounts(v)
}

// number reads digits; num is the part of the text s that they stand in.
func (a Arg) number(s, num string) (*big.Rat, *Refusal) {
	d, err := protocol.ParseHumanDecimal(num)
	if err != nil {
		return nil, wrong(a.Name, s, "calc.is", err)
	}
	r, _ := new(big.Rat).SetString(d.String())
	return r, nil
}

// sign refuses what is negative, and nothing where nothing makes no sense.
func (a Arg) sign(s string, r *big.Rat) *Refusal {
	switch {
	case r.Sign() < 0:
		return refuse(a.Name, s, "calc.it-is-negative-cannot-be", text.Term("", a.Words), a.Like)
	case r.Sign() == 0 && !a.Zero:
		return refuse(a.Name, s, "calc.it-is-nothing-must-be", text.Term("", a.Words), a.Like)
	}
	return nil
}

// dense holds gravities to what a slip and a dry material can have.
func (a Arg) dense(s string, r *big.Rat) *Refusal {
	switch {
	case a.Kind == Gravity && r.Cmp(one) < 0:
		return refuse(a.Name, s, "calc.a-slip-cannot-be-lighter")
	case a.Kind == Gravity && r.Cmp(three) > 0:
		return refuse(a.Name, s, "calc.no-slip-is-that-heavy")
	case a.Kind == Solid && r.Cmp(one) <= 0:
		return refuse(a.Name, s, "calc.dry-material-as-light-as")
	case a.Kind == Solid && r.Cmp(ten) > 0:
		return refuse(a.Name, s, "calc.no-dry-material-of-a")
	}
	return nil
}

// gravity reads a specific gravity or a relative density.
func (a Arg) gravity(v value) (value, *Refusal) {
	s := v.text
	num, to := s, func(r *big.Rat) (*big.Rat, error) { return r, nil }
	if a.Kind == Gravity {
		num, to = hydrometer(s, to)
		if to == nil {
			return v, wrong(a.Name, s, "calc.whose-pint", num)
		}
	}
	var r *Refusal
	if v.rat, r = a.number(s, num); r != nil {
		return v, r
	}
	if r := a.sign(s, v.rat); r != nil {
		return v, r
	}
	var err error
	if v.rat, err = to(v.rat); err != nil {
		return v, refuse(a.Name, s, "calc.is", err)
	}
	if num != s {
		v.text = digits(v.rat)
	}
	return v, a.dense(s, v.rat)
}

// hydrometer splits a gravity that is given otherwise, as degrees of a hydrometer
// or by the weight of a pint, into its digits and what turns them into gravity; nil
// for a pint of no country.
func hydrometer(s string, as func(*big.Rat) (*big.Rat, error)) (string, func(*big.Rat) (*big.Rat, error)) {
	low := strings.NewReplacer(" ", "", ".pt", "pt", "pint", "pt", "pts", "pt", "imperial", "uk", "imp", "uk", "ounces", "oz", "ounce", "oz", "per", "/").Replace(strings.ToLower(s))
	for _, u := range []struct {
		unit string
		to   func(*big.Rat) (*big.Rat, error)
	}{{"bé", slip.Baume}, {"be", slip.Baume}, {"tw", slip.Twaddell}, {"oz/ukpt", slip.ImperialPint}, {"oz/uspt", slip.USPint}, {"oz/pt", nil}} {
		if num, ok := strings.CutSuffix(low, u.unit); ok {
			return strings.TrimSuffix(num, "°"), u.to
		}
	}
	return s, as
}

// unit splits a volume into its digits and the litres in its unit.
func (a Arg) unit(s string) (num string, per *big.Rat, why *Refusal) {
	i := strings.LastIndexAny(s, "0123456789.,") + 1
	num, u := strings.TrimSpace(s[:i]), strings.ToLower(strings.TrimSpace(s[i:]))
	switch u {
	case "l", "litre", "litres", "liter", "liters":
		return num, one, nil
	case "dl":
		return num, big.NewRat(1, 10), nil
	case "cl":
		return num, big.NewRat(1, 100), nil
	case "ml":
		return num, big.NewRat(1, 1000), nil
	case "":
		return "", nil, wrong(a.Name, s, "calc.no-unit-write-it-as", a.Like)
	case "pt", "pint", "pints", "gal", "gallon", "gallons", "qt", "quart", "quarts", "floz", "fl oz":
		return "", nil, wrong(a.Name, s, "calc.pints-and-gallons-differ-from")
	}
	return "", nil, wrong(a.Name, s, "calc.is-not-a-unit-of", u)
}

// named finds a material of the table.
func (a Arg) named(v value, t *material.Table) (value, *Refusal) {
	var ok bool
	if v.material, ok = t.Or().Lookup(v.text); !ok {
		return v, refuse(a.Name, v.text, "calc.in-no-table")
	}
	return v, nil
}

// compound reads a formula. A name of the materials table stands for the
// formula there, if it has one.
func (a Arg) compound(v value, t *material.Table) (value, *Refusal) {
	f, err := material.ParseFormula(v.text)
	m, ok := t.Or().Lookup(v.text)
	switch {
	case ok && m.Blocked != "":
		return v, refuse(a.Name, v.text, "calc.nothing-is-calculated-with-it", text.Term("", m.Blocked))
	case err == nil:
		v.formula = f
		return v, nil
	case !ok:
		return v, refuse(a.Name, v.text, "calc.give-the-formula-of-what", err, a.Like)
	case len(m.Means) > 0:
		return v, refuse(a.Name, v.text, "calc.it-can-be-say-which", strings.Join(m.Means, ", "))
	case m.Formula == "":
		return v, refuse(a.Name, v.text, "calc.has-no-formula-of-its", m.Name, a.Like)
	}
	if v.formula, err = material.ParseFormula(m.Formula); err != nil {
		return v, refuse(a.Name, v.text, "calc.is", err)
	}
	v.sold = m
	return v, nil
}

// amounts reads several numbers: all bare, all masses or all shares.
func (a Arg) amounts(v value) (value, *Refusal) {
	v.texts = strings.FieldsFunc(v.text, func(r rune) bool { return r == ' ' || r == '\t' || r == '\n' || r == '\r' || r == ';' })
	if len(v.texts) == 0 {
		return v, wrong("", "", "calc.there-is-no-amount-give", a.Like)
	}
	if len(v.texts) > maxAmounts {
		return v, refuse("", "", "calc.amounts-are-too-many-use", len(v.texts), maxAmounts)
	}
	kinds := map[string]bool{}
	for i, s := range v.texts {
		r, kind, err := amount(s)
		if err != nil {
			return v, wrong("", "", "calc.amount", i+1, s, err)
		}
		kinds[kind] = true
		switch {
		case r.Sign() < 0:
			return v, refuse("", "", "calc.amount-it-cannot-be-negative", i+1, s)
		case r.Sign() == 0:
			return v, refuse("", "", "calc.amount-it-is-nothing-leave", i+1, s)
		}
		v.list = append(v.list, r)
	}
	if len(kinds) > 1 {
		return v, wrong("", "", "calc.the-amounts-are-of-different")
	}
	return v, nil
}

// amount reads one number of a list, and tells its kind.
func amount(s string) (*big.Rat, string, error) {
	if num, ok := strings.CutSuffix(s, "%"); ok {
		d, err := protocol.ParseHumanDecimal(num)
		if err != nil {
			return nil, "", err
		}
		r, _ := new(big.Rat).SetString(d.String())
		return r, "%", nil
	}
	if d, err := protocol.ParseHumanDecimal(s); err == nil {
		r, _ := new(big.Rat).SetString(d.String())
		return r, "", nil
	} else if strings.HasSuffix(s, "g") || strings.HasSuffix(s, "z") || strings.HasSuffix(s, "b") {
		m, err := protocol.ParseMass(s)
		return m.Rat(), "mass", err
	} else {
		return nil, "", err
	}
}

package calc

import (
	"cmp"
	"errors"
	"math/big"
	"strings"

	"tared/protocol"
	"tared/scale"
	"tared/session/material"
	"tared/session/slip"
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
func (k Kind) How() string {
	switch k {
	case Mass:
		return "with its unit: mg, g, kg, oz, lb"
	case Volume:
		return "with its unit: ml, l"
	case Share:
		return "with a percent sign"
	case Gravity:
		return "1 to 3, water is 1; or 45Bé or 90Tw from a hydrometer; or 29oz/UKpt or 24oz/USpt, what a pint of it weighs"
	case Solid:
		return "over 1 to 10, water is 1"
	case Count:
		return "a whole number"
	case Formula:
		return "a chemical formula"
	case Degrees:
		return "a plain number"
	case Named:
		return "the name of a material"
	case Class:
		return "I, II, III or IIII"
	}
	return "numbers with blanks between them"
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
			return v, &Refusal{a.Name, s, err.Error(), !errors.Is(err, protocol.ErrRange)}
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
			return v, wrong(a.Name, s, "a share needs its percent sign, or nobody knows whether 0.02 is 2 %% or a fiftieth of one: write it as %s", a.Like)
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
			return v, refuse(a.Name, s, "give a whole number, for example %s", a.Like)
		}
		if v.rat.Cmp(big.NewRat(maxCount, 1)) > 0 {
			return v, refuse(a.Name, s, "that is too many: use %d at most", maxCount)
		}
		v.n = v.rat.Num().Int64()
		return v, a.sign(s, v.rat)
	case Named:
		return a.named(v, t)
	case Formula:
		return a.compound(v, t)
	case Class:
		if v.class, err = scale.ParseClass(s); err != nil {
			return v, refuse(a.Name, s, "%v", err)
		}
		return v, nil
	}
	return a.amounts(v)
}

// number reads digits; num is the part of the text s that they stand in.
func (a Arg) number(s, num string) (*big.Rat, *Refusal) {
	d, err := protocol.ParseHumanDecimal(num)
	if err != nil {
		return nil, wrong(a.Name, s, "%v", err)
	}
	r, _ := new(big.Rat).SetString(d.String())
	return r, nil
}

// sign refuses what is negative, and nothing where nothing makes no sense.
func (a Arg) sign(s string, r *big.Rat) *Refusal {
	switch {
	case r.Sign() < 0:
		return refuse(a.Name, s, "it is negative: %s cannot be less than nothing; give it as %s", a.Words, a.Like)
	case r.Sign() == 0 && !a.Zero:
		return refuse(a.Name, s, "it is nothing: %s must be more than zero; give it as %s", a.Words, a.Like)
	}
	return nil
}

// dense holds gravities to what a slip and a dry material can have.
func (a Arg) dense(s string, r *big.Rat) *Refusal {
	switch {
	case a.Kind == Gravity && r.Cmp(one) < 0:
		return refuse(a.Name, s, "a slip cannot be lighter than water, which is 1: weigh the sample again without its container, and write degrees of a hydrometer as 45Bé or 90Tw")
	case a.Kind == Gravity && r.Cmp(three) > 0:
		return refuse(a.Name, s, "no slip is that heavy: use 1 to 3; grams in a litre are a thousand times the specific gravity, so 1500 g in a litre is 1.5")
	case a.Kind == Solid && r.Cmp(one) <= 0:
		return refuse(a.Name, s, "dry material as light as water would float: use more than 1, for example 2.6")
	case a.Kind == Solid && r.Cmp(ten) > 0:
		return refuse(a.Name, s, "no dry material of a glaze is that dense: use 10 at most, for example 2.6; a density in kg/m³ is a thousand times that")
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
			return v, wrong(a.Name, s, "it does not say whose pint: an imperial pint is a fifth larger than a US one; write %[1]soz/UKpt or %[1]soz/USpt", num)
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
		return v, refuse(a.Name, s, "%v", err)
	}
	if num != s {
		v.text = plain(v.rat)
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
		return "", nil, wrong(a.Name, s, "no unit: write it as %s", a.Like)
	case "pt", "pint", "pints", "gal", "gallon", "gallons", "qt", "quart", "quarts", "floz", "fl oz":
		return "", nil, wrong(a.Name, s, "pints and gallons differ from country to country: measure in l or ml")
	}
	return "", nil, wrong(a.Name, s, "%q is not a unit of volume that is known here: use l or ml", u)
}

// named finds a material of the table.
func (a Arg) named(v value, t *material.Table) (value, *Refusal) {
	var ok bool
	if v.material, ok = t.Or().Lookup(v.text); !ok {
		return v, refuse(a.Name, v.text, "it is in no table of materials: give the loss of the supplier's analysis, as raw=100g loss=12%%, or formulas, as from=CaCO3 left=CaO")
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
		return v, refuse(a.Name, v.text, "%s. Nothing is calculated with it", m.Blocked)
	case err == nil:
		v.formula = f
		return v, nil
	case !ok:
		return v, refuse(a.Name, v.text, "%v: give the formula of what is in the bag, for example %s", err, a.Like)
	case len(m.Means) > 0:
		return v, refuse(a.Name, v.text, "it can be %s: say which of them is in the bag", strings.Join(m.Means, " or "))
	case m.Formula == "":
		return v, refuse(a.Name, v.text, "%s has no formula of its own, so nothing can be said of its metal; give a formula, for example %s, or go by its analysis", m.Name, a.Like)
	}
	if v.formula, err = material.ParseFormula(m.Formula); err != nil {
		return v, refuse(a.Name, v.text, "%v", err)
	}
	v.sold = m
	return v, nil
}

// amounts reads several numbers: all bare, all masses or all shares.
func (a Arg) amounts(v value) (value, *Refusal) {
	v.texts = strings.FieldsFunc(v.text, func(r rune) bool { return r == ' ' || r == '\t' || r == '\n' || r == '\r' || r == ';' })
	if len(v.texts) == 0 {
		return v, wrong("", "", "there is no amount: give them as %s", a.Like)
	}
	if len(v.texts) > maxAmounts {
		return v, refuse("", "", "%d amounts are too many: use %d at most", len(v.texts), maxAmounts)
	}
	kinds := map[string]bool{}
	for i, s := range v.texts {
		r, kind, err := amount(s)
		if err != nil {
			return v, wrong("", "", "amount %d, %s: %v", i+1, s, err)
		}
		kinds[kind] = true
		switch {
		case r.Sign() < 0:
			return v, refuse("", "", "amount %d, %s: it cannot be negative", i+1, s)
		case r.Sign() == 0:
			return v, refuse("", "", "amount %d, %s: it is nothing; leave it out", i+1, s)
		}
		v.list = append(v.list, r)
	}
	if len(kinds) > 1 {
		return v, wrong("", "", "the amounts are of different kinds: write all as plain numbers, all as masses or all in percent")
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

// Package slip reckons with water: how much dry material a slip or glaze of a
// known specific gravity holds, how much water brings it to another, and how
// moisture in a bag changes what is to be weighed.
//
// Gravity is the specific gravity of the slip, its weight over that of the same
// volume of water; solid is the relative density of the dry material. Everything
// is an exact fraction; whoever shows a number rounds it. Masses are in grams
// and volumes in litres unless a name says otherwise. Volumes are taken to add
// when slip and water are mixed.
//
// Start with Dry and Water for a batch, ByVolume and ByBottle for measuring,
// Thin for correcting.
package slip

import (
	"errors"
	"math/big"

	"tared/session/text"
)

// ErrGravity says that a gravity cannot be: water or lighter, or as heavy as the
// dry material.
var ErrGravity = errors.New("specific gravity")

// ErrAmount says that an amount is not more than zero, or out of its range.
var ErrAmount = errors.New("amount")

var (
	one      = big.NewRat(1, 1)
	hundred  = big.NewRat(100, 1)
	thousand = big.NewRat(1000, 1)
)

func sub(a, b *big.Rat) *big.Rat { return new(big.Rat).Sub(a, b) }
func mul(a, b *big.Rat) *big.Rat { return new(big.Rat).Mul(a, b) }
func quo(a, b *big.Rat) *big.Rat { return new(big.Rat).Quo(a, b) }

// FirstWater gives the water to start with, to one of dry by mass: 9 to 10
// (common practice, no source). A batch rich in kaolin and talc thickens
// overnight and can end at 16 to 10.
func FirstWater() *big.Rat { return big.NewRat(9, 10) }

// check holds gravity to at least 1 and under solid, and solid to more than 1.
func check(gravity, solid *big.Rat) error {
	switch {
	case solid.Cmp(one) <= 0:
		return text.Kind(ErrGravity, text.Refuse("slip.floats", text.Number("solid", solid.FloatString(3))))
	case gravity.Cmp(one) < 0:
		return text.Kind(ErrGravity, text.Refuse("slip.light", text.Number("gravity", gravity.FloatString(3))))
	case gravity.Cmp(solid) >= 0:
		return text.Kind(ErrGravity, text.Refuse("slip.heavy", text.Number("gravity", gravity.FloatString(3)), text.Number("solid", solid.FloatString(3))))
	}
	return nil
}

// positive holds r to more than zero; refusal says which it is.
func positive(r *big.Rat, refusal error) error {
	if r == nil || r.Sign() <= 0 {
		return text.Kind(ErrAmount, refusal)
	}
	return nil
}

// Dry gives the grams of dry material in a litre of slip by Brongniart's
// formula, (L - 1000)·G/(G - 1) with L the grams per litre. The formula goes
// back to A. Brongniart, Traité des arts céramiques, vol. 1, 1854, p. 249.
func Dry(gravity, solid *big.Rat) (*big.Rat, error) {
	if err := check(gravity, solid); err != nil {
		return nil, err
	}
	w := mul(sub(gravity, one), thousand)
	return quo(w.Mul(w, solid), sub(solid, one)), nil
}

// Holding gives the litres of slip that hold so many grams dry.
func Holding(dry, gravity, solid *big.Rat) (*big.Rat, error) {
	per, err := Dry(gravity, solid)
	if err != nil {
		return nil, err
	}
	if per.Sign() == 0 {
		return nil, text.Kind(ErrGravity, text.Refuse("slip.water-volume"))
	}
	if err := positive(dry, text.Refuse("slip.no-dry")); err != nil {
		return nil, err
	}
	return quo(dry, per), nil
}

// Water gives the grams of water to a gram of dry material for a gravity:
// (1 - s/G)/(s - 1).
func Water(gravity, solid *big.Rat) (*big.Rat, error) {
	if err := check(gravity, solid); err != nil {
		return nil, err
	}
	if gravity.Cmp(one) == 0 {
		return nil, text.Kind(ErrGravity, text.Refuse("slip.water-amount"))
	}
	return quo(sub(one, quo(gravity, solid)), sub(gravity, one)), nil
}

// Gravity gives the specific gravity of so much water and dry material:
// (dry + water)/(dry/G + water).
func Gravity(water, dry, solid *big.Rat) (*big.Rat, error) {
	if water.Sign() < 0 {
		return nil, text.Kind(ErrAmount, text.Refuse("slip.water-negative"))
	}
	if err := positive(dry, text.Refuse("slip.no-dry")); err != nil {
		return nil, err
	}
	if solid.Cmp(one) <= 0 {
		return nil, check(one, solid)
	}
	volume := quo(dry, solid)
	volume.Add(volume, water)
	return quo(new(big.Rat).Add(dry, water), volume), nil
}

// Thin gives the litres of water that bring so many litres of slip from one
// gravity down to another: V·(s1 - s2)/(s2 - 1).
func Thin(litres, from, to *big.Rat) (*big.Rat, error) {
	if err := positive(litres, text.Refuse("slip.no-volume")); err != nil {
		return nil, err
	}
	switch {
	case to.Cmp(one) <= 0:
		return nil, text.Kind(ErrGravity, text.Refuse("slip.to-water", text.Number("gravity", to.FloatString(3))))
	case to.Cmp(from) >= 0:
		return nil, text.Kind(ErrGravity, text.Refuse("slip.not-thinner", text.Number("from", from.FloatString(3)), text.Number("to", to.FloatString(3))))
	}
	return quo(mul(litres, sub(from, to)), sub(to, one)), nil
}

// ByVolume gives the gravity of a sample from its net grams and its volume in
// millilitres, as a cylinder or a syringe holds it. With a temperature in °C
// the water it is compared with has that temperature; without one (nil) a
// millilitre of water is taken as a gram, which is 0.2 % off at 20 °C.
func ByVolume(grams, millilitres, celsius *big.Rat) (*big.Rat, error) {
	if err := errors.Join(positive(grams, text.Refuse("slip.no-weight")), positive(millilitres, text.Refuse("slip.no-volume"))); err != nil {
		return nil, err
	}
	g := quo(grams, millilitres)
	if celsius == nil {
		return g, nil
	}
	d, err := WaterDensity(celsius)
	if err != nil {
		return nil, err
	}
	return g.Quo(g, d.Quo(d, thousand)), nil
}

// ByBottle gives the gravity from the net weights of any one vessel filled with
// slip and with water (T. Wirt, Clayart 12 April 1996, potters.org/subject08383).
func ByBottle(slip, water *big.Rat) (*big.Rat, error) {
	if err := errors.Join(positive(slip, text.Refuse("slip.no-slip")), positive(water, text.Refuse("slip.no-water"))); err != nil {
		return nil, err
	}
	return quo(slip, water), nil
}

// ImperialPint turns the ounces that an imperial pint of slip weighs into
// gravity: P/20, for a pint of water weighs 20 ounces (from memory; Hamer,
// Rhodes). A US pint weighs 16.66, so less than 20, which only a US pint or no
// slip at all gives, is refused.
func ImperialPint(ounces *big.Rat) (*big.Rat, error) {
	twenty := big.NewRat(20, 1)
	if ounces.Cmp(twenty) < 0 {
		return nil, text.Kind(ErrAmount, text.Refuse("slip.pint", text.Number("ounces", ounces.FloatString(2))))
	}
	return quo(ounces, twenty), nil
}

// USPint is the same for a US liquid pint, against water at 20 °C: an ounce is
// 28.349523125 g (NIST Handbook 44, Appendix C).
func USPint(ounces *big.Rat) (*big.Rat, error) {
	return ByVolume(mul(ounces, big.NewRat(28349523125, 1_000_000_000)), USPintMl, big.NewRat(20, 1))
}

// The pints in millilitres: imperial by the Weights and Measures Act 1985, Schedule 1;
// US liquid by NIST Handbook 44, Appendix C.
var (
	ImperialPintMl = big.NewRat(56826125, 100000)
	USPintMl       = big.NewRat(473176473, 1000000)
)

// The moduli of Baumé's scale for liquids heavier than water: in the United States, at
// 60 °F (Marks' Standard Handbook for Mechanical Engineers, as quoted at engineersedge.com);
// the rational one of Europe, at 15 °C (from memory).
var (
	USModulus       = big.NewRat(145, 1)
	RationalModulus = big.NewRat(1443, 10)
)

// Baume turns degrees Baumé of the United States for liquids heavier than water into
// gravity: 145/(145 - °Bé).
func Baume(degrees *big.Rat) (*big.Rat, error) { return baume(degrees, USModulus) }

// RationalBaume is the same by the scale of Europe: 144.3/(144.3 - °Bé).
func RationalBaume(degrees *big.Rat) (*big.Rat, error) { return baume(degrees, RationalModulus) }

// ToBaume gives the degrees of a gravity: m - m/gravity.
func ToBaume(gravity, modulus *big.Rat) *big.Rat { return sub(modulus, quo(modulus, gravity)) }

func baume(degrees, m *big.Rat) (*big.Rat, error) {
	if degrees.Sign() < 0 || degrees.Cmp(m) >= 0 {
		return nil, text.Kind(ErrAmount, text.Refuse("slip.baume", text.Number("degrees", degrees.FloatString(1))))
	}
	return quo(m, sub(m, degrees)), nil
}

// Twaddell turns degrees Twaddell into gravity: 1 + 0.005·°Tw (from memory).
func Twaddell(degrees *big.Rat) (*big.Rat, error) {
	if degrees.Sign() < 0 {
		return nil, text.Kind(ErrAmount, text.Refuse("slip.twaddell", text.Number("degrees", degrees.FloatString(1))))
	}
	return new(big.Rat).Add(one, quo(degrees, big.NewRat(200, 1))), nil
}

// The Tanaka formula for the density of air-free water: M. Tanaka and others,
// Metrologia 2001, 38, 301, adopted by the CIPM; coefficients from memory. It
// agrees with handbook values within 0.002 kg/m³ from 10 to 30 °C.
var tanaka = func() (a [5]*big.Rat) {
	for i, s := range []string{"3.983035", "301.797", "522528.9", "69.34881", "999.974950"} {
		a[i], _ = new(big.Rat).SetString(s)
	}
	return a
}()

// WaterDensity gives the density of water in kg/m³ at 0 to 40 °C:
// 999.97495·(1 - (t - 3.983035)²(t + 301.797)/(522528.9(t + 69.34881))).
func WaterDensity(celsius *big.Rat) (*big.Rat, error) {
	if celsius.Sign() < 0 || celsius.Cmp(big.NewRat(40, 1)) > 0 {
		return nil, text.Kind(ErrAmount, text.Refuse("slip.temperature", text.Number("celsius", celsius.FloatString(1))))
	}
	off := sub(celsius, tanaka[0])
	num := mul(mul(off, off), new(big.Rat).Add(celsius, tanaka[1]))
	den := mul(tanaka[2], new(big.Rat).Add(celsius, tanaka[3]))
	return mul(tanaka[4], sub(one, num.Quo(num, den))), nil
}

// DryBasis turns moisture in percent of the total into percent of the dry mass:
// 100w/(100 - w) (kenkidryer.com, About moisture contents 1).
func DryBasis(wet *big.Rat) (*big.Rat, error) {
	if wet.Sign() < 0 || wet.Cmp(hundred) >= 0 {
		return nil, text.Kind(ErrAmount, text.Refuse("slip.wet-basis", text.Share("share", wet.FloatString(2))))
	}
	return quo(mul(hundred, wet), sub(hundred, wet)), nil
}

// WetBasis turns moisture in percent of the dry mass into percent of the total:
// 100b/(100 + b).
func WetBasis(dry *big.Rat) (*big.Rat, error) {
	if dry.Sign() < 0 {
		return nil, text.Kind(ErrAmount, text.Refuse("slip.dry-basis", text.Share("share", dry.FloatString(2))))
	}
	return quo(mul(hundred, dry), new(big.Rat).Add(hundred, dry)), nil
}

// Moist gives what to weigh of a moist material to have so much of it dry; the
// moisture is in percent of the total (wet basis).
func Moist(dry, wet *big.Rat) (*big.Rat, error) {
	b, err := DryBasis(wet)
	if err != nil {
		return nil, err
	}
	return mul(dry, b.Add(one, b.Quo(b, hundred))), nil
}

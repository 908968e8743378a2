package calc

import (
	"fmt"
	"math/big"

	"tared/session/slip"
	"tared/session/text"
)

// runBaume reads degrees of either scale for liquids heavier than water.
func runBaume(g given) (Answer, error) {
	if d, ok := g["rational_baume"]; ok {
		return fromDegrees(slip.RationalBaume, d.rat, func(degrees, gravity text.Value) text.Message { return says("calc.rational-baume", degrees, gravity) })
	}
	return fromDegrees(slip.Baume, g["baume"].rat, func(degrees, gravity text.Value) text.Message { return says("calc.baume", degrees, gravity) })
}

func runTwaddell(g given) (Answer, error) {
	return fromDegrees(slip.Twaddell, g["twaddell"].rat, func(degrees, gravity text.Value) text.Message { return says("calc.twaddell", degrees, gravity) })
}

func fromDegrees(to func(*big.Rat) (*big.Rat, error), degrees *big.Rat, words func(degrees, gravity text.Value) text.Message) (Answer, error) {
	gravity, err := to(degrees)
	if err != nil {
		return Answer{}, err
	}
	a := Answer{Words: words(plain(degrees), plain(gravity))}
	a.number("gravity", gravity)
	return a, nil
}

// runPint weighs a pint, whose country is in the key: the same words differ by a fifth.
func runPint(g given) (Answer, error) {
	weight, pint := g["imperial_pint"].mass, slip.ImperialPintMl
	if g.has("us_pint") {
		weight, pint = g["us_pint"].mass, slip.USPintMl
	}
	density := quo(weight.Rat(), pint)
	water, err := slip.WaterDensity(big.NewRat(20, 1))
	if err != nil {
		return Answer{}, err
	}
	gravity := quo(mul(density, litre), water)
	var a Answer
	if g.has("us_pint") {
		a.Words = says("calc.us-pint", plain(pint), show(weight), plain(density), plain(gravity))
		a.note("calc.imperial-only")
	} else {
		a.Words = says("calc.imperial-pint", plain(pint), show(weight), plain(density), plain(gravity))
		a.note("calc.ounces-over-20")
	}
	a.number("density_g_per_ml", density)
	a.number("gravity", gravity)
	return a, nil
}

// runGravity says the same of a gravity in each of them.
func runGravity(g given) (Answer, error) {
	d := g["gravity"].rat
	var a Answer
	us, rational, tw := slip.ToBaume(d, slip.USModulus), slip.ToBaume(d, slip.RationalModulus), mul(sub(d, one), big.NewRat(200, 1))
	a.Words = says("calc.a-specific-gravity-of-is", plain(d), plain(us), plain(rational), plain(tw))
	a.number("baume", us)
	a.number("rational_baume", rational)
	a.number("twaddell", tw)
	return a, nil
}

func runSieve(g given) (Answer, error) {
	for key, standard := range map[string]string{"us": slip.US, "british": slip.British, "tyler": slip.Tyler} {
		if !g.has(key) {
			continue
		}
		um, err := slip.Opening(int(g[key].n), standard)
		if err != nil {
			return Answer{}, refuse(key, g[key].text, "calc.is", err)
		}
		var a Answer
		a.Words = says("calc.a-sieve-no-has-openings", standard, fmt.Sprint(g[key].n), fmt.Sprint(um))
		a.note("calc.other-standard")
		a.put("opening_um", fmt.Sprint(um))
		return a, nil
	}
	return Answer{}, text.Failed("calc.no-number-of-a-sieve")
}

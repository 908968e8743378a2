package calc

import (
	"fmt"
	"math/big"

	"tared/session/slip"
)

// runBaume reads degrees of either scale for liquids heavier than water.
func runBaume(g given) (Answer, error) {
	to, degrees, scale := slip.Baume, g["baume"].rat, "Baumé of the United States, modulus 145"
	if g.has("rational_baume") {
		to, degrees, scale = slip.RationalBaume, g["rational_baume"].rat, "rational Baumé of Europe, modulus 144.3"
	}
	return fromDegrees(to, degrees, scale)
}

func runTwaddell(g given) (Answer, error) {
	return fromDegrees(slip.Twaddell, g["twaddell"].rat, "Twaddell")
}

func fromDegrees(to func(*big.Rat) (*big.Rat, error), degrees *big.Rat, scale string) (Answer, error) {
	gravity, err := to(degrees)
	if err != nil {
		return Answer{}, err
	}
	var a Answer
	a.Words = fmt.Sprintf("%s° (%s) is a specific gravity of %s.", plain(degrees), scale, plain(gravity))
	a.number("gravity", gravity)
	return a, nil
}

// runPint weighs a pint, whose country is in the key: the same words differ by a fifth.
func runPint(g given) (Answer, error) {
	weight, pint, country := g["imperial_pint"].mass, slip.ImperialPintMl, "imperial"
	if g.has("us_pint") {
		weight, pint, country = g["us_pint"].mass, slip.USPintMl, "US"
	}
	density := quo(weight.Rat(), pint)
	water, err := slip.WaterDensity(big.NewRat(20, 1))
	if err != nil {
		return Answer{}, err
	}
	gravity := quo(mul(density, litre), water)
	var a Answer
	a.Words = fmt.Sprintf("An %s pint of %s ml that weighs %s is %s g/ml, a specific gravity of %s (water at 20 °C).", country, plain(pint), show(weight), plain(density), plain(gravity))
	if country == "imperial" {
		a.Notes = []string{"The workshop's ounces over 20 come out some 0.04 % higher than that: an imperial pint of water weighs 20.009 oz."}
	} else {
		a.Words = "A" + a.Words[2:]
		a.Notes = []string{"Ounces over 20 are for the imperial pint only; a US pint of water weighs 16.66 oz."}
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
	a.Words = fmt.Sprintf("A specific gravity of %s is %s° Baumé in the United States, %s° rational Baumé in Europe and %s° Twaddell.", plain(d), plain(us), plain(rational), plain(tw))
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
			return Answer{}, refuse(key, g[key].text, "%v", err)
		}
		var a Answer
		a.Words = fmt.Sprintf("A %s sieve no. %d has openings of %d µm.", standard, g[key].n, um)
		a.Notes = []string{"The same number means another opening in each standard: 30 is 600 µm in the US and 500 µm in Britain. It is looked up, for the wires have a thickness."}
		a.put("opening_um", fmt.Sprint(um))
		return a, nil
	}
	return Answer{}, fmt.Errorf("no number of a sieve")
}

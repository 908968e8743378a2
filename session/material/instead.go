package material

import (
	"math/big"

	"tared/protocol"
	"tared/session/text"
)

// Exchange is how much of one material stands for another.
type Exchange struct {
	Out, In Material
	Factor  *big.Rat // grams of In for one gram of Out
	U       *big.Rat // of Factor
	Metal   string   // that both carry; empty: it goes by what the fire leaves
}

// Instead says how much of one material stands for another: by the one metal that both
// carry, so a hydrate stands for what is dry and a carbonate for an oxide, or else by what
// the fire leaves of each, so what is calcined stands for what is raw; false where that is
// weight for weight, or where the table does not know. It goes by the formulas as sold, with
// the atomic weights of IUPAC, 2021. U is by how much the bags of either differ, where the
// table has that, and never less than the last digit shown.
func Instead(out, in Material) (Exchange, bool) {
	x := Exchange{Out: out, In: in}
	a, err := ParseFormula(out.Formula)
	b, err2 := ParseFormula(in.Formula)
	if err != nil || err2 != nil {
		return x, false
	}
	one := big.NewRat(1, 1)
	if x.Factor, err = Convert(a, b); err == nil {
		x.Metal, _ = a.Metal()
		x.U = x.open()
		return x, x.Factor.Cmp(one) != 0
	}
	lost, ok := out.Loss()
	loses, ok2 := in.Loss()
	if !ok || !ok2 || lost.Cmp(loses) == 0 || loses.Cmp(one) >= 0 {
		return x, false
	}
	x.Factor = new(big.Rat).Quo(new(big.Rat).Sub(one, lost), new(big.Rat).Sub(one, loses))
	x.U = x.open()
	return x, true
}

// lastDigit is that of a factor as it is shown.
var lastDigit = big.NewRat(1, 1000)

// open is U of the factor: the bags of the two differ apart from each other.
func (x Exchange) open() *big.Rat {
	sum := new(big.Rat)
	for _, m := range []Material{x.Out, x.In} {
		low, ok := new(big.Rat).SetString(m.Metal.Low)
		high, ok2 := new(big.Rat).SetString(m.Metal.High)
		if x.Metal == "" || !ok || !ok2 || low.Sign() <= 0 {
			continue
		}
		half := new(big.Rat).Sub(high, low)
		half.Quo(half, low.Add(low, high))
		sum.Add(sum, half.Mul(half, half))
	}
	root := new(big.Float).SetRat(sum)
	u, _ := root.Sqrt(root).Rat(nil)
	if u = u.Mul(u, x.Factor); u.Cmp(lastDigit) < 0 {
		return lastDigit
	}
	return u
}

// For gives how much of In stands for so much of Out, with its U.
func (x Exchange) For(m protocol.Mass) (in, u protocol.Mass) {
	in, err := protocol.RoundRat(new(big.Rat).Mul(m.Rat(), x.Factor))
	u, err2 := protocol.RoundRat(new(big.Rat).Mul(m.Rat(), x.U))
	if err != nil || err2 != nil {
		return 0, 0
	}
	return in, u
}

// Says tells it, for one gram and for so much; 0: for one gram alone.
func (x Exchange) Says(m protocol.Mass) []text.Message {
	per, perU := x.For(protocol.Gram)
	var all []text.Message
	if x.Metal != "" {
		all = append(all, text.New("material.instead-metal", text.Name("out", x.Out.Name), text.Name("in", x.In.Name), text.Mass("mass", per, min(perU.Digits(), 3)), text.Grams("u", perU.Doubt()), text.Name("metal", x.Metal)))
	} else {
		share := func(m Material) string {
			r, _ := m.Loss()
			return r.Mul(r, big.NewRat(100, 1)).FloatString(1)
		}
		all = append(all, text.New("material.instead-fired", text.Name("out", x.Out.Name), text.Name("in", x.In.Name), text.Mass("mass", per, min(perU.Digits(), 3)), text.Grams("u", perU.Doubt()), text.Share("lost", share(x.Out)), text.Share("loses", share(x.In))))
	}
	if in, u := x.For(m); in > 0 {
		all = append(all, text.New("material.instead-for", text.Name("out", x.Out.Name), text.Name("in", x.In.Name), text.Exact("amount", m, 0), text.Known("mass", in, u), text.Grams("u", u.Doubt())))
	}
	return all
}

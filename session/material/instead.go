package material

import (
	"math/big"

	"tared/session/text"
)

// Instead says how far two materials differ weight for weight: by the one metal that both
// carry, so a hydrate stands for what is dry, or else by what the fire leaves of each; false
// where they do not, or where the table does not know. It goes by the formula as sold.
func Instead(out, in Material) (text.Message, bool) {
	a, err := ParseFormula(out.Formula)
	b, err2 := ParseFormula(in.Formula)
	if err != nil || err2 != nil {
		return text.Message{}, false
	}
	one := big.NewRat(1, 1)
	if f, err := Convert(a, b); err == nil {
		metal, _ := a.Metal()
		return text.New("material.instead-metal", text.Name("out", out.Name), text.Name("in", in.Name), text.Grams("mass", f.FloatString(3)), text.Name("metal", metal)), f.Cmp(one) != 0
	}
	lost, ok := out.Loss()
	loses, ok2 := in.Loss()
	if !ok || !ok2 || lost.Cmp(loses) == 0 || loses.Cmp(one) >= 0 {
		return text.Message{}, false
	}
	f := new(big.Rat).Quo(new(big.Rat).Sub(one, lost), new(big.Rat).Sub(one, loses))
	share := func(r *big.Rat) string { return r.Mul(r, big.NewRat(100, 1)).FloatString(1) }
	return text.New("material.instead-fired", text.Name("out", out.Name), text.Name("in", in.Name), text.Grams("mass", f.FloatString(3)), text.Share("lost", share(lost)), text.Share("loses", share(loses))), true
}

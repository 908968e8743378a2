package fact

import (
	"math/big"

	"tared/session/recipe"
)

// Is reports whether a material is one of the two.
func (s Swap) Is(material string) bool {
	k := recipe.Key(material)
	return s.Out != "" && (recipe.Key(s.Out) == k || recipe.Key(s.In) == k)
}

// OfWhole turns a share of the base that is in the tub into one of the whole base of
// a cup, both in percent. A share that is no number stays as it is.
func (s Swap) OfWhole(share string) string {
	r, ok := new(big.Rat).SetString(share)
	both, swapped := new(big.Rat).SetString(s.Share)
	if !ok || !swapped || s.Out == "" || s.Addition {
		return share
	}
	hundred := big.NewRat(100, 1)
	r.Mul(r, both.Sub(hundred, both))
	return r.Quo(r, hundred).RatString()
}

package recipe

import (
	"errors"
	"math/big"
	"sort"
	"strconv"

	"tared/protocol"
	"tared/session/text"
)

// ErrShares says that shares cannot be apportioned: none, a negative one, or
// all of them zero.
var ErrShares = errors.New("shares that cannot be divided up")

// Apportion divides total whole units among the shares so that the parts add
// up to total exactly and none is off by a whole unit. Each part is cut to
// whole units first; the spare ones go to the largest remainders, to the
// earlier share where two are alike.
func Apportion(total int64, shares []*big.Rat) ([]int64, error) {
	sum := new(big.Rat)
	for i, s := range shares {
		if s == nil || s.Sign() < 0 {
			return nil, text.Kind(ErrShares, text.Refuse("recipe.share-negative", text.Number("number", strconv.Itoa(i+1))))
		}
		sum.Add(sum, s)
	}
	if sum.Sign() == 0 {
		return nil, text.Kind(ErrShares, text.Refuse("recipe.shares-none"))
	}
	if total < 0 {
		return nil, text.Kind(ErrShares, text.Refuse("recipe.total-negative"))
	}
	parts := make([]int64, len(shares))
	rest := make([]*big.Rat, len(shares))
	order := make([]int, len(shares))
	spare := total
	unit := new(big.Rat).Quo(new(big.Rat).SetInt64(total), sum)
	q := new(big.Int)
	for i, s := range shares {
		exact := new(big.Rat).Mul(s, unit)
		q.Quo(exact.Num(), exact.Denom())
		parts[i] = q.Int64()
		rest[i] = exact.Sub(exact, new(big.Rat).SetInt(q))
		spare -= parts[i]
		order[i] = i
	}
	sort.SliceStable(order, func(a, b int) bool { return rest[order[a]].Cmp(rest[order[b]]) > 0 })
	for _, i := range order[:spare] {
		parts[i]++
	}
	return parts, nil
}

// LargestRemainder writes shares as percentages with the given number of
// decimals that add up to 100 exactly, whatever the shares add up to. Plain
// rounding would not: 30, 25, 20, 30, 10 would give 100.01.
func LargestRemainder(shares []*big.Rat, places int) ([]protocol.Decimal, error) {
	if places < 0 || places > 15 {
		return nil, text.Refuse("recipe.places", text.Number("places", strconv.Itoa(places)))
	}
	total := int64(100)
	for range places {
		total *= 10
	}
	parts, err := Apportion(total, shares)
	if err != nil {
		return nil, err
	}
	ds := make([]protocol.Decimal, len(parts))
	for i, p := range parts {
		ds[i] = protocol.Decimal{Coef: uint64(p), Places: uint8(places)}
	}
	return ds, nil
}

package book

import (
	"cmp"
	"math/big"

	"tared/session/batch"
	"tared/session/fact"
)

// bags fills in where the lines came from and sums up what they cost. A price is
// that of the lot when the batch was planned.
func (n *Batch) bags(lines []Line) *Cost {
	if len(n.Plan.Lots) == 0 {
		return nil
	}
	c := &Cost{}
	var order []string
	sums := map[string]*big.Rat{}
	materials := n.Materials()
	for i := range lines {
		l := &lines[i]
		b := batch.LotOf(n.Plan.Lots, l.Material)
		if b != (fact.LotUsed{}) && l.As == "" {
			l.Bag = &Bag{Lot: b.Lot, Supplier: b.Supplier, Moisture: b.Moisture, Price: b.Price, Currency: b.Currency}
		} else if l.Diluted != nil && l.Diluted.Lot != "" {
			l.Bag = &Bag{Lot: l.Diluted.Lot}
		}
		taken := n.OutOfBags(materials[i])
		if taken <= 0 {
			continue
		}
		price, known := new(big.Rat).SetString(b.Price)
		if !known || l.As != "" {
			c.Missing = append(c.Missing, cmp.Or(l.As, l.Material))
			continue
		}
		l.Bag.Taken = &Amount{taken, l.Delivered.Places}
		cost := price.Mul(price, taken.Rat())
		cost.Quo(cost, big.NewRat(1000, 1))
		l.Bag.Cost = cost.FloatString(2)
		if sums[b.Currency] == nil {
			order = append(order, b.Currency)
			sums[b.Currency] = new(big.Rat)
		}
		sums[b.Currency].Add(sums[b.Currency], cost)
	}
	for _, currency := range order {
		c.Sums = append(c.Sums, Sum{sums[currency].FloatString(2), currency})
	}
	if len(c.Sums) == 0 {
		return nil // nobody keeps prices here
	}
	return c
}

package book

import (
	"fmt"
	"math/big"
	"slices"
	"strings"

	"tared/session/batch"
	"tared/session/fact"
	"tared/session/text"
)

// Bag is the lot that a material of a batch came from, and what it cost.
type Bag struct {
	Lot      string  `json:"lot,omitempty"`
	Supplier string  `json:"supplier,omitempty"`
	Moisture string  `json:"moisture_percent,omitempty"`
	Price    string  `json:"price_per_kg,omitempty"`
	Currency string  `json:"currency,omitempty"`
	Taken    *Amount `json:"taken,omitempty"` // out of the lot, with what stayed in mixing cups
	Cost     string  `json:"cost,omitempty"`  // two decimals
}

// String tells where it came from and what it cost: "lot L1 (Q-2217), 0.31 EUR".
func (b Bag) String() string {
	var all []string
	if b.Lot != "" {
		s := "lot " + b.Lot
		if b.Supplier != "" {
			s += " (" + b.Supplier + ")"
		}
		all = append(all, s)
	}
	if b.Cost != "" {
		all = append(all, Sum{b.Cost, b.Currency}.String())
	}
	return strings.Join(all, ", ")
}

// Cost is what the materials of a batch cost, by what was really taken.
type Cost struct {
	Sums    []Sum    `json:"sums"`              // one for each currency
	Missing []string `json:"missing,omitempty"` // materials whose price is not known
}

// Sum is an amount of money.
type Sum struct {
	Amount   string `json:"amount"` // two decimals
	Currency string `json:"currency,omitempty"`
}

// String writes the amount with its currency.
func (s Sum) String() string {
	if s.Currency == "" {
		return s.Amount
	}
	return s.Amount + " " + s.Currency
}

// WithoutPrices is the batch for somebody who need not know what its materials
// cost.
func (n *Batch) WithoutPrices() *Batch {
	c := *n
	c.Batch = n.Clone()
	c.Plan.Lots = slices.Clone(n.Plan.Lots)
	for i := range c.Plan.Lots {
		c.Plan.Lots[i].Price, c.Plan.Lots[i].Currency = "", ""
	}
	return &c
}

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
		}
		taken := n.OutOfBags(materials[i])
		if taken <= 0 {
			continue
		}
		price, known := new(big.Rat).SetString(b.Price)
		if !known || l.As != "" {
			c.Missing = append(c.Missing, cmpOr(l.As, l.Material))
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

// bagWords say what a reader should know of its recipe, of moisture and money.
func (n *Batch) bagWords(m Made, say func(text.Message)) {
	if m.Kept != "" {
		say(text.New("record.kept", text.Name("recipe", m.Kept)))
	}
	for _, l := range m.Lines {
		b := batch.LotOf(n.Plan.Lots, l.Material)
		switch {
		case l.Dry != nil:
			say(text.New("record.moist", text.Name("material", l.Material), text.Share("moisture", l.Bag.Moisture), text.Mass("weighed", l.Delivered.Mass, l.Delivered.Places), text.Mass("dry", l.Dry.Mass, l.Dry.Places)))
		case b.Moisture != "" && l.As != "":
			say(text.New("record.moisture-unknown", text.Name("material", l.As)))
		}
	}
	if c := m.Cost; c != nil {
		var all []string
		for _, s := range c.Sums {
			all = append(all, s.String())
		}
		if n.Plan.Series.Of != "" {
			say(text.New("record.cost-cup", text.Names("sums", all)))
		} else {
			say(text.New("record.cost", text.Names("sums", all)))
		}
		if len(c.Missing) > 0 {
			say(text.New("record.cost-missing", text.Names("materials", c.Missing)))
		}
	}
}

// weighedOf gives a line's weighed and dry mass for a table.
func weighedOf(l Line) string {
	if l.Dry == nil {
		return l.Delivered.String()
	}
	return fmt.Sprintf("%s (%s dry)", l.Delivered, l.Dry)
}

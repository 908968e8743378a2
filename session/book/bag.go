package book

import (
	"fmt"
	"math/big"
	"slices"
	"strings"

	"tared/protocol"
	"tared/session/fact"
	"tared/session/sheet"
)

// bagOf gives where a material of a batch came from; the zero value: not known.
func bagOf(lots []fact.LotUsed, material string) fact.LotUsed {
	if i := slices.IndexFunc(lots, func(l fact.LotUsed) bool { return l.Material == material }); i >= 0 {
		return lots[i]
	}
	return fact.LotUsed{}
}

// Moisten tells what went in how moist it was: that of the lot it was planned
// from. Of what went in instead of it nothing is known, and it counts as dry.
func Moisten(lines []fact.Line, went []Went, lots []fact.LotUsed) []Went {
	for i, l := range lines {
		if w, ok := new(big.Rat).SetString(bagOf(lots, l.Material).Moisture); ok && i < len(went) && went[i].As == "" {
			went[i].Moisture = w
		}
	}
	return went
}

// Dry gives a weighed amount of a material of a batch without its moisture.
func Dry(lots []fact.LotUsed, material string, weighed protocol.Mass) protocol.Mass {
	w, _ := new(big.Rat).SetString(bagOf(lots, material).Moisture)
	return sheet.Dried(weighed, w)
}

// dried is what went in as the recipe counts it. The moisture is taken as exact,
// so U shrinks with the mass.
func (w Went) dried() Went {
	w.Delivered, w.U = sheet.Dried(w.Delivered, w.Moisture), sheet.Dried(w.U, w.Moisture)
	return w
}

// Dry is what of it is dry.
func (w Went) Dry() protocol.Mass { return w.dried().Delivered }

func driedAll(went []Went) []Went {
	out := make([]Went, len(went))
	for i, w := range went {
		out[i] = w.dried()
	}
	return out
}

// dryOf is Dry of a line; almost always it is all that went in.
func (n *Batch) dryOf(l *line) protocol.Mass {
	if len(n.Plan.Lots) == 0 || l.as != "" {
		return l.delivered
	}
	return Dry(n.Plan.Lots, l.Material, l.delivered)
}

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

// taken gives what was taken out of the bags for a line: what went in and what
// stayed in a mixing cup; in a cup of a series its part of the tub.
func (n *Batch) taken(l line) protocol.Mass {
	m := l.delivered
	for _, x := range n.Plan.Mixes {
		if x.From != "" {
			continue
		}
		// What the mixture brought is in delivered; in the cup was more.
		had := map[string]Went{}
		for _, p := range x.Parts {
			st := n.step(p.Step.Material)
			had[p.Step.Material] = Went{Delivered: st.delivered}
			if p.Material == l.Material {
				m += st.delivered
			}
		}
		had[x.Take.Material] = Went{Delivered: n.step(x.Take.Material).delivered}
		m -= Fold([]fact.Line{l.Line}, []fact.Mix{x}, had)[0].Delivered
	}
	return m
}

// WithoutPrices is the batch for somebody who need not know what its materials
// cost.
func (n *Batch) WithoutPrices() *Batch {
	c := *n
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
	folded := n.folded()
	for i := range lines {
		l := &lines[i]
		b := bagOf(n.Plan.Lots, l.Material)
		if b != (fact.LotUsed{}) && l.As == "" {
			l.Bag = &Bag{Lot: b.Lot, Supplier: b.Supplier, Moisture: b.Moisture, Price: b.Price, Currency: b.Currency}
		}
		taken := n.taken(folded[i])
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
func (n *Batch) bagWords(m Made, say func(string, ...any)) {
	if m.Kept != "" {
		say("Its recipe is kept: %s.", m.Kept)
	}
	for _, l := range m.Lines {
		b := bagOf(n.Plan.Lots, l.Material)
		switch {
		case l.Dry != nil:
			say("%s had %s %% of moisture: of the %s g weighed %s g are dry, and those count. The moisture is taken as it was given.", l.Material, l.Bag.Moisture, l.Delivered, l.Dry)
		case b.Moisture != "" && l.As != "":
			say("How moist the %s was is not known: it counts as dry.", l.As)
		}
	}
	if c := m.Cost; c != nil {
		var all []string
		for _, s := range c.Sums {
			all = append(all, s.String())
		}
		words := "The materials cost " + and(all) + " by what was taken from the bags"
		if n.Plan.Series.Of != "" {
			words = "Its part of the tub and its own additions cost " + and(all)
		}
		if len(c.Missing) > 0 {
			words += "; the price of " + and(c.Missing) + " is not known and not in it"
		}
		say("%s.", words)
	}
}

// weighedOf gives a line's weighed and dry mass for a table.
func weighedOf(l Line) string {
	if l.Dry == nil {
		return l.Delivered.String()
	}
	return fmt.Sprintf("%s (%s dry)", l.Delivered, l.Dry)
}

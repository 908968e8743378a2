package session

import (
	"crypto/sha256"
	"encoding/hex"
	"math/big"
	"slices"
	"strings"

	"tared/protocol"
	"tared/session/batch"
	"tared/session/doubt"
	"tared/session/fact"
	"tared/session/recipe"
	"tared/session/sheet"
	"tared/session/text"
)

func planned(sh sheet.Sheet, written string, scales []sheet.Scale, simulated bool) fact.Planned {
	sum := sha256.Sum256([]byte(written))
	p := fact.Planned{Title: sh.Title, Recipe: written, RecipeHash: hex.EncodeToString(sum[:]), Base: sh.Base, Dry: sh.Dry,
		Allowed: map[string]string{}, Simulated: simulated, Rule: doubt.Simple}
	for role, a := range sh.Allow {
		p.Allowed[string(role)] = allowText(a)
	}
	for name, a := range sh.AllowFor {
		p.Allowed[name] = allowText(a)
	}
	for _, l := range sh.Lines {
		p.Lines = append(p.Lines, placed(l))
	}
	for _, l := range sh.Lines {
		if l.Aliquot != nil {
			p.Mixes = append(p.Mixes, mixture(l, scales))
		}
	}
	if sh.Water != nil {
		p.Water = batch.LineFrom(*sh.Water)
	}
	p.Series, p.Lots = cups(sh, written, scales), lotsUsed(sh)
	for _, s := range scales {
		f := fact.Scale{Name: s.Name, Port: s.Port, Identity: s.Identity, Format: s.Format, Step: s.Step, Max: s.Max, Spread: s.Spread, Eye: s.Eye, Gauge: s.Gauge}
		f.Assumed = s.Spread == 0 && !s.Measured
		if s.Unit != protocol.UnitGram {
			f.Unit = s.Unit
		}
		p.Scales = append(p.Scales, f)
	}
	return p
}

func lotsUsed(sh sheet.Sheet) []fact.LotUsed {
	var out []fact.LotUsed
	for _, l := range sh.Lots {
		out = append(out, fact.LotUsed{Material: l.Material, Lot: l.Lot, Supplier: l.Supplier, Moisture: l.Moisture, Price: l.Price, Currency: l.Currency, Has: l.Has})
	}
	return out
}

// mixture is an aliquot as its three weighings, or as the one that takes a part of what was
// kept. Their names are what the record and the bench call them by.
func mixture(l sheet.Line, scales []sheet.Scale) fact.Mix {
	a := l.Aliquot
	on := slices.IndexFunc(scales, func(s sheet.Scale) bool { return s.Name == a.Scale })
	weigh, dilute, take := l.Bench(scales[on])
	weigh.Material = text.New("plan.cup-weighed", text.Name("material", a.Material)).String()
	dilute.Material = text.New("plan.cup-carrier", text.Name("carrier", a.Carrier), text.Name("material", a.Material)).String()
	take.Material = a.Name()
	if k := a.Kept; k != nil {
		m := fact.Mix{Lot: k.Lot, Left: k.Left, Take: batch.LineFrom(take)}
		if k.Mixing != nil {
			m.Mixing = k.Mixing.RatString()
		}
		for i, name := range []string{a.Material, a.Carrier} {
			m.Parts = append(m.Parts, fact.MixPart{Material: name, Mass: k.Parts[i].Mass, U: k.Parts[i].U, On: k.Parts[i].On})
		}
		return m
	}
	w, d := batch.LineFrom(weigh), batch.LineFrom(dilute)
	d.Role = string(sheet.Base)
	return fact.Mix{Mixing: a.Mixing().RatString(), Take: batch.LineFrom(take), Parts: []fact.MixPart{{Material: a.Material, Step: w}, {Material: a.Carrier, Step: d}}}
}

// placed is a material of a plan as a line of the fact. Where its role does not tell
// on which side of the 100 the recipe has it, the line does.
func placed(l sheet.Line) fact.Line {
	f := batch.LineFrom(l)
	switch {
	case l.Addition && l.Role == sheet.Base:
		f.Place = "top"
	case !l.Addition && l.Role != sheet.Base:
		f.Place = "base"
	}
	return f
}

func allowText(a sheet.Allow) string {
	if a.Share == nil {
		return a.Fixed.Grams(0) + "g"
	}
	p := new(big.Rat).Mul(a.Share, big.NewRat(100, 1))
	return strings.TrimRight(strings.TrimRight(p.FloatString(6), "0"), ".") + "%"
}

// label says what a cup gets, for its title and for the tile.
func label(c sheet.Cup, apart *sheet.Swapped) string {
	var all []string
	for _, l := range c.Lines {
		if apart == nil || apart.In != "" || l.Material != apart.Out { // a carrier is in all of them
			all = append(all, l.Material+" "+l.Percent+" %")
		}
	}
	if len(all) == 0 {
		return text.New("plan.cup-nothing").String()
	}
	return strings.Join(all, ", ")
}

// cups is the part of a plan that says what the tub is split into.
func cups(sh sheet.Sheet, written string, scales []sheet.Scale) fact.Series {
	if len(sh.Cups) == 0 {
		return fact.Series{}
	}
	s := fact.Series{Cups: uint64(len(sh.Cups))}
	whole := func(sheet.Cup) string { return written }
	if w := sh.Swap; w != nil {
		s.Swap = fact.Swap{Out: w.Out, In: w.In, Share: w.Share.RatString(), Addition: w.Addition}
		whole = swappedText(written, *w)
	}
	for _, c := range sh.Cups {
		p := fact.CupPlan{Label: label(c, sh.Swap), Take: batch.LineFrom(c.Take), Recipe: strings.TrimRight(whole(c), "\n") + "\n"}
		if c.Water != nil {
			p.Water = batch.LineFrom(*c.Water)
		}
		for _, l := range c.Lines {
			p.Lines = append(p.Lines, placed(l))
			if l.Aliquot != nil {
				p.Mixes = append(p.Mixes, mixture(l, scales))
			}
			if s.Swap.Is(l.Material) {
				continue // the text has it
			}
			p.Recipe += "+ " + l.Material + " " + endingShare(l.Share) + "%\n"
		}
		s.Plans = append(s.Plans, p)
	}
	return s
}

// endingShare writes a share so that it can be read back: what does not end, such as
// a third, to nine decimals.
func endingShare(r *big.Rat) string {
	if s := recipe.Decimal(r, 9); !strings.Contains(s, "/") {
		return s
	}
	return r.FloatString(9)
}

// swappedText gives, for a cup, the text of the recipe with what the cup has of the
// two materials that are swapped.
func swappedText(written string, w sheet.Swapped) func(sheet.Cup) string {
	rec, err := recipe.Parse(written)
	pair, wrong := rec.Pair(w.Out, w.In)
	if err != nil || wrong != nil || pair.Out.Share.Sign() == 0 {
		return func(sheet.Cup) string { return written } // it was read when the cups were planned
	}
	return func(c sheet.Cup) string {
		left := new(big.Rat) // of Out
		for _, l := range c.Lines {
			if recipe.Key(l.Material) == recipe.Key(w.Out) {
				left = l.Share
			}
		}
		part := new(big.Rat).Sub(pair.Out.Share, left)
		return rec.Swapped(pair, part.Quo(part, pair.Out.Share)).Text
	}
}

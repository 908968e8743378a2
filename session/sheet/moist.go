package sheet

import (
	"math/big"
	"strings"

	"tared/protocol"
	"tared/session/recipe"
	"tared/session/text"
)

// A moist material is weighed with its water. The recipe counts what is dry, so
// its target is raised; bands, scales and ways out are about what is weighed.

// moist gives the moisture of line i, in percent of the whole; nil: it is dry.
func (p *planner) moist(i int) *big.Rat {
	for name, w := range p.req.Moist {
		if recipe.Key(name) == recipe.Key(p.req.Recipe.Items[i].Name) && w.Sign() > 0 {
			return w
		}
	}
	return nil
}

// Moistened gives what must be weighed of a material to have so much of it dry: with
// moisture w in percent of the whole, dry·100/(100 - w), rounded to the picogram
// (wet basis: kenkidryer.com, About moisture contents 1). A nil w is a dry one.
func Moistened(dry protocol.Mass, w *big.Rat) (protocol.Mass, error) {
	if w == nil || w.Sign() == 0 {
		return dry, nil
	}
	if err := checkMoisture(w); err != nil {
		return 0, err
	}
	g := new(big.Rat).Mul(dry.Rat(), hundred)
	return protocol.RoundRat(g.Quo(g, new(big.Rat).Sub(hundred, w)))
}

// Dried gives what of a weighed mass is dry, rounded to its grain.
func Dried(weighed protocol.Mass, w *big.Rat) protocol.Mass {
	if w == nil || w.Sign() <= 0 || checkMoisture(w) != nil {
		return weighed
	}
	g := new(big.Rat).Mul(weighed.Rat(), new(big.Rat).Sub(hundred, w))
	m, err := protocol.RoundRat(g.Quo(g, hundred))
	if err != nil { // less than weighed always fits
		return weighed
	}
	return m.Round(grain(weighed))
}

// checkMoisture refuses a moisture that cannot be: in percent of the whole it is
// from 0 to less than 100, for at 100 there is no material in it.
func checkMoisture(w *big.Rat) error {
	if w.Sign() < 0 || w.Cmp(hundred) >= 0 {
		return text.Refuse("sheet.moisture", text.Share("share", percent(w)))
	}
	return nil
}

// ReadMoisture reads a moisture that a person gave, "3.5%" or "3.5".
func ReadMoisture(s string) (*big.Rat, error) {
	d, err := protocol.ParseHumanDecimal(strings.TrimSpace(strings.TrimSuffix(strings.TrimSpace(s), "%")))
	if err != nil {
		return nil, text.Refuse("field.number", text.Said("field", text.New("field.moisture")), text.Name("value", s), text.Because("why", err), text.Name("like", "3.5%"))
	}
	w, _ := new(big.Rat).SetString(d.String())
	return w, checkMoisture(w)
}

// wetten turns the dry targets into what is weighed.
func (p *planner) wetten(sh *Sheet) error {
	water, u := new(big.Rat), protocol.Mass(0)
	for i := range p.lines {
		l, w := &p.lines[i], p.moist(i)
		if w == nil {
			continue
		}
		var err error
		l.Dry, l.Moisture = l.Target, percent(w)
		if l.Target, err = Moistened(l.Dry, w); err != nil {
			return text.Refuse("sheet.of", text.Name("material", l.Material), text.Because("why", err))
		}
		u += lastDigit(w, l.Target)
		water.Add(water, new(big.Rat).Sub(l.Target.Rat(), l.Dry.Rat()))
	}
	if water.Sign() == 0 {
		return nil
	}
	m, err := protocol.RoundRat(water)
	if err != nil {
		return text.Refuse("sheet.too-large")
	}
	p.brought = m
	if sh.Slip == nil {
		return nil // a cup; its tub says so
	}
	if m > sh.Slip.Water {
		sh.Slip.Water = 0
		p.say(text.New("sheet.moist-much", text.Grams("water", m.Known(u))))
		return nil
	}
	sh.Slip.Water -= m
	p.say(text.New("sheet.moist", text.Grams("water", m.Known(u))))
	return nil
}

// lastDigit is what half of the last digit of a moisture makes of a mass: nobody measures it
// finer than it is told.
func lastDigit(w *big.Rat, of protocol.Mass) protocol.Mass {
	u, places := of/200, 0
	for n, _ := w.FloatPrec(); places < n && u > 0; places++ {
		u /= 10
	}
	return u
}

// wet is Moistened of line i for an exact amount of grams.
func (p *planner) wet(i int, dry *big.Rat) *big.Rat {
	w := p.moist(i)
	if w == nil {
		return dry
	}
	g := new(big.Rat).Mul(dry, hundred)
	return g.Quo(g, new(big.Rat).Sub(hundred, w))
}

package recipe

import (
	"fmt"
	"math/big"
	"strconv"

	"tared/session/text"
)

// Water is the first water of a recipe: so much of everything dry, additions
// too. It is no part of the hundred.
type Water struct {
	Amount  *big.Rat // as written, in Unit
	Unit    string   // "%" of everything dry, or a unit of mass
	Percent *big.Rat // of everything dry, exact
	Line    int      // in the line, from 1
	Note    string   // words behind the amount
}

// MaxWater is the most water that a recipe may ask for, in percent of everything
// dry: more than that is a wash, or a slip of the pen.
const MaxWater = 300

// isWater reports whether a name stands for the water.
func isWater(name string) bool {
	switch Key(name) {
	case "water", "first water":
		return true
	}
	return false
}

// water takes the line of the water. A bare number could be a share of the base or
// of everything dry, so it is refused.
func (p *parser) water(n int, line string, v *big.Rat, u *unit, sign string, addition bool, note string) {
	switch was := p.r.Water; {
	case was != nil:
		p.fail(n, line, text.New("recipe.water-twice", text.Number("line", strconv.Itoa(was.Line))))
	case sign == "-" || sign == "−" || sign == "–" || v.Sign() == 0:
		p.fail(n, line, text.New("recipe.water-zero"))
	case addition:
		p.fail(n, line, text.New("recipe.water-addition", text.Number("amount", Decimal(v, 12))))
	case u.name == "":
		p.fail(n, line, text.New("recipe.water-parts", text.Number("amount", Decimal(v, 12))))
	default:
		p.r.Water = &Water{Amount: v, Unit: u.name, Line: n, Note: note}
	}
}

// finishWater works out its share; sum is that of the base in grams, or nil where
// the base is in parts.
func (p *parser) finishWater(sum *big.Rat) {
	w := p.r.Water
	hundred := big.NewRat(100, 1)
	switch {
	case w == nil:
		return
	case w.Unit == "%":
		w.Percent = new(big.Rat).Set(w.Amount)
	case sum == nil:
		p.fail(w.Line, p.text(w.Line), text.New("recipe.water-mass"))
		return
	default:
		dry := new(big.Rat).Set(hundred)
		for _, it := range p.r.Items {
			if it.Addition && it.Share != nil {
				dry.Add(dry, it.Share)
			}
		}
		dry.Mul(dry, sum).Quo(dry, hundred)
		w.Percent = new(big.Rat).Mul(w.Amount, unitOf(w.Unit).grams)
		w.Percent.Mul(w.Percent, hundred).Quo(w.Percent, dry)
	}
	if w.Percent.Cmp(big.NewRat(MaxWater, 1)) > 0 {
		p.fail(w.Line, p.text(w.Line), text.New("recipe.water-most", text.Share("share", w.Percent.FloatString(0)), text.Share("most", strconv.Itoa(MaxWater))))
	}
}

// format writes the line of the water.
func (w *Water) format() string {
	if w == nil {
		return ""
	}
	a, _ := decimal(w.Amount)
	s := fmt.Sprintf("Water   %s%s", a, w.Unit)
	if w.Note != "" {
		s += "   # " + w.Note
	}
	return s + "\n"
}

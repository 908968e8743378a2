package plan

import (
	"math/big"
	"strings"

	"tared/protocol"
	"tared/session/recipe"
	"tared/session/text"
)

// water settles the first water of a wish, in percent of everything dry; nil: it
// is no step. What the wish says goes before the recipe, and that before the
// studio's habit. Asked tells that the wish said it.
func (r Request) water(rec recipe.Recipe) (percent *big.Rat, asked bool, err error) {
	read := func(what text.Message, s string) (*big.Rat, error) {
		s = strings.TrimSpace(s)
		if s == "" || strings.EqualFold(s, "none") {
			return nil, nil
		}
		t, ok := strings.CutSuffix(s, "%")
		d, err := protocol.ParseHumanDecimal(strings.TrimSpace(t))
		p, number := new(big.Rat).SetString(d.String())
		if !ok || err != nil || !number || p.Sign() <= 0 || p.Cmp(big.NewRat(recipe.MaxWater, 1)) > 0 {
			return nil, text.Refuse("plan.water", text.Said("field", what), text.Name("value", s), text.Count("most", recipe.MaxWater))
		}
		return p, nil
	}
	habit, err := read(text.New("plan.water-habit"), r.Habit)
	switch {
	case err != nil:
		return nil, false, err
	case strings.TrimSpace(r.Water) != "":
		percent, err = read(text.New("plan.water-first"), r.Water)
		return percent, true, err
	case rec.Water != nil:
		return rec.Water.Percent, false, nil
	}
	return habit, false, nil
}

// CheckWater tells what is wrong with a habit for the first water.
func CheckWater(s string) error {
	_, _, err := Request{Habit: s}.water(recipe.Recipe{})
	return err
}

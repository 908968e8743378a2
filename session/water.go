package session

import (
	"fmt"
	"math/big"
	"strings"

	"tared/protocol"
	"tared/session/book"
	"tared/session/fact"
	"tared/session/recipe"
	"tared/session/sheet"
)

// standWords tell what comes after the first water.
const standWords = "Stir the water in and let it stand overnight; then stir, sieve, and measure its gravity."

// water settles the first water of a wish, in percent of everything dry; nil: it
// is no step. What the wish says goes before the recipe, and that before the
// studio's habit. Asked tells that the wish said it.
func (r PlanRequest) water(rec recipe.Recipe) (percent *big.Rat, asked bool, err error) {
	read := func(what, s string) (*big.Rat, error) {
		s = strings.TrimSpace(s)
		if s == "" || strings.EqualFold(s, "none") {
			return nil, nil
		}
		t, ok := strings.CutSuffix(s, "%")
		d, err := protocol.ParseHumanDecimal(strings.TrimSpace(t))
		p, number := new(big.Rat).SetString(d.String())
		if !ok || err != nil || !number || p.Sign() <= 0 || p.Cmp(big.NewRat(recipe.MaxWater, 1)) > 0 {
			return nil, fmt.Errorf("%s %q: want percent of everything dry, up to %d %%, such as 85%%; or none", what, s, recipe.MaxWater)
		}
		return p, nil
	}
	habit, err := read("first water by habit", r.Habit)
	switch {
	case err != nil:
		return nil, false, err
	case strings.TrimSpace(r.Water) != "":
		percent, err = read("first water", r.Water)
		return percent, true, err
	case rec.Water != nil:
		return rec.Water.Percent, false, nil
	}
	return habit, false, nil
}

// CheckWater tells what is wrong with a habit for the first water.
func CheckWater(s string) error {
	_, _, err := PlanRequest{Habit: s}.water(recipe.Recipe{})
	return err
}

// water tells whether the step is the first water.
func (s Step) water() bool { return s.Role == string(sheet.Water) }

// waterStep gives the step of the first water; nil: the batch has none. It is
// always the last.
func (b *Batch) waterStep() *Step {
	if n := len(b.Steps); n > 0 && b.Steps[n-1].water() {
		return &b.Steps[n-1]
	}
	return nil
}

// wet tells whether water went in.
func (b *Batch) wet() bool {
	st := b.waterStep()
	return st != nil && st.Delivered > 0
}

// rewater makes the water's target fit the dry mass: as planned while something
// dry is still to come, then as it was weighed.
func (b *Batch) rewater() {
	st := b.waterStep()
	if st == nil {
		return
	}
	dry := b.Dry
	done := true
	for _, s := range b.Steps[:len(b.Steps)-1] {
		done = done && s.Done()
	}
	if done {
		dry = 0
		for _, w := range b.went() {
			dry += w.Dry()
		}
	}
	kept := st.Line
	st.Line = book.FirstWater(b.Plan.Water, b.Plan.Dry, dry)
	st.Scale = kept.Scale
}

// waterMade is the first water as it went in, beside so much dry.
func (b *Batch) waterMade(dry protocol.Mass) fact.Made {
	st := b.waterStep()
	if st == nil {
		return fact.Made{}
	}
	return book.WaterMade(st.Line, book.Went{As: st.As, Delivered: st.Delivered, U: sheet.RootUp(st.U2, 1), Skipped: st.Skipped}, dry)
}

// overWater asks what is to be done about too much water in the bucket.
func overWater(st Step, places int) *AskedView {
	return &AskedView{Question: "overpour",
		Words: fmt.Sprintf("%s g of %s went in; the target is %s g.", st.Delivered.Grams(places), name(st), st.Target.Rounded(places)),
		Lines: []string{"What is in cannot be taken out. A glaze that is too thin can stand until clear water is on top; take that off, weigh it and note it."},
		Answers: []AnswerView{
			{"keep", "keep it and note the deviation", ""},
			{"undo", "it was not tipped after all", ""}}}
}

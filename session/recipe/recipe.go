// Package recipe reads and writes the text of a recipe: a name and an amount a
// line, base materials that are shares of 100, additions on top of them.
//
// Parse is the way in; it reports every fault of a text at once, each with its
// line. Format writes a recipe so that Parse reads the same one back. Diff
// compares two versions. LargestRemainder rounds shares so that they still add
// up.
//
// The shares are exact fractions. The base materials are divided by their own
// total, whatever it is; an addition is a percentage of the base and stays
// outside the 100 (common practice).
package recipe

import (
	"fmt"
	"math/big"
	"strings"

	"tared/session/text"
)

// Recipe is a text understood.
type Recipe struct {
	Title string // from the first comment, or empty
	Notes string // the other comments, one a line
	Items []Item // in the order of the text
	Water *Water // the first water; nil: the text says nothing of it
	Text  string // as given
}

// Item is one material.
type Item struct {
	Name     string
	Amount   *big.Rat // as written, in Unit
	Unit     string   // "" for parts, "%", or a unit of mass: "g", "kg", "mg"
	Addition bool     // on top of the base
	Share    *big.Rat // percent of the base, exact: base items add up to 100
	Line     int      // line in the text, from 1
	Note     string   // words behind the amount
}

// Base gives the items that make up the 100, in the order of the text.
func (r Recipe) Base() []Item { return r.pick(false) }

// Additions gives the items on top of the base, in the order of the text.
func (r Recipe) Additions() []Item { return r.pick(true) }

func (r Recipe) pick(addition bool) []Item {
	var is []Item
	for _, it := range r.Items {
		if it.Addition == addition {
			is = append(is, it)
		}
	}
	return is
}

// Shares gives the exact percentages of the base and the sum of the additions,
// in percent of the base.
func (r Recipe) Shares() (base []*big.Rat, additions *big.Rat) {
	additions = new(big.Rat)
	for _, it := range r.Items {
		if it.Addition {
			additions.Add(additions, it.Share)
		} else {
			base = append(base, it.Share)
		}
	}
	return base, additions
}

// Key is the form in which two spellings of a name count as one: lower case,
// single blanks.
func Key(name string) string { return strings.ToLower(strings.Join(strings.Fields(name), " ")) }

// Decimal writes an exact number as a decimal if it has one of at most places
// digits, else as a fraction such as "400/3".
func Decimal(r *big.Rat, places int) string {
	if r.IsInt() {
		return r.Num().String()
	}
	d, ok := decimal(r)
	if ok && len(d)-strings.IndexByte(d, '.')-1 <= places {
		return d
	}
	return r.String()
}

// decimal writes a fraction in full when it ends.
func decimal(r *big.Rat) (string, bool) {
	n, exact := r.FloatPrec()
	if !exact {
		return "", false
	}
	return r.FloatString(n), true
}

// Format writes the recipe as text that Parse reads back as the same recipe:
// same title, notes, names, amounts, units, shares and notes behind amounts.
func (r Recipe) Format() string {
	var b strings.Builder
	switch {
	case r.Title != "":
		fmt.Fprintf(&b, "# %s\n", r.Title)
	case r.Notes != "":
		// An empty first comment keeps the first note from becoming the title.
		b.WriteString("#\n")
	}
	for n := range strings.SplitSeq(r.Notes, "\n") {
		if n != "" {
			fmt.Fprintf(&b, "# %s\n", n)
		}
	}
	var names, amounts []string
	wide, whole := 0, 0
	for _, it := range r.Items {
		n := it.Name
		if it.Addition {
			n = "+ " + n
		}
		a, _ := decimal(it.Amount)
		names, amounts = append(names, n), append(amounts, a)
		wide = max(wide, len([]rune(n)))
		whole = max(whole, len(wholePart(a)))
	}
	wet := false
	for i, it := range r.Items {
		if it.Addition && !wet {
			// Below an addition it could be taken for one.
			b.WriteString(r.Water.format())
			wet = true
		}
		// Two blanks at least mark where the name ends, so that digits of a
		// name are never taken for the amount.
		gap := 3 + wide - len([]rune(names[i])) + whole - len(wholePart(amounts[i]))
		b.WriteString(names[i] + strings.Repeat(" ", gap) + amounts[i])
		if it.Unit != "" {
			b.WriteString(it.Unit)
		}
		if it.Note != "" {
			b.WriteString("   # " + it.Note)
		}
		b.WriteByte('\n')
	}
	if !wet {
		b.WriteString(r.Water.format())
	}
	return b.String()
}

func wholePart(a string) string {
	w, _, _ := strings.Cut(a, ".")
	return w
}

// ReadBack says, a line each, what a text was taken for: the title, the materials, the
// additions, the first water, and the notes.
func (r Recipe) ReadBack() []text.Message {
	list := func(items []Item) (all []string) {
		for _, it := range items {
			all = append(all, clean(it.Name+" "+Decimal(it.Amount, 12)+unitBehind(it.Unit)))
		}
		return all
	}
	out := []text.Message{text.New("recipe.read-no-title")}
	if r.Title != "" {
		out[0] = text.New("recipe.read-title", text.Name("title", r.Title))
	}
	out = append(out, text.New("recipe.read-base", text.Names("materials", list(r.Base()))))
	if a := list(r.Additions()); len(a) > 0 {
		out = append(out, text.New("recipe.read-additions", text.Names("materials", a)))
	}
	if w := r.Water; w != nil {
		out = append(out, text.New("recipe.read-water", text.Name("amount", Decimal(w.Amount, 12)+unitBehind(w.Unit))))
	}
	for n := range strings.SplitSeq(r.Notes, "\n") {
		if n != "" {
			out = append(out, text.New("recipe.read-note", text.Name("note", n)))
		}
	}
	return out
}

func unitBehind(unit string) string {
	if unit == "" {
		return ""
	}
	return " " + unit
}

// weight is an amount in grams where its unit is one of mass, else as it is written.
func weight(it *Item) *big.Rat {
	if g := unitOf(it.Unit).grams; g != nil {
		return new(big.Rat).Mul(it.Amount, g)
	}
	return it.Amount
}

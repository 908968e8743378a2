package recipe

import (
	"math/big"
	"strings"

	"tared/session/text"
)

// Change is one difference between two versions of a recipe.
type Change struct {
	Name string
	// Kind: added, removed, changed (the share), moved (from the base to the
	// additions or back, with or without a change of share).
	Kind     string
	Addition bool     // where it is in the newer version; in the older one when removed
	From, To *big.Rat // percent of the base; nil where it was not there
}

// String says the change in words.
func (c Change) String() string { return c.Says().String() }

// Says is the same as a message.
func (c Change) Says() text.Message {
	if c.Name == waterName {
		return c.water()
	}
	switch {
	case c.Kind == "added" && c.Addition:
		return text.New("recipe.diff-addition-new", text.Name("material", c.Name), text.Share("to", show(c.To)))
	case c.Kind == "added":
		return text.New("recipe.diff-base-new", text.Name("material", c.Name), text.Share("to", show(c.To)))
	case c.Kind == "removed" && c.Addition:
		return text.New("recipe.diff-addition-gone", text.Name("material", c.Name), text.Share("from", show(c.From)))
	case c.Kind == "removed":
		return text.New("recipe.diff-base-gone", text.Name("material", c.Name), text.Share("from", show(c.From)))
	case c.Kind == "moved" && c.Addition:
		return text.New("recipe.diff-to-additions", text.Name("material", c.Name), text.Share("from", show(c.From)), text.Share("to", show(c.To)))
	case c.Kind == "moved":
		return text.New("recipe.diff-to-base", text.Name("material", c.Name), text.Share("from", show(c.From)), text.Share("to", show(c.To)))
	}
	return text.New("recipe.diff-share", text.Name("material", c.Name), text.Share("from", show(c.From)), text.Share("to", show(c.To)))
}

// show writes a share with at most three decimals, for people.
func show(r *big.Rat) string {
	if d := Decimal(r, 3); len(d) <= 8 && !strings.Contains(d, "/") {
		return d
	}
	return r.FloatString(3)
}

// Diff tells what changed from version a to version b: by name without regard
// to case, shares compared exactly after both bases are brought to 100. The
// order is that of b, then what is gone in the order of a. Order of lines,
// notes and title are no change.
func Diff(a, b Recipe) []Change {
	type place struct {
		key      string
		addition bool
	}
	old := map[place]Item{}
	for _, it := range a.Items {
		old[place{Key(it.Name), it.Addition}] = it
	}
	newer := map[place]bool{}
	for _, it := range b.Items {
		newer[place{Key(it.Name), it.Addition}] = true
	}
	used := map[place]bool{}
	var cs []Change
	for _, it := range b.Items {
		here := place{Key(it.Name), it.Addition}
		there := place{here.key, !here.addition}
		if was, ok := old[here]; ok {
			used[here] = true
			if was.Share.Cmp(it.Share) != 0 {
				cs = append(cs, Change{it.Name, "changed", it.Addition, was.Share, it.Share})
			}
			continue
		}
		if was, ok := old[there]; ok && !newer[there] {
			used[there] = true
			cs = append(cs, Change{it.Name, "moved", it.Addition, was.Share, it.Share})
			continue
		}
		cs = append(cs, Change{it.Name, "added", it.Addition, nil, it.Share})
	}
	for _, it := range a.Items {
		if !used[place{Key(it.Name), it.Addition}] {
			cs = append(cs, Change{it.Name, "removed", it.Addition, it.Share, nil})
		}
	}
	return append(cs, diffWater(a.Water, b.Water)...)
}

// waterName is that of the water in a Change. No material has it.
const waterName = "Water"

func diffWater(a, b *Water) []Change {
	switch {
	case a == nil && b == nil:
	case a == nil:
		return []Change{{Name: waterName, Kind: "added", To: b.Percent}}
	case b == nil:
		return []Change{{Name: waterName, Kind: "removed", From: a.Percent}}
	case a.Percent.Cmp(b.Percent) != 0:
		return []Change{{Name: waterName, Kind: "changed", From: a.Percent, To: b.Percent}}
	}
	return nil
}

// water says a change of the water in words.
func (c Change) water() text.Message {
	switch c.Kind {
	case "added":
		return text.New("recipe.diff-water-new", text.Name("material", c.Name), text.Share("to", show(c.To)))
	case "removed":
		return text.New("recipe.diff-water-gone", text.Name("material", c.Name), text.Share("from", show(c.From)))
	}
	return text.New("recipe.diff-share", text.Name("material", c.Name), text.Share("from", show(c.From)), text.Share("to", show(c.To)))
}

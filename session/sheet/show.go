package sheet

import (
	"cmp"
	"math/big"
	"slices"
	"strings"

	"tared/protocol"
	"tared/session/doubt"
	"tared/session/recipe"
)

// What a sheet looks like to a person: as many digits as the scale shows, and what
// comes by way of a mixture apart.

// Own is what of the target is weighed by itself: the rest comes with mixtures that
// the material carries.
func (l Line) Own() string { return l.aim(l.Self(), l.Allowed) }

// Self is the same as a mass.
func (l Line) Self() protocol.Mass { return l.Target - l.Less }

// Foreign is the unit where it is not the gram, to stand behind each figure.
func (l Line) Foreign() string {
	if l.Measure() == string(protocol.UnitGram) {
		return ""
	}
	return "\u202f" + l.Measure()
}

// LessShown and DryShown are what comes in a mixture, and what of a moist material is dry.
func (l Line) LessShown() string { return l.aim(l.Less, l.Allowed) }
func (l Line) DryShown() string  { return l.aim(l.Dry, l.Allowed) }

// Exact is the target, mixtures and all.
func (l Line) Exact() string { return l.aim(l.Target, l.Allowed) }

// aim shows what is to be weighed to within so much, also where the scale cannot show it.
func (l Line) aim(m, within protocol.Mass) string {
	if l.Allowed <= 0 {
		return m.In(l.Unit, l.Step)
	}
	return m.ToWeigh(l.Unit, l.Step, within)
}

// Measure is the unit of all that is shown of the line: that of its scale.
func (l Line) Measure() string { return string(cmp.Or(l.Unit, protocol.UnitGram)) }

// Lowest and Highest are the marks of what is weighed by itself.
func (l Line) Lowest() string  { low, _ := l.marksShown(); return l.aim(low, l.Allowed/20) }
func (l Line) Highest() string { _, high := l.marksShown(); return l.aim(high, l.Allowed/20) }

// Doubt is the uncertainty with two digits that count.
func (l Line) Doubt() string {
	if l.Unit == "" || l.Unit == protocol.UnitGram {
		return l.U.Doubt()
	}
	u, places := big.NewRat(int64(l.U), l.Unit.Picograms()), 0
	for ; places < 9 && u.Cmp(ten) < 0 && u.Sign() > 0; places++ {
		u.Mul(u, ten)
	}
	n := new(big.Int).Add(u.Num(), u.Denom())
	n.Quo(n.Sub(n, big.NewInt(1)), u.Denom())
	return new(big.Rat).SetFrac(n, new(big.Int).Exp(ten.Num(), big.NewInt(int64(places)), nil)).FloatString(places)
}
func (o Out) Doubt() string { return o.U.Doubt() }

// SizePlaces is how many decimals a size of the sheet is shown with.
func (s Sheet) SizePlaces(m protocol.Mass) int {
	us := make([]protocol.Mass, len(s.Lines))
	for i, l := range s.Lines {
		us[i] = l.U
	}
	return m.Size(doubt.Together(us...))
}

// Sized writes a size as the scales show it: in their unit where all have the same, else
// in grams.
func (s Sheet) Sized(m protocol.Mass) string {
	l := slices.MaxFunc(s.Lines, func(a, b Line) int { return cmp.Compare(a.Step, b.Step) })
	if l.Foreign() == "" || slices.ContainsFunc(s.Lines, func(o Line) bool { return o.Measure() != l.Measure() }) {
		return m.Rounded(s.SizePlaces(m)) + " g"
	}
	return m.In(l.Unit, l.Step) + " " + l.Measure()
}

var ten = big.NewRat(10, 1)

// Full means, where a fit is shown, that the scale cannot hold so much: how well it
// would weigh that is no news.
const Full Verdict = "full"

// ByScale gives the fits as they are shown, the scale that it goes to first.
func (l Line) ByScale() []Fit {
	all := slices.Clone(l.Fits)
	if len(all) == 0 {
		all = []Fit{{Scale: l.Scale, Verdict: l.Verdict, Room: true}}
	}
	for i, f := range all {
		mine := f.Scale == l.Scale
		all[i].Portions = 1
		if mine {
			all[i].Portions = max(l.Portions, 1)
		}
		switch {
		case mine && l.Aliquot != nil:
			all[i].Verdict, all[i].Portions = l.Verdict, 1
		case !f.Room && all[i].Portions == 1:
			all[i].Verdict = Full
		}
	}
	slices.SortStableFunc(all, func(a, b Fit) int { return cmp.Compare(other(a, l), other(b, l)) })
	return all
}

func other(f Fit, l Line) int {
	if f.Scale == l.Scale {
		return 0
	}
	return 1
}

// Hazardous are the materials with hazards of their own, each once.
func (s Sheet) Hazardous() []Line {
	var all []Line
	seen := map[string]bool{}
	for _, l := range s.every() {
		if len(l.Hazards) > 0 && !seen[l.Material] {
			seen[l.Material] = true
			all = append(all, l)
		}
	}
	return all
}

// every gives the lines of the sheet and those of its cups.
func (s Sheet) every() []Line {
	all := slices.Clone(s.Lines)
	for _, c := range s.Cups {
		all = append(all, c.Lines...)
	}
	return all
}

// Lot is the mark of the kept mixture that the way out takes from; empty: none.
func (o Out) Lot() string {
	if o.Aliquot == nil {
		return ""
	}
	return o.Aliquot.Lot
}

// Keeps reports whether a kept mixture is among the ways out of the line.
func (l Line) Keeps() bool {
	return slices.ContainsFunc(l.Outs, func(o Out) bool { return o.Lot() != "" })
}

// Stuck are the lines that have ways out.
func (s Sheet) Stuck() []Line {
	return slices.DeleteFunc(slices.Clone(s.Lines), func(l Line) bool { return len(l.Outs) == 0 })
}

// Hidden are the lines that their scale cannot show, cups and all, each once.
func (s Sheet) Hidden() (all []Line) {
	for _, l := range s.every() {
		if l.Hidden && !slices.ContainsFunc(all, func(o Line) bool { return o.Material == l.Material }) {
			all = append(all, l)
		}
	}
	return all
}

// Sources are the lots that materials come from; Short of them hold too little.
func (s Sheet) Sources() []Lot {
	return slices.DeleteFunc(slices.Clone(s.Lots), func(l Lot) bool { return l.Lot == "" })
}

func (s Sheet) Short() []Lot {
	return slices.DeleteFunc(s.Sources(), func(l Lot) bool { return !l.Short })
}

// All are the weighings of a cup in order: its part of the tub first, its water last.
func (c Cup) All() []Line {
	all := append([]Line{c.Take}, c.Lines...)
	if c.Water != nil {
		all = append(all, *c.Water)
	}
	return all
}

// percent writes a share for people: in full when it is short, else with three
// decimals.
func percent(r *big.Rat) string {
	if d := recipe.Decimal(r, 3); !strings.Contains(d, "/") {
		return d
	}
	return r.FloatString(3)
}

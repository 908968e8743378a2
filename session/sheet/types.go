// Package sheet makes the weigh sheet: what each material's target and band
// are, which scale can weigh it and how well, and the ways out where none can.
//
// Plan is the way in. Band and Uncertainty are the two rules that everything
// rests on; Enlarge finds the smallest larger batch that an overpour fits into;
// PlanAliquot dilutes what is too little to weigh; PlanSeries plans a blend of
// tests from one common base. The files build on each other: types.go, rules.go,
// then one file for each subject; planner.go holds what the steps of Plan share, and
// plan.go takes those steps in order. Every mass is whole picograms and every comparison
// is exact; nothing here is a float.
package sheet

import (
	"math/big"
	"sync"

	"tared/protocol"
	"tared/session/doubt"
	"tared/session/material"
	"tared/session/recipe"
	"tared/session/text"
)

// Role of a material in a recipe. It decides how far a weighing may be off.
type Role string

// The roles.
const (
	Base     Role = "base"
	Addition Role = "addition"
	Strong   Role = "strong" // a strong colourant: little of it changes the glaze
	// Suspender is a gum, a clay or a salt that keeps the glaze in suspension, on top of
	// the base: a tenth more or less of it does little.
	Suspender Role = "suspender"
	// Opacifier is tin, zircon or titania on top of the base: how white it is grows slowly with
	// how much of it there is.
	Opacifier Role = "opacifier"
	Water     Role = "water" // the first water: no part of the recipe's percent, nor of the dry mass
)

// Roles are those that a material can have.
var Roles = []Role{Base, Addition, Suspender, Opacifier, Strong}

// Verdict says how well a scale can weigh a target.
type Verdict string

// The verdicts: Good when U <= allowed, Coarse when step <= allowed < U, Blind when allowed < step.
const (
	Good   Verdict = "good"
	Coarse Verdict = "coarse"
	Blind  Verdict = "blind"
)

// Scale is an instrument as the sheet sees it.
type Scale struct {
	Name     string        `json:"name"`
	Step     protocol.Mass `json:"step"`
	Unit     protocol.Unit `json:"unit,omitempty"` // in which it shows; "": grams
	Max      protocol.Mass `json:"max"`            // 0: not known
	Spread   protocol.Mass `json:"spread"`         // repeatability s; 0 and not Measured: half a step is assumed
	Eye      bool          `json:"eye"`            // read by eye and typed in
	Port     string        `json:"port"`
	Format   string        `json:"format"`
	Identity string        `json:"identity"`
	Measured bool          `json:"-"` // Spread was measured, also where it is 0
	doubt.Gauge
}

// Allow is how far a weighing may be off: a share of the target, or a fixed mass where Share is nil.
type Allow struct {
	Share *big.Rat      // 1/100 is 1 %
	Fixed protocol.Mass //
}

// Size says how large a batch is to be. Exactly one field is set.
type Size struct {
	Base protocol.Mass // of the base materials, additions on top
	Dry  protocol.Mass // of everything dry
	Wet  *Wet          // by the volume wanted
}

// Wet is a volume of slip at a specific gravity.
type Wet struct {
	Litres  *big.Rat
	Gravity *big.Rat // of the slip
	Solid   *big.Rat // relative density of the dry material; nil: from the materials table
}

// Request asks for a sheet.
type Request struct {
	Recipe    recipe.Recipe
	Size      Size
	Scales    []Scale          // in the order in which the user prefers them
	Allow     map[Role]Allow   // missing roles: as Standard says
	AllowFor  map[string]Allow // by material name, before Allow
	Materials *material.Table  // nil: the embedded table
	Roles     map[string]Role  // by material name, where the user knows better than the materials table
	Container protocol.Mass    // usual container weight, for portions; 0: unknown
	Order     []string         // material names in the order wanted; nil: the sheet's own
	Aliquot   []string         // materials that are to go in by their aliquot
	Kept      []Kept           // mixtures that there are, those to be used up first before the others
	Water     *big.Rat         // the first water in percent of everything dry, as a step of its own; nil: it is none
	// WaterFirst lets Water hold where a wet size asks for another amount.
	WaterFirst bool
	// Moist is the moisture of materials as they lie in the bag, by name, in
	// percent of the whole (wet basis).
	Moist map[string]*big.Rat
	// Reader is who reads the sheet's sentences; nil: who reads English.
	Reader *text.Language
}

// Sheet is the plan of a batch.
type Sheet struct {
	Title  string         `json:"title"`
	Base   protocol.Mass  `json:"base"`
	Dry    protocol.Mass  `json:"dry"`
	Lines  []Line         `json:"lines"` // in weighing order
	Scales []Scale        `json:"scales"`
	Allow  map[Role]Allow `json:"-"`
	// AllowFor are the rules for single materials, as they were asked for.
	AllowFor map[string]Allow `json:"-"`
	Words    []string         `json:"words"`           // what a person should know before the start
	Read     []string         `json:"read,omitempty"`  // what the text was taken for: title, materials, notes
	Slip     *Slip            `json:"slip"`            // what it becomes with water
	Water    *Line            `json:"water,omitempty"` // the first water, where it is weighed in as a step
	// Cups are what the batch is split into, where it is the tub of a series.
	Cups []Cup `json:"cups,omitempty"`
	// Mixes are those by which its cups get, or could get, what they cannot weigh.
	Mixes []CupMix `json:"mixes,omitempty"`
	// Swap is what is exchanged between the cups, where something is.
	Swap *Swapped `json:"swap,omitempty"`
	// Lots are where its materials come from, as far as a stock is kept of them;
	// Instead is what could be made where that is not enough.
	Lots    []Lot    `json:"lots,omitempty"`
	Instead *Instead `json:"instead,omitempty"`
}

// Slip is what the dry batch becomes with water.
type Slip struct {
	Water   protocol.Mass `json:"water"`
	Litres  string        `json:"litres"`  // three decimals
	Gravity string        `json:"gravity"` // three decimals
	Solid   string        `json:"solid"`   // relative density of the dry material, three decimals
	// Wished tells that volume and gravity were asked for; else they follow from
	// a first water of 9 parts to 10 parts dry.
	Wished bool `json:"wished"`
}

// Line is one material on the sheet.
type Line struct {
	Material string        `json:"material"`
	Role     Role          `json:"role"`
	Addition bool          `json:"addition"`
	Share    *big.Rat      `json:"-"`                  // percent of the base
	Percent  string        `json:"share"`              // Share as text, for people
	Target   protocol.Mass `json:"target"`             // as it is weighed
	Dry      protocol.Mass `json:"dry,omitzero"`       // of it, where the material is moist
	Moisture string        `json:"moisture,omitempty"` // of the material, percent of the whole
	Allowed  protocol.Mass `json:"allowed"`            // Band before rounding to steps
	Rule     doubt.Rule    `json:"-"`                  // by what a weight is accepted
	Band     protocol.Mass `json:"band"`
	Low      protocol.Mass `json:"low"`
	High     protocol.Mass `json:"high"`
	Scale    string        `json:"scale"`
	Step     protocol.Mass `json:"step"`           // of that scale
	Unit     protocol.Unit `json:"unit,omitempty"` // in which it shows; "": grams
	Verdict  Verdict       `json:"verdict"`
	U        protocol.Mass `json:"u"`
	Assumed  bool          `json:"assumed"` // U rests on an assumed repeatability
	// Hidden tells that the scale cannot show it: it is under half a step, or U is more.
	Hidden   bool     `json:"hidden,omitempty"`
	Portions int      `json:"portions"` // weighings that make up the target; U is that of all together
	Fits     []Fit    `json:"fits"`     // every scale, in the user's order
	Outs     []Out    `json:"outs"`     // ways out, where Verdict is not Good
	Hazards  []string `json:"hazards"`
	// Unknown tells that no table has the material and nobody said what it is.
	Unknown bool `json:"unknown,omitempty"`
	// Aliquot is the way by which it goes in, where that was chosen.
	Aliquot *Aliquot `json:"aliquot,omitempty"`
	// Less is what of Target comes with the aliquots that this material carries;
	// Target less that is weighed by itself.
	Less protocol.Mass `json:"less,omitzero"`
	// LessU is U of that, which is in U of the material beside that of its own weighing.
	LessU protocol.Mass `json:"less_u,omitzero"`
}

// Fit is how one scale would do.
type Fit struct {
	Scale   string        `json:"scale"`
	Verdict Verdict       `json:"verdict"`
	U       protocol.Mass `json:"u"`
	Room    bool          `json:"room"` // within capacity in one weighing
	// Portions is how many weighings the target takes here; U is that of all
	// together.
	Portions int `json:"portions"`
}

// Out is a way out for a target that no scale weighs well.
type Out struct {
	Kind  string        `json:"kind"`  // finer, eye, larger, aliquot (of a mixture, a solution, or a kept one of either)
	Words string        `json:"words"` // what to do, in a sentence
	U     protocol.Mass `json:"u"`     // what would result
	Scale string        `json:"scale,omitempty"`
	Base  protocol.Mass `json:"base,omitzero"` // batch size, for larger
	Good  bool          `json:"good"`          // U within the allowed
	// Aliquot is the plan, for a way out of that kind.
	Aliquot *Aliquot `json:"aliquot,omitempty"`
}

// Aliquot is the pharmacist's way to an amount too small to weigh: weigh N times
// what is needed, mix it into a weighed amount of a carrier, and weigh out one
// part of N. The carrier is a material that the recipe has anyway; what of it is
// in the part comes off its own target. What dissolves goes into water instead, and
// that comes off the first water. Where a mixture was kept, only the part is weighed.
type Aliquot struct {
	Material string        `json:"material,omitempty"`
	Carrier  string        `json:"carrier,omitempty"` // WaterName for a solution
	Scale    string        `json:"scale,omitempty"`
	Lot      string        `json:"lot,omitempty"` // mark of the kept mixture that the part is taken from
	Need     protocol.Mass `json:"need"`          // of the material, in the end
	Weigh    protocol.Mass `json:"weigh"`         // what goes into the mixture, or went into the kept one
	Dilute   protocol.Mass `json:"dilute"`        // of the carrier, into it
	Total    protocol.Mass `json:"total"`         // Weigh and Dilute
	Take     protocol.Mass `json:"take"`          // of the mixture; it holds Need
	Off      protocol.Mass `json:"off,omitzero"`  // Take less what its scale shows nearest
	Less     protocol.Mass `json:"less"`          // of the carrier, in Take: off its own target
	U        protocol.Mass `json:"u"`             // of the material delivered
	Steps    []string      `json:"steps,omitempty"`
	Kept     *Kept         `json:"-"` // the lot, where it is one
}

// Kept is a mixture or a solution that was kept: a lot with its content.
type Kept struct {
	Lot      string
	Material string     // that is diluted in it, as the recipe calls it
	Carrier  string     // as the recipe calls it, or WaterName
	Parts    [2]Weighed // of these two, all that was mixed
	Mixing   *big.Rat   // by how much a part may differ from the mean of it; nil: nothing was assumed
	Left     protocol.Mass
}

// Lot is the bag that a material is taken from.
type Lot struct {
	Material string        `json:"material"`
	Lot      string        `json:"lot,omitempty"` // its mark; empty: only the moisture is known
	Supplier string        `json:"supplier,omitempty"`
	Moisture string        `json:"moisture,omitempty"` // percent, wet basis
	Price    string        `json:"price,omitempty"`    // of a kilogram
	Currency string        `json:"currency,omitempty"`
	Need     protocol.Mass `json:"need"` // as weighed, with what mixtures waste
	Has      protocol.Mass `json:"has,omitzero"`
	Takes    string        `json:"-"` // Need and Has in grams, as they are shown
	Holds    string        `json:"-"`
	Short    bool          `json:"short,omitempty"`  // it holds less than is needed
	Others   []string      `json:"others,omitempty"` // marks of the other lots of it that hold something
	Words    string        `json:"words,omitempty"`  // what is wrong, and what else there is
}

// Instead is what could be made of the stock.
type Instead struct {
	Base  protocol.Mass `json:"base,omitzero"` // of one batch
	Cup   protocol.Mass `json:"cup,omitzero"`  // in each cup of a series
	By    string        `json:"by"`            // the scarcest material
	Words string        `json:"words"`
}

// Swap exchanges one material of the recipe for another from cup to cup of a series.
type Swap struct {
	Out string // a material of the recipe
	In  string // the one that takes its place; the recipe may have it, too
}

// Swapped is a swap as it was planned.
type Swapped struct {
	Out      string   `json:"out"`
	In       string   `json:"in"`
	Addition bool     `json:"addition"` // both stand on top of the base
	Share    *big.Rat `json:"-"`        // of both together in each cup, percent of the base
	Percent  string   `json:"share"`    // Share as text, for people
}

// Dose is an addition to one cup of a series, in percent of the base.
type Dose struct {
	Material string   `json:"material"`
	Percent  *big.Rat `json:"-"`
}

// Variation is what one cup of a series gets beside the common base.
type Variation struct {
	Mark  string // on the cup and the tile
	Doses []Dose
	// Swapped is how much of the swap's material has given its place to the other,
	// from 0 to 1; nil: nothing.
	Swapped *big.Rat
}

// SeriesRequest asks for a series of cups from one common base.
type SeriesRequest struct {
	// Request is for the common part: the recipe, scales and rules. Its Size must
	// be empty; the cups make it. Its Roles and AllowFor may name doses too.
	Request
	Cup   protocol.Mass // base in each cup
	Spare *big.Rat      // share to mix more than the cups take, for what clings; nil: none
	Cups  []Variation
	Swap  Swap // what Swapped of the cups is about; empty: nothing is swapped
	// Apart is a base material that stays out of the tub and is weighed into each cup, for
	// mixtures bring some of it; empty: none.
	Apart string
	tried bool // it is planned only to see whether a mixture serves
}

// Series is the plan: one common batch, weighed once, and what goes into each cup.
type Series struct {
	Common Sheet    `json:"common"`
	Cups   []Cup    `json:"cups"` // from the weakest to the strongest
	Words  []string `json:"words"`
	Mixes  []CupMix `json:"mixes,omitempty"` // by which the cups get, or could get, what they cannot weigh
	// Swap is what is exchanged between the cups; nil: nothing.
	Swap *Swapped `json:"swap,omitempty"`
}

// Cup is one cup of a series.
type Cup struct {
	Mark  string `json:"mark"`
	Take  Line   `json:"take"`            // of the mixed common part
	Lines []Line `json:"lines"`           // what it gets for itself, weaker before stronger
	Water *Line  `json:"water,omitempty"` // its first water, where that is weighed in as a step
}

// commonName stands for the mixed common part where a material is named.
var commonName = sync.OnceValue(func() string { return text.New("sheet.common").String() })

// CupMix is the one mixture by which a material goes into cups that get too little of it to
// weigh.
type CupMix struct {
	Material string `json:"material"`
	Lot      string `json:"lot,omitempty"`     // kept, and enough for all cups; empty: it is to be made first
	Used     bool   `json:"used,omitempty"`    // the cups take from it
	Carrier  string `json:"carrier,omitempty"` // what is to be made first, as the scale shows it: "12.0 g" in "468.0 g" of this
	Weigh    string `json:"weigh,omitempty"`
	Into     string `json:"into,omitempty"`
	Words    string `json:"words,omitempty"` // what to mix, or why it cannot be
}

package fact

import (
	"tared/protocol"
	"tared/session/doubt"
	"tared/session/text"
)

// Planned opens a batch: what is to be weighed, on what.
type Planned struct {
	Title      string            `json:"title"`
	Recipe     string            `json:"recipe"` // the text as given
	RecipeHash string            `json:"recipe_sha256"`
	Base       protocol.Mass     `json:"base"`
	Dry        protocol.Mass     `json:"dry"`
	Lines      []Line            `json:"lines"`
	Scales     []Scale           `json:"scales"`
	Allowed    map[string]string `json:"allowed"` // role to share, as "base":"1%"
	Simulated  bool              `json:"simulated,omitempty"`
	Mixes      []Mix             `json:"mixes,omitempty"`
	Water      Line              `json:"water,omitzero"` // the first water; its share is of everything dry
	Series     Series            `json:"series,omitzero"`
	Confirm    []string          `json:"confirm,omitempty"`  // what a second person confirms: strong, typed
	Lots       []LotUsed         `json:"lots,omitempty"`     // where its materials come from
	Kept       string            `json:"kept,omitempty"`     // which kept recipe it is, such as "Tidewrack, version 3"
	Container  protocol.Mass     `json:"container,omitzero"` // usual weight of one, as stated
	Most       protocol.Mass     `json:"most,omitzero"`      // the largest dry total that was said to be wanted
	// Again is the mark of a batch that was spoiled, where this one takes its place.
	// It was begun at once, so mask and ventilation had been asked for.
	Again string `json:"again,omitempty"`
	// Rule is by what a weight is accepted; empty in older records, which name none.
	Rule doubt.Rule `json:"rule,omitempty"`
	// Although are materials that are weighed on their scale although it cannot show them.
	Although []string `json:"although,omitempty"`
}

// Line is one material of a planned batch.
type Line struct {
	Material  string        `json:"material"`
	Role      string        `json:"role"`  // base, addition, strong, water
	Share     string        `json:"share"` // percent of the base, exact fraction such as "41" or "400/3"
	Target    protocol.Mass `json:"target"`
	Low       protocol.Mass `json:"low"`
	High      protocol.Mass `json:"high"`
	Scale     string        `json:"scale"`
	Weighable string        `json:"weighable"` // good, coarse, blind
	U         protocol.Mass `json:"u"`
	// Place tells whether it is part of the 100 ("base") or on top of it ("top"), where
	// its role says otherwise: a person may give a base material the role of an
	// addition. Empty: the role says it; so it is in older records.
	Place string `json:"place,omitempty"`
}

// Doubt is U of the weighings of all these lines together.
func Doubt(lines []Line) protocol.Mass {
	us := make([]protocol.Mass, len(lines))
	for i, l := range lines {
		us[i] = l.U
	}
	return doubt.Together(us...)
}

// Scale is what is known of an instrument that a batch rests on.
type Scale struct {
	Name     string        `json:"name"`
	Port     string        `json:"port"`
	Identity string        `json:"identity,omitempty"` // vendor:product:serial or path
	Format   string        `json:"format,omitempty"`
	Step     protocol.Mass `json:"step"`
	Max      protocol.Mass `json:"max"`
	Spread   protocol.Mass `json:"spread"`  // repeatability s
	Assumed  bool          `json:"assumed"` // s was not measured
	Eye      bool          `json:"eye,omitempty"`
	Unit     protocol.Unit `json:"unit,omitempty"` // in which it showed, where that was not the gram
	doubt.Gauge
}

// Weighs is the scale as far as its doubt goes.
func (s Scale) Weighs() doubt.Scale {
	return doubt.Scale{Step: s.Step, Spread: s.Spread, Measured: !s.Assumed, Gauge: s.Gauge}
}

// Mix is a mixture of which a part goes into the batch: a colourant diluted in a mixing
// cup, in a dry material or in water; what was kept of one; or the tub of a series. What a part brings counts to the
// materials of the recipe that are in it.
type Mix struct {
	Parts []MixPart `json:"parts"`          // of an aliquot: the diluted material, then its carrier
	Take  Line      `json:"take"`           // the part that goes in, a step of its own
	From  string    `json:"from,omitempty"` // mark of the batch that it was made as; empty: it is mixed here
	Lot   string    `json:"lot,omitempty"`  // mark of the kept lot that it is; empty: it is none
	// Left is what such a batch, or lot, still held when this one was planned, as it was
	// weighed in and out; 0: nobody counted.
	Left  protocol.Mass `json:"left,omitzero"`
	Mixed bool          `json:"mixed,omitempty"` // a person had said so when this one was planned
	// Mixing is by how much what is in a part may differ from the mean of the mixture, an
	// exact fraction of it; empty in older records, which assume nothing.
	Mixing string `json:"mixing,omitempty"`
}

// Made reports whether it was mixed before this batch.
func (m Mix) Made() bool { return m.From != "" || m.Lot != "" }

// MixPart is one material of a mixture.
type MixPart struct {
	Material string `json:"material"`     // the line of the batch that it counts to
	As       string `json:"as,omitempty"` // what went in instead
	// Step is how it is weighed into the mixing cup, where it is mixed here.
	Step Line `json:"step,omitzero"`
	// Mass and U are what is in it, where it was made before.
	Mass protocol.Mass `json:"mass,omitzero"`
	U    protocol.Mass `json:"u,omitzero"`
	On   []doubt.On    `json:"on,omitempty"` // scale by scale, and what of U comes of its span
}

// Series ties the batches of a series of tests together: a tub of the common
// part, and the cups that it is split into, each a batch of its own.
type Series struct {
	Of    string `json:"of,omitempty"`    // mark of the tub's batch; empty: this is the tub
	Cup   uint64 `json:"cup,omitempty"`   // from 1; 0: the tub
	Cups  uint64 `json:"cups,omitempty"`  // how many there are
	Label string `json:"label,omitempty"` // what this cup gets beside the common part
	// Reminded: mask and ventilation were asked for in this series, and hold on.
	Reminded bool `json:"reminded,omitempty"`
	// Plans are the cups to come, where this is the tub.
	Plans []CupPlan `json:"plans,omitempty"`
	// Swap is what is exchanged from cup to cup, where this is the tub.
	Swap Swap `json:"swap,omitzero"`
}

// Swap is two materials of which one takes the place of the other from cup to cup.
// They are not in the tub.
type Swap struct {
	Out      string `json:"out"`
	In       string `json:"in"`
	Share    string `json:"share"`              // of both together in each cup, percent of the base
	Addition bool   `json:"addition,omitempty"` // both stand on top of the base
}

// CupPlan is a cup that is to be weighed out of a tub.
type CupPlan struct {
	Label  string `json:"label"`
	Recipe string `json:"recipe"`          // the whole recipe of the cup
	Take   Line   `json:"take"`            // of the common mix
	Lines  []Line `json:"lines"`           // what comes in beside it, in order
	Water  Line   `json:"water,omitzero"`  // the first water
	Mixes  []Mix  `json:"mixes,omitempty"` // kept mixtures that lines of it go in by
}

// LotUsed is where a material of a batch comes from, as it was known when the
// batch was planned.
type LotUsed struct {
	Material string `json:"material"`      // the line of the batch, or of its cups
	Lot      string `json:"lot,omitempty"` // empty: only its moisture is known
	Supplier string `json:"supplier,omitempty"`
	Moisture string `json:"moisture,omitempty"` // percent, wet basis
	Price    string `json:"price,omitempty"`    // of a kilogram
	Currency string `json:"currency,omitempty"`
	// Has is what the lot held then.
	Has protocol.Mass `json:"has,omitzero"`
}

// Enlarged: the batch grew by Factor; Lines are its new targets.
type Enlarged struct {
	Because string        `json:"because"` // the overpoured material
	Factor  string        `json:"factor"`  // exact fraction
	Base    protocol.Mass `json:"base"`
	Dry     protocol.Mass `json:"dry"`
	Lines   []Line        `json:"lines"`
}

// Moved: the potter uses another scale for a material than the sheet named, and
// that one is good for it; Line is what it is weighed by from here.
type Moved struct {
	Material string   `json:"material"`
	From     string   `json:"from"`
	To       string   `json:"to"`
	Line     Line     `json:"line"`
	Raw      []string `json:"raw"` // the line of the scale that showed it
}

// Finished closes a batch.
type Finished struct {
	Base      protocol.Mass  `json:"base"` // delivered base, dry
	Dry       protocol.Mass  `json:"dry"`
	Lines     []Made         `json:"lines"`
	Reminders []text.Message `json:"reminders,omitempty"` // of cleaning, that were shown
	Words     []string       `json:"words,omitempty"`     // the same, written by older programs
	Water     Made           `json:"water,omitzero"`      // the first water; its share is of everything dry
	// Abandoned: a person closed the batch before everything was in.
	Abandoned bool `json:"abandoned,omitempty"`
}

// Doubt is U of all that went in together.
func (v Finished) Doubt() protocol.Mass {
	us := make([]protocol.Mass, len(v.Lines))
	for i, l := range v.Lines {
		us[i] = l.U
	}
	return doubt.Together(us...)
}

// Made is one material as it went in.
type Made struct {
	Material  string        `json:"material"`
	As        string        `json:"as,omitempty"`
	Role      string        `json:"role"`
	Target    protocol.Mass `json:"target"`
	Delivered protocol.Mass `json:"delivered"`    // as weighed
	Dry       protocol.Mass `json:"dry,omitzero"` // of that, where it was moist
	U         protocol.Mass `json:"u"`
	Share     string        `json:"share"`   // percent of the delivered dry base, three decimals
	Verdict   string        `json:"verdict"` // under, in, over, skipped
}

// Kind gives the word in the journal.
func (Planned) Kind() string  { return "planned" }
func (Enlarged) Kind() string { return "enlarged" }
func (Moved) Kind() string    { return "moved" }
func (Finished) Kind() string { return "finished" }

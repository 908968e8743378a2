// Package fact names what the journal records: one type for each kind of fact.
// A fact says what happened; it is never changed, only followed by another.
// Session writes them, book reads them; the journal itself does not look inside.
package fact

import (
	"time"

	"tared/protocol"
)

// Body is the part of a fact that depends on its kind.
type Body interface {
	// Kind is the word in the record's "kind" field.
	Kind() string
}

// Fact is one thing that happened.
type Fact struct {
	Seq   uint64    // set by the journal
	At    time.Time // when it happened
	Batch string    // mark of the batch; empty where it belongs to none
	By    string    // operator, or "scale" / "tared" where no person acted
	Body  Body
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
}

// Mix is a dry mixture of which a part goes into the batch: a colourant diluted
// in a mixing cup, or the tub of a series. What a part brings counts to the
// materials of the recipe that are in it.
type Mix struct {
	Parts []MixPart `json:"parts"`          // of an aliquot: the diluted material, then its carrier
	Take  Line      `json:"take"`           // the part that goes in, a step of its own
	From  string    `json:"from,omitempty"` // mark of the batch that it was made as; empty: it is mixed here
	// Left is what such a batch still held when this one was planned, as it was
	// weighed in and out; 0: nobody counted.
	Left  protocol.Mass `json:"left,omitzero"`
	Mixed bool          `json:"mixed,omitempty"` // a person had said so when this one was planned
}

// MixPart is one material of a mixture.
type MixPart struct {
	Material string `json:"material"`     // the line of the batch that it counts to
	As       string `json:"as,omitempty"` // what went in instead
	// Step is how it is weighed into the mixing cup, where it is mixed here.
	Step Line `json:"step,omitzero"`
	// Mass and U are what is in it, where it was made before.
	Mass protocol.Mass `json:"mass,omitzero"`
	U    protocol.Mass `json:"u,omitzero"`
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
	Recipe string `json:"recipe"`         // the whole recipe of the cup
	Take   Line   `json:"take"`           // of the common mix
	Lines  []Line `json:"lines"`          // what comes in beside it, in order
	Water  Line   `json:"water,omitzero"` // the first water
}

// The kinds that others may rely on.
type (
	// Planned opens a batch: what is to be weighed, on what.
	Planned struct {
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
	}
	// Reminded: the mask and ventilation reminder was shown and answered.
	Reminded struct {
		Words  []string `json:"words"`
		Answer string   `json:"answer"`
	}
	// Tared: a container stands on the pan and counts as zero.
	Tared struct {
		Material  string        `json:"material,omitempty"`
		Scale     string        `json:"scale"`
		Container protocol.Mass `json:"container"` // what counts as zero from here: what the scale showed, plus Carried
		Weight    protocol.Mass `json:"weight"`    // the container's own weight, without what clings in it
		Carried   protocol.Mass `json:"carried"`   // taken up by the scale's own tare key
		How       string        `json:"how"`       // container, key, answered
		Step      protocol.Mass `json:"step"`
		Raw       []string      `json:"raw"`
	}
	// Portion is one weighing: what left the container.
	Portion struct {
		Material  string        `json:"material"`
		As        string        `json:"as,omitempty"`   // what went in instead, when substituted
		Into      string        `json:"into,omitempty"` // where it went, if not into the batch: mixing cup
		Scale     string        `json:"scale"`
		Before    protocol.Mass `json:"before"`
		After     protocol.Mass `json:"after"`
		Delivered protocol.Mass `json:"delivered"`
		Target    protocol.Mass `json:"target"`
		Low       protocol.Mass `json:"low"`
		High      protocol.Mass `json:"high"`
		Verdict   string        `json:"verdict"` // under, in, over
		How       string        `json:"how"`     // tipped, tub, typed, not-returned, unsettled
		U         protocol.Mass `json:"u"`
		Step      protocol.Mass `json:"step"`
		Words     string        `json:"words,omitempty"` // what else is to be known of it
		Raw       []string      `json:"raw"`             // the lines that Before and After rest on
		// Trace is the pour as the scale showed it, thinned, for a picture: what was in the
		// container, as seconds, a colon and grams, with blanks between.
		Trace string `json:"trace,omitempty"`
	}
	// Lifted: a container with material in it left the pan. It is written at
	// once, so that a tip is not forgotten when the power fails before the
	// container is back; the portion that follows settles it.
	Lifted struct {
		Material string        `json:"material"`
		Scale    string        `json:"scale"`
		Before   protocol.Mass `json:"before"`  // gross, settled where Settled
		Empty    protocol.Mass `json:"empty"`   // the container's own weight
		Base     protocol.Mass `json:"base"`    // gross when the pour began
		Carried  protocol.Mass `json:"carried"` // taken up by the scale's own tare key
		Settled  bool          `json:"settled"`
		Raw      []string      `json:"raw"`
	}
	// Returned: it came back with nothing tipped.
	Returned struct {
		Material string        `json:"material"`
		Scale    string        `json:"scale"`
		After    protocol.Mass `json:"after"`
		Raw      []string      `json:"raw"`
	}
	// Overpoured: settled over the high mark, in the container or tipped.
	Overpoured struct {
		Material string        `json:"material"`
		Scale    string        `json:"scale"`
		Where    string        `json:"where"`  // container, tipped, cup (tipped into the mixing cup)
		Amount   protocol.Mass `json:"amount"` // in it, or delivered so far
		High     protocol.Mass `json:"high"`
		Excess   protocol.Mass `json:"excess"` // over the target
		Strong   bool          `json:"strong"`
		Raw      []string      `json:"raw"`
	}
	// Decided: a person answered a question.
	Decided struct {
		Question string        `json:"question"`
		Answer   string        `json:"answer"`
		Material string        `json:"material,omitempty"`
		With     string        `json:"with,omitempty"`
		Amount   protocol.Mass `json:"amount,omitzero"`
		Words    string        `json:"words,omitempty"`
	}
	// Enlarged: the batch grew by Factor; Lines are its new targets.
	Enlarged struct {
		Because string        `json:"because"` // the overpoured material
		Factor  string        `json:"factor"`  // exact fraction
		Base    protocol.Mass `json:"base"`
		Dry     protocol.Mass `json:"dry"`
		Lines   []Line        `json:"lines"`
	}
	// Moved: the potter uses another scale for a material than the sheet named, and
	// that one is good for it; Line is what it is weighed by from here.
	Moved struct {
		Material string   `json:"material"`
		From     string   `json:"from"`
		To       string   `json:"to"`
		Line     Line     `json:"line"`
		Raw      []string `json:"raw"` // the line of the scale that showed it
	}
	// Finished closes a batch.
	Finished struct {
		Base  protocol.Mass `json:"base"` // delivered base, dry
		Dry   protocol.Mass `json:"dry"`
		Lines []Made        `json:"lines"`
		Words []string      `json:"words"`          // cleaning reminders that were shown
		Water Made          `json:"water,omitzero"` // the first water; its share is of everything dry
		// Abandoned: a person closed the batch before everything was in.
		Abandoned bool `json:"abandoned,omitempty"`
	}
	// Made is one material as it went in.
	Made struct {
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
	// Amended corrects an earlier fact and hides nothing. A weight that a person gave
	// is typed, and has U and Step of its own; without them those of the fact hold on.
	Amended struct {
		Of       uint64        `json:"of"` // seq of the fact that is corrected
		Reason   string        `json:"reason"`
		Material string        `json:"material,omitempty"`
		Was      protocol.Mass `json:"was"`
		Is       protocol.Mass `json:"is"`
		Void     bool          `json:"void,omitempty"`  // the fact no longer counts
		Field    string        `json:"field,omitempty"` // which value, where it is not the delivered mass
		Old      string        `json:"old,omitempty"`
		New      string        `json:"new,omitempty"`
		How      string        `json:"how,omitempty"` // typed
		U        protocol.Mass `json:"u,omitzero"`    // of Is
		Step     protocol.Mass `json:"step,omitzero"` // of the last digit typed
		Raw      []string      `json:"raw,omitempty"`
	}
	// Lost: an instrument went silent or away while a batch was open.
	Lost struct {
		Scale string `json:"scale"`
		Port  string `json:"port"`
		Why   string `json:"why"`
	}
	// Found: it is back. Tare tells whether the pan proved the tare: kept, unknown.
	Found struct {
		Scale string        `json:"scale"`
		Port  string        `json:"port"`
		After string        `json:"after"` // how long it was away, as "12.4s"
		Shows protocol.Mass `json:"shows"`
		Tare  string        `json:"tare"`
		Raw   []string      `json:"raw"`
	}
	// Role: a person said what a material is that no table knows. It belongs to no
	// batch; the last word holds.
	Role struct {
		Material string `json:"material"`
		Role     string `json:"role"` // base, addition, strong
	}
	// Noted: words of a person.
	Noted struct {
		Text string `json:"text"`
	}
	// Paused and Resumed frame a break.
	Paused struct {
		Why string `json:"why,omitempty"`
	}
	// Resumed ends a break or a restart of the daemon.
	Resumed struct {
		Why string `json:"why,omitempty"`
	}
	// Noticed: the bench saw something that a later reader may want to know, such
	// as the scale's own tare key, a changed unit, a lifted container that came back full.
	Noticed struct {
		Scale  string        `json:"scale,omitempty"`
		What   string        `json:"what"` // tare-key, unit, swapped, unsettled-lift …
		Words  string        `json:"words"`
		Amount protocol.Mass `json:"amount,omitzero"`
		Raw    []string      `json:"raw,omitempty"`
	}
)

// Kind names.
func (Planned) Kind() string    { return "planned" }
func (Reminded) Kind() string   { return "reminded" }
func (Tared) Kind() string      { return "tared" }
func (Portion) Kind() string    { return "portion" }
func (Lifted) Kind() string     { return "lifted" }
func (Returned) Kind() string   { return "returned" }
func (Overpoured) Kind() string { return "overpoured" }
func (Decided) Kind() string    { return "decided" }
func (Enlarged) Kind() string   { return "enlarged" }
func (Moved) Kind() string      { return "moved" }
func (Finished) Kind() string   { return "finished" }
func (Amended) Kind() string    { return "amended" }
func (Lost) Kind() string       { return "lost" }
func (Found) Kind() string      { return "found" }
func (Role) Kind() string       { return "role" }
func (Noted) Kind() string      { return "noted" }
func (Paused) Kind() string     { return "paused" }
func (Resumed) Kind() string    { return "resumed" }
func (Noticed) Kind() string    { return "noticed" }

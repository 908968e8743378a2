package book

import (
	"encoding/json"
	"math/big"
	"slices"
	"strconv"
	"strings"
	"time"

	"tared/protocol"
	"tared/session/batch"
	"tared/session/doubt"
	"tared/session/fact"
	"tared/session/sheet"
	"tared/session/text"
)

// Row is a batch in a list.
type Row struct {
	Mark      string    `json:"mark"`
	Title     string    `json:"title"`
	By        string    `json:"by"`
	Started   time.Time `json:"started"`
	Finished  time.Time `json:"finished,omitzero"`
	State     State     `json:"state"` // open, finished, abandoned
	Base      Amount    `json:"planned_base"`
	Enlarged  *Amount   `json:"enlarged_base,omitempty"` // base planned since the batch was enlarged
	Done      int       `json:"done"`                    // materials of which enough, or too much, went in, or that were skipped
	Of        int       `json:"of"`                      // materials planned
	Off       int       `json:"off"`                     // materials that stand outside their band or were skipped
	Cannot    int       `json:"cannot_tell,omitempty"`   // materials of which nobody can tell whether they are in their band
	Worst     string    `json:"worst"`
	Simulated bool      `json:"simulated,omitempty"`
	Again     string    `json:"again,omitempty"`        // mark of the spoiled batch whose place it takes
	Series    string    `json:"series,omitempty"`       // mark of the tub, where it is a cup of a series
	Cups      uint64    `json:"-"`                      // how many its series has; 0: it is of none
	Amended   int       `json:"amended,omitempty"`      // amendments
	Late      int       `json:"amended_late,omitempty"` // of them after the batch was closed
	Photo     string    `json:"photo,omitempty"`        // of the tile that was judged last, else of its firing
}

// Made is a batch as made beside as planned.
type Made struct {
	Row
	Recipe     string        `json:"recipe"`
	RecipeHash string        `json:"recipe_sha256"`
	Dry        Amount        `json:"planned_dry"`
	GrownDry   *Amount       `json:"enlarged_dry,omitempty"`
	MadeBase   Amount        `json:"base"` // delivered
	MadeDry    Amount        `json:"dry"`  // delivered
	Lines      []Line        `json:"lines"`
	Water      *Line         `json:"water,omitempty"` // the first water, shares in percent of everything dry; nil: it was no step
	Scales     []fact.Scale  `json:"scales"`
	Rule       doubt.Rule    `json:"rule"` // by what a weight is accepted
	Changes    []Change      `json:"amendments"`
	Pours      []Pour        `json:"pours"` // the portions, each in full
	Facts      []RecordEntry `json:"facts"`
	Words      []string      `json:"words"`           // what a reader should know of the whole
	Hash       string        `json:"hash"`            // closing hash: SHA-256 of the line that closed it; empty while open
	Bench      string        `json:"bench,omitempty"` // fingerprint of the bench that signed that line
	Check      []string      `json:"check"`           // how to check it without this program
	Cost       *Cost         `json:"cost,omitempty"`
	KeptRecipe string        `json:"kept,omitempty"` // which kept recipe it is

	reader *text.Language
}

// Line is one material as planned and as it went in.
type Line struct {
	Material  string   `json:"material"`
	As        string   `json:"as,omitempty"` // what went in instead
	Role      string   `json:"role"`         // base, addition, strong; empty: nobody planned it
	Addition  bool     `json:"addition"`     // stands on top of the base
	Scale     string   `json:"scale"`
	Weighable string   `json:"weighable"` // good, coarse, blind
	Target    Amount   `json:"target"`
	First     *Amount  `json:"first_target,omitempty"` // before the batch was enlarged
	Low       Amount   `json:"low"`
	High      Amount   `json:"high"`
	Delivered Amount   `json:"delivered"`     // as weighed
	Dry       *Amount  `json:"dry,omitempty"` // of that, where it was moist; shares rest on it
	Bag       *Bag     `json:"bag,omitempty"` // where it came from
	Portions  int      `json:"portions"`
	U         Amount   `json:"u"`         // of what was delivered
	Deviation Amount   `json:"deviation"` // delivered minus target
	Percent   string   `json:"deviation_percent"`
	Bands     int      `json:"deviation_bands"`   // in thousandths of the half band: 1000 stands on the mark
	Beyond    bool     `json:"beyond_u"`          // the deviation is more than U: it is there, the weighing cannot explain it
	Planned   string   `json:"planned_share"`     // percent of the base, for people
	Share     string   `json:"share"`             // percent of the delivered base, three decimals; empty while the batch is open
	ShareU    string   `json:"share_u"`           // U of the share, same unit, rounded up
	Verdict   string   `json:"verdict"`           // under, in, over, cannot-tell, skipped, not-known; empty: not weighed yet
	Allowed   Amount   `json:"allowed"`           // how far it may be off, exactly
	Kept      bool     `json:"kept,omitempty"`    // over, and a person kept it so
	Diluted   *Diluted `json:"diluted,omitempty"` // how it went in, where that was in a mixture
	// AtClosing is what the closing line has, where it was corrected since.
	AtClosing      *Amount  `json:"at_closing,omitempty"`
	ShareAtClosing string   `json:"share_at_closing,omitempty"`
	Corrected      []string `json:"corrected,omitempty"` // by whom and why
	Words          []string `json:"words,omitempty"`
}

// ByWeight reports whether it is in by the weight alone: ± U reaches over the edge of the
// band, so that the rule has to be told beside.
func (l Line) ByWeight() bool {
	return l.Verdict == string(doubt.In) && !doubt.Sure(l.Delivered.Mass, l.U.Mass, l.Target.Mass, l.Allowed.Mass)
}

// ShareShown, DoubtShown, PercentShown and BandsShown write its share, the doubt in that,
// and its deviation in percent and in half bands with the digits that their doubts support.
func (l Line) ShareShown() string { return supported(l.Share, l.ShareU) }
func (l Line) DoubtShown() string { return doubted(l.ShareU) }
func (l Line) PercentShown() string {
	r, ok := new(big.Rat).SetString(l.Percent)
	if !ok {
		return l.Percent
	}
	return signed(r.FloatString(min(2, l.U.DigitsOf(l.Target.Mass, 100))))
}
func (l Line) BandsShown() string {
	places := min(2, l.U.DigitsOf(l.High.Mass-l.Low.Mass, 2))
	return Amount{protocol.Mass(l.Bands) * protocol.Milligram, places}.Signed()
}

// Of tells what the shares of a line are percent of: base, or dry for the first
// water, which is held against everything dry.
func (l Line) Of() string {
	if l.Role == string(sheet.Water) {
		return "dry"
	}
	return "base"
}

// rows are the lines of a table: the materials, then the first water.
func (m Made) rows() []Line {
	if m.Water == nil {
		return m.Lines
	}
	return append(slices.Clone(m.Lines), *m.Water)
}

// Weighed reports whether anything of it was weighed. Of what was not, there is neither
// a deviation nor a U, and what shows the batch to people leaves them blank.
func (l Line) Weighed() bool { return l.Portions > 0 && !l.Unknown() }

// Unknown reports whether nobody knows how much went in.
func (l Line) Unknown() bool { return l.Verdict == batch.Unknown }

// MarshalJSON leaves out what nobody knows.
func (l Line) MarshalJSON() ([]byte, error) {
	type plain Line
	if !l.Unknown() {
		return json.Marshal(plain(l))
	}
	return json.Marshal(struct {
		plain
		Delivered *Amount `json:"delivered"`
		U         *Amount `json:"u"`
		Deviation *Amount `json:"deviation"`
	}{plain: plain(l)})
}

// NothingIn is the verdict on a material of which nothing went in.
const NothingIn = "none"

// VerdictWord is the verdict for people: a material of which nothing went in, in a
// batch that is closed, is not one that was poured too short.
func (l Line) VerdictWord() string {
	if l.Verdict == "under" && !l.Weighed() {
		return NothingIn
	}
	return l.Verdict
}

// Change is one amendment with the old value beside the new.
type Change struct {
	Seq      uint64    `json:"seq"`
	At       time.Time `json:"at"`
	By       string    `json:"by"`
	Of       uint64    `json:"of"`
	Material string    `json:"material,omitempty"`
	Field    string    `json:"field,omitempty"`
	Old      string    `json:"old"`
	New      string    `json:"new"`
	Void     bool      `json:"void,omitempty"`
	Reason   string    `json:"reason"`
	Late     bool      `json:"late,omitempty"` // after the batch was closed
}

// Told tells the change in a sentence.
func (c Change) Told() text.Message {
	if c.Material == "" {
		return text.New("record.change", text.Number("entry", strconv.FormatUint(c.Of, 10)), text.Name("was", c.Old), text.Name("is", c.New), text.Name("by", c.By), text.Name("when", when(c.At)), text.Name("reason", c.Reason))
	}
	return text.New("record.change-of", text.Number("entry", strconv.FormatUint(c.Of, 10)), text.Name("material", c.Material), text.Name("was", c.Old), text.Name("is", c.New), text.Name("by", c.By), text.Name("when", when(c.At)), text.Name("reason", c.Reason))
}

// RecordEntry is one fact in a sentence.
type RecordEntry struct {
	Seq       uint64    `json:"seq"`
	At        time.Time `json:"at"`
	Kind      string    `json:"kind"`
	By        string    `json:"by"`
	Words     string    `json:"words"`
	Hash      string    `json:"hash,omitempty"`
	Void      bool      `json:"void,omitempty"`       // no longer counts
	AmendedBy []uint64  `json:"amended_by,omitempty"` // seq of the amendments
}

// State of a batch.
type State string

// The states.
const (
	Open      State = "open"
	Finished  State = "finished"
	Abandoned State = "abandoned" // closed by a person before everything was in
)

// Diluted is how a material went in that was too little to be weighed by itself.
type Diluted struct {
	Lot     string `json:"lot,omitempty"` // the kept lot that it is a part of; empty: it was mixed for this batch
	Weighed Amount `json:"weighed"`       // of the material, into the mixing cup
	Carrier string `json:"carrier"`
	Dilute  Amount `json:"dilute"`                   // of the carrier, into the same cup
	Take    Amount `json:"take"`                     // of the mixture, into the batch
	Rest    Amount `json:"rest"`                     // of the mixture, left over; of a kept lot it is not told
	Mixing  string `json:"mixing_percent,omitempty"` // by how much the part may differ from the mean of the mixture; empty: nothing was assumed
}

// Drawn is a mixture that was made as a batch of its own, and what of it is in
// this one.
type Drawn struct {
	From string `json:"from"` // the mark of that batch
	Take Amount `json:"take"`
}

// Bag is the lot that a material of a batch came from, and what it cost.
type Bag struct {
	Lot      string  `json:"lot,omitempty"`
	Supplier string  `json:"supplier,omitempty"`
	Moisture string  `json:"moisture_percent,omitempty"`
	Price    string  `json:"price_per_kg,omitempty"`
	Currency string  `json:"currency,omitempty"`
	Taken    *Amount `json:"taken,omitempty"` // out of the lot, with what stayed in mixing cups
	Cost     string  `json:"cost,omitempty"`  // two decimals
}

// String tells where it came from and what it cost: "lot L1 (Q-2217), 0.31 EUR".
func (b Bag) String() string {
	var all []string
	if b.Lot != "" {
		s := "lot " + b.Lot
		if b.Supplier != "" {
			s += " (" + b.Supplier + ")"
		}
		all = append(all, s)
	}
	if b.Cost != "" {
		all = append(all, Sum{b.Cost, b.Currency}.String())
	}
	return strings.Join(all, ", ")
}

// Cost is what the materials of a batch cost, by what was really taken.
type Cost struct {
	Sums    []Sum    `json:"sums"`              // one for each currency
	Missing []string `json:"missing,omitempty"` // materials whose price is not known
}

// Sum is an amount of money.
type Sum struct {
	Amount   string `json:"amount"` // two decimals
	Currency string `json:"currency,omitempty"`
}

// String writes the amount with its currency.
func (s Sum) String() string {
	if s.Currency == "" {
		return s.Amount
	}
	return s.Amount + " " + s.Currency
}

// Pictures are SVG that stands in a page as it is: shapes have classes, so that a
// page can colour them, and colours of their own for where nobody does.

// Pour is one portion in full, with the pour as the scale showed it.
type Pour struct {
	Seq       uint64    `json:"seq"`
	At        time.Time `json:"at"`
	By        string    `json:"by"`
	Material  string    `json:"material"` // the line, or the step of a mixture, that it was weighed for
	As        string    `json:"as,omitempty"`
	Into      string    `json:"into,omitempty"`
	Scale     string    `json:"scale"`
	Before    Amount    `json:"before"`
	After     Amount    `json:"after"`
	Delivered Amount    `json:"delivered"`
	Is        *Amount   `json:"corrected,omitempty"` // what counts, where it was amended
	// Correction tells who changed it last, and why; nil: nobody did.
	Correction *Correction `json:"correction,omitempty"`
	Target     Amount      `json:"target"`
	Low        Amount      `json:"low"`
	High       Amount      `json:"high"`
	U          Amount      `json:"u"`
	Verdict    string      `json:"verdict"`
	How        string      `json:"how"`                    // as in fact.Portion
	Confirmed  string      `json:"confirmed_by,omitempty"` // the second person, where one looked
	Raw        []string    `json:"raw"`
	Trace      string      `json:"trace,omitempty"` // as in fact.Portion
	Void       bool        `json:"void,omitempty"`

	reader *text.Language
}

// Correction is what changed a portion last.
type Correction struct {
	Seq    uint64    `json:"seq"`
	At     time.Time `json:"at"`
	By     string    `json:"by"`
	Reason string    `json:"reason"`
	Typed  bool      `json:"typed,omitempty"` // it is a person's word
	Late   bool      `json:"late,omitempty"`  // after the batch was closed
	U      Amount    `json:"u"`               // of what counts now
}

// Short gives the beginning of a hash, in groups of four, as it is written on a
// label; a hash that is not known is empty.
func Short(hash string) string {
	if len(hash) < 16 {
		return hash
	}
	return hash[:4] + " " + hash[4:8] + " " + hash[8:12] + " " + hash[12:16]
}

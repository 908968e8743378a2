package book

import "tared/session/text"

// Comparison sets the shares of batches side by side. The first batch is the one
// that the others are held against.
type Comparison struct {
	Batches []Row     `json:"batches"`
	Lines   []Against `json:"lines"`
	// Explains tells whether the weighing can explain a difference of the tiles: some
	// material is further from its plan in one batch than in another, by more than the
	// joint uncertainty and the bands together, or something else went in.
	Explains bool `json:"explains"`
	// Hidden is what nobody can tell, the likeliest to matter first. Where there is any, the
	// weighing acquits nothing.
	Hidden  []Hidden `json:"hidden"`
	Verdict string   `json:"verdict"` // the same in a sentence; empty: there are no two finished batches
	Causes  []Cause  `json:"causes"`  // what differs, the likeliest cause first
	Notes   []string `json:"notes"`   // what else is to be known
	Words   []string `json:"words"`   // all three in order

	reader *text.Language
}

// Against is one material of all batches.
type Against struct {
	Material string `json:"material"`
	Addition bool   `json:"addition"`
	Cells    []Cell `json:"cells"`   // one for each batch, in order
	Differs  bool   `json:"differs"` // between some two batches by more than their joint U, in view of how many are compared
}

// Cell is one material of one batch.
type Cell struct {
	In             bool   `json:"in"` // the batch has this material in its plan, or got some
	As             string `json:"as,omitempty"`
	Share          string `json:"share"`                      // percent of the delivered base
	U              string `json:"u"`                          // of the share
	ShareAtClosing string `json:"share_at_closing,omitempty"` // where the amount was corrected since
	Verdict        string `json:"verdict"`                    // as in Line
	Less           string `json:"difference"`                 // this minus the first batch, signed; empty where it means nothing
	JointU         string `json:"difference_u"`               // of that difference
	Differs        bool   `json:"differs"`                    // from the first batch, by more than that, in view of how many are compared
}

// ShareShown, DoubtShown, LessShown and JointShown write its figures with the digits that
// their doubts support.
func (c Cell) ShareShown() string { return supported(c.Share, c.U) }
func (c Cell) DoubtShown() string { return doubted(c.U) }
func (c Cell) LessShown() string  { return supported(c.Less, c.JointU) }
func (c Cell) JointShown() string { return doubted(c.JointU) }

// Cause is one thing in which the batches differ, in one sentence. Those of a
// Comparison stand in the order in which they are likely to have made the tiles
// differ.
type Cause struct {
	Kind     cause  `json:"kind"`
	Material string `json:"material,omitempty"`
	Weighing bool   `json:"weighing,omitempty"` // what went in is not what was planned, by more than the weighing can be wrong by
	Words    string `json:"words"`
}

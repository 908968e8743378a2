package fact

import "tared/protocol"

// Stocked: a lot of a material came into stock.
type Stocked struct {
	Lot      string        `json:"lot"` // its mark here, such as L3
	Material string        `json:"material"`
	Supplier string        `json:"supplier,omitempty"` // the mark that the supplier put on it
	Opened   string        `json:"opened,omitempty"`   // date, 2026-11-25
	Amount   protocol.Mass `json:"amount"`             // as it lies there, its moisture with it
	Moisture string        `json:"moisture,omitempty"` // percent of that (wet basis), such as "3.5"
	Price    string        `json:"price,omitempty"`    // of a kilogram as it lies there
	Currency string        `json:"currency,omitempty"`
	Words    string        `json:"words,omitempty"`
	// Content is what it holds, where it is what was kept of a mixture or a solution.
	Content *Content `json:"content,omitempty"`
}

// Content is what a kept mixture or solution was mixed of, by the weighings of the batch
// that it was mixed for.
type Content struct {
	Of     string    `json:"of"`               // mark of that batch
	Parts  []MixPart `json:"parts"`            // the material, then its carrier: all that was mixed
	Mixing string    `json:"mixing,omitempty"` // as that of a Mix
}

// Corrected: something about a lot is not as the record had it.
type Corrected struct {
	Lot    string        `json:"lot"`
	Field  string        `json:"field"` // amount, moisture, price, opened, supplier
	Was    protocol.Mass `json:"was,omitzero"`
	Is     protocol.Mass `json:"is,omitzero"` // what is there now, where it is the amount
	Old    string        `json:"old,omitempty"`
	New    string        `json:"new,omitempty"`
	Reason string        `json:"reason"`
}

// Recipe: a recipe was kept, or a new version of it.
type Recipe struct {
	Name    string `json:"name"`
	Version uint64 `json:"version"` // from 1
	Text    string `json:"text"`
	Hash    string `json:"sha256"` // of the text
	Words   string `json:"words,omitempty"`
}

// Kind gives the word in the journal.
func (Stocked) Kind() string   { return "stocked" }
func (Corrected) Kind() string { return "corrected" }
func (Recipe) Kind() string    { return "recipe" }

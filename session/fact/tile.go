package fact

// Fired: tiles of the batch went through a kiln.
type Fired struct {
	Kiln       string   `json:"kiln"`
	Cone       string   `json:"cone,omitempty"` // as text
	Hold       string   `json:"hold,omitempty"`
	Atmosphere string   `json:"atmosphere,omitempty"`
	Tiles      []string `json:"tiles,omitempty"` // their marks
	Curve      string   `json:"curve,omitempty"` // lines of "minutes,celsius", or words
	Words      string   `json:"words,omitempty"`
	Photos     []string `json:"photos,omitempty"` // names of files beside the journal, each the SHA-256 of the file
}

// Judged: a tile was looked at.
type Judged struct {
	Tile    string   `json:"tile"`
	Clay    string   `json:"clay,omitempty"`
	Coats   string   `json:"coats,omitempty"`
	Thick   string   `json:"thickness,omitempty"`
	Place   string   `json:"place,omitempty"` // in the kiln
	Words   string   `json:"words,omitempty"`
	Tags    []string `json:"tags,omitempty"`
	Photos  []string `json:"photos,omitempty"` // as in Fired
	Verdict string   `json:"verdict,omitempty"`
	Next    string   `json:"next,omitempty"` // what to try next
}

// Kind gives the word in the journal.
func (Fired) Kind() string  { return "fired" }
func (Judged) Kind() string { return "judged" }

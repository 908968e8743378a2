package fact

// Format is the number of the journal's format, in [Began]. What is promised to older
// programs: a new kind of fact, or a new field that may be left out, changes nothing of
// what the others say, and the number stays. Whoever meets a kind that it does not know
// in a batch that is still open must not go on with that batch, for the line may carry a
// weighing. A change to what a known kind or field means raises the number, and a program
// that meets a higher number than its own reads nothing and writes nothing.
const Format = 1

// Began is the beginning of an epoch: from here on, this journal is kept at this place.
type Began struct {
	Epoch  uint64 `json:"epoch"`
	Format uint64 `json:"format"`
	// Why a later epoch began, as a code: see the constants. Empty: it is the first.
	Why string `json:"why,omitempty"`
	// Lines and Head are of the journal that was last seen at this place, and Seen is of
	// its last line, where Why says that this is not that one. For a copy they are of
	// the lines before this one.
	Lines uint64 `json:"lines,omitempty"`
	Head  string `json:"head,omitempty"`
	Seen  string `json:"seen,omitempty"` // RFC 3339

	// Bench is the fingerprint of its key, Key the public key, Sign what stands on its
	// marks from here on; see package signer. Version is of the program. All are empty
	// in journals that are older than keys are.
	Bench   string `json:"bench,omitempty"`
	Key     string `json:"key,omitempty"`
	Sign    string `json:"sign,omitempty"`
	Version string `json:"version,omitempty"`
}

// Why an epoch began.
const (
	BeganGone  = "gone"  // the journal that was here is not there any more
	BeganOlder = "older" // it has fewer lines than it had, or others
	BeganCopy  = "copy"  // nobody at this place has seen it before
	BeganNamed = "named" // the bench got a key; before, it had none
	BeganKey   = "key"   // its key was not there any more: it has another
	BeganSign  = "sign"  // it was given another sign
)

// Signed is the signature of the line that closed a batch.
type Signed struct {
	Of        uint64 `json:"of"`        // number of that line
	Hash      string `json:"hash"`      // its SHA-256
	Key       string `json:"key"`       // public key of the bench, as in Began
	Signature string `json:"signature"` // of the bytes of that line, its newline included, in base64
}

// Witnessed says how far this bench has taken the lines of another: each keeps so what the
// others cannot take back.
type Witnessed struct {
	Bench string `json:"bench"` // fingerprint of the other's key
	Sign  string `json:"sign"`  // of it, at that line
	Epoch uint64 `json:"epoch"`
	Lines uint64 `json:"lines"` // number of the last line that was taken
	Head  string `json:"head"`  // SHA-256 of it
	// Other is what the bench gave for the same line later: another history. From then on
	// nothing is taken from it. Empty: it gave none.
	Other string `json:"other,omitempty"`
}

// Kind is "witnessed".
func (Witnessed) Kind() string { return "witnessed" }

// Kind is "signed".
func (Signed) Kind() string { return "signed" }

// Kind is "began".
func (Began) Kind() string { return "began" }

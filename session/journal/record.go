package journal

import (
	"bytes"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"time"

	"tared/session/text"
)

// Hash is the SHA-256 (FIPS 180-4) of a whole line, its newline included.
type Hash [sha256.Size]byte

// String writes 64 lower-case hexadecimal digits, as sha256sum does.
func (h Hash) String() string { return hex.EncodeToString(h[:]) }

// MarshalText writes the hash as String does.
func (h Hash) MarshalText() ([]byte, error) { return []byte(h.String()), nil }

// UnmarshalText reads 64 hexadecimal digits.
func (h *Hash) UnmarshalText(b []byte) error {
	if len(b) != 2*len(h) {
		return text.Fault("journal.hash", text.Name("hash", string(b)), text.Count("digits", 2*len(h)))
	}
	if _, err := hex.Decode(h[:], b); err != nil {
		return fmt.Errorf("hash %q: %w", b, err)
	}
	return nil
}

// Record is one line as it stands in the journal.
type Record struct {
	Seq   uint64
	At    time.Time
	Kind  string
	Batch string
	By    string
	Hash  Hash   // of this line; the next line's prev
	Line  []byte // the whole line with its newline
}

// Note is something about a line that is odd and does no harm.
type Note struct {
	Line  uint64 `json:"line"`
	Words string `json:"words"`
}

// MaxLine is the longest line that is written or read, in bytes. A portion needs
// a thousand; the limit keeps a file that is no journal from filling the memory.
const MaxLine = 16 << 20

// maxNotes is how many notes a Report keeps.
const maxNotes = 100

// named is the record of one line alone.
func named(h head, line []byte) Record {
	return Record{Seq: h.seq, At: h.at, Kind: string(h.kind), Batch: string(h.batch), By: string(h.by), Hash: sha256.Sum256(line), Line: line}
}

// Next reads a line, its newline included, that is to follow a place. The error says why it
// does not, and has ErrDamaged in its chain.
func (p Place) Next(line []byte) (Record, error) {
	damage := func(why error) error { return &Damage{Line: p.Lines + 1, Offset: p.Bytes, Why: why} }
	if len(line) == 0 || line[len(line)-1] != '\n' || bytes.IndexByte(line, '\n') < len(line)-1 {
		return Record{}, damage(text.Fault("journal.cut-off"))
	}
	h, why := p.head(line[:len(line)-1])
	if why != nil {
		return Record{}, damage(why)
	}
	return named(h, line), nil
}

// head reads a line, without its newline, and compares it with what must follow a place.
func (p *Place) head(body []byte) (h head, why error) {
	switch h, why = parseHead(body); {
	case why != nil:
	case h.seq != p.Lines+1:
		why = text.Fault("journal.order", text.Count("seq", int(h.seq)), text.Count("due", int(p.Lines+1)))
	case !follows(h, p.Head):
		why = errChain
	}
	return h, why
}

// OtherHistory reports whether an error of Next says that a line is whole, and of the right
// number, and follows another line than the last one here: a history that is not this one.
func OtherHistory(err error) bool {
	var d *Damage
	return errors.As(err, &d) && d.Why == errChain
}

// follows reports whether a line carries the hash of the one before.
func follows(h head, before Hash) bool {
	var want [2 * sha256.Size]byte
	hex.Encode(want[:], before[:])
	return bytes.Equal(h.prev, want[:])
}

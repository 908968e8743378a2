package web

import (
	"crypto/tls"
	"io"
	"net"
	"net/netip"
	"time"

	"tared/session/copies"
	"tared/session/material"
	"tared/session/text"
	"tared/web/help"
	"tared/web/lan"
	"tared/web/peers"

	"github.com/rs/zerolog"
)

// DefaultAddr is where the page is served unless told otherwise: this machine only.
const DefaultAddr = "127.0.0.1:7410"

const (
	headerWait   = 10 * time.Second // for a request's headers
	bodyWait     = 10 * time.Second // for a command's body
	answerWait   = 6 * time.Minute  // for an answer, a photograph and its wait for a place included
	idleWait     = 2 * time.Minute  // for the next request on a connection
	shutdownWait = 5 * time.Second  // for requests in work when the server ends
)

// maxBody is the most bytes of a command: the longest recipe text, written as
// JSON, has room in it.
const maxBody = 256 << 10

// photoSlots is how many photographs may be on their way at a time: each is held in
// memory until it is checked.
const photoSlots = 3

// Config says what a Server serves and to whom.
type Config struct {
	// Addr is listened on when Listener is nil; empty is DefaultAddr.
	Addr string
	// Listener is used instead of Addr, and closed by Run.
	Listener net.Listener
	// Ready is called, when not nil, with the address once it is listened on.
	Ready func(net.Addr)

	Bench Bench
	Book  Book // nil: the book pages say that there is none
	// Materials is the table of the bench; nil: the embedded one.
	Materials *material.Table
	Samples   []Sample             // recipes that the sheet page offers
	Photos    string               // data directory that keeps photographs; empty: none are kept
	Hands     Hands                // nil: no simulated hands
	Lines     Lines                // of the journal; nil: they are not given out
	Peers     func() []peers.State // how other benches stand whose lines are taken; nil: none are
	Printer   Printer              // of labels; nil: there is none
	Archive   Archive              // nil: the record cannot be taken out by the page
	Ports     Ports                // that are not set up; nil: there are none
	Link      string               // address of the page as phones reach it, for labels; empty: the one by which it was opened

	Help help.Book // with what the program knows of itself

	Version string // of the program, for whoever looks after it

	// Names are host names by which browsers may call this machine, besides
	// localhost, addresses in digits and the machine's own name.
	Names []string
	// Name is the one by which the local network knows this machine; nil: none.
	Name *lan.Name
	// Pair asks for a paired browser even on this machine. Beyond it, and through a proxy,
	// commands always need one.
	Pair bool
	// Proxies are those that are believed who asks through them. It opens nothing.
	Proxies []netip.Prefix
	// Key signs the pairing cookies. Keep it to keep browsers paired over a
	// restart; nil makes a new one.
	Key []byte
	// Open lets whoever reaches the page read what the bench knows; else only those do who
	// may command.
	Open bool
	// TLS serves the page encrypted; who does not speak it is led on, but for this machine
	// itself. Nil: it is plain.
	TLS *tls.Config
	// Authority is what vouches for it, for devices to trust; nil: they do already.
	Authority Authority
	// Code is called, when not nil, with the code by which the first device comes in, where
	// others than this machine can.
	Code func(Invitation)

	Log zerolog.Logger
	// Now gives the time of a command; nil is time.Now.
	Now func() time.Time
}

// Authority is what devices are to trust.
type Authority interface {
	DER() []byte         // its certificate
	Fingerprint() string // as telephones show it
}

// Invitation lets one device in, for a while.
type Invitation struct {
	Code  string    `json:"code"`
	Now   time.Time `json:"now"`
	Until time.Time `json:"until"` // it serves
	// Links open the page for others and pair, the likeliest first; none where only this
	// machine reaches it. The first serves every camera.
	Links []string `json:"links"`
	Named string   `json:"named,omitempty"` // the link by a name that is easier to type; not every device finds it
	Trust string   `json:"trust,omitempty"` // tells a device how to trust the page; empty: it needs not
}

// Sample is a recipe that the sheet page offers.
type Sample struct {
	Name string `json:"name"`
	Text string `json:"text"`
}

// Step is told how far a longer work is.
type Step = func(done, of int64)

// Archive is the record as a whole, and what the bench can read.
type Archive interface {
	// Verify walks the record and tells how it stands; ok is false where something is wrong.
	Verify(step Step) (words []text.Message, ok bool, err error)
	// Export writes all batches, as "csv", as "csv-comma" with decimal commas, or as one "page" that needs nothing else, without
	// "names", "prices" or both.
	Export(w io.Writer, as string, without []string) error
	// Pack puts the record with its photographs into one file, reads that back, and tells
	// where it lies and what is in it.
	Pack(step Step) (file string, words []text.Message, err error)
	// Restore makes a record of such a file, or of exported lines, in a place of its own, and
	// tells what it holds. The one in use stays as it is.
	Restore(in io.Reader) ([]text.Message, error)
	// Nightly tells how it stands with the copies that the daemon makes by itself.
	Nightly() Nightly
	// Copy makes one of those now, and tells where.
	Copy(step Step) (text.Message, error)
	// Formats are the lines of scales that can be read.
	Formats() []Format
}

// Nightly is how it stands with the copies that are made night by night.
type Nightly struct {
	Folder string       // where they go; empty: none are made
	At     string       // when, as 03:30
	Keep   copies.Keep  // how many are kept
	Last   time.Time    // when the last good one was made; zero: never
	Late   bool         // nights went by without one
	Why    text.Message // the last try failed
}

// Format is one kind of line.
type Format struct{ Name, Summary, Example string }

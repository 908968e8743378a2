package web

import (
	"context"
	"io"

	"tared/session"
	"tared/session/book"
	"tared/session/fact"
	"tared/session/journal"
	"tared/session/plan"
	"tared/session/recipebook"
	"tared/session/sheet"
	"tared/session/stock"
)

// Bench is what the pages need of the weighing; *session.Bench is one. An error with
// session.ErrRefused in its chain is one that a person can mend.
type Bench interface {
	// Watch gives a new watch on the views; whoever asked for it closes it. News, unless
	// it is nil, is called for each newer view, and must not wait.
	Watch(news func()) *session.Watcher
	// Alive returns nil when the bench answers before ctx ends: a page must not
	// take a line that is alive for a bench that is.
	Alive(ctx context.Context) error
	// Tally gives what was counted since the start.
	Tally(ctx context.Context) (session.Tally, error)

	// Do carries out a command and returns when its record is on disk.
	Do(ctx context.Context, c session.Command) error
	// Plan makes a sheet and changes nothing.
	Plan(ctx context.Context, r plan.Request) (sheet.Sheet, error)
	// Start opens a batch and returns its mark.
	Start(ctx context.Context, r plan.Request) (string, error)

	// Check begins a check of a scale, or ends one; Order tells a scale to do something.
	Check(ctx context.Context, r session.CheckRequest) error
	Order(ctx context.Context, name, what, by string) error

	// AddEntry records something of a batch that is closed; entry gives an entry of it.
	AddEntry(ctx context.Context, r session.EntryRequest, entry func(seq uint64) book.Amendable) (uint64, error)
	// Read gives what a scale shows now.
	Read(ctx context.Context, scale string) (session.Reading, error)
	// Measure records the volume of a vessel; Vessels lists those that were measured.
	Measure(ctx context.Context, w session.VesselRequest) (fact.Vessel, error)
	Vessels(ctx context.Context) ([]fact.Vessel, error)

	// Devices gives all that were ever paired; Pair takes one in under the id fresh, names
	// one anew, or sends one away.
	Devices(ctx context.Context) ([]session.Device, error)
	Pair(ctx context.Context, r session.DeviceRequest, fresh string) error

	// LotsAndRecipes gives the lots of materials and the recipes that are kept; Keep records
	// one of them, or corrects a lot.
	LotsAndRecipes(ctx context.Context) ([]stock.Lot, []recipebook.Recipe, error)
	Keep(ctx context.Context, r session.KeepRequest) (session.Receipt, error)
}

// Book is what the pages need of the record. A mark that is not there gives an error
// with ErrNoBatch in its chain; what a person asked for and cannot be gives one with
// session.ErrRefused.
type Book interface {
	// Batches lists those that a search finds, in that order; all where nothing is searched
	// for.
	// The first are passed over, and rows are made of so many that follow; all is how many
	// there are. While Behind says that the book is being read, a search looks at what was
	// read.
	Batches(ctx context.Context, find string, order book.Order, first, most int) (rows []book.Row, all int, err error)
	// Older lists those that a search finds among the batches that were planned before one,
	// by its mark; "" all. The newest come first, and rows are made of so many.
	Older(ctx context.Context, find, before string, most int) (rows []book.Row, all int, err error)
	// Behind is how many lines of the journal are still to be checked after a start that
	// took them as an earlier one had checked them, and how much of the book is read as far
	// as a search needs it, in percent.
	Behind() (lines, read int)
	Batch(ctx context.Context, mark string) (book.Made, error)
	// Compare sets two or more beside each other.
	Compare(ctx context.Context, marks ...string) (book.Comparison, error)
	// Oxides works out the glaze behind the weights of a batch.
	Oxides(ctx context.Context, mark string) (book.Oxides, error)
	// Series gives the series to which a batch belongs; ErrNoBatch where it belongs
	// to none.
	Series(ctx context.Context, mark string) (book.Series, error)
	// Label draws the labels of a batch: so many columns and rows, or of that size.
	Label(ctx context.Context, mark, sheet, count, link string) (string, error)

	// After tells what came after a batch was closed. Wanted is a gravity, "" for none.
	After(ctx context.Context, mark, wanted string) (book.After, error)
	// Amendable gives an entry of a batch; the zero value when there is none.
	Amendable(ctx context.Context, mark string, seq uint64) book.Amendable
}

// Printer prints labels.
type Printer interface {
	// Print has so many labels of a batch printed, whose code opens a page below link.
	Print(ctx context.Context, mark, link string, count int) error
}

// Lines is the journal as bytes.
type Lines interface {
	// Place tells up to where its lines are on the disk. The channel closes when there are more.
	Place() (journal.Place, <-chan struct{})
	// Open gives its file.
	Open() (LinesFile, error)
}

// LinesFile is the file of a journal.
type LinesFile interface {
	io.ReaderAt
	io.Closer
}

// ErrNoBatch means that the record has no batch of that mark.
var ErrNoBatch = book.ErrNoBatch

// Hands are simulated hands at simulated scales. Only a demonstration has them;
// the page shows them in a strip of their own, apart from the bench.
type Hands interface {
	// Moves lists what the hands can do now, scale by scale.
	Moves() []HandMoves
	// Move makes one of them; an error says in a sentence why not.
	Move(ctx context.Context, scale, do string) error
}

// HandMoves are the moves at one simulated scale.
type HandMoves struct {
	Scale string     `json:"scale"`
	Moves []HandMove `json:"moves"`
}

// HandMove is one thing that the hands can do.
type HandMove struct {
	Do    string `json:"do"`
	Label string `json:"label"`
}

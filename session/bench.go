package session

import (
	"context"

	"tared/scale"
	"tared/session/sheet"
)

// PlanRequest is a wish for a batch, as a person writes it.
type PlanRequest struct {
	Recipe    string            `json:"recipe"`    // text
	Base      string            `json:"base"`      // "750g"; exactly one of Base, Dry, Wet
	Dry       string            `json:"dry"`       //
	Wet       string            `json:"wet"`       // "2l at 1.45"
	Allow     map[string]string `json:"allow"`     // role or material to share or mass: "base":"1%", "strong":"0.1g"
	Roles     map[string]string `json:"roles"`     // material to role, where the table is wrong
	Container string            `json:"container"` // usual container weight
	Order     []string          `json:"order"`     // material names
	By        string            `json:"by"`        // operator
}

// Watcher holds one slot with the newest view, encoded once for all watchers.
type Watcher struct {
	// C gets a token when a newer view is there; it never blocks the bench.
	C <-chan struct{}
	b *Bench
	c chan struct{}
}

// Bench is the one goroutine that owns the weighing, and the doors to it.
type Bench struct{}

// Run blocks until ctx ends or the bench cannot go on.
func (b *Bench) Run(ctx context.Context) error { panic("todo") }

// Feed gives the bench what an instrument did. Any goroutine may call it.
func (b *Bench) Feed(u scale.Update) { panic("todo") }

// Do carries out a command and returns when its record is on disk. A command
// that does not fit gives an error with ErrRefused in its chain.
func (b *Bench) Do(ctx context.Context, c Command) error { panic("todo") }

// Plan makes a sheet and changes nothing.
func (b *Bench) Plan(ctx context.Context, r PlanRequest) (sheet.Sheet, error) { panic("todo") }

// Start plans and opens a batch, and returns its mark.
func (b *Bench) Start(ctx context.Context, r PlanRequest) (string, error) { panic("todo") }

// Watch gives a new watcher; Close it.
func (b *Bench) Watch() *Watcher { panic("todo") }

// Latest gives the newest view as JSON; the bytes are shared and not to be changed.
func (w *Watcher) Latest() []byte { panic("todo") }

// Close ends the watching.
func (w *Watcher) Close() { panic("todo") }

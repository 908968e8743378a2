package web

import (
	"context"
	"net/http"

	"tared/session"
	"tared/session/sheet"
)

// Bench is what the pages need of the weighing.
type Bench interface {
	// Do carries out a command and returns when its record is on disk. An error
	// with session.ErrRefused in its chain is one that a person can mend.
	Do(ctx context.Context, c session.Command) error
	// Plan makes a sheet and changes nothing.
	Plan(ctx context.Context, r session.PlanRequest) (sheet.Sheet, error)
	// Start opens a batch and returns its mark.
	Start(ctx context.Context, r session.PlanRequest) (string, error)
	// Watch gives a new watch on the views.
	Watch() Watch
	// Alive returns nil when the bench answers before ctx ends: a page must not
	// take a line that is alive for a bench that is.
	Alive(ctx context.Context) error
}

// Watch is one watcher's slot with the newest view.
type Watch interface {
	// Fresh gets a token when a newer view is there.
	Fresh() <-chan struct{}
	// Latest gives the newest view as JSON, nil when there is none yet. The same
	// view is the same slice for every watcher; nobody changes it.
	Latest() []byte
	// Close ends the watching.
	Close()
}

// FromSession gives a session's bench the shape that the pages need.
func FromSession(b *session.Bench) Bench { return sessionBench{b} }

type sessionBench struct{ *session.Bench }

func (b sessionBench) Watch() Watch { return sessionWatch{b.Bench.Watch()} }

// Alive asks something that only the bench's own goroutine can answer.
func (b sessionBench) Alive(ctx context.Context) error {
	_, _, _, err := b.Open(ctx)
	return err
}

type sessionWatch struct{ *session.Watcher }

func (w sessionWatch) Fresh() <-chan struct{} { return w.C }

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

// able gives the bench as one that can do more than a Bench must, or refuses in those
// words where it cannot.
func able[T any](s *Server, w http.ResponseWriter, why string) (T, bool) {
	b, ok := s.cfg.Bench.(T)
	if !ok {
		refuse(w, http.StatusNotFound, why)
	}
	return b, ok
}

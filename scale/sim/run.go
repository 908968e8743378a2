package sim

import (
	"context"
	"errors"
	"fmt"
	"time"
)

// lookEvery is how often the potter looks, in virtual time.
const lookEvery = 20 * time.Millisecond

// Runner lets an Auto work in a World by what a bench shows, on a Clock.
type Runner struct {
	World *World
	Auto  *Auto
	Clock Clock
	// Guide gives what the bench shows now; it must not block. False: nothing yet.
	Guide func() (Guidance, bool)
	// Say carries a word to the bench. An error is reported to Refused and the
	// potter goes on: a person who is refused looks again, too.
	Say func(ctx context.Context, word string) error
	// Refused hears what the bench refused; nil: nobody does.
	Refused func(word string, err error)
}

// Run blocks until the batch is finished, or ctx ends, whose error it then gives.
func (r Runner) Run(ctx context.Context) error {
	if r.World == nil || r.Auto == nil || r.Guide == nil || r.Say == nil || r.Clock.speed == 0 {
		return errors.New("simulated hands: World, Auto, Clock, Guide and Say must be set")
	}
	tick := time.NewTicker(max(r.Clock.Wall(lookEvery), 500*time.Microsecond))
	defer tick.Stop()
	for !r.Auto.Done() {
		select {
		case <-ctx.Done():
			return ctx.Err()
		case <-tick.C:
		}
		g, ok := r.Guide()
		if !ok {
			continue
		}
		for _, a := range r.Auto.Step(r.Clock.Now(), g) {
			if a.Verb == Say {
				if err := r.Say(ctx, a.Word); err != nil && r.Refused != nil {
					r.Refused(a.Word, err)
				}
				continue
			}
			if err := r.World.Do(a); err != nil {
				return fmt.Errorf("simulated hands: %w", err)
			}
		}
	}
	return nil
}

package sim

import (
	"context"
	"fmt"
	"time"
)

// Clock is time that runs faster (or slower) than the wall. Whoever judges
// windows of time beside a simulated scale must use the same Clock: at speed 20
// a second of rest lasts a twentieth of a second on the wall.
type Clock struct {
	wall  time.Time // when the clock was made, with its monotonic part
	start time.Time // the same moment, wall time only: virtual and real monotonic readings must never be mixed
	speed float64
}

// NewClock starts a clock that shows the present time now and gains from here
// on.
func NewClock(speed float64) (Clock, error) {
	if !(speed > 0 && speed <= 1000) {
		return Clock{}, fmt.Errorf("speed %v: want a number above 0 and up to 1000, such as 20", speed)
	}
	now := time.Now()
	return Clock{wall: now, start: now.Round(0), speed: speed}, nil
}

// Now gives the virtual time.
func (c Clock) Now() time.Time {
	return c.start.Add(time.Duration(float64(time.Since(c.wall)) * c.speed))
}

// Start gives the time at which virtual and wall time were the same.
func (c Clock) Start() time.Time { return c.start }

// Real gives when on the wall it was when the clock showed a time: never later than now for what
// has happened, and in the same order.
func (c Clock) Real(at time.Time) time.Time { return c.start.Add(c.Wall(at.Sub(c.start))) }

// Speed gives how many virtual seconds pass in one.
func (c Clock) Speed() float64 { return c.speed }

// Wall gives how long a virtual span lasts on the wall.
func (c Clock) Wall(d time.Duration) time.Duration {
	return time.Duration(float64(d) / c.speed)
}

// After is time.After for a virtual span.
func (c Clock) After(d time.Duration) <-chan time.Time { return time.After(c.Wall(d)) }

// Sleep waits a virtual span; it returns the context's error when that ends
// first.
func (c Clock) Sleep(ctx context.Context, d time.Duration) error {
	t := time.NewTimer(c.Wall(d))
	defer t.Stop()
	select {
	case <-ctx.Done():
		return ctx.Err()
	case <-t.C:
		return nil
	}
}

package scale

import (
	"errors"
	"fmt"
	"time"
)

// Order is what a person may tell an instrument to do.
type Order string

// The orders.
const (
	OrderZero Order = "zero"
	OrderTare Order = "tare"
)

// ErrOrder is in the chain of every error about an order that cannot be given.
var ErrOrder = errors.New("the scale cannot be told")

type order struct {
	what Order
	done chan error
}

// Remote is a hand on a running instrument, for others than the goroutine of its
// Run. It is made before the instrument and given with its Config.
type Remote struct {
	wanted func() bool
	orders chan order
}

// NewRemote makes a Remote. An instrument that must be asked is asked only while
// wanted says so, which is called often; nil: always.
func NewRemote(wanted func() bool) *Remote {
	if wanted == nil {
		wanted = func() bool { return true }
	}
	return &Remote{wanted, make(chan order)}
}

// orderWait is how long an order waits for an instrument that is listening.
const orderWait = 2 * time.Second

// Order sends the scale the command to zero or to tare, because a person said so;
// nothing in this program gives one by itself. It is sent once, and only where the
// manual of the format documents it. The scale need not obey: what it shows tells.
// It waits for the goroutine of Run, so that one must not call it.
func (r *Remote) Order(what Order) error {
	o := order{what, make(chan error, 1)}
	select {
	case r.orders <- o:
		return <-o.done
	case <-time.After(orderWait):
		return fmt.Errorf("%w: it is not connected now", ErrOrder)
	}
}

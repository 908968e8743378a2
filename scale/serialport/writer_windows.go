package serialport

import (
	"os"
	"time"

	"go.bug.st/serial"
)

const windows = true

// writer guards writes by time: one that does not end in writeWait counts as
// failed, and no further one is begun while it hangs.
type writer struct{ g *guard }

type guard struct {
	port serial.Port
	busy chan struct{}
}

const writeWait = time.Second

func openWriter(string) (writer, error) {
	return writer{&guard{busy: make(chan struct{}, 1)}}, nil
}

func (w writer) bind(p serial.Port) { w.g.port = p }

func (w writer) Write(b []byte) (int, error) {
	select {
	case w.g.busy <- struct{}{}:
	default:
		return 0, os.ErrDeadlineExceeded
	}
	type result struct {
		n   int
		err error
	}
	done := make(chan result, 1)
	b = append([]byte(nil), b...)
	go func() {
		n, err := w.g.port.Write(b)
		done <- result{n, err}
		<-w.g.busy
	}()
	late := time.NewTimer(writeWait)
	defer late.Stop()
	select {
	case r := <-done:
		return r.n, r.err
	case <-late.C:
		return 0, os.ErrDeadlineExceeded
	}
}

func (w writer) Close() error { return nil }

func deniedBy(string) (what, mend string) { return "", "run as a user who may open it" }

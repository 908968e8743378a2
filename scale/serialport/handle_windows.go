package serialport

import (
	"os"
	"time"

	"go.bug.st/serial"
)

const windows = true

// handle guards writes by time: one that does not end in writeWait counts as
// failed, and no further one is begun while it hangs.
type handle struct {
	port serial.Port
	busy chan struct{}
}

// Patient is not heeded: to set the time races with Read.
func (h *handle) Patient(bool) {}

const writeWait = time.Second

func openHandle(string) (*handle, error) {
	return &handle{busy: make(chan struct{}, 1)}, nil
}

func (h *handle) bind(p serial.Port) error {
	h.port = p
	return p.SetReadTimeout(readWait) // once, before anyone reads
}

func (h *handle) Read(b []byte) (int, error) { return h.port.Read(b) }

func (h *handle) Write(b []byte) (int, error) {
	select {
	case h.busy <- struct{}{}:
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
		n, err := h.port.Write(b)
		done <- result{n, err}
		<-h.busy
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

func (h *handle) Close() error { return nil }

func deniedBy(string) (what, mend string) { return "", "run as a user who may open it" }

package scale

import (
	"fmt"
	"io"
	"sync"
	"time"
)

// kept is how many of the last frames are kept, and how long one may be.
const (
	kept      = 64
	keptBytes = 256
)

// Heard is one frame as it came, with its time.
type Heard struct {
	At  time.Time
	Raw []byte
}

// ring keeps the last frames. Putting one in does not allocate once its slot has
// grown to the length of a frame.
type ring struct {
	mu    sync.Mutex
	slots [kept]Heard
	next  int
	n     int
}

func (r *ring) put(at time.Time, raw []byte) {
	r.mu.Lock()
	s := &r.slots[r.next]
	s.At, s.Raw = at, append(s.Raw[:0], raw[:min(len(raw), keptBytes)]...)
	r.next = (r.next + 1) % kept
	r.n = min(r.n+1, kept)
	r.mu.Unlock()
}

// all gives copies, oldest first.
func (r *ring) all() []Heard {
	r.mu.Lock()
	defer r.mu.Unlock()
	out := make([]Heard, 0, r.n)
	for i := range r.n {
		s := r.slots[(r.next-r.n+i+kept)%kept]
		out = append(out, Heard{s.At, append([]byte(nil), s.Raw...)})
	}
	return out
}

// writeCapture writes frames as an annotated capture: comment lines that say what
// is known, then for each frame a comment with its time and its bytes as a Go
// string literal. What only a person knows is asked for in the head.
func writeCapture(w io.Writer, name string, id Identity, frames []Heard) error {
	unknown := func(s string) string {
		if s == "" {
			return "not known"
		}
		return s
	}
	head := fmt.Sprintf("# scale: %s\n# maker and model: (fill in)\n# on the pan: (fill in)\n# port: %s\n# usb: %s\n# line: %s\n# format: %s\n",
		name, unknown(id.Port), unknown(id.USB), unknown(id.Line), unknown(id.Format))
	if len(frames) == 0 {
		_, err := io.WriteString(w, head+"# nothing was heard\n")
		return err
	}
	start := frames[0].At
	if _, err := fmt.Fprintf(w, "%s# first frame: %s\n", head, start.Format(time.RFC3339Nano)); err != nil {
		return err
	}
	for _, f := range frames {
		if _, err := fmt.Fprintf(w, "# +%.3fs\n%+q\n", f.At.Sub(start).Seconds(), f.Raw); err != nil {
			return err
		}
	}
	return nil
}

package main

import (
	"io"
	"os"
	"path/filepath"
	"strconv"
	"time"

	"github.com/mattn/go-isatty"

	"tared/session/journal"
	"tared/session/photo"
	"tared/session/text"
)

// byteGauge tells how far the work on a record is, in bytes. A nil one tells nobody.
type byteGauge struct {
	done, of int64
	tell     func(done, of int64)
}

// newGauge makes one for work that goes over the record of a directory so many times; nil for
// nobody.
func newGauge(dir string, times int64, tell func(done, of int64)) *byteGauge {
	if tell == nil {
		return nil
	}
	g := &byteGauge{tell: tell}
	_ = filepath.WalkDir(filepath.Join(dir, photo.Dir), func(_ string, d os.DirEntry, err error) error {
		if err == nil && d.Type().IsRegular() {
			g.of += sizeOf(d.Info())
		}
		return nil
	})
	g.of += sizeOf(os.Stat(filepath.Join(dir, journal.Name)))
	g.of *= times
	return g
}

// gaugeOf makes one for work on so many bytes; nil for nobody.
func gaugeOf(size int64, tell func(done, of int64)) *byteGauge {
	if tell == nil {
		return nil
	}
	return &byteGauge{of: size, tell: tell}
}

func sizeOf(info os.FileInfo, err error) int64 {
	if err != nil {
		return 0
	}
	return info.Size()
}

func (g *byteGauge) add(n int) {
	if g != nil {
		g.done = min(g.done+int64(n), g.of)
		g.tell(g.done, g.of)
	}
}

// reads counts what is read.
func (g *byteGauge) reads(r io.Reader) io.Reader {
	if g == nil {
		return r
	}
	return gauged{r, g}
}

type gauged struct {
	io.Reader
	g *byteGauge
}

func (r gauged) Read(b []byte) (int, error) {
	n, err := r.Reader.Read(b)
	r.g.add(n)
	return n, err
}

// The times of what a terminal shows of long work.
const (
	slowWork  = time.Second            // work that is done sooner shows nothing
	drawEvery = 200 * time.Millisecond // so often it is drawn anew
)

// progressLine is a line on a terminal that says how long work still takes. A nil one is for nobody.
type progressLine struct {
	on          io.Writer
	start, last time.Time
}

// drawOn makes one where w is a terminal and nobody wants JSON.
func drawOn(w io.Writer, asJSON bool) *progressLine {
	if asJSON || !isTerminal(w) {
		return nil
	}
	return &progressLine{on: w, start: time.Now()}
}

// isTerminal tells whether what is read or written is a terminal.
func isTerminal(f any) bool {
	file, ok := f.(*os.File)
	return ok && isatty.IsTerminal(file.Fd())
}

// step is told how far the work is; nil where nobody looks.
func (d *progressLine) step() func(done, of int64) {
	if d == nil {
		return nil
	}
	return func(done, of int64) {
		now := time.Now()
		if now.Sub(d.start) < slowWork || now.Sub(d.last) < drawEvery || done <= 0 || of <= 0 {
			return
		}
		left := time.Duration(float64(now.Sub(d.start)) * float64(of-done) / float64(done))
		d.draw(now, text.New("cli.part-done", text.Share("share", strconv.FormatInt(100*done/of, 10)), timeLeft(left)))
	}
}

// timeLeft says how long something still takes, in whole seconds, as a person counts them.
func timeLeft(left time.Duration) text.Value {
	return text.Duration("left", left.Truncate(time.Second)+time.Second)
}

func (d *progressLine) draw(now time.Time, words text.Message) {
	d.last = now
	_, _ = io.WriteString(d.on, "\r\x1b[K"+language.Say(words))
}

// end takes the line away.
func (d *progressLine) end() {
	if d != nil && !d.last.IsZero() {
		_, _ = io.WriteString(d.on, "\r\x1b[K")
	}
}

// listening draws how long ports are listened to at most, until the function that it gives
// is called.
func listening(on io.Writer, asJSON bool, most time.Duration) (end func()) {
	d := drawOn(on, asJSON)
	if d == nil {
		return func() {}
	}
	stop, gone := make(chan struct{}), make(chan struct{})
	go func() {
		defer close(gone)
		tick := time.NewTicker(drawEvery)
		defer tick.Stop()
		for {
			select {
			case <-stop:
				d.end()
				return
			case now := <-tick.C:
				if now.Sub(d.start) >= slowWork && now.Sub(d.last) >= slowWork {
					d.draw(now, text.New("cli.listening", timeLeft(most-now.Sub(d.start))))
				}
			}
		}
	}()
	return func() { close(stop); <-gone }
}

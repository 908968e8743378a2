package main

import (
	"bufio"
	"bytes"
	"context"
	"errors"
	"io"
	"os"
	"runtime"
	"strings"
	"sync"

	"github.com/mattn/go-isatty"
	"golang.org/x/term"
)

// console is a terminal at which a person types while the bench speaks. What is being
// typed stays whole: whatever is said comes above it, and it is drawn again behind the
// number that moves.
type console struct {
	*term.Terminal
	out     *atOnce
	restore func()
}

// newConsole takes hold of the terminal that in and out are, until restore; nil where they
// are none. Ctrl-C at it is interrupt.
func newConsole(in io.Reader, out io.Writer, interrupt context.CancelFunc) *console {
	from, ok := in.(*os.File)
	to, ok2 := out.(*os.File)
	if !ok || !ok2 || runtime.GOOS == "windows" || !isatty.IsTerminal(from.Fd()) || !isatty.IsTerminal(to.Fd()) {
		return nil
	}
	was, err := term.MakeRaw(int(from.Fd()))
	if err != nil {
		return nil // it is read by the line, as anything else is
	}
	c := &console{out: &atOnce{to: to}, restore: func() { _ = term.Restore(int(from.Fd()), was) }}
	c.Terminal = term.NewTerminal(struct {
		io.Reader
		io.Writer
	}{keysOf{from, func() { c.restore(); interrupt() }}, c.out}, "> ")
	return c
}

// ctrlC is what a terminal that is read key by key sends for it.
const ctrlC = 0x03

// keysOf hears Ctrl-C among the keys, which the system does not while each key is read.
type keysOf struct {
	io.Reader
	interrupt func()
}

func (k keysOf) Read(b []byte) (int, error) {
	n, err := k.Reader.Read(b)
	for _, key := range b[:n] {
		if key == ctrlC {
			k.interrupt()
			return 0, io.EOF
		}
	}
	return n, err
}

// atOnce holds back what is written, so that no picture of the screen is half drawn.
type atOnce struct {
	to   *os.File
	mu   sync.Mutex
	held *bytes.Buffer // nil: nothing is held back
}

func (a *atOnce) Write(b []byte) (int, error) {
	a.mu.Lock()
	defer a.mu.Unlock()
	if a.held != nil {
		return a.held.Write(b)
	}
	return a.to.Write(b)
}

func (a *atOnce) hold() {
	a.mu.Lock()
	defer a.mu.Unlock()
	a.held = &bytes.Buffer{}
}

func (a *atOnce) let() error {
	a.mu.Lock()
	defer a.mu.Unlock()
	_, err := a.to.Write(a.held.Bytes())
	a.held = nil
	return err
}

// Write says something above what is being typed.
func (c *console) Write(b []byte) (int, error) {
	c.out.hold()
	n, err := c.Terminal.Write(b)
	return n, errors.Join(err, c.out.let())
}

// show puts what moves before what is being typed.
func (c *console) show(moving string) error {
	if w, h, err := term.GetSize(int(c.out.to.Fd())); err == nil {
		_ = c.SetSize(w, h)
	}
	c.SetPrompt(moving + "> ")
	_, err := c.Write(nil)
	return err
}

// words sends each line that is typed, and closes the channel at the end of input.
func (c *console) words(ctx context.Context, words chan<- string) {
	defer close(words)
	for {
		line, err := c.ReadLine()
		if err != nil {
			return
		}
		select {
		case words <- line:
		case <-ctx.Done():
			return
		}
	}
}

// readWords sends each line of r, and closes the channel at its end. It ends
// with ctx too, but a read that nobody answers cannot be called back: it is
// left behind when the program exits.
func readWords(ctx context.Context, r io.Reader, words chan<- string) {
	defer close(words)
	lines := bufio.NewScanner(r)
	for lines.Scan() {
		select {
		case words <- strings.TrimSpace(lines.Text()):
		case <-ctx.Done():
			return
		}
	}
}

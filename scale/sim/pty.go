//go:build linux || darwin || freebsd || netbsd || openbsd || dragonfly

package sim

import (
	"errors"
	"fmt"
	"os"
	"syscall"
	"time"

	"github.com/creack/pty"
	"golang.org/x/sys/unix"
)

// ptyRoom is how many bytes may wait unread in the terminal before frames are
// dropped. A kernel keeps 4096 and more; a real port that nobody reads keeps
// nothing, so less is nearer to the truth.
const ptyRoom = 2048

// terminal is a wire through a pseudo-terminal.
type terminal struct {
	master *os.File
	// The slave stays open here as well: without it the master gives errors while
	// nobody else has it open, and the raw setting is lost with the last close.
	slave *os.File
	name  string
}

func openPTY() (wire, error) {
	m, slave, err := pty.Open()
	if err != nil {
		return nil, fmt.Errorf("simulated line: open a pseudo-terminal: %w", err)
	}
	name := slave.Name()
	if err := raw(int(slave.Fd())); err != nil {
		return nil, errors.Join(fmt.Errorf("simulated line: set %s raw: %w", name, err), slave.Close(), m.Close())
	}
	// The file that the library gives blocks, so that deadlines do nothing and a
	// close waits for a read. A copy of the descriptor that does not block goes to
	// the poller.
	fd, err := unix.FcntlInt(m.Fd(), unix.F_DUPFD_CLOEXEC, 0)
	if err != nil {
		return nil, errors.Join(fmt.Errorf("simulated line: copy the descriptor of %s: %w", name, err), slave.Close(), m.Close())
	}
	closed := m.Close()
	if err := errors.Join(closed, syscall.SetNonblock(fd, true)); err != nil {
		return nil, errors.Join(fmt.Errorf("simulated line: %s: %w", name, err), slave.Close(), unix.Close(fd))
	}
	return &terminal{master: os.NewFile(uintptr(fd), "master of "+name), slave: slave, name: name}, nil
}

// raw lets every byte through as it is, and echoes nothing.
func raw(fd int) error {
	t, err := unix.IoctlGetTermios(fd, getTermios)
	if err != nil {
		return err
	}
	t.Iflag &^= unix.IGNBRK | unix.BRKINT | unix.PARMRK | unix.ISTRIP | unix.INLCR | unix.IGNCR | unix.ICRNL | unix.IXON
	t.Oflag &^= unix.OPOST
	t.Lflag &^= unix.ECHO | unix.ECHONL | unix.ICANON | unix.ISIG | unix.IEXTEN
	t.Cflag &^= unix.CSIZE | unix.PARENB
	t.Cflag |= unix.CS8
	t.Cc[unix.VMIN], t.Cc[unix.VTIME] = 1, 0
	return unix.IoctlSetTermios(fd, setTermios, t)
}

func (t *terminal) put(frame []byte) bool {
	waiting, err := unix.IoctlGetInt(int(t.slave.Fd()), inputWaiting)
	if err != nil || waiting+len(frame) > ptyRoom {
		return false
	}
	// With room for a whole frame this does not wait; the deadline is for a kernel
	// that counts otherwise.
	if err := t.master.SetWriteDeadline(time.Now().Add(50 * time.Millisecond)); err != nil {
		return false
	}
	n, err := t.master.Write(frame)
	return err == nil && n == len(frame)
}

func (t *terminal) get(p []byte) (int, error) {
	// A deadline in the past would not read at all; a moment is enough for what is there.
	if err := t.master.SetReadDeadline(time.Now().Add(100 * time.Microsecond)); err != nil {
		return 0, err
	}
	n, err := t.master.Read(p)
	if n == 0 && errors.Is(err, os.ErrDeadlineExceeded) {
		return 0, errNobody
	}
	return n, err
}

func (t *terminal) path() string { return t.name }

func (t *terminal) close() error { return errors.Join(t.master.Close(), t.slave.Close()) }

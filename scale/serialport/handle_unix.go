//go:build unix

package serialport

import (
	"cmp"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"os/user"
	"strconv"
	"syscall"
	"time"

	"go.bug.st/serial"

	"tared/scale"
)

const windows = false

// lastDescriptor is the highest descriptor number that the library's Read can
// wait on: it uses select, and panics on a number of 1024 or more.
const lastDescriptor = 1000

// handle is a descriptor of its own on the same terminal, for three ends. Reads on it
// wait in the runtime's own poller, where the library's select wakes two threads for
// each line. Writes on it do not block: a blocked write on the library's descriptor
// never returns. And it carries a lock, since the terminal's own exclusive mode does
// not stop root, nor two tareds run by root.
type handle struct {
	file *os.File
	raw  syscall.RawConn
	port serial.Port // reads where the system cannot poll a terminal; else nil
	wait time.Duration
}

// Patient has Read wait for a second, or as usual.
func (h *handle) Patient(is bool) {
	h.wait = readWait
	if is {
		h.wait = time.Second
	}
}

func openHandle(path string) (*handle, error) {
	i, err := os.Stat(path)
	if err != nil {
		return nil, err
	}
	if i.Mode()&fs.ModeCharDevice == 0 {
		return nil, errNotPort
	}
	fd, err := syscall.Open(path, syscall.O_RDWR|syscall.O_NOCTTY|syscall.O_NONBLOCK|syscall.O_CLOEXEC, 0)
	if err != nil {
		return nil, err
	}
	h := &handle{wait: readWait, file: os.NewFile(uintptr(fd), path)}
	if fd > lastDescriptor {
		h.Close()
		return nil, &scale.PortError{Port: path, Kind: scale.ErrPort, What: fmt.Sprintf("this program has %d files open", fd), Mend: "start it anew"}
	}
	if err := syscall.Flock(fd, syscall.LOCK_EX|syscall.LOCK_NB); errors.Is(err, syscall.EWOULDBLOCK) {
		h.Close()
		return nil, errLocked
	}
	if h.raw, err = h.file.SyscallConn(); err != nil {
		h.Close()
		return nil, err
	}
	return h, nil
}

func (h *handle) bind(p serial.Port) error {
	if h.file.SetReadDeadline(time.Time{}) == nil {
		return nil
	}
	h.port = p
	return p.SetReadTimeout(readWait) // once, before anyone reads: to set it later races with Read
}

func (h *handle) Read(b []byte) (n int, err error) {
	if h.port != nil {
		return h.port.Read(b)
	}
	if err := h.file.SetReadDeadline(time.Now().Add(h.wait)); err != nil {
		return 0, err
	}
	e := h.raw.Read(func(fd uintptr) bool {
		for n, err = readNow(int(fd), b); err == syscall.EINTR; {
			n, err = readNow(int(fd), b)
		}
		return err != syscall.EAGAIN
	})
	switch {
	case errors.Is(e, os.ErrDeadlineExceeded):
		return 0, nil
	case e == nil && err == nil && n == 0:
		return 0, io.EOF
	}
	return max(n, 0), cmp.Or(e, err)
}

func (h *handle) Write(b []byte) (n int, err error) {
	if e := h.raw.Write(func(fd uintptr) bool {
		n, err = syscall.Write(int(fd), b)
		return true // what the other side does not take at once is not waited for
	}); e != nil {
		err = e
	}
	return max(n, 0), err
}

func (h *handle) Close() error { return h.file.Close() }

// deniedBy names the group that may open the port, and the way into it.
func deniedBy(path string) (what, mend string) {
	i, err := os.Stat(path)
	if err != nil {
		return "", "run as a user who may open it"
	}
	st, ok := i.Sys().(*syscall.Stat_t)
	if !ok {
		return "", "run as a user who may open it"
	}
	return deniedTo(uint32(st.Gid), i.Mode().Perm(), currentUser())
}

func deniedTo(gid uint32, perm fs.FileMode, name string) (what, mend string) {
	group := strconv.FormatUint(uint64(gid), 10)
	if g, err := user.LookupGroupId(group); err == nil {
		group = g.Name
	}
	if gid == 0 || perm&0o060 != 0o060 {
		// A group with no rights on it, or that no one should join.
		return "only root may open it", "give the port to a group with a udev rule (GROUP=\"dialout\", MODE=\"0660\"), or, for now, run \"sudo chmod a+rw\" on it"
	}
	return "it belongs to the group " + group,
		fmt.Sprintf("run \"sudo usermod -aG %s %s\", then log out and in again", group, name)
}

func currentUser() string {
	if u, err := user.Current(); err == nil && u.Username != "" {
		return u.Username
	}
	return "$USER"
}

//go:build unix

package serialport

import (
	"errors"
	"fmt"
	"io/fs"
	"os"
	"os/user"
	"strconv"
	"syscall"

	"go.bug.st/serial"

	"tared/scale"
)

const windows = false

// lastDescriptor is the highest descriptor number that the library's Read can
// wait on: it uses select, and panics on a number of 1024 or more.
const lastDescriptor = 1000

// writer is a descriptor of its own on the same terminal, for two ends. Writes on
// it do not block: a blocked write on the library's descriptor never returns.
// And it carries a lock, since the terminal's own exclusive mode does not stop
// root, nor two tareds run by root.
type writer struct{ fd int }

func openWriter(path string) (writer, error) {
	i, err := os.Stat(path)
	if err != nil {
		return writer{}, err
	}
	if i.Mode()&fs.ModeCharDevice == 0 {
		return writer{}, errNotPort
	}
	fd, err := syscall.Open(path, syscall.O_RDWR|syscall.O_NOCTTY|syscall.O_NONBLOCK|syscall.O_CLOEXEC, 0)
	if err != nil {
		return writer{}, err
	}
	if fd > lastDescriptor {
		syscall.Close(fd)
		return writer{}, &scale.PortError{Port: path, Kind: scale.ErrPort, What: fmt.Sprintf("this program has %d files open", fd), Mend: "start it anew"}
	}
	if err := syscall.Flock(fd, syscall.LOCK_EX|syscall.LOCK_NB); errors.Is(err, syscall.EWOULDBLOCK) {
		syscall.Close(fd)
		return writer{}, errLocked
	}
	return writer{fd}, nil
}

func (w writer) bind(serial.Port) {}

func (w writer) Write(b []byte) (int, error) {
	n, err := syscall.Write(w.fd, b)
	return max(n, 0), err
}

func (w writer) Close() error { return syscall.Close(w.fd) }

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

package photo

import (
	"bytes"
	"context"
	"encoding/binary"
	"errors"
	"fmt"
	"io"
	"os"
	"os/exec"
	"runtime"
	"runtime/debug"
	"strconv"
	"strings"
	"sync"
	"time"

	"tared/session/text"
)

// A photograph is unpacked in a process of its own, the same program once more: a file
// made to fill the memory or the time ends that process and nothing else.

// unpackVar in the environment tells the program that it is that process, and how many
// bytes it may take.
const unpackVar = "TARED_UNPACK"

// Limits of that process. Tests make them narrow.
var (
	unpackMemory uint64 = 384 << 20
	unpackTime          = time.Minute
)

// one lets a single photograph be unpacked at a time, for the sake of small machines.
var one sync.Mutex

func init() {
	if most, err := strconv.ParseUint(os.Getenv(unpackVar), 10, 64); err == nil {
		os.Exit(unpacking(most))
	}
}

// unpacking is what that process does: a picture comes in, and a small copy goes out.
func unpacking(most uint64) int {
	limit(most, unpackTime)
	debug.SetMemoryLimit(int64(most) / 8 * 7)
	b, err := io.ReadAll(os.Stdin)
	if err == nil {
		b, err = shrink(b)
	}
	if err == nil {
		_, err = os.Stdout.Write(b)
	}
	if err != nil {
		_, _ = fmt.Fprint(os.Stderr, err)
		return 1
	}
	return 0
}

// unpack gives a small copy of a picture, which proves that it is one.
func unpack(b []byte) ([]byte, error) {
	one.Lock()
	defer one.Unlock()
	ctx, cancel := context.WithTimeout(context.Background(), unpackTime)
	defer cancel()
	self := "/proc/self/exe" // also where a newer program lies at its place by now
	if runtime.GOOS != "linux" {
		var err error
		if self, err = os.Executable(); err != nil {
			return nil, err
		}
	}
	c := exec.CommandContext(ctx, self)
	c.Env = []string{unpackVar + "=" + strconv.FormatUint(unpackMemory, 10), "GOMAXPROCS=1", "GOTRACEBACK=none"}
	c.Stdin = bytes.NewReader(b)
	small, err := c.Output()
	var died *exec.ExitError
	switch {
	case errors.As(err, &died) && died.ExitCode() == 1:
		return nil, refuse(text.Refuse("photo.unreadable", text.Because("why", errors.New(strings.ToValidUTF8(string(died.Stderr), "")))))
	case errors.As(err, &died):
		return nil, refuse(text.Refuse("photo.too-much"))
	}
	return small, err
}

// samplesOf counts the bytes of the unpacked planes of a JPEG. A progressive one keeps four
// more for each until its last scan is read. 0: it has no head that can be read.
func samplesOf(b []byte) int64 {
	for at := 2; at+4 <= len(b) && b[at] == 0xff; {
		m, end := b[at+1], segmentEnd(b, at)
		switch {
		case m == 0xff:
			at++
			continue
		case end == 0:
			return 0
		case !isFrame(m):
			at = end
			continue
		}
		f := b[at+4 : end]
		if len(f) < 6 || len(f) < 6+3*int(f[5]) {
			return 0
		}
		var across, down, sum int64 = 1, 1, 0
		for i := range int(f[5]) {
			x, y := int64(f[7+3*i]>>4), int64(f[7+3*i]&15)
			across, down, sum = max(across, x), max(down, y), sum+x*y
		}
		n := int64(binary.BigEndian.Uint16(f[1:])) * int64(binary.BigEndian.Uint16(f[3:])) * sum / (across * down)
		if m == 0xc2 {
			n *= 5
		}
		return n
	}
	return 0
}

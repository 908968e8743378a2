//go:build !(linux || darwin || freebsd || netbsd || openbsd || dragonfly)

package sim

import (
	"fmt"
	"runtime"
)

func openPTY() (wire, error) {
	return nil, fmt.Errorf("simulated line: %s has no pseudo-terminals: make the line with LineOptions.Pipe and open it with Line.Open", runtime.GOOS)
}

package serialport

import (
	"os"
	"path/filepath"
	"strings"
)

// holder names a process that has the port open, as far as this user may see it.
func holder(path string) string {
	node, err := os.Stat(path)
	if err != nil {
		return ""
	}
	links, _ := filepath.Glob("/proc/[0-9]*/fd/*")
	self, _ := os.Readlink("/proc/self")
	for _, l := range links {
		// By what it is and not by its name: in a container another port may have that.
		if i, err := os.Stat(l); err != nil || !os.SameFile(i, node) {
			continue
		}
		pid := strings.Split(l, "/")[2]
		if pid == self {
			continue
		}
		name, err := os.ReadFile("/proc/" + pid + "/comm")
		if err != nil {
			continue
		}
		return strings.TrimSpace(string(name)) + ", process " + pid
	}
	return ""
}

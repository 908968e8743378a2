package serialport

import (
	"os"
	"path/filepath"
	"slices"
	"strings"

	"tared/scale"
	"tared/scale/hidport"
)

// system is where the kernel shows its devices; a test has its own.
type system struct{ sys, dev string }

var here = system{"/sys", "/dev"}

// List names the serial ports and HID scales of this machine from what the kernel
// shows, without opening any: the library's own list opens every ttyS and sets it
// anew, one that is in use by root included, and a hint to a modem is not for us
// to give. Pseudo-terminals are not listed; any path can be named by hand.
func List() ([]scale.Found, error) {
	found, err := here.list()
	if err != nil {
		return nil, err
	}
	hid, err := hidport.List()
	return append(found, hid...), err
}

func (s system) list() ([]scale.Found, error) {
	entries, err := os.ReadDir(s.sys + "/class/tty")
	if err != nil && !os.IsNotExist(err) {
		return nil, err
	}
	lasting := s.lasting()
	var all []scale.Found
	for _, e := range entries {
		tty := e.Name()
		// Consoles and pseudo-terminals have no device behind them.
		if _, err := os.Stat(s.sys + "/class/tty/" + tty + "/device"); err != nil {
			continue
		}
		// A built-in port that the board does not have: type 0 is PORT_UNKNOWN
		// (Linux include/uapi/linux/serial_core.h).
		if s.read("class/tty/"+tty+"/type") == "0" {
			continue
		}
		f := scale.Found{Port: s.dev + "/" + tty, Resource: "serial"}
		f.USB, f.Product = s.usb(tty)
		if links := lasting[tty]; len(links) > 0 {
			f.Lasting = links[0]
			if !scale.HasSerial(f.USB) {
				// Two adapters without a serial number share a by-id link; where they
				// are plugged in tells them apart.
				f.Lasting = links[len(links)-1]
			}
		}
		all = append(all, f)
	}
	slices.SortFunc(all, func(a, b scale.Found) int { return strings.Compare(a.Port, b.Port) })
	return all, nil
}

// lasting gives the links to each tty that udev keeps, by-id before by-path.
func (s system) lasting() map[string][]string {
	m := map[string][]string{}
	for _, dir := range []string{"by-id", "by-path"} {
		links, _ := filepath.Glob(s.dev + "/serial/" + dir + "/*")
		for _, l := range links {
			if to, err := os.Readlink(l); err == nil {
				tty := filepath.Base(to)
				m[tty] = append(m[tty], l)
			}
		}
	}
	return m
}

// usb climbs from the tty to the USB device that carries it.
func (s system) usb(tty string) (id, product string) {
	dir, err := filepath.EvalSymlinks(s.sys + "/class/tty/" + tty + "/device")
	if err != nil {
		return "", ""
	}
	for root := filepath.Clean(s.sys); len(dir) > len(root); dir = filepath.Dir(dir) {
		vendor := readLine(dir + "/idVendor")
		if vendor == "" {
			continue
		}
		return vendor + ":" + readLine(dir+"/idProduct") + ":" + readLine(dir+"/serial"),
			strings.TrimSpace(readLine(dir+"/manufacturer") + " " + readLine(dir+"/product"))
	}
	return "", ""
}

func (s system) read(path string) string { return readLine(s.sys + "/" + path) }

func readLine(path string) string {
	b, err := os.ReadFile(path)
	if err != nil {
		return ""
	}
	line, _, _ := strings.Cut(string(b), "\n")
	return strings.TrimSpace(line)
}

func identity(path string) string {
	id, _ := here.usb(filepath.Base(nodeOf(path)))
	return id
}

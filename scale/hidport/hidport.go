// Package hidport opens scales that are not on a serial line but speak the USB
// HID report of point-of-sale scales (usage page 0x8D). Postal and kitchen scales
// do. On Linux they are /dev/hidraw devices; other systems say that they cannot.
//
// A report is one frame of the format hid-pos-scale. Start with Open.
package hidport

import (
	"path/filepath"
	"strings"
)

// Format is the name of the one format that comes through such a device.
const Format = "hid-pos-scale"

// scalePage is the usage page of scales: HID Point of Sale Usage Tables 1.02,
// section 2 (0x8D, Weighing Device page).
const scalePage = 0x8D

// Is tells whether path names such a device, followed through links.
func Is(path string) bool {
	if real, err := filepath.EvalSymlinks(path); err == nil {
		path = real
	}
	return strings.HasPrefix(filepath.Base(path), "hidraw")
}

// describes reads a report descriptor: whether it has a collection on the usage
// page of scales, and whether its reports carry a number in front. Layout of the
// items: Device Class Definition for HID 1.11, section 6.2.2.
func describes(descriptor []byte) (scale, numbered bool) {
	for b := descriptor; len(b) > 0; {
		head := b[0]
		if head == 0xFE { // long item: size, tag, data
			if len(b) < 3 || len(b) < 3+int(b[1]) {
				return scale, numbered
			}
			b = b[3+int(b[1]):]
			continue
		}
		size := int(head & 3)
		if size == 3 {
			size = 4
		}
		if len(b) < 1+size {
			return scale, numbered
		}
		value := 0
		for i := size; i > 0; i-- {
			value = value<<8 | int(b[i])
		}
		switch head &^ 3 {
		case 0x04: // global: usage page
			scale = scale || value == scalePage
		case 0x84: // global: report ID
			numbered = true
		}
		b = b[1+size:]
	}
	return scale, numbered
}

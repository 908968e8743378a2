package hidport

import (
	"testing"

	"github.com/stretchr/testify/assert"
)

// A descriptor as HID Point of Sale Usage Tables 1.02 has it for a scale, built
// from the items of HID 1.11 section 6.2.2, cut to what matters here.
var scaleDescriptor = []byte{
	0x05, 0x8D, // usage page: weighing device
	0x09, 0x20, // usage: scale
	0xA1, 0x01, // collection: application
	0x85, 0x03, //   report ID 3
	0x09, 0x32, //   usage: scale data report
	0x75, 0x08, 0x95, 0x05, 0x81, 0x02,
	0xC0,
}

func TestDescribes(t *testing.T) {
	keyboard := []byte{0x05, 0x01, 0x09, 0x06, 0xA1, 0x01, 0x05, 0x07, 0x19, 0xE0, 0xC0}
	for _, c := range []struct {
		name            string
		b               []byte
		scale, numbered bool
	}{
		{"a scale", scaleDescriptor, true, true},
		{"a scale without report numbers", append(append([]byte{}, scaleDescriptor[:6]...), scaleDescriptor[8:]...), true, false},
		{"the page in two bytes", []byte{0x06, 0x8D, 0x00, 0x09, 0x20}, true, false},
		{"a maker's own page that begins alike", []byte{0x06, 0x8D, 0xFF}, false, false},
		{"a keyboard", keyboard, false, false},
		{"behind a long item that holds the page", []byte{0xFE, 0x02, 0x10, 0x05, 0x8D, 0x05, 0x01}, false, false},
		{"cut", []byte{0x05}, false, false},
		{"a cut long item", []byte{0xFE, 0x05, 0x10}, false, false},
		{"nothing", nil, false, false},
	} {
		scale, numbered := describes(c.b)
		assert.Equal(t, c.scale, scale, c.name)
		assert.Equal(t, c.numbered, numbered, c.name)
	}
}

func FuzzDescribes(f *testing.F) {
	f.Add(scaleDescriptor)
	f.Fuzz(func(t *testing.T, b []byte) { describes(b) })
}

func TestIs(t *testing.T) {
	assert.True(t, Is("/dev/hidraw0"))
	assert.False(t, Is("/dev/ttyUSB0"))
}

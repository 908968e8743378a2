package protocol

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

const hidTables = "USB-IF HID Point of Sale Usage Tables 1.02"

func TestHIDPOSScale(t *testing.T) {
	runRows(t, hidPOSScale, []row{
		{"\x03\x04\x0b\xffo\x04", "113.5", "oz", "true", "-", "ok", "erjiang/usbscale, capture"},
		{"\x03\x04\x0c\xfe\x11\x03", "7.85", "lb", "true", "-", "ok", "node-hid issue 286, capture"},
		{"\x03\x03\x02\x00\xc8\x00", "200", "g", "false", "-", "ok", "built from " + hidTables},
		{"\x04\x04\x03\xfd\xff\xff", "65.535", "kg", "true", "-", "ok", "built from " + hidTables + "; report ID 4"},
		{"\x03\x04\x02\x01\x0c\x00", "120", "g", "true", "-", "ok", "built from " + hidTables + "; exponent 1"},
		{"\x03\x02\x0b\xff\x00\x00", "0.0", "oz", "true", "-", "ok", "built from " + hidTables + "; stable at zero"},
		{"\x03\x04\x0a\xff\x0a\x00", "1.0", "ozt", "true", "-", "ok", "built from " + hidTables},
		{"\x03\x06\x02\x00\x00\x00", "", "", "", "-", "overload", "built from " + hidTables},
		{"\x03\x05\x02\x00\x00\x00", "", "", "", "-", "underload", "built from " + hidTables},
		{"\x03\x05\x0b\xff\x11\x00", "", "", "", "-", "underload", "built from " + hidTables + "; the magnitude is no weight"},
		{"\x03\x01\x02\x00\x00\x00", "", "", "", "-", "error", "built from " + hidTables},
		{"\x03\x07\x02\x00\x05\x00", "", "", "", "-", "error", "built from " + hidTables + "; needs calibration"},
		{"\x03\x08\x02\x00\x05\x00", "", "", "", "-", "error", "built from " + hidTables + "; needs zeroing"},
		{"\x00\x00\x00\x00\x00\x00", "", "", "", "-", "invalid", "erjiang/usbscale: the first report may be empty"},
		{"\x03\x00\x00\x00\x00\x00", "", "", "", "-", "invalid", "erjiang/usbscale: the first report may be empty"},
	})
	runNever(t, hidPOSScale,
		"\x03\x04\x0b\xffo",                          // cut
		"\x03\x04\x0b\xffo\x04\x04",                  // a byte too many
		"\x03\x04\x0b\xff\x00o\x04",                  // a byte too many inside
		"\x05\x04\x0b\xffo\x04",                      // another report
		"\x00\x04\x0b\xffo\x04",                      //
		"\x03\x00\x0b\xffo\x04",                      // no status
		"\x03\x09\x0b\xffo\x04",                      // a status that does not exist
		"\x03\x04\x00\xffo\x04",                      // no unit
		"\x03\x04\x0d\xffo\x04",                      // a unit that does not exist
		"\x03\x04\x09\xffo\x04",                      // short ton
		"\x03\x04\x0b\x7fo\x04",                      // 10^127
		"\x03\x04\x0b\x80o\x04",                      // 10^-128
		"\x03\x02\x0b\xffo\x04",                      // a weight at zero
		"\x03\x04\x0b\xff\x00o\x04\x03\x04\x0b\xffo", //
	)
	runDamage(t, hidPOSScale, "\x03\x04\x0b\xffo\x04", false)
}

// hidItem builds one short item of a report descriptor. Four bytes have the size
// code 3.
func hidItem(tag byte, value ...byte) []byte {
	return append([]byte{tag | byte(min(len(value), 3))}, value...)
}

// scaleDescriptor builds the descriptor of a scale from the published tables: a
// report with a 16-bit attribute, one with the weight, one feature report.
func scaleDescriptor(id byte) []byte {
	var d []byte
	add := func(tag byte, value ...byte) { d = append(d, hidItem(tag, value...)...) }
	add(0x04, 0x8d) // usage page: scale
	add(0x08, 0x20) // usage: weighing device
	add(0xa0, 1)    // collection: application
	// A report of attributes, with a usage of another page and a 16-bit one.
	add(0x84, 1)          // report ID
	add(0x08, 0x30)       // usage: scale attribute report
	add(0xa0, 2)          // collection: logical
	add(0x04, 0x00, 0xff) // usage page: vendor
	add(0x08, 0x40)       // usage: the number of data weight, on another page
	add(0x74, 16)         // report size
	add(0x94, 1)          // report count
	add(0x80, 2)          // input
	add(0x04, 0x8d)       // usage page: scale
	add(0xc0)             // end of collection
	// The weight.
	add(0x84, id)    // report ID
	add(0x08, 0x32)  // usage: scale data report
	add(0xa0, 2)     // collection: logical
	add(0x14, 1)     // logical minimum
	add(0x24, 12)    // logical maximum
	add(0x74, 8)     // report size
	add(0x94, 1)     // report count
	add(0x18, 0x71)  // usage minimum: fault
	add(0x28, 0x78)  // usage maximum: needs re-zeroing
	add(0x80, 0)     // input: array
	add(0x18, 0x51)  // usage minimum: milligram
	add(0x28, 0x5c)  // usage maximum: pound
	add(0x80, 0)     // input: array
	add(0xa4)        // push
	add(0x08, 0x41)  // usage: data scaling
	add(0x14, 0x80)  // logical minimum -128
	add(0x24, 0x7f)  // logical maximum 127
	add(0x80, 2)     // input
	add(0xb4)        // pop
	add(0x08, 0x40)  // usage: data weight
	add(0x74, 16)    // report size
	add(0x24, 0, 16) // logical maximum
	add(0x80, 2)     // input
	add(0xc0)        // end of collection
	// Control.
	add(0x84, 2)    // report ID
	add(0x08, 0x31) // usage: scale control report
	add(0xa0, 2)    // collection: logical
	add(0x74, 1)
	add(0x94, 8)
	add(0x08, 0x80) // usage: zero scale
	add(0xb0, 2)    // feature
	add(0xc0)
	add(0xc0)
	return d
}

func TestFindScaleReport(t *testing.T) {
	for _, id := range []byte{3, 4, 200} {
		got, err := FindScaleReport(scaleDescriptor(id))
		require.NoError(t, err)
		assert.Equal(t, id, got)
	}
	whole := scaleDescriptor(3)

	// The usage with its page in one item, which the standard allows too.
	long := append(hidItem(0x04, 0x01), hidItem(0x84, 4)...)
	long = append(long, hidItem(0x74, 8)...)
	long = append(long, hidItem(0x94, 3)...)
	long = append(long, hidItem(0x80, 2)...)
	long = append(long, 0xfe, 2, 0xf0, 1, 2) // a long item, to be passed over
	long = append(long, hidItem(0x08, 0x40, 0, 0x8d, 0)...)
	long = append(long, hidItem(0x74, 16)...)
	long = append(long, hidItem(0x94, 1)...)
	long = append(long, hidItem(0x80, 2)...)
	got, err := FindScaleReport(long)
	require.NoError(t, err)
	assert.Equal(t, byte(4), got)

	for name, desc := range map[string][]byte{
		"empty":                   nil,
		"cut inside an item":      whole[:5],
		"a mouse":                 {0x05, 0x01, 0x09, 0x02, 0xa1, 0x01, 0x09, 0x30, 0x75, 0x08, 0x95, 0x01, 0x81, 0x06, 0xc0},
		"another layout":          {0x05, 0x8d, 0x85, 0x03, 0x09, 0x40, 0x75, 0x10, 0x95, 0x01, 0x81, 0x02},
		"a pop without a push":    {0xb4},
		"an impossible report ID": {0x85, 0x00},
		"an impossible size":      {0x05, 0x8d, 0x77, 0, 0, 0, 0x7f, 0x95, 0x01, 0x81, 0x02},
	} {
		_, err := FindScaleReport(desc)
		assert.ErrorIs(t, err, ErrNoScale, name)
	}
	// Cut anywhere, it ends without a panic, and never finds another report.
	for i := range whole {
		if id, err := FindScaleReport(whole[:i]); err == nil {
			assert.Equal(t, byte(3), id, "cut at %d", i)
		}
	}
}

func FuzzFindScaleReport(f *testing.F) {
	f.Add(scaleDescriptor(3))
	f.Fuzz(func(t *testing.T, desc []byte) {
		if _, err := FindScaleReport(desc); err != nil {
			require.ErrorIs(t, err, ErrNoScale)
		}
	})
}

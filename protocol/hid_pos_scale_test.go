package protocol

import "testing"

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

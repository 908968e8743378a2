package protocol

import (
	"testing"
)

func TestBCDFFFrame(t *testing.T) {
	runRows(t, bcdFFFrame, []row{
		{"\xffB4\x12\x00\x00", "12.34", "kg", "true", "-", "ok", "built from the layout; Yousheng JCS-B manual"},
		{"\xff\x02\x36\x12\x00\x00", "12.36", "kg", "false", "-", "ok", "built from the layout; Yousheng JCS-B manual"},
		{"\xff\xc2\x00\x00\x00\x00", "", "", "", "-", "overload", "built from the layout; Yousheng JCS-B manual"},
		{"\xff\xe2\x00\x00\x00\x00", "", "", "", "-", "underload", "built from the layout; Yousheng JCS-B manual; overflow and negative"},
		{"\xffb4\x12\x00\x01", "-12.34", "lb", "true", "-", "ok", "built from the layout; Yousheng JCS-B manual"},
		{"\xff@\x99\x99\x99\x00", "999999", "kg", "true", "-", "ok", "built from the layout; Yousheng JCS-B manual"},
		{"\xffE\x56\x34\x12\x00", "1.23456", "kg", "true", "-", "ok", "built from the layout; Yousheng JCS-B manual"},
		{"\xff\x42\x03\x01\x02\x00", "201.03", "kg", "true", "-", "ok", "built from the layout; Yousheng JCS-B manual; bytes that look like control characters"},
	})
	runNever(t, bcdFFFrame,
		"B4\x12\x00\x00",
		"\xffB4\x12\x00",
		"\xffB4\x12\x00\x00\x00",
		"\xffB\x3a\x12\x00\x00",
		"\xffB\xa3\x12\x00\x00",
		"\xffB4\x12\x0f\x00",
		"\xffB4\x12\x00\x02",
		"\xffJ4\x12\x00\x00",
		"\xffR4\x12\x00\x00",
		"\xffF4\x12\x00\x00",
		"\xff\xff4\x12\x00\x00",
		"\xff",
	)
	// A byte twice shifts the digits, and only the length shows it.
	runDamage(t, bcdFFFrame, "\xffB4\x12\x00\x00", false)
	runDamage(t, bcdFFFrame, "\xffB\x12\x34\x56\x01", false)
}

package protocol

import (
	"testing"
)

func TestSignNumberTailLetters(t *testing.T) {
	runRows(t, signNumberTailLetters, []row{
		{"+123.45   GS\r\n", "123.45", "g", "true", "-", "ok", "built from the layout; Setra balance interface pages"},
		{"-1.0240   G \r\n", "-1.0240", "g", "false", "-", "ok", "built from the layout; Setra balance interface pages"},
		{"+4.3500   OS\r\n", "4.3500", "oz", "true", "-", "ok", "built from the layout; Setra balance interface pages"},
		{"+1.2345   P \r\n", "1.2345", "lb", "false", "-", "ok", "built from the layout; Setra balance interface pages"},
		{"+12.345   CS\r\n", "12.345", "ct", "true", "-", "ok", "built from the layout; Setra balance interface pages"},
		{"+1.2345   KS\r\n", "1.2345", "kg", "true", "-", "ok", "built from the layout; Setra balance interface pages"},
		{"+12.345   DS\r\n", "12.345", "dwt", "true", "-", "ok", "built from the layout; Setra balance interface pages"},
		{"+99.5     %S\r\n", "99.5", "%", "true", "-", "ok", "built from the layout; Setra balance interface pages"},
	})
	runNever(t, signNumberTailLetters,
		"123.45   GS\r\n",
		"+123.45   G\r\n",
		"+123.45   S\r\n",
		"+123.45GS\r\n",
		"+123.45   XS\r\n",
		"+123.45   GU\r\n",
		"+12 3.45  GS\r\n",
		"+123.4.5  GS\r\n",
		"+12345    GS\r\n", // the point is lost
		"+ 123.45  GS\r\n",
		"+.45      GS\r\n",
		"+         GS\r\n",
		"+123.45             GS\r\n",
	)
}

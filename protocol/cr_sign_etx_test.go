package protocol

import (
	"testing"
)

func TestCRSignETX(t *testing.T) {
	runRows(t, crSignETX, []row{
		{"\r 012.34  lb g  \x03", "12.34", "lb", "", "gross", "ok", "built from the layout; Cardinal manuals"},
		{"\r- 12.34  kg n  \x03", "-12.34", "kg", "", "net", "ok", "built from the layout; Cardinal manuals"},
		{"\r 001234   g g  \x03", "1234", "g", "", "gross", "ok", "built from the layout; Cardinal manuals"},
		{"\r 0012.34  lb g  \x03", "12.34", "lb", "", "gross", "ok", "built from the layout; Cardinal manuals; six digits beside the point"},
		{"\r 012.34m lb g  \x03", "", "", "", "gross", "invalid", "built from the layout; Cardinal manuals; a letter whose meaning was not read"},
	})
	runNever(t, crSignETX,
		" 012.34  lb g  \x03",
		"\r 012.34  lb g  ",
		"\r 012.34  lb g \x03",
		"\r 12.34  lb g  \x03",
		"\r 0001234  lb g  \x03",
		"\r 00012.34  lb g  \x03",
		"\r 012.34  lb x  \x03",
		"\r 012.34  xx g  \x03",
		"\r*012.34  lb g  \x03",
		"\r 012.3   lb g  \x03",
		"\r 012 34  lb g  \x03",
	)
}

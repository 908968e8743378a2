package protocol

import (
	"testing"
)

func TestSTXSignModeETX(t *testing.T) {
	runRows(t, stxSignModeETX, []row{
		{"\x02    8.20G\x03", "8.20", "", "true", "gross", "ok", "Rinstrum indicator manuals"},
		{"\x02-   8.20N\x03", "-8.20", "", "true", "net", "ok", "built from the layout; Rinstrum indicator manuals"},
		{"\x02+   8.20M\x03", "8.20", "", "false", "-", "ok", "built from the layout; Rinstrum indicator manuals"},
		{"\x02 9999.99O\x03", "", "", "", "-", "overload", "built from the layout; Rinstrum indicator manuals"},
		{"\x02-   9.99U\x03", "", "", "", "-", "underload", "built from the layout; Rinstrum indicator manuals"},
		{"\x02    0.00E\x03", "", "", "", "-", "error", "built from the layout; Rinstrum indicator manuals"},
		{"\x02    8.20G Z kg \x03", "8.20", "kg", "true", "gross", "ok", "built from the layout; Rinstrum indicator manuals; long form"},
		{"\x02    8.20N  1 kg\x03", "8.20", "kg", "true", "net", "ok", "built from the layout; Rinstrum indicator manuals; long form, unit to the right"},
		{"\x02    8.20GM     \x03", "8.20", "", "false", "gross", "ok", "built from the layout; Rinstrum indicator manuals; long form, moving"},
	})
	runNever(t, stxSignModeETX,
		"    8.20G\x03",
		"\x02    8.20G",
		"\x02    8.20\x03",
		"\x02   8.20G\x03",
		"\x02     8.20G\x03",
		"\x02    8.20X\x03",
		"\x02*   8.20G\x03",
		"\x02    8. 0G\x03",
		"\x02    8.20GM  kg \x03",
		"\x02    8.20G?  kg \x03",
		"\x02    8.20G   xx \x03",
		"\x02    8.20M   kg \x03",
		"\x02    8.20G   kg\x03",
	)
	runDamage(t, stxSignModeETX, "\x02    8.20G\x03", false)
	runDamage(t, stxSignModeETX, "\x02    8.20G   kg \x03", false)
}

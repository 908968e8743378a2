package protocol

import (
	"testing"
)

func TestSTXPolarityUnitLetter(t *testing.T) {
	runRows(t, stxPolarityUnitLetter, []row{
		{"\x02   12.34KG \r\n", "12.34", "kg", "true", "gross", "ok", "built from the layout; Rice Lake IQ plus 355 stream format"},
		{"\x02-   0.50LNM\r\n", "-0.50", "lb", "false", "net", "ok", "built from the layout; Rice Lake IQ plus 355 stream format"},
		{"\x02 9999.99LGO\r\n", "", "", "", "gross", "overload", "built from the layout; Rice Lake IQ plus 355 stream format"},
		{"\x02- 999.99LGO\r\n", "", "", "", "gross", "underload", "built from the layout; Rice Lake IQ plus 355 stream format; out of range with a minus"},
		{"\x02   12.34GN \r\n", "12.34", "g", "true", "net", "ok", "built from the layout; Rice Lake IQ plus 355 stream format; gram and net, not grain"},
		{"\x02   12.34TN \r\n", "12.34", "t", "true", "net", "ok", "built from the layout; Rice Lake IQ plus 355 stream format"},
		{"\x02   12.34OGM\r\n", "12.34", "oz", "false", "gross", "ok", "built from the layout; Rice Lake IQ plus 355 stream format"},
		{"\x02 0012.34 G \r\n", "12.34", "", "true", "gross", "ok", "built from the layout; Rice Lake IQ plus 355 stream format; no unit shown"},
		{"\x02   12.34KGI\r\n", "", "", "", "gross", "error", "built from the layout; Rice Lake IQ plus 355 stream format"},
		{"\x02 -------KG \r\n", "", "", "", "gross", "overload", "built from the layout; Rice Lake 120 Plus; a row of dashes"},
	})
	runNever(t, stxPolarityUnitLetter,
		"   12.34KG \r\n",
		"\x02   12.34KG\r\n",
		"\x02  12.34KG \r\n",
		"\x02    12.34KG \r\n",
		"\x02+  12.34KG \r\n",
		"\x02   12.34XG \r\n",
		"\x02   12.34KT \r\n",
		"\x02   12.34KGX\r\n",
		"\x02   12. 4KG \r\n",
		"\x02  -12.34KG \r\n",
		"\x02        KG \r\n",
		"\x02   1234.KG \r\n",
	)
	runDamage(t, stxPolarityUnitLetter, "\x02   12.34KG \r\n", false)
}

package protocol

import (
	"testing"
)

func TestSTXPolarityGapLegend(t *testing.T) {
	runRows(t, stxPolarityGapLegend, []row{
		{"\x02-  2.452 kg GR\r\n", "-2.452", "kg", "", "gross", "ok", "built from the layout; Dini Argeo DF1500, Selleton manuals"},
		{"\x02 001.250 lb NT\r\n", "1.250", "lb", "", "net", "ok", "built from the layout; Dini Argeo DF1500, Selleton manuals"},
		{"\x02   245.2 g  GR\r\n", "245.2", "g", "", "gross", "ok", "built from the layout; Dini Argeo DF1500, Selleton manuals; one letter, to the left"},
		{"\x02   245.2  g GR\r\n", "245.2", "g", "", "gross", "ok", "built from the layout; Dini Argeo DF1500, Selleton manuals; one letter in two columns"},
		{"\x02   245.2 lb gr\r\n", "245.2", "lb", "false", "gross", "ok", "built from the layout; Fairbanks 2800 manual; lower case while moving"},
		{"\x02 --oL--  lb GR\r\n", "", "", "", "gross", "overload", "built from the layout; Fairbanks 2800 manual"},
		{"\x02 --uL--  lb nt\r\n", "", "", "", "net", "underload", "built from the layout; Fairbanks 2800 manual"},
	})
	runNever(t, stxPolarityGapLegend,
		"\x02   245.2 g GR\r\n",
		"-  2.452 kg GR\r\n",
		"\x02-  2.452 kg G\r\n",
		"\x02-  2.452 kg\r\n",
		"\x02- 2.452 kg GR\r\n",
		"\x02-  2.452  kg GR\r\n",
		"\x02-  2.452 kg Gr\r\n",
		"\x02-  2.452 xx GR\r\n",
		"\x02+  2.452 kg GR\r\n",
		"\x02-  2.4 2 kg GR\r\n",
		"\x02---oL--- kg GR\r\n",
	)
	runDamage(t, stxPolarityGapLegend, "\x02-  2.452 kg GR\r\n", false)
}

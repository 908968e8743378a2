package protocol

import (
	"testing"
)

func TestLFFlagFields(t *testing.T) {
	runRows(t, lfFlagFields, []row{
		{"\n 1G       5.025lb \r", "5.025", "lb", "true", "gross", "ok", "SMA SCP-0499, Sartorius PR 5210"},
		{"\n 1N      100000lb \r", "100000", "lb", "true", "net", "ok", "SMA SCP-0499, BTEK T419S"},
		{"\n 1GM      7.650kg \r", "7.650", "kg", "false", "gross", "ok", "SMA SCP-0499, Fairbanks FB2550"},
		{"\nZ1G       0.000lb \r", "0.000", "lb", "true", "gross", "ok", "built from the layout; SMA SCP-0499"},
		{"\n 2n      -5.025g  \r", "-5.025", "g", "true", "net", "ok", "built from the layout; SMA SCP-0499; high resolution"},
		{"\n 1G  -    5.025g  \r", "-5.025", "g", "true", "gross", "ok", "built from the layout; SMA SCP-0499; minus padded away"},
		{"\nO1G    9999.999lb \r", "", "", "", "gross", "overload", "built from the layout; SMA SCP-0499"},
		{"\nU1N            lb \r", "", "", "", "net", "underload", "built from the layout; SMA SCP-0499"},
		{"\nE1G  ----------lb \r", "", "", "", "gross", "error", "built from the layout; SMA SCP-0499"},
		{"\nI1G  ----------lb \r", "", "", "", "gross", "error", "built from the layout; SMA SCP-0499"},
		{"\nT1G  ----------lb \r", "", "", "", "gross", "error", "built from the layout; SMA SCP-0499"},
		{"\n 1T       0.150kg \r", "", "", "", "tare", "invalid", "built from the layout; SMA SCP-0499; a tare is not the load"},
		{"\n?\r", "", "", "", "-", "error", "SMA SCP-0499"},
	})
	runNever(t, lfFlagFields,
		" 1G       5.025lb \r",
		"\n 1G       5.025lb ",
		"\n 1G       5.025lb\r",
		"\n 1G      5.025lb \r",
		"\n 1G        5.025lb \r",
		"\n 1G       5.0 5lb \r",
		"\n 1G       5.025 lb\r",
		"\n 1G       5.025xx \r",
		"\nX1G       5.025lb \r",
		"\n G        5.025lb \r",
		"\n 1X       5.025lb \r",
		"\n 1G?      5.025lb \r",
		"\n 1G ?     5.025lb \r",
		"\n 1G  ----------lb \r",
		"\n 1G       .025 lb \r",
		"\n 1G      5.025lb  \r",
	)
	runDamage(t, lfFlagFields, "\n 1G       5.025lb \r", false)
	runDamage(t, lfFlagFields, "\n 1GM      7.650kg \r", false)
}

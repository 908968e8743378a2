package protocol

import (
	"testing"
)

func TestSTXPolarityGapUnit(t *testing.T) {
	runRows(t, stxPolarityGapUnit, []row{
		{"\x02-  2.452 LBM\r\n", "-2.452", "lb", "false", "-", "ok", "Doran manual"},
		{"\x02   2.452 KG \r\n", "2.452", "kg", "true", "-", "ok", "built from the layout; Doran manual"},
		{"\x02    2.45 OZM\r\n", "2.45", "oz", "false", "-", "ok", "built from the layout; Doran manual"},
		{"\x02    2452 G  \r\n", "2452", "g", "true", "-", "ok", "built from the layout; Doran manual"},
		{"\x02    2452 G M\r\n", "2452", "g", "false", "-", "ok", "built from the layout; Doran manual; two columns"},
	})
	runNever(t, stxPolarityGapUnit,
		"\x02    2452 G \r\n",
		"-  2.452 LBM\r\n",
		"\x02-  2.452 LB\r\n",
		"\x02- 2.452 LBM\r\n",
		"\x02-   2.452 LBM\r\n",
		"\x02-  2.452 LBX\r\n",
		"\x02-  2.452 TNM\r\n",
		"\x02-  2.452LBM\r\n",
		"\x02-  2. 52 LBM\r\n",
		"\x02+  2.452 LBM\r\n",
	)
	runDamage(t, stxPolarityGapUnit, "\x02-  2.452 LBM\r\n", false)
	runDamage(t, stxPolarityGapUnit, "\x02   2.452 KG \r\n", false)
}

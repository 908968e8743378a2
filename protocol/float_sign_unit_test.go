package protocol

import (
	"testing"
)

func TestFloatSignUnit(t *testing.T) {
	runRows(t, floatSignUnit, []row{
		{"       0.000 g  \r\n", "0.000", "g", "true", "-", "ok", "OpenTrickler-RP2040-Controller issue 15, capture"},
		{"     -29.186 g  \r\n", "-29.186", "g", "true", "-", "ok", "OpenTrickler-RP2040-Controller issue 15, capture"},
		{"      29.180    \r\n", "29.180", "", "false", "-", "ok", "built from the layout; KERN DE operating instructions"},
		{" -    29.186 kg \r\n", "-29.186", "kg", "true", "-", "ok", "built from the layout; KERN DE operating instructions; minus in its column"},
		{"         253 pcs\r\n", "253", "pcs", "true", "-", "ok", "built from the layout; KERN DE operating instructions"},
		{"           Error\r\n", "", "", "", "-", "error", "built from the layout; KERN DE operating instructions"},
		{"=Overload=\r\n", "", "", "", "-", "overload", "odoo-serial-scale-drivers SSD-KernDE.py"},
		{"M     29.186 g  \r\n", "", "", "", "-", "invalid", "built from the layout; KERN DE operating instructions; a held weight"},
	})
	runNever(t, floatSignUnit,
		"      0.000 g  \r\n",
		"       0.000 g \r\n",
		"        0.000 g  \r\n",
		"       0.000  g \r\n",
		"       0.000 xx \r\n",
		"       0.000g   \r\n",
		"       0. 00 g  \r\n",
		" -   -29.186 g  \r\n",
		"+      0.000 g  \r\n",
		"       .000  g  \r\n",
		"                \r\n",
		"X      0.000 g  \r\n",
		"      +29.186 g  \r\n",
		"     +29.186 g  \r\n",
	)
	runDamage(t, floatSignUnit, "       0.000 g  \r\n", false)
	runDamage(t, floatSignUnit, "     -29.186 g  \r\n", false)
}

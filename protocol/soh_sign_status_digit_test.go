package protocol

import (
	"testing"
)

func TestSOHSignStatusDigit(t *testing.T) {
	runRows(t, sohSignStatusDigit, []row{
		{"\x01+0012.34kg0\r\n", "12.34", "kg", "true", "-", "ok", "built from the layout; T-Scale indicator manual, third continuous format"},
		{"\x01-  0.485kg1\r\n", "-0.485", "kg", "false", "-", "ok", "built from the layout; T-Scale indicator manual, third continuous format"},
		{"\x01   245.2 g0\r\n", "245.2", "g", "true", "-", "ok", "built from the layout; T-Scale indicator manual, third continuous format"},
	})
	runNever(t, sohSignStatusDigit,
		"+0012.34kg0\r\n",
		"\x01+0012.34kg\r\n",
		"\x01+0012.34kg2\r\n",
		"\x01+012.34kg0\r\n",
		"\x01+00012.34kg0\r\n",
		"\x01*0012.34kg0\r\n",
		"\x01+0012.34xx0\r\n",
		"\x01+0012. 4kg0\r\n",
		"\x01+0012.34kg00\r\n",
	)
	runDamage(t, sohSignStatusDigit, "\x01+0012.34kg0\r\n", false)
}

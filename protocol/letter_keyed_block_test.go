package protocol

import (
	"strings"
	"testing"
)

// The capture of NSerialCommTools, folder TFO1.
const keyed = "F      0.0\rH      0.0\rQ      0.0\rX      0.0\rA    351.0\r0      7.5\r4    343.5\r1      0.0\r2       0\rB\x83\rC20\xf4 02\xf3 2023\xf2 MON 09:18AM\rV1\r\n"

func TestLetterKeyedBlock(t *testing.T) {
	for _, f := range []*Format{letterKeyedBlock, multiLinePrint} {
		runRows(t, f, []row{{keyed, "7.5", "", "", "net", "ok", "NSerialCommTools TFO1, capture"}})
		runNever(t, f,
			strings.Replace(keyed, "351.0", "351.5", 1),
			strings.Replace(keyed, "7.5", "7.6", 1),
			strings.Replace(keyed, "A    351.0\r", "", 1),
			strings.Replace(keyed, "H      0.0\rQ", "Q", 1),
			strings.Replace(keyed, "\x83", "\x03", 1),
			strings.Replace(keyed, "\x83", "\x8b", 1), // a status that was never seen
			strings.Replace(keyed, "V1\r\n", "", 1),
			keyed[11:],
			keyed[:70],
		)
		runDamage(t, f, keyed, false)
	}
}

package protocol

import (
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// The two captures of NSerialCommTools, folders JIK6CAB and TFO1.
const (
	packet = "^KJIK000\r\n2023-11-07\r\n17:19:26\r\n  0.00 kg\r\n  1.94 kg\r\n0\r\n0\r\n  1.94 kg\r\n  1.94 kg\r\n    0 pcs\r\n \r\n \r\nE\r\n~P1\r\n"
	keyed  = "F      0.0\rH      0.0\rQ      0.0\rX      0.0\rA    351.0\r0      7.5\r4    343.5\r1      0.0\r2       0\rB\x83\rC20\xf4 02\xf3 2023\xf2 MON 09:18AM\rV1\r\n"
)

func TestPrintBlocks(t *testing.T) {
	for _, f := range []*Format{counterPacket, multiLinePrint} {
		runRows(t, f, []row{
			{packet, "1.94", "kg", "", "net", "ok", "NSerialCommTools JIK6CAB, capture"},
			{strings.NewReplacer("  0.00 kg", "  0.50 kg", "0\r\n  1.94 kg\r\n  1.94 kg", "0\r\n  1.44 kg\r\n  1.44 kg").Replace(packet), "1.44", "kg", "", "net", "ok", "that packet with a tare"},
		})
		runNever(t, f,
			strings.Replace(packet, "  1.94 kg", "  1.95 kg", 1), // gross less tare is not net
			strings.Replace(packet, "0\r\n  1.94 kg", "0\r\n  1.84 kg", 1),
			strings.Replace(packet, "1.94 kg", "1.94 lb", 1),
			strings.Replace(packet, "1.94 kg", "1.940 kg", 1),
			strings.Replace(packet, "E\r\n", "", 1),
			strings.Replace(packet, "17:19:26\r\n", "", 1),
			strings.Replace(packet, "    0 pcs\r\n", "", 1),
			strings.Replace(packet, "0\r\n0\r\n", "0\r\n", 1),
			strings.Replace(packet, "^KJIK000\r\n", "", 1),
			strings.Replace(packet, "~P1\r\n", "", 1),
			packet[:60],
		)
		runDamage(t, f, packet, false)
	}
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

// No line of a block is a weight by itself, to any of the block formats.
func TestPrintBlocksAreNotReadByLines(t *testing.T) {
	for _, f := range []*Format{counterPacket, letterKeyedBlock, titledBlock, multiLinePrint} {
		for _, line := range strings.FieldsFunc(packet+keyed, func(r rune) bool { return r == '\r' || r == '\n' }) {
			for _, r := range decodeCut(f, Options{EachFrame: true}, []byte(line+"\r\n")) {
				assert.Equal(t, Invalid, r.Status, "%s: %q", f.Name, line)
			}
		}
	}
}

// Tickets are recognised from the first title to the last and never read.
func TestTitledBlocks(t *testing.T) {
	for _, in := range []string{
		"GROSS    1.94 kg\r\nNo.      3\r\nTotal    5.82 kg\r\n",                        // Adam Highland manual; contents invented
		"Date 07.11.\r\nTime 17:19\r\nGross Wt 1.94 kg\r\nUnit Wt. 0.5 g\r\nPCS 10\r\n", // Adam CBC manual; contents invented
		"N.W.:+ 1.234 kg\n\r", // Jadever manual
		"\x01TICKET\r\nGross 1.94 g\r\nNet 1.94 g\r\n\x04\r\n", // Symmetry manual: lines between SOH and EOT; contents invented
	} {
		for _, f := range []*Format{titledBlock, multiLinePrint} {
			rs := decodeCut(f, Options{}, []byte(in+in))
			require.Len(t, rs, 2, "%q", in)
			for _, r := range rs {
				assert.Equal(t, Invalid, r.Status)
				assert.NoError(t, r.Err, "%q: %s", in, r.Why)
			}
		}
	}
	runRefused(t, titledBlock, map[string]error{
		"GROSS    1.94 kg\r\nNo.      3\r\n":     ErrDamaged,
		"No.      3\r\nTotal    5.82 kg\r\n":     ErrForeign,
		"\x01\x02S 01.250kgg\x03\x04":            ErrForeign,
		"ST,+00123.45  g\r\nUS,+00123.45  g\r\n": ErrForeign,
	})
}

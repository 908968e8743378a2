package protocol

import (
	"strings"
	"testing"
)

// The capture of NSerialCommTools, folder JIK6CAB.
const packet = "^KJIK000\r\n2023-11-07\r\n17:19:26\r\n  0.00 kg\r\n  1.94 kg\r\n0\r\n0\r\n  1.94 kg\r\n  1.94 kg\r\n    0 pcs\r\n \r\n \r\nE\r\n~P1\r\n"

func TestCounterPacket(t *testing.T) {
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
}

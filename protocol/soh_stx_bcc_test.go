package protocol

import (
	"fmt"
	"testing"

	"github.com/stretchr/testify/require"
)

func TestSOHSTXBCC(t *testing.T) {
	runRows(t, sohSTXBCC, []row{
		{"\x01\x02S 01.250kgg\x03\x04", "1.250", "kg", "true", "-", "ok", "built from the layout; CAS SW-II p. 15"},
		{"\x01\x02U-00.485kgc\x03\x04", "-0.485", "kg", "false", "-", "ok", "built from the layout; CAS SW-II p. 15"},
		{"\x01\x02SFFFFFFFkg\x19\x03\x04", "", "", "", "-", "overload", "built from the layout; CAS SW-II p. 15"},
		{"\x01\x02U-FFFFFFkgt\x03\x04", "", "", "", "-", "underload", "built from the layout; CAS SW-II p. 15; out of range with a minus"},
		{"\x06", "", "", "", "-", "invalid", "CAS SW-II p. 15; the acknowledgement"},
	})
	runNever(t, sohSTXBCC,
		"\x02S 01.250kgg\x03\x04",
		"\x01\x02S 01.250kgf\x03\x04",
		"\x01\x02S 01.250kgg\x03",
		"\x01\x02S 01.250kgg\x04\x04",
		"\x01\x02S01.250kgG\x03\x04",
		"\x01\x02SF01.250kg\x01\x03\x04",
		"\x01\x02X 01.250kgl\x03\x04",
		"\x01\x02S 01.250xxf\x03\x04",
	)
	runDamage(t, sohSTXBCC, "\x01\x02S 01.250kgg\x03\x04", true)
	runDamage(t, sohSTXBCC, "\x01\x02U-00.485kgc\x03\x04", true)
}

// The check byte may be a control character; the frame is counted all the same.
func TestSOHSTXBCCCountsChecks(t *testing.T) {
	seen := map[byte]bool{}
	for _, unit := range []string{"kg", "lb", " g", "oz"} {
		for n := range 100_000 {
			body := fmt.Sprintf("S %02d.%03d%s", n/1000, n%1000, unit)
			check := xor([]byte(body))
			if seen[check] {
				continue
			}
			seen[check] = true
			frame := append(append([]byte("\x01\x02"+body), check), etx, eot)
			rs := decodeCut(sohSTXBCC, Options{}, frame, frame)
			require.Len(t, rs, 2, "%q", frame)
			for _, r := range rs {
				require.Equal(t, OK, r.Status, "%q: %s", frame, r.Why)
				require.Equal(t, Decimal{Coef: uint64(n), Places: 3}, r.Value)
			}
		}
	}
	require.Greater(t, len(seen), 20)
}

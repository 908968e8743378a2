package protocol

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

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

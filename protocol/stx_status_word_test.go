package protocol

import (
	"bytes"
	"fmt"
	"slices"
	"testing"

	"github.com/stretchr/testify/require"
)

func TestSTXStatusWord(t *testing.T) {
	runRows(t, stxStatusWord, []row{
		{"\x02,0 001234000000\r+", "12.34", "kg", "true", "gross", "ok", "built from the layout; METTLER TOLEDO Wildcat technical manual 6-4, 6-5"},
		{"\x02,1   1234   150\rt", "12.34", "kg", "true", "net", "ok", "built from the layout; METTLER TOLEDO Wildcat technical manual 6-4, 6-5"},
		{"\x02-; 000085000000\r\x1c", "-0.085", "kg", "false", "net", "ok", "built from the layout; METTLER TOLEDO Wildcat technical manual 6-4, 6-5"},
		{"\x02+0!004500000000\r,", "450.0", "g", "true", "gross", "ok", "built from the layout; METTLER TOLEDO Wildcat technical manual 6-4, 6-5"},
		{"\x02*  012340000000\r", "12340", "lb", "true", "gross", "ok", "built from the layout; METTLER TOLEDO Wildcat technical manual 6-4, 6-5, no checksum"},
		{"\x02,4 009999000000\r\r", "", "", "", "gross", "overload", "built from the layout; METTLER TOLEDO Wildcat technical manual 6-4, 6-5; its checksum is CR"},
		{"\x02,6 000012000000\r", "", "", "", "gross", "underload", "built from the layout; METTLER TOLEDO Wildcat technical manual 6-4, 6-5; out of range and negative"},
		{"\x02,7 000012000000\r", "", "", "", "net", "underload", "built from the layout; METTLER TOLEDO Wildcat technical manual 6-4, 6-5; out of range, negative, net"},
		{"\x02,p 001234000000\r", "", "", "", "gross", "error", "built from the layout; METTLER TOLEDO Wildcat technical manual 6-4, 6-5; not yet zeroed"},
		{"\x02,00001234000000\r", "", "", "", "gross", "error", "built from the layout; METTLER TOLEDO Wildcat technical manual 6-4, 6-5; expanded display"},
		{"\x02,0(001234000000\r", "12.34", "kg", "true", "gross", "ok", "built from the layout; METTLER TOLEDO Wildcat technical manual 6-4, 6-5; print request"},
		{"\x02(  001234000000\r", "123400", "lb", "true", "gross", "ok", "built from the layout; METTLER TOLEDO Wildcat technical manual 6-4, 6-5; x100"},
		{"\x02)  001234000000\r", "12340", "lb", "true", "gross", "ok", "built from the layout; METTLER TOLEDO Wildcat technical manual 6-4, 6-5; x10"},
		{"\x02/0\x22001234      \r", "0.01234", "t", "true", "gross", "ok", "built from the layout; METTLER TOLEDO Wildcat technical manual 6-4, 6-5; five decimals, tonne, no tare shown"},
		{"\x02,2 000000000000\r", "-0.00", "kg", "true", "gross", "ok", "built from the layout; METTLER TOLEDO Wildcat technical manual 6-4, 6-5; minus zero keeps its sign"},
	})
	runNever(t, stxStatusWord,
		"\x02,0 001234000000\r*",
		"\x02,0 001234000000",
		"\x02,0 00123400000\r+",
		",0 001234000000\r+",
		"\x02,0 0012.4000000\r",
		"\x02,0 00 234000000\r",
		"\x02,0       000000\r",
		"\x02,0 00123400 000\r",
		"\x02,0 -01234000000\r",
		"\x02$0 001234000000\r",
		"\x02\f0 001234000000\r",
		"\x02l0 001234000000\r",
		"\x02,\x10 001234000000\r",
		"\x02,0\x00001234000000\r",
		"\x02,0`001234000000\r",
		"\x02,0#001234000000\r",
		"\x02,0\x27001234000000\r",
		"\xac0 001234000000\r",
		"\x02\xac0 001234000000\r",
		"\x02,0 001234000000\r\n",
	)
	runDamage(t, stxStatusWord, "\x02,0 001234000000\r+", true)
	runDamage(t, stxStatusWord, "\x02-; 000085000000\r\x1c", true)
	runDamage(t, stxStatusWord, "\x02,0 699999000000\r\x02", true)
	// Without a checksum a changed digit cannot be noticed, but a lost one can.
	runDamage(t, stxStatusWord, "\x02*  012340000000\r", false)
}

// Every possible checksum, CR and STX among them, is counted and not taken for
// an end or a start.
func TestSTXStatusWordCountsChecksums(t *testing.T) {
	seen := map[byte]bool{}
	for n := range 1_000_000 {
		frame := fmt.Appendf(nil, "\x02,0 %06d000000\r", n)
		sum := statusWord{}.sum(frame)
		if seen[sum] {
			continue
		}
		seen[sum] = true
		with := append(bytes.Clone(frame), sum)
		stream := slices.Concat(with, with, frame, frame)
		rs := decodeCut(stxStatusWord, Options{}, stream)
		require.Len(t, rs, 4, "%q", stream)
		for i, want := range [][]byte{with, with, frame, frame} {
			require.Equal(t, OK, rs[i].Status, "%q: %s", stream, rs[i].Why)
			require.Equal(t, want, rs[i].Raw)
			require.Equal(t, Decimal{Coef: uint64(n), Places: 2}, rs[i].Value)
		}
	}
	require.Greater(t, len(seen), 40, "sums of seven digits reach that many values")
	require.True(t, seen[2], "a checksum that is STX")
}

// The frame states the step, whatever the last digit shows.
func TestSTXStatusWordStep(t *testing.T) {
	for a, want := range map[byte]Decimal{
		',': {Coef: 1, Places: 2},
		'4': {Coef: 2, Places: 2},
		'<': {Coef: 5, Places: 2},
		'0': {Coef: 200},
		':': {Coef: 5},
	} {
		rs := decodeCut(stxStatusWord, Options{}, []byte{stx, a, '0', ' ', '0', '0', '1', '2', '3', '0', '0', '0', '0', '0', '0', '0', '\r'})
		require.Len(t, rs, 1)
		require.Equal(t, OK, rs[0].Status)
		require.Equal(t, want, rs[0].Step, "A = %q", a)
	}
}

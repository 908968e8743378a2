package material

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"tared/protocol"
)

// The molar masses are by the standard atomic weights of IUPAC, 2021; the factors are derived.
func TestInstead(t *testing.T) {
	for _, c := range []struct{ out, in, says, source string }{
		{"soda ash", "washing soda", "2.700 g ± 0.001 g of Washing soda carries the same Na as", "286.138 / 105.988 g/mol"},
		{"washing soda", "soda ash", "0.370 g ± 0.001 g of Soda ash carries the same Na as", "105.988 / 286.138 g/mol"},
		{"cobalt oxide", "cobalt carbonate", "1.48 g ± 0.16 g of Cobalt carbonate carries the same Co as", "3 · 118.941 / 240.795 g/mol"},
		{"kaolin", "calcined kaolin", "0.860 g ± 0.001 g of Calcined kaolin leaves as much as", "222.127 / 258.157: 13.96 % is lost"},
		{"alumina", "alumina hydrate", "1.530 g ± 0.001 g of Alumina hydrate leaves as much as", "2 · 78.003 / 101.961 g/mol: 34.64 % is lost"},
		{"whiting", "quartz", "0.560 g ± 0.001 g of Quartz leaves as much as", "56.077 / 100.086 g/mol: 43.97 % is lost"},
		{"quartz", "wollastonite", "", "neither loses anything"},
		{"whiting", "whiting", "", "the same"},
		{"soda ash", "Bath house grog", "", "no table has it"},
	} {
		out, _ := (*Table)(nil).Or().Lookup(c.out)
		in, _ := (*Table)(nil).Or().Lookup(c.in)
		x, ok := Instead(out, in)
		require.Equal(t, c.says != "", ok, "%s: %s", c.in, c.source)
		if ok {
			says := x.Says(12 * protocol.Gram)
			assert.Contains(t, says[0].String(), c.says, c.source)
			assert.Contains(t, says[1].String(), "For 12 g of")
		}
	}
}

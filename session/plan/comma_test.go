package plan

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"tared/session/sheet"
)

// An amount is the same, with a comma or a point for the decimals, whoever reads the sheet.
func TestCommaAndPointAreOne(t *testing.T) {
	make := func(base, quartz string) sheet.Sheet {
		r := Request{Recipe: "Quartz " + quartz + "\nWhiting 17", Base: base}
		sh, err := r.Sheet([]sheet.Scale{{Name: "bench", Step: 100_000_000_000, Max: 2_000_000_000_000_000}})
		require.NoError(t, err)
		return sh
	}
	point, comma := make("100.5g", "24.5"), make("100,5g", "24,5")
	assert.Equal(t, point.Base, comma.Base)
	assert.Equal(t, point.Lines[0].Target, comma.Lines[0].Target)
}

package book

import (
	"bytes"
	"encoding/csv"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// With decimal commas the same cells come, and nothing but the numbers differs: read back, each
// is what the table with points has.
func TestATableWithDecimalCommas(t *testing.T) {
	b := kept(t)
	n := b.Find("T1")
	var points, commas bytes.Buffer
	require.NoError(t, WriteCSV(&points, false, nil, Only(n)))
	require.NoError(t, WriteCSV(&commas, true, nil, Only(n)))
	want, err := csv.NewReader(&points).ReadAll()
	require.NoError(t, err)
	r := csv.NewReader(&commas)
	r.Comma = ';'
	got, err := r.ReadAll()
	require.NoError(t, err)
	require.Len(t, got, len(want))
	changed := 0
	for i, row := range want[1:] {
		i++
		for k, cell := range row {
			if got[i][k] == cell {
				assert.NotRegexp(t, `^-?\d+\.\d+$`, cell, "%s has a point where a comma should be", want[0][k])
				continue
			}
			changed++
			assert.Regexp(t, `^-?\d+,\d+$`, got[i][k], want[0][k])
			assert.Equal(t, cell, strings.Replace(got[i][k], ",", ".", 1), want[0][k])
		}
	}
	assert.Greater(t, changed, 20)
}

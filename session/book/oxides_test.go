package book_test

import (
	"bytes"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"tared/session/book"
	"tared/session/glaze"
	"tared/session/recipe"
)

func TestOxidesOfARecipe(t *testing.T) {
	r, err := recipe.Parse("# Bath house clear (invented)\nPotash feldspar 40\nKaolin 10\nWhiting 20\nQuartz 30\n+ Blue stain of our own 3\n")
	require.NoError(t, err)
	o, err := book.OxidesOf(r, glaze.Shelf{})
	require.NoError(t, err)
	var b bytes.Buffer
	require.NoError(t, o.Render(&b))
	for _, want := range []string{"Bath house clear", "SiO2", "unity", "Blue stain of our own is left out", "Appen", "louiskatz.net", "the test tile decides"} {
		assert.Contains(t, b.String(), want)
	}

	r, err = recipe.Parse("Ball clay 40\nWhiting 60\n")
	require.NoError(t, err)
	_, err = book.OxidesOf(r, glaze.Shelf{})
	assert.ErrorContains(t, err, "Ball clay")
	own, err := glaze.Read(strings.NewReader("material,source,SiO2,Al2O3,loss\nball clay,ours,55,33,12\n"))
	require.NoError(t, err)
	o, err = book.OxidesOf(r, glaze.Shelf{Own: own})
	require.NoError(t, err)
	// 0.4·55/60.083 = 0.36616 mol of silica beside 0.6·100/100.086 = 0.59948 of lime
	assert.InDelta(t, 0.36616/0.59948, o.Planned.Cell("SiO2").Unity.Value, 1e-4)
}

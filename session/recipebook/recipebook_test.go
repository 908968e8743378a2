package recipebook

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"tared/session/fact"
)

func TestRecipesAreKept(t *testing.T) {
	var b Book
	for i, r := range []fact.Recipe{
		{Name: "Tidewrack", Version: 1, Text: "one", Hash: "h1"},
		{Name: "Bath white, matt", Version: 1, Text: "white", Hash: "h2"},
		{Name: "tidewrack", Version: 2, Text: "two", Hash: "h3", Words: "less copper"},
		{Name: "Bath white, satin", Version: 1, Text: "satin", Hash: "h4"},
	} {
		b.Add(fact.Fact{Seq: uint64(i + 1), By: "Mara", Body: r})
	}
	b.Add(fact.Fact{Body: fact.Noted{Text: "No recipe"}})
	require.Len(t, b.All(), 3)
	for name, want := range map[string]string{"Tidewrack": "two", "TIDEWRACK:1": "one", "tide": "two", "tide:1": "one", "bath white, m": "white"} {
		_, v, err := b.Read(name)
		require.NoError(t, err, name)
		assert.Equal(t, want, v.Text, name)
	}
	for name, why := range map[string]string{"Bath white": "No recipe is kept", "Tidewrack:3": "has no version 3. It has 1 to 2", "": "No recipe", "x:y": "No recipe"} {
		_, _, err := b.Read(name)
		assert.ErrorContains(t, err, why, name)
	}
	assert.Equal(t, "Tidewrack, version 2", b.Of("h3"))
	assert.Empty(t, b.Of("h9"))
	_, _, err := (&Book{}).Read("Tidewrack")
	assert.ErrorContains(t, err, "none is kept yet")
}

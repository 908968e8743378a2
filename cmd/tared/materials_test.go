package main

import (
	"testing"

	"github.com/stretchr/testify/assert"
)

func TestOwnMaterialsFile(t *testing.T) {
	t.Parallel()
	recipe := writeFile(t, "recipe.txt", "# Invented\nQuartz 60\nPond clay 40\n+ Grandmother's red 2\n")
	args := []string{"plan", recipe, "--base", "200g", "--scale", "name=bench,step=0.1g"}
	got := runTared(t, "", args...)
	assert.Contains(t, got.out, "Pond clay is not in the materials table")
	own := writeFile(t, "own.json", `{"materials":[{"name":"Pond clay","kind":"clay"},{"name":"Grandmother's red","kind":"colourant","strong":true}]}`)
	got = runTared(t, "", append(args, "--materials", own)...)
	assert.Equal(t, exitDone, got.code, got.err)
	assert.NotContains(t, got.out, "not in the materials table")
	assert.Contains(t, got.out, "strong")
	got = runTared(t, "", append(args, "--materials", writeFile(t, "bad.json", `{"materials":[{"name":"A","kind":"stone"}]}`))...)
	assert.Equal(t, exitConfig, got.code)
	assert.Contains(t, got.err, `kind “stone”: use one of clay, feldspar, `)
	got = runTared(t, "", append(args, "--materials", "no such file")...)
	assert.Equal(t, exitConfig, got.code)

	s, err := parseConfig("tared.toml", "materials = \"own.json\"\n")
	assert.NoError(t, err)
	assert.Equal(t, "own.json", string(s.Materials))
	_, err = parseConfig("tared.toml", "materials = 3\n")
	assert.ErrorContains(t, err, "materials: put the text in quotes")

	got = runTared(t, "", append(args, "--allow", "Pond clay=0.5g", "--order", "Pond clay", "--json")...)
	assert.Contains(t, got.out, `"lines":[{"material":"Pond clay"`)
	assert.Contains(t, got.out, `"allowed":{"g":"0.5"}`)
}

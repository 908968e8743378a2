package main

import (
	"regexp"
	"strings"
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

// What a user's own file says of a material holds wherever the material is: in the plan,
// in the water of the bucket, on the label, in a question, on the page. Densities of our
// own invention.
func TestOwnMaterialsFileHoldsEverywhere(t *testing.T) {
	dir := keptBatch(t)
	own := writeFile(t, "own.json", `{"materials":[
		{"name":"Quartz","kind":"glass-former","density":{"value":"9","source":"our own bottle"},"codes":["H334"],"codes_by":"our supplier, 2026"},
		{"name":"Pond blue","kind":"colourant","formula":"CoO"}]}`)
	said := func(args ...string) string {
		got := runTared(t, "", args...)
		assert.Equal(t, exitDone, got.code, got.err)
		return got.out
	}
	plan := []string{"plan", writeFile(t, "recipe.txt", "# Invented\nQuartz 60\nWhiting 40\n"), "--base", "200g", "--scale", "name=bench,step=0.1g"}
	assert.NotEqual(t, said(plan...), said(append(plan, "--materials", own)...))
	water := []string{"water", "260302a", "--data", dir, "--json"}
	with, without := said(append(water, "--materials", own)...), said(water...)
	solid := regexp.MustCompile(`"solid":"([0-9.]+)"`)
	assert.NotEqual(t, solid.FindString(without), solid.FindString(with))
	label := []string{"label", "260302a", "--data", dir}
	assert.NotContains(t, said(label...), "H334")
	assert.Contains(t, said(append(label, "--materials", own)...), "Quartz: H334")
	export := []string{"export", "260302a", "--data", dir}
	assert.NotEqual(t, len(said(export...)), 0)
	said(append(export, "--materials", own)...)
	assert.Contains(t, said("calc", "metal", "from=Pond blue", "to=CoCO3", "--materials", own), "1.587 g of CoCO3")
	conf := writeFile(t, "tared.toml", "materials = \""+own+"\"\n")
	assert.Equal(t, with, said(append(water, "--config", conf)...), "the configuration file names it once for all")
}

// A user can keep own bands for a material; what a wish says goes before them.
func TestOwnBand(t *testing.T) {
	t.Parallel()
	own := writeFile(t, "own.json", `{"materials":[{"name":"Tin oxide","kind":"opacifier","band":"0.25g"},{"name":"Quartz","kind":"glass-former","band":"3%"}]}`)
	args := []string{"plan", writeFile(t, "recipe.txt", "# Invented\nQuartz 60\nWhiting 40\n+ Tin oxide 5\n"), "--base", "200g", "--scale", "name=bench,step=0.01g", "--json", "--materials", own}
	allowed := func(material string, more ...string) string {
		got := runTared(t, "", append(args, more...)...)
		assert.Equal(t, exitDone, got.code, got.err)
		m := regexp.MustCompile(`"material":"` + material + `".*?"allowed":\{"g":"([0-9.]+)"`).FindStringSubmatch(got.out)
		if assert.Len(t, m, 2, got.out) {
			return m[1]
		}
		return ""
	}
	assert.Equal(t, "0.25", allowed("Tin oxide"))
	assert.Equal(t, "3.6", allowed("Quartz"), "3 % of 120 g")
	assert.Equal(t, "0.8", allowed("Whiting"))
	assert.Equal(t, "0.1", allowed("Tin oxide", "--allow", "Tin oxide=1%"))
	bad := runTared(t, "", append(args[:len(args)-1], writeFile(t, "bad.json", `{"materials":[{"name":"A","kind":"clay","band":"much"}]}`))...)
	assert.Equal(t, exitConfig, bad.code)
	assert.Contains(t, bad.err, "band “much”: write a share or a mass")
}

// Each figure of a material is told with its source; what may be several is named, a
// poison is blocked, and a guess never leads across that border.
func TestMaterialsCommand(t *testing.T) {
	t.Parallel()
	said := func(args ...string) string {
		got := runTared(t, "", append([]string{"materials"}, args...)...)
		assert.Equal(t, exitDone, got.code, got.err)
		return got.out
	}
	out := said("Kobaltkarbonat")
	for _, words := range []string{"CoCO3, 118.941 g/mol", "37.00 %", "4.13 (Merck", "H317, H334, H341, H350i, H360F, H400, H410 (row 027-010-00-8", "EH40/2005", "513-79-1"} {
		assert.Contains(t, out, words)
	}
	assert.Contains(t, said("copper"), "can mean Copper oxide, Red copper oxide")
	assert.Contains(t, said("As2O3"), "No sheet is made with it: arsenic")
	assert.Contains(t, said("--json", "14808-60-7"), `"name":"Quartz"`)
	assert.Greater(t, strings.Count(said(), "\n"), 150)
	got := runTared(t, "", "materials", "coblat oxide")
	assert.Equal(t, exitFailed, got.code)
	assert.Contains(t, got.err, "Near it: Cobalt oxide")
	assert.NotContains(t, runTared(t, "", "materials", "arsnic oxide").err, "Near it")
}

package material

import (
	"encoding/json"
	"reflect"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// Lookup finds a material of the embedded table.
func Lookup(name string) (Material, bool) { return Default().Lookup(name) }

func TestLookup(t *testing.T) {
	require.GreaterOrEqual(t, len(Default().All()), 60)
	for name, want := range map[string]string{
		"Quartz": "Quartz", "flint": "Quartz", "SILICA": "Quartz", "Silica 325 mesh": "Quartz", "silica (325m)": "Quartz",
		"copper carb": "Copper carbonate", "Copper Carb.": "Copper carbonate", "Neph Sye": "Nepheline syenite",
		"china clay": "Kaolin", "EPK": "Kaolin", "EPK kaolin": "Kaolin", "Frit 3134": "Frit", "Ferro Frit 3134": "Frit",
		"Custer Feldspar": "Potash feldspar", "G-200 feldspar": "Potash feldspar", "Lead-free frit": "Frit",
		"chrome oxide": "Chromium oxide", "Mason stain 6600": "Stain", "Copper(I) oxide": "Red copper oxide", "copper (II) oxide": "Copper oxide", "Lead bisilicate": "Lead compounds", "red lead oxide": "Lead compounds",
		"Cadmium orange": "Cadmium pigment", "Cadmium red (encapsulated)": "Encapsulated cadmium stain", "ammonium dichromate": "Chromium(VI) compounds",
		"Vanadium oxide": "Vanadium pentoxide", "Unobtainium": "", "": "",
	} {
		m, ok := Lookup(name)
		assert.Equal(t, want != "", ok, name)
		assert.Equal(t, want, m.Name, name)
	}
}

func TestTable(t *testing.T) {
	strong := map[string]bool{}
	for _, m := range Default().All() {
		if m.Strong {
			strong[m.Name] = true
		}
		for _, n := range m.names() {
			got, ok := Lookup(n)
			assert.True(t, ok, n)
			assert.Equal(t, m.Name, got.Name, n)
		}
	}
	for _, n := range []string{"Cobalt oxide", "Cobalt(II) oxide", "Cobalt carbonate", "Copper oxide", "Red copper oxide", "Copper carbonate",
		"Chromium oxide", "Nickel oxide", "Nickel carbonate", "Vanadium pentoxide", "Iron chromite", "Silicon carbide", "Cobalt", "Copper"} {
		assert.True(t, strong[n], n)
	}
	for _, n := range []string{"Red iron oxide", "Rutile", "Tin oxide", "Zircon", "Manganese dioxide", "Titanium dioxide", "Quartz", "Stain"} {
		assert.False(t, strong[n], n)
	}
	// mpsm.ae lists calcium carbonate at a relative density of 1.8; calcite is
	// about 2.71.
	m, _ := Lookup("Whiting")
	assert.Equal(t, "2.71", m.Density.Value.FloatString(2))
	for name, want := range map[string]string{"Potash feldspar": "2.60", "Quartz": "2.65", "Talc": "2.75", "Dolomite": "2.87", "Ball clay": "2.60"} {
		m, _ := Lookup(name)
		assert.Equal(t, want, m.Density.Value.FloatString(2), name) // Handbook for Australian Potters; Carmichael 1989 for dolomite
	}
}

func TestSuggest(t *testing.T) {
	for name, want := range map[string]string{
		"Quatrz": "Quartz", "Feldspr": "Feldspar", "Coblat oxide": "Cobalt oxide", "bentomite": "Bentonite",
		"Cupper carbonate": "Copper carbonate", "Wolastomite": "Wollastonite", "Nephaline syenite": "Nepheline syenite", "Rutlie": "Rutile",
	} {
		got := Default().Suggest(name)
		require.NotEmpty(t, got, name)
		assert.Equal(t, want, got[0], name)
	}
	assert.Empty(t, Default().Suggest("Quartz"), "a known name needs none")
	assert.Empty(t, Default().Suggest("Unobtainium"))
	assert.LessOrEqual(t, len(Default().Suggest("Coper oxide")), 3)
}

func TestOverlay(t *testing.T) {
	over := func(s string) (*Table, error) { return Default().Overlay(strings.NewReader(s)) }
	n, err := over(`{"materials":[
		{"name":"Pond clay","synonyms":["our clay","Mud"],"kind":"clay","density":{"value":"2.55","source":"our own bottle, 2026"}},
		{"name":"Vanadium pentoxide","kind":"colourant","strong":true},
		{"name":"Mix","synonyms":["Silica"],"kind":"glass-former"}]}`)
	require.NoError(t, err)
	m, ok := n.Lookup("our  Clay")
	assert.True(t, ok)
	assert.Equal(t, "Pond clay", m.Name)
	m, _ = n.Lookup("Vanadium pentoxide")
	assert.Empty(t, m.Blocked, "the user's entry replaces ours whole")
	m, _ = n.Lookup("Silica")
	assert.Equal(t, "Mix", m.Name, "the user's word goes first")
	m, _ = n.Lookup("Quartz")
	assert.Equal(t, "Quartz", m.Name)
	m, _ = Lookup("Vanadium pentoxide")
	assert.NotEmpty(t, m.Blocked, "the embedded table is as it was")
	assert.Len(t, n.All(), len(Default().All())+2)

	for name, c := range map[string][2]string{
		"no JSON":      {"Pond clay", "materials file"},
		"unknown":      {`{"materials":[{"name":"A","kind":"clay","colour":"red"}]}`, "unknown field"},
		"trailing":     {`{"materials":[]} {}`, "after the closing brace"},
		"kind":         {`{"materials":[{"name":"A","kind":"stone"}]}`, `kind “stone”`},
		"no name":      {`{"materials":[{"name":" ","kind":"clay"}]}`, "has no letters"},
		"no source":    {`{"materials":[{"name":"A","kind":"clay","density":{"value":"2.5"}}]}`, "no source"},
		"comma":        {`{"materials":[{"name":"A","kind":"clay","density":{"value":"2,5","source":"x"}}]}`, "not a number"},
		"a number":     {`{"materials":[{"name":"A","kind":"clay","density":2.5}]}`, "figure"},
		"too light":    {`{"materials":[{"name":"A","kind":"clay","density":{"value":"0.5","source":"x"}}]}`, "relative density"},
		"formula":      {`{"materials":[{"name":"A","kind":"clay","formula":"Xy"}]}`, "Chemical formula"},
		"code":         {`{"materials":[{"name":"A","kind":"clay","codes":["R20"],"codes_by":"x"}]}`, `hazard code “R20”`},
		"code, no by":  {`{"materials":[{"name":"A","kind":"clay","codes":["H372"]}]}`, "codes_by"},
		"line":         {`{"materials":[{"name":"A","kind":"clay","lines":[{"words":"x"}]}]}`, "both words and source"},
		"soluble":      {`{"materials":[{"name":"A","kind":"clay","soluble":"very"}]}`, `soluble “very”`},
		"twice":        {`{"materials":[{"name":"A","kind":"clay"},{"name":"a","kind":"flux"}]}`, `already belongs to “A”`},
		"both entries": {`{"materials":[{"name":"A","kind":"x"},{"name":"B","kind":"y"}]}`, `entry 2 “B”`},
	} {
		_, err := over(c[0])
		require.ErrorIs(t, err, ErrFile, name)
		assert.Contains(t, err.Error(), c[1], name)
	}
}

func TestMaterialRoundTripsAsJSON(t *testing.T) {
	b, err := json.Marshal(file{Default().All()})
	require.NoError(t, err)
	again, err := (&Table{}).Overlay(strings.NewReader(string(b)))
	require.NoError(t, err)
	for i := range again.all {
		again.all[i].own = false
		// What a user's file says is not put together of the tables.
		again.all[i].air, again.all[i].row, again.all[i].none = Default().all[i].air, Default().all[i].row, Default().all[i].none
	}
	assert.True(t, reflect.DeepEqual(Default().All(), again.All()))
}

func BenchmarkLookup(b *testing.B) {
	for b.Loop() {
		Lookup("Silica 325 mesh")
	}
}

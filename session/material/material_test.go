package material

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

func TestLookup(t *testing.T) {
	require.GreaterOrEqual(t, len(Default().All()), 60)
	for name, want := range map[string]string{
		"Quartz": "Quartz", "flint": "Quartz", "SILICA": "Quartz", "Silica 325 mesh": "Quartz", "silica (325m)": "Quartz",
		"copper carb": "Copper carbonate", "Copper Carb.": "Copper carbonate", "Neph Sye": "Nepheline syenite",
		"china clay": "Kaolin", "EPK": "Kaolin", "EPK kaolin": "Kaolin", "Frit 3134": "Frit", "Ferro Frit 3134": "Frit",
		"Custer Feldspar": "Potash feldspar", "G-200 feldspar": "Potash feldspar", "Lead-free frit": "Frit",
		"chrome oxide": "Chromium oxide", "Mason stain 6600": "Stain", "Copper(I) oxide": "Red copper oxide", "copper (II) oxide": "Copper oxide", "Lead bisilicate": "Lead compounds", "red lead oxide": "Lead compounds",
		"Cadmium orange": "Cadmium pigment", "Cadmium red (encapsulated)": "Encapsulated cadmium stain", "ammonium dichromate": "Potassium dichromate",
		"Vanadium oxide": "Vanadium pentoxide", "Unobtainium": "", "": "",
	} {
		m, ok := Lookup(name)
		assert.Equal(t, want != "", ok, name)
		assert.Equal(t, want, m.Name, name)
	}
}

package material

import (
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"tared/session/text"
)

// pictograms tells which pictogram a hazard statement brings. Source: UN GHS
// Annex 1 and Regulation (EC) 1272/2008 (CLP) Annex V, from memory.
var pictograms = map[string]string{
	"H300": "GHS06", "H301": "GHS06", "H310": "GHS06", "H311": "GHS06", "H330": "GHS06", "H331": "GHS06",
	"H302": "GHS07", "H312": "GHS07", "H332": "GHS07", "H315": "GHS07", "H317": "GHS07", "H319": "GHS07", "H335": "GHS07", "H336": "GHS07",
	"H290": "GHS05", "H314": "GHS05", "H318": "GHS05",
	"H304": "GHS08", "H334": "GHS08", "H340": "GHS08", "H341": "GHS08", "H350": "GHS08", "H351": "GHS08", "H360": "GHS08",
	"H361": "GHS08", "H370": "GHS08", "H371": "GHS08", "H372": "GHS08", "H373": "GHS08",
	"H270": "GHS03", "H271": "GHS03", "H272": "GHS03",
	"H400": "GHS09", "H410": "GHS09", "H411": "GHS09",
}

// pictogramsOf gives the GHS pictograms that a set of hazard statements brings,
// in order, after precedence (UN GHS 1.4.10.5.3.1 and CLP Article 26, from
// memory): where the skull GHS06 stands GHS07 does not; the corrosion GHS05
// takes the place of GHS07 for irritation of skin and eyes; GHS08 for H334 takes
// it for sensitisation and irritation of the skin and irritation of the eyes.
// H412 and H413 bring none.
func pictogramsOf(codes []string) []string {
	base := map[string]bool{}
	for _, c := range codes {
		if validCode(c) {
			base[c[:4]] = true
		}
	}
	skull, corrosive := false, false
	for c := range base {
		skull = skull || pictograms[c] == "GHS06"
		corrosive = corrosive || pictograms[c] == "GHS05" && c != "H290"
	}
	var out []string
	for c := range base {
		p := pictograms[c]
		switch {
		case p == "GHS07" && skull,
			(c == "H315" || c == "H319") && (corrosive || base["H334"]),
			c == "H317" && base["H334"]:
			p = ""
		}
		if p != "" && !slices.Contains(out, p) {
			out = append(out, p)
		}
	}
	slices.Sort(out)
	return out
}

// Pictograms of the usual classification, UN GHS Annex 1 and CLP Annex V and
// Article 26, from memory.
func TestPictograms(t *testing.T) {
	for codes, want := range map[string]string{
		"":                                "",
		"H372":                            "GHS08",
		"H400 H410":                       "GHS09",
		"H302 H317 H334":                  "GHS07 GHS08",
		"H317 H334":                       "GHS08",
		"H302 H332 H318 H400 H410":        "GHS05 GHS07 GHS09",
		"H317 H350i H372 H413":            "GHS07 GHS08",
		"H412 H413":                       "",
		"H360FD H319":                     "GHS07 GHS08",
		"H314 H315":                       "GHS05",
		"H301 H302":                       "GHS06",
		"H290 H319":                       "GHS05 GHS07",
		"H302 H332 H360Df H373 H400 H410": "GHS07 GHS08 GHS09",
		"H301 H330 H335 H341 H350 H361 H372 H411":                            "GHS06 GHS08 GHS09",
		"H272 H301 H312 H314 H317 H330 H334 H340 H350 H360FD H372 H400 H410": "GHS03 GHS05 GHS06 GHS08 GHS09",
	} {
		assert.Equal(t, want, strings.Join(pictogramsOf(strings.Fields(codes)), " "), codes)
	}
}

// The codes of the table against the pictograms that the usual classification
// gives (from memory): a code mistyped in the table shows here.
func TestTablePictograms(t *testing.T) {
	for name, want := range map[string]string{
		"Quartz": "GHS08", "Zinc oxide": "GHS09", "Barium carbonate": "GHS07", "Strontium carbonate": "", "Lithium carbonate": "GHS07",
		"Manganese dioxide": "GHS07", "Manganese carbonate": "GHS08", "Cobalt(II) oxide": "GHS07 GHS09", "Cobalt carbonate": "GHS08 GHS09",
		"Copper oxide": "GHS09", "Red copper oxide": "GHS05 GHS07 GHS09", "Copper carbonate": "GHS07 GHS09", "Chromium oxide": "",
		"Nickel oxide": "GHS07 GHS08", "Borax": "GHS08", "Soda ash": "GHS07", "Pearl ash": "GHS07", "Lead compounds": "GHS07 GHS08 GHS09",
		"Cadmium pigment": "GHS07 GHS08", "Vanadium pentoxide": "GHS06 GHS08 GHS09", "Potassium dichromate": "GHS03 GHS05 GHS06 GHS08 GHS09",
	} {
		m, ok := Default().exact(name)
		require.True(t, ok, name)
		assert.Equal(t, want, strings.Join(pictogramsOf(m.Codes), " "), name)
	}
}

// Superseded silica figures that still go round: 0.3 (UK, before the 2006
// addendum to EH40), 0.1 outside the UK and the EU (Australia before 2020, the old OSHA
// formula); and the OSHA limits of 1989 that were vacated, such as kaolin 10.
func TestSilicaLimitsAreCurrent(t *testing.T) {
	seen := 0
	for _, m := range Default().All() {
		for _, l := range m.Limits {
			if !strings.Contains(l.Words, "crystalline silica") {
				continue
			}
			seen++
			assert.Equal(t, "limit in air, mg/m³ over 8 hours, respirable crystalline silica: EU 0.1; UK 0.1; US 0.05, action level 0.025 (OSHA); US 0.05 (NIOSH); Australia 0.05", l.Words, m.Name)
		}
	}
	assert.NotZero(t, seen)
	k, _ := Lookup("Kaolin")
	assert.Contains(t, k.Limits[0].Words, "UK 2 respirable; US 15 in all, 5 respirable (OSHA); US 10 in all, 5 respirable (NIOSH)")
}

func said(all []text.Message) (words []string) {
	for _, m := range all {
		words = append(words, m.String())
	}
	return words
}

func TestReminder(t *testing.T) {
	lines := said(Default().Reminder([]string{"Quartz", "Silica 325 mesh", "Whiting", "Copper carbonate", "Cobalt carbonate", "Mystery dust"}))
	assert.Contains(t, lines[0], "Mask")
	assert.Contains(t, lines[1], "Ventilation")
	all := strings.Join(lines, "\n")
	assert.Contains(t, all, "Quartz, Silica 325 mesh: contains free silica")
	assert.Contains(t, all, "Cobalt carbonate: may cause cancer")
	assert.Contains(t, all, "Mystery dust: not in the materials table")
	assert.NotContains(t, all, "barium", "only what is in this batch")
	assert.Contains(t, lines[len(lines)-1], "safety data sheet and your local code")
	seen := map[string]bool{}
	for _, l := range lines {
		assert.False(t, seen[l], "said once: %s", l)
		seen[l] = true
	}
	assert.Len(t, Default().Reminder(nil), 3, "mask, ventilation and the deference always")
	closing := strings.Join(said(Closing()), "\n")
	for _, w := range []string{"Wet-clean", "No dry sweeping", "wash your hands", "local code"} {
		assert.Contains(t, closing, w)
	}
	for _, l := range append(lines, said(Closing())...) {
		assert.NotContains(t, strings.ToLower(l), "safe to eat")
		assert.NotContains(t, strings.ToLower(l), "food-safe")
	}
}

package material

import (
	"encoding/json"
	"io/fs"
	"maps"
	"math/big"
	"slices"
	"strings"
	"testing"
	"unicode"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"tared/session/text"
)

// raw reads a file of the data as it stands.
func raw(t *testing.T, name string, to any) {
	b, err := fs.ReadFile(embedded, "data/"+name+".json")
	require.NoError(t, err)
	require.NoError(t, json.Unmarshal(b, to), name)
}

// Every value with a source names one of the list; none is left there that nothing
// names; and nothing is from memory.
func TestEverySourceIsInTheList(t *testing.T) {
	var sources map[string]string
	raw(t, "sources", &sources)
	named := map[string]int{"HCIS": 1, "SWA": 1, "CLP": 1, "CLP17": 1} // by the code
	var see func(at string, v any)
	see = func(at string, v any) {
		switch v := v.(type) {
		case map[string]any:
			for _, value := range []string{"value", "words", "is", "low", "high"} {
				if _, ok := v[value]; ok {
					s, _ := v["source"].(string)
					assert.Contains(t, sources, s, "%s: %v", at, v)
					named[s]++
				}
			}
			for k, inner := range v {
				see(at+"/"+k, inner)
			}
		case []any:
			for _, inner := range v {
				see(at, inner)
			}
		}
	}
	for _, name := range []string{"limits", "lines", "materials"} {
		var v any
		raw(t, name, &v)
		see(name, v)
	}
	for key, s := range sources {
		assert.Positive(t, named[key], "nothing names %s", key)
		assert.Greater(t, len(s), 10, key)
	}
	_ = fs.WalkDir(embedded, "data", func(path string, d fs.DirEntry, err error) error {
		if b, _ := fs.ReadFile(embedded, path); !d.IsDir() {
			assert.NotContains(t, string(b), "from memory", path)
		}
		return err
	})
}

// Every entry says what it is: a line before the bag is opened, a limit for its dust, a
// formula or a reason to have none, what it is made of where that is known.
func TestEveryEntryIsWhole(t *testing.T) {
	formulas := map[string]string{}
	for _, m := range Default().All() {
		assert.True(t, len(m.Lines) > 0 || m.Blocked != "", "%s is passed over in silence", m.Name)
		assert.True(t, len(m.Limits) > 0 || m.Blocked != "", "%s has no limit", m.Name)
		if m.Formula != "" {
			f := formula(t, m.Formula)
			assert.Positive(t, f.Molar().Sign())
			if other, twice := formulas[f.made()]; twice {
				assert.Contains(t, []string{"Quartz", "Tricalcium phosphate"}, other, "%s and %s are one compound", m.Name, other) // cristobalite is another crystal
			}
			formulas[f.made()] = m.Name
		}
		if l, ok := m.Loss(); m.Leaves != "" {
			assert.True(t, ok, m.Name)
			assert.True(t, l.Sign() >= 0 && l.Cmp(big.NewRat(1, 1)) < 0, "%s loses %s", m.Name, l)
		}
		if m.CLP != "" && !strings.HasPrefix(m.CLP, "none") {
			assert.Contains(t, m.CodesBy, m.CLP, m.Name)
		}
		assert.False(t, len(m.Codes) > 0 && m.CodesBy == "", m.Name)
		for _, l := range m.HazardLines(nil) {
			assert.NotContains(t, strings.ToLower(l), "food-safe")
		}
	}
}

// The harmonised classification of the EU: Regulation (EC) 1272/2008, Annex VI, Table 3,
// after its 23rd adaptation; statements in the order of the alphabet.
func TestCodesAreThoseOfTheList(t *testing.T) {
	for name, want := range map[string][2]string{
		"Cobalt(II) oxide":     {"027-002-00-4", "H302 H317 H400 H410"},
		"Cobalt carbonate":     {"027-010-00-8", "H317 H334 H341 H350i H360F H400 H410"},
		"Cobalt sulfate":       {"027-005-00-0", "H302 H317 H334 H341 H350i H360F H400 H410"},
		"Cobalt chloride":      {"027-004-00-5", "H302 H317 H334 H341 H350i H360F H400 H410"},
		"Nickel oxide":         {"028-003-00-2", "H317 H350i H372 H413"},
		"Black nickel oxide":   {"028-005-00-3", "H317 H350i H372 H413"},
		"Nickel carbonate":     {"028-010-00-0", "H302 H315 H317 H332 H334 H341 H350i H360D H372 H400 H410"},
		"Copper oxide":         {"029-016-00-6", "H400 H410"},
		"Red copper oxide":     {"029-002-00-X", "H302 H318 H332 H400 H410"},
		"Copper carbonate":     {"029-020-00-8", "H302 H319 H332 H400 H410"},
		"Copper sulfate":       {"029-023-00-4", "H302 H318 H400 H410"},
		"Manganese dioxide":    {"025-001-00-3", "H302 H332"},
		"Manganese sulfate":    {"025-003-00-4", "H373 H411"},
		"Zinc oxide":           {"030-013-00-7", "H400 H410"},
		"Barium carbonate":     {"056-003-00-2", "H302"},
		"Borax":                {"005-011-00-4", "H360FD"},
		"Boric acid":           {"005-007-00-2", "H360FD"},
		"Soda ash":             {"011-005-00-2", "H319"},
		"Cryolite":             {"009-016-00-2", "H332 H372 H411"},
		"Iron sulfate":         {"026-003-01-4", "H302 H315 H319"},
		"Titanium dioxide":     {"022-006-00-2", ""}, // void: Court of Justice, 1 August 2025
		"Vanadium pentoxide":   {"023-001-00-8", "H301 H330 H335 H341 H350 H361fd H362 H372 H411"},
		"Potassium dichromate": {"024-002-00-6", "H272 H301 H312 H314 H317 H330 H334 H340 H350 H360FD H372 H400 H410"},
		"Lead compounds":       {"082-001-00-6", "H302 H332 H360Df H373 H400 H410"},
		"Cadmium pigment":      {"048-010-00-4", "H302 H341 H350 H361fd H372 H413"},
		// No row there: read by CAS number.
		"Cobalt oxide": {"none", ""}, "Quartz": {"none", "H372"}, "Manganese carbonate": {"none", "H373"}, "Strontium carbonate": {"none", ""}, "Lithium carbonate": {"none", "H302 H319"},
		"Pearl ash": {"none17", "H315 H319 H335"}, "Kaolin": {"none17", ""}, "Talc": {"none17", ""}, "Zircon": {"none17", ""}, "Tin oxide": {"none17", ""}, "Red iron oxide": {"none17", ""},
	} {
		m, ok := Default().exact(name)
		require.True(t, ok, name)
		assert.Equal(t, want, [2]string{m.CLP, strings.Join(m.Codes, " ")}, name)
		if strings.HasPrefix(want[0], "none") && want[1] != "" {
			assert.Contains(t, m.CodesBy, "not harmonised", name)
		}
	}
}

// Relative densities as published: the sources stand in the table and are those of its
// data; the figures here are read from them again.
func TestDensitiesAreThoseOfTheirSource(t *testing.T) {
	for name, want := range map[string]string{
		"Quartz": "2.65", "Whiting": "2.71", "Dolomite": "2.87", // Carmichael 1989
		"Zinc oxide": "5.61", "Borax": "1.73", "Borax pentahydrate": "1.82", // NIOSH Pocket Guide, cards 0675, 0058, 0059
		"Vanadium pentoxide": "3.36", "Red iron oxide": "5.24", // OSHA chemical data
		"Lithium carbonate": "2.11", "Cobalt carbonate": "4.13", "Tin oxide": "6.95",
		"Strontium carbonate": "3.78", "Barium carbonate": "4.3", "Rutile": "4.25", "Zircon": "4.65", "Wollastonite": "2.84", "Red copper oxide": "6.1", // list of minerals
		"Fluorspar": "3.18", "Colemanite": "2.42", "Ulexite": "1.96", "Epsom salts": "1.68", // chart of gravities
	} {
		m, _ := Lookup(name)
		require.False(t, m.Density.IsZero(), name)
		got, _ := new(big.Rat).SetString(want)
		assert.Zero(t, m.Density.Value.Cmp(got), name)
	}
	// From the unit cell: mass of the formulas in it over its volume, in cubic ångström.
	// 0.602214076 is Avogadro's number in these units (SI, 2019).
	for name, cell := range map[string]struct {
		formulas int64
		volume   string
	}{
		"Cobalt(II) oxide": {4, "77.674"}, "Nickel oxide": {4, "72.428"}, "Copper oxide": {4, "79.940"}, "Manganese dioxide": {2, "55.482"}, "Cerium oxide": {4, "158.428"}, "Silicon carbide": {2, "41.364"},
		"Salt": {4, "179.460"}, "Titanium dioxide": {4, "136.300"}, "Quicklime": {4, "111.319"}, "Magnesium oxide": {4, "74.682"}, "Calcium hydroxide": {1, "54.478"}, // Wyckoff 1963
		"Chromium oxide": {6, "289.817"}, "Black iron oxide": {8, "591.456"}, "Soda ash": {4, "277.516"}, "Cryolite": {2, "234.483"}, "Gypsum": {4, "496.025"}, "Barium sulfate": {4, "346.440"}, "Cristobalite": {4, "171.104"}, "Alumina": {2, "84.500"},
	} {
		m, _ := Lookup(name)
		v, _ := new(big.Rat).SetString(cell.volume)
		n, _ := new(big.Rat).SetString("0.602214076")
		x := new(big.Rat).Mul(formula(t, m.Formula).Molar(), big.NewRat(cell.formulas, 1))
		x.Quo(x, v.Mul(v, n)).Sub(x, m.Density.Value)
		assert.LessOrEqual(t, x.Abs(x).Cmp(big.NewRat(2, 100)), 0, "%s: %s off", name, x.FloatString(3))
	}
}

// Molar masses from the standard atomic weights of IUPAC, 2021, and losses on ignition of
// ideal compounds in percent, as they are worked out from the same in textbooks.
func TestMassAndLossOfEntries(t *testing.T) {
	for name, want := range map[string][2]string{
		"Kaolin": {"258.157", "13.96"}, "Whiting": {"100.086", "43.97"}, "Dolomite": {"184.399", "47.73"}, "Magnesite": {"84.313", "52.20"}, "Magnesium carbonate": {"467.631", "56.91"},
		"Heavy magnesium carbonate": {"485.646", "58.50"}, "Talc": {"379.259", "4.75"}, "Wollastonite": {"116.160", "0.00"}, "Borax": {"381.363", "47.24"}, "Borax pentahydrate": {"291.288", "30.92"},
		"Anhydrous borax": {"201.213", "0.00"}, "Boric acid": {"61.831", "43.70"}, "Colemanite": {"411.080", "21.91"}, "Ulexite": {"405.229", "35.57"}, "Barium carbonate": {"197.338", "22.30"},
		"Strontium carbonate": {"147.628", "29.81"}, "Lithium carbonate": {"73.888", "59.56"}, "Soda ash": {"105.988", "41.52"}, "Cobalt carbonate": {"118.941", "37.00"}, "Copper carbonate": {"221.114", "28.05"},
		"Manganese carbonate": {"114.946", "38.29"}, "Bone ash": {"502.307", "1.79"}, "Tricalcium phosphate": {"310.174", "0.00"}, "Alumina hydrate": {"78.003", "34.64"}, "Zircon": {"183.305", "0.00"},
		"Washing soda": {"286.138", "78.34"}, "Baking soda": {"84.006", "63.11"}, "Yellow iron oxide": {"88.851", "10.14"}, "Nickel carbonate": {"376.175", "40.43"},
	} {
		m, ok := Default().exact(name)
		require.True(t, ok, name)
		l, ok := m.Loss()
		require.True(t, ok, name)
		assert.Equal(t, want, [2]string{formula(t, m.Formula).Molar().FloatString(3), l.Mul(l, big.NewRat(100, 1)).FloatString(2)}, name)
	}
	// Shares of the metal, in percent, of the forms that are sold: the same weights.
	for name, want := range map[string][2]string{
		"Cobalt oxide": {"Co", "73.42"}, "Cobalt(II) oxide": {"Co", "78.65"}, "Cobalt chloride": {"Co", "24.77"}, "Anhydrous cobalt chloride": {"Co", "45.39"}, "Cobalt sulfate": {"Co", "20.97"},
		"Anhydrous cobalt sulfate": {"Co", "38.02"}, "Cobalt nitrate": {"Co", "20.25"}, "Copper carbonate": {"Cu", "57.48"}, "Copper sulfate": {"Cu", "25.45"}, "Anhydrous copper sulfate": {"Cu", "39.82"},
		"Copper chloride": {"Cu", "37.28"}, "Nickel carbonate": {"Ni", "46.81"}, "Nickel oxide": {"Ni", "78.58"}, "Black nickel oxide": {"Ni", "70.98"}, "Manganese sulfate": {"Mn", "32.51"}, "Iron sulfate": {"Fe", "20.09"},
	} {
		m, _ := Default().exact(name)
		f := formula(t, m.Formula).Fraction(want[0])
		assert.Equal(t, want[1], f.Mul(f, big.NewRat(100, 1)).FloatString(2), name)
	}
}

// Limits in air: EH40/2005, 4th edition, 2020; Directives 2004/37/EC, (EU) 2017/164, 2019/983,
// 2024/869; 29 CFR 1910.1000 Table Z-1; NIOSH Pocket Guide; Safe Work Australia.
func TestLimitsArePublished(t *testing.T) {
	for name, want := range map[string][]string{
		"Kaolin": {"UK 2 respirable"}, "Talc": {"UK 1 respirable"}, "Quartz": {"EU 0.1", "UK 0.1", "Australia 0.05"}, "Cobalt carbonate": {"UK 0.1", "US 0.1 (OSHA)", "US 0.05 (NIOSH)"},
		"Copper oxide": {"UK dust and mist 1, 15 minutes 2; fume 0.2"}, "Manganese dioxide": {"EU 0.2 inhalable, 0.05 respirable", "UK 0.2 inhalable, 0.05 respirable"},
		"Nickel oxide": {"EU 0.05 inhalable, 0.01 respirable"}, "Potassium dichromate": {"EU 0.005", "UK 0.01"}, "Cadmium pigment": {"EU 0.001 inhalable (0.004 until 11 July 2027)"}, "Lead compounds": {"EU 0.03"},
		"Arsenic compounds": {"EU 0.01"}, "Beryllium compounds": {"EU 0.0002"}, "Borax": {"UK 5"}, "Borax pentahydrate": {"UK 1"}, "Anhydrous borax": {"UK 1"}, "Fluorspar": {"UK 2.5"}, "Cryolite": {"UK 2.5"},
	} {
		m, _ := Lookup(name)
		for _, w := range want {
			assert.True(t, slices.ContainsFunc(m.Limits, func(l Said) bool { return strings.Contains(l.Words, w) }), "%s: %s in %v", name, w, m.Limits)
		}
	}
	var limits map[string]limit
	raw(t, "limits", &limits)
	for _, key := range slices.Sorted(maps.Keys(limits)) {
		l := limits[key]
		assert.True(t, l.UK.Is != "" || len(l.US) > 0 || l.EU.Is != "", key)
	}
}

// The kiln gives off fluorine from these (US EPA, AP-42, section 11.7).
func TestFluorineIsNamed(t *testing.T) {
	for _, name := range []string{"Fluorspar", "Cryolite", "Lepidolite", "Cornish stone"} {
		m, _ := Lookup(name)
		assert.True(t, slices.ContainsFunc(m.Lines, func(l Said) bool { return strings.Contains(l.Words, "fluorine") }), name)
	}
}

// What the tables say is in session/text too, word for word, so that each language says it in
// its own words.
func TestWhatTheTablesSayIsAmongTheTexts(t *testing.T) {
	has := func(english string) {
		assert.NotEqual(t, english, text.Pseudo.Term(english), "session/text/en/data.json lacks it")
	}
	l := shelf()
	for _, s := range l.lines {
		has(s.Words)
	}
	worded := func(is string) {
		if strings.ContainsFunc(is, unicode.IsLower) {
			has(is)
		}
	}
	for _, a := range l.limits {
		has(a.Of)
		for _, v := range append(a.US, a.EU, a.UK, a.AU) {
			worded(v.Is)
		}
	}
	for code, words := range l.statements {
		has(words)
		assert.NotContains(t, words, "<", code)
	}
	for _, m := range Default().All() {
		for _, code := range m.Codes {
			assert.NotEmpty(t, l.statements[code], "%s: the wording of %s", m.Name, code)
		}
	}
	has("Danger")
	has("Warning")
	has(l.sources["practice"])
	has(l.sources["weights"])
	for _, m := range Default().All() {
		if m.row.None() {
			worded(m.CodesBy)
		}
		for _, s := range []string{m.Sold.Words, m.Soluble, m.Blocked, m.Note} {
			worded(s)
		}
	}
}

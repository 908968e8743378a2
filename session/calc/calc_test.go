package calc

import (
	"encoding/json"
	"errors"
	"fmt"
	"math/big"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"tared/session/sheet"
	"tared/session/text"
)

// parse reads a question as it is typed: "slip gravity=1.5 solid=2.5". Words
// without a key are amounts.
func parse(question string) (Topic, []Given) {
	words := strings.Fields(question)
	t, ok := Lookup(words[0])
	if !ok {
		panic("no topic " + words[0])
	}
	var in []Given
	var bare []string
	for _, w := range words[1:] {
		if k, v, ok := strings.Cut(w, "="); ok {
			in = append(in, Given{k, v})
		} else {
			bare = append(bare, w)
		}
	}
	if bare != nil {
		in = append(in, Given{"amounts", strings.Join(bare, " ")})
	}
	return t, in
}

// ask answers a question; the JSON is decoded with its numbers as written.
func ask(t *testing.T, question string) map[string]any {
	t.Helper()
	topic, in := parse(question)
	a, err := topic.Run(in)
	require.NoError(t, err, question)
	assert.NotEmpty(t, said(a.Words))
	b, err := json.Marshal(a)
	require.NoError(t, err)
	d := json.NewDecoder(strings.NewReader(string(b)))
	d.UseNumber()
	var m map[string]any
	require.NoError(t, d.Decode(&m), "%s", b)
	return m
}

func num(t *testing.T, m map[string]any, key string) *big.Rat {
	t.Helper()
	n, ok := m[key].(json.Number)
	require.True(t, ok, "%s is no number: %v", key, m[key])
	r, ok := new(big.Rat).SetString(n.String())
	require.True(t, ok)
	return r
}

func rat(s string) *big.Rat {
	r, ok := new(big.Rat).SetString(s)
	if !ok {
		panic(s)
	}
	return r
}

// near tells whether two numbers are within tol of each other.
func near(a, b, tol *big.Rat) bool { return new(big.Rat).Abs(sub(a, b)).Cmp(tol) <= 0 }

// lastDigit is one unit in the last digit of a figure as printed.
func lastDigit(s string) *big.Rat {
	_, frac, _ := strings.Cut(s, ".")
	r := big.NewRat(1, 1)
	for range frac {
		r.Quo(r, ten)
	}
	return r
}

func TestWorkedExamples(t *testing.T) {
	for _, topic := range Topics() {
		for _, f := range topic.Forms {
			t.Run(topic.Name+" "+f.Command(), func(t *testing.T) {
				a, err := topic.Run(f.Example.Given)
				require.NoError(t, err)
				b, err := json.Marshal(a)
				require.NoError(t, err)
				assert.Equal(t, f.Example.Says, said(a.Words))
				assert.Equal(t, f.Example.JSON, string(b))
				assert.NotEmpty(t, f.Example.Source)
				assert.NotEmpty(t, f.Formula)
				assert.NotEmpty(t, f.Source)
				assert.NotEmpty(t, topic.About)
				for _, arg := range f.Args {
					_, why := arg.read(arg.Like, nil)
					assert.Nil(t, why, "%s: the value that shows how it is written", arg.Name)
					assert.NotEmpty(t, arg.Words)
				}
			})
		}
	}
}

// The examples of the command's own description.
func TestQuestionsAsDescribed(t *testing.T) {
	for _, c := range []struct{ ask, json string }{
		{"least step=0.1g share=2% spread=0.03g", `{"by_step_g":5,"spread_used_g":0.041,"by_repeatability_g":4.1,"by_uncertainty_g":5.0662281,"expanded_uncertainty_g":0.101324562,"assumed":false}`},
		{"water dry=5kg gravity=1.6 solid=2.6", `{"water_g":3205.128205128,"water_per_dry":0.641025641,"slip_l":5.128205128}`},
		{"parts 40 30 20 10 places=0", `{"percent":[40,30,20,10],"sum":100}`},
		{"blend corners=2 steps=3", `{"points":4,"inner":2,"compositions":[[100,0],[66.666666667,33.333333333],[33.333333333,66.666666667],[0,100]],"parts":[[3,0],[2,1],[1,2],[0,3]]}`},
		{"slip gravity=1 solid=2.6", `{"dry_g_per_l":0,"water_g_per_l":1000,"ml_per_100g_dry":null,"water_per_dry":null}`},
	} {
		topic, in := parse(c.ask)
		a, err := topic.Run(in)
		require.NoError(t, err, c.ask)
		b, err := json.Marshal(a)
		require.NoError(t, err)
		assert.Equal(t, c.json, string(b), c.ask)
	}
}

// Published figures, and vectors derived from a published rule, each with its
// source. The last printed digit is good to one, unless tol says otherwise.
func TestPublishedFigures(t *testing.T) {
	type want map[string]string
	const (
		r76      = "derived from OIML R 76-1:2006 Table 6"
		t3       = "derived from OIML R 76-1:2006 Table 3"
		usp      = "derived from USP <41>, in force from 1 August 2019"
		handbook = "Harrison and others, Handbook for Australian Potters, table for 2.6"
		ciaaw    = "derived from IUPAC/CIAAW 2021"
		volumes  = "derived: volumes add"
	)
	for _, c := range []struct {
		ask    string
		want   want
		tol    string
		source string
	}{
		// OIML R 76-1, errors.
		{"limits class=III interval=0.1g load=50g", want{"initial_g": "0.05", "in_service_g": "0.1"}, "0", r76},
		{"limits class=III interval=0.1g load=50.1g", want{"initial_g": "0.1", "in_service_g": "0.2"}, "0", r76},
		{"limits class=III interval=0.1g load=200g", want{"initial_g": "0.1", "in_service_g": "0.2"}, "0", r76},
		{"limits class=III interval=0.1g load=200.1g", want{"initial_g": "0.15", "in_service_g": "0.3"}, "0", r76},
		{"limits class=III interval=5g load=1kg", want{"initial_g": "2.5", "in_service_g": "5"}, "0", r76},
		{"limits class=II interval=0.01g load=50g", want{"initial_g": "0.005", "in_service_g": "0.01"}, "0", r76},
		{"limits class=II interval=0.01g load=50.01g", want{"initial_g": "0.01", "in_service_g": "0.02"}, "0", r76},
		{"limits class=IIII interval=5g load=250g", want{"initial_g": "2.5", "in_service_g": "5"}, "0", r76},
		{"limits class=IIII interval=5g load=255g", want{"initial_g": "5", "in_service_g": "10"}, "0", r76},
		{"limits class=iii interval=0,1g load=0g", want{"initial_g": "0.05", "in_service_g": "0.1"}, "0", r76},
		{"limits max=5kg interval=1g", want{"intervals": "5000"}, "0", t3},

		// Least weighable mass.
		{"least step=6mg share=5%", want{"by_step_g": "0.12"}, "0", "UNC pharmlabs, Weighing; basicmedicalkey.com, Accurate weighing"},
		{"least step=6mg share=1%", want{"by_step_g": "0.6"}, "0", "basicmedicalkey.com, Accurate weighing"},
		{"least step=4mg share=5%", want{"by_step_g": "0.08"}, "0", "basicmedicalkey.com, practice problem; answer derived"},
		{"least step=10mg share=4%", want{"by_step_g": "0.25"}, "0", "College of Pharmacy BasCalc, Error p. 16"},
		{"least step=6.5mg share=2%", want{"by_step_g": "0.325"}, "0", "derived; qammunity.org/20363702 says 0.325 mg, a thousandth of it"},
		{"least step=0.1mg share=0.10% spread=0.00015g", want{"by_repeatability_g": "0.3", "spread_used_g": "0.00015"}, "0", "USP <41>, the chapter's own example"},
		{"least step=0.1mg share=0.1% spread=0g", want{"by_repeatability_g": "0.082", "spread_used_g": "0.000041"}, "0", usp},
		{"least step=0.1g share=0.1% spread=0.03g", want{"by_repeatability_g": "82", "spread_used_g": "0.041"}, "0", usp},
		{"least step=0.1g share=1% spread=0.06g", want{"by_repeatability_g": "12", "spread_used_g": "0.06"}, "0", usp},
		{"least step=1g share=1%", want{"by_repeatability_g": "82"}, "0", usp},
		{"least step=0.01g share=5%", want{"by_repeatability_g": "0.164"}, "0", usp},

		// Aliquots.
		{"aliquot need=2mg least=120mg times=60 take=125mg", want{"weigh_g": "0.12", "total_g": "7.5", "carrier_g": "7.38", "take_g": "0.125"}, "0", "basicmedicalkey.com, Accurate weighing"},
		{"aliquot need=2mg least=120mg take=125mg", want{"times": "60", "weigh_g": "0.12", "carrier_g": "7.38"}, "0", "the same, the multiple found"},
		{"aliquot need=12mg least=120mg take=120mg", want{"times": "10", "weigh_g": "0.12", "total_g": "1.2", "carrier_g": "1.08"}, "0", "lecture Aliquot method, slidepub.com"},
		{"aliquot need=20mg least=120mg", want{"times": "6", "weigh_g": "0.12", "take_g": "0.12", "total_g": "0.72", "carrier_g": "0.6"}, "0", "mosg-portal.com, calculate aliquot"},
		{"aliquot need=1.2g least=5g take=10g", want{"times": "5", "weigh_g": "6", "total_g": "50", "carrier_g": "44", "carrier_in_part_g": "8.8"}, "0", "derived: a scale of 0.1 g at 2 %"},
		{"aliquot need=20mg least=325mg weigh=400mg", want{"times": "20", "weigh_g": "0.4"}, "0", "the textbook plan behind qammunity.org/20363702"},

		// Slip.
		{"slip gravity=1.5 solid=2.5", want{"dry_g_per_l": "833.3", "water_g_per_l": "666.7", "water_per_dry": "0.8"}, "0.05", "S. Altmann, Clayart, 30 January 1998 (potters.org/subject11877)"},
		{"slip gravity=1.7 solid=2.5", want{"dry_g_per_l": "1166.67", "water_g_per_l": "533.33"}, "0.005", "GTZ, Forming Techniques for the Self-Reliant Potter, 1991, appendix (prints 1166, cut)"},
		{"slip gravity=1,05 solid=2,6", want{"dry_g_per_l": "81", "ml_per_100g_dry": "1231"}, "0.5", handbook},
		{"slip gravity=1.10 solid=2.6", want{"dry_g_per_l": "162", "ml_per_100g_dry": "615"}, "0.5", handbook},
		{"slip gravity=1.20 solid=2.6", want{"dry_g_per_l": "325", "ml_per_100g_dry": "308"}, "0.5", handbook},
		{"slip gravity=1.25 solid=2.6", want{"dry_g_per_l": "406", "ml_per_100g_dry": "246"}, "0.5", handbook},
		{"slip gravity=1.35 solid=2.6", want{"dry_g_per_l": "569", "ml_per_100g_dry": "176"}, "0.5", handbook},
		{"slip gravity=1.40 solid=2.6", want{"dry_g_per_l": "650", "ml_per_100g_dry": "154", "water_per_dry": "1.15385"}, "0.5", handbook},
		{"slip gravity=1.50 solid=2.6", want{"dry_g_per_l": "812", "ml_per_100g_dry": "123"}, "0.5", handbook},
		{"slip gravity=1.55 solid=2.6", want{"dry_g_per_l": "894", "ml_per_100g_dry": "112"}, "0.5", handbook},
		{"slip gravity=1.65 solid=2.6", want{"dry_g_per_l": "1056", "ml_per_100g_dry": "95"}, "0.5", handbook},
		{"slip gravity=1.70 solid=2.6", want{"dry_g_per_l": "1137", "ml_per_100g_dry": "88"}, "0.5", handbook},
		{"slip gravity=1.45 solid=2.6", want{"water_per_dry": "0.98291"}, "0.000005", "derived from Brongniart's formula"},
		{"slip gravity=1.40 solid=2.6", want{"water_per_dry": "1.15385"}, "0.000005", "derived from Brongniart's formula"},
		{"slip gravity=1.6 solid=2.5", want{"water_per_dry": "0.6"}, "0", "derived from Brongniart's formula"},

		// A gravity as a hydrometer or a pint gives it.
		{"slip gravity=46Bé solid=2.5", want{"dry_g_per_l": "774.41"}, "0.005", "hobbyworldksa.com, hydrometer: 46 degrees Baumé are 1.465; the rest derived"},
		{"slip gravity=90°Tw solid=2.6", want{"water_per_dry": "0.98291"}, "0.000005", "derived: 90 degrees Twaddell are 1.45"},
		{"slip gravity=32oz/UKpt solid=2.5", want{"dry_g_per_l": "1000"}, "0", "derived from (P - 20)·G/(G - 1): 20 ounces in a pint"},
		{"gravity gravity=24oz/USpt", want{"twaddell": "88.1"}, "0.05", "NIST Handbook 44, Appendix C: 473.176473 ml, 28.349523125 g; water 0.9982 g/ml; derived"},
		{"thin volume=1l gravity=30oz/UKpt to=90tw", want{"water_g": "111.11"}, "0.005", volumes},

		// Loss on ignition.
		{"loss from=CaCO3 left=CaO", want{"loss_percent": "43.971"}, "0.0005", "derived from the atomic weights"},
		{"loss from=Cu2(OH)2CO3 left=CuO count=2", want{"loss_percent": "28.051"}, "0.0005", "derived from the atomic weights"},
		{"loss calcined=20g loss=12%", want{"raw_g": "22.727"}, "0.0005", "derived: 88 % is left"},

		// Water.
		{"water dry=833.3333333g gravity=1.5 solid=2.5", want{"water_g": "666.7"}, "0.05", "S. Altmann, Clayart, 30 January 1998, the other way round"},
		{"water dry=35kg gravity=1.7 solid=2.5", want{"water_g": "16000", "slip_l": "30"}, "0", "GTZ 1991, continued: 30 l hold 35 kg dry; the water derived"},
		{"thin volume=1l gravity=1.50 to=1.45", want{"water_g": "111.11"}, "0.005", volumes},
		{"thin volume=10l gravity=1.60 to=1.45", want{"water_g": "3333.3"}, "0.05", volumes},
		{"thin volume=10000ml gravity=1,6 to=1,45", want{"water_g": "3333.3"}, "0.05", volumes},
		{"thin volume=5l gravity=1.55 to=1.40", want{"water_g": "1875"}, "0", volumes},

		// The same metal.
		{"metal from=Co3O4 to=CoCO3", want{"factor": "1.4819", "from_g_per_mol": "240.795", "to_g_per_mol": "118.941", "from_metal_percent": "73.423"}, "", ciaaw},
		{"metal from=CoCO3 to=Co3O4", want{"factor": "0.67483"}, "", ciaaw},
		{"metal from=Co3O4 to=CoO", want{"factor": "0.93356"}, "", ciaaw},
		{"metal from=CuO to=Cu2(OH)2CO3", want{"factor": "1.3899", "to_g_per_mol": "221.114"}, "", ciaaw},
		{"metal from=Cu2(OH)2CO3 to=CuO", want{"factor": "0.72"}, "0.005", "benchchem.com: basic copper carbonate is about 72 % CuO"},
		{"metal from=CuO to=CuCO3", want{"factor": "1.55"}, "0.005", "Hamer, The Potter's Dictionary, 4th ed., pp. 75-76, as quoted in Clayart, 3 July 2002"},
		{"metal from=CuCO3 to=CuO", want{"factor": "0.645"}, "0.0015", "the same"},
		{"metal from=Cu2O to=CuO", want{"factor": "1.11"}, "0.005", "the same"},
		{"metal from=Cu2O to=Cu₂(OH)₂CO₃", want{"factor": "1.5453"}, "", ciaaw},
		{"metal from=MnO2 to=MnCO3 mass=1g", want{"factor": "1.3222", "mass_g": "1.3222"}, "", ciaaw},
		{"metal from=MnO to=MnCO3 mass=2g", want{"factor": "1.6204", "mass_g": "3.2408"}, "", ciaaw},
		{"metal from=MnO to=MnO2", want{"factor": "1.2255"}, "", ciaaw},
		{"metal from=Mn3O4 to=MnO2", want{"factor": "1.1398", "from_g_per_mol": "228.810"}, "", ciaaw},
		{"metal from=FeO to=Fe2O3", want{"factor": "1.1113", "to_g_per_mol": "159.687"}, "", ciaaw},
		{"metal from=Fe3O4 to=Fe2O3", want{"factor": "1.0346"}, "", ciaaw},
		{"metal from=FeCO3 to=Fe2O3", want{"factor": "0.68918"}, "", ciaaw},
		{"metal from=NiO to=Ni2O3", want{"factor": "1.1071"}, "", ciaaw},
		{"metal from=NiO to=NiCO3", want{"factor": "1.5892"}, "", ciaaw},
		{"metal from=CaO to=CaCO3 mass=100g", want{"factor": "1.7848", "mass_g": "178.48"}, "", ciaaw},
		{"metal from=Li2CO3 to=Li2O", want{"factor": "0.40438"}, "", ciaaw},
		{"metal from=BaCO3 to=BaO", want{"factor": "0.77699"}, "", ciaaw},
		// Plain arithmetic: 1.4819 / 0.98, and 1.4819 · 0.95 / 0.98.
		{"metal from=Co3O4 to=CoCO3 purity=98%", want{"factor": "1.5121", "pure_factor": "1.4819"}, "", ciaaw},
		{"metal from=Co3O4 to=CoCO3 purity=98% from_purity=95%", want{"factor": "1.4365"}, "", ciaaw},
		{"metal from=ZrO2 to=ZrSiO4", want{"factor": "1.4876"}, "", ciaaw},

		// Moisture.
		{"moisture wet=105g dry=100g", want{"wet_basis_percent": "4.762", "dry_basis_percent": "5", "water_g": "5"}, "0.001", "plain arithmetic: 5 g of water in 105 g"},
		{"moisture wet=120g dry=120g", want{"wet_basis_percent": "0", "dry_basis_percent": "0"}, "0", "plain arithmetic: no water"},
		{"aliquot need=30mg least=50mg weigh=80mg total=240mg take=90mg", want{"times": "2.666666667", "carrier_g": "0.16", "carrier_in_part_g": "0.06"}, "0.000000001", "plain arithmetic: 90 mg of 80 in 240 hold 30"},
		{"sieve us=30", want{"opening_um": "600"}, "0", "ASTM E11 / ISO 3310, from memory"},
		{"sieve british=30", want{"opening_um": "500"}, "0", "table of GTZ, 1987"},
		{"sieve us=200", want{"opening_um": "75"}, "0", "onlycalculators.com; 25 400/200 would be 127"},
		{"gravity baume=46", want{"gravity": "1.465"}, "0.0005", "hobbyworldksa.com hydrometer page"},
		{"gravity baume=55", want{"gravity": "1.611"}, "0.0005", "hobbyworldksa.com hydrometer page"},
		{"gravity baume=60", want{"gravity": "1.706"}, "0.0005", "hobbyworldksa.com hydrometer page"},
		{"gravity rational_baume=42", want{"gravity": "1.4106"}, "0.0001", "144.3/102.3"},
		{"gravity twaddell=140", want{"gravity": "1.7"}, "0", "1 + 140/200"},
		{"gravity imperial_pint=36oz", want{"density_g_per_ml": "1.796"}, "0.0005", "Weights and Measures Act 1985, Schedule 1: 568.26125 ml"},
		{"gravity us_pint=36oz", want{"density_g_per_ml": "2.157"}, "0.0005", "NIST Handbook 44, Appendix C: 473.176473 ml"},
		{"loss material=Whiting", want{"loss_percent": "43.97"}, "0.005", "CaCO3 leaves CaO, by the atomic weights of IUPAC 2021"},
		{"moisture water=30g dry=120g", want{"wet_basis_percent": "20", "dry_basis_percent": "25"}, "0", "an exercise in the Nemotron-CC-Math set: 30 g of water in 150 g"},
		{"moisture water=10g dry=90g", want{"wet_basis_percent": "10", "dry_basis_percent": "11.111"}, "", "derived from kenkidryer.com, About moisture contents (1)"},
		{"moisture water=10g dry=100g", want{"wet_basis_percent": "9.0909", "dry_basis_percent": "10"}, "", "the same"},
		{"moisture need=1kg wet_basis=3%", want{"weigh_g": "1030.93"}, "0.005", "the same"},
		{"moisture need=1000g wet_basis=8%", want{"weigh_g": "1086.96"}, "0.005", "the same"},
		{"moisture need=1000g dry_basis=8%", want{"weigh_g": "1080"}, "0", "the same"},

		// Blends.
		{"blend corners=3 steps=1", want{"points": "3", "inner": "0"}, "0", "derived"},
		{"blend corners=3 steps=2", want{"points": "6", "inner": "0"}, "0", "b2wceramics.com, triaxial blend"},
		{"blend corners=3 steps=3", want{"points": "10", "inner": "1"}, "0", "b2wceramics.com, triaxial blend"},
		{"blend corners=3 steps=4", want{"points": "15", "inner": "3"}, "0", "b2wceramics.com, triaxial blend"},
		{"blend corners=3 steps=5", want{"points": "21", "inner": "6"}, "0", "derived"},
		{"blend corners=3 steps=10", want{"points": "66", "inner": "36"}, "0", "derived"},
		{"blend corners=2 steps=10", want{"points": "11", "inner": "9"}, "0", "derived: eleven tests make steps of 10 %"},
		{"blend corners=4 steps=2", want{"points": "10", "inner": "0"}, "0", "Scheffé 1958, {4, 2} lattice (from memory)"},
	} {
		got := ask(t, c.ask)
		for key, w := range c.want {
			tol := lastDigit(w)
			if c.tol != "" {
				tol = rat(c.tol)
			}
			assert.True(t, near(num(t, got, key), rat(w), tol), "%s: %s is %v, want %s (%s)", c.ask, key, got[key], w, c.source)
		}
	}
}

func TestPublishedLists(t *testing.T) {
	list := func(question, key string) string {
		return strings.Join(strings.Fields(fmt.Sprint(ask(t, question)[key])), " ")
	}
	// community.ceramicartsdaily.org, topic 5845. TRAP: plain rounding gives 8.70
	// and 100.01.
	assert.Equal(t, "[26.09 21.74 17.39 26.09 8.69]", list("parts 30 25 20 30 10", "percent"))
	assert.Equal(t, "[26.09 21.74 17.39 26.09 8.69]", list("parts 30g 25g 0.02kg 30g 10g places=2", "percent"))
	assert.Equal(t, "[40 30 20 10]", list("parts 40 30 20 10", "percent"), "suemcleodceramics.com, normalize")
	// Reading order of the triangle (derived).
	assert.Equal(t, "[[100 0 0] [50 50 0] [50 0 50] [0 100 0] [0 50 50] [0 0 100]]", list("blend corners=3 steps=2", "compositions"))
	four := ask(t, "blend corners=3 steps=4")["compositions"].([]any)
	assert.Equal(t, "[[50 50 0] [50 25 25] [50 0 50]]", fmt.Sprint(four[3:6]), "third row from the top")
	third := ask(t, "blend corners=3 steps=3")["parts"].([]any)
	assert.Equal(t, "[1 1 1]", fmt.Sprint(third[4]), "the inner point is a third of each")
	// OIML R 76-1:2006 Table 3 (derived).
	for _, c := range []struct {
		ask     string
		with    []string
		without []string
		min     string
	}{
		{"limits max=6000g interval=2g", []string{"III"}, []string{"I", "II", "IIII"}, "40"},
		{"limits max=30kg interval=5g", []string{"III"}, []string{"IIII"}, "100"},
		{"limits max=3000g interval=0.1g", []string{"II"}, []string{"III"}, "5"},
		{"limits max=300g interval=0.1g", []string{"III"}, []string{"II"}, "2"},
		{"limits max=200g interval=0.01g", []string{"II"}, []string{"III"}, "0.2"},
		{"limits max=5000g interval=1g", []string{"II"}, nil, "50"},
		// TRAP: Canada's SI-98-81 allows the ordinary class 1200 intervals, OIML 1000.
		{"limits max=6kg interval=5g", []string{"III"}, []string{"IIII"}, "100"},
		{"limits max=5kg interval=5g", []string{"IIII"}, nil, "50"},
	} {
		got := ask(t, c.ask)
		classes := fmt.Sprint(got["classes"])
		for _, w := range c.with {
			assert.Contains(t, strings.Fields(strings.Trim(classes, "[]")), w, c.ask)
			assert.Equal(t, c.min, got["min_g"].(map[string]any)[w].(json.Number).String(), c.ask)
		}
		for _, w := range c.without {
			assert.NotContains(t, strings.Fields(strings.Trim(classes, "[]")), w, c.ask)
		}
	}
}

// Published figures that are wrong or easily misread: none may come out.
func TestPublishedFiguresThatAreWrong(t *testing.T) {
	for _, c := range []struct{ ask, key, bad, tol, source string }{
		{"least step=6.5mg share=2%", "by_step_g", "0.000325", "0.1", "qammunity.org/20363702: 0.325 mg"},
		{"least step=0.1g share=0.1%", "by_repeatability_g", "123", "20", "USP 35 <41>, superseded: 3 s, here 3 · 0.41 d"},
		{"least step=0.1g share=0.1%", "by_repeatability_g", "100", "10", "USP 35 <41>, superseded: 1000 d"},
		{"aliquot need=8mg least=60mg times=8", "weigh_g", "0.060", "0.003", "justaaa.com/nursing/108561: 60 mg, eight times 8 mg is 64"},
		{"limits class=II interval=0.01g load=50.01g", "initial_g", "0.005", "0.001", "UK SI 1995/1907 Sch. 2 Table 3 as printed, class II up to 20 000 e"},
		{"slip gravity=1.3 solid=2.5", "dry_g_per_l", "300", "100", "potters.org/subject72185: 15 g in 50 ml"},
		{"metal from=Co3O4 to=CoCO3", "factor", "2", "0.4", "potters.org/subject29785: twice as much carbonate"},
		{"metal from=Co3O4 to=CoO", "factor", "0.9657", "0.02", "the same thread: 96.57 % CoO"},
		{"metal from=CuO to=Cu2(OH)2CO3", "factor", "1.55", "0.1", "benchchem.com: 1.55 for the basic carbonate"},
		{"metal from=Cr2O3 to=Cr2O3", "from_g_per_mol", "79", "60", "G. J. Cox 1914: Cr2O3 = 79"},
		{"metal from=CoO to=Co3O4", "to_g_per_mol", "240", "0.5", "G. J. Cox 1914: 240"},
		{"parts 30 25 20 30 10", "sum", "100", "1", "the parts given add up to 115, whatever they become"},
	} {
		got := ask(t, c.ask)
		assert.False(t, near(num(t, got, c.key), rat(c.bad), rat(c.tol)), "%s: %s is %v, the figure of %s", c.ask, c.key, got[c.key], c.source)
	}
	// 25 g are in 50 ml of gravity 1.3.
	assert.Equal(t, "500", num(t, ask(t, "slip gravity=1.3 solid=2.5"), "dry_g_per_l").RatString())
}

func TestWhatCannotBeIsRefused(t *testing.T) {
	for _, c := range []struct {
		ask   string
		wrong bool // not understood at all
		says  string
	}{
		// How it is written.
		{"least step=0.1g", true, "share: it is missing"},
		{"least share=2%", true, "step: it is missing"},
		{"least step=0.1g share=", true, "share: it has no value"},
		{"least step=0.1 share=2%", true, "no unit"},
		{"least step=0.1g share=2", true, "percent sign"},
		{"least step=0.1g share=0.02", true, "percent sign"},
		{"least step=0.1g share=two%", true, "not a number"},
		{"least step=1,234g share=2%", true, "two ways"},
		{"least step=1.234,5g share=2%", true, "one decimal mark"},
		{"least step=0.1g share=2% step=0.2g", true, "given twice"},
		{"least stepp=0.1g share=2%", true, `takes no "stepp"`},
		{"least step=0.1l share=2%", true, "no unit of mass"},
		{"thin volume=10g gravity=1.6 to=1.45", true, "not a unit of volume"},
		{"thin volume=10 gravity=1.6 to=1.45", true, "no unit"},
		{"thin volume=1pint gravity=1.6 to=1.45", true, "differ from country to country"},
		{"slip gravity=1,500 solid=2.5", true, "two ways"},
		{"slip gravity=thick solid=2.5", true, "not a number"},
		{"moisture wet=30g need=1kg", true, "do not go together"},
		{"moisture need=1kg", true, "wet_basis=3% | need=1kg dry_basis=8%"},
		{"moisture need=1kg wet_basis=3% dry_basis=3%", true, "do not go together"},
		{"limits class=III max=6kg", true, "do not go together"},
		{"parts", true, "amounts: it is missing"},
		{"parts 30 20g", true, "different kinds"},
		{"parts 30 x", true, "amount 2"},
		{"parts 30,25,20", true, "one decimal mark"},

		// Zero, negative.
		{"least step=0g share=2%", false, "more than zero"},
		{"least step=-0.1g share=2%", false, "negative"},
		{"least step=0.1g share=0%", false, "more than zero"},
		{"least step=0.1g share=-2%", false, "negative"},
		{"least step=0.1g share=101%", false, "at most 100 %"},
		{"least step=0.1g share=2% spread=-0.1g", false, "negative"},
		{"least step=9000kg share=0.0001%", false, "out of the range"},
		{"least step=99999999kg share=2%", false, "out of the range"},
		{"aliquot need=0mg least=120mg", false, "more than zero"},
		{"aliquot need=2mg least=0mg", false, "more than zero"},
		{"aliquot need=2mg least=120mg times=0", false, "more than zero"},
		{"aliquot need=2mg least=120mg take=-1g", false, "negative"},
		{"slip gravity=0 solid=2.5", false, "more than zero"},
		{"slip gravity=-1.5 solid=2.5", false, "negative"},
		{"water dry=0kg gravity=1.6 solid=2.6", false, "more than zero"},
		{"thin volume=0l gravity=1.6 to=1.45", false, "more than zero"},
		{"thin volume=-1l gravity=1.6 to=1.45", false, "negative"},
		{"metal from=MnO2 to=MnCO3 mass=0g", false, "more than zero"},
		{"moisture water=30g dry=0g", false, "more than zero"},
		{"moisture need=0g wet_basis=3%", false, "more than zero"},
		{"moisture need=1kg wet_basis=-3%", false, "negative"},
		{"parts 30 0", false, "leave it out"},
		{"parts 30 -5", false, "negative"},
		{"blend corners=3 steps=0", false, "more than zero"},
		{"limits class=III interval=0g load=1g", false, "more than zero"},
		{"limits class=III interval=0.1g load=-1g", false, "negative"},
		{"limits max=0g interval=1g", false, "more than zero"},

		// Absurd.
		{"slip gravity=0.99 solid=2.5", false, "lighter than water"},
		// TRAP: archiebrayclay.com gives hydrometer readings of 0.9 to 1.00 for dipping.
		{"slip gravity=0.9 solid=2.6", false, "hydrometer"},
		{"slip gravity=3.01 solid=4", false, "1500 g in a litre is 1.5"},
		{"slip gravity=1500 solid=2.5", false, "1500 g in a litre is 1.5"},
		{"slip gravity=2.5 solid=2.5", false, "as heavy as its dry material"},
		{"slip gravity=2.6 solid=2.5", false, "as heavy as its dry material"},
		{"slip gravity=1.5 solid=1", false, "would float"},
		{"slip gravity=1.5 solid=2600", false, "10 at most"},
		{"water dry=5kg gravity=1 solid=2.6", false, "water itself"},
		{"water dry=5kg gravity=2.7 solid=2.6", false, "as heavy as its dry material"},
		{"water dry=9000kg gravity=1.001 solid=2.6", false, "ask for less"},
		{"thin volume=10l gravity=1.45 to=1.6", false, "not thinner"},
		{"thin volume=10l gravity=1.45 to=1.45", false, "not thinner"},
		{"thin volume=10l gravity=1.45 to=1", false, "down to water"},
		{"moisture wet=99g dry=100g", false, "weighs less wet than dry"},
		{"sieve us=31", false, "31"},
		{"gravity baume=145", false, "145"},
		{"gravity baume=-1", false, "negative"},
		{"gravity pint=36oz", true, "takes no"},
		{"slip gravity=29oz/pt solid=2.5", true, "29oz/UKpt or 29oz/USpt"}, // 36 oz are 1.796 or 2.157 g/ml: Weights and Measures Act 1985; NIST Handbook 44
		{"thin volume=1l gravity=30oz/pint to=1.4", true, "whose pint"},
		{"thin volume=1l gravity=1.5 to=29oz/PINT", true, "whose pint"},
		{"loss material=Pondclay", false, "no table of materials"},
		{"aliquot need=30mg least=50mg weigh=80mg total=240mg take=80mg", false, "too little; take 0.09 g"},
		{"aliquot need=30mg least=50mg weigh=40mg total=120mg take=90mg", false, "under the least"},
		{"aliquot need=30mg least=50mg weigh=80mg total=120mg take=45mg", false, "under the least"},
		{"aliquot need=30mg least=50mg weigh=80mg total=100mg take=37.5mg", false, "under the least"},
		{"moisture need=1kg wet_basis=100%", false, "less than 100 %"},
		{"moisture need=1kg wet_basis=120%", false, "less than 100 %"},
		{"loss from=CaCO3 left=MgO", false, "it has more Mg than CaCO3"},
		{"loss from=CaMg(CO3)2 left=CaO count=2", false, "it has more Ca than CaMg(CO3)2"},
		{"metal from=Xx2 to=CuO", false, "not in the table"},
		{"metal from=MnO2 to=sunshine", false, "give the formula"},
		{"metal from=MnO2 to=CoCO3", false, "the one holds Co, the other Mn"},
		{"metal from=FeTiO3 to=Fe2O3", false, "more than one"},
		{"metal from=PbO to=PbCO3", false, "Nothing is calculated with it"},
		{"metal from=CaCO3 to=CaSiO3", false, "no metal that can be calculated with"},
		{"metal from=CaCO3 to=BaCO3", false, "the one holds Ba, the other Ca"},
		{"metal from=CoO to=Co3O4 purity=101%", false, "use more than 0 %"},
		{"metal from=CoO to=Co3O4 purity=0%", false, "purity"},
		// Rutile is no pure TiO2: it has no formula to reckon with.
		{"metal from=rutile to=TiO2", false, "no formula of its own"},
		{"metal from=Cr2O3 to=K2Cr2O7", false, "chromium(VI)"},
		{"metal from=K2Cr2O7 to=Cr2O3", false, "chromium(VI)"},
		{"metal from=K2Cr2O7 to=K2Cr2O7", false, "chromium(VI)"},
		{"metal from=CrO3 to=Cr2O3", false, "chromium(VI)"},
		{"blend corners=1 steps=4", false, "nothing to blend with"},
		{"blend corners=9 steps=2", false, "8 corners at most"},
		{"blend corners=3 steps=2.5", false, "whole number"},
		{"blend corners=3 steps=100000", false, "fewer steps"},
		{"blend corners=3 steps=9999999999", false, "too many"},
		{"parts 30 20 places=10", false, "0 to 9"},
		{"limits class=V interval=0.1g load=1g", false, "use I, II, III or IIII"},
		{"limits class=III interval=0.3g load=1g", false, "1, 2 or 5"},
		{"limits max=6kg interval=3g", false, "1, 2 or 5"},
		{"limits max=1g interval=2g", false, "below the interval"},
		{"limits class=III interval=0.1g load=1000.1g", false, "ends at 10000 intervals"},
		// TRAP: 1200 intervals of the ordinary class are Canada's, not OIML's.
		{"limits class=IIII interval=5g load=6kg", false, "ends at 1000 intervals"},

		// Aliquots that cannot be weighed, or deliver something else.
		{"aliquot need=130mg least=120mg", false, "can be weighed as it is"},
		{"aliquot need=2mg least=120mg times=59", false, "less than the minimum weight of 0.12 g. Use 60 times or more"},
		{"aliquot need=2mg least=120mg times=60 take=119mg", false, "too small. Take 0.12 g"},
		{"aliquot need=2mg least=120mg times=1", false, "not a dilution"},
		{"aliquot need=2mg least=120mg times=60.5", false, "whole number"},
		{"aliquot need=2mg least=120mg times=60 weigh=100mg", false, "under the least that can be weighed"},
		{"aliquot need=2mg least=120mg times=60 take=125mg total=7.38g", false, "too much"},
		// TRAP: justaaa.com/nursing/108561 weighs 60 mg for eight times 8 mg.
		{"aliquot need=8mg least=60mg times=8 weigh=60mg", false, "holds 0.0075 g, 6.25 % too little"},
	} {
		topic, in := parse(c.ask)
		a, err := topic.Run(in)
		var r *Refusal
		if !assert.True(t, errors.As(err, &r), "%s: answered %q", c.ask, said(a.Words)) {
			continue
		}
		assert.Contains(t, err.Error(), c.says, c.ask)
		assert.Equal(t, c.wrong, r.Wrong, "%s: %v", c.ask, err)
		assert.True(t, a.Words.None())
	}
}

func TestNotesSayWhatIsEasilyMistaken(t *testing.T) {
	note := func(question string) string {
		topic, in := parse(question)
		a, err := topic.Run(in)
		require.NoError(t, err)
		return text.Join(text.English.Plain(), a.Notes)
	}
	assert.Contains(t, note("metal from=CuO to=CuCO3"), "Cu2(OH)2CO3, not CuCO3")
	assert.NotContains(t, note("metal from=CuO to=Cu2(OH)2CO3"), "not CuCO3")
	assert.Contains(t, note("limits class=III interval=0.01g load=1g"), "look at the plate again")
	assert.NotContains(t, note("limits class=III interval=0.1g load=1g"), "look at the plate")
	assert.Contains(t, note("least step=0.1g share=2%"), "Measure it")
	assert.NotContains(t, note("least step=0.1g share=2% spread=0.03g"), "Measure it")
	assert.Contains(t, note("blend corners=4 steps=2"), "cross two lines")
}

// A name of the materials table stands for its formula.
func TestNamesOfTheMaterialsTable(t *testing.T) {
	topic, _ := Lookup("METAL")
	a, err := topic.Run([]Given{{"from", "Copper oxide"}, {"to", "copper carbonate"}})
	require.NoError(t, err)
	assert.Contains(t, said(a.Words), "1.3899", "the basic carbonate, as it is sold")
}

// A slip that is made with the water that is asked for holds the dry material
// that went in, and thinning it is the same as more water at the start.
func TestWaterThereAndBack(t *testing.T) {
	tol := rat("0.00001")
	for s := int64(105); s < 190; s += 5 {
		for g := int64(22); g < 33; g++ {
			gravity, solid := big.NewRat(s, 100), big.NewRat(g, 10)
			at := fmt.Sprintf("gravity=%s solid=%s", gravity.FloatString(2), solid.FloatString(1))
			made := ask(t, "water dry=1kg "+at)
			holds := ask(t, "slip "+at)
			litres := num(t, made, "slip_l")
			assert.True(t, near(mul(litres, num(t, holds, "dry_g_per_l")), rat("1000"), tol), at)
			assert.True(t, near(mul(litres, num(t, holds, "water_g_per_l")), num(t, made, "water_g"), tol), at)
			assert.True(t, near(mul(num(t, holds, "ml_per_100g_dry"), num(t, holds, "dry_g_per_l")), rat("100000"), tol), at)
			if s > 105 {
				thinner := ask(t, fmt.Sprintf("water dry=1kg gravity=1.05 solid=%s", solid.FloatString(1)))
				more := ask(t, fmt.Sprintf("thin volume=%sml gravity=%s to=1.05", mul(litres, litre).FloatString(6), gravity.FloatString(2)))
				assert.True(t, near(add(num(t, made, "water_g"), num(t, more, "water_g")), num(t, thinner, "water_g"), rat("0.001")), at)
			}
		}
	}
}

func TestMetalThereAndBack(t *testing.T) {
	for _, p := range [][2]string{{"Co3O4", "CoCO3"}, {"CuO", "Cu2(OH)2CO3"}, {"MnO2", "MnCO3"}, {"FeO(OH)", "Fe2O3"}, {"ZrO2", "ZrSiO4"}, {"NiO", "NiCO3"}} {
		there := num(t, ask(t, "metal from="+p[0]+" to="+p[1]), "factor")
		back := num(t, ask(t, "metal from="+p[1]+" to="+p[0]), "factor")
		assert.True(t, near(mul(there, back), one, rat("0.00000001")), "%v", p)
	}
}

func TestMoistureThereAndBack(t *testing.T) {
	for w := int64(1); w < 100; w++ {
		weigh := num(t, ask(t, fmt.Sprintf("moisture need=100g wet_basis=%d%%", w)), "weigh_g")
		water := sub(weigh, hundred)
		got := ask(t, "moisture water="+water.FloatString(9)+"g dry=100g")
		assert.True(t, near(num(t, got, "wet_basis_percent"), big.NewRat(w, 1), rat("0.0000001")), "%d %%", w)
		again := ask(t, "moisture need=100g dry_basis="+num(t, got, "dry_basis_percent").FloatString(9)+"%")
		assert.True(t, near(num(t, again, "weigh_g"), weigh, rat("0.00000001")), "%d %%", w)
	}
}

// Whatever an aliquot is for, the part holds what is needed, and nothing is
// weighed that cannot be.
func TestAliquotsDeliver(t *testing.T) {
	for need := int64(1); need < 120; need += 7 {
		for least := int64(120); least < 400; least += 55 {
			a := ask(t, fmt.Sprintf("aliquot need=%dmg least=%dmg", need, least))
			held := quo(mul(num(t, a, "take_g"), num(t, a, "weigh_g")), num(t, a, "total_g"))
			assert.Equal(t, big.NewRat(need, 1000), held)
			sum := num(t, a, "weigh_g")
			for _, p := range a["portions_g"].([]any) {
				sum = add(sum, rat(p.(json.Number).String()))
			}
			assert.Equal(t, num(t, a, "total_g"), sum, "the portions are the carrier")
			for _, key := range []string{"weigh_g", "carrier_g", "take_g"} {
				assert.GreaterOrEqual(t, num(t, a, key).Cmp(big.NewRat(least, 1000)), 0, key)
			}
		}
	}
}

func TestBlendsAndPartsAddUp(t *testing.T) {
	for corners := 2; corners <= 5; corners++ {
		for steps := 1; steps <= 7; steps++ {
			a := ask(t, fmt.Sprintf("blend corners=%d steps=%d", corners, steps))
			points := a["compositions"].([]any)
			assert.Equal(t, num(t, a, "points").RatString(), fmt.Sprint(len(points)))
			inner, seen := 0, map[string]bool{}
			for _, p := range points {
				sum, all := new(big.Rat), true
				for _, n := range p.([]any) {
					r := rat(n.(json.Number).String())
					sum.Add(sum, r)
					all = all && r.Sign() > 0
				}
				assert.Equal(t, "100", sum.RatString())
				assert.False(t, seen[fmt.Sprint(p)], "twice: %v", p)
				seen[fmt.Sprint(p)] = true
				if all {
					inner++
				}
			}
			assert.Equal(t, num(t, a, "inner").RatString(), fmt.Sprint(inner))
		}
	}
	for places := 0; places <= 9; places++ {
		sum := new(big.Rat)
		for _, n := range ask(t, fmt.Sprintf("parts 7 7,5 1 0.003 12 places=%d", places))["percent"].([]any) {
			sum.Add(sum, rat(n.(json.Number).String()))
		}
		assert.Equal(t, "100", sum.RatString(), places)
	}
}

// The lattice of any number of corners is, for three, the triangle of the sheet.
func TestLatticeIsInReadingOrder(t *testing.T) {
	for steps := 1; steps <= 6; steps++ {
		solid := lattice(4, int64(steps))
		var face [][]*big.Rat
		for _, p := range solid {
			if p[3].Sign() == 0 {
				face = append(face, p[:3])
			}
		}
		triangle := sheet.Triangle(steps)
		require.Len(t, face, len(triangle))
		for i, p := range triangle {
			assert.Equal(t, fmt.Sprint(p[:]), fmt.Sprint(face[i]))
		}
	}
}

// No number is written as a float would be, however odd it is.
func TestNumbersHaveNoFloatArtefacts(t *testing.T) {
	topic, in := parse("least step=0.3g share=30% spread=0.3g")
	a, err := topic.Run(in)
	require.NoError(t, err)
	b, err := json.Marshal(a)
	require.NoError(t, err)
	assert.Contains(t, string(b), `"by_step_g":1,`)
	assert.Contains(t, string(b), `"by_repeatability_g":2,`)
}

// Nothing that is typed makes it panic, and what is not refused is valid JSON.
func FuzzRun(f *testing.F) {
	for _, topic := range Topics() {
		for _, form := range topic.Forms {
			f.Add(topic.Name, form.Command())
		}
	}
	f.Add("parts", "30 -5 ½ 1e9 99999999999999999999")
	f.Add("metal", "from=((((Cu)9)9)9)9 to=Cu9999999O mass=9000kg")
	f.Fuzz(func(t *testing.T, name, rest string) {
		if _, ok := Lookup(name); !ok || strings.TrimSpace(name) == "" || len(strings.Fields(name)) != 1 {
			t.Skip()
		}
		topic, in := parse(name + " " + rest)
		a, err := topic.Run(in)
		if err != nil {
			var r *Refusal
			require.True(t, errors.As(err, &r))
			require.NotEmpty(t, err.Error())
			return
		}
		b, err := json.Marshal(a)
		require.NoError(t, err)
		require.True(t, json.Valid(b), "%s", b)
	})
}

// said is a sentence in English.
func said(m text.Message) string { return m.String() }

// What a topic says is put into each language by session/text/en/data.json; a source stays as it
// is cited.
func TestTopicsAreInEachLanguage(t *testing.T) {
	own := func(words string) {
		if words != "" {
			assert.NotEqual(t, words, text.Pseudo.Term(words), "session/text/en/data.json lacks it")
		}
	}
	for _, topic := range Topics() {
		own(topic.Title)
		own(topic.About)
		for _, f := range topic.Forms {
			own(f.Title)
			for _, a := range f.Args {
				own(a.Words)
			}
			for _, line := range f.Formula {
				own(line)
			}
		}
	}
}

// An answer has the decimal mark of its reader, and no English.
func TestAnswersAreInEachLanguage(t *testing.T) {
	topic, _ := Lookup("water")
	a, err := topic.Run([]Given{{"dry", "1kg"}, {"gravity", "1.45"}, {"solid", "2.6"}})
	require.NoError(t, err)
	for tag, want := range map[string]string{
		"de": "982,906 g Wasser bringen 1000 g Trockenes auf eine Dichte von 1,45.",
		"fr": "982,906 g d'eau amènent 1000 g à sec à une densité de 1,45.",
		"es": "982,906 g de agua llevan 1000 g en seco a una densidad de 1,45.",
	} {
		got := text.Named(tag).Plain().Say(a.Words)
		assert.Equal(t, want, got)
	}
}

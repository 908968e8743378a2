package recipe

import (
	"errors"
	"fmt"
	"math/big"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"
)

func rat(s string) *big.Rat {
	r, ok := new(big.Rat).SetString(s)
	if !ok {
		panic(s)
	}
	return r
}

// items writes what was read as "name=amount unit" with "+" before an addition.
func items(r Recipe) []string {
	var ss []string
	for _, it := range r.Items {
		plus := ""
		if it.Addition {
			plus = "+"
		}
		ss = append(ss, fmt.Sprintf("%s%s=%s%s", plus, it.Name, Decimal(it.Amount, 12), it.Unit))
	}
	return ss
}

const tidewrack = `# Tidewrack, satin, cone 6 oxidation
Nepheline syenite   41
Quartz              24
Whiting             17
Ball clay           12
Zinc oxide           6
+ Tin oxide          4
+ Copper carbonate   1.2
`

func TestParse(t *testing.T) {
	r, err := Parse(tidewrack)
	require.NoError(t, err)
	assert.Equal(t, "Tidewrack, satin, cone 6 oxidation", r.Title)
	assert.Equal(t, []string{"Nepheline syenite=41", "Quartz=24", "Whiting=17", "Ball clay=12", "Zinc oxide=6",
		"+Tin oxide=4", "+Copper carbonate=1.2"}, items(r))
	assert.Equal(t, 8, r.Items[6].Line)
	assert.Equal(t, tidewrack, r.Text)
	assert.Equal(t, "6/5", r.Items[6].Share.String())
}

// The ways in which people write the same thing: invented, common practice, no
// source.
func TestParseTolerant(t *testing.T) {
	for name, c := range map[string]struct {
		text string
		want []string
	}{
		"decimal comma":          {"Quartz 24,5\nClay 75,5", []string{"Quartz=24.5", "Clay=75.5"}},
		"comma after a zero":     {"Quartz 0,125", []string{"Quartz=0.125"}},
		"bare point":             {"Quartz .5", []string{"Quartz=0.5"}},
		"percent":                {"Quartz 24%\nClay 76 %\nplus\nTin oxide 4 percent\nZircon 2 per cent", []string{"Quartz=24%", "Clay=76%", "+Tin oxide=4%", "+Zircon=2%"}},
		"grams":                  {"Quartz 240g\nClay 760 g\n+ Tin oxide 40 grams", []string{"Quartz=240g", "Clay=760g", "+Tin oxide=40g"}},
		"parts":                  {"Quartz 24 parts\nClay 76 pts", []string{"Quartz=24", "Clay=76"}},
		"tabs":                   {"Quartz\t24\nClay\t\t76", []string{"Quartz=24", "Clay=76"}},
		"colon":                  {"Quartz: 24\nClay:76", []string{"Quartz=24", "Clay=76"}},
		"equals":                 {"Quartz = 24\nClay=76", []string{"Quartz=24", "Clay=76"}},
		"dots":                   {"Quartz ......... 24\nClay........76\nTalc … 3\nZircon . . . . 4", []string{"Quartz=24", "Clay=76", "Talc=3", "Zircon=4"}},
		"dashes":                 {"Quartz - 24\nClay – 76\nTalc --- 3\nZircon -> 4", []string{"Quartz=24", "Clay=76", "Talc=3", "Zircon=4"}},
		"bullets":                {"- Quartz 24\n* Clay 76\n• Talc 3\n1. Zircon 4\n2) Bone ash 5", []string{"Quartz=24", "Clay=76", "Talc=3", "Zircon=4", "Bone ash=5"}},
		"plus":                   {"Quartz 24\n+Tin oxide 4\n+ Zircon 5\n- + Rutile 6\nplus Talc 7\nadd: Bone ash 8", []string{"Quartz=24", "+Tin oxide=4", "+Zircon=5", "+Rutile=6", "+Talc=7", "+Bone ash=8"}},
		"plus at the amount":     {"Quartz 24\nTin oxide +4", []string{"Quartz=24", "+Tin oxide=4"}},
		"headings":               {"Base:\nQuartz 24\n\nAdd:\nTin oxide 4\nBASE\nClay 76", []string{"Quartz=24", "+Tin oxide=4", "Clay=76"}},
		"lone plus":              {"Quartz 24\n+\nTin oxide 4", []string{"Quartz=24", "+Tin oxide=4"}},
		"ruled line":             {"Quartz 24\n------\nColourants\nTin oxide 4", []string{"Quartz=24", "+Tin oxide=4"}},
		"digits in names":        {"Frit 3134 20\nSilica 325 mesh 24\nFeldspar G-200 30\nF-4 Feldspar 26", []string{"Frit 3134=20", "Silica 325 mesh=24", "Feldspar G-200=30", "F-4 Feldspar=26"}},
		"digits and tab":         {"Frit 3134\t120\nFrit 613\t130", []string{"Frit 3134=120", "Frit 613=130"}},
		"digits and blanks":      {"Frit 613   130", []string{"Frit 613=130"}},
		"digits and colon":       {"Frit 613: 130\nFrit #3134: 20", []string{"Frit 613=130", "Frit #3134=20"}},
		"number first":           {"24 Quartz\n76% Clay\n5 parts of Talc", []string{"Quartz=24", "Clay=76%", "Talc=5"}},
		"csv":                    {"Quartz,24\nBall clay,76\nFrit 3134,20", []string{"Quartz=24", "Ball clay=76", "Frit 3134=20"}},
		"csv with header":        {"name,amount\nQuartz,24\nFrit 3134,20.5\n", []string{"Quartz=24", "Frit 3134=20.5"}},
		"csv quoted":             {"name,amount\n\"Quartz, fine\",\"24,5\"\n", []string{"Quartz, fine=24.5"}},
		"csv with type":          {"Material,Amount,Type\nQuartz,24,base\nTin oxide,4,addition\nRutile,2,colourant", []string{"Quartz=24", "+Tin oxide=4", "+Rutile=2"}},
		"csv plus":               {"Quartz,24\n+Tin oxide,4", []string{"Quartz=24", "+Tin oxide=4"}},
		"semicolons":             {"Material;Amount\nQuartz;24,5\nClay;75,5", []string{"Quartz=24.5", "Clay=75.5"}},
		"spreadsheet":            {"Material\tAmount (g)\tNote\nQuartz\t240\tfine\nClay\t760\t\nTotal\t1000\t", []string{"Quartz=240g", "Clay=760g"}},
		"spreadsheet two":        {"Material\t%\tGrams\nQuartz\t24\t180\nClay\t76\t570", []string{"Quartz=24", "Clay=76"}},
		"spreadsheet order":      {"Amount\tMaterial\n24\tQuartz\n76\tFrit 3134", []string{"Quartz=24", "Frit 3134=76"}},
		"spreadsheet no header":  {"Quartz\t24\tg\nClay\t76\tg\tsieved", []string{"Quartz=24g", "Clay=76g"}},
		"plus cell":              {"Quartz\t24\n+\tTin oxide\t4", []string{"Quartz=24", "+Tin oxide=4"}},
		"bars":                   {"| Material | Amount |\n|---|---|\n| Quartz | 24 |\n| Clay | 76 |", []string{"Quartz=24", "Clay=76"}},
		"header of blanks":       {"Material      Amount\nQuartz        24\nFrit 3134     76", []string{"Quartz=24", "Frit 3134=76"}},
		"total":                  {"Quartz 24\nClay 76\nTotal 100", []string{"Quartz=24", "Clay=76"}},
		"total of rounded lines": {"Quartz 33.3\nClay 33.3\nTalc 33.3\nTotal: 100", []string{"Quartz=33.3", "Clay=33.3", "Talc=33.3"}},
		"windows, BOM, nbsp":     {"\ufeffQuartz\u00a024\r\nClay\u202f76\r\n", []string{"Quartz=24", "Clay=76"}},
		"comment behind":         {"Quartz 24 # fine\nClay 76 (sieved)", []string{"Quartz=24", "Clay=76"}},
		"100 g of base":          {"Quartz 40g\nClay 60g\n+ Tin oxide 4", []string{"Quartz=40g", "Clay=60g", "+Tin oxide=4"}},
		"kilograms":              {"Quartz 1kg\nClay 500 g", []string{"Quartz=1kg", "Clay=500g"}},
		"same in base and on it": {"Quartz 24\n+ Quartz 2", []string{"Quartz=24", "+Quartz=2"}},
	} {
		t.Run(name, func(t *testing.T) {
			r, err := Parse(c.text)
			require.NoError(t, err)
			assert.Equal(t, c.want, items(r))
			again, err := Parse(r.Format())
			require.NoError(t, err, r.Format())
			assert.Equal(t, c.want, items(again))
		})
	}
}

func TestParseErrors(t *testing.T) {
	for name, c := range map[string]struct {
		text string
		line int
		says string
	}{
		"empty":                 {"", 0, "no material"},
		"comments only":         {"# Tidewrack\n\n# nothing", 0, "no material"},
		"only additions":        {"+ Tin oxide 4", 0, "no base"},
		"negative":              {"Quartz 24\nClay -5", 2, "negative"},
		"negative, minus":       {"Quartz 24\nClay \u22125", 2, "negative"},
		"negative cell":         {"Quartz\t24\nClay\t-5", 2, "negative"},
		"negative csv":          {"name,amount\nQuartz,24\nClay,-5", 3, "negative"},
		"zero":                  {"Quartz 24\nClay 0.0", 2, "zero"},
		"missing":               {"Quartz 24\nClay", 2, "no amount"},
		"missing cell":          {"Material\tAmount\nQuartz\t24\nClay\t", 3, "no amount"},
		"missing csv":           {"name,amount\nQuartz,24\nClay,", 3, "no amount"},
		"missing behind frit":   {"Quartz 24\nFrit 3134", 2, "no amount"},
		"missing behind mesh":   {"Clay 24\nSilica 325 mesh", 2, "no amount"},
		"missing, model number": {"Clay 24\nFeldspar G-200", 2, "no amount"},
		"doubled":               {"Quartz 24\nClay 70\nquartz  6", 3, "line 1"},
		"doubled addition":      {"Quartz 24\n+ Tin oxide 4\n+ Tin Oxide 1", 3, "line 2"},
		"unreadable":            {"Quartz 24\nClay 7x6", 2, "cannot read the amount"},
		"fraction":              {"Quartz 24\nClay 1/2", 2, "cannot read the amount"},
		"vulgar fraction":       {"Quartz 24\nClay ½", 2, "cannot read the amount"},
		"about":                 {"Quartz 24\nClay ~5", 2, "cannot read the amount"},
		"range":                 {"Quartz 24\nClay 5-6", 2, "cannot read the amount"},
		"two points":            {"Quartz 24\nClay 1.2.3", 2, "cannot read the amount"},
		"cell of words":         {"Material\tAmount\nQuartz\tsome", 2, "cannot read the amount"},
		"ambiguous comma":       {"Quartz 24\nClay 1,234", 2, "ambiguous"},
		"ambiguous thousands":   {"Quartz 24\nClay 1.234,5", 2, "cannot read the amount"},
		"ambiguous blank":       {"Quartz 24\nClay 1 234", 2, "ambiguous"},
		"ambiguous csv":         {"name,amount\nQuartz,24,5", 2, "ambiguous"},
		"ambiguous among csv":   {"Clay,12\nWhiting,17\nQuartz 24,5", 3, "ambiguous"},
		"ambiguous cells":       {"Quartz\t24\t180", 1, "ambiguous"},
		"ambiguous order":       {"Clay 24\n20 Stone 3134", 2, "ambiguous"},
		"no name":               {"Quartz 24\n76", 2, "without a name"},
		"no name cell":          {"Quartz\t24\n\t76", 2, "without a name"},
		"unit of grain":         {"Quartz 24 gr", 1, "gr can mean"},
		"mixed units":           {"Quartz 24g\nClay 76", 2, "mixed units"},
		"mass on parts":         {"Quartz 24\n+ Tin oxide 4g", 2, "mass on top"},
		"parts on masses":       {"Quartz 240g\nClay 260g\n+ Tin oxide 4", 3, "ambiguous"},
		"wrong total":           {"Quartz 24\nClay 66\nTotal 100", 3, "does not match"},
		"control character":     {"Quartz 24\nCl\x07ay 76", 2, "control"},
		"not UTF-8":             {"Quartz 24\xff", 0, "UTF-8"},
		"too long":              {strings.Repeat("# x\n", 20000), 0, "at most"},
		"long line":             {"Quartz 24\n" + strings.Repeat("- ", 300), 2, "more than 500 bytes"},
		"long name":             {strings.Repeat("clay ", 30) + "5", 1, "letters"},
	} {
		t.Run(name, func(t *testing.T) {
			_, err := Parse(c.text)
			var e *Error
			require.ErrorAs(t, err, &e)
			assert.Equal(t, c.line, e.Line)
			assert.Contains(t, e.Why.String(), c.says)
			if e.Line > 0 && name != "long line" {
				assert.Contains(t, err.Error(), fmt.Sprintf("line %d %q", e.Line, strings.TrimSpace(strings.Split(c.text, "\n")[e.Line-1])))
			}
		})
	}
}

func TestParseReportsAllErrors(t *testing.T) {
	_, err := Parse("Quartz 24\nClay -5\nTalc\nquartz 3\nWhiting 0\nBone ash 1,234\nZircon 7g")
	require.Error(t, err)
	var all []int
	for _, e := range err.(interface{ Unwrap() []error }).Unwrap() {
		var pe *Error
		require.True(t, errors.As(e, &pe))
		all = append(all, pe.Line)
	}
	assert.Equal(t, []int{2, 3, 4, 5, 6, 7}, all)
	assert.Contains(t, err.Error(), "lines 1 and 4", "a doubled material names both lines")
}

func TestParseComments(t *testing.T) {
	r, err := Parse("#   Tidewrack \n# fires to cone 6\nQuartz 24 # fine\nClay 76 (sieved)\n#\n# end")
	require.NoError(t, err)
	assert.Equal(t, "Tidewrack", r.Title)
	assert.Equal(t, "fires to cone 6\nend", r.Notes)
	assert.Equal(t, "fine", r.Items[0].Note)
	assert.Equal(t, "sieved", r.Items[1].Note)
}

func TestShares(t *testing.T) {
	for name, c := range map[string]struct{ text, base, adds string }{
		"sum 115":                            {"A 30\nB 25\nC 20\nD 30\nE 10", "600/23 500/23 400/23 600/23 200/23", ""},
		"grams":                              {"A 300g\nB 200g\n+ C 25g", "60/1 40/1", "5/1"},
		"percent on grams":                   {"A 300g\nB 200g\n+ C 5%", "60/1 40/1", "5/1"},
		"additions stay percent of the base": {"A 30\nB 20\n+ C 5", "60/1 40/1", "5/1"},
		"kg and g":                           {"A 1kg\nB 500g\nC 500g", "50/1 25/1 25/1", ""},
	} {
		t.Run(name, func(t *testing.T) {
			r, err := Parse(c.text)
			require.NoError(t, err)
			var base, adds []string
			sum := new(big.Rat)
			for _, it := range r.Items {
				if it.Addition {
					adds = append(adds, it.Share.String())
				} else {
					base = append(base, it.Share.String())
					sum.Add(sum, it.Share)
				}
			}
			assert.Equal(t, c.base, strings.Join(base, " "))
			assert.Equal(t, c.adds, strings.Join(adds, " "))
			assert.Equal(t, "100/1", sum.String())
		})
	}
}

// genRecipe draws a recipe as Parse could give it.
func genRecipe(t *rapid.T) Recipe {
	name := rapid.StringMatching(`[A-Z][a-z]{1,8}( [a-z0-9]{1,6}| #\d{3,4}| \d{1,4}| mesh|, fine){0,3}`).
		Filter(func(s string) bool { return !adds.MatchString(s) && !isWater(s) }) // "Add mesh" is read as an addition called mesh
	r := Recipe{
		Title: rapid.StringMatching(`([A-Za-z][a-z0-9 ,]{0,20}[a-z])?`).Draw(t, "title"),
		Notes: rapid.StringMatching(`([a-z][a-z0-9 ]{0,10}[a-z](\n[a-z]{1,5})?)?`).Draw(t, "notes"),
	}
	r.Title, r.Notes = clean(r.Title), strings.TrimSpace(regexpBlanks(r.Notes))
	unit := rapid.SampledFrom([]string{"", "%", "g", "kg"}).Draw(t, "unit")
	seen := map[string]bool{}
	n := rapid.IntRange(1, 8).Draw(t, "n")
	for i := range n + rapid.IntRange(0, 3).Draw(t, "additions") {
		nm := name.Draw(t, "name")
		key := fmt.Sprint(Key(nm), i >= n)
		if seen[key] || total[Key(nm)] {
			continue
		}
		seen[key] = true
		u := unit
		if i >= n {
			u = "%"
		}
		r.Items = append(r.Items, Item{Name: nm, Addition: i >= n, Unit: u,
			Amount: big.NewRat(rapid.Int64Range(1, 10_000_000).Draw(t, "amount"), rapid.SampledFrom([]int64{1, 10, 100, 1000, 100000}).Draw(t, "places")),
			Note:   rapid.StringMatching(`([a-z]{1,8}( [0-9a-z]{1,4})?)?`).Draw(t, "note")})
	}
	if r.Items[0].Addition {
		r.Items[0].Addition = false
	}
	if rapid.Bool().Draw(t, "wet") {
		p := big.NewRat(rapid.Int64Range(1, 30_000).Draw(t, "water"), 100)
		r.Water = &Water{Amount: p, Unit: "%", Percent: p}
	}
	return r
}

func regexpBlanks(s string) string {
	var ls []string
	for l := range strings.SplitSeq(s, "\n") {
		ls = append(ls, clean(l))
	}
	return strings.Join(ls, "\n")
}

func TestFormatRoundTrips(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		r := genRecipe(t)
		text := r.Format()
		got, err := Parse(text)
		require.NoError(t, err, text)
		assert.Equal(t, r.Title, got.Title)
		assert.Equal(t, r.Notes, got.Notes)
		require.Equal(t, items(r), items(got), text)
		for i := range r.Items {
			assert.Equal(t, r.Items[i].Note, got.Items[i].Note)
		}
		assert.Equal(t, text, got.Format())
		require.Equal(t, r.Water == nil, got.Water == nil, text)
		if r.Water != nil {
			assert.Zero(t, r.Water.Percent.Cmp(got.Water.Percent), text)
		}
		sum := new(big.Rat)
		for _, it := range got.Base() {
			sum.Add(sum, it.Share)
		}
		assert.Equal(t, "100/1", sum.String())
	})
}

func TestDiff(t *testing.T) {
	parse := func(s string) Recipe {
		r, err := Parse(s)
		require.NoError(t, err)
		return r
	}
	a := parse(tidewrack)
	assert.Empty(t, Diff(a, a))
	twice := parse("Nepheline Syenite 82\nQuartz 48\nWhiting 34\nBall clay 24\nZinc oxide 12\n+ Tin oxide 4\n+ Copper carbonate 1.2")
	assert.Empty(t, Diff(a, twice), "the same shares of 100")
	b := parse("Nepheline syenite 40\nQuartz 25\nWhiting 17\nBall clay 12\nTalc 6\n+ Zinc oxide 6\n+ Copper carbonate 1.5")
	var got []string
	for _, c := range Diff(a, b) {
		got = append(got, c.String())
	}
	assert.Equal(t, []string{
		"Nepheline syenite: 41 % to 40 %",
		"Quartz: 24 % to 25 %",
		"Talc: new in the base, 6 %",
		"Zinc oxide: moved to the additions, 6 % to 6 %",
		"Copper carbonate: 1.2 % to 1.5 %",
		"Tin oxide: gone from the additions, was 4 %",
	}, got)
}

func FuzzParse(f *testing.F) {
	for _, s := range []string{tidewrack, "name,amount\nQuartz,24\nFrit 3134,20", "Material\t%\tGrams\nQuartz\t24\t180", "- Quartz ..... 24\n+ Tin 4%\nTotal 24",
		"\"a, b\",5", "| a | 5 |", "a;b;5", "24 Quartz", "#\n# x\nplus\nTin 1,234\nBase:\nSilica 325 mesh 24 (fine) # note"} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, s string) {
		r, err := Parse(s)
		if err != nil {
			return
		}
		text := r.Format()
		again, err := Parse(text)
		if err != nil {
			t.Fatalf("%q was read, but its own format %q was not: %v", s, text, err)
		}
		if fmt.Sprint(items(r)) != fmt.Sprint(items(again)) || r.Title != again.Title || r.Notes != again.Notes {
			t.Fatalf("%q\n%q %q %q\n%q\n%q %q %q", s, items(r), r.Title, r.Notes, text, items(again), again.Title, again.Notes)
		}
		sum := new(big.Rat)
		for i, it := range r.Items {
			if it.Share == nil || it.Share.Sign() <= 0 || it.Share.Cmp(again.Items[i].Share) != 0 || it.Note != again.Items[i].Note {
				t.Fatalf("%q: share or note of %q", s, it.Name)
			}
			if !it.Addition {
				sum.Add(sum, it.Share)
			}
		}
		if sum.Cmp(big.NewRat(100, 1)) != 0 {
			t.Fatalf("%q: base adds to %s", s, sum)
		}
	})
}

func BenchmarkParse(b *testing.B) {
	for b.Loop() {
		if _, err := Parse(tidewrack); err != nil {
			b.Fatal(err)
		}
	}
}

// The slowest text that is let in: many long lines of marks to strip.
func BenchmarkParseWorst(b *testing.B) {
	text := strings.Repeat(strings.Repeat("- ", 248)+"\n", 130)
	for b.Loop() {
		if _, err := Parse(text); err == nil {
			b.Fatal("read")
		}
	}
}

// Ounces, pounds and grains are masses like any other: 16 oz to the pound and 7000
// grains (UK Weights and Measures Act 1985, Schedule 1 Part V; NIST SP 811 Appendix B).
func TestOuncesAndPounds(t *testing.T) {
	for _, c := range []struct {
		text   string
		shares []string // in the order of the text
	}{
		{"Silica 1 lb\nWhiting 8 oz\nBall clay 8oz\n", []string{"50", "25", "25"}},
		{"Silica 1lb\nWhiting 1 pound\n", []string{"50", "50"}},
		{"1 lb Silica\n8 ounces of Whiting\n8 oz Ball clay\n", []string{"50", "25", "25"}},
		{"Silica 1 lb 4 oz\nWhiting 12oz\n", []string{"125/2", "75/2"}},
		{"Silica: 2lbs 8oz\nWhiting .... 8 oz\n", []string{"250/3", "50/3"}},
		{"Silica 1 lb\nWhiting 7000 grains\n+ Cobalt carbonate 70 gn\n", []string{"50", "50", "1/2"}},
		{"Silica 453.59237g\nWhiting 1 lb\n", []string{"50", "50"}},
		{"Material;oz\nSilica;12\nWhiting;4\n", []string{"75", "25"}},
		{"Silica 1 lb\nWhiting 8 oz\nBall clay 8oz\nTotal 2 lb\n", []string{"50", "25", "25"}},
		{"Silica 12 oz\nWhiting 4 oz\nTotal 16\n", []string{"75", "25"}},
		{"Silica 1 kg\nWhiting 250g\nTotal 1250g\n", []string{"80", "20"}},
	} {
		r, err := Parse(c.text)
		require.NoError(t, err, c.text)
		var got []string
		for _, it := range r.Items {
			got = append(got, it.Share.RatString())
		}
		assert.Equal(t, c.shares, got, c.text)
		again, err := Parse(r.Format())
		require.NoError(t, err, r.Format())
		for i, it := range again.Items {
			assert.Equal(t, c.shares[i], it.Share.RatString(), r.Format())
		}
	}
	for text, says := range map[string]string{
		"Silica 1 lb\nWhiting 8 oz\nTotal 2 lb\n": "add up to 1.5 lb",
		"Silica 1 lb\nWhiting 8\n":                "mixed units",
		"Silica 2 gr\nWhiting 8 g\n":              "gram or grain",
	} {
		_, err := Parse(text)
		assert.ErrorContains(t, err, says, text)
	}
}

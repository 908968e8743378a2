package sheet

import (
	"fmt"
	"math/big"
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"tared/protocol"
	"tared/session/doubt"
	"tared/session/material"
	"tared/session/recipe"
)

func mass(s string) protocol.Mass {
	m, err := protocol.ParseMass(s)
	if err != nil {
		panic(err)
	}
	return m
}

func rat(s string) *big.Rat {
	r, ok := new(big.Rat).SetString(s)
	if !ok {
		panic(s)
	}
	return r
}

func parse(t require.TestingT, s string) recipe.Recipe {
	r, err := recipe.Parse(s)
	require.NoError(t, err)
	return r
}

// Invented demo recipe.
const tidewrack = `# Tidewrack, satin, cone 6 oxidation
Nepheline syenite   41
Quartz              24
Whiting             17
Ball clay           12
Zinc oxide           6
+ Tin oxide          4
+ Copper carbonate   1.2
`

var bench = Scale{Name: "bench", Step: 100 * protocol.Milligram, Max: 2 * protocol.Kilogram}
var fine = Scale{Name: "fine", Step: 10 * protocol.Milligram, Max: 200 * protocol.Gram}

func line(t require.TestingT, sh Sheet, name string) Line {
	for _, l := range sh.Lines {
		if l.Material == name {
			return l
		}
	}
	require.Fail(t, "no line "+name)
	return Line{}
}

func plan(t *testing.T, text, base string, scales ...Scale) Sheet {
	sh, err := Plan(Request{Recipe: parse(t, text), Size: Size{Base: mass(base)}, Scales: scales})
	require.NoError(t, err)
	return sh
}

func TestPlan(t *testing.T) {
	sh := plan(t, tidewrack, "750g", bench)
	assert.Equal(t, "Tidewrack, satin, cone 6 oxidation", sh.Title)
	assert.Equal(t, mass("750g"), sh.Base)
	assert.Equal(t, mass("789g"), sh.Dry, "750 g of base with 5.2 % of additions is 789 g dry")
	assert.Contains(t, sh.Words[0], "750 g of base with 5.2 % of additions is 789 g dry")
	var got []string
	for _, l := range sh.Lines {
		got = append(got, fmt.Sprintf("%s %s %s %s..%s %s %d", l.Material, l.Role, l.Target.Grams(1), l.Low.Grams(1), l.High.Grams(1), l.Verdict, l.Portions))
	}
	// Bands: 1 and 2 %, down to whole steps of 0.1 g, one step at least.
	// U = 2·sqrt(0.1²/6 + 0.05²) = 0.1291 g.
	assert.Equal(t, []string{
		"Nepheline syenite base 307.5 304.5..310.5 good 1",
		"Quartz base 180.0 178.2..181.8 good 1",
		"Whiting base 127.5 126.3..128.7 good 1",
		"Ball clay base 90.0 89.1..90.9 good 1",
		"Zinc oxide base 45.0 44.6..45.4 good 1",
		"Tin oxide opacifier 30.0 28.5..31.5 good 1",
		"Copper carbonate strong 9.0 8.9..9.1 good 1",
	}, got)
	for _, l := range sh.Lines {
		assert.Equal(t, protocol.Mass(129_099_445_000), l.U, "2·sqrt(5/12)·0.1 g, rounded up")
		assert.True(t, l.Assumed)
		assert.Empty(t, l.Outs)
	}
}

func TestPlanSizes(t *testing.T) {
	four := "A clay 40\nB clay 30\nC clay 20\nD clay 10\n+ Tin oxide 2"
	// suemcleodceramics.com, normalize, and derived from it: 5000 on the base.
	sh := plan(t, four, "5000g", Scale{Name: "floor", Step: protocol.Gram})
	assert.Equal(t, mass("5100g"), sh.Dry)
	assert.Equal(t, mass("100g"), line(t, sh, "Tin oxide").Target)
	assert.Equal(t, mass("500g"), line(t, sh, "D clay").Target)
	// Derived: 5000 on the grand total.
	sh, err := Plan(Request{Recipe: parse(t, four), Size: Size{Dry: mass("5000g")}, Scales: []Scale{{Name: "floor", Step: protocol.Gram}}})
	require.NoError(t, err)
	assert.Equal(t, mass("5000g"), sh.Dry)
	assert.Equal(t, "4901.96", sh.Base.Rounded(2))
	for name, want := range map[string]string{"A clay": "1960.78", "B clay": "1470.59", "C clay": "980.39", "D clay": "490.20", "Tin oxide": "98.04"} {
		assert.Equal(t, want, line(t, sh, name).Target.Rounded(2), name)
	}
	// community.ceramicartsdaily.org topic 26059: 0.07 % of 500 g is 0.35 g, not 3.5 g.
	sh = plan(t, "Quartz 100\n+ Cobalt oxide 0.07", "500g", bench, fine)
	assert.Equal(t, mass("0.35g"), line(t, sh, "Cobalt oxide").Target)
	// GTZ 1991, appendix: 30 l of slip at 1.7 with G 2.5 hold 35 kg dry.
	sh, err = Plan(Request{Recipe: parse(t, "Ball clay 100"), Size: Size{Wet: &Wet{Litres: rat("30"), Gravity: rat("1.7"), Solid: rat("2.5")}}, Scales: []Scale{{Name: "floor", Step: protocol.Gram}}})
	require.NoError(t, err)
	assert.Equal(t, mass("35kg"), sh.Dry)
	assert.Equal(t, mass("16kg"), sh.Slip.Water, "30 l at 1.7 weigh 51 kg")
	assert.True(t, sh.Slip.Wished)
	// Derived: 9 parts of water to 10 parts dry at G 2.6 is 1.4790.
	sh = plan(t, "Ball clay 100", "1000g", bench)
	assert.Equal(t, "1.479", sh.Slip.Gravity)
	assert.Equal(t, mass("900g"), sh.Slip.Water)
}

func TestBand(t *testing.T) {
	for _, c := range [][3]string{ // allowed, step, band
		{"3.075g", "0.1g", "3g"}, {"0.45g", "0.1g", "0.4g"}, {"0.1g", "0.1g", "0.1g"},
		{"0.0999g", "0.1g", "0.1g"}, {"0g", "0.1g", "0.1g"}, {"7g", "5g", "5g"}, {"10g", "5g", "10g"},
	} {
		assert.Equal(t, mass(c[2]), Band(mass(c[0]), mass(c[1])), c)
	}
}

func TestVerdicts(t *testing.T) {
	d, U := mass("0.1g"), mass("0.1291g")
	assert.Equal(t, Good, Judge(U, d, U), "U equal to the allowed is good")
	assert.Equal(t, Coarse, Judge(U-1, d, U))
	assert.Equal(t, Coarse, Judge(d, d, U), "the allowed equal to a step is coarse")
	assert.Equal(t, Blind, Judge(d-1, d, U))
}

func TestChoice(t *testing.T) {
	// Copper carbonate at 1.2 % of 100 g is 1.2 g; 2 % of it is 0.024 g: blind
	// on 0.1 g, good on 0.01 g (U 0.0129 g).
	sh := plan(t, tidewrack, "100g", bench, fine)
	l := line(t, sh, "Copper carbonate")
	assert.Equal(t, "fine", l.Scale)
	assert.Equal(t, Good, l.Verdict)
	assert.Equal(t, Blind, l.Fits[0].Verdict)
	assert.Equal(t, "bench", line(t, sh, "Nepheline syenite").Scale)
	// The user's order counts where several are good.
	sh = plan(t, tidewrack, "100g", fine, bench)
	assert.Equal(t, "fine", line(t, sh, "Nepheline syenite").Scale)
	// No room on the fine scale for 2050 g: the bench takes it in portions.
	sh = plan(t, tidewrack, "5000g", fine, bench)
	l = line(t, sh, "Nepheline syenite")
	assert.Equal(t, "bench", l.Scale)
	assert.Equal(t, 2, l.Portions)
	assert.False(t, l.Fits[1].Room)
	U := doubt.Scale{Step: bench.Step}.U(0)
	assert.Equal(t, new(big.Int).Lsh(doubt.AddSquare(nil, U), 1).Cmp(doubt.AddSquare(nil, l.U-10*protocol.Nanogram)), 1, "two weighings: sqrt(2)·U")
	assert.Equal(t, new(big.Int).Lsh(doubt.AddSquare(nil, U), 1).Cmp(doubt.AddSquare(nil, l.U+10*protocol.Nanogram)), -1)
}

// Where no scale is good the one with room is taken, and the finer one at hand
// is a way out in portions.
func TestFinerAtHand(t *testing.T) {
	sh, err := Plan(Request{Recipe: parse(t, "Quartz 100"), Size: Size{Base: mass("500g")}, Scales: []Scale{bench, fine},
		Allow: map[Role]Allow{Base: {Fixed: mass("0.02g")}}})
	require.NoError(t, err)
	l := sh.Lines[0]
	assert.Equal(t, "bench", l.Scale)
	assert.Equal(t, Blind, l.Verdict)
	assert.Equal(t, "finer", l.Outs[0].Kind)
	assert.Equal(t, "fine", l.Outs[0].Scale)
	assert.False(t, l.Outs[0].Good, "three portions: sqrt(3) times 0.0129 g is more than 0.02 g")
	assert.Equal(t, protocol.Mass(22_360_680_000), l.Outs[0].U)
	for _, o := range l.Outs {
		assert.NotEqual(t, "larger", o.Kind, "a fixed allowance does not grow with the batch")
	}
}

func TestPortionsCountTheContainer(t *testing.T) {
	for _, c := range []struct {
		base, container string
		want            int
	}{{"2000g", "0g", 1}, {"2000.1g", "0g", 2}, {"2000g", "100g", 2}, {"3800g", "100g", 2}, {"3800.1g", "100g", 3}} {
		sh, err := Plan(Request{Recipe: parse(t, "Quartz 100"), Size: Size{Base: mass(c.base)}, Container: mass(c.container), Scales: []Scale{bench}})
		require.NoError(t, err)
		assert.Equal(t, c.want, sh.Lines[0].Portions, c)
	}
}

func TestOrder(t *testing.T) {
	text := "Ball clay 12\nQuartz 50\nWhiting 38\n+ Copper carbonate 3\n+ Tin oxide 4\n+ Cobalt oxide 0.5\n+ Rutile 5\n+ Nickel oxide 0.4"
	order := func(sh Sheet) string {
		var ns []string
		for _, l := range sh.Lines {
			ns = append(ns, l.Material)
		}
		return strings.Join(ns, ", ")
	}
	sh := plan(t, text, "500g", bench, fine)
	assert.Equal(t, "Quartz, Whiting, Ball clay, Rutile, Tin oxide, Copper carbonate, Cobalt oxide, Nickel oxide", order(sh))
	sh, err := Plan(Request{Recipe: parse(t, text), Size: Size{Base: mass("500g")}, Scales: []Scale{bench, fine}, Order: []string{"whiting", "Cobalt oxide"}})
	require.NoError(t, err)
	assert.Equal(t, "Whiting, Cobalt oxide, Quartz, Ball clay, Rutile, Tin oxide, Copper carbonate, Nickel oxide", order(sh))
}

func TestRolesAndAllow(t *testing.T) {
	r := parse(t, "Quartz 50\nMystery dust 50\n+ Rutile 4\n+ Quartz 2")
	sh, err := Plan(Request{Recipe: r, Size: Size{Base: mass("1000g")}, Scales: []Scale{bench},
		Roles: map[string]Role{"rutile": Strong}, Allow: map[Role]Allow{Base: {Fixed: mass("2.55g")}, Strong: {Share: rat("0.05")}},
		AllowFor: map[string]Allow{"Mystery Dust": {Share: rat("0.001")}}})
	require.NoError(t, err)
	assert.Equal(t, Strong, line(t, sh, "Rutile").Role)
	assert.Equal(t, mass("2g"), line(t, sh, "Rutile").Allowed)
	assert.Equal(t, mass("2.5g"), line(t, sh, "Quartz").Band)
	assert.Equal(t, mass("0.5g"), line(t, sh, "Mystery dust").Allowed)
	assert.Equal(t, Addition, line(t, sh, "Quartz (addition)").Role)
	assert.Contains(t, strings.Join(sh.Words, " "), "Mystery dust is not in the materials table")
	sh = plan(t, "Quatrz 60\nSilica 20\nFlint 20", "1000g", bench)
	assert.Contains(t, strings.Join(sh.Words, " "), "Did you mean Quartz?")
}

// A suspender or gum on top of the base may be off by a tenth (common practice, no
// source), an opacifier by a twentieth; what is part of the base may not, and silicon carbide is
// strong.
func TestRolesOfTheTable(t *testing.T) {
	sh := plan(t, "Quartz 60\nWhiting 30\nBentonite 10\n+ Hectorite 2\n+ CMC 0.5\n+ Epsom salts 0.2\n+ Silicon carbide 0.5\n+ Tin oxide 5\n+ Zircopax 8\n+ Titanium dioxide 4\n+ Bone ash 2", "1000g", bench)
	for name, want := range map[string]struct {
		role    Role
		allowed string
	}{
		"Bentonite": {Base, "1g"}, "Hectorite": {Suspender, "2g"}, "CMC": {Suspender, "0.5g"}, "Epsom salts": {Suspender, "0.2g"},
		"Silicon carbide": {Strong, "0.1g"}, "Tin oxide": {Opacifier, "2.5g"}, "Zircopax": {Opacifier, "4g"}, "Titanium dioxide": {Opacifier, "2g"}, "Bone ash": {Addition, "0.4g"},
	} {
		assert.Equal(t, want.role, line(t, sh, name).Role, name)
		assert.Equal(t, mass(want.allowed), line(t, sh, name).Allowed, name)
	}
	at := func(name string) int {
		return slices.IndexFunc(sh.Lines, func(l Line) bool { return l.Material == name })
	}
	assert.Less(t, at("CMC"), at("Silicon carbide"), "strong ones come last")
	assert.Less(t, at("Tin oxide"), at("Hectorite"), "the larger of the others first")
	assert.Contains(t, strings.Join(sh.Words, " "), "An opacifier may be off by 5 % of its target")

	req := Request{Recipe: parse(t, "Quartz 60\nZircopax 40\n+ Tin oxide 5"), Size: Size{Base: mass("1000g")}, Scales: []Scale{bench}}
	req.Allow, req.Roles = map[Role]Allow{Opacifier: {Share: big.NewRat(1, 100)}}, map[string]Role{"Zircopax": Opacifier}
	sh, err := Plan(req)
	require.NoError(t, err)
	assert.Equal(t, mass("0.5g"), line(t, sh, "Tin oxide").Allowed, "the user's own band")
	assert.Equal(t, mass("4g"), line(t, sh, "Zircopax").Allowed, "and the user's own role, of a part of the base")
}

func TestPlanRefuses(t *testing.T) {
	ok := func() Request {
		return Request{Recipe: parse(t, tidewrack), Size: Size{Base: mass("750g")}, Scales: []Scale{bench}}
	}
	for name, c := range map[string]struct {
		change func(*Request)
		says   string
	}{
		"no size":          {func(r *Request) { r.Size = Size{} }, "has no size"},
		"negative":         {func(r *Request) { r.Size.Base = -1 }, "negative"},
		"two sizes":        {func(r *Request) { r.Size.Dry = 1 }, "more than one batch size"},
		"no recipe":        {func(r *Request) { r.Recipe = recipe.Recipe{} }, "no base material"},
		"no scale":         {func(r *Request) { r.Scales = nil }, "no scale"},
		"no step":          {func(r *Request) { r.Scales = []Scale{{Name: "x"}} }, "its readability is not known"},
		"two alike":        {func(r *Request) { r.Scales = []Scale{bench, bench} }, "Two scales are named bench"},
		"too large":        {func(r *Request) { r.Size.Base = mass("100kg") }, "more than any scale here can take in 20 portions"},
		"a tonne of base":  {func(r *Request) { r.Scales, r.Size.Base = []Scale{{Name: "floor", Step: bench.Step}}, mass("1000kg") }, "1000 kg of dry material at most"},
		"heavy container":  {func(r *Request) { r.Container = mass("2kg") }, "lighter container"},
		"too small":        {func(r *Request) { r.Size.Base = mass("0.2g") }, "too small"},
		"unknown in order": {func(r *Request) { r.Order = []string{"Talc"} }, "Talc is not in the recipe"},
		"twice in order":   {func(r *Request) { r.Order = []string{"Quartz", "quartz"} }, "named twice"},
		"unknown role":     {func(r *Request) { r.Roles = map[string]Role{"Quartz": "weak"} }, "“weak” is not a role"},
		"role of unknown":  {func(r *Request) { r.Roles = map[string]Role{"Talc": Base} }, "Talc: it is not in the recipe"},
		"allow nothing":    {func(r *Request) { r.Allow = map[Role]Allow{Base: {}} }, "Tolerance of base"},
		"lead":             {func(r *Request) { r.Recipe = parse(t, "Quartz 50\nLead bisilicate 50") }, "Lead bisilicate is blocked"},
		"cadmium":          {func(r *Request) { r.Recipe = parse(t, "Quartz 50\n+ Cadmium red 5") }, "blocked"},
		"dichromate":       {func(r *Request) { r.Recipe = parse(t, "Quartz 50\n+ Potassium dichromate 1") }, "blocked"},
		"vanadium":         {func(r *Request) { r.Recipe = parse(t, "Quartz 50\n+ Vanadium pentoxide 1") }, "blocked"},
		"wet is water":     {func(r *Request) { r.Size = Size{Wet: &Wet{Litres: rat("1"), Gravity: rat("1")}} }, "plain water"},
		"wet is stone":     {func(r *Request) { r.Size = Size{Wet: &Wet{Litres: rat("1"), Gravity: rat("2.9")}} }, "cannot be made from material"},
		"wet of nothing":   {func(r *Request) { r.Size = Size{Wet: &Wet{Gravity: rat("1.4")}} }, "needs a volume"},
	} {
		t.Run(name, func(t *testing.T) {
			r := ok()
			c.change(&r)
			_, err := Plan(r)
			require.ErrorIs(t, err, ErrRefused)
			assert.Contains(t, err.Error(), c.says)
		})
	}
	r := ok()
	r.Scales, r.Order, r.Size = nil, []string{"Talc"}, Size{}
	_, err := Plan(r)
	assert.Contains(t, err.Error(), "no scale")
	assert.Contains(t, err.Error(), "has no size", "all reasons are given together")
	r = ok()
	r.Recipe = parse(t, "Quartz 50\n+ Cadmium red (encapsulated) 5")
	_, err = Plan(r)
	assert.NoError(t, err, "an encapsulated stain is not blocked")
}

func TestWaysOut(t *testing.T) {
	sh := plan(t, tidewrack, "100g", bench)
	l := line(t, sh, "Copper carbonate")
	require.Equal(t, Blind, l.Verdict)
	outs := map[string]Out{}
	for _, o := range l.Outs {
		outs[o.Kind] = o
	}
	require.Contains(t, outs, "eye")
	assert.True(t, outs["eye"].Good)
	assert.Equal(t, protocol.Mass(12_909_945_000), outs["eye"].U, "a step of 0.01 g")
	// 0.1291 g is 2 % of 6.455 g, which is 1.2 % of 537.9 g: 540 g.
	require.Contains(t, outs, "larger")
	assert.Equal(t, mass("540g"), outs["larger"].Base)
	require.Contains(t, outs, "aliquot")
	a := outs["aliquot"].Aliquot
	assert.Equal(t, "Nepheline syenite", a.Carrier, "the largest of silica, clay and feldspar")
}

// Every way out that is called good is good when it is followed.
func TestWaysOutHold(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		req := genRequest(t)
		sh, err := Plan(req)
		if err != nil {
			assert.ErrorIs(t, err, ErrRefused)
			return
		}
		for _, l := range sh.Lines {
			if l.Verdict == Good {
				assert.Empty(t, l.Outs)
			}
			for _, o := range l.Outs {
				switch {
				case o.Kind == "larger":
					bigger := req
					bigger.Size = Size{Base: o.Base}
					if again, err := Plan(bigger); err == nil { // another material may not fit then
						for _, f := range line(t, again, l.Material).Fits {
							if f.Scale == o.Scale {
								assert.Equal(t, Good, f.Verdict)
								assert.Equal(t, o.U, f.U)
							}
						}
					}
				case o.Kind == "aliquot":
					a := o.Aliquot
					assert.True(t, o.Good)
					assert.LessOrEqual(t, a.U, l.Allowed)
					assert.Equal(t, l.Target, a.Need)
					assert.Equal(t, a.Total, a.Weigh+a.Dilute)
					assert.Equal(t, a.Total/a.Weigh*a.Need, a.Take)
					held, err := Held(a.Weigh, a.Total, a.Take)
					require.NoError(t, err)
					assert.Zero(t, held.Cmp(l.Target.Rat()), "the part holds what is needed")
					c := line(t, sh, a.Carrier)
					assert.Equal(t, Base, c.Role)
					assert.LessOrEqual(t, a.Less, c.Target)
				case o.Kind == "eye" && o.Good:
					assert.LessOrEqual(t, o.U, l.Allowed)
				}
			}
		}
	})
}

// genRequest draws a request that may or may not be plannable.
func genRequest(t *rapid.T) Request {
	var b strings.Builder
	names := []string{"Quartz", "Kaolin", "Whiting", "Potash feldspar", "Talc", "Dolomite", "Zinc oxide", "Mystery"}
	for i := range rapid.IntRange(1, len(names)).Draw(t, "base") {
		fmt.Fprintf(&b, "%s: %s\n", names[i], big.NewRat(rapid.Int64Range(1, 60000).Draw(t, "share"), 1000).FloatString(3))
	}
	adds := []string{"Cobalt carbonate", "Copper carbonate", "Rutile", "Tin oxide", "Quartz"}
	for i := range rapid.IntRange(0, len(adds)).Draw(t, "adds") {
		fmt.Fprintf(&b, "+ %s: %s\n", adds[i], big.NewRat(rapid.Int64Range(1, 9000).Draw(t, "share"), 1000).FloatString(3))
	}
	req := Request{Recipe: parse(t, b.String()), Container: protocol.Mass(rapid.Int64Range(0, 300).Draw(t, "container")) * protocol.Gram}
	steps := []string{"1g", "0.5g", "0.1g", "0.05g", "0.01g", "0.001g"}
	for i := range rapid.IntRange(1, 4).Draw(t, "scales") {
		s := Scale{Name: fmt.Sprint("s", i), Step: mass(rapid.SampledFrom(steps).Draw(t, "step"))}
		s.Max = s.Step * protocol.Mass(rapid.SampledFrom([]int64{0, 3000, 20000, 60000}).Draw(t, "max"))
		s.Spread = s.Step * protocol.Mass(rapid.SampledFrom([]int64{0, 0, 2, 10, 20}).Draw(t, "spread")) / 10
		s.Eye = rapid.Bool().Draw(t, "eye")
		req.Scales = append(req.Scales, s)
	}
	size := protocol.Mass(rapid.Int64Range(1, 20_000_000_000_000).Draw(t, "size")) * 1001
	switch rapid.IntRange(0, 2).Draw(t, "kind") {
	case 0:
		req.Size.Base = size
	case 1:
		req.Size.Dry = size
	default:
		req.Size.Wet = &Wet{Litres: big.NewRat(rapid.Int64Range(1, 20000).Draw(t, "ml"), 1000), Gravity: big.NewRat(rapid.Int64Range(1010, 1800).Draw(t, "sg"), 1000)}
	}
	return req
}

func TestPlanHolds(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		req := genRequest(t)
		sh, err := Plan(req)
		if err != nil {
			assert.ErrorIs(t, err, ErrRefused)
			return
		}
		var base, dry protocol.Mass
		for _, l := range sh.Lines {
			if !l.Addition {
				base += l.Target
			}
			dry += l.Target
			assert.Equal(t, Band(l.Allowed, l.Step), l.Band)
			assert.Equal(t, l.Target+l.Band, l.High)
			assert.Equal(t, max(l.Target-l.Band, 1), l.Low)
			assert.Zero(t, l.Band%l.Step, "whole steps")
			assert.GreaterOrEqual(t, l.Band, l.Step)
			assert.Equal(t, Judge(l.Allowed, l.Step, l.U), l.Verdict)
			assert.LessOrEqual(t, l.Portions, 20)
			for _, f := range l.Fits {
				if f.Scale == l.Scale {
					break
				}
				assert.False(t, f.Verdict == Good && f.Room, "an earlier scale would have done")
			}
		}
		assert.Equal(t, base, sh.Base)
		assert.Equal(t, dry, sh.Dry)
		if req.Size.Base > 0 {
			assert.Equal(t, req.Size.Base, base, "base targets add up to the base exactly")
		}
		if req.Size.Dry > 0 {
			assert.Equal(t, req.Size.Dry, dry)
		}
	})
}

func TestHazardsAreOnTheLine(t *testing.T) {
	sh := plan(t, tidewrack, "750g", bench)
	m, _ := material.Default().Lookup("Quartz")
	assert.Equal(t, m.HazardLines(nil), line(t, sh, "Quartz").Hazards)
	assert.Contains(t, strings.Join(line(t, sh, "Quartz").Hazards, " "), "free silica")
}

func BenchmarkPlan30x4(b *testing.B) {
	var text strings.Builder
	ms := material.Default().All()
	n := 0
	for _, m := range ms {
		if m.Blocked == "" && n < 30 {
			plus := ""
			if n >= 20 {
				plus = "+ "
			}
			fmt.Fprintf(&text, "%s%s: %d.%d\n", plus, m.Name, 1+n%5, n)
			n++
		}
	}
	r, err := recipe.Parse(text.String())
	require.NoError(b, err)
	eye := Scale{Name: "eye", Step: mass("0.001g"), Max: mass("50g"), Eye: true}
	floor := Scale{Name: "floor", Step: mass("1g"), Max: mass("15kg")}
	for b.Loop() {
		if _, err := Plan(Request{Recipe: r, Size: Size{Base: mass("750g")}, Scales: []Scale{bench, fine, eye, floor}}); err != nil {
			b.Fatal(err)
		}
	}
}

// The worst case: every line has ways out to be found.
func BenchmarkPlanWaysOut(b *testing.B) {
	r := parse(b, tidewrack)
	for b.Loop() {
		if _, err := Plan(Request{Recipe: r, Size: Size{Base: mass("20g")}, Scales: []Scale{bench}}); err != nil {
			b.Fatal(err)
		}
	}
}

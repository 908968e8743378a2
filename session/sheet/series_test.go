package sheet

import (
	"fmt"
	"math/big"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"tared/protocol"
)

func rats(s string) []*big.Rat {
	var rs []*big.Rat
	for f := range strings.FieldsSeq(s) {
		rs = append(rs, rat(f))
	}
	return rs
}

// Points (n+1)(n+2)/2, inner ones (n-1)(n-2)/2: b2wceramics.com, triaxial blend,
// for n of 2 to 4; the rest derived.
func TestTriangle(t *testing.T) {
	for _, c := range [][3]int{{1, 3, 0}, {2, 6, 0}, {3, 10, 1}, {4, 15, 3}, {5, 21, 6}, {10, 66, 36}} {
		points := Triangle(c[0])
		assert.Len(t, points, c[1])
		inner := 0
		seen := map[string]bool{}
		for _, p := range points {
			sum := new(big.Rat)
			in := true
			for _, s := range p {
				sum.Add(sum, s)
				in = in && s.Sign() > 0
			}
			assert.Equal(t, "1", sum.RatString())
			if in {
				inner++
			}
			k := p[0].RatString() + p[1].RatString() + "," + p[2].RatString()
			assert.False(t, seen[k])
			seen[k] = true
		}
		assert.Equal(t, c[2], inner, "n = %d", c[0])
	}
	text := func(ps [][3]*big.Rat) string {
		var out []string
		for _, p := range ps {
			var f []string
			for _, s := range p {
				f = append(f, new(big.Rat).Mul(s, hundred).RatString())
			}
			out = append(out, strings.Join(f, "/"))
		}
		return strings.Join(out, " ")
	}
	assert.Equal(t, "100/0/0 50/50/0 50/0/50 0/100/0 0/50/50 0/0/100", text(Triangle(2)), "derived: A, AB, AC, B, BC, C")
	assert.Equal(t, "50/50/0 50/25/25 50/0/50", text(Triangle(4)[3:6]), "derived: third row")
	assert.Equal(t, "100/3/100/3/100/3", text(Triangle(3)[4:5]))
	assert.Empty(t, Triangle(0))
}

func TestLineSeries(t *testing.T) {
	a := Variation{Doses: []Dose{{"Tin oxide", rat("5")}, {"Rutile", rat("1")}}}
	b := Variation{Doses: []Dose{{"Copper carbonate", rat("2")}, {"rutile", rat("3")}}}
	vs, err := LineSeries(a, b, 11)
	require.NoError(t, err)
	require.Len(t, vs, 11)
	// Derived: steps of 10 %.
	assert.Equal(t, "9/2", vs[1].Doses[0].Percent.RatString())
	assert.Equal(t, "6/5", vs[1].Doses[1].Percent.RatString(), "rutile of both: 0.9·1 + 0.1·3")
	assert.Equal(t, "1/5", vs[1].Doses[2].Percent.RatString())
	assert.Len(t, vs[0].Doses, 2, "what comes to nothing is left out")
	assert.Equal(t, "5", a.Doses[0].Percent.RatString(), "the ends are not changed")
	for _, k := range []int{1, 0, 201} {
		_, err = LineSeries(a, b, k)
		assert.ErrorIs(t, err, ErrRefused)
	}
}

// grid gives a cup for each pair of amounts, row by row; a mark such as 2-3 is
// row and column.
func grid(first string, rows []*big.Rat, second string, columns []*big.Rat) []Variation {
	var vs []Variation
	for i, r := range rows {
		for j, c := range columns {
			vs = append(vs, Variation{Mark: fmt.Sprintf("%d-%d", i+1, j+1), Doses: []Dose{{first, r}, {second, c}}})
		}
	}
	return vs
}

func TestPlanSeries(t *testing.T) {
	cups := grid("Copper carbonate", rats("2 1 0"), "Tin oxide", rats("0 4"))
	req := SeriesRequest{Request: Request{Recipe: parse(t, "# Plain\nQuartz 50\nBall clay 50\n+ Bentonite 2"), Scales: []Scale{bench, fine}},
		Cup: mass("100g"), Spare: rat("0.05"), Cups: cups}
	s, err := PlanSeries(req)
	require.NoError(t, err)
	assert.Equal(t, mass("630g"), s.Common.Base, "six cups and 5 % to spare")
	assert.Equal(t, mass("642.6g"), s.Common.Dry)
	var got []string
	for _, c := range s.Cups {
		assert.Equal(t, mass("102g"), c.Take.Target, "the same of the mix for each")
		var ls []string
		for _, l := range c.Lines {
			ls = append(ls, l.Material+" "+l.Target.Grams(0)+" "+l.Percent+" "+l.Scale)
		}
		got = append(got, c.Mark+": "+strings.Join(ls, ", "))
	}
	assert.Equal(t, []string{
		"3-1: ",
		"3-2: Tin oxide 4 4 bench",
		"2-1: Copper carbonate 1 1 fine",
		"2-2: Tin oxide 4 4 bench, Copper carbonate 1 1 fine",
		"1-1: Copper carbonate 2 2 fine",
		"1-2: Tin oxide 4 4 bench, Copper carbonate 2 2 fine",
	}, got, "weak cups first, strong colourants last in each")
	assert.Contains(t, s.Words[0], "6 cups")
	for _, w := range s.Words {
		assert.NotContains(t, w, commonName()+" is not in the materials table")
	}

	// With the bench scale alone the copper is diluted in the mix itself.
	req.Scales = []Scale{bench}
	s, err = PlanSeries(req)
	require.NoError(t, err)
	last := s.Cups[5].Lines[1]
	require.Equal(t, Blind, last.Verdict)
	var a *Aliquot
	for _, o := range last.Outs {
		if o.Aliquot != nil {
			a = o.Aliquot
		}
	}
	require.NotNil(t, a)
	assert.Equal(t, commonName(), a.Carrier)
	assert.Less(t, a.Less, mass("102g"))
}

func TestPlanSeriesRefuses(t *testing.T) {
	ok := func() SeriesRequest {
		return SeriesRequest{Request: Request{Recipe: parse(t, "Quartz 100"), Scales: []Scale{fine}}, Cup: mass("100g"),
			Cups: []Variation{{Mark: "1", Doses: []Dose{{"Tin oxide", rat("4")}}}}}
	}
	_, err := PlanSeries(ok())
	require.NoError(t, err)
	for name, c := range map[string]struct {
		change func(*SeriesRequest)
		says   string
	}{
		"size":      {func(r *SeriesRequest) { r.Size.Base = mass("1g") }, "follows from its cups"},
		"no cups":   {func(r *SeriesRequest) { r.Cups = nil }, "0 cups"},
		"empty cup": {func(r *SeriesRequest) { r.Cup = 0 }, "more than zero"},
		"huge cup":  {func(r *SeriesRequest) { r.Cup = 1<<63 - 1 }, "1000 kg"},
		"spare":     {func(r *SeriesRequest) { r.Spare = rat("-1") }, "spare"},
		"marks":     {func(r *SeriesRequest) { r.Cups = append(r.Cups, r.Cups[0]) }, "used twice"},
		"negative":  {func(r *SeriesRequest) { r.Cups[0].Doses[0].Percent = rat("-4") }, "negative"},
		"twice":     {func(r *SeriesRequest) { r.Cups[0].Doses = append(r.Cups[0].Doses, Dose{"tin oxide", rat("1")}) }, "named twice"},
		"blocked":   {func(r *SeriesRequest) { r.Cups[0].Doses[0].Material = "Vanadium pentoxide" }, "Cup 1: Vanadium pentoxide is blocked"},
		"no scale":  {func(r *SeriesRequest) { r.Scales = nil }, "no scale"},
	} {
		t.Run(name, func(t *testing.T) {
			r := ok()
			c.change(&r)
			_, err := PlanSeries(r)
			require.ErrorIs(t, err, ErrRefused)
			assert.Contains(t, err.Error(), c.says)
		})
	}
	_, err = TriangleSeries(Variation{}, Variation{}, Variation{}, 19)
	assert.ErrorIs(t, err, ErrRefused)
	vs, err := TriangleSeries(Variation{Doses: []Dose{{"A", rat("3")}}}, Variation{Doses: []Dose{{"B", rat("3")}}}, Variation{Doses: []Dose{{"C", rat("3")}}}, 3)
	require.NoError(t, err)
	assert.Len(t, vs[4].Doses, 3)
	assert.Equal(t, "1", vs[4].Doses[0].Percent.RatString())
}

func BenchmarkPlanSeries(b *testing.B) {
	vs, err := TriangleSeries(Variation{Doses: []Dose{{"Cobalt oxide", rat("1")}}}, Variation{Doses: []Dose{{"Rutile", rat("6")}}}, Variation{Doses: []Dose{{"Tin oxide", rat("5")}}}, 10)
	require.NoError(b, err)
	require.Len(b, vs, 66)
	req := SeriesRequest{Request: Request{Recipe: parse(b, tidewrack), Scales: []Scale{bench, fine}}, Cup: 100 * protocol.Gram, Cups: vs}
	for b.Loop() {
		if _, err := PlanSeries(req); err != nil {
			b.Fatal(err)
		}
	}
}

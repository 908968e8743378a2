package book

import (
	"math/big"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"tared/session/fact"
)

func typed(mass, step string) fact.Typed { return fact.Typed{Mass: g(mass), Step: g(step)} }

// bucket is an invented batch of 1000 g of quartz (2.65 in the table), closed.
func bucket(t *testing.T) *bench {
	b := &bench{}
	b.plan("261125a", "base Quartz 100 1000 990 1010")
	b.pour("261125a", "Quartz", "1000", "0.2")
	b.put("261125a", fact.Finished{Base: g("1000"), Dry: g("1000")})
	return b
}

func (b *bench) watered(v fact.Watered) uint64 {
	if v.Sample.Mass > 0 {
		r, err := Gravity(v)
		if err != nil {
			panic(err)
		}
		v.Gravity = r.FloatString(4)
	}
	return b.put("261125a", v)
}

func (b *bench) after(wanted string) After {
	var w *big.Rat
	if wanted != "" {
		w, _ = new(big.Rat).SetString(wanted)
	}
	return b.Find("261125a").After(morning.Add(time.Hour), w)
}

// 145.0 g in 100 ml is 1.45 and 371.8 g against 251.2 g of water is 1.480:
// arithmetic (any vessel: T. Wirt, Clayart, 12 April 1996, potters.org/subject08383).
func TestGravityMeasured(t *testing.T) {
	for _, c := range []struct {
		in   fact.Watered
		want string
	}{
		{fact.Watered{Sample: typed("145", "0.1"), Volume: "100"}, "1.450"},
		{fact.Watered{Sample: typed("371.8", "0.1"), Bottle: typed("251.2", "0.1")}, "1.480"},
	} {
		got, err := Gravity(c.in)
		require.NoError(t, err)
		assert.Equal(t, c.want, got.FloatString(3))
	}
	for words, in := range map[string]fact.Watered{
		"lighter than water":   {Sample: typed("99", "1"), Volume: "100"},
		"denser than any":      {Sample: typed("301", "1"), Volume: "100"},
		"must be more than":    {Sample: typed("145", "0.1"), Volume: "0"},
		"is not a number":      {Sample: typed("145", "0.1"), Volume: "x"},
		"The weight must be m": {Volume: "100"},
	} {
		_, err := Gravity(in)
		assert.ErrorContains(t, err, words)
	}
}

// Water at 20 °C has 998.207 kg/m³ (CIPM 2001; handbook value 998.2071), so what
// it weighs 99.82 g of fills 100.00 ml.
func TestVesselByWater(t *testing.T) {
	v, err := VesselVolume(g("99.82"), big.NewRat(20, 1))
	require.NoError(t, err)
	assert.Equal(t, "100.00", v.FloatString(2))
	v, err = VesselVolume(g("99.82"), big.NewRat(10, 1))
	require.NoError(t, err)
	assert.Equal(t, "99.85", v.FloatString(2), "the temperature counts: 999.7026 at 10 °C")
	_, err = VesselVolume(g("99.82"), big.NewRat(60, 1))
	assert.Error(t, err)
}

// Two waters: 9 parts to 10 dry at 2.65 give a gravity of (1+0.9)/(1/2.65+0.9) =
// 1.4874 (plain arithmetic).
func TestWaterInTwoWays(t *testing.T) {
	b := bucket(t)
	a := b.after("1.4")
	assert.Equal(t, "1000", a.Water.Dry)
	assert.Equal(t, "2.65", a.Water.Solid)
	assert.Empty(t, a.Water.Weighed)
	assert.Contains(t, a.Due, "No water is recorded")
	assert.Contains(t, strings.Join(a.Water.Words, "\n"), "Measure the specific gravity first")

	b.watered(fact.Watered{Added: typed("900", "1")})
	b.watered(fact.Watered{Sample: typed("148.7", "0.1"), Volume: "100"})
	a = b.after("")
	assert.Equal(t, "900", a.Water.Weighed)
	assert.Equal(t, "1.487", a.Water.Gravity)
	assert.Equal(t, "901", a.Water.Measured, "1000 (1 - 1.487/2.65)/0.487")
	assert.False(t, a.Water.Disagree)
	assert.Contains(t, strings.Join(a.Water.Words, "\n"), "agree")
	assert.Contains(t, a.Due, "next day")
	assert.Contains(t, b.Find("261125a").After(morning.Add(20*time.Hour), nil).Due, "in its water overnight")

	// Thinner than the water can explain: somebody poured without a note.
	b.watered(fact.Watered{Sample: typed("140.0", "0.1"), Volume: "100"})
	a = b.after("1.35")
	assert.Equal(t, "1179", a.Water.Measured, "1000 (1 - 1.4/2.65)/0.4")
	assert.True(t, a.Water.Disagree)
	assert.Contains(t, strings.Join(a.Water.Words, "\n"), "279 g more water")
	// Volume (1000 + 1179.2)/1.4 = 1.5566 l; times (1.4 - 1.35)/0.35.
	assert.Equal(t, "222", a.Water.Add)
	assert.Contains(t, strings.Join(a.Water.Words, "\n"), "cannot be taken out")

	// Water after the measurement counts towards the wish. It does not make what was
	// measured before any less sure, with however few digits it was typed.
	b.watered(fact.Watered{Added: typed("100", "1000")})
	a = b.after("1.35")
	assert.True(t, a.Water.Disagree)
	assert.Equal(t, "122", a.Water.Add)
	assert.Contains(t, strings.Join(a.Water.Words, "\n"), "added after that measurement")
	b.watered(fact.Watered{Added: typed("200", "1")})
	assert.Contains(t, strings.Join(b.after("1.35").Water.Words, "\n"), "Add no more water")
	// Thickening by water, or thinning to water, is no wish.
	for _, bad := range []string{"1.5", "1", "0.9"} {
		a = b.after(bad)
		assert.Empty(t, a.Water.Add, bad)
		assert.Contains(t, strings.Join(a.Water.Words, "\n"), "Water for a specific gravity of", bad)
	}
}

func TestWaterLost(t *testing.T) {
	b := bucket(t)
	b.watered(fact.Watered{Added: typed("1200", "1")})
	b.watered(fact.Watered{Sample: typed("371.8", "0.1"), Bottle: typed("251.2", "0.1")})
	a := b.after("")
	assert.True(t, a.Water.Disagree)
	assert.Contains(t, strings.Join(a.Water.Words, "\n"), "less water")
}

// A gravity that the dry material does not have is named, not reckoned with.
func TestGravityOfAnotherBatch(t *testing.T) {
	b := bucket(t)
	b.watered(fact.Watered{Sample: typed("280", "0.1"), Volume: "100"})
	a := b.after("1.4")
	assert.True(t, a.Water.Disagree)
	assert.Contains(t, strings.Join(a.Water.Words, "\n"), "cannot be that of this batch")
}

// What is struck out stays and does not count; the closing hash stands.
func TestStruckOut(t *testing.T) {
	b := bucket(t)
	hash := b.Find("261125a").Made().Hash
	seq := b.watered(fact.Watered{Added: typed("900", "1")})
	b.put("261125a", fact.Amended{Of: seq, Reason: "wrong bucket", Field: "watered", New: "does not count", Void: true})
	a := b.after("")
	require.Len(t, a.Entries, 1)
	assert.True(t, a.Entries[0].Void)
	assert.Empty(t, a.Water.Weighed)
	m := b.Find("261125a").Made()
	assert.Equal(t, hash, m.Hash)
	require.Len(t, m.Changes, 1)
	assert.Equal(t, "does not count", m.Changes[0].New)
	assert.Contains(t, m.Facts[len(m.Facts)-1].Words, `Struck out entry 4 (watered). Reason: wrong bucket.`)
}

func TestLaterSentencesAndSearch(t *testing.T) {
	b := bucket(t)
	b.put("261125a", fact.Fired{Kiln: "the small kiln", Cone: "6", Hold: "15 min", Atmosphere: "oxidation", Tiles: []string{"KD-A", "KD-C"}, Curve: "0,20\n60,600\n120,1222"})
	b.put("261125a", fact.Judged{Tile: "KD-A", Clay: "buff stoneware", Coats: "2", Words: "Pinholes at the rim", Tags: []string{"pinholes", "matt"}, Verdict: "again", Next: "slower"})
	a := b.after("")
	assert.Equal(t, "Fired in the small kiln to cone 6. Atmosphere: oxidation. Held 15 min. Tiles: KD-A, KD-C. Hottest reading 1222 °C.", a.Entries[0].Words)
	assert.Equal(t, "Tile KD-A. Clay: buff stoneware. Coats: 2. Pinholes at the rim. Tags: pinholes, matt. Verdict: again. Next: slower.", a.Entries[1].Words)
	for query, found := range map[string]string{"tag:matt": "261125a", "tag:mat": "", "TAG:Pinholes": "261125a", "kd-c": "261125a", "tag:gloss": ""} {
		assert.Equal(t, found, search(t, b.lines, query), query)
	}
}

// No figure of the water has more digits than the doubt in it has two of that count
// (JCGM 100:2008, 7.2.6): the vessel is 1 % wide and the blend 0.05 of its density, which
// leaves some 80 g of 1000 g dry open, whatever the step of the scale.
func TestWaterHasNoDigitBeyondItsDoubt(t *testing.T) {
	for _, step := range []string{"0.01", "0.1", "1", "10"} {
		b := bucket(t)
		b.watered(fact.Watered{Added: typed("900", step)})
		b.watered(fact.Watered{Sample: typed("150", step), Volume: "100"})
		a := b.after("1.35")
		for what, digits := range map[string]string{"measured": a.Water.Measured, "low": a.Water.Low, "high": a.Water.High, "to add": a.Water.Add} {
			assert.NotContains(t, digits, ".", "%s with a step of %s g", what, step)
		}
		assert.Equal(t, "900", a.Water.Weighed)
		assert.NotRegexp(t, `\d\.\d+ g`, strings.Join(a.Water.Words, " "), step)
	}
}

package plan

import (
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"tared/protocol"
	"tared/session/doubt"
	"tared/session/fact"
	"tared/session/sheet"
	"tared/session/stock"
)

// kept has a kept mixture: 10.0 g of cobalt carbonate in 70.0 g of quartz, weighed on
// a scale of 0.1 g, with so much left.
func kept(left string) *stock.Stock {
	m := func(s string) protocol.Mass { g, _ := protocol.ParseMass(s); return g }
	u := protocol.Mass(129_099_445_000)
	part := func(name, mass string) fact.MixPart {
		return fact.MixPart{Material: name, Mass: m(mass), U: u, On: []doubt.On{{Scale: "bench", Mass: m(mass)}}}
	}
	s := &stock.Stock{}
	c := fact.Content{Of: "261125a", Mixing: "1/100", Parts: []fact.MixPart{part("Cobalt carbonate", "10g"), part("Quartz", "70g")}}
	s.Add(fact.Fact{Seq: 1, Body: fact.Stocked{Lot: "L7", Material: stock.Name(c), Amount: m(left), Content: &c}})
	s.Add(fact.Fact{Seq: 2, Body: fact.Stocked{Lot: "L8", Material: "Cobalt carbonate", Amount: m("100g")}})
	return s
}

func ways(sh sheet.Sheet) (lots []string) {
	for _, l := range sh.Lines {
		for _, o := range l.Outs {
			if o.Aliquot != nil {
				lots = append(lots, o.Aliquot.Lot)
			}
		}
	}
	return lots
}

// A kept mixture is offered before a new one, as long as it holds enough and is known well
// enough; it is weighed out and comes off its lot. By hand: 1.2 g are in 9.6 g of 1 in 8, which
// bring 8.4 g of quartz; U² = (0.1291·10/80)² + (0.1291·9.6·70/6400)² + (0.1291·9.6·10/6400)² +
// (0.01·9.6·10·70/6400)² = (0.023626 g)², within 2 % of 1.2 g.
func TestAKeptMixtureIsOfferedFirst(t *testing.T) {
	scales := []sheet.Scale{{Name: "bench", Step: 100 * protocol.Milligram, Max: 2 * protocol.Kilogram}}
	text := "Flint 40\nPotash feldspar 35\nBall clay 25\n+ Cobalt carbonate 0.4\n"
	wish := Request{Recipe: text, Base: "300g", Stock: kept("70.4g")}
	sh, err := wish.Sheet(scales)
	require.NoError(t, err)
	assert.Equal(t, []string{"L7", ""}, ways(sh))

	wish.Aliquot = []string{"Cobalt carbonate"}
	sh, err = wish.Sheet(scales)
	require.NoError(t, err)
	l := sh.Lines[3]
	require.NotNil(t, l.Aliquot)
	assert.Equal(t, "9.6 g", l.Aliquot.Take.String())
	assert.Equal(t, "8.4 g", sh.Lines[0].Less.String(), "flint is quartz")
	u, _ := l.U.Rat().Float64()
	assert.InDelta(t, 0.023626, u, 1e-5)
	require.Len(t, sh.Lots, 1)
	assert.Equal(t, "L7", sh.Lots[0].Lot)
	assert.Equal(t, l.Aliquot.Take, sh.Lots[0].Need)

	// The one that a person chose goes in by it without more words; "new" is for none that was kept.
	wish.Aliquot, wish.Lots = nil, map[string]string{"Cobalt carbonate": "L7"}
	sh, err = wish.Sheet(scales)
	require.NoError(t, err)
	assert.Equal(t, "L7", sh.Lines[3].Aliquot.Lot)
	for _, mark := range []string{"new", "L8"} {
		wish.Aliquot, wish.Lots = []string{"Cobalt carbonate"}, map[string]string{"Cobalt carbonate": mark}
		sh, err = wish.Sheet(scales)
		require.NoError(t, err)
		assert.Empty(t, sh.Lines[3].Aliquot.Lot, mark)
		assert.Equal(t, []string{"L8"}, []string{sh.Lots[len(sh.Lots)-1].Lot}, mark)
	}

	// Too little in it: it is told, and a new one is offered.
	wish.Aliquot, wish.Lots, wish.Stock = nil, nil, kept("9.5g")
	sh, err = wish.Sheet(scales)
	require.NoError(t, err)
	assert.Equal(t, []string{""}, ways(sh))
	assert.Contains(t, strings.Join(sh.Words, " "), "Lot L7 holds 9.5")
	wish.Lots = map[string]string{"Cobalt carbonate": "L7"}
	_, err = wish.Sheet(scales)
	assert.ErrorContains(t, err, "Lot L7 does not serve for Cobalt carbonate")
	var made *sheet.Aliquot
	for _, o := range sh.Lines[3].Outs {
		if o.Kind == "aliquot" {
			made = o.Aliquot
		}
	}
	assert.ErrorContains(t, err, "This would: "+made.Weigh.Grams(1)+" g of Cobalt carbonate in "+made.Dilute.Grams(1)+" g of Flint.", "the mixture that the sheet offers in its place")
	wish.Base = "100kg"
	_, err = wish.Sheet(scales)
	assert.ErrorContains(t, err, "can be weighed", "what is no small amount any more")
	wish.Base = "300g"
	wish.Lots = map[string]string{"Ball clay": "L7"}
	_, err = wish.Sheet(scales)
	assert.ErrorContains(t, err, "Lot L7 contains")

	// A moist carrier would count dry what came as weighed.
	wish.Lots, wish.Stock, wish.Moist = nil, kept("70.4g"), map[string]string{"Flint": "3%"}
	sh, err = wish.Sheet(scales)
	require.NoError(t, err)
	assert.Equal(t, []string{""}, ways(sh))
}

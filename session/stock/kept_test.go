package stock

import (
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"tared/protocol"
	"tared/session/doubt"
	"tared/session/fact"
)

// mixed is a closed batch by its facts: 10.0 g of cobalt carbonate were mixed into 70.0 g
// of quartz on a scale of 0.1 g, and 9.6 g of that were taken.
func mixed(how string, moisture string, close bool) []fact.Fact {
	u := protocol.Mass(129_099_445_000)
	line := func(name string, m protocol.Mass) fact.Line {
		return fact.Line{Material: name, Role: "base", Share: "1", Target: m, Low: m, High: m, Scale: "bench", U: u}
	}
	bodies := []fact.Body{
		fact.Planned{Scales: []fact.Scale{{Name: "bench", Step: g("0.1"), Assumed: true}}, Lines: []fact.Line{line("Quartz", g("120")), line("Cobalt carbonate", g("1.2"))},
			Lots: []fact.LotUsed{{Material: "Quartz", Moisture: moisture}},
			Mixes: []fact.Mix{{Mixing: "1/100", Take: line("mix", g("9.6")), Parts: []fact.MixPart{
				{Material: "Cobalt carbonate", Step: line("for the cup", g("10"))}, {Material: "Quartz", Step: line("carrier", g("70"))}}}}},
		fact.Portion{Material: "for the cup", Scale: "bench", Into: "mixing cup", Delivered: g("10"), U: u, How: how},
		fact.Portion{Material: "carrier", Scale: "bench", Into: "mixing cup", Delivered: g("70"), U: u},
		fact.Decided{Question: "mix", Answer: "yes", Material: "mix"},
		fact.Portion{Material: "mix", Scale: "bench", Delivered: g("9.6"), U: u},
	}
	if close {
		bodies = append(bodies, fact.Finished{})
	}
	var all []fact.Fact
	for i, b := range bodies {
		all = append(all, fact.Fact{Seq: uint64(i + 1), At: time.Date(2026, 11, 25, 9, 0, i, 0, time.UTC), Batch: "261125a", By: "Mara", Body: b})
	}
	return all
}

// What is left over of a mixture becomes a lot that knows what is in it: worked out by hand.
// 80 g less 9.6 g are 70.4 g; a gram holds 10/80 of cobalt carbonate, with
// U² = (0.1291·70/80²)² + (0.1291·10/80²)² + (0.01·10·70/80²)² = (0.001797 g)².
func TestWhatIsLeftOverBecomesALot(t *testing.T) {
	facts := mixed("tipped", "", true)
	s := &Stock{Recall: func(mark string) []fact.Fact {
		if mark == "261125a" {
			return facts
		}
		return nil
	}}
	all, err := s.Remnants("261125a")
	require.NoError(t, err)
	require.Len(t, all, 1)
	assert.Equal(t, g("70.4"), all[0].Left)
	c := all[0].Content
	assert.Equal(t, "Cobalt carbonate in quartz, 1 in 8", Name(c))
	assert.Equal(t, []doubt.On{{Scale: "bench", Mass: g("10")}}, c.Parts[0].On)
	s.Add(fact.Fact{Seq: 20, Body: fact.Stocked{Lot: "L1", Material: Name(c), Amount: g("50"), Content: &c}})
	l, _ := s.Find("l1")
	assert.Equal(t, "1 g of it holds 0.125 g of Cobalt carbonate, ±0.0018 g (mixed for batch 261125a).", l.Holds().String())
	assert.False(t, l.Solution())
	assert.Empty(t, s.Of(nil, "Cobalt carbonate"), "it is no bag of cobalt carbonate")
	assert.Empty(t, s.Of(nil, "Cobalt carbonate in quartz, 1 in 8"), "and none of itself")

	// What was kept is not kept twice; the rest can be.
	all, err = s.Remnants("261125a")
	require.NoError(t, err)
	assert.Equal(t, g("20.4"), all[0].Left)
	s.Add(fact.Fact{Seq: 21, Body: fact.Stocked{Lot: "L2", Material: Name(c), Amount: g("20.4"), Content: &c}})
	_, err = s.Remnants("261125a")
	assert.ErrorContains(t, err, "kept already")

	// It is found by what is in it, as the recipe calls that.
	same := func(a, b string) bool { return Key(nil, a) == Key(nil, b) }
	kept := s.Kept([]string{"Flint", "cobalt CARBONATE"}, same)
	require.Len(t, kept, 2)
	assert.Equal(t, "cobalt CARBONATE", kept[0].Material)
	assert.Equal(t, "Flint", kept[0].Carrier)
	assert.Empty(t, s.Kept([]string{"Ball clay", "Cobalt carbonate"}, same), "the recipe has none of its carrier")

	// A batch that takes of it takes off it, and what is undone is back.
	s.Add(fact.Fact{Seq: 30, Batch: "b", Body: fact.Planned{Lots: []fact.LotUsed{{Material: "mix, lot L1", Lot: "L1"}},
		Mixes: []fact.Mix{{Lot: "L1", Take: fact.Line{Material: "mix, lot L1"}, Parts: c.Parts}}}})
	s.Add(fact.Fact{Seq: 31, Batch: "b", Body: fact.Portion{Material: "mix, lot L1", Delivered: g("9.6")}})
	l, _ = s.Find("L1")
	assert.Equal(t, g("40.4"), l.Left)
	s.Add(fact.Fact{Seq: 32, Batch: "b", Body: fact.Amended{Of: 31, Void: true, How: "undone"}})
	l, _ = s.Find("L1")
	assert.Equal(t, g("50"), l.Left)
}

// Nothing is kept of which nobody knows what is in it.
func TestWhatIsNotKnownIsNotKept(t *testing.T) {
	for says, facts := range map[string][]fact.Fact{
		"There is no batch":            nil,
		"is still open":                mixed("tipped", "", false),
		"nobody knows what is in it":   mixed("not-known", "", true),
		"Quartz was moist":             mixed("tipped", "3", true),
		"nothing is left of a mixture": {mixed("tipped", "", true)[0], mixed("tipped", "", true)[5]},
	} {
		s := &Stock{Recall: func(string) []fact.Fact { return facts }}
		_, err := s.Remnants("261125a")
		assert.ErrorContains(t, err, says)
	}
}

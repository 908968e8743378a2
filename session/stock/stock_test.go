package stock

import (
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"tared/protocol"
	"tared/session/fact"
)

func g(s string) protocol.Mass {
	m, err := protocol.ParseMass(s + "g")
	if err != nil {
		panic(err)
	}
	return m
}

// shelf is a stock that numbers its facts.
type shelf struct {
	Stock
	seq uint64
}

func (s *shelf) put(batch string, b fact.Body) uint64 {
	s.seq++
	s.Add(fact.Fact{Seq: s.seq, At: time.Date(2026, 11, 25, 9, 0, 0, 0, time.UTC), Batch: batch, By: "Mara", Body: b})
	return s.seq
}

func (s *shelf) left(t require.TestingT, mark string) protocol.Mass {
	l, ok := s.Find(mark)
	require.True(t, ok, mark)
	return l.Left
}

// An invented stock: a bag of quartz, and a batch that takes from it.
func quartz() *shelf {
	s := &shelf{}
	s.put("", fact.Stocked{Lot: s.Next(""), Material: "Quartz", Amount: g("1000"), Price: "0.84", Currency: "EUR"})
	s.put("261125a", fact.Planned{Lots: []fact.LotUsed{{Material: "Quartz", Lot: "L1"}}})
	return s
}

func TestTakenAsWeighed(t *testing.T) {
	s := quartz()
	p := s.put("261125a", fact.Portion{Material: "Quartz", Delivered: g("240.5")})
	s.put("261125a", fact.Portion{Material: "Whiting", Delivered: g("50")}) // no lot is kept of it
	s.put("261125b", fact.Portion{Material: "Quartz", Delivered: g("50")})  // that batch names no lot
	assert.Equal(t, g("759.5"), s.left(t, "l1"))
	s.put("261125a", fact.Amended{Of: p, Was: g("240.5"), Is: g("241"), Reason: "read wrongly"})
	assert.Equal(t, g("759"), s.left(t, "L1"), "a corrected portion corrects the stock")
	s.put("261125a", fact.Amended{Of: p, Field: "title", New: "x"})
	assert.Equal(t, g("759"), s.left(t, "L1"), "a correction of something else does not")
	s.put("261125a", fact.Amended{Of: p, Was: g("241"), Void: true, Reason: "undone"})
	l, _ := s.Find("L1")
	assert.Equal(t, g("1000"), l.Left, "what is undone is back")
	assert.Zero(t, l.Taken)
	s.put("261125a", fact.Portion{Material: "Quartz", As: "Potash feldspar", Delivered: g("100")})
	assert.Equal(t, g("1000"), s.left(t, "L1"), "what went in instead came from elsewhere")
}

// The material and the carrier of an aliquot come out of their bags with all that
// is weighed into the mixing cup; the part of the mixture was taken then.
func TestTakenIntoAMixingCup(t *testing.T) {
	s := &shelf{}
	s.put("", fact.Stocked{Lot: "L1", Material: "Quartz", Amount: g("1000")})
	s.put("", fact.Stocked{Lot: "L2", Material: "Cobalt carbonate", Amount: g("100")})
	s.put("261125a", fact.Planned{Lots: []fact.LotUsed{{Material: "Quartz", Lot: "L1"}, {Material: "Cobalt carbonate", Lot: "L2"}},
		Mixes: []fact.Mix{{Take: fact.Line{Material: "mix"}, Parts: []fact.MixPart{
			{Material: "Cobalt carbonate", Step: fact.Line{Material: "for the cup"}}, {Material: "Quartz", Step: fact.Line{Material: "carrier"}}}}}})
	s.put("261125a", fact.Portion{Material: "for the cup", Into: "mixing cup", Delivered: g("9.6")})
	s.put("261125a", fact.Portion{Material: "carrier", Into: "mixing cup", Delivered: g("54.4")})
	s.put("261125a", fact.Portion{Material: "mix", Delivered: g("8")})
	s.put("261125a", fact.Portion{Material: "Quartz", Delivered: g("173.2")})
	assert.Equal(t, g("90.4"), s.left(t, "L2"))
	assert.Equal(t, g("772.4"), s.left(t, "L1"))
}

// A cup of a series has the lots of the tub in its plan, for their moisture; what
// comes out of the tub was taken when the tub was filled.
func TestACupTakesNothingTwice(t *testing.T) {
	s := quartz()
	s.put("261125a", fact.Portion{Material: "Quartz", Delivered: g("500")})
	s.put("261125a-1", fact.Planned{Lots: []fact.LotUsed{{Material: "Quartz", Lot: "L1"}}, Mixes: []fact.Mix{{From: "261125a",
		Take: fact.Line{Material: "common mix of 261125a"}, Parts: []fact.MixPart{{Material: "Quartz", Mass: g("500")}}}}})
	s.put("261125a-1", fact.Portion{Material: "common mix of 261125a", Delivered: g("100")})
	assert.Equal(t, g("500"), s.left(t, "L1"))
}

func TestACountHolds(t *testing.T) {
	s := quartz()
	p := s.put("261125a", fact.Portion{Material: "Quartz", Delivered: g("300")})
	s.put("", fact.Corrected{Lot: "L1", Field: "amount", Was: g("700"), Is: g("650"), Reason: "counted"})
	assert.Equal(t, g("650"), s.left(t, "L1"))
	s.put("261125a", fact.Amended{Of: p, Was: g("300"), Void: true, Reason: "undone"})
	assert.Equal(t, g("650"), s.left(t, "L1"), "the count saw what was there")
	s.put("261125a", fact.Portion{Material: "Quartz", Delivered: g("700")})
	l, _ := s.Find("L1")
	assert.Equal(t, g("-50"), l.Left, "more was weighed than there was by the record: shown, not hidden")
	assert.Contains(t, l.Trouble(), "50 g more was weighed")
	assert.Zero(t, l.Dry())
	assert.Len(t, s.Lots()[0].Entries, 1)
}

// Whatever is weighed, undone and corrected: what is left is what came, less what
// still counts.
func TestStockBalances(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		s := quartz()
		counts := map[uint64]protocol.Mass{}
		var seqs []uint64
		for range rapid.IntRange(1, 30).Draw(t, "n") {
			if len(seqs) == 0 || rapid.Bool().Draw(t, "pour") {
				m := protocol.Mass(rapid.Int64Range(1, int64(g("50"))).Draw(t, "m"))
				seq := s.put("261125a", fact.Portion{Material: "Quartz", Delivered: m})
				counts[seq], seqs = m, append(seqs, seq)
				continue
			}
			of := rapid.SampledFrom(seqs).Draw(t, "of")
			void := rapid.Bool().Draw(t, "void")
			is := protocol.Mass(rapid.Int64Range(0, int64(g("50"))).Draw(t, "is"))
			if void {
				is = 0
			}
			s.put("261125a", fact.Amended{Of: of, Was: counts[of], Is: is, Void: void, Reason: "x"})
			counts[of] = is
		}
		sum := protocol.Mass(0)
		for _, m := range counts {
			sum += m
		}
		l, _ := s.Find("L1")
		assert.Equal(t, g("1000")-sum, l.Left)
		assert.Equal(t, sum, l.Taken)
	})
}

func TestChoose(t *testing.T) {
	s := &shelf{}
	for _, l := range []fact.Stocked{
		{Lot: "L1", Material: "Flint", Amount: g("900")}, // still closed
		{Lot: "L2", Material: "quartz", Amount: g("500"), Opened: "2026-11-02"},
		{Lot: "L3", Material: "Silica", Amount: g("520"), Opened: "2026-10-01", Moisture: "10"},
		{Lot: "L4", Material: "EPK", Amount: g("900")},
	} {
		s.put("", l)
	}
	pick := func(name, need string) string {
		l, ok := s.Choose(nil, name, g(need))
		require.True(t, ok)
		return l.Mark
	}
	assert.Equal(t, "L3", pick("Quartz", "400"), "opened first")
	assert.Equal(t, "L2", pick("Quartz", "480"), "of 520 g at 10 % only 468 g are dry")
	assert.Equal(t, "L1", pick("Quartz", "800"))
	assert.Equal(t, "L1", pick("Quartz", "5000"), "none is enough: the one with most")
	_, ok := s.Choose(nil, "Grolleg", g("1"))
	assert.False(t, ok, "one clay is not another, though the table takes both for kaolin")
	assert.Equal(t, "L5", s.Next(""))
}

// A snapshot is not changed by what comes later.
func TestSnapshot(t *testing.T) {
	assert.Nil(t, (&Stock{}).Snapshot())
	s := quartz()
	c := s.Snapshot()
	s.put("261125a", fact.Portion{Material: "Quartz", Delivered: g("300")})
	l, _ := c.Find("L1")
	assert.Equal(t, g("1000"), l.Left)
}

func TestReadsOnlyWhatMatters(t *testing.T) {
	s := &shelf{}
	assert.False(t, s.Reads("planned", "a", time.Time{}, nil), "before the first lot nothing can take from one")
	assert.True(t, s.Reads("stocked", "", time.Time{}, nil))
	s = quartz()
	assert.True(t, s.Reads("planned", "b", time.Time{}, nil))
	assert.True(t, s.Reads("portion", "261125a", time.Time{}, nil))
	assert.False(t, s.Reads("portion", "b", time.Time{}, nil))
}

// A stock that keeps few batches in mind and has the others told again, and one that was
// written down and read in between, know what one knows that forgets nothing.
func TestWhatIsRecalledIsWhatWasKnown(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		var all []fact.Fact
		recall := func(batch string) (of []fact.Fact) {
			for _, f := range all {
				if f.Batch == batch {
					of = append(of, f)
				}
			}
			return of
		}
		whole, short := &Stock{}, &Stock{Recall: recall}
		put := func(batch string, b fact.Body) {
			f := fact.Fact{Seq: uint64(len(all) + 1), At: time.Date(2026, 11, 25, 9, 0, 0, 0, time.UTC), Batch: batch, By: "Mara", Body: b}
			all = append(all, f)
			for _, s := range []*Stock{whole, short} {
				if s.Reads(b.Kind(), batch, f.At, nil) {
					s.Add(f)
				}
			}
			require.Equal(t, whole.Lots(), short.Lots(), "%d: %+v", f.Seq, f)
		}
		var batches []string
		materials := []string{"Quartz", "Whiting"}
		for range rapid.IntRange(20, 150).Draw(t, "n") {
			lot := "L" + string(rune('1'+rapid.IntRange(0, 3).Draw(t, "lot")))
			batch := ""
			if len(batches) > 0 {
				batch = rapid.SampledFrom(batches).Draw(t, "batch")
			}
			m := protocol.Mass(rapid.Int64Range(1, int64(g("50"))).Draw(t, "m"))
			switch k := rapid.IntRange(0, 9).Draw(t, "what"); {
			case k == 0:
				put("", fact.Stocked{Lot: lot, Material: "Quartz", Amount: g("1000")})
			case k == 1:
				put("", fact.Corrected{Lot: lot, Field: "amount", Is: m, Reason: "counted"})
			case k == 2:
				b, err := whole.MarshalJSON()
				require.NoError(t, err)
				short = &Stock{Recall: recall}
				require.NoError(t, short.UnmarshalJSON(b))
			case k < 5 || batch == "":
				batches = append(batches, string(rune('a'+len(batches))))
				put(batches[len(batches)-1], fact.Planned{Lots: []fact.LotUsed{{Material: "Quartz", Lot: lot}}})
			case k < 8:
				put(batch, fact.Portion{Material: rapid.SampledFrom(materials).Draw(t, "material"), Delivered: m})
			default:
				var of uint64
				for _, f := range all {
					if _, ok := f.Body.(fact.Portion); ok && f.Batch == batch && (of == 0 || rapid.Bool().Draw(t, "this")) {
						of = f.Seq
					}
				}
				put(batch, fact.Amended{Of: of, Is: m, Void: rapid.Bool().Draw(t, "void"), Reason: "x"})
			}
		}
	})
}

// Where nobody knows how much went in, as much as was to go in may be gone; a correction
// of the portion, or a count, tells.
func TestWhatNobodyKnowsMayBeGone(t *testing.T) {
	s := quartz()
	p := s.put("261125a", fact.Portion{Material: "Quartz", How: "not-known", Verdict: "not-known", Target: g("240")})
	l, _ := s.Find("L1")
	assert.Equal(t, g("1000"), l.Left)
	assert.Equal(t, g("240"), l.NotKnown)
	assert.Contains(t, l.Trouble(), "240 g more may be gone")
	s.put("261125a", fact.Amended{Of: p, Is: g("200"), Reason: "it was in the notebook"})
	l, _ = s.Find("L1")
	assert.Equal(t, g("800"), l.Left)
	assert.Zero(t, l.NotKnown)
	s.put("261125a", fact.Portion{Material: "Quartz", How: "not-known", Verdict: "not-known", Target: g("100")})
	s.put("", fact.Corrected{Lot: "L1", Field: "amount", Was: g("800"), Is: g("740"), Reason: "counted"})
	l, _ = s.Find("L1")
	assert.Equal(t, g("740"), l.Left)
	assert.Empty(t, l.Trouble())
}

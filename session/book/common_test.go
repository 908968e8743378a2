package book

import (
	"math/big"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"tared/protocol"
	"tared/session/batch"
	"tared/session/doubt"
	"tared/session/fact"
)

// tubAndCups is an invented series: a tub of quartz and clay, and cups of it with
// what each got of rutile and of whiting, which is part of the base.
func tubAndCups(t require.TestingT, quartz, clay protocol.Mass, u protocol.Mass, cups ...[3]protocol.Mass) (*Book, []*Batch) {
	var b Book
	seq := uint64(0)
	put := func(batch string, body fact.Body) {
		seq++
		b.Add(fact.Fact{Seq: seq, Batch: batch, By: "Mara", Body: body}, [32]byte{})
	}
	scales := []fact.Scale{{Name: "bench", Step: g("0.1")}}
	tub := []fact.Line{{Material: "Quartz", Role: "base", Share: "60", Scale: "bench"}, {Material: "Ball clay", Role: "base", Share: "40", Scale: "bench"}}
	put("t", fact.Planned{Lines: tub, Scales: scales, Series: fact.Series{Cups: uint64(len(cups)), Plans: make([]fact.CupPlan, len(cups))}})
	put("t", fact.Portion{Material: "Quartz", Delivered: quartz, U: u, Step: g("0.1")})
	put("t", fact.Portion{Material: "Ball clay", Delivered: clay, U: u, Step: g("0.1")})
	put("t", fact.Finished{})
	var out []*Batch
	for i, c := range cups {
		mark := "t-" + string(rune('1'+i))
		lines := append(append([]fact.Line{}, tub...), fact.Line{Material: "Whiting", Role: "base", Share: "10", Scale: "bench"}, fact.Line{Material: "Rutile", Role: "addition", Share: "5", Scale: "bench"})
		put(mark, fact.Planned{Lines: lines, Scales: scales, Series: fact.Series{Of: "t", Cup: uint64(i + 1), Cups: uint64(len(cups))},
			Mixes: []fact.Mix{{From: "t", Take: fact.Line{Material: "mix", Scale: "bench"}, Parts: []fact.MixPart{
				{Material: "Quartz", Mass: quartz, U: u}, {Material: "Ball clay", Mass: clay, U: u}}}}})
		put(mark, fact.Portion{Material: "mix", Delivered: c[0], U: g("0.1"), Step: g("0.1")})
		put(mark, fact.Portion{Material: "Whiting", Delivered: c[1], U: g("0.1"), Step: g("0.1")})
		put(mark, fact.Portion{Material: "Rutile", Delivered: c[2], U: g("0.01"), Step: g("0.01")})
		put(mark, fact.Finished{})
		out = append(out, b.Find(mark))
	}
	return &b, out
}

// The derivatives are right: the share moved by a small change of each source, as
// worked out by itself, is what they say.
func TestCommonsAreDerivatives(t *testing.T) {
	share := func(x [2]*big.Rat, take, whiting, rutile *big.Rat) [4]*big.Rat {
		S := new(big.Rat).Add(x[0], x[1])
		var m [4]*big.Rat
		for i := range x {
			m[i] = new(big.Rat).Mul(take, x[i])
			m[i].Quo(m[i], S)
		}
		m[2], m[3] = whiting, rutile
		base := new(big.Rat).Add(m[0], m[1])
		base.Add(base, whiting)
		for i := range m {
			m[i] = new(big.Rat).Quo(m[i], base)
		}
		return m
	}
	rapid.Check(t, func(rt *rapid.T) {
		draw := func(name string) protocol.Mass { return protocol.Mass(rapid.Int64Range(5e12, 5e14).Draw(rt, name)) }
		q, c, take, w, r := draw("quartz"), draw("clay"), draw("take"), draw("whiting"), draw("rutile")
		_, cups := tubAndCups(rt, q, c, g("0.3"), [3]protocol.Mass{take, w, r})
		plan, went := cups[0].Lines, cups[0].Deliveries()
		got := cups[0].commons(went, batch.Bases(plan))
		require.Len(rt, got, 4)
		whole := func(m protocol.Mass) *big.Rat { return new(big.Rat).SetInt64(int64(m)) }
		at := func(d [5]int64) [4]*big.Rat {
			bump := func(m protocol.Mass, i int) *big.Rat { return new(big.Rat).Add(whole(m), big.NewRat(d[i], 1000)) }
			return share([2]*big.Rat{bump(q, 0), bump(c, 1)}, bump(take, 2), bump(w, 3), bump(r, 4))
		}
		was := at([5]int64{})
		slope := func(source, line int) *big.Rat {
			var d [5]int64
			d[source] = 1
			s := at(d)[line]
			return s.Mul(s.Sub(s, was[line]), big.NewRat(1000, 1))
		}
		near := func(a, b *big.Rat, what string) {
			x, _ := a.Float64()
			y, _ := b.Float64()
			assert.InEpsilon(rt, 1+x*1e6, 1+y*1e6, 1e-6, what)
		}
		u := []protocol.Mass{g("0.3"), g("0.3"), g("0.1"), g("0.1"), g("0.01")}
		for line := range 4 {
			for k := range 2 {
				near(new(big.Rat).Mul(slope(k, line), whole(u[k])), got[line].by[k], "tub")
			}
			own := new(big.Rat)
			for k := 2; k < 5; k++ {
				s := slope(k, line)
				s.Mul(s, whole(u[k]))
				own.Add(own, s.Mul(s, s))
			}
			near(own, got[line].own, "own")
		}
	})
}

// A tub that was weighed badly says nothing about the difference of its cups. The
// cups got 5.00 and 5.20 g of rutile to one base; as strangers, the doubt of the tub
// would hide that.
func TestTheTubDoesNotCountTwice(t *testing.T) {
	same := [3]protocol.Mass{g("100"), g("10"), g("5")}
	more := same
	more[2] = g("5.2")
	_, cups := tubAndCups(t, g("300"), g("200"), g("30"), same, more, same)
	c := Compare(cups[0], cups[1])
	line := func(c Comparison, name string) Against {
		for _, l := range c.Lines {
			if l.Material == name {
				return l
			}
		}
		t.Fatal(name)
		return Against{}
	}
	sure := func(c Comparison) bool { // the difference is more than its joint U
		x := line(c, "Rutile").Cells[1]
		less, _ := new(big.Rat).SetString(x.Less)
		u, _ := new(big.Rat).SetString(x.JointU)
		return less.Cmp(u) > 0
	}
	assert.True(t, sure(c), "%+v", line(c, "Rutile"))
	for _, l := range c.Lines {
		x := l.Cells[1]
		less, _ := new(big.Rat).SetString(x.Less)
		u, _ := new(big.Rat).SetString(x.JointU)
		assert.Equal(t, less.Abs(less).Cmp(u) > 0, x.Differs, "%s: what is said of it is what its figures say: %s, joint U %s", l.Material, x.Less, x.JointU)
	}
	assert.Equal(t, "0.000", line(c, "Quartz").Cells[1].Less)
	// The quartz is the same in both but for what was weighed for each cup.
	u, _ := new(big.Rat).SetString(line(c, "Quartz").Cells[1].JointU)
	alone, _ := new(big.Rat).SetString(line(c, "Quartz").Cells[1].U)
	assert.Negative(t, u.Cmp(new(big.Rat).Quo(alone, big.NewRat(5, 1))), "joint %s, alone %s", u.FloatString(3), alone.FloatString(3))
	for _, n := range cups {
		n.Mixes[0].From = "elsewhere " + n.Mark // strangers
	}
	assert.False(t, sure(Compare(cups[0], cups[1])), "as strangers the doubt of both tubs counts")
}

// A correction of the tub reaches the cups that were filled from it before.
func TestACorrectedTubReachesItsCups(t *testing.T) {
	b, cups := tubAndCups(t, g("300"), g("200"), g("0.1"), [3]protocol.Mass{g("100"), g("10"), g("5")})
	before := cups[0].Made()
	assert.Equal(t, "60.0", before.Lines[0].Delivered.Rounded(1))
	b.Add(fact.Fact{Seq: 99, Batch: "t", By: "Mara", Body: fact.Amended{Of: 2, Material: "Quartz", Was: g("300"), Is: g("200"), Reason: "a bag was weighed twice"}}, [32]byte{})
	after := cups[0].Made()
	assert.Equal(t, "50.0", after.Lines[0].Delivered.Rounded(1), "of the 100 g taken")
	assert.Equal(t, "50.0", after.Lines[1].Delivered.Rounded(1))
	assert.Equal(t, "45.455", after.Lines[0].Share)
	require.NotNil(t, after.Lines[1].AtClosing, "of the whiting too, for less of the tub is quartz")
	assert.Equal(t, before.Lines[1].Delivered, *after.Lines[1].AtClosing)
	require.Len(t, after.Lines[1].Corrected, 1)
	assert.Contains(t, after.Lines[1].Corrected[0], "in tub t: entry 2 was 300.0 g, is 200.0 g; Mara")
	assert.Contains(t, after.Words, "The tub was corrected after it was closed. What this cup contains is worked out from the tub as it is now.")
	assert.NotContains(t, before.Words, "The tub was corrected after it was closed. What this cup contains is worked out from the tub as it is now.")
}

// A scale that weighs 0.2 % too much weighs all of it too much, in the tub and in the cups:
// no share moves. Rutile that was weighed on another scale moves with that, in both cups
// alike, so that two cups with as much of it do not differ by it.
func TestCupsHaveTheSpanInCommon(t *testing.T) {
	weighed := func(m, on string, base bool) part {
		return partOf(batch.Delivery{Delivered: g(m), U: g(m) / 500, On: []doubt.On{{Scale: on, Mass: g(m), Span: g(m) / 500}}}, nil, "", base)
	}
	filled := func(take, rutile, on string) *common {
		c := newCup(weighed(take, "bench", false), []part{weighed("300", "bench", true), weighed("200", "bench", true)}, []part{weighed("10", "bench", true), weighed(rutile, on, false)})
		out := &common{own: new(big.Rat), spans: map[string]*big.Rat{}}
		c.doubtOfOwn(out, 1)
		return out
	}
	joint := func(a, b *common) *big.Rat { n, d := jointCommon(a, b); return new(big.Rat).SetFrac(n, d) }
	one := filled("100", "5.5", "bench")
	assert.Zero(t, one.own.Sign(), "all of its doubt is the span")
	assert.Zero(t, joint(one, filled("100", "6.6", "bench")).Sign(), "one scale: it falls out")
	fine := filled("100", "5.5", "fine")
	assert.Equal(t, "1/10000", fine.spans["fine"].RatString(), "0.2 % of 5 %")
	assert.Equal(t, "-1/10000", fine.spans["bench"].RatString())
	assert.Zero(t, joint(fine, filled("100", "5.5", "fine")).Sign(), "two scales, and as much in both")
	assert.Equal(t, "1/12500000", joint(fine, filled("100", "16.5", "fine")).RatString(), "two scales, 10 % apart: 2·(0.2 % of 10 %)²")
	assert.Equal(t, "1/50000000", joint(fine, one).RatString(), "one of them on the other scale: 2·(0.2 % of 5 %)²")
}

// A tub of 90 of base and 10 of a colourant, weighed without a doubt: of the colourant in a
// cup 1 % · (1 - 0.1), of the base 1 % · (1 - 0.9) may be wrong, so its share of 10/90 by
// 10/90·√(0.009² + 0.001²), and the difference of two cups by √2 times that.
func TestMixingIsNotCommonToCups(t *testing.T) {
	x := func(m int64, base bool) part {
		return part{m: big.NewRat(m, 1), u: new(big.Rat), dry: big.NewRat(1, 1), base: base}
	}
	c := newCup(x(50, false), []part{x(90, true), x(10, false)}, nil)
	side := func(mixing *big.Rat) *common {
		to := &common{own: new(big.Rat), spans: map[string]*big.Rat{}}
		c.doubtFromTub(to, 1)
		c.addMixing(to, 1, mixing)
		return to
	}
	n, d := jointCommon(side(nil), side(nil))
	assert.Zero(t, n.Sign(), "what was weighed once cannot make cups differ, %v", d)
	n, d = jointCommon(side(big.NewRat(1, 100)), side(big.NewRat(1, 100)))
	want := new(big.Rat).Mul(big.NewRat(2*100, 8100), new(big.Rat).Add(big.NewRat(81, 1e6), big.NewRat(1, 1e6)))
	assert.Equal(t, want.RatString(), new(big.Rat).SetFrac(n, d).RatString())
}

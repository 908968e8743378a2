package book

import (
	"encoding/json"
	"fmt"
	"math/big"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"tared/protocol"
	"tared/session/batch"
	"tared/session/calc"
	"tared/session/doubt"
	"tared/session/sheet"
)

// hand works out a formula of the page of `tared calc doubt` with 200 bits, and knows
// nothing of how the program does it.
func hand(s string) *big.Float {
	x, _, err := big.ParseFloat(s, 10, 200, big.ToNearestEven)
	if err != nil {
		panic(err)
	}
	return x
}

func plus(a ...*big.Float) *big.Float {
	x := hand("0")
	for _, y := range a {
		x.Add(x, y)
	}
	return x
}

func times(a ...*big.Float) *big.Float {
	x := hand("1")
	for _, y := range a {
		x.Mul(x, y)
	}
	return x
}

func by(a, b string) *big.Float          { return hand("0").Quo(hand(a), hand(b)) }
func twice(a *big.Float) *big.Float      { return times(a, a) }
func rooted2(a ...*big.Float) *big.Float { return hand("0").Sqrt(plus(a...)) }
func class3(a string) *big.Float         { return times(by("4", "3"), twice(hand(a))) } // (2·a/√3)²
func reading(d, t, s string) *big.Float {
	return plus(times(by("4", "6"), twice(hand(d))), twice(times(hand(t), hand(s))))
}                                        // 4·d²/6 + (t·s)²
func inGrams(m protocol.Mass) *big.Float { return by(fmt.Sprint(int64(m)), "1000000000000") }
func known(d, w, m, M string) *big.Float { // (|D| + √(R² + 4·w²/3))·m/M, R² of 0.1 g and s = 0.05 g
	return times(plus(hand(d), rooted2(reading("0.1", "2", "0.05"), times(by("4", "3"), twice(hand(w))))), by(m, M))
}

// asked is U as `tared calc doubt` answers.
func asked(t *testing.T, question string) *big.Float {
	topic, ok := calc.Lookup("doubt")
	require.True(t, ok)
	var in []calc.Given
	for _, w := range strings.Fields(question) {
		k, v, _ := strings.Cut(w, "=")
		in = append(in, calc.Given{Key: k, Text: v})
	}
	a, err := topic.Run(in)
	require.NoError(t, err, question)
	j, err := a.MarshalJSON()
	require.NoError(t, err)
	var said struct {
		U json.Number `json:"expanded_uncertainty_g"`
	}
	require.NoError(t, json.Unmarshal(j, &said))
	return hand(said.U.String())
}

// ofTub is U of the 60 g of the first in 100 g out of a tub of 240 g and 160 g, all on one scale of
// class III.
func ofTub(t *testing.T) *big.Float {
	s := doubt.Scale{Step: g("0.1"), Gauge: doubt.Gauge{Class: "III"}}
	w := func(m string) sheet.Weighed {
		return sheet.Weighed{Mass: g(m), U: s.U(g(m)), On: []doubt.On{{Scale: "bench", Mass: g(m), Span: s.Span(g(m))}}}
	}
	held, err := sheet.Part([]sheet.Weighed{w("240"), w("160")}, w("100"), sheet.Mixing)
	require.NoError(t, err)
	return inGrams(held[0].U)
}

// ofShare is U in percent of the base of an addition of 5 g to 60 and 40 g, of class III, the
// addition on a scale.
func ofShare(on, step string) *big.Float {
	went := func(m, on, step string) batch.Delivery {
		s := doubt.Scale{Step: g(step), Gauge: doubt.Gauge{Class: "III"}}
		return batch.Delivery{Delivered: g(m), U: s.U(g(m)), On: []doubt.On{{Scale: on, Mass: g(m), Span: s.Span(g(m))}}}
	}
	all := []batch.Delivery{went("60", "bench", "0.1"), went("40", "bench", "0.1"), went("5", on, step)}
	u, _, _ := big.ParseFloat(rooted(shareDoubts([]bool{true, true, false}, all, g("100"))[2], fourth(g("100")), 12).FloatString(12), 10, 200, big.ToNearestEven)
	return u
}

// Every figure of U follows from the page by hand.
func TestUByHand(t *testing.T) {
	half := reading("0.1", "2", "0.05")
	// R² and S² at 10 g, and what an aliquot of 8 times 1.2 g in 10 g makes of R².
	weigh, total, take := "9.6", "80", "10"
	spread := plus(twice(times(by("70.4", "1"), by("1", weigh), by("1", total))), twice(by("1", total)), twice(by("1", take)))
	mixed := twice(times(hand("0.01"), hand("0.88")))
	for _, c := range []struct {
		name      string
		got, want *big.Float
	}{
		{"class III, e = 0.1 g, 85 g: 850 e, 0.2 g in service", asked(t, "step=0.1g load=85g class=III interval=0.1g"), rooted2(half, class3("0.2"))},
		{"class III at 500 e: 0.1 g in service", asked(t, "step=0.1g load=50g class=III interval=0.1g"), rooted2(half, class3("0.1"))},
		{"nobody measured the spread", asked(t, "step=0.1g load=10g"), rooted2(half)},
		{"a spread of nothing", asked(t, "step=0.1g load=10g spread=0g"), rooted2(reading("0.1", "2", "0"))},
		{"3 placings", asked(t, "step=0.1g load=10g spread=0.08g placings=3"), rooted2(reading("0.1", "4.53", "0.08"))},
		{"5 placings", asked(t, "step=0.1g load=10g spread=0.08g placings=5"), rooted2(reading("0.1", "2.87", "0.08"))},
		{"10 placings", asked(t, "step=0.1g load=10g spread=0.08g placings=10"), rooted2(reading("0.1", "2.32", "0.08"))},
		{"a known weight", asked(t, "step=0.1g load=250g known=500g shown=500.1g limit=0.3g"), rooted2(half, twice(known("0.1", "0.1", "250", "500")))},
		{"an aliquot", asked(t, "step=0.1g need=1.2g times=8 take=10g"), times(hand("1.2"), rooted2(times(half, spread), mixed))},
		{"an aliquot, class III", asked(t, "step=0.1g need=1.2g times=8 take=10g class=III"), times(hand("1.2"), rooted2(times(half, spread), mixed, times(class3("0.1"), twice(by("1", take)))))},
		// (R·m/S)² + (R·t·(S-m)/S²)² + (R·t·m/S²)² + (0.01·t·m·(S-m)/S²)² + (S_t·m/S)², m = 240, S = 400, t = 100; all on
		// one scale, so its span stays for the part alone: a = 0.2 g.
		{"a tub", ofTub(t), rooted2(times(half, plus(twice(hand("0.6")), twice(hand("0.1")), twice(hand("0.15")))), twice(times(hand("0.01"), hand("24"))), class3("0.12"))},
		// (100/B²)²·[B²·R² + m²·2·R²], B = 100, m = 5: one scale, the span falls out.
		{"a share on one scale", ofShare("bench", "0.1"), rooted2(times(half, plus(hand("1"), hand("0.005"))))},
		// And for each scale (100/B²)²·r²·(ma·B - m·Ba)²: fine (5·100)², r = S/5 with a = 0.01 g; bench (5·100)²,
		// r = (S60 + S40)/100 with a = 0.2 and 0.1 g, that is 0.3 g together.
		{"a share on two scales", ofShare("fine", "0.01"), rooted2(
			reading("0.01", "2", "0.005"), times(half, hand("0.005")),
			times(hand("25"), class3("0.01"), by("1", "25")), times(hand("25"), class3("0.3"), by("1", "10000")))},
	} {
		off, _ := hand("0").Sub(c.got, c.want).Float64()
		assert.True(t, off >= 0 && off < 2e-9, "%s: %s, by hand %s", c.name, c.got.Text('f', 12), c.want.Text('f', 12))
	}
	assert.Equal(t, "0.2646", rooted2(half, class3("0.2")).Text('f', 4))
}

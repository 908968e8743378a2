package book

import (
	"bytes"
	"crypto/sha256"
	"encoding/csv"
	"encoding/json"
	"fmt"
	"math/big"
	"os"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"tared/protocol"
	"tared/session/batch"
	"tared/session/fact"
	"tared/session/fact/facttest"
	"tared/session/journal"
)

func g(s string) protocol.Mass {
	m, err := protocol.ParseMass(s + "g")
	if err != nil {
		panic(err)
	}
	return m
}

var morning = time.Date(2026, 11, 25, 9, 0, 0, 0, time.FixedZone("", 3600))

// bench builds a book fact by fact.
type bench struct {
	Book
	seq   uint64
	lines []byte // the same as a journal
}

func (b *bench) put(mark string, body fact.Body) uint64 {
	b.seq++
	f := fact.Fact{Seq: b.seq, At: morning.Add(time.Duration(b.seq) * time.Minute), Batch: mark, By: "Mara", Body: body}
	b.Add(f, [32]byte{byte(b.seq)})
	b.lines = chained(b.lines, f)
	return b.seq
}

// chained adds the line of a fact to a journal.
func chained(lines []byte, f fact.Fact) []byte {
	prev := journal.Hash{}
	if len(lines) > 0 {
		prev = sha256.Sum256(lines[bytes.LastIndexByte(lines[:len(lines)-1], '\n')+1:])
	}
	j, err := facttest.Line(f)
	if err != nil {
		panic(err)
	}
	return fmt.Appendf(lines, "%s,\"prev\":\"%s\"}\n", j[:len(j)-1], prev)
}

// search gives the marks that a search finds.
func search(t testing.TB, lines []byte, query string) string {
	q, err := ParseQuery(query)
	require.NoError(t, err, query)
	rows, all, err := indexOf(t, lines).Search(q, 0, 1000)
	require.NoError(t, err)
	require.Len(t, rows, all)
	var marks []string
	for _, r := range rows {
		marks = append(marks, r.Mark)
	}
	return strings.Join(marks, " ")
}

// plan opens a batch of lines such as "base Quartz 24 180 178.2 181.8".
func (b *bench) plan(mark string, lines ...string) {
	p := fact.Planned{Title: "Tidewrack", Base: g("750"), Dry: g("789"),
		Scales: []fact.Scale{{Name: "bench", Step: g("0.1"), Spread: g("0.05")}, {Name: "fine", Step: g("0.01"), Spread: g("0.005")}}}
	for _, l := range lines {
		f := strings.Fields(l)
		p.Lines = append(p.Lines, fact.Line{Role: f[0], Material: strings.ReplaceAll(f[1], "_", " "), Share: f[2], Target: g(f[3]), Low: g(f[4]),
			High: g(f[5]), Scale: "bench", Weighable: "good"})
	}
	b.put(mark, p)
}

func (b *bench) pour(mark, material, delivered, u string) uint64 {
	return b.put(mark, fact.Portion{Material: material, Scale: "bench", Delivered: g(delivered), U: g(u), Step: g("0.1"), How: "tipped"})
}

var four = []string{"base Quartz 40 40 39.6 40.4", "base Whiting 35 35 34.7 35.3", "base Ball_clay 25 25 24.8 25.2", "strong Chromium_oxide 2 2 1.9 2.1"}

// What the kept journal says was made is what the facts before it add up to.
func TestAsMadeIsWhatFinishedSays(t *testing.T) {
	seen := 0
	for _, n := range kept(t).Batches() {
		before := &Batch{}
		for _, f := range n.facts {
			switch v := f.Body.(type) {
			case fact.Planned:
				before = planned(f.Fact, v)
			case fact.Finished:
				lines, went := before.Lines, before.Deliveries()
				made, base, dry := batch.AsMade(lines, went)
				assert.Equal(t, v.Lines, made, n.Mark)
				assert.Equal(t, v.Base, base)
				assert.Equal(t, v.Dry, dry)
				seen++
			}
			before.add(f.Fact, "")
		}
	}
	assert.Equal(t, 2, seen)
}

func TestAsMade(t *testing.T) {
	line := func(role, share, target, low, high string) fact.Line {
		return fact.Line{Material: role + share, Role: role, Share: share, Target: g(target), Low: g(low), High: g(high)}
	}
	for name, c := range map[string]struct {
		lines     []fact.Line
		went      []batch.Delivery
		shares    string
		verdicts  string
		base, dry string
	}{
		// The base adds up to 115; published as 26.09, 21.74, 17.39, 26.09, 8.69
		// (community.ceramicartsdaily.org/topic/5845, to two decimals). To three, cut:
		// 26.086 21.739 17.391 26.086 8.695 is 99.997, and the three spare thousandths go
		// to the largest remainders, .957 .957 and .652 (by hand).
		"shares add up": {
			[]fact.Line{line("base", "30", "30", "29", "31"), line("base", "25", "25", "24", "26"), line("base", "20", "20", "19", "21"),
				line("base", "30", "30", "29", "31"), line("base", "10", "10", "9", "11")},
			[]batch.Delivery{{Delivered: g("30")}, {Delivered: g("25")}, {Delivered: g("20")}, {Delivered: g("30")}, {Delivered: g("10")}},
			"26.087 21.739 17.391 26.087 8.696", "in in in in in", "115", "115"},
		// 40, 30, 20, 10 and 2 % on top (suemcleodceramics.com, "normalize").
		"addition on top": {
			[]fact.Line{line("base", "40", "2000", "1980", "2020"), line("base", "30", "1500", "1485", "1515"), line("base", "20", "1000", "990", "1010"),
				line("base", "10", "500", "495", "505"), line("addition", "2", "100", "98", "102")},
			[]batch.Delivery{{Delivered: g("2000")}, {Delivered: g("1500")}, {Delivered: g("1000")}, {Delivered: g("500")}, {Delivered: g("100")}},
			"40.000 30.000 20.000 10.000 2.000", "in in in in in", "5000", "5100"},
		"marks are inside, beyond is not": {
			[]fact.Line{line("base", "50", "50", "49.5", "50.5"), line("base", "50", "50", "49.5", "50.5"), line("addition", "1", "1", "0.9", "1.1"),
				line("addition", "2", "2", "1.9", "2.1")},
			[]batch.Delivery{{Delivered: g("49.5")}, {Delivered: g("50.5")}, {Delivered: g("0.899999999")}, {Delivered: g("2.100000001")}},
			"49.500 50.500 0.900 2.100", "in in under over", "100", "103"},
		"an addition is rounded half up": {
			[]fact.Line{line("base", "100", "200", "199", "201"), line("addition", "1", "2", "1", "3"), line("addition", "1", "2", "1", "3")},
			[]batch.Delivery{{Delivered: g("200")}, {Delivered: g("2.001")}, {Delivered: g("2.003")}}, // 1.0005 and 1.0015
			"100.000 1.001 1.002", "in in in", "200", "204.004"},
		"skipped": {
			[]fact.Line{line("base", "50", "50", "49", "51"), line("base", "50", "50", "49", "51")},
			[]batch.Delivery{{Delivered: g("50")}, {Skipped: true}},
			"100.000 0.000", "in skipped", "50", "50"},
		"nothing went in": {
			[]fact.Line{line("base", "100", "50", "49", "51"), line("addition", "1", "1", "0.9", "1.1")}, nil,
			"0.000 0.000", "under under", "0", "0"},
		"a strong colourant in the base": {
			[]fact.Line{line("base", "90", "90", "89", "91"), line("strong", "10", "10", "9", "11"), line("strong", "2", "2", "1", "3")},
			[]batch.Delivery{{Delivered: g("90")}, {Delivered: g("10")}, {Delivered: g("2")}},
			"90.000 10.000 2.000", "in in in", "100", "102"},
	} {
		t.Run(name, func(t *testing.T) {
			made, base, dry := batch.AsMade(c.lines, c.went)
			var shares, verdicts []string
			for _, m := range made {
				shares, verdicts = append(shares, m.Share), append(verdicts, m.Verdict)
			}
			assert.Equal(t, c.shares, strings.Join(shares, " "))
			assert.Equal(t, c.verdicts, strings.Join(verdicts, " "))
			assert.Equal(t, g(c.base), base)
			assert.Equal(t, g(c.dry), dry)
		})
	}
}

func TestBases(t *testing.T) {
	for _, c := range []struct{ lines, want string }{
		{"base 60, base 40, addition 5, strong 1", "base base - -"},
		{"base 90, strong 10, strong 2", "base base -"},
		{"base 90, strong 2, strong 8, strong 1/2", "base base base -"},
		{"base 200/3, base 100/3, strong 1", "base base -"},
		{"base 90, strong 3", "base -"},                // nothing adds up: the role stands
		{"base 90, strong x, addition 10", "base - -"}, // unreadable
		{"strong 100", "base"},
		{"base 94, addition 6 base, addition 4", "base base -"}, // a base material that somebody called an addition
		{"base 100, base 4 top", "base -"},                      // and the other way round
		{"base 90, strong 10 top, strong 10 base", "base - base"},
		{"base 90, strong 10, strong 10 base", "base - base"},
		{"", ""},
	} {
		var lines []fact.Line
		for _, l := range strings.Split(c.lines, ", ") {
			if w := strings.Fields(l + "  "); len(w) > 1 {
				lines = append(lines, fact.Line{Role: w[0], Share: w[1], Place: strings.Join(w[2:], "")})
			}
		}
		var got []string
		for _, b := range batch.Bases(lines) {
			got = append(got, map[bool]string{true: "base", false: "-"}[b])
		}
		assert.Equal(t, c.want, strings.Join(got, " "), c.lines)
	}
}

// Root sum of squares: by hand.
func TestUOfSeveralPortions(t *testing.T) {
	var b bench
	b.plan("A", four...)
	b.pour("A", "Quartz", "20", "0.3")
	b.pour("A", "Quartz", "20", "0.4")
	l := b.Find("a").Made().Lines[0]
	assert.Equal(t, g("0.5"), l.U.Mass, "3-4-5")
	b.pour("A", "Quartz", "0.1", "1.2")
	l = b.Find("A").Made().Lines[0]
	assert.Equal(t, g("1.3"), l.U.Mass, "5-12-13")
	assert.Equal(t, 3, l.Portions)
	assert.Equal(t, "40.1", l.Delivered.String())
	// 2 times 0.1: 0.141421356237… is rounded up.
	b.pour("A", "Whiting", "17.5", "0.1")
	b.pour("A", "Whiting", "17.5", "0.1")
	assert.Equal(t, g("0.141421357"), b.Find("A").Made().Lines[1].U.Mass)
}

// The doubts of shares, by hand: B = 100 g, U of the base 0.3 0.4 0, addition 2 g
// with U 0.05, all in grams:
//
//	60²·0.09 + 40²·0.16       = 324 + 256    = 580
//	65²·0.16 + 35²·0.09       = 676 + 110.25 = 786.25
//	75²·0 + 25²·0.25          = 156.25
//	100²·0.0025 + 2²·0.25     = 25 + 1       = 26
//
// and U = 100/B²·√N = √N/100.
func TestUOfShares(t *testing.T) {
	onBase := []bool{true, true, true, false}
	went := []batch.Delivery{{Delivered: g("40"), U: g("0.3")}, {Delivered: g("35"), U: g("0.4")}, {Delivered: g("25")}, {Delivered: g("2"), U: g("0.05")}}
	got := shareDoubts(onBase, went, g("100"))
	gram4 := fourth(protocol.Gram)
	for i, want := range []string{"580", "786.25", "156.25", "26"} {
		w, _ := new(big.Rat).SetString(want)
		assert.Zero(t, w.Cmp(new(big.Rat).SetFrac(got[i], gram4)), "share %d: %s, want %s", i+1, got[i], want)
	}
	u := func(i, places int) string { return rooted(got[i], fourth(g("100")), places).FloatString(places) }
	assert.Equal(t, "0.125", u(2, 3), "√156.25 is 12.5")
	assert.Equal(t, "0.241", u(0, 3), "√580 is 24.083, and is rounded up")
	assert.Equal(t, "0.240832", u(0, 6), "24.08318…")
	assert.Equal(t, "0.000", rooted(big.NewInt(1), new(big.Int), 3).FloatString(3), "no base")
}

// What is missing of one of two materials is there of the other: their shares are
// equally uncertain, whatever the weighings were.
func TestTwoSharesAreEquallyUncertain(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		m := func(l string) protocol.Mass { return protocol.Mass(rapid.Int64Range(1e9, 1e16).Draw(t, l)) }
		went := []batch.Delivery{{Delivered: m("a"), U: m("ua") / 1000}, {Delivered: m("b"), U: m("ub") / 1000}}
		q := shareDoubts([]bool{true, true}, went, went[0].Delivered+went[1].Delivered)
		if q[0].Cmp(q[1]) != 0 {
			t.Fatalf("%s and %s", q[0], q[1])
		}
	})
}

func TestDeviation(t *testing.T) {
	for _, c := range []struct {
		delivered, u string
		off, percent string
		bands        int
		beyond       bool
		verdict      string
	}{
		{"40", "0.13", "0.0", "0.00", 0, false, "in"},
		{"40.1", "0.13", "+0.1", "+0.25", 250, false, "in"},
		{"40.13", "0.13", "+0.1", "+0.33", 325, false, "in"}, // as much as U is not more
		{"40.4", "0.13", "+0.4", "+1.00", 1000, true, "in"},
		{"39.6", "0.13", "-0.4", "-1.00", -1000, true, "in"},
		{"40.5", "0.13", "+0.5", "+1.25", 1250, true, "over"},
		{"39.5", "0.6", "-0.5", "-1.25", -1250, false, "cannot-tell"},
		{"0.1", "0.13", "-39.9", "-99.75", -99750, true, "under"},
		{"8000", "0.13", "+7960.0", "+19900.00", 1_000_000, true, "over"},
	} {
		var b bench
		b.plan("A", four...)
		b.pour("A", "Quartz", c.delivered, c.u)
		l := b.Find("A").Made().Lines[0]
		assert.Equal(t, c.off, l.Deviation.Signed(), c.delivered)
		assert.Equal(t, c.percent, l.Percent, c.delivered)
		assert.Equal(t, c.bands, l.Bands, c.delivered)
		assert.Equal(t, c.beyond, l.Beyond, c.delivered)
		assert.Equal(t, c.verdict, l.Verdict, c.delivered)
	}
}

func TestAmount(t *testing.T) {
	for _, c := range []struct {
		m        string
		places   int
		text     string
		doubt    string
		jsonText string
	}{
		{"84", 1, "84.0", "84", `{"g":"84.0"}`},
		{"84.65", 1, "84.7", "85", `{"g":"84.65"}`},
		{"0.129099445", 1, "0.1", "0.13", `{"g":"0.129099445"}`},
		{"0.012909945", 2, "0.01", "0.013", `{"g":"0.012909945"}`},
		{"1.291", 0, "1", "1.3", `{"g":"1.291"}`},
		{"129", 0, "129", "130", `{"g":"129"}`},
		{"0.1", 1, "0.1", "0.1", `{"g":"0.1"}`},
		{"0.000000001", 1, "0.0", "0.000000001", `{"g":"0.000000001"}`},
		{"0", 2, "0.00", "0", `{"g":"0.00"}`},
	} {
		a := Amount{g(c.m), c.places}
		assert.Equal(t, c.text, a.String(), c.m)
		assert.Equal(t, c.doubt, a.Doubt(), c.m)
		j, err := json.Marshal(a)
		require.NoError(t, err)
		assert.Equal(t, c.jsonText, string(j))
		var back Amount
		require.NoError(t, json.Unmarshal(j, &back))
		assert.Equal(t, a.Mass, back.Mass)
		again, err := json.Marshal(back)
		require.NoError(t, err)
		assert.Equal(t, string(j), string(again))
	}
	assert.Equal(t, "0.0", Amount{g("-0.04"), 1}.Signed(), "nothing has no sign")
	assert.Equal(t, "-0.1", Amount{g("-0.05"), 1}.Signed())
	assert.Equal(t, "+0.1", Amount{g("0.05"), 1}.Signed())
}

func TestAmendments(t *testing.T) {
	var b bench
	b.plan("A", four...)
	b.pour("A", "Quartz", "40", "0.13")
	wrong := b.pour("A", "Whiting", "53", "0.13")
	before, err := json.Marshal(b.Find("A").Made().Lines)
	require.NoError(t, err)

	b.put("A", fact.Amended{Of: wrong, Material: "Whiting", Was: g("53"), Is: g("35"), Reason: "two digits swapped"})
	m := b.Find("A").Made()
	assert.Equal(t, "35.0", m.Lines[1].Delivered.String())
	assert.Equal(t, "in", m.Lines[1].Verdict)
	require.Len(t, m.Changes, 1)
	assert.Equal(t, "53.0 g", m.Changes[0].Old)
	assert.Equal(t, "35.0 g", m.Changes[0].New)
	told := m.Facts[wrong-1]
	assert.Contains(t, told.Words, "53.0 g of Whiting went in", "the old value is still told")
	assert.Equal(t, []uint64{4}, told.AmendedBy)
	assert.False(t, told.Void)

	// Corrected back, it is as before; twice is as good as once.
	b.put("A", fact.Amended{Of: wrong, Material: "Whiting", Was: g("35"), Is: g("53")})
	after, err := json.Marshal(b.Find("A").Made().Lines)
	require.NoError(t, err)
	assert.Equal(t, string(before), string(after))

	// Taken out, it stays out, whatever is corrected in it or taken out again.
	b.put("A", fact.Amended{Of: wrong, Material: "Whiting", Void: true})
	b.put("A", fact.Amended{Of: wrong, Material: "Whiting", Void: true})
	b.put("A", fact.Amended{Of: wrong, Material: "Whiting", Is: g("1")})
	m = b.Find("A").Made()
	assert.Zero(t, m.Lines[1].Delivered.Mass)
	assert.Zero(t, m.Lines[1].U.Mass)
	assert.Zero(t, m.Lines[1].Portions)
	assert.True(t, m.Facts[wrong-1].Void)
	assert.Equal(t, 5, m.Amended)

	// One of nothing, of itself, of another's fact: it is told and changes nothing.
	b.plan("B", four...)
	other := b.pour("B", "Quartz", "40", "0.13")
	b.put("A", fact.Amended{Of: other, Material: "Quartz", Void: true})
	b.put("A", fact.Amended{Of: 999, Material: "Quartz", Void: true})
	b.put("A", fact.Amended{Of: b.seq + 1, Void: true})
	assert.Equal(t, g("40"), b.Find("B").Made().Lines[0].Delivered.Mass)
	assert.Equal(t, g("40"), b.Find("A").Made().Lines[0].Delivered.Mass)

	b.put("A", fact.Amended{Of: 1, Field: "title", Old: "Tidewrack", New: "Tidewrack II", Reason: "second version"})
	b.put("A", fact.Finished{})
	b.put("A", fact.Amended{Of: 2, Material: "Quartz", Was: g("40"), Is: g("40.1"), Reason: "late"})
	m = b.Find("A").Made()
	assert.Equal(t, "Tidewrack II", m.Title)
	assert.Equal(t, "40.1", m.Lines[0].Delivered.String())
	assert.Equal(t, 1, m.Late)
	assert.True(t, m.Changes[len(m.Changes)-1].Late)
	assert.Equal(t, "A", search(t, b.lines, "swapped"))
}

// Whatever is poured, undone and corrected: what each material got is the sum of
// the portions that count, all of them together are the dry mass, and base shares
// add up to 100.000.
func TestMassesBalance(t *testing.T) {
	names := []string{"Quartz", "Whiting", "Ball clay", "Chromium oxide"}
	rapid.Check(t, func(t *rapid.T) {
		var b bench
		b.plan("A", four...)
		type live struct {
			seq  uint64
			name string
			m    protocol.Mass
		}
		var in []live
		for range rapid.IntRange(0, 30).Draw(t, "steps") {
			switch rapid.IntRange(0, 3).Draw(t, "what") {
			case 0, 1:
				l := live{name: rapid.SampledFrom(names).Draw(t, "name"), m: protocol.Mass(rapid.Int64Range(0, 5e15).Draw(t, "mass"))}
				l.seq = b.put("A", fact.Portion{Material: l.name, Scale: "bench", Delivered: l.m, U: g("0.13"), Step: g("0.1")})
				in = append(in, l)
			case 2: // undo: the lines are as they were before the portion
				before, _ := json.Marshal(b.Find("A").Made().Lines)
				l := live{name: rapid.SampledFrom(names).Draw(t, "name"), m: g("12.3")}
				l.seq = b.pour("A", l.name, "12.3", "0.13")
				b.put("A", fact.Amended{Of: l.seq, Material: l.name, Was: l.m, Void: true})
				after, _ := json.Marshal(b.Find("A").Made().Lines)
				if string(before) != string(after) {
					t.Fatalf("undone:\n%s\n%s", before, after)
				}
			case 3:
				if len(in) > 0 {
					k := rapid.IntRange(0, len(in)-1).Draw(t, "which")
					is := protocol.Mass(rapid.Int64Range(0, 5e15).Draw(t, "is"))
					b.put("A", fact.Amended{Of: in[k].seq, Material: in[k].name, Was: in[k].m, Is: is})
					in[k].m = is
				}
			}
		}
		b.put("A", fact.Finished{})
		m := b.Find("A").Made()
		sum := map[string]protocol.Mass{}
		var all, base protocol.Mass
		for _, l := range in {
			sum[l.name] += l.m
			all += l.m
			if l.name != "Chromium oxide" {
				base += l.m
			}
		}
		total := new(big.Rat)
		for _, l := range m.Lines {
			if l.Delivered.Mass != sum[l.Material] {
				t.Fatalf("%s: %s, want %s", l.Material, l.Delivered, sum[l.Material])
			}
			if !l.Addition {
				s, ok := new(big.Rat).SetString(l.Share)
				if !ok {
					t.Fatal(l.Share)
				}
				total.Add(total, s)
			}
		}
		if m.MadeDry.Mass != all || m.MadeBase.Mass != base {
			t.Fatalf("%s and %s, want %s and %s", m.MadeBase, m.MadeDry, base, all)
		}
		if base > 0 && total.Cmp(big.NewRat(100, 1)) != 0 {
			t.Fatalf("base shares add up to %s", total.FloatString(6))
		}
	})
}

func TestStates(t *testing.T) {
	var b bench
	b.plan("A", four...)
	assert.Equal(t, Row{Mark: "A", Title: "Tidewrack", By: "Mara", Started: morning.Add(time.Minute), State: Open, Base: Amount{g("750"), 0}, Of: 4}, b.Find("A").Row())
	b.put("A", fact.Reminded{Answer: "yes"})
	b.pour("A", "Quartz", "40", "0.13")
	b.pour("A", "Whiting", "10", "0.13")
	r := b.Find("A").Row()
	assert.Equal(t, "in", r.Worst, "what is in work is not short")
	assert.Equal(t, 1, r.Done)
	assert.Zero(t, r.Off)
	assert.Empty(t, b.Find("A").Made().Hash)
	assert.Empty(t, b.Find("A").Made().Check)
	b.put("A", fact.Decided{Question: "material", Answer: "skip", Material: "Chromium oxide"})
	b.put("A", fact.Finished{Abandoned: true})
	m := b.Find("A").Made()
	assert.Equal(t, Abandoned, m.State)
	assert.Equal(t, "under", m.Worst)
	assert.Equal(t, 3, m.Off)
	assert.Equal(t, "06"+strings.Repeat("00", 31), m.Hash)
	assert.Equal(t, "0600 0000 0000 0000", Short(m.Hash))
	assert.Contains(t, m.Check[0], "sed -n 6p")
	assert.Contains(t, m.Words[0], "closed before everything was in")

	b.put("A", fact.Portion{Material: "Quartz", Delivered: g("3"), U: g("0.1")})
	assert.Equal(t, "over", b.Find("A").Row().Worst, "over is worse than short")
	b.put("A", fact.Portion{Material: "Bone ash", Scale: "fine", Delivered: g("3"), U: g("0.1"), Step: g("0.01")})
	m = b.Find("A").Made()
	assert.Equal(t, "Bone ash", m.Lines[4].Material, "what nobody planned is shown")
	assert.Contains(t, m.Words, "Bone ash is not in the plan.")
	assert.Nil(t, b.Find("nobody"))
	b.put("nobody", fact.Noted{Text: "a note for a batch that was never planned"})
	b.put("", fact.Noted{Text: "a note for none"})
	assert.Len(t, b.Batches(), 1)
	assert.NotPanics(t, func() { b.Add(fact.Fact{Batch: "A"}, [32]byte{}) }, "a fact with no body")
	assert.NotPanics(t, func() { b.Find("A").Made() })
}

func TestCompare(t *testing.T) {
	make2 := func(chromium, u string) *bench {
		b := &bench{}
		for _, mark := range []string{"A", "B"} {
			b.plan(mark, four...)
			b.pour(mark, "Quartz", "40", "0.01")
			b.pour(mark, "Whiting", "35", "0.01")
			b.pour(mark, "Ball clay", "25", "0.01")
			c := "2"
			if mark == "B" {
				c = chromium
			}
			b.pour(mark, "Chromium oxide", c, u)
			b.put(mark, fact.Finished{})
		}
		return b
	}
	// Both with U 0.05: the joint U of the shares is √(2·(0.05² + (2/100)²·3·0.01²))
	// = 0.0707… and 0.0707… with 2.07; by hand: 0.31 ± 0.07 is 0.24 to 0.38.
	b := make2("2.31", "0.05")
	c := Compare(b.Find("A"), b.Find("B"))
	assert.True(t, c.Explains)
	x := c.Lines[3].Cells[1]
	assert.Equal(t, "+0.310", x.Less)
	assert.Equal(t, "0.071", x.JointU)
	assert.True(t, x.Differs)
	assert.Equal(t, "Yes. Chromium oxide differs by 0.23 % to 0.39 % of the base. There is more of it in B.", c.Verdict, "0.2392… to 0.3807…, rounded outwards")
	assert.Equal(t, []Cause{{"strong colourant", "Chromium oxide", true, "Chromium oxide differs by 0.23 % to 0.39 % of the base. There is more of it in B."}}, c.Causes)
	assert.Equal(t, []string{c.Verdict, "No firing is recorded, so that is not compared.", "No specific gravity is recorded, so that is not compared."}, c.Words)
	for _, l := range c.Lines[:3] {
		assert.False(t, l.Differs, l.Material)
	}

	b = make2("2.07", "0.05")
	c = Compare(b.Find("A"), b.Find("B"))
	assert.False(t, c.Explains)
	assert.Equal(t, "No: no material differs by more than the uncertainty of its weighing.", c.Verdict)
	assert.Empty(t, c.Causes)

	// Exactly as much as it must be is not more: U of A's share is 0.03, of B's 0.04 when the
	// base is exact, their joint U 0.05, and the largest of four differences must be more
	// than 2.531/2 of it, 0.063275 (Holm).
	exact := &bench{}
	for mark, cr := range map[string][2]string{"A": {"2", "0.03"}, "C": {"2.063275", "0.04"}, "D": {"2.063275001", "0.04"}, "E": {"2.23", "0.146969384"}, "F": {"2.23", "0.146969385"}} {
		exact.plan(mark, four...)
		for _, p := range [][2]string{{"Quartz", "40"}, {"Whiting", "35"}, {"Ball clay", "25"}} {
			exact.pour(mark, p[0], p[1], "0")
		}
		exact.pour(mark, "Chromium oxide", cr[0], cr[1])
		exact.put(mark, fact.Finished{})
	}
	assert.False(t, Compare(exact.Find("A"), exact.Find("C")).Lines[3].Differs)
	c = Compare(exact.Find("A"), exact.Find("D"))
	assert.True(t, c.Lines[3].Differs)
	assert.False(t, c.Explains, "3.2 % more of it than the other, and two bands of 2 % are 4 %")
	assert.Equal(t, "No: no material clearly differs by more than the bands allow.", c.Verdict)
	assert.Contains(t, c.Words, "More than the uncertainty of the weighing, but not clearly more than the bands allow: Chromium oxide.")
	// 0.23 less two bands of 0.04 is 0.15; 0.15² - 0.03² = 0.0216, whose root is 0.146969384566….
	c = Compare(exact.Find("A"), exact.Find("E"))
	assert.True(t, c.Explains)
	assert.Contains(t, c.Verdict, "by 0.08 % to 0.38 %")
	assert.False(t, Compare(exact.Find("A"), exact.Find("F")).Explains)

	// A substitute is a difference even where the amounts are alike.
	b = make2("2", "0.05")
	b.put("B", fact.Decided{Question: "material", Answer: "substitute", Material: "Quartz", With: "Flint"})
	c = Compare(b.Find("A"), b.Find("B"))
	assert.True(t, c.Lines[0].Differs)
	assert.Equal(t, "Yes. Different material for Quartz: Quartz (A), Flint (B).", c.Verdict)

	// A material that only one of them has.
	b = make2("2", "0.05")
	b.plan("D", four[:3]...)
	b.pour("D", "Quartz", "40", "0.01")
	b.pour("D", "Whiting", "35", "0.01")
	b.pour("D", "Ball clay", "25", "0.01")
	b.put("D", fact.Finished{})
	c = Compare(b.Find("D"), b.Find("A"), b.Find("B"))
	require.Len(t, c.Lines, 4)
	assert.False(t, c.Lines[3].Cells[0].In)
	assert.Equal(t, "+2.000", c.Lines[3].Cells[1].Less)
	assert.True(t, c.Lines[3].Differs)

	// Alone, or none: nothing to say and nothing breaks.
	assert.Empty(t, Compare(b.Find("A")).Words)
	assert.Empty(t, Compare().Lines)
}

// Two batches differ from each other and neither from the first.
func TestCompareOthers(t *testing.T) {
	b := &bench{}
	for i, cr := range []string{"2", "1.905", "2.095"} {
		mark := string(rune('A' + i))
		b.plan(mark, four...)
		for _, p := range [][2]string{{"Quartz", "40"}, {"Whiting", "35"}, {"Ball clay", "25"}} {
			b.pour(mark, p[0], p[1], "0")
		}
		b.pour(mark, "Chromium oxide", cr, "0.07")
		b.put(mark, fact.Finished{})
	}
	c := Compare(b.Find("A"), b.Find("B"), b.Find("C"))
	assert.True(t, c.Lines[3].Differs)
	assert.False(t, c.Lines[3].Cells[1].Differs)
	assert.False(t, c.Lines[3].Cells[2].Differs)
	assert.Equal(t, "Yes. Chromium oxide differs most between B and C, by 0.09 % to 0.29 % of the base. There is more of it in C.", c.Verdict)
}

// A name from a recipe file cannot steer the terminal, nor run in a spreadsheet.
func TestForeignTextIsHarmless(t *testing.T) {
	var b bench
	b.put("=A", fact.Planned{Title: "\x1b[2Jtitle", Lines: []fact.Line{{Material: "=HYPERLINK(\"x\")\x1b]0;\x07", Role: "base", Share: "100", Target: 1}}})
	b.put("=A", fact.Noted{Text: "two\nlines\x1b[31m\u009b31m"})
	var out bytes.Buffer
	m := b.Find("=A").Made()
	require.NoError(t, m.Render(&out))
	require.NoError(t, RenderList(&out, []Row{m.Row}, nil))
	require.NoError(t, Compare(b.Find("=A"), b.Find("=A")).Render(&out))
	for _, r := range out.String() {
		assert.False(t, r < ' ' && r != '\n' || r >= 0x7f && r < 0xa0, "%q", r)
	}
	out.Reset()
	require.NoError(t, WriteCSV(&out, false, nil, Only(b.Find("=A"))))
	rows, err := csv.NewReader(&out).ReadAll()
	require.NoError(t, err)
	assert.Equal(t, "'=A", rows[1][0])
	assert.True(t, strings.HasPrefix(rows[1][5], "'=HYPERLINK"))
}

func TestCSV(t *testing.T) {
	var out bytes.Buffer
	b := kept(t)
	require.NoError(t, WriteCSV(&out, false, nil, Only(b.Find("T1"), b.Find("T2"), b.Find("T3"))))
	assert.Equal(t, strings.Count(out.String(), "\n"), strings.Count(out.String(), "\r\n"), "RFC 4180: lines end in CR LF")
	rows, err := csv.NewReader(&out).ReadAll()
	require.NoError(t, err)
	assert.Len(t, rows, 1+3*7)
}

func TestSearch(t *testing.T) {
	b, err := os.ReadFile("../../testdata/journals/whole.jsonl")
	require.NoError(t, err)
	for q, want := range map[string]string{
		"":                                      "T3 T2 T1",
		"tidewrack":                             "T3 T2 T1",
		"MUSTY":                                 "T2", // a note
		"potash jar":                            "T2", // a reason, both words
		"potash kiln":                           "",
		"mark:t1":                               "T1",
		"by:ilse":                               "T2",
		"date:2026-11-25":                       "T3 T2",
		"date:2026-11-2":                        "T3 T2 T1",
		"date:2025":                             "",
		"material:zinc":                         "T3 T2 T1",
		`material:"second jar"`:                 "T2", // what went in instead
		`"copper carbonate, second"`:            "T2",
		"material:chromium":                     "",
		"title:satin by:mara":                   "T3 T1",
		`title:satin date:2026-11-24 zirconium`: "",
		"12:30":                                 "", // no name of ours before the colon: text
		"copper carbonate > 1.2%":               "T1",
		"copper carbonate>1.2 %":                "T1",
		"copper carbonate >= 1,19%":             "T2 T1",
		"tin oxide = 0g":                        "",
		"tin < 4.0005%":                         "T1", // T2 was left without, T3 is not finished
		"quartz > 180g":                         "T2 T1",
		`musty "quartz" > 180 g`:                "T2",
		"by:mara quartz > 180g":                 "T1",
		`material:"zinc oxide" > 44.9g`:         "T2 T1",
		"zinc > 44.9g whiting > 130g":           "T2",
		"second jar > 1%":                       "T2",
		"a <b":                                  "", // a sign before a letter is text
	} {
		assert.Equal(t, want, search(t, b, q), "%q", q)
	}
	for _, q := range []string{"by:", "by:mara by:ilse", `material:""`, "> 1%", "quartz >", "quartz > 180", "quartz > much", "quartz <> 1%", "quartz == 1g", "quartz > 1.2.3%", "by:mara > 1%"} {
		_, err := ParseQuery(q)
		assert.Error(t, err, q)
	}
}

// many builds a book of n batches of ten materials each.
func manyBatches(n int) bench {
	var b bench
	var lines []string
	for i := range 9 {
		lines = append(lines, fmt.Sprintf("base Material_%d 100/9 11 10.9 11.1", i))
	}
	lines = append(lines, "strong Chromium_oxide 2 2 1.9 2.1")
	for i := range n {
		mark := fmt.Sprintf("M%d", i)
		b.plan(mark, lines...)
		for j := range 9 {
			b.pour(mark, fmt.Sprintf("Material %d", j), fmt.Sprintf("%d.%d", 10+i%3, j), "0.129099445")
		}
		b.pour(mark, "Chromium oxide", "2.04", "0.012909945")
		b.put(mark, fact.Noted{Text: fmt.Sprintf("tile %d, upper shelf, cone 6", i)})
		b.put(mark, fact.Finished{})
	}
	return b
}

func BenchmarkCompare20(b *testing.B) {
	many := manyBatches(20)
	all := many.Batches()
	b.ReportAllocs()
	for b.Loop() {
		if c := Compare(all...); len(c.Lines) != 10 {
			b.Fatal(len(c.Lines))
		}
	}
}

func BenchmarkSearch10000(b *testing.B) {
	x := indexOf(b, manyBatches(10_000).lines)
	for _, text := range []string{"", "tile 7777,", "material:chromium date:2026-11 shelf", "nowhere", "chromium oxide > 2.2%", "chromium > 1% date:2026"} {
		q, err := ParseQuery(text)
		require.NoError(b, err)
		_, _, err = x.Search(q, 0, 200)
		require.NoError(b, err)
		b.Run(text, func(b *testing.B) {
			for b.Loop() {
				_, _, _ = x.Search(q, 0, 200)
			}
		})
	}
}

func BenchmarkMade(b *testing.B) {
	n := kept(b).Find("T2")
	for b.Loop() {
		n.Made()
	}
}

// Of what was not weighed there is no deviation and no U: they would read as if
// somebody had poured it so short.
func TestNothingIsSaidOfWhatWasNotWeighed(t *testing.T) {
	var b bench
	b.plan("A", four...)
	b.pour("A", "Quartz", "40", "0.13")
	page := func() string {
		var out bytes.Buffer
		require.NoError(t, WritePage(&out, morning.Add(time.Hour), nil, nil, 1, Only(b.Find("A"))))
		return out.String()
	}
	open := page()
	row := func(page, material string) string {
		_, rest, ok := strings.Cut(page, material+"</th>")
		require.True(t, ok, material)
		rest, _, _ = strings.Cut(rest, "</tr>")
		return rest
	}
	assert.Contains(t, row(open, "Quartz"), ">40.0</td>")
	for _, l := range b.Find("A").Made().Lines[1:] {
		assert.False(t, l.Weighed(), l.Material)
		assert.Empty(t, l.VerdictWord(), "it is in work")
		assert.Equal(t, 4, strings.Count(row(open, l.Material), `<td class="n">–</td>`), "%s: went in, off by, U, share", l.Material)
		assert.NotContains(t, row(open, l.Material), "-"+l.Target.String())
	}

	b.put("A", fact.Decided{Question: "material", Answer: "skip", Material: "Chromium oxide"})
	b.put("A", fact.Finished{Abandoned: true})
	m := b.Find("A").Made()
	var words []string
	for _, l := range m.Lines {
		words = append(words, l.VerdictWord())
	}
	assert.Equal(t, []string{"in", NothingIn, NothingIn, "skipped"}, words)
	assert.Contains(t, m.Words, "Nothing went in of: Whiting, Ball clay.")
	assert.NotContains(t, strings.Join(m.Words, " "), "short of its target")
	assert.Contains(t, row(page(), "Whiting"), "<td>nothing in</td>")
	var out bytes.Buffer
	require.NoError(t, m.Render(&out))
	assert.Contains(t, out.String(), "nothing in")

	b.plan("B", four...)
	b.put("B", fact.Finished{Abandoned: true})
	assert.Contains(t, b.Find("B").Made().Words, "Nothing went in.")
}

// Where nobody knows how much went in there is no number, and no comparison of it.
func TestOfWhatNobodyKnowsThereIsNoNumber(t *testing.T) {
	b := &bench{}
	for _, mark := range []string{"A", "B"} {
		b.plan(mark, four...)
		b.pour(mark, "Quartz", "40", "0.01")
		b.pour(mark, "Whiting", "35", "0.01")
		if mark == "A" {
			b.pour(mark, "Ball clay", "25", "0.01")
		} else {
			b.put(mark, fact.Portion{Material: "Ball clay", Scale: "bench", Target: g("25"), Step: g("0.1"), How: "not-known", Verdict: "not-known"})
		}
		b.pour(mark, "Chromium oxide", "2", "0.01")
		b.put(mark, fact.Finished{})
	}
	c := Compare(b.Find("A"), b.Find("B"))
	assert.Equal(t, "Nobody knows how much Ball clay went into some of them, so the weighing may explain that the tiles differ.", c.Verdict)
	for _, l := range c.Lines {
		assert.False(t, l.Differs, l.Material)
		assert.Empty(t, l.Cells[1].Less+l.Cells[1].Share+l.Cells[1].U, "of %s no share is known, for the base is not", l.Material)
	}
	assert.Equal(t, "not-known", c.Lines[2].Cells[1].Verdict)

	made := b.Find("B").Made()
	line, err := json.Marshal(made.Lines[2])
	require.NoError(t, err)
	for _, no := range []string{`"delivered":null`, `"u":null`, `"deviation":null`, `"share":""`, `"share_u":""`, `"deviation_percent":""`, `"beyond_u":false`} {
		assert.Contains(t, string(line), no)
	}
	assert.NotContains(t, string(line), `"g":"0.0`)
	var out strings.Builder
	require.NoError(t, made.Render(&out))
	assert.Contains(t, out.String(), "Made 75.0 g of base at least")
	out.Reset()
	require.NoError(t, WriteCSV(&out, false, nil, func(yield func(*Batch, error) bool) { yield(b.Find("B"), nil) }))
	rows, err := csv.NewReader(strings.NewReader(out.String())).ReadAll()
	require.NoError(t, err)
	for i, head := range rows[0] {
		if head == "delivered_g" || strings.HasPrefix(head, "deviation") || head == "u_g" || strings.HasPrefix(head, "dry") {
			assert.Empty(t, rows[3][i], head)
			assert.NotEmpty(t, rows[1][i], head)
		}
	}
}

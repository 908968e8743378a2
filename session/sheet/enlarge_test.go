package sheet

import (
	"math/big"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"tared/protocol"
)

func poured(sh Sheet, delivered map[string]string) []Poured {
	var ps []Poured
	for _, l := range sh.Lines {
		p := Poured{Line: l}
		if d, ok := delivered[l.Material]; ok {
			p.Delivered, p.Done = mass(d), true
		}
		ps = append(ps, p)
	}
	return ps
}

func TestEnlarge(t *testing.T) {
	sh := plan(t, tidewrack, "750g", bench) // Whiting 127.5 g, step 0.1 g, 1 %
	for _, c := range []struct {
		delivered string
		factor    string
		why       string
	}{
		{"0g", "1", "nothing in it yet"},
		{"100g", "1", "under is for a top-up, not for a larger batch"},
		{"128.7g", "1", "on the high mark"},
		{"128.8g", "5152/5151", "128.8 = 127.5·f·1.01"},
		{"150g", "2000/1717", "150 = 127.5·f·1.01"},
	} {
		ps := poured(sh, map[string]string{"Whiting": c.delivered})
		f, lines, err := Enlarge(ps, nil)
		require.NoError(t, err)
		assert.Equal(t, c.factor, f.RatString(), c.why)
		holds(t, ps, f, nil)
		for i, l := range lines {
			assert.LessOrEqual(t, ps[i].Delivered, l.High)
			assert.Equal(t, ps[i].Material, l.Material)
		}
	}
	// Two poured over: the larger factor counts.
	ps := poured(sh, map[string]string{"Whiting": "150g", "Quartz": "240g"})
	f, _, err := Enlarge(ps, nil)
	require.NoError(t, err)
	holds(t, ps, f, nil)
	assert.Equal(t, "400/303", f.RatString(), "240 = 180·f·1.01")
}

// The whole doubt of what went in must lie in the band, where that is possible at all.
func TestEnlargeGuarded(t *testing.T) {
	for _, c := range []struct{ delivered, guard, allowed, want, why string }{
		{"202g", "0g", "1%", "4", "202 = 50·f·1.01"},
		{"202g", "0.13g", "1%", "20213/5050", "202.13 = 50·f·1.01"},
		{"202g", "3g", "1%", "4", "1 % of some 200 g is no 3 g: nothing could be sure"},
		{"202g", "0.13g", "2g", "20013/5000", "202 + 0.13 - 2"},
		{"202g", "3g", "2g", "4", "202 - 2"},
	} {
		a, err := parseAllow(c.allowed)
		require.NoError(t, err)
		f, _, err := Enlarge([]Poured{{Line: Line{Material: "A", Role: Base, Target: mass("50g"), Step: mass("1g")}, Delivered: mass(c.delivered), Guard: mass(c.guard)}}, map[Role]Allow{Base: a})
		require.NoError(t, err)
		assert.Equal(t, c.want, f.RatString(), c.why)
	}
}

// Cobalt carbonate of 1 g, 1.5 g tipped, a scale of 0.1 g: by the marks 1.4 g would have been
// enough, and 7.1 % too much.
func TestEnlargeKeepsToWhatIsAllowed(t *testing.T) {
	f, lines, err := Enlarge([]Poured{{Line: Line{Material: "Cobalt carbonate", Role: Strong, Target: mass("1g"), High: mass("1.1g"), Step: mass("0.1g")}, Delivered: mass("1.5g")}}, nil)
	require.NoError(t, err)
	assert.Equal(t, "25/17", f.RatString(), "1.5 = f·1.02")
	assert.LessOrEqual(t, mass("1.5g")-lines[0].Target, lines[0].Allowed)
}

// holds checks the definition of the smallest factor from outside, with plain
// fractions: it works, and a millionth less does not.
func holds(t require.TestingT, ps []Poured, f *big.Rat, allow map[Role]Allow) {
	within := func(f *big.Rat) bool {
		for _, p := range ps {
			a, ok := allow[p.Role]
			if !ok {
				a = Standard(p.Role)
			}
			x := new(big.Rat).Mul(f, new(big.Rat).SetInt64(int64(p.Target)))
			allowed := new(big.Rat).SetInt64(int64(a.Fixed))
			if a.Share != nil {
				allowed.Mul(x, a.Share)
			}
			high := x.Add(x, allowed)
			if new(big.Rat).SetInt64(int64(p.Delivered)).Cmp(high) > 0 {
				return false
			}
		}
		return true
	}
	require.GreaterOrEqual(t, f.Cmp(big.NewRat(1, 1)), 0)
	require.True(t, within(f), "the factor works")
	less := new(big.Rat).Mul(f, big.NewRat(999_999, 1_000_000))
	if less.Cmp(big.NewRat(1, 1)) < 0 {
		less.SetInt64(1)
	}
	if less.Cmp(f) < 0 {
		require.False(t, within(less), "and nothing less does")
	}
}

func TestEnlargeIsSmallest(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		var ps []Poured
		allow := map[Role]Allow{}
		for _, r := range []Role{Base, Addition, Strong} {
			switch rapid.IntRange(0, 2).Draw(t, "allow") {
			case 1:
				allow[r] = Allow{Share: big.NewRat(rapid.Int64Range(1, 200).Draw(t, "share"), 1000)}
			case 2:
				allow[r] = Allow{Fixed: protocol.Mass(rapid.Int64Range(1, 3e12).Draw(t, "fixed"))}
			}
		}
		for range rapid.IntRange(1, 5).Draw(t, "n") {
			target := protocol.Mass(rapid.Int64Range(1, 1e15).Draw(t, "target"))
			p := Poured{Line: Line{Material: "x", Target: target,
				Role: rapid.SampledFrom([]Role{Base, Addition, Strong}).Draw(t, "role"),
				Step: protocol.Mass(rapid.SampledFrom([]int64{1e9, 1e10, 5e10, 1e11, 5e11, 1e12, 5e12}).Draw(t, "step"))}}
			p.Delivered = protocol.Mass(rapid.Int64Range(0, int64(target)*3).Draw(t, "delivered"))
			ps = append(ps, p)
		}
		f, lines, err := Enlarge(ps, allow)
		require.NoError(t, err)
		holds(t, ps, f, allow)
		for i, l := range lines {
			assert.LessOrEqual(t, ps[i].Delivered, l.High, "rounding the target keeps it inside")
			exact := new(big.Rat).Mul(f, new(big.Rat).SetInt64(int64(ps[i].Target)))
			off := exact.Sub(exact, new(big.Rat).SetInt64(int64(l.Target)))
			assert.LessOrEqual(t, off.Abs(off).Cmp(big.NewRat(2, 1)), 0)
		}
	})
}

func TestEnlargeLimits(t *testing.T) {
	sh := plan(t, tidewrack, "750g", bench)
	ps := poured(sh, map[string]string{"Whiting": "150g"})
	_, _, err := Enlarge(ps, nil, Limits{Scales: []Scale{bench}, Most: mass("1kg"), Stock: map[string]protocol.Mass{"quartz": mass("1kg")}})
	assert.NoError(t, err)
	_, _, err = Enlarge(ps, nil, Limits{Most: mass("900g"), Stock: map[string]protocol.Mass{"quartz": mass("200g")}})
	require.ErrorIs(t, err, ErrEnlarge)
	assert.Contains(t, err.Error(), "the limit set is 900 g")
	assert.Contains(t, err.Error(), "Quartz needs 209.7 g")
	_, _, err = Enlarge(ps, nil, Limits{Scales: []Scale{{Name: "bench", Step: bench.Step, Max: mass("15g")}}})
	require.ErrorIs(t, err, ErrEnlarge)
	assert.Contains(t, err.Error(), "20 portions")
	_, _, err = Enlarge(ps, nil, Limits{Scales: []Scale{fine}})
	assert.ErrorContains(t, err, "not among the scales")
	_, _, err = Enlarge(nil, nil)
	assert.ErrorIs(t, err, ErrEnlarge)
	_, _, err = Enlarge([]Poured{{}}, nil)
	assert.ErrorIs(t, err, ErrEnlarge)
	_, lines, err := Enlarge(ps, nil, Limits{Scales: []Scale{bench}, Container: mass("1900g")})
	require.NoError(t, err)
	assert.Equal(t, 4, lines[0].Portions, "358.4 g of Nepheline syenite to come, 100 g at a time")
	assert.Equal(t, 1, lines[2].Portions, "only what is to come is weighed")
}

func BenchmarkEnlarge(b *testing.B) {
	sh, err := Plan(Request{Recipe: parse(b, tidewrack), Size: Size{Base: mass("750g")}, Scales: []Scale{bench}})
	require.NoError(b, err)
	ps := poured(sh, map[string]string{"Whiting": "150g"})
	for b.Loop() {
		if _, _, err := Enlarge(ps, nil); err != nil {
			b.Fatal(err)
		}
	}
}

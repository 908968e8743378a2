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
		{"128.8g", "1276/1275", "127.6 g: its band is 1.2 g until 130 g"},
		{"150g", "1486/1275", "148.6 g: 1 % is 1.486 g, the band 1.4 g"},
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
	assert.Equal(t, "2377/1800", f.RatString(), "Quartz to 237.7 g with a band of 2.3 g")
}

// The band jumps where 1 % of the target reaches the next whole step. With a
// step of 1 g it is 1 g under 200 g and 2 g from there on.
func TestEnlargeAtTheJump(t *testing.T) {
	for delivered, want := range map[string]string{"200.9g": "1999/500", "201.5g": "4", "202g": "4", "202.5g": "401/100"} {
		f, _, err := Enlarge([]Poured{{Line: Line{Material: "A", Role: Base, Target: mass("50g"), Step: mass("1g")}, Delivered: mass(delivered)}}, nil)
		require.NoError(t, err)
		assert.Equal(t, want, f.RatString(), delivered)
	}
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
			step := big.NewInt(int64(p.Step))
			steps := new(big.Int).Quo(allowed.Num(), new(big.Int).Mul(allowed.Denom(), step))
			if steps.Sign() == 0 {
				steps.SetInt64(1)
			}
			high := x.Add(x, new(big.Rat).SetInt(steps.Mul(steps, step)))
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
			assert.LessOrEqual(t, off.Abs(off).Cmp(big.NewRat(1, 1)), 0)
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
	assert.Contains(t, err.Error(), "Quartz needs 209.7")
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

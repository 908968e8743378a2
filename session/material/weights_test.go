package material

import (
	"maps"
	"math/big"
	"slices"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// Each atomic weight against the table of IUPAC/CIAAW, Standard Atomic Weights 2021
// (ciaaw.org/atomic-weights.htm).
func TestWeightsAreThoseOfIUPAC(t *testing.T) {
	// Abridged to five figures, as in that table: read there.
	abridged := map[string]string{
		"Na": "22.990", "Al": "26.982", "P": "30.974", "K": "39.098", "Ca": "40.078", "Ti": "47.867", "V": "50.942", "Cr": "51.996", "Mn": "54.938",
		"Fe": "55.845", "Co": "58.933", "Ni": "58.693", "Cu": "63.546", "Zn": "65.38", "Sr": "87.62", "Zr": "91.224", "Cd": "112.41", "Sn": "118.71",
		"Ba": "137.33", "Pb": "207.2",
	}
	// Elements whose weight is an interval there; the value to reckon with is the
	// conventional one. Both are from memory.
	intervals := map[string]struct{ low, conventional, high string }{
		"H": {"1.00784", "1.008", "1.00811"}, "Li": {"6.938", "6.94", "6.997"}, "B": {"10.806", "10.81", "10.821"}, "C": {"12.0096", "12.011", "12.0116"},
		"O": {"15.99903", "15.999", "15.99977"}, "Mg": {"24.304", "24.305", "24.307"}, "Si": {"28.084", "28.085", "28.086"},
		"S": {"32.059", "32.06", "32.076"}, "Cl": {"35.446", "35.45", "35.457"},
	}
	// All figures that the table of 2021 gives, and the last of them that is doubtful:
	// from memory. They catch a figure that was abridged wrongly.
	full := map[string]struct{ value, u string }{
		"Na": {"22.98976928", "0.00000002"}, "Al": {"26.9815384", "0.0000003"}, "P": {"30.973761998", "0.000000005"}, "K": {"39.0983", "0.0001"},
		"Ca": {"40.078", "0.004"}, "Ti": {"47.867", "0.001"}, "V": {"50.9415", "0.0001"}, "Cr": {"51.9961", "0.0006"}, "Mn": {"54.938043", "0.000002"},
		"Fe": {"55.845", "0.002"}, "Co": {"58.933194", "0.000003"}, "Ni": {"58.6934", "0.0004"}, "Cu": {"63.546", "0.003"}, "Zn": {"65.38", "0.02"},
		"Sr": {"87.62", "0.01"}, "Zr": {"91.224", "0.002"}, "Cd": {"112.414", "0.004"}, "Sn": {"118.710", "0.007"}, "Ba": {"137.327", "0.007"},
		"Pb": {"207.2", "1.1"},
	}
	number := func(s string) *big.Rat {
		r, ok := new(big.Rat).SetString(s)
		require.True(t, ok, s)
		return r
	}
	want := maps.Clone(abridged)
	for el, v := range intervals {
		want[el] = v.conventional
	}
	for el, w := range want {
		assert.Equal(t, w, weights[el], el)
	}
	for el, v := range intervals {
		w := number(weights[el])
		// Five figures of a value may stand half a unit of the fifth outside: 15.999 of
		// oxygen does, by 0.00003.
		slack := big.NewRat(5, 10_000)
		assert.True(t, w.Cmp(new(big.Rat).Sub(number(v.low), slack)) >= 0 && w.Cmp(new(big.Rat).Add(number(v.high), slack)) <= 0, "%s %s in [%s, %s]", el, weights[el], v.low, v.high)
	}
	assert.Equal(t, slices.Sorted(maps.Keys(abridged)), slices.Sorted(maps.Keys(full)))
	for el, v := range full {
		off := new(big.Rat).Sub(number(weights[el]), number(v.value))
		most := max(len(weights[el])-1, 0) // digits of the abridged value
		assert.LessOrEqual(t, most, 5, el)
		// Half a unit of the fifth figure, or its own doubt where that is more.
		half := new(big.Rat).SetFrac64(5, 10_000)
		if number(v.value).Cmp(big.NewRat(100, 1)) >= 0 {
			half = new(big.Rat).SetFrac64(5, 1000)
		}
		if u := number(v.u); u.Cmp(half) > 0 {
			half = u
		}
		assert.LessOrEqual(t, off.Abs(off).Cmp(half), 0, "%s: %s is not %s abridged", el, weights[el], v.value)
	}
	// Combining weights of 1914, rounded to whole numbers or half ones: G. J. Cox, Pottery
	// for Artists, Craftsmen & Teachers, Materials table.
	for f, published := range map[string]string{"CaCO3": "100", "BaCO3": "197", "CuO": "79.5", "Fe2O3": "160", "Na2B4O7·10H2O": "382"} {
		off := new(big.Rat).Sub(formula(t, f).Molar(), number(published))
		assert.Negative(t, off.Abs(off).Cmp(big.NewRat(7, 10)), f)
	}
}

// No material of the table holds an element whose weight is not there.
func TestEveryFormulaOfTheTableCanBeWeighed(t *testing.T) {
	n := 0
	for _, m := range Default().All() {
		if m.Formula == "" {
			continue
		}
		n++
		assert.Positive(t, formula(t, m.Formula).Molar().Sign(), m.Name)
	}
	assert.Positive(t, n)
}

package guide

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

func TestCling(t *testing.T) {
	moved := func(l Learnt, material string, strong bool, vessel, base string) Aim {
		a, by := l.Allow(wanted, material, strong, g(vessel), g(base))
		require.Equal(t, a.Target-wanted.Target, by)
		return a
	}
	l := Learnt{}
	assert.Equal(t, wanted, moved(l, "Quartz", false, "118.4", "118.4"), "nothing is known")
	l = l.Tipped("Quartz", g("118.4"), g("118.9"))
	assert.Equal(t, Aim{g("85.5"), g("84.7"), g("86.3")}, moved(l, "Quartz", false, "118.4", "118.4"))
	assert.Equal(t, Aim{g("85.1"), g("84.3"), g("85.9")}, moved(l, "Quartz", false, "118.8", "118.8"), "0.4 g is in it already")
	assert.Equal(t, wanted, moved(l, "Whiting", false, "118.4", "118.4"), "another material")
	assert.Equal(t, wanted, moved(l, "Quartz", false, "130", "130"), "another container")
	assert.Equal(t, wanted.High, moved(l, "Quartz", true, "118.4", "118.4").High, "a strong colourant")

	next := l.Tipped("Quartz", g("118.4"), g("118.5"))
	assert.Equal(t, []Clung{{"Quartz", g("118.4"), g("0.4")}}, next.Clings(), "a quarter of what is new")
	assert.Equal(t, []Clung{{"Quartz", g("118.4"), g("0.5")}}, l.Clings(), "a value stays what it was")
	next = l.Tipped("Whiting", g("118.9"), g("118.2"))
	assert.Equal(t, []Clung{{"Quartz", g("118.2"), g("0.7")}, {"Whiting", g("118.2"), 0}}, next.Clings(), "it was not empty when it was weighed")

	for range 20 {
		l = l.Tipped("Quartz", g("118.4"), g("140"))
	}
	assert.Equal(t, g("87.55"), moved(l, "Quartz", false, "118.4", "118.4").Target, "so much never clings")
	assert.Equal(t, g("84.6"), moved(l, "Quartz", false, "118.4", "141").Target, "never far under the middle, whatever is in it")

	less, known := l.Without("Quartz")
	require.True(t, known)
	assert.Empty(t, less.Clings())
	_, known = less.Without("Quartz")
	assert.False(t, known)
}

package session

import (
	"context"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"tared/session/fact"
	"tared/session/material"
	"tared/session/sheet"
)

const strange = "# Invented\nQuartz 60\nPond clay 40\n+ Grandmother's red 2\n"

// A bench that runs on a journal of its own.
func running(t *testing.T, dir string, table *material.Table) *Bench {
	t.Helper()
	j, past, _, err := Open(dir)
	require.NoError(t, err)
	b := New(Config{Recorder: Into(j), Past: past, Materials: table, Scales: []sheet.Scale{{Name: "old", Step: g("0.1"), Max: g("2000"), Eye: true}}})
	ctx, cancel := context.WithCancel(t.Context())
	done := make(chan error, 1)
	go func() { done <- b.Run(ctx) }()
	t.Cleanup(func() {
		cancel()
		assert.NoError(t, <-done)
		assert.NoError(t, j.Close())
	})
	return b
}

func roles(sh sheet.Sheet) map[string]string {
	m := map[string]string{}
	for _, l := range sh.Lines {
		m[l.Material] = string(l.Role)
		if l.Unknown {
			m[l.Material] += "?"
		}
	}
	return m
}

// What a material is that no table knows is asked once and remembered, also
// after the daemon was started again.
func TestRolesAreRemembered(t *testing.T) {
	dir := t.TempDir()
	t.Run("first day", func(t *testing.T) {
		b := running(t, dir, nil)
		r := PlanRequest{Recipe: strange, Base: "100g", By: "Mara"}
		sh, err := b.Plan(t.Context(), r)
		require.NoError(t, err)
		assert.Equal(t, map[string]string{"Quartz": "base", "Pond clay": "base?", "Grandmother's red": "addition?"}, roles(sh))
		r.Roles = map[string]string{"grandmother's Red": "strong", "Quartz": "base"}
		_, err = b.Start(t.Context(), r)
		require.NoError(t, err)
		require.NoError(t, b.Do(t.Context(), ParseCommand("yes Mara")))
		require.NoError(t, b.Do(t.Context(), ParseCommand("abandon the bag was empty")))
	})
	t.Run("next day", func(t *testing.T) {
		b := running(t, dir, nil)
		r := PlanRequest{Recipe: strings.ToUpper(strange), Base: "100g", By: "Mara"}
		sh, err := b.Plan(t.Context(), r)
		require.NoError(t, err)
		assert.Equal(t, map[string]string{"QUARTZ": "base", "POND CLAY": "base?", "GRANDMOTHER'S RED": "strong"}, roles(sh))
		r.Roles = map[string]string{"Grandmother's red": "addition"}
		sh, err = b.Plan(t.Context(), r)
		require.NoError(t, err)
		assert.Equal(t, "addition", roles(sh)["GRANDMOTHER'S RED"], "the newer word holds")
	})
}

func TestOwnMaterials(t *testing.T) {
	table, err := material.Default().Overlay(strings.NewReader(`{"materials":[{"name":"Pond clay","kind":"clay"},
		{"name":"Grandmother's red","kind":"colourant","strong":true,"lines":[{"words":"invented warning: keep the lid on","source":"our shelf"}]}]}`))
	require.NoError(t, err)
	b := running(t, t.TempDir(), table)
	r := PlanRequest{Recipe: strange, Base: "100g", By: "Mara"}
	sh, err := b.Plan(t.Context(), r)
	require.NoError(t, err)
	assert.Equal(t, map[string]string{"Quartz": "base", "Pond clay": "base", "Grandmother's red": "strong"}, roles(sh))
	_, err = b.Start(t.Context(), r)
	require.NoError(t, err)
	w := b.Watch()
	defer w.Close()
	assert.Contains(t, string(w.Latest()), "keep the lid on", "the reminder is made from the user's table, too")
}

// A deviation may be allowed by material, and goes on to count when the batch grows.
func TestAllowByMaterial(t *testing.T) {
	scales := []sheet.Scale{{Name: "bench", Step: g("0.1"), Max: g("2000")}}
	r := PlanRequest{Recipe: strange, Base: "100g", Allow: map[string]string{"base": "2%", "pond clay": "0.5g"}}
	sh, err := r.Sheet(scales)
	require.NoError(t, err)
	assert.Equal(t, g("1.2"), sh.Lines[0].Band)
	assert.Equal(t, g("0.5"), sh.Lines[1].Band)
	p := planned(sh, r.Recipe, scales, false)
	assert.Equal(t, "0.5g", p.Allowed["pond clay"])
	b := opened(fact.Fact{Batch: "x"}, p)
	b.Steps[0].Delivered = g("66")
	e, err := b.enlarged()
	require.NoError(t, err)
	assert.Equal(t, g("0.5"), e.Lines[1].High-e.Lines[1].Target)
	_, err = PlanRequest{Recipe: strange, Base: "100g", Allow: map[string]string{"Zircon": "1%"}}.Sheet(scales)
	assert.ErrorContains(t, err, "not in the recipe")
}

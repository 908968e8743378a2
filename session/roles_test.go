package session

import (
	"time"

	"context"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"tared/session/batch"
	"tared/session/fact"
	"tared/session/fact/facttest"
	"tared/session/material"
	"tared/session/plan"
	"tared/session/sheet"
)

const strange = "# Invented\nQuartz 60\nPond clay 40\n+ Grandmother's red 2\n"

// A bench that runs on a journal of its own.
func running(t *testing.T, dir string, table *material.Table) *Bench {
	t.Helper()
	j, past, _, err := open(dir, time.Time{})
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
		r := plan.Request{Recipe: strange, Base: "100g", By: "Mara"}
		sh, err := b.Plan(t.Context(), r)
		require.NoError(t, err)
		assert.Equal(t, map[string]string{"Quartz": "base", "Pond clay": "base?", "Grandmother's red": "addition?"}, roles(sh))
		r.Roles = map[string]string{"grandmother's Red": "strong", "Quartz": "base"}
		_, err = b.Start(t.Context(), r)
		require.ErrorIs(t, err, ErrRefused)
		assert.ErrorContains(t, err, "nobody has said what this is: Pond clay.")
		r.Roles["pond clay"] = "base"
		_, err = b.Start(t.Context(), r)
		require.NoError(t, err)
		require.NoError(t, b.Do(t.Context(), ParseCommand("yes Mara")))
		require.NoError(t, b.Do(t.Context(), ParseCommand("abandon the bag was empty")))
	})
	t.Run("next day", func(t *testing.T) {
		b := running(t, dir, nil)
		r := plan.Request{Recipe: strings.ToUpper(strange), Base: "100g", By: "Mara"}
		sh, err := b.Plan(t.Context(), r)
		require.NoError(t, err)
		assert.Equal(t, map[string]string{"QUARTZ": "base", "POND CLAY": "base", "GRANDMOTHER'S RED": "strong"}, roles(sh))
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
	r := plan.Request{Recipe: strange, Base: "100g", By: "Mara"}
	sh, err := b.Plan(t.Context(), r)
	require.NoError(t, err)
	assert.Equal(t, map[string]string{"Quartz": "base", "Pond clay": "base", "Grandmother's red": "strong"}, roles(sh))
	_, err = b.Start(t.Context(), r)
	require.NoError(t, err)
	w := b.Watch(nil)
	defer w.Close()
	assert.Contains(t, string(w.Latest()), "keep the lid on", "the reminder is made from the user's table, too")
}

// A deviation may be allowed by material, and goes on to count when the batch grows.
func TestAllowByMaterial(t *testing.T) {
	scales := []sheet.Scale{{Name: "bench", Step: g("0.1"), Max: g("2000")}}
	r := plan.Request{Recipe: strange, Base: "100g", Allow: map[string]string{"base": "2%", "pond clay": "0.5g"}}
	sh, err := r.Sheet(scales)
	require.NoError(t, err)
	assert.Equal(t, g("1.2"), sh.Lines[0].Band)
	assert.Equal(t, g("0.5"), sh.Lines[1].Band)
	p := planned(sh, r.Recipe, scales, false)
	assert.Equal(t, "0.5g", p.Allowed["pond clay"])
	b := batch.New(fact.Fact{Batch: "x"}, p)
	b.Steps[0].Delivered = g("66")
	e, err := b.Enlarge()
	require.NoError(t, err)
	assert.Equal(t, g("0.5"), e.Lines[1].High-e.Lines[1].Target)
	_, err = plan.Request{Recipe: strange, Base: "100g", Allow: map[string]string{"Zircon": "1%"}}.Sheet(scales)
	assert.ErrorContains(t, err, "not in the recipe")
}

// A role is how exactly a material is weighed and what it warns of. On which side of
// the 100 it stands the recipe says, and the record must not say otherwise.
func TestARoleMovesNothingOutOfTheBase(t *testing.T) {
	const text = "Nepheline syenite 60\nQuartz 30\nZinc oxide 10\n+ Tin oxide 4\n+ Copper carbonate 10\n"
	want := []string{"60.000", "30.000", "10.000", "4.000", "10.000"}
	for _, roles := range []map[string]string{
		nil,
		{"Zinc oxide": "addition"},
		{"Zinc oxide": "strong"}, // as strong as the copper, and as much of it
		{"Tin oxide": "base"},
		{"Zinc oxide": "addition", "Tin oxide": "base", "Copper carbonate": "base", "Quartz": "strong"},
	} {
		b := running(t, t.TempDir(), nil)
		r := plan.Request{Recipe: text, Base: "200g", By: "Mara", Roles: roles}
		sh, err := b.Plan(t.Context(), r)
		require.NoError(t, err)
		encoded, err := facttest.Line(fact.Fact{Batch: "A", By: "Mara", Body: planned(sh, text, nil, false)})
		require.NoError(t, err)
		f, _, err := fact.Decode(encoded)
		require.NoError(t, err)
		p := f.Body.(fact.Planned)
		share := func(lines []fact.Line) map[string]string {
			var went []batch.Delivery
			for _, l := range lines {
				went = append(went, batch.Delivery{Delivered: l.Target})
			}
			made, base, dry := batch.AsMade(lines, went)
			assert.Equal(t, p.Base, base, roles)
			assert.Equal(t, p.Dry, dry, roles)
			m := map[string]string{}
			for _, x := range made {
				m[x.Material] = x.Share
			}
			return m
		}
		m := share(p.Lines)
		var got []string
		for _, name := range []string{"Nepheline syenite", "Quartz", "Zinc oxide", "Tin oxide", "Copper carbonate"} {
			got = append(got, m[name])
		}
		assert.Equal(t, want, got, "with the roles %v the shares are those of the recipe", roles)

		// It stays where it stands when the batch grows: such a fact tells new targets.
		grown := fact.Enlarged{Base: p.Base, Dry: p.Dry}
		for _, l := range p.Lines {
			l.Place = ""
			grown.Lines = append(grown.Lines, l)
		}
		s := State{}.Apply(f).Apply(fact.Fact{Batch: "A", Body: grown})
		assert.Equal(t, m, share(s.Batch.Lines), roles)
	}
}

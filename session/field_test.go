package session

import (
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"tared/session/fact"
	"tared/session/journal"
	"tared/session/plan"
)

// What nobody can see, or what turns the order of signs round, is in no text that is
// recorded, by whatever door it comes; nor is a text without end, nor a name that the record
// uses itself.
func TestEveryDoorRefusesWhatCannotBeShown(t *testing.T) {
	doors := map[string]func(s, by string) any{
		"command": func(s, by string) any { return Command{Word: "note", Rest: s, By: by} },
		"start": func(s, by string) any {
			return plan.Request{Recipe: "Quartz 1", Roles: map[string]string{s: "base"}, By: by}
		},
		"order": func(s, by string) any { return plan.Request{Order: []string{"Quartz", s}, By: by} },
		"series": func(s, by string) any {
			return plan.Request{Series: &plan.Series{Vary: []plan.Addition{{Material: s}}}, By: by}
		},
		"check": func(s, by string) any { return CheckRequest{Scale: s, By: by} },
		"lot": func(s, by string) any {
			return KeepRequest{Lot: &LotRequest{Material: "Quartz", Amount: "1kg", Supplier: s}, By: by}
		},
		"reason": func(s, by string) any { return KeepRequest{Correct: &CorrectRequest{Lot: "x", Reason: s}, By: by} },
		"recipe": func(s, by string) any { return KeepRequest{Recipe: &RecipeRequest{Name: s, Text: "Quartz 1"}, By: by} },
		"water":  func(s, by string) any { return EntryRequest{Watered: &WaterRequest{Words: s}, By: by} },
		"fired": func(s, by string) any {
			return EntryRequest{Fired: &fact.Fired{Kiln: "the large one", Tiles: []string{s}}, By: by}
		},
		"judged": func(s, by string) any { return EntryRequest{Judged: &fact.Judged{Tile: "1", Words: s}, By: by} },
		"strike": func(s, by string) any { return EntryRequest{Strike: &StrikeRequest{Reason: s}, By: by} },
		"vessel": func(s, by string) any { return VesselRequest{Name: s, By: by} },
		"device": func(s, by string) any { return DeviceRequest{Name: s, By: by} },
	}
	for name, door := range doors {
		for _, s := range []string{"plain words", "two\nlines", "Größe, שלום, سلام, 釉", "a\u200db"} {
			assert.NoError(t, written(door(s, "Mara")), "%s: %q", name, s)
		}
		for _, s := range []string{"\x1b[2J", "a\u0000", "\u202egnirts", "\u2066x", "\u200fx", "a\u2028b", "a\u200bb", "\xff", "\U000e0041", strings.Repeat("x", 4001)} {
			err := written(door(s, "Mara"))
			assert.ErrorIs(t, err, ErrRefused, "%s: %.20q", name, s)
		}
		for _, by := range []string{"", " ", "Mara", "Mara Sole", "Anne-Marie", "Scale-bearer", "タレ"} {
			assert.NoError(t, written(door("x", by)), "%s by %q", name, by)
		}
		for _, by := range []string{"scale", "Tared", " SCALE ", "not-named", "--json", "-", "Ma\nra", "tared\u200d", "Ma\u202era", strings.Repeat("x", 101)} {
			assert.ErrorIs(t, written(door("x", by)), ErrRefused, "%s by %q", name, by)
		}
	}
	assert.NoError(t, written(plan.Request{Recipe: strings.Repeat("x", 60_000)}), "a recipe has a limit of its own")
	assert.ErrorIs(t, written(plan.Request{Recipe: "Quartz \u202e1"}), ErrRefused)
}

// At the bench, too, and in the answers that are names. Who gave none is not named: the
// record says so, and the reminder still asks.
func TestNamesAtTheBench(t *testing.T) {
	dir := t.TempDir()
	b, stop := benchOn(t, dir)
	start := func(by string) error {
		_, err := b.Start(t.Context(), plan.Request{Recipe: recipeText, Base: "750g", By: by})
		return err
	}
	require.ErrorIs(t, start("--json"), ErrRefused)
	assert.ErrorContains(t, start("--json"), "begins with a dash")
	require.NoError(t, start(""))
	assert.ErrorIs(t, b.Do(t.Context(), Command{Word: "yes"}), ErrRefused, "it is still asked")
	for _, c := range []Command{{Word: "yes", Rest: "tared"}, {Word: "yes", Rest: "--json"}, {Word: "by", Rest: "Scale"}, {Word: "by", Rest: "a\u202eb"}, {Word: "note", Rest: "\u202eb"}, {Word: "pause", By: "-x"}} {
		assert.ErrorIs(t, b.Do(t.Context(), c), ErrRefused, "%v", c)
	}
	require.NoError(t, b.Do(t.Context(), Command{Word: "yes", Rest: "Ilse"}))
	assert.ErrorIs(t, b.Order(t.Context(), "bench", "zero", "tared"), ErrRefused)
	stop()
	var by []string
	_, err := journal.Read(dir, func(r journal.Record) error {
		by = append(by, r.By)
		return nil
	})
	require.NoError(t, err)
	assert.Equal(t, []string{"not-named", "Ilse"}, by)
}

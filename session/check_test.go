package session

import (
	"context"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"tared/protocol"
	"tared/scale"
	"tared/session/fact"
	"tared/session/fact/facttest"
	"tared/session/plan"
	"tared/session/sheet"
)

// gaugeRig is a bench that is called and never run, on a clock that the test moves.
type gaugeRig struct {
	t   *testing.T
	b   *Bench
	now time.Time
}

func newGaugeRig(t *testing.T, dir string, rules map[string]CheckRule) (*gaugeRig, func()) {
	j, past, _, err := open(dir, time.Time{})
	require.NoError(t, err)
	r := &gaugeRig{t: t, now: time.Date(2026, 3, 2, 9, 0, 0, 0, time.UTC)}
	r.b = New(Config{Recorder: Into(j), Past: past, Checks: rules, Now: func() time.Time { return r.now }, Scales: []sheet.Scale{
		{Name: "bench", Step: g("0.1"), Max: g("2000")}, {Name: "eye", Step: g("0.01"), Max: g("200"), Eye: true}}})
	return r, func() { require.NoError(t, j.Close()) }
}

// shows lets the bench scale rest at so many grams, on a device of that identity.
func (r *gaugeRig) shows(grams, usb string) {
	r.now = r.now.Add(2 * time.Second)
	d, err := protocol.ParseDecimal(grams)
	require.NoError(r.t, err)
	u := scale.Update{Scale: "bench", At: r.now, Link: scale.Up, HasReading: true, HasMass: true, Settled: true, Mass: g(grams), Step: g("0.1"),
		Identity: scale.Identity{Port: "/dev/ttyUSB0", USB: usb},
		Reading:  protocol.Reading{Status: protocol.OK, Value: d, Unit: protocol.UnitGram, Raw: []byte("ST,+" + grams + " g")}}
	require.NoError(r.t, r.b.input(Input{At: u.At, Update: &u}))
	r.b.gauged(&u)
}

func (r *gaugeRig) view(i int) *CheckView {
	v := r.b.view()
	return v.Scales[i].Check
}

func TestCheckOfAScale(t *testing.T) {
	dir := t.TempDir()
	r, closeJournal := newGaugeRig(t, dir, nil)
	assert.Equal(t, "never", r.view(0).State)
	assert.Contains(t, spoken(r.b.view().Now.Detail), "The span of the bench scale is not known", "the bench says so")
	r.shows("0.0", "1:2:a")
	require.NoError(t, r.b.check(CheckRequest{Scale: "bench", What: CheckMass, Mass: "200g", By: "Mara"}))
	assert.Contains(t, r.view(0).Doing.String(), "Take everything off")
	r.shows("0.1", "1:2:a")
	assert.Contains(t, r.view(0).Doing.String(), "Put the weight on")
	r.shows("200.2", "1:2:a")
	c := r.view(0)
	assert.Equal(t, "passed", c.State)
	assert.Empty(t, c.Doing)
	assert.Equal(t, "Mara", c.By)
	assert.Contains(t, c.Words.String(), "Performance check with 200.0 g: the scale showed 200.1 g, +0.1 g off; the limit is 0.2 g. Passed.")
	assert.NotContains(t, spoken(r.b.view().Now.Detail), "bench scale")

	r.now = time.Date(2026, 3, 2, 23, 59, 0, 0, time.UTC)
	r.shows("0.0", "1:2:a")
	assert.Equal(t, "passed", r.view(0).State, "it counts for its day")
	r.now = time.Date(2026, 3, 3, 0, 1, 0, 0, time.UTC)
	r.shows("0.0", "1:2:a")
	assert.Equal(t, "overdue", r.view(0).State)
	assert.Contains(t, spoken(r.b.view().Now.Detail), "last checked with a known weight on 2 March")

	// A failed one is said until one passes.
	require.NoError(t, r.b.check(CheckRequest{Scale: "bench", What: CheckMass, Mass: "200g"}))
	r.shows("0.0", "1:2:a")
	r.shows("199.7", "1:2:a")
	assert.Equal(t, "failed", r.view(0).State)
	assert.Contains(t, spoken(r.b.view().Now.Detail), "failed its last check")
	closeJournal()

	// It is in the journal, with what it rests on, and outlives the program.
	r, closeJournal = newGaugeRig(t, dir, nil)
	defer closeJournal()
	assert.Equal(t, "failed", r.view(0).State)
	last := r.b.workshop.scales["bench"].checked
	body := last.Body.(fact.Checked)
	assert.Equal(t, "1:2:a", body.Identity)
	assert.Equal(t, []string{"ST,+0.0 g", "ST,+199.7 g"}, body.Raw)
	assert.Equal(t, g("-0.3"), body.Deviation)
	line, err := facttest.Line(last)
	require.NoError(t, err)
	assert.Contains(t, string(line), `"kind":"checked"`)
	assert.Contains(t, string(line), `"shown":[{"g":"199.7"}]`)
}

// OIML R 76-1:2006 Table 6, in service twice that: class III, e = 0.1 g, a load of
// 200 g is 2000 e and may be 0.2 g off, 200.1 g and more 0.3 g (checks.md 1.2, derived).
func TestCheckByClass(t *testing.T) {
	rules := map[string]CheckRule{"bench": {Class: scale.ClassIII, Interval: g("0.1"), Weight: g("500"), Every: time.Hour}}
	r, closeJournal := newGaugeRig(t, t.TempDir(), rules)
	defer closeJournal()
	r.shows("0.0", "")
	require.NoError(t, r.b.check(CheckRequest{Scale: "bench", What: CheckMass}))
	r.shows("0.0", "")
	r.shows("500.3", "")
	c := r.view(0)
	assert.Equal(t, "passed", c.State)
	assert.Contains(t, c.Words.String(), "the limit is 0.3 g. Judged by class III, in service")
	assert.Contains(t, c.Limits.String(), "class III")
	assert.Equal(t, g("0.1"), r.b.workshop.scales["bench"].checked.Body.(fact.Checked).Interval)
	r.now = r.now.Add(61 * time.Minute)
	r.shows("0.0", "")
	assert.Equal(t, "overdue", r.view(0).State)

	require.NoError(t, r.b.check(CheckRequest{Scale: "bench", What: CheckEdges}))
	for i, m := range []string{"500.0", "500.1", "499.9", "500.4", "500.0"} {
		r.shows("0.0", "")
		assert.Contains(t, r.view(0).Doing.String(), edgePlaces[i].String())
		r.shows(m, "")
	}
	assert.Equal(t, "failed", r.view(0).State)
	assert.Contains(t, r.view(0).Words.String(), "at most 0.4 g off")
}

func TestRepeatabilityIsUsedByTheSheet(t *testing.T) {
	dir := t.TempDir()
	r, closeJournal := newGaugeRig(t, dir, nil)
	r.shows("0.0", "1:2:a")
	assert.Zero(t, r.b.known()[0].Spread)
	require.NoError(t, r.b.check(CheckRequest{Scale: "bench", What: CheckRepeat, Mass: "100g", By: "Ilse"}))
	for i, m := range []string{"100.0", "100.1", "100.0", "99.9", "100.0", "100.0", "100.1", "100.0", "99.9", "100.0"} {
		r.shows("0.0", "1:2:a")
		assert.Len(t, r.view(0).Seen, i)
		r.shows(m, "1:2:a")
	}
	c := r.view(0)
	assert.Empty(t, c.Doing)
	// s: the squares of the four tenths are 0.04 g2, over nine: s = 0.0667 g.
	// USP <41>: 2000 s = 133.4 g, told with two digits, rounded up.
	assert.Contains(t, c.Spread.String(), "10 placings of 100.0 g: repeatability s = 0.067 g, range 0.2 g")
	assert.Contains(t, c.Spread.String(), "140 g by USP <41>")
	assert.True(t, c.Used)
	assert.Equal(t, "never", c.State, "repeatability is no check of the mass")
	s := r.b.known()[0].Spread
	assert.Equal(t, "0.066666667", s.Grams(0))
	sh, err := sheetOf(r.b, "Quartz 60\nWhiting 40\n", "100g")
	require.NoError(t, err)
	assert.False(t, sh.Lines[0].Assumed, "the sheet rests on what was measured")
	closeJournal()

	r, closeJournal = newGaugeRig(t, dir, nil)
	defer closeJournal()
	assert.Equal(t, s, r.b.known()[0].Spread, "from then on, over a restart")
	assert.Equal(t, "repeatability", r.b.workshop.scales["bench"].repeat.Body.Kind())
	r.shows("0.0", "1:2:b")
	assert.Zero(t, r.b.known()[0].Spread, "another device under the same name")
	assert.False(t, r.view(0).Used)
	r.b.cfg.Scales[0].Spread = g("0.03")
	assert.Equal(t, g("0.03"), r.b.known()[0].Spread, "what the user says rules")
}

func sheetOf(b *Bench, recipe, base string) (sheet.Sheet, error) {
	q, err := plan.Request{Recipe: recipe, Base: base}.SheetRequest(b.known())
	if err != nil {
		return sheet.Sheet{}, err
	}
	return sheet.Plan(q)
}

// Ten equal readings are measured, too: s is 0, and U = 2 d/sqrt(6), which is the
// floor of USP <41>, 0.41 d, twice.
func TestTenEqualReadings(t *testing.T) {
	r, closeJournal := newGaugeRig(t, t.TempDir(), nil)
	defer closeJournal()
	r.shows("0.0", "")
	require.NoError(t, r.b.check(CheckRequest{Scale: "bench", What: CheckRepeat, Mass: "100g"}))
	for range scale.Placings {
		r.shows("0.0", "")
		r.shows("100.0", "")
	}
	f := r.b.workshop.scales["bench"].repeat.Body.(fact.Repeatability)
	assert.Zero(t, f.Spread)
	assert.Equal(t, "82", f.LeastUSP.Grams(0), "820 d (USP <41>, 2 * 0.41 d / 0.10 %)")
	sh, err := sheetOf(r.b, "Quartz 60\nWhiting 40\n", "100g")
	require.NoError(t, err)
	assert.False(t, sh.Lines[0].Assumed)
	assert.Equal(t, "0.082", sh.Lines[0].U.Rounded(3))
}

func TestCheckRefuses(t *testing.T) {
	r, closeJournal := newGaugeRig(t, t.TempDir(), nil)
	defer closeJournal()
	r.shows("0.0", "")
	for want, q := range map[string]CheckRequest{
		"no scale":       {Scale: "nope", What: CheckMass, Mass: "100g"},
		"is not a check": {Scale: "bench", What: "dance", Mass: "100g"},
		"Give its mass":  {Scale: "bench", What: CheckMass},
		"Check weight":   {Scale: "bench", What: CheckMass, Mass: "100"},
		"too light":      {Scale: "bench", What: CheckMass, Mass: "1g"},
		"more than":      {Scale: "bench", What: CheckMass, Mass: "3kg"},
		"under way":      {Scale: "bench", What: CheckStop},
		"read by eye":    {Scale: "eye", What: CheckRepeat, Mass: "100g"},
		"does the eye":   {Scale: "eye", What: CheckMass, Mass: "100g"},
		"finer than the": {Scale: "eye", What: CheckMass, Mass: "100g", Shown: "100.001g"},
	} {
		err := r.b.check(q)
		require.ErrorIs(t, err, ErrRefused, want)
		assert.ErrorContains(t, err, want)
	}
	require.NoError(t, r.b.check(CheckRequest{Scale: "eye", What: CheckMass, Mass: "100g", Shown: "100.01g", By: "Ilse"}))
	assert.Equal(t, "passed", r.view(1).State)

	require.NoError(t, r.b.check(CheckRequest{Scale: "bench", What: CheckMass, Mass: "100g"}))
	require.NoError(t, r.b.check(CheckRequest{Scale: "bench", What: CheckStop}))
	assert.Contains(t, r.view(0).Said.String(), "Nothing was recorded")
	require.NoError(t, r.b.check(CheckRequest{Scale: "bench", What: CheckMass, Mass: "100g"}))
	_, err := r.b.start(plan.Request{Recipe: "Quartz 60\nWhiting 40\n", Base: "1kg", By: "Mara"})
	require.NoError(t, err)
	r.shows("0.0", "")
	assert.Contains(t, r.view(0).Said.String(), "because a batch began")
	require.ErrorIs(t, r.b.check(CheckRequest{Scale: "bench", What: CheckMass, Mass: "100g"}), ErrRefused)
}

// Through the door that the page uses.
func TestBenchCheck(t *testing.T) {
	b, stop := benchOn(t, t.TempDir())
	require.ErrorContains(t, b.Check(context.Background(), CheckRequest{Scale: "bench", What: CheckMass}), "Give its mass")
	require.NoError(t, b.Check(context.Background(), CheckRequest{Scale: "bench", What: CheckMass, Mass: "100g"}))
	w := b.Watch(nil)
	assert.True(t, strings.HasPrefix(view(t, w).Scales[0].Check.Doing.String(), "Take everything off"))
	w.Close()
	stop()
	assert.ErrorIs(t, b.Check(context.Background(), CheckRequest{}), ErrStopped)
}

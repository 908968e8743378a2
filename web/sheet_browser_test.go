package web

import (
	"context"
	"testing"

	"github.com/chromedp/chromedp"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"tared/protocol"
	"tared/session"
	"tared/session/fact"
	"tared/session/plan"
	"tared/session/sheet"
)

// kept is a journal that forgets.
type kept struct{}

func (kept) Append(facts []fact.Fact) ([][]byte, error) { return make([][]byte, len(facts)), nil }

// blue is invented. On a scale of 0.1 g its cobalt cannot be weighed by itself.
const blue = "# Bath blue, invented\nQuartz 40\nPotash feldspar 35\nPond clay 25\n+ Tin oxide 5\n+ Cobalt carbonate 0.4\n"

// realBench runs a session's own bench on one scale that is read by eye.
func realBench(t *testing.T) *session.Bench { return benchOf(t, session.Past{}) }

// benchOf is the same where something has been recorded before.
func benchOf(t *testing.T, past session.Past) *session.Bench {
	t.Helper()
	b := session.New(session.Config{Past: past, Recorder: kept{}, Scales: []sheet.Scale{{Name: "bench", Step: 100 * protocol.Milligram, Max: 2 * protocol.Kilogram, Eye: true}}})
	ctx, cancel := context.WithCancel(t.Context())
	done := make(chan error, 1)
	go func() { done <- b.Run(ctx) }()
	t.Cleanup(func() { cancel(); assert.NoError(t, <-done) })
	return b
}

// press presses a button as soon as a finger could, wherever it is by then.
func press(t *testing.T, ctx context.Context, what string) {
	t.Helper()
	until(t, ctx, `(() => { const b = `+what+`; if (!b?.checkVisibility() || b.disabled || b.closest("[inert]")) return false; b.click(); return true; })()`)
}

const rowNames = `[...document.querySelectorAll("#rows th")].map((e) => e.firstChild.textContent).join()`

// A way out is taken with a button, the order changed by a key, an unknown
// material is asked for, and the whole is started on a real bench.
func TestTheSheetTakesAWayOutAndAnOrder(t *testing.T) {
	ctx, check := axeTab(t)
	bench := realBench(t)
	address, _ := served(t, func(c *Config) { c.Bench = bench })
	for _, sz := range sizes {
		resize(t, ctx, sz)
		visit(t, ctx, address+"/sheet")
		until(t, ctx, `document.getElementById("recipe").value !== ""`)
		eval[string](t, ctx, `recipe.value = `+"`"+blue+"`"+`; amount.value = "300 g"`)
		press(t, ctx, `document.querySelector("#form button[type=submit]")`)
		until(t, ctx, rowNames+` === "Quartz,Potash feldspar,Pond clay,Tin oxide,Cobalt carbonate"`)
		assert.Equal(t, 1, eval[int](t, ctx, `document.querySelectorAll("#rows .unknown").length`), "pond clay is asked for")
		press(t, ctx, `[...document.querySelectorAll("#outs button")].find((b) => b.textContent === "Weigh it this way")`)
		until(t, ctx, `!!document.querySelector(".dilution")`)
		assert.Equal(t, "111.6and 8.4 in the mixture", eval[string](t, ctx, `document.querySelector("#rows .target").textContent`))
		openTunes(t, ctx)
		press(t, ctx, `document.querySelector('[aria-label="Pond clay earlier"]')`)
		until(t, ctx, rowNames+` === "Quartz,Pond clay,Potash feldspar,Tin oxide,Cobalt carbonate"`)
		until(t, ctx, `document.activeElement.getAttribute("aria-label") === "Pond clay earlier"`)
		settle(t, ctx)
		shot(t, ctx, "sheet-diluted-"+sz.String(), true)
		assert.Empty(t, eval[[]string](t, ctx, layout), sz)
		assert.True(t, eval[bool](t, ctx, `(() => { const w = document.querySelector("#sheet .wide"); return w.scrollWidth <= w.clientWidth; })()`), "the table fits at %s", sz)
		check("sheet with a mixture")
	}
	press(t, ctx, `document.getElementById("own-order")`)
	until(t, ctx, rowNames+` === "Quartz,Potash feldspar,Pond clay,Tin oxide,Cobalt carbonate"`)
	openTunes(t, ctx)
	press(t, ctx, `document.querySelector('[aria-label="Pond clay earlier"]')`)
	until(t, ctx, rowNames+` === "Quartz,Pond clay,Potash feldspar,Tin oxide,Cobalt carbonate"`)
	press(t, ctx, isBase("Pond clay"))
	until(t, ctx, noneUnknown)
	require.NoError(t, chromedp.Do(ctx, chromedp.SendKeys(chromedp.CSS("#by"), "Ilse")))
	press(t, ctx, `document.querySelector("#start button[type=submit]")`)
	until(t, ctx, `location.pathname === "/"`)
	_, plan, ok, err := bench.Open(t.Context())
	require.NoError(t, err)
	require.True(t, ok)
	require.Len(t, plan.Mixes, 1)
	assert.Equal(t, "Cobalt carbonate", plan.Mixes[0].Parts[0].Material)
	assert.Equal(t, "Pond clay", plan.Lines[1].Material)
}

// A swap asks for its steps, and asks once what a material is that no table knows.
func TestTheSheetSwaps(t *testing.T) {
	ctx, check := axeTab(t)
	bench := realBench(t)
	address, _ := served(t, func(c *Config) { c.Bench = bench })
	for _, sz := range sizes {
		resize(t, ctx, sz)
		visit(t, ctx, address+"/sheet")
		until(t, ctx, `document.getElementById("recipe").value !== ""`)
		eval[string](t, ctx, `recipe.value = "# Bath white, invented\nQuartz 60\nWhiting 40\n"`)
		press(t, ctx, `document.querySelector("input[value=series]")`)
		assert.True(t, eval[bool](t, ctx, `document.getElementById("steps-box").hidden`))
		eval[bool](t, ctx, `(() => { const put = (id, v) => { const e = document.getElementById(id); e.value = v; e.dispatchEvent(new Event("input")); };
			put("cup", "200 g"); put("swap-out", "Quartz"); put("swap-in", "Quarry dust"); put("steps", "2"); return true; })()`)
		assert.Equal(t, "Steps of the swap", eval[string](t, ctx, `document.querySelector("#steps-box:not([hidden]) label").innerText.trim()`))
		press(t, ctx, `document.querySelector("#form button[type=submit]")`)
		until(t, ctx, `document.querySelectorAll("#cups tr.cup").length === 3`)
		assert.Equal(t, []string{"Quartz, 60\u00a0%", "Quartz, 30\u00a0%", "Quarry dust, 30\u00a0%", "Quarry dust, 60\u00a0%"},
			eval[[]string](t, ctx, `[...document.querySelectorAll("#cups tr:not(.cup) th")].map((e) => e.firstChild.data)`))
		assert.Equal(t, 1, eval[int](t, ctx, `document.querySelectorAll("#cups select").length`))
		assert.Empty(t, eval[[]string](t, ctx, layout), sz)
		shot(t, ctx, "sheet-swap-"+sz.String(), true)
		check("sheet of a swap")
	}
	press(t, ctx, isBase("Quarry dust"))
	until(t, ctx, noneUnknown)
	require.NoError(t, chromedp.Do(ctx, chromedp.SendKeys(chromedp.CSS("#by"), "Mara")))
	press(t, ctx, `document.querySelector("#start button[type=submit]")`)
	until(t, ctx, `location.pathname === "/"`)
	_, plan, ok, err := bench.Open(t.Context())
	require.NoError(t, err)
	require.True(t, ok)
	assert.Len(t, plan.Series.Plans, 3)
	assert.Equal(t, "Quarry dust", plan.Series.Swap.In)
}

func TestTheSheetStartsASeries(t *testing.T) {
	ctx, check := axeTab(t)
	bench := realBench(t)
	address, _ := served(t, func(c *Config) { c.Bench = bench })
	for _, sz := range sizes {
		resize(t, ctx, sz)
		visit(t, ctx, address+"/sheet")
		until(t, ctx, `document.getElementById("recipe").value !== ""`)
		eval[string](t, ctx, `recipe.value = "# Bath white, invented\nQuartz 60\nWhiting 40\n"`)
		press(t, ctx, `document.querySelector("input[value=series]")`)
		eval[string](t, ctx, `document.getElementById("cup").value = "200 g"; document.getElementById("vary-1").value = "Tin oxide"; document.getElementById("levels-1").value = "4 8"; document.getElementById("vary-2").value = "Rutile"; document.getElementById("levels-2").value = "3 6 9"`)
		press(t, ctx, `document.querySelector("#form button[type=submit]")`)
		until(t, ctx, `document.querySelectorAll("#cups tr.cup").length === 6`)
		assert.Contains(t, eval[string](t, ctx, `hazards.textContent`), "Rutile", "what only comes into the cups is warned of, too")
		settle(t, ctx)
		shot(t, ctx, "sheet-series-"+sz.String(), true)
		assert.Empty(t, eval[[]string](t, ctx, layout), sz)
		check("sheet of a series")
	}
	require.NoError(t, chromedp.Do(ctx, chromedp.SendKeys(chromedp.CSS("#by"), "Mara")))
	press(t, ctx, `document.querySelector("#start button[type=submit]")`)
	until(t, ctx, `location.pathname === "/"`)
	_, plan, ok, err := bench.Open(t.Context())
	require.NoError(t, err)
	require.True(t, ok)
	assert.Len(t, plan.Series.Plans, 6)
}

// The largest batch that is wanted goes from the page into the plan, and a sheet
// beyond it is refused where it is made.
func TestTheSheetTakesTheLargestBatch(t *testing.T) {
	ctx, check := axeTab(t)
	bench := realBench(t)
	address, _ := served(t, func(c *Config) { c.Bench = bench })
	for _, sz := range sizes {
		resize(t, ctx, sz)
		visit(t, ctx, address+"/sheet")
		until(t, ctx, `document.getElementById("recipe").value !== ""`)
		eval[string](t, ctx, `recipe.value = "# Bath white, invented\nQuartz 60\nWhiting 40\n"; amount.value = "300 g"; document.querySelector("#form details").open = true; most.value = "250 g"`)
		press(t, ctx, `document.querySelector("#form button[type=submit]")`)
		until(t, ctx, `!trouble.hidden`)
		assert.Equal(t, "The batch is 300\u00a0g dry, and the limit set is 250\u00a0g. Make it smaller, or allow more.", eval[string](t, ctx, `trouble.textContent`))
		assert.True(t, eval[bool](t, ctx, `document.getElementById("sheet").hidden`))
		settle(t, ctx)
		shot(t, ctx, "sheet-most-refused-"+sz.String(), true)
		check("sheet that is too large")
		eval[string](t, ctx, `most.value = "a lot"`)
		press(t, ctx, `document.querySelector("#form button[type=submit]")`)
		until(t, ctx, `trouble.textContent.includes("a lot")`)
		eval[string](t, ctx, `most.value = "0.5 kg"`)
		press(t, ctx, `document.querySelector("#form button[type=submit]")`)
		until(t, ctx, rowNames+` === "Quartz,Whiting"`)
		assert.True(t, eval[bool](t, ctx, `trouble.hidden`))
		assert.Empty(t, eval[[]string](t, ctx, layout), sz)
		settle(t, ctx)
		shot(t, ctx, "sheet-most-"+sz.String(), true)
		check("sheet with a largest batch")
	}
	require.NoError(t, chromedp.Do(ctx, chromedp.SendKeys(chromedp.CSS("#by"), "Mara")))
	press(t, ctx, `document.querySelector("#start button[type=submit]")`)
	until(t, ctx, `location.pathname === "/"`)
	_, plan, ok, err := bench.Open(t.Context())
	require.NoError(t, err)
	require.True(t, ok)
	assert.Equal(t, 500*protocol.Gram, plan.Most)
}

// openTunes opens what a person can change of each row.
func openTunes(t *testing.T, ctx context.Context) {
	t.Helper()
	eval[int](t, ctx, `document.querySelectorAll("#rows .tune").forEach((d) => { d.open = true; }), 1`)
}

// isBase says of a material that no table knows what it is.
func isBase(material string) string {
	return `(() => { const s = document.querySelector('select[data-role="` + material + `"]'); s.value = "base"; s.dispatchEvent(new Event("change", {bubbles: true})); return s; })()`
}

const noneUnknown = `document.querySelectorAll("#rows .unknown, #cups .unknown").length === 0`

// lateBench makes no sheet before it may.
type lateBench struct {
	Bench
	may chan struct{} // a sheet for each; closed: at once
}

func (b lateBench) Plan(ctx context.Context, r plan.Request) (sheet.Sheet, error) {
	select {
	case <-b.may:
	case <-ctx.Done():
	}
	return b.Bench.Plan(ctx, r)
}

// A sheet that comes late, on a slow line or from a busy machine, takes no letter from the
// name that is typed meanwhile; and only what stands in the sheet can be started.
func TestALateSheetDisturbsNobody(t *testing.T) {
	ctx := tab(t)
	bench := lateBench{realBench(t), make(chan struct{}, 1)}
	address, _ := served(t, func(c *Config) { c.Bench = bench })
	visit(t, ctx, address+"/sheet")
	until(t, ctx, `document.getElementById("recipe").value !== ""`)
	eval[string](t, ctx, `recipe.value = `+"`"+blue+"`"+`; amount.value = "300 g"`)
	bench.may <- struct{}{}
	press(t, ctx, `document.querySelector("#form button[type=submit]")`)
	until(t, ctx, rowNames+` === "Quartz,Potash feldspar,Pond clay,Tin oxide,Cobalt carbonate"`)
	openTunes(t, ctx)
	later := `document.querySelector('[aria-label="Quartz later"]')`
	eval[bool](t, ctx, later+`.focus(); true`)
	press(t, ctx, later)
	until(t, ctx, rowNames+` === "Potash feldspar,Quartz,Pond clay,Tin oxide,Cobalt carbonate"`)
	require.NoError(t, chromedp.Do(ctx, chromedp.SendKeys(chromedp.CSS("#by"), "Il")))
	// Started too soon: by the key and by the button.
	eval[bool](t, ctx, `document.querySelector("#start-go").click(); true`)
	require.NoError(t, chromedp.Do(ctx, chromedp.KeyEvent("\r")))
	bench.may <- struct{}{}
	until(t, ctx, `document.getElementById("result").getAttribute("aria-busy") === "false"`)
	settle(t, ctx)
	require.NoError(t, chromedp.Do(ctx, chromedp.KeyEvent("se")))
	assert.Equal(t, "Ilse", eval[string](t, ctx, `by.value`))
	_, _, started, err := bench.Bench.(*session.Bench).Open(t.Context())
	require.NoError(t, err)
	assert.False(t, started, "a sheet that nobody had seen")
	close(bench.may)
	press(t, ctx, isBase("Pond clay"))
	until(t, ctx, noneUnknown)
	press(t, ctx, `document.querySelector("#start-go")`)
	until(t, ctx, `location.pathname === "/"`)
	_, made, _, err := bench.Bench.(*session.Bench).Open(t.Context())
	require.NoError(t, err)
	assert.Equal(t, "Quartz", made.Lines[1].Material)
}

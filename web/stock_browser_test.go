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
)

// A lot is brought in and corrected on the page; the sheet tells that it is short
// and what can be made instead, and starts only when it is told to.
func TestTheStockBoundsTheSheet(t *testing.T) {
	ctx, check := axeTab(t)
	bench := realBench(t)
	address, _ := served(t, func(c *Config) { c.Bench = bench })
	keep := func(w session.LotRequest) {
		_, err := bench.Keep(t.Context(), session.KeepRequest{By: "Mara", Lot: &w})
		require.NoError(t, err)
	}
	visit(t, ctx, address+"/stock")
	until(t, ctx, `!document.getElementById("empty").hidden`)
	require.NoError(t, chromedp.Do(ctx, chromedp.SendKeys(chromedp.CSS("#a-material"), "Flint"), chromedp.SendKeys(chromedp.CSS("#a-amount"), "0 g"),
		chromedp.SendKeys(chromedp.CSS("#a-by"), "Mara"), chromedp.Click(chromedp.CSS("#add button"))))
	until(t, ctx, `!document.getElementById("trouble").hidden`)
	assert.Contains(t, eval[string](t, ctx, `trouble.textContent`), "must be more than zero")
	eval[string](t, ctx, `document.getElementById("a-amount").value = "150 g"; document.getElementById("a-supplier").value = "Q-2217"; ""`)
	press(t, ctx, `document.querySelector("#add button")`)
	until(t, ctx, `document.querySelectorAll("#rows tr").length === 1`)
	assert.Contains(t, eval[string](t, ctx, `done.textContent`), "Write L1 on it")
	keep(session.LotRequest{Material: "Quartz", Amount: "100g", Supplier: "Q-2301", Opened: "2026-11-20"})
	keep(session.LotRequest{Material: "Pond clay", Amount: "25kg", Moisture: "3.5%", Price: "0.40 EUR"})
	visit(t, ctx, address+"/stock")
	until(t, ctx, `document.querySelectorAll("#rows tr").length === 3`)
	eval[bool](t, ctx, `document.getElementById("mend").open = true`)
	require.NoError(t, chromedp.Do(ctx, chromedp.SendKeys(chromedp.CSS("#c-value"), "120 g"), chromedp.SendKeys(chromedp.CSS("#c-reason"), "counted, a scoop was spilled"),
		chromedp.SendKeys(chromedp.CSS("#c-by"), "Jonas"), chromedp.Click(chromedp.CSS("#correct button"))))
	until(t, ctx, `document.querySelector("#rows .left").textContent === "120"`)
	for _, sz := range sizes {
		resize(t, ctx, sz)
		visit(t, ctx, address+"/stock")
		until(t, ctx, `document.querySelectorAll("#entries li").length === 1`)
		settle(t, ctx)
		shot(t, ctx, "stock-"+sz.String(), true)
		assert.Empty(t, eval[[]string](t, ctx, layout), sz)
		check("stock")

		visit(t, ctx, address+"/sheet")
		until(t, ctx, `document.getElementById("recipe").value !== "" && !document.getElementById("from-stock").hidden`)
		eval[string](t, ctx, `recipe.value = `+"`"+blue+"`"+`; amount.value = "400 g"`)
		press(t, ctx, `document.querySelector("#form button[type=submit]")`)
		until(t, ctx, `!document.getElementById("short").hidden`)
		assert.Contains(t, eval[string](t, ctx, `document.getElementById("short").textContent`), "Quartz: 160\u00a0g is needed, and lot L1 (Q-2217) has 120\u00a0g left. There is also lot L2 (Q-2301) with 100\u00a0g")
		settle(t, ctx)
		shot(t, ctx, "sheet-short-"+sz.String(), true)
		assert.Empty(t, eval[[]string](t, ctx, layout), sz)
		check("sheet that is short")
	}
	require.NoError(t, chromedp.Do(ctx, chromedp.SendKeys(chromedp.CSS("#by"), "Ilse")))
	press(t, ctx, `document.querySelector("#start-go")`)
	until(t, ctx, `!document.getElementById("start-trouble").hidden`)
	assert.Contains(t, eval[string](t, ctx, `document.getElementById("start-trouble").textContent`), "300 g of base")
	press(t, ctx, `document.querySelector("#short button")`)
	until(t, ctx, `document.getElementById("short").hidden && document.getElementById("amount").value === "300 g"`)
	press(t, ctx, `document.querySelector("input[value=stock]")`)
	press(t, ctx, `document.querySelector("#form button[type=submit]")`)
	until(t, ctx, `document.getElementById("words").textContent.includes("enough in stock for 300\u00a0g of base")`)
	press(t, ctx, `document.getElementById("keep")`)
	until(t, ctx, `!document.getElementById("keep-done").hidden`)
	until(t, ctx, `document.getElementById("sample").textContent.includes("Bath blue, invented, version 1")`)
	press(t, ctx, isBase("Pond clay"))
	until(t, ctx, noneUnknown)
	press(t, ctx, `document.getElementById("start-go")`)
	until(t, ctx, `location.pathname === "/"`)
	_, plan, ok, err := bench.Open(t.Context())
	require.NoError(t, err)
	require.True(t, ok)
	assert.Equal(t, "Bath blue, invented, version 1", plan.Kept)
	require.Len(t, plan.Lots, 2)
	assert.Equal(t, "L1", plan.Lots[0].Lot)
}

// slowBench keeps nothing before it may.
type slowBench struct {
	Bench
	may chan struct{}
}

func (b slowBench) Keep(ctx context.Context, r session.KeepRequest) (session.Receipt, error) {
	select {
	case <-b.may:
	case <-ctx.Done():
	}
	return b.Bench.Keep(ctx, r)
}

// A form is emptied when its answer comes: what was typed into it meanwhile would be lost,
// and "150 g" become "50 g".
func TestNothingIsTypedIntoAFormThatIsOnItsWay(t *testing.T) {
	ctx := tab(t)
	bench := slowBench{realBench(t), make(chan struct{})}
	address, _ := served(t, func(c *Config) { c.Bench = bench })
	visit(t, ctx, address+"/stock")
	for id, typed := range map[string]string{"a-material": "Flint", "a-by": "Mara", "a-amount": "2 kg"} {
		require.NoError(t, chromedp.Do(ctx, chromedp.SendKeys(chromedp.CSS("#"+id), typed)))
	}
	focus := `(() => { const e = document.getElementById("a-amount"); e.focus(); return document.activeElement === e; })()`
	assert.True(t, eval[bool](t, ctx, focus))
	require.NoError(t, chromedp.Do(ctx, chromedp.KeyEvent("\r")))
	until(t, ctx, `!`+focus)
	require.NoError(t, chromedp.Do(ctx, chromedp.KeyEvent("1")))
	close(bench.may)
	until(t, ctx, `document.querySelectorAll("#rows tr").length === 1`)
	until(t, ctx, `document.activeElement.id === "a-amount"`)
	require.NoError(t, chromedp.Do(ctx, chromedp.KeyEvent("50 g")))
	assert.Equal(t, "50 g", eval[string](t, ctx, `document.getElementById("a-amount").value`))
}

// What is left of a mixture is kept on the page of the stock, which says what is in a gram
// of it; the sheet of a later batch offers it before a new one, and takes a part of it.
func TestWhatIsLeftOfAMixtureIsUsedUp(t *testing.T) {
	ctx, check := axeTab(t)
	g := func(grams string) protocol.Mass { m, _ := protocol.ParseMass(grams + "g"); return m }
	line := func(name, m string) fact.Line {
		return fact.Line{Material: name, Role: "base", Share: "1", Target: g(m), Low: g(m), High: g(m), Scale: "bench", U: 129_099_445_000}
	}
	weighed := func(name, m string) fact.Body {
		return fact.Portion{Material: name, Scale: "bench", Delivered: g(m), U: 129_099_445_000}
	}
	var past session.Past
	past.Stock.Recall = func(mark string) (all []fact.Fact) {
		for i, b := range []fact.Body{
			fact.Planned{Scales: []fact.Scale{{Name: "bench", Step: g("0.1"), Assumed: true}}, Lines: []fact.Line{line("Quartz", "120"), line("Cobalt carbonate", "1.2")},
				Mixes: []fact.Mix{{Mixing: "1/100", Take: line("mix", "9.6"), Parts: []fact.MixPart{{Material: "Cobalt carbonate", Step: line("for the cup", "10")}, {Material: "Quartz", Step: line("carrier", "70")}}}}},
			weighed("for the cup", "10"), weighed("carrier", "70"), fact.Decided{Question: "mix", Answer: "yes", Material: "mix"}, weighed("mix", "9.6"), fact.Finished{},
		} {
			if mark == "261125a" {
				all = append(all, fact.Fact{Seq: uint64(i + 1), Batch: mark, By: "Mara", Body: b})
			}
		}
		return all
	}
	bench := benchOf(t, past)
	address, _ := served(t, func(c *Config) { c.Bench = bench })
	visit(t, ctx, address+"/stock")
	until(t, ctx, `!document.getElementById("empty").hidden`)
	eval[bool](t, ctx, `document.getElementById("rest").open = true`)
	require.NoError(t, chromedp.Do(ctx, chromedp.SendKeys(chromedp.CSS("#k-batch"), "261125b"), chromedp.SendKeys(chromedp.CSS("#k-by"), "Mara")))
	press(t, ctx, `document.querySelector("#remnant button")`)
	until(t, ctx, `!document.getElementById("trouble").hidden`)
	assert.Contains(t, eval[string](t, ctx, `trouble.textContent`), "There is no batch 261125b")
	eval[string](t, ctx, `document.getElementById("k-batch").value = "261125a"; ""`)
	press(t, ctx, `document.querySelector("#remnant button")`)
	until(t, ctx, `document.querySelectorAll("#rows tr").length === 1`)
	assert.Contains(t, eval[string](t, ctx, `done.textContent`), "Write L1 on it")
	row := eval[string](t, ctx, `rows.textContent`)
	assert.Contains(t, row, "Cobalt carbonate in quartz, 1 in 8")
	assert.Contains(t, row, "70.4")
	assert.Contains(t, row, "of Cobalt carbonate, ±0.0018")
	for _, sz := range sizes {
		resize(t, ctx, sz)
		visit(t, ctx, address+"/stock")
		until(t, ctx, `document.querySelectorAll("#rows tr").length === 1`)
		settle(t, ctx)
		shot(t, ctx, "stock-kept-"+sz.String(), true)
		assert.Empty(t, eval[[]string](t, ctx, layout), sz)
		check("stock with a kept mixture")
		visit(t, ctx, address+"/sheet")
		until(t, ctx, `document.getElementById("recipe").value !== ""`)
		eval[string](t, ctx, `recipe.value = `+"`"+blue+"`"+`; amount.value = "300 g"`)
		press(t, ctx, `document.querySelector("#form button[type=submit]")`)
		press(t, ctx, `document.querySelector("[data-dilute]:not([data-from=L1])")`)
		until(t, ctx, `document.querySelector(".dilution")?.textContent.includes("Label what is left")`)
		press(t, ctx, `document.querySelector("[data-undilute]")`)
		press(t, ctx, `document.querySelector("[data-dilute][data-from=L1]")`)
		until(t, ctx, `document.querySelector(".dilution")?.textContent.includes("Mix lot L1 through")`)
		settle(t, ctx)
		shot(t, ctx, "sheet-kept-"+sz.String(), true)
		assert.Empty(t, eval[[]string](t, ctx, layout), sz)
		check("sheet with a kept mixture")
	}
	press(t, ctx, isBase("Pond clay"))
	until(t, ctx, noneUnknown)
	require.NoError(t, chromedp.Do(ctx, chromedp.SendKeys(chromedp.CSS("#by"), "Ilse")))
	press(t, ctx, `document.getElementById("start-go")`)
	until(t, ctx, `location.pathname === "/"`)
	_, plan, ok, err := bench.Open(t.Context())
	require.NoError(t, err)
	require.True(t, ok)
	require.Len(t, plan.Mixes, 1)
	assert.Equal(t, "L1", plan.Mixes[0].Lot)
	require.Len(t, plan.Lots, 1)
	assert.Equal(t, plan.Mixes[0].Take.Material, plan.Lots[0].Material)
}

// A series with too little of a colourant in a cup: the sheet says what to mix, the page of the
// stock takes in what was weighed, and then a press takes it from that lot for all cups.
func TestTheSheetOfASeriesSaysWhatToMix(t *testing.T) {
	ctx, check := axeTab(t)
	bench := realBench(t)
	address, _ := served(t, func(c *Config) { c.Bench = bench })
	wish := func() {
		until(t, ctx, `document.getElementById("recipe").value !== ""`)
		eval[string](t, ctx, `recipe.value = "# Bath blue, invented\nQuartz 40\nPotash feldspar 35\nBall clay 25\n"`)
		press(t, ctx, `document.querySelector("input[value=series]")`)
		eval[string](t, ctx, `document.getElementById("cup").value = "200 g"; document.getElementById("vary-1").value = "Cobalt carbonate"; document.getElementById("levels-1").value = "0.2 0.5 1"`)
		press(t, ctx, `document.querySelector("#form button[type=submit]")`)
	}
	for _, sz := range sizes {
		resize(t, ctx, sz)
		visit(t, ctx, address+"/sheet")
		wish()
		until(t, ctx, `document.querySelector("[data-mix]")?.textContent.includes("Mix that first: 12.0\u00a0g of Cobalt carbonate in 288.0\u00a0g of Quartz")`)
		settle(t, ctx)
		shot(t, ctx, "sheet-mix-first-"+sz.String(), true)
		assert.Empty(t, eval[[]string](t, ctx, layout), sz)
		check("sheet of a series that wants a mixture")
		press(t, ctx, `document.querySelector("[data-mix] a")`)
		until(t, ctx, `document.getElementById("mixed-box")?.open && document.getElementById("m-carrier").value === "Quartz"`)
		assert.Empty(t, eval[string](t, ctx, `document.getElementById("m-weighed").value`), "what the scale showed is for a person to type")
		settle(t, ctx)
		shot(t, ctx, "stock-mixed-"+sz.String(), true)
		assert.Empty(t, eval[[]string](t, ctx, layout), sz)
		check("stock that a mixture is brought into")
	}
	require.NoError(t, chromedp.Do(ctx, chromedp.SendKeys(chromedp.CSS("#m-weighed"), "12.0 g"), chromedp.SendKeys(chromedp.CSS("#m-into"), "288.0 g"), chromedp.SendKeys(chromedp.CSS("#m-by"), "Mara")))
	press(t, ctx, `document.querySelector("#mixed button")`)
	until(t, ctx, `document.getElementById("done").textContent.includes("Write L1 on it")`)
	visit(t, ctx, address+"/sheet")
	wish()
	until(t, ctx, `document.querySelector("[data-mix] [data-from=L1]") !== null`)
	press(t, ctx, `document.querySelector("[data-mix] [data-from=L1]")`)
	until(t, ctx, `document.querySelector("[data-mix] [data-undilute]") !== null && document.getElementById("cups").textContent.includes("70.4")`)
	press(t, ctx, `document.querySelector("#form button[type=submit]")`)
	until(t, ctx, `document.getElementById("result").getAttribute("aria-busy") !== "true"`)
	assert.True(t, eval[bool](t, ctx, `document.querySelector("[data-mix] [data-undilute]") !== null`), "the sheet made anew of the same keeps the choice")
	shot(t, ctx, "sheet-mix-used", true)
	require.NoError(t, chromedp.Do(ctx, chromedp.SendKeys(chromedp.CSS("#by"), "Mara")))
	press(t, ctx, `document.getElementById("start-go")`)
	until(t, ctx, `location.pathname === "/"`)
	_, plan, ok, err := bench.Open(t.Context())
	require.NoError(t, err)
	require.True(t, ok)
	require.Len(t, plan.Series.Plans, 3)
}

// A batch that leaves a rest of a mixture says so where it ends, and leads to where it is kept.
func TestTheBenchOffersToKeepARest(t *testing.T) {
	ctx := tab(t)
	bench := realBench(t)
	address, _ := served(t, func(c *Config) { c.Bench = bench })
	mark, err := bench.Start(t.Context(), plan.Request{Recipe: "Quartz 40\nPotash feldspar 35\nBall clay 25\n+ Cobalt carbonate 0.4\n", Base: "300g", By: "Mara", Aliquot: []string{"Cobalt carbonate"}})
	require.NoError(t, err)
	visit(t, ctx, address+"/")
	for _, word := range []string{"yes Mara", "typed 111.6g", "typed 105g", "typed 75g", "typed 10g", "typed 70g", "yes", "typed 9.6g"} {
		assert.False(t, eval[bool](t, ctx, `document.getElementById("onward-left").checkVisibility()`), word)
		require.NoError(t, bench.Do(t.Context(), session.ParseCommand(word)), word)
	}
	press(t, ctx, `document.getElementById("onward-left")`)
	until(t, ctx, `document.getElementById("rest")?.open && document.getElementById("k-batch").value === "`+mark+`"`)
}

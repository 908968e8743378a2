package web

import (
	"testing"
	"time"

	"github.com/chromedp/chromedp"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"tared/session"
	"tared/session/text"
)

// gaugeScenes are a scale's own check in each of its states, all invented.
func gaugeScenes() map[string]session.CheckView {
	at := time.Date(2026, 3, 2, 9, 0, 0, 0, time.UTC)
	passed := session.CheckView{State: "passed", At: &at, By: "Mara", Limits: text.Written("two steps"), Weight: "500 g",
		Words: text.Written("check weight 500.0 g shows 500.1 g, +0.1 g off; 0.2 g allowed (two steps): passes")}
	failed, overdue := passed, passed
	failed.State, failed.Words = "failed", text.Written("check weight 500.0 g shows 500.7 g, +0.7 g off; 0.2 g allowed (two steps): fails: find the cause")
	overdue.State = "overdue"
	repeat := passed
	repeat.Spread, repeat.Used = text.Written("10 placings of 100.0 g spread by s = 0.067 g (largest less smallest 0.2 g). Least weighable: 15.7 g as a base material (1 %), 7.8 g as an addition (2 %), 133.4 g by USP <41> (0.10 %)"), true
	running := repeat
	running.Doing, running.Want, running.Seen = text.Written("Take it off, and wait until the scale rests."), 10, []string{"100.0", "100.1", "99.9"}
	return map[string]session.CheckView{"never": {State: "never", Limits: text.Written("two steps")}, "passed": passed, "failed": failed, "overdue": overdue, "repeat": repeat, "running": running}
}

func TestAScaleIsCheckedOnItsPage(t *testing.T) {
	ctx := tab(t)
	b := newFakeBench()
	b.show(whiting())
	address, _ := served(t, func(c *Config) { c.Bench = b })
	show := func(c session.CheckView) {
		v := whiting()
		v.Scales = append([]session.ScaleView(nil), v.Scales...)
		v.Scales[0].Check = &c
		b.show(v)
	}
	for _, sz := range sizes {
		resize(t, ctx, sz)
		show(gaugeScenes()["passed"])
		visit(t, ctx, address+"/scales")
		for name, c := range gaugeScenes() {
			show(c)
			word := map[string]string{"never": "not checked", "passed": "passed", "failed": "failed", "overdue": "due", "repeat": "passed", "running": "passed"}[name]
			until(t, ctx, `document.querySelector(".gauge .chip")?.textContent.includes("`+word+`") && (document.querySelector(".gauge-doing").hidden === `+map[bool]string{true: "false", false: "true"}[!c.Doing.None()]+`)`)
			eval[bool](t, ctx, `document.querySelector(".gauge details").open = true`)
			settle(t, ctx)
			shot(t, ctx, "gauge-"+name+"-"+sz.String(), true)
			// The header is looked at with the other pages.
			assert.False(t, eval[bool](t, ctx, `document.querySelector(".gauge").scrollWidth > document.querySelector(".gauge").clientWidth`), "%s at %s", name, sz)
		}
	}
	show(gaugeScenes()["passed"])
	visit(t, ctx, address+"/scales")
	until(t, ctx, `document.querySelector(".gauge:not([hidden])") !== null`)
	until(t, ctx, `document.querySelector(".gauge-doing").hidden`)
	require.NoError(t, chromedp.Do(ctx, chromedp.Click(chromedp.CSS(`.gauge summary`))))
	press := func(what string) {
		require.NoError(t, chromedp.Do(ctx, chromedp.Click(chromedp.CSS(`.gauge [data-what=`+what+`]`))))
		until(t, ctx, `!document.querySelector(".gauge [data-what=`+what+`]").disabled`)
	}
	require.NoError(t, chromedp.Do(ctx, chromedp.SendKeys(chromedp.CSS(`.gauge input[name=by]`), "Ilse")))
	press("mass")
	require.NoError(t, chromedp.Do(ctx, chromedp.SendKeys(chromedp.CSS(`.gauge input[name=mass]`), "100g")))
	press("repeat")
	press("zero")
	show(gaugeScenes()["running"])
	until(t, ctx, `!document.querySelector(".gauge-doing").hidden`)
	press("stop")
	b.fail = &text.Refusal{Message: text.Written("batch 260302a is in work on the bench scale")}
	press("stop")
	until(t, ctx, `document.querySelector(".gauge > .trouble").textContent.includes("in work")`)
	want := []session.CheckRequest{{Scale: "bench", What: "mass", Mass: "500 g", By: "Ilse"}, {Scale: "bench", What: "repeat", Mass: "100g", By: "Ilse"},
		{Scale: "bench", What: "stop", Mass: "100g", By: "Ilse"}, {Scale: "bench", What: "stop", Mass: "100g", By: "Ilse"}}
	assert.Equal(t, want, b.checks)
	assert.Equal(t, []string{"bench zero Ilse"}, b.orders)
}

func TestAxeFindsNothingAtAScalesOwnCheck(t *testing.T) {
	ctx, check := axeTab(t)
	b := newFakeBench()
	b.show(whiting())
	address, _ := served(t, func(c *Config) { c.Bench = b })
	for name, c := range gaugeScenes() {
		v := whiting()
		v.Scales[0].Check = &c
		b.show(v)
		visit(t, ctx, address+"/scales")
		until(t, ctx, `document.querySelector(".gauge:not([hidden])") !== null`)
		eval[int](t, ctx, `document.querySelectorAll("details").forEach((d) => { d.open = true; }), 1`)
		check(name)
	}
}

package web

import (
	"encoding/json"
	"net/http"
	"net/http/httptest"
	"strings"
	"testing"

	"github.com/chromedp/chromedp"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"tared/session"
	"tared/session/book"
	"tared/session/fact"
	"tared/session/text"
)

func TestAfterRoutes(t *testing.T) {
	b := newFakeBench()
	s, err := New(Config{Bench: b, Book: fakeBook{}})
	require.NoError(t, err)
	call := func(s *Server, method, path, body string) *httptest.ResponseRecorder {
		r := httptest.NewRequest(method, "http://localhost"+path, strings.NewReader(body))
		r.RemoteAddr = "127.0.0.1:50000"
		r.Header.Set("Content-Type", "application/json")
		w := httptest.NewRecorder()
		s.handler.ServeHTTP(w, r)
		return w
	}
	w := call(s, "GET", "/api/book/c261124/after?wanted=1.4", "")
	require.Equal(t, 200, w.Code)
	var a book.After
	require.NoError(t, json.Unmarshal(w.Body.Bytes(), &a))
	assert.Contains(t, a.Water.Words[1], "gravity of 1.4")
	assert.Equal(t, http.StatusConflict, call(s, "GET", "/api/book/c261124/after?wanted=x", "").Code)
	w = call(s, "GET", "/api/book/c261124/curve/41.svg", "")
	assert.Equal(t, "image/svg+xml", w.Header().Get("Content-Type"))
	assert.Equal(t, 404, call(s, "GET", "/api/book/c261124/curve/40.svg", "").Code)
	w = call(s, "POST", "/api/after", `{"batch":"c261124","by":"Mara","judged":{"tile":"KD-A","tags":["matt"]}}`)
	require.Equal(t, 200, w.Code, w.Body)
	assert.JSONEq(t, `{"seq":43}`, w.Body.String())
	assert.Equal(t, &fact.Judged{Tile: "KD-A", Tags: []string{"matt"}}, b.requests()[0].Judged)
	b.setFail(&text.Refusal{Message: text.Written("which kiln was it?")})
	assert.Equal(t, http.StatusConflict, call(s, "POST", "/api/after", `{"batch":"c261124"}`).Code)
	assert.Equal(t, http.StatusBadRequest, call(s, "POST", "/api/after", `{"nonsense":1}`).Code)
	s, err = New(Config{Bench: b, Book: fakeBook{}, Pair: true})
	require.NoError(t, err)
	assert.Equal(t, http.StatusUnauthorized, call(s, "POST", "/api/after", `{}`).Code)
	s, err = New(Config{Bench: newFakeBench()})
	require.NoError(t, err)
	assert.Equal(t, 404, call(s, "POST", "/api/after", `{}`).Code)
	assert.Equal(t, 404, call(s, "GET", "/api/book/c261124/after", "").Code)
}

func TestAfterIsNotedOnThePageOfABatch(t *testing.T) {
	ctx, axe := axeTab(t)
	b := newFakeBench()
	b.show(whiting())
	address, _ := served(t, func(c *Config) { c.Bench = b })
	for _, sz := range sizes {
		resize(t, ctx, sz)
		visit(t, ctx, address+"/book/c261124")
		until(t, ctx, `document.querySelectorAll("#entries li").length === 3 && document.querySelector("#entries img").naturalWidth > 0`) // the curve is drawn
		eval[bool](t, ctx, `document.querySelectorAll("main details").forEach((d) => { d.removeAttribute("name"); d.open = true; }), true`)
		settle(t, ctx)
		shot(t, ctx, "after-"+sz.String(), true)
		assert.Empty(t, eval[[]string](t, ctx, layout), sz)
		axe("after " + sz.String())
	}
	assert.NotEqual(t, "run", eval[string](t, ctx, `document.title`), "markup is only words")
	require.NoError(t, chromedp.Do(ctx, chromedp.SendKeys(chromedp.CSS("#f-kiln"), "small kiln"), chromedp.SendKeys(chromedp.CSS("#f-tiles"), "KD-A, KD-C"),
		chromedp.SendKeys(chromedp.CSS("#f-by"), "Jonas"), chromedp.Click(chromedp.CSS(`form[data-kind=fired] button.first`))))
	until(t, ctx, `document.activeElement.id === "after-title"`)
	require.Len(t, b.requests(), 1)
	assert.Equal(t, session.EntryRequest{Batch: "c261124", By: "Jonas", Fired: &fact.Fired{Kiln: "small kiln", Tiles: []string{"KD-A", "KD-C"}}}, b.requests()[0])

	// A portion is corrected: the page is read anew, with the old weight beside the new.
	row := `[...document.querySelectorAll("#rows tr")].find((r) => r.textContent.includes("second jar"))`
	assert.Equal(t, "9.3 9.03", eval[string](t, ctx, row+`.querySelector(".got").textContent`))
	assert.Equal(t, "9.3", eval[string](t, ctx, row+`.querySelector(".got s").textContent`))
	assert.Contains(t, eval[string](t, ctx, row+`.textContent`), "Corrected: entry 5 was 9.3 g, is 9.03 g; Jonas")
	assert.Contains(t, eval[string](t, ctx, `document.querySelectorAll("#pour-list li")[1].textContent`), "Corrected: typed by Jonas, 30 November 2026 08:00: two digits swapped")
	assert.Contains(t, eval[string](t, ctx, `document.querySelector("#facts li:last-child").textContent`), "30 November 2026: Amended", "of another day")
	require.NoError(t, chromedp.Do(ctx, chromedp.SetValue(chromedp.CSS("#c-entry"), "5"), chromedp.SendKeys(chromedp.CSS("#c-weight"), "9.3g"), chromedp.SendKeys(chromedp.CSS("#c-reason"), "it was right"),
		chromedp.Click(chromedp.CSS(`form[data-kind=correct] button`))))
	until(t, ctx, `document.activeElement.id === "after-title" && document.getElementById("c-reason").value === ""`)
	require.Len(t, b.requests(), 2)
	assert.Equal(t, session.EntryRequest{Batch: "c261124", By: "Jonas", Correct: &session.WeightRequest{Entry: 5, Weight: "9.3g", Reason: "it was right"}}, b.requests()[1])
	require.NoError(t, chromedp.Do(ctx, chromedp.SendKeys(chromedp.CSS("#wanted"), "1.35\r")))
	until(t, ctx, `document.getElementById("water-words").textContent.includes("1.35") && `+ready)
	b.setFail(&text.Refusal{Message: text.Written("which tile was it?")})
	eval[bool](t, ctx, `document.querySelectorAll("#verdict, #verdict details").forEach((d) => d.open = true), true`)
	require.NoError(t, chromedp.Do(ctx, chromedp.SendKeys(chromedp.CSS("#j-words"), "glossy"), chromedp.Click(chromedp.CSS(`form[data-kind=judged] button`))))
	until(t, ctx, `document.getElementById("after-trouble").textContent === "which tile was it?"`)
	assert.Equal(t, "glossy", eval[string](t, ctx, `document.getElementById("j-words").value`), "what was typed stays")
}

// A vessel is measured and used on the page, with nothing of it typed but its name
// and how warm the water was.
func TestAGravityIsWeighedFromThePage(t *testing.T) {
	ctx := tab(t)
	b := newFakeBench()
	b.show(whiting())
	address, _ := served(t, func(c *Config) { c.Bench = b })
	visit(t, ctx, address+"/book/c261124")
	until(t, ctx, `document.querySelectorAll("#entries li").length === 3 && document.querySelector("form[data-kind=vessel] .here") !== null`)
	click := func(kind string, n int, told string) {
		t.Helper()
		eval[bool](t, ctx, `document.querySelector("form[data-kind=`+kind+`] .reads").children[`+[]string{"0", "1"}[n]+`].click(), true`)
		until(t, ctx, `document.querySelector("form[data-kind=`+kind+`] .readings").textContent === `+told)
	}
	eval[bool](t, ctx, `document.querySelectorAll("main details").forEach((d) => { d.removeAttribute("name"); d.open = true; }), true`)
	click("vessel", 0, `"Empty: 52.1\u00a0g. Now fill it and put it back on."`)
	click("vessel", 1, `"Empty 52.1\u00a0g, full 200.8\u00a0g."`)
	require.NoError(t, chromedp.Do(ctx, chromedp.SendKeys(chromedp.CSS("#v-name"), "the cylinder"), chromedp.SendKeys(chromedp.CSS("#v-celsius"), "20"),
		chromedp.SendKeys(chromedp.CSS("#v-by"), "Mara"), chromedp.Click(chromedp.CSS(`form[data-kind=vessel] button.first`))))
	until(t, ctx, `document.querySelectorAll("#w-vessel option").length === 2`)
	assert.Equal(t, session.VesselRequest{Name: "the cylinder", By: "Mara", Celsius: "20", Weighed: session.WeighedHere{Before: 1, After: 2}}, b.vessels[0])

	eval[bool](t, ctx, `(() => { const w = document.getElementById("watered-what"); w.value = "sample_here"; w.dispatchEvent(new Event("change")); document.getElementById("w-vessel").value = "the cylinder"; document.querySelectorAll("main details").forEach((d) => { d.removeAttribute("name"); d.open = true; }); return true; })()`)
	click("watered", 0, `"Empty: 52.1\u00a0g. Now fill it and put it back on."`)
	click("watered", 1, `"Empty 52.1\u00a0g, full 200.8\u00a0g."`)
	require.NoError(t, chromedp.Do(ctx, chromedp.Click(chromedp.CSS(`form[data-kind=watered] button.first`))))
	until(t, ctx, `document.activeElement.id === "after-title" && document.querySelector("form[data-kind=watered] .readings").textContent === ""`)
	require.Len(t, b.requests(), 1)
	assert.Equal(t, &session.WaterRequest{Vessel: "the cylinder", SampleHere: session.WeighedHere{Before: 3, After: 4}}, b.requests()[0].Watered)
	assert.Equal(t, "Mara", b.requests()[0].By, "the name is kept from form to form")

	b.setFail(&text.Refusal{Message: text.Written("the bench scale is not at rest")})
	eval[bool](t, ctx, `document.querySelectorAll("main details").forEach((d) => { d.removeAttribute("name"); d.open = true; }), true`)
	click("watered", 0, `"the bench scale is not at rest"`)
}

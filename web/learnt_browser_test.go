package web

import (
	"tared/session/text"
	"testing"

	"github.com/chromedp/chromedp"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// What was learnt of a scale and of a person is shown on the scales page, and can be
// learnt anew there.
func TestWhatWasLearntIsShownAndLearntAnew(t *testing.T) {
	ctx := tab(t)
	address, b := served(t, nil)
	b.show(whiting())
	for _, sz := range sizes {
		resize(t, ctx, sz)
		visit(t, ctx, address+"/scales")
		until(t, ctx, `!document.getElementById("learnt").hidden`)
		eval[int](t, ctx, `document.querySelectorAll("details").forEach((d) => { d.open = true; }), 1`)
		settle(t, ctx)
		shot(t, ctx, "learnt-"+sz.String(), true)
		assert.Empty(t, eval[[]string](t, ctx, layout), sz)
	}
	assert.Equal(t, "Ilse 0.19 s Mara 0.27 s", eval[string](t, ctx, `[...document.querySelectorAll("#learnt-list li")].map((li) => li.children[0].textContent + " " + li.children[1].textContent).join(" ")`))
	assert.Equal(t, []string{"0.31 s"}, eval[[]string](t, ctx, `[...document.querySelectorAll(".about dt")].filter((dt) => dt.textContent === "Display lag" && !dt.hidden).map((dt) => dt.nextElementSibling.textContent)`))
	press := func(of string) {
		require.NoError(t, chromedp.Do(ctx, chromedp.Click(chromedp.CSS(`button[data-of=`+of+`]`))))
		until(t, ctx, `!document.querySelector("button[data-of=`+of+`]").disabled`)
	}
	press("bench")
	press("Mara")
	said := []string{}
	for _, c := range b.commands() {
		said = append(said, c.Word+" "+c.Rest)
	}
	assert.Equal(t, []string{"relearn bench", "relearn Mara"}, said)
	b.fail = &text.Refusal{Message: text.Written(`nothing was learnt of "Mara"`)}
	press("Mara")
	until(t, ctx, `document.getElementById("learnt-trouble").textContent.includes("nothing was learnt")`)
}

func TestAxeFindsNothingWhereWhatWasLearntStands(t *testing.T) {
	ctx, check := axeTab(t)
	address, b := served(t, nil)
	b.show(whiting())
	visit(t, ctx, address+"/scales")
	until(t, ctx, `!document.getElementById("learnt").hidden`)
	eval[int](t, ctx, `document.querySelectorAll("details").forEach((d) => { d.open = true; }), 1`)
	check("learnt")
}

package web

import (
	"encoding/json"
	"fmt"
	"net/http"
	"net/url"
	"strings"
	"testing"

	"github.com/chromedp/cdproto/emulation"
	"github.com/chromedp/chromedp"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"tared/session/calc"
)

func TestTheServerAnswersEveryQuestion(t *testing.T) {
	s, _ := newServer(t, nil)
	page := do(s, request("GET", "/calc", "")).Body.String()
	for _, topic := range calc.Topics() {
		for _, f := range topic.Forms {
			q := url.Values{}
			for _, g := range f.Example.Given {
				q.Set(g.Key, g.Text)
			}
			w := do(s, request("GET", "/api/calc/"+topic.Name+"?"+q.Encode(), ""))
			require.Equal(t, http.StatusOK, w.Code, w.Body.String())
			var a struct {
				Words  string
				Values json.RawMessage
			}
			require.NoError(t, json.Unmarshal(w.Body.Bytes(), &a))
			assert.Equal(t, f.Example.Says, strings.ReplaceAll(a.Words, "\u00a0", " "))
			assert.Equal(t, f.Example.JSON, string(a.Values))
			for _, arg := range f.Args {
				assert.Contains(t, page, `name="`+arg.Name+`"`)
			}
		}
	}
}

func TestAQuestionThatCannotBeNamesItsField(t *testing.T) {
	s, _ := newServer(t, nil)
	for _, c := range []struct {
		path, key, says string
		code            int
	}{
		{"/api/calc/least?step=0.1g&share=0%25", "share", "more than zero", http.StatusUnprocessableEntity},
		{"/api/calc/least?step=&share=2%25", "step", "no value", http.StatusUnprocessableEntity},
		{"/api/calc/least?step=1g&step=2g&share=2%25", "", "given twice", http.StatusUnprocessableEntity},
		{"/api/calc/slip?gravity=1,500&solid=2.6", "gravity", "two ways", http.StatusUnprocessableEntity},
		{"/api/calc/metal?from=Cr2O3&to=K2Cr2O7", "to", "chromium(VI)", http.StatusUnprocessableEntity},
		{"/api/calc/slip", "", "missing", http.StatusUnprocessableEntity},
		{"/api/calc/sugar", "", "no such question", http.StatusNotFound},
		{"/api/calc/parts?amounts=" + strings.Repeat("1+", 3000), "", "too long", http.StatusRequestURITooLong},
	} {
		w := do(s, request("GET", c.path, ""))
		assert.Equal(t, c.code, w.Code, c.path)
		var f fault
		require.NoError(t, json.Unmarshal(w.Body.Bytes(), &f))
		assert.Contains(t, f.Error, c.says, c.path)
		if c.key != "" {
			assert.Equal(t, c.key, f.Key, c.path)
		}
	}
}

// chosen is a piece of script: the form so far down in the question that is shown.
func chosen(form int) string {
	return fmt.Sprintf(`document.querySelectorAll(".topic:not([hidden]) .question")[%d]`, form)
}

// Every form of every question is filled with its example and answered, at
// every size, and looked at.
func TestTheCalcPageAnswersAtEverySize(t *testing.T) {
	ctx := tab(t)
	address, _ := served(t, nil)
	visit(t, ctx, address+"/calc")
	for _, sz := range sizes {
		resize(t, ctx, sz)
		for _, topic := range calc.Topics() {
			t.Run(sz.String()+"/"+topic.Name, func(t *testing.T) {
				visit(t, ctx, address+"/calc#"+topic.Name)
				until(t, ctx, fmt.Sprintf(`document.querySelector(".topic:not([hidden])")?.dataset.topic === %q && document.querySelector('.topics [aria-current]')?.hash === %q`, topic.Name, "#"+topic.Name))
				assert.Equal(t, 1, eval[int](t, ctx, `document.querySelectorAll(".topic:not([hidden])").length`), "one question at a time")
				for i, f := range topic.Forms {
					eval[bool](t, ctx, chosen(i)+`.requestSubmit(), true`)
					until(t, ctx, fmt.Sprintf(`%s.querySelector(".answer .words")?.textContent.replaceAll("\u00a0", " ") === %s`, chosen(i), quote(t, f.Example.Says)))
					text := eval[string](t, ctx, chosen(i)+`.parentElement.textContent`)
					for _, words := range append(append([]string{}, f.Formula...), f.Source...) {
						assert.Contains(t, text, words)
					}
				}
				settle(t, ctx)
				shot(t, ctx, "calc-"+topic.Name+"-"+sz.String(), true)
				assert.Empty(t, eval[[]string](t, ctx, layout))
			})
		}
	}
}

func quote(t *testing.T, s string) string {
	t.Helper()
	b, err := json.Marshal(s)
	require.NoError(t, err)
	return string(b)
}

func TestAPersonAsksAndIsAnswered(t *testing.T) {
	ctx := tab(t)
	address, _ := served(t, nil)
	for _, sz := range []size{sizes[1], sizes[2]} {
		resize(t, ctx, sz)
		visit(t, ctx, address+"/")
		visit(t, ctx, address+"/calc")
		require.NoError(t, chromedp.Do(ctx, chromedp.Click(chromedp.CSS(`.topics a[href="#thin"]`))))
		until(t, ctx, `document.activeElement.id === "thin-title"`)
		write := func(id, text string) {
			t.Helper()
			eval[bool](t, ctx, fmt.Sprintf(`document.getElementById(%q).select(), document.getElementById(%q).focus(), true`, id, id))
			require.NoError(t, chromedp.Do(ctx, chromedp.SendKeys(chromedp.CSS("#"+id), text)))
		}
		eval[bool](t, ctx, `["thin-volume", "thin-gravity", "thin-to"].forEach((id) => { document.getElementById(id).value = ""; }), true`)
		write("thin-volume", "5 l")
		write("thin-gravity", "1,55")
		write("thin-to", "1.40\r")
		until(t, ctx, chosen(0)+`.querySelector(".answer .words")?.textContent.startsWith("1875\u00a0g of water")`)

		// Other figures: the old answer must not stand beside them.
		write("thin-to", "9")
		assert.Equal(t, "", eval[string](t, ctx, chosen(0)+`.querySelector(".answer").textContent`))

		// What cannot be is said at its field.
		eval[bool](t, ctx, `document.getElementById("thin-to").value = "1.7", true`)
		require.NoError(t, chromedp.Do(ctx, chromedp.Click(chromedp.CSS(`.topic[data-topic=thin] button`))))
		until(t, ctx, `document.activeElement.id === "thin-to" && document.activeElement.getAttribute("aria-invalid") === "true"`)
		assert.Contains(t, eval[string](t, ctx, chosen(0)+`.querySelector(".trouble").textContent`), "not thinner")
		settle(t, ctx)
		shot(t, ctx, "calc-refused-"+sz.String(), true)
		assert.Empty(t, eval[[]string](t, ctx, layout))
	}
}

func TestAxeFindsNothingOnTheCalcPage(t *testing.T) {
	ctx, check := axeTab(t)
	address, _ := served(t, nil)
	for _, theme := range []string{"light", "dark"} {
		media(t, ctx, &emulation.MediaFeature{Name: "prefers-color-scheme", Value: theme})
		for _, sz := range []size{sizes[0], sizes[2]} {
			resize(t, ctx, sz)
			topics := calc.Topics()
			if theme == "dark" {
				topics = topics[:2] // the colours are the same in all
			}
			for _, topic := range topics {
				visit(t, ctx, address+"/calc#"+topic.Name)
				until(t, ctx, fmt.Sprintf(`document.querySelector(".topic:not([hidden])")?.dataset.topic === %q`, topic.Name))
				for i := range topic.Forms {
					eval[bool](t, ctx, chosen(i)+`.requestSubmit(), true`)
					until(t, ctx, chosen(i)+`.querySelector(".answer .words") !== null`)
				}
				if theme == "dark" {
					settle(t, ctx)
					shot(t, ctx, "dark-calc-"+topic.Name+"-"+sz.String(), true)
				}
				check("calc " + topic.Name + " " + theme + " " + sz.String())
			}
			// And with a refusal.
			eval[bool](t, ctx, `document.querySelector(".topic:not([hidden]) input").value = "", true`)
			eval[bool](t, ctx, chosen(0)+`.requestSubmit(), true`)
			until(t, ctx, `!document.querySelector(".topic:not([hidden]) .trouble").hidden`)
			check("calc, refused, " + theme)
			eval[bool](t, ctx, chosen(0)+`.reset(), true`)
		}
	}
}

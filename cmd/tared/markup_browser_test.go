//go:build unix

package main

import (
	"bytes"
	"context"
	"net"
	"net/url"
	"path/filepath"
	"strings"
	"testing"

	"github.com/chromedp/cdproto/page"
	"github.com/chromedp/chromedp"
	"github.com/rs/zerolog"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"tared/web"
)

// evil would, if it were taken for more than words, make an element and run a script.
// tag does the first only, for where an equals sign has a meaning.
const (
	evil = `<evil-tag title='"><img src=x onerror=window.ran=1>`
	tag  = `<evil-tag>`
)

// Materials, recipes, people, tiles, tags, lots, vessels and notes may be named by
// anybody, in a recipe that was sent for example. Every live page shows such a name as
// the words that it is. The policy that keeps scripts out of the pages is switched off
// in this browser, so that nothing else holds what is tried here.
func TestMarkupInANameIsOnlyWords(t *testing.T) {
	t.Parallel()
	b := browser(t) // before the work, so that without one it is not done
	ctx, stop := context.WithDeadline(b, deadline(t))
	defer stop()
	dir := t.TempDir()
	recipe := "# " + evil + " glaze, invented\n" + evil + " 60\nBall clay 40\n+ Oxide " + evil + " 2\nWater 80%\n"
	file := writeFile(t, "recipe.txt", recipe)
	common := writeFile(t, "common.txt", "# "+evil+" series, invented\n"+evil+" 60\nBall clay 40\n")
	say := func(want int, words string, args ...string) {
		t.Helper()
		var out, errs bytes.Buffer
		code := run(t.Context(), append(args, "--data", dir), strings.NewReader(words), &out, &errs)
		require.Equal(t, want, code, "%v: %s%s", args, out.String(), errs.String())
	}
	eye := []string{"--scale", "name=eye,port=eye,step=0.01g,max=2000g", "--by", evil}
	say(0, "base\naddition\nyes "+evil+"\nnote "+evil+"\ntyped 120g\ntyped 80g\ntyped 4g\ntyped 163.2g\n", append([]string{"weigh", file, "--base", "200g"}, eye...)...)
	say(0, "yes "+evil+"\ntyped 121g\ntyped 80g\ntyped 4.5g\nkeep\ntyped 164g\n", append([]string{"weigh", file, "--base", "200g"}, eye...)...)
	say(0, "addition\nyes "+evil+"\ntyped 75.6g\ntyped 50.4g\nyes\ntyped 60g\ntyped 6g\ntyped 60g\ntyped 12g\n", append([]string{"weigh", common, "--cup", "60g", "--vary", tag + "=10 20"}, eye...)...)
	marks := func() (all []string) {
		x, err := readIndex(dir, true)
		require.NoError(t, err)
		for mark := range x.Marks() {
			all = append(all, mark)
		}
		return all
	}()
	require.Len(t, marks, 5, "two batches, a tub and two cups: %v", marks)
	first, second, tub, cup := marks[0], marks[1], marks[2], marks[3]
	by := []string{"--by", evil}
	say(0, "", append([]string{"correct", first, "--entry", "7", "--weight", "119.90g", "--reason", evil}, by...)...)
	say(0, "", append([]string{"vessel", evil, "--water", "99.8g", "--celsius", "20"}, by...)...)
	say(0, "", append([]string{"water", first, "--sample", "148.7g", "--vessel", evil, "--note", evil}, by...)...)
	for _, mark := range []string{first, second, cup} {
		say(0, "", append([]string{"fire", mark, "--kiln", evil, "--cone", evil, "--atmosphere", evil, "--tile", evil, "--curve", writeFile(t, "curve.csv", "0,20\n90,1222\n"), "--note", evil, "--photo", pictureFile(t)}, by...)...)
		say(0, "", append([]string{"judge", mark, "--tile", evil, "--clay", evil + mark, "--words", evil, "--tag", evil, "--verdict", evil, "--next", evil, "--photo", pictureFile(t)}, by...)...)
	}
	say(0, "", append([]string{"stock", "--add", evil, "--amount", "25kg", "--supplier", evil, "--price", "1 EUR"}, by...)...)
	say(0, "", append([]string{"stock", "--correct", "L1", "--supplier", "x", "--reason", evil}, by...)...)
	say(0, "", append([]string{"recipe", "--save", file}, by...)...)
	say(1, "yes "+evil+"\ntyped 120g\n", append([]string{"weigh", file, "--base", "200g"}, eye...)...) // stays open

	scales := scaleFlags{specs: []string{"name=eye,port=eye,step=0.01g,max=2000g"}}
	all, err := scales.parse(false)
	require.NoError(t, err)
	w, err := newLiveBench(liveBenchConfig{dir: dir, scales: all, log: zerolog.Nop()})
	require.NoError(t, err)
	serving, end := context.WithCancel(t.Context())
	ready, done := make(chan net.Addr, 1), make(chan error, 1)
	go func() {
		done <- withPage(serving, w, web.Config{Addr: "127.0.0.1:0", Log: zerolog.Nop(), Book: pageBook{&w.record}, Photos: dir, Ready: func(a net.Addr) { ready <- a }})
	}()
	defer func() {
		end()
		require.NoError(t, <-done)
		require.NoError(t, w.Close())
	}()
	root := "http://" + pageHost(<-ready)

	require.NoError(t, func() error {
		_, err := chromedp.Call(ctx, page.SetBypassCSP, page.SetBypassCSPParams{Enabled: true})
		return err
	}())
	p := &tab{t: t, ctx: ctx}
	open := func(path string) {
		t.Helper()
		require.NoError(t, chromedp.Do(ctx, chromedp.Navigate(root+path)))
	}
	// This must be able to fail: put in as markup, it makes an element and runs.
	open("/proof")
	p.js(`document.readyState === "complete"`)
	p.eval(`document.querySelector("main").innerHTML = "` + strings.ReplaceAll(strings.Replace(evil, "'", "&#39;", 1), `"`, `\"`) + `' >x<img src=x onerror=window.ran=1>", ""`)
	p.js(`window.ran === 1 && document.querySelector("evil-tag") !== null`)

	escaped := url.PathEscape(evil)
	// What a page shows when it is done: the name, as often as it must stand there.
	for _, at := range []struct{ path, done string }{
		{"/", `document.querySelectorAll("#steps .step").length >= 4`},
		{"/sheet", `[...document.querySelectorAll("select option")].some((o) => o.textContent.includes("evil-tag"))`},
		{"/book", ``},
		{"/book?find=" + url.QueryEscape(evil), ``},
		{"/book?find=" + url.QueryEscape("tag:"+evil), ``},
		{"/book?find=" + url.QueryEscape(evil+" > 1%"), ``},
		{"/book/" + first, `document.querySelectorAll("#entries li").length === 3 && document.querySelectorAll("#w-vessel option").length === 2`},
		{"/book/" + second, `document.querySelectorAll("#entries li").length === 2`},
		{"/book/" + cup, `document.querySelectorAll("#entries li").length === 2`},
		{"/book/" + escaped, `!document.getElementById("trouble").hidden`},
		{"/compare?mark=" + first + "&mark=" + second, ``},
		{"/compare?mark=" + first + "&mark=" + second + "&mark=" + cup, ``},
		{"/compare?mark=" + first + "&mark=" + url.QueryEscape(evil), ``},
		{"/series/" + tub, `document.querySelectorAll("#grids td a.cup").length === 2`},
		{"/series/" + escaped, `!document.getElementById("trouble").hidden`},
		{"/stock", `document.querySelectorAll("#rows tr").length === 1 && document.querySelectorAll("#entries li").length === 1`},
		{"/label/" + first, ``},
		{"/label/" + escaped, ``},
	} {
		open(at.path)
		p.js(`document.readyState === "complete"`)
		if at.done != "" {
			p.js(at.done)
		}
		// A picture that is not there fires its error in a turn of its own.
		p.js(`new Promise((done) => { const i = new Image(); i.onerror = () => requestAnimationFrame(() => done(true)); i.src = "x"; })`)
		assert.Equal(t, "", p.eval(`[...document.querySelectorAll("evil-tag, img[onerror], script:not([src], .words[type='application/json'])")].map((e) => e.outerHTML).join()`), at.path)
		assert.Equal(t, "undefined", p.eval(`String(window.ran)`), at.path)
		// To be seen are the words themselves: as text, in a field, or in an option.
		shows := p.eval(`[document.documentElement.textContent, document.title, ...[...document.querySelectorAll("input, option, img")].map((e) => e.value + e.alt)].join("\n")`)
		if strings.HasPrefix(at.path, "/series/"+tub) {
			assert.Contains(t, shows, tag, at.path)
		}
		want := evil
		if strings.HasPrefix(at.path, "/label/"+first) || strings.Contains(at.path, first+"&mark=%3C") {
			want = "<evil-tag title='" // a label wraps it and cuts it off; a refusal quotes it
		}
		assert.Contains(t, shows, want, at.path)
	}
	for _, path := range []string{"/proof", "/scales", "/calc", "/pair"} { // no name stands there
		open(path)
		p.js(`document.readyState === "complete"`)
		assert.Equal(t, "", p.eval(`[...document.querySelectorAll("evil-tag, img[onerror]")].join()`), path)
	}

	// The page to send, off the disk, with nothing before it.
	sent := filepath.Join(t.TempDir(), "sent.html")
	say(0, "", "export", "--all", "--out", sent)
	require.NoError(t, chromedp.Do(ctx, chromedp.Navigate("file://"+sent)))
	p.js(`document.readyState === "complete"`)
	assert.Equal(t, "", p.eval(`[...document.querySelectorAll("evil-tag, img[onerror], script")].map((e) => e.outerHTML).join()`))
	assert.Equal(t, "undefined", p.eval(`String(window.ran)`))
	assert.Contains(t, p.eval(`document.body.textContent`), evil)
}

package web

import (
	"context"
	"encoding/json"
	"fmt"
	"net"
	"net/http"
	"net/http/httptest"
	"os"
	"os/exec"
	"path"
	"path/filepath"
	"slices"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/chromedp/cdproto/cdp"
	"github.com/chromedp/cdproto/emulation"
	browserpage "github.com/chromedp/cdproto/page"
	"github.com/chromedp/chromedp"
	"github.com/rs/zerolog"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"tared/protocol"
	"tared/session"
	"tared/session/sheet"
	"tared/session/text"
)

// These tests look at the pages with a real browser. Without one they are
// skipped, except where CI=true says that there must be one. TARED_CHROMIUM
// names the browser, TARED_AXE the file axe.min.js of axe-core, TARED_SHOTS a
// directory to leave pictures in.

// missing skips a test for want of a tool, or fails it in CI.
func missing(t *testing.T, format string, args ...any) {
	t.Helper()
	if os.Getenv("CI") == "true" {
		t.Fatalf(format, args...)
	}
	t.Skipf(format, args...)
}

// browser is one browser for all tests of the package.
var browser struct {
	once sync.Once
	ctx  context.Context
	stop func()
	err  error
}

func TestMain(m *testing.M) {
	code := m.Run()
	if browser.stop != nil {
		browser.stop()
	}
	os.Exit(code)
}

func findBrowser() string {
	if p := os.Getenv("TARED_CHROMIUM"); p != "" {
		return p
	}
	for _, name := range []string{"chromium", "chromium-browser", "google-chrome"} {
		if p, err := exec.LookPath(name); err == nil {
			return p
		}
	}
	return ""
}

// tab opens a tab of its own, and fails the test at its end when the page threw
// or was stopped by its own policy; messages with one of the words in meant are
// not the page's.
func tab(t *testing.T, meant ...string) context.Context {
	t.Helper()
	if testing.Short() {
		t.Skip("a browser takes its time; run without -short")
	}
	path := findBrowser()
	if path == "" {
		missing(t, "no Chromium found; install it or name it in TARED_CHROMIUM")
	}
	browser.once.Do(func() {
		opts := []chromedp.ExecAllocatorOption{chromedp.ExecPath(path), chromedp.Headless, chromedp.NoSandbox, chromedp.DisableGPU, chromedp.NoFirstRun}
		for _, f := range []string{"disable-quic", "disable-background-networking", "disable-component-update", "disable-sync", "hide-scrollbars", "mute-audio"} {
			opts = append(opts, chromedp.Flag(f, true))
		}
		alloc, stopAlloc := chromedp.NewExecAllocator(context.Background(), opts...)
		ctx, stop := chromedp.NewContext(alloc)
		browser.ctx, browser.stop = ctx, func() { stop(); stopAlloc() }
		browser.err = chromedp.Do(ctx)
	})
	require.NoError(t, browser.err, "start %s", path)
	ctx, stop := chromedp.NewContext(browser.ctx)
	t.Cleanup(stop)
	ctx, cancel := context.WithTimeout(ctx, 8*time.Minute)
	t.Cleanup(cancel)
	messages := chromedp.Console(ctx)
	var mu sync.Mutex
	var bad []string
	go func() {
		for m, err := range messages {
			if err != nil {
				return
			}
			// An answer that refuses is logged by the browser as an error of the
			// network; those are meant.
			if (m.Type == chromedp.ConsoleException || m.Type == chromedp.ConsoleError) && m.Source != "network" &&
				!slices.ContainsFunc(meant, func(words string) bool { return strings.Contains(m.Text, words) }) {
				mu.Lock()
				bad = append(bad, m.String()+" "+m.URL)
				mu.Unlock()
			}
		}
	}()
	t.Cleanup(func() {
		mu.Lock()
		defer mu.Unlock()
		assert.Empty(t, bad, "the page's console")
	})
	return ctx
}

func eval[T any](t *testing.T, ctx context.Context, js string) T {
	t.Helper()
	v, err := chromedp.Run(ctx, chromedp.Evaluate[T](js, chromedp.EvalAwaitPromise))
	require.NoError(t, err, js)
	return v
}

// patience is how long a test waits for what must come. Only a fault meets it, also on
// a busy machine.
const patience = 2 * time.Minute

// until waits for an expression to become true.
func until(t *testing.T, ctx context.Context, js string) {
	t.Helper()
	var err error
	// A page that navigates meanwhile takes the question with it: ask the next one.
	for end := time.Now().Add(patience); time.Now().Before(end); {
		_, err = chromedp.Run(ctx, chromedp.Poll[bool](js, chromedp.WithPollingTimeout(15*time.Second), chromedp.WithPollingInterval(30*time.Millisecond)))
		if err == nil || ctx.Err() != nil {
			break
		}
	}
	require.NoError(t, err, "%s\n%s", js, standing(ctx))
}

// standing tells where a page stands, for who reads why a test failed.
func standing(ctx context.Context) string {
	ctx, cancel := context.WithTimeout(ctx, 15*time.Second)
	defer cancel()
	s, err := chromedp.Run(ctx, chromedp.Evaluate[string](`location.href + "\nfocus: " + document.activeElement?.outerHTML.slice(0, 200) +
		"\nfields: " + [...document.querySelectorAll("input, textarea, select")].map((e) => e.id + "=" + JSON.stringify(e.value)).join(" ") + "\n" + document.body.innerText`))
	if err != nil {
		return "the page does not answer: " + err.Error()
	}
	return s
}

// look waits for something and asks the page while it is still so. On a machine that
// stalls for two seconds the page shows dashes meanwhile, as it should; then it is
// asked again. What is asked must not wait for anything.
func look[T any](t *testing.T, ctx context.Context, so, js string) T {
	t.Helper()
	type answer struct {
		So bool
		Is T
	}
	for end := time.Now().Add(patience); time.Now().Before(end); {
		until(t, ctx, so)
		settle(t, ctx)
		if a := eval[answer](t, ctx, `((so) => so ? { So: true, Is: (`+js+`) } : { So: false })(`+so+`)`); a.So {
			return a.Is
		}
	}
	require.Fail(t, "never still so", so)
	var none T
	return none
}

// settle waits until the page is drawn.
func settle(t *testing.T, ctx context.Context) {
	t.Helper()
	eval[bool](t, ctx, `new Promise(r => requestAnimationFrame(() => requestAnimationFrame(() => r(true))))`)
}

func visit(t *testing.T, ctx context.Context, address string) {
	t.Helper()
	require.NoError(t, chromedp.Do(ctx, chromedp.Navigate(address)))
}

type size struct{ w, h int64 }

// sizes are a screen at the bench, a small one, a telephone, and a tablet held upright.
var sizes = []size{{1920, 1080}, {1280, 800}, {390, 844}, {768, 1024}}

// benchSizes are those at which the bench itself is looked at.
var benchSizes = append(sizes, size{1180, 820}, size{844, 390}, size{800, 1280})

// unseen finds what of the bench is out of sight: the deed, its figure, the material, the
// bar, and each answer; on a telephone on its side, the first of these.
const unseen = `[...document.querySelectorAll(innerHeight < 500 ? "#word, #digits, #material" : "#word, #digits, #material, .bar-fine, .bar-whole, .answer")].filter((el) => el.checkVisibility())
  .filter((el) => { const r = el.getBoundingClientRect(); return r.bottom > innerHeight + 1 || r.top < 0; }).map((el) => el.id || el.textContent)`

func (s size) String() string { return fmt.Sprintf("%dx%d", s.w, s.h) }

func resize(t *testing.T, ctx context.Context, s size) {
	t.Helper()
	require.NoError(t, chromedp.Do(ctx, chromedp.EmulateViewport(s.w, s.h)))
}

func media(t *testing.T, ctx context.Context, features ...*emulation.MediaFeature) {
	t.Helper()
	_, err := chromedp.Call(ctx, emulation.SetEmulatedMedia, emulation.SetEmulatedMediaParams{Features: features})
	require.NoError(t, err)
}

var dark = &emulation.MediaFeature{Name: "prefers-color-scheme", Value: "dark"}

// shot leaves a picture where TARED_SHOTS says, for eyes.
func shot(t *testing.T, ctx context.Context, name string, whole bool) {
	t.Helper()
	dir := os.Getenv("TARED_SHOTS")
	if dir == "" {
		return
	}
	a := chromedp.CaptureScreenshot()
	if whole {
		a = chromedp.FullScreenshot(100)
	}
	png, err := chromedp.Run(ctx, a)
	require.NoError(t, err)
	require.NoError(t, os.WriteFile(filepath.Join(dir, name+".png"), png, 0o644))
}

// served is a bench page with an invented bench behind it.
func served(t *testing.T, change func(*Config)) (string, *fakeBench) {
	t.Helper()
	b := newFakeBench()
	b.planned = demoSheet()
	b.show(whiting())
	cfg := Config{Bench: b, Book: fakeBook{}, Archive: newArchive(), Log: zerolog.New(zerolog.NewTestWriter(t)), Samples: []Sample{{"Tidewrack", tidewrack}}}
	if change != nil {
		change(&cfg)
	}
	s, err := New(cfg)
	require.NoError(t, err)
	hs := httptest.NewServer(http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		if r.URL.Path == "/live" {
			s.handler.ServeHTTP(w, r)
			return
		}
		if name, of := strings.CutPrefix(r.URL.Path, "/modules/"); of { // one by one, for tests of one
			b, err := pageFiles.ReadFile("page/" + name)
			assert.NoError(t, err)
			send(w, r, newAsset(kinds[path.Ext(name)], b))
			return
		}
		start, to := time.Now(), &answered{w, http.StatusOK}
		s.handler.ServeHTTP(to, r)
		t.Logf("%s %s: %d after %v", r.Method, r.URL, to.status, time.Since(start))
	}))
	t.Cleanup(func() { s.live.close(); hs.Close() })
	return hs.URL, b
}

// answered remembers how a request was answered.
type answered struct {
	http.ResponseWriter
	status int
}

func (a *answered) WriteHeader(status int) {
	a.status = status
	a.ResponseWriter.WriteHeader(status)
}

func (a *answered) Unwrap() http.ResponseWriter { return a.ResponseWriter }

// tidewrack is an invented recipe.
const tidewrack = "# Tidewrack, satin, cone 6 oxidation\nNepheline syenite   41\nQuartz              24\nWhiting             17\nBall clay           12\nZinc oxide           6\n+ Tin oxide          4\n+ Copper carbonate   1.2\n"

// demoSheet is an invented sheet; only its look is tested.
func demoSheet() sheet.Sheet {
	m := func(s string) protocol.Mass {
		v, err := protocol.ParseMass(s + "g")
		if err != nil {
			panic(err)
		}
		return v
	}
	bench := sheet.Scale{Name: "bench", Step: m("0.1"), Max: m("2000")}
	fine := sheet.Scale{Name: "fine", Step: m("0.01"), Max: m("200")}
	line := func(name string, role sheet.Role, share, target, low, high, allowed string, fb, ff sheet.Verdict, room bool) sheet.Line {
		l := sheet.Line{Material: name, Role: role, Addition: role != sheet.Base, Percent: share, Target: m(target), Low: m(low), High: m(high), Allowed: m(allowed), Step: bench.Step,
			Scale: "bench", Verdict: fb, U: m("0.129099445"), Assumed: true, Portions: 1,
			Fits: []sheet.Fit{{Scale: "bench", Verdict: fb, U: m("0.129099445"), Room: true}, {Scale: "fine", Verdict: ff, U: m("0.012909945"), Room: room}}}
		if fb != sheet.Good {
			l.Scale, l.Step, l.Verdict, l.U = "fine", fine.Step, ff, m("0.012909945")
		}
		return l
	}
	s := sheet.Sheet{Title: "Tidewrack, satin, cone 6 oxidation", Base: m("75"), Dry: m("78.9"), Scales: []sheet.Scale{bench, fine},
		Words: []string{"75 g of base with 5.2 % of additions is 78.9 g dry.", "The repeatability of both scales is assumed as half a step; measure it to know."},
		Lines: []sheet.Line{
			line("Nepheline syenite", sheet.Base, "41", "30.75", "30.5", "31.0", "0.3075", sheet.Good, sheet.Good, false),
			line("Quartz", sheet.Base, "24", "18", "17.8", "18.2", "0.18", sheet.Good, sheet.Good, true),
			line("Whiting", sheet.Base, "17", "12.75", "12.63", "12.87", "0.1275", sheet.Coarse, sheet.Good, true),
			line("Ball clay", sheet.Base, "12", "9", "8.91", "9.09", "0.09", sheet.Blind, sheet.Good, true),
			line("Zinc oxide", sheet.Base, "6", "4.5", "4.46", "4.54", "0.045", sheet.Blind, sheet.Good, true),
			line("Tin oxide", sheet.Addition, "4", "3", "2.94", "3.06", "0.06", sheet.Blind, sheet.Good, true),
			line("Cobalt carbonate", sheet.Strong, "0.5", "0.375", "0.37", "0.38", "0.0075", sheet.Blind, sheet.Blind, true),
		}}
	s.Lines[6].Outs = []sheet.Out{
		{Kind: "larger", Words: "From 130 g of base on, the fine scale weighs it well enough.", U: m("0.0129"), Good: true},
		{Kind: "aliquot", Words: "Weigh 2.00 g of cobalt carbonate, mix it into 8.00 g of ball clay, weigh out 1.88 g of that, and take 1.50 g off the ball clay.", U: m("0.0031"), Good: true},
		{Kind: "eye", Words: "Read it by eye on a balance of 0.001 g and type it in.", U: m("0.0013"), Good: true},
	}
	// As long as the longest of the materials table.
	for i := range s.Lines {
		s.Lines[i].Hazards = []string{
			"holds free silica, which in dust scars the lungs and can cause cancer: mask on, wet-clean, no dry sweeping (IARC group 1, as in IJERPH 2014, 11, 1250; NIOSH HETA-2007-0127-3068, 2008)",
			"respirable crystalline silica: 0.05 mg/m³ over 8 hours, action level 0.025 (OSHA) (29 CFR 1910.1053, 2016)",
			"hazard statements H372 (EU harmonised or usual supplier classification (CLP, Regulation (EC) 1272/2008), from memory)"}
	}
	return s
}

// layout looks at what a page looks like: words that are cut off, words over
// words, things beyond the right edge. It gives faults in words.
const layout = `(() => {
  const faults = [];
  const doc = document.documentElement;
  if (doc.scrollWidth > doc.clientWidth) faults.push("sideways scroll: " + doc.scrollWidth + " > " + doc.clientWidth);
  const name = (el) => el.tagName.toLowerCase() + (el.id ? "#" + el.id : "") + (typeof el.className === "string" && el.className ? "." + el.className.split(" ").join(".") : "");
  const clip = (r, el) => { // what of r can be seen
    let b = { left: r.left, top: r.top, right: r.right, bottom: r.bottom };
    for (let p = el; p && p !== document.body; p = p.parentElement) {
      const s = getComputedStyle(p);
      if (s.overflowX !== "visible" || s.overflowY !== "visible") {
        const q = p.getBoundingClientRect();
        b = { left: Math.max(b.left, q.left), top: Math.max(b.top, q.top), right: Math.min(b.right, q.right), bottom: Math.min(b.bottom, q.bottom) };
      }
    }
    return b;
  };
  const texts = [];
  const walk = document.createTreeWalker(document.body, NodeFilter.SHOW_TEXT);
  for (let n; (n = walk.nextNode()); ) {
    const el = n.parentElement;
    if (!n.textContent.trim() || !el.checkVisibility({ visibilityProperty: true }) || el.closest(".skip, noscript, option, select, title, desc, .unseen, thead")) continue;
    const range = document.createRange();
    range.selectNodeContents(n);
    for (const r of range.getClientRects()) {
      if (r.width < 1 || r.height < 1) continue;
      const seen = clip(r, el);
      if (seen.right - seen.left < 1 || seen.bottom - seen.top < 1) continue; // scrolled away
      const scrolls = el.closest("pre");
      if (!scrolls && (seen.right < r.right - 1.5 || seen.left > r.left + 1.5)) faults.push("cut off: " + name(el) + " " + n.textContent.trim());
      if (r.right > doc.clientWidth + 1) faults.push("beyond the right edge: " + name(el) + " " + n.textContent.trim());
      // A line box is taller than its letters: compare the middle three fifths.
      const h = seen.bottom - seen.top;
      texts.push({ el, text: n.textContent.trim(), left: seen.left, right: seen.right, top: seen.top + h * 0.2, bottom: seen.bottom - h * 0.2 });
    }
  }
  for (let i = 0; i < texts.length; i++) for (let j = i + 1; j < texts.length; j++) {
    const a = texts[i], b = texts[j];
    if (a.el === b.el || a.el.contains(b.el) || b.el.contains(a.el)) continue;
    if (!!a.el.closest(".hands") !== !!b.el.closest(".hands") && getComputedStyle(document.querySelector(".hands")).position === "sticky") continue; // the page scrolls under them
    if (!!a.el.closest(".tray") !== !!b.el.closest(".tray")) continue; // the list scrolls under it
    const w = Math.min(a.right, b.right) - Math.max(a.left, b.left), h = Math.min(a.bottom, b.bottom) - Math.max(a.top, b.top);
    if (w > 2 && h > 2) faults.push("words over words: " + name(a.el) + " “" + a.text + "” and " + name(b.el) + " “" + b.text + "”");
  }
  return faults;
})()`

// small finds what a gloved finger would miss: nothing is under 48 pixels, and what
// answers a question, begins a batch or opens what is seldom wanted is 80.
const small = `[...document.querySelectorAll("button, a, input, summary, select")].filter((el) => el.checkVisibility() && !el.closest(".skip"))
  .map((el) => [el, el.getBoundingClientRect(), el.matches(".answer, .key, .wish, .who, .seldom .press, #ask-input") && !el.closest(".hands") ? 79.5 : 47.5]).filter(([, r, least]) => r.width < least || r.height < least)
  .map(([el, r]) => (el.id || el.textContent.trim()) + " " + Math.round(r.width) + "x" + Math.round(r.height))`

// tall tells that the bench would need scrolling.
const tall = `document.documentElement.scrollHeight > innerHeight + 1 ? ["scrolls by " + (document.documentElement.scrollHeight - innerHeight)] : []`

// drawn waits until the bench page shows a view.
func drawn(t *testing.T, ctx context.Context, v session.View) {
	t.Helper()
	until(t, ctx, shown(v))
	settle(t, ctx)
}

// shown tells whether the bench page shows a view.
func shown(v session.View) string {
	return fmt.Sprintf(`document.getElementById("bench").dataset.state === %q && document.getElementById("headline").textContent.replaceAll("\u00a0", " ") === %q && document.getElementById("live").dataset.on === "true"`, v.Now.State, v.Now.Headline)
}

func TestTheBenchPageShowsEveryStateAtEverySize(t *testing.T) {
	ctx := tab(t)
	address, b := served(t, nil)
	visit(t, ctx, address)
	for _, sz := range benchSizes {
		resize(t, ctx, sz)
		for _, s := range scenes() {
			t.Run(sz.String()+"/"+s.name, func(t *testing.T) {
				b.show(s.view)
				drawn(t, ctx, s.view)
				shot(t, ctx, "bench-"+s.name+"-"+sz.String(), sz.w < 720)
				assert.Empty(t, eval[[]string](t, ctx, layout))
				assert.Empty(t, eval[[]string](t, ctx, small), "targets too small")
				// What must be seen without scrolling.
				assert.Empty(t, eval[[]string](t, ctx, unseen), "out of sight")
				choice := s.view.Asked != nil || s.view.Now.State == "idle" || s.view.Now.State == "finished"
				if sz.w > sz.h && sz.h > 600 && !choice {
					assert.Empty(t, eval[[]string](t, ctx, tall), "must not need scrolling at the bench")
				}
			})
		}
	}
}

// Contrast of the words that are read from afar, by WCAG 2.2, 1.4.6: 7 : 1, whatever
// the colour of the state.
func TestWhatIsReadFromAfarHasTheHighestContrast(t *testing.T) {
	ctx := tab(t)
	address, b := served(t, nil)
	resize(t, ctx, sizes[0])
	for _, theme := range []string{"light", "dark"} {
		media(t, ctx, &emulation.MediaFeature{Name: "prefers-color-scheme", Value: theme})
		visit(t, ctx, address)
		for _, s := range scenes() {
			b.show(s.view)
			for id, least := range map[string]float64{"digits": 7, "in": 7, "material": 7, "headline": 7, "word": 7, "kind": 7} {
				got := look[float64](t, ctx, shown(s.view), fmt.Sprintf(`(() => {
					const el = document.getElementById(%q);
					if (!el.checkVisibility()) return 21;
					const rgb = (c) => c.match(/[\d.]+/g).map(Number);
					const light = (c) => { const [r, g, b] = rgb(c).slice(0, 3).map((v) => { v /= 255; return v <= 0.04045 ? v / 12.92 : ((v + 0.055) / 1.055) ** 2.4; }); return 0.2126 * r + 0.7152 * g + 0.0722 * b; };
					let under = el;
					while ((rgb(getComputedStyle(under).backgroundColor)[3] ?? 1) === 0) under = under.parentElement;
					const a = light(getComputedStyle(el).color), b = light(getComputedStyle(under).backgroundColor);
					return (Math.max(a, b) + 0.05) / (Math.min(a, b) + 0.05);
				})()`, id))
				assert.GreaterOrEqual(t, got, least, "%s, %s: %s", theme, s.name, id)
			}
		}
	}
	media(t, ctx)
}

func TestStateIsToldByWordAndShapeAndColour(t *testing.T) {
	ctx := tab(t)
	address, b := served(t, nil)
	visit(t, ctx, address)
	seen := map[string]string{}
	for _, s := range scenes() {
		if s.name != "pour" && s.name != "in" && s.name != "over" && s.name != "lost" {
			continue
		}
		b.show(s.view)
		for kind, v := range look[map[string]string](t, ctx, shown(s.view), `{ word: document.getElementById("word").textContent, shape: document.getElementById("shape").getAttribute("d"),
			colour: getComputedStyle(document.body).backgroundColor + getComputedStyle(document.body).backgroundImage }`) {
			assert.NotEmpty(t, v)
			assert.NotContains(t, seen, kind+v, "%s has the %s of %s", s.name, kind, seen[kind+v])
			seen[kind+v] = s.name
		}
	}
}

func TestSilenceTurnsTheNumberToDashes(t *testing.T) {
	ctx := tab(t)
	address, b := served(t, nil)
	visit(t, ctx, address)
	require.Equal(t, "42.9", look[string](t, ctx, shown(whiting()), `document.getElementById("digits").textContent`))
	b.setStuck(true)
	until(t, ctx, `document.getElementById("digits").textContent === "– – –"`)
	settle(t, ctx)
	shot(t, ctx, "bench-noword", false)
	assert.Equal(t, "–", eval[string](t, ctx, `document.getElementById("in").textContent`))
	assert.Contains(t, eval[string](t, ctx, `document.getElementById("headline").textContent`), "No word from the bench since")
	assert.Equal(t, "true", eval[string](t, ctx, `document.getElementById("bar").dataset.lost`))
	assert.Empty(t, eval[[]string](t, ctx, layout))
	// Nothing is accepted meanwhile.
	require.NoError(t, chromedp.Do(ctx, chromedp.KeyEvent("d")))
	until(t, ctx, `!document.getElementById("trouble").hidden`)
	assert.Empty(t, b.commands())
	b.setStuck(false)
	until(t, ctx, `document.getElementById("digits").textContent === "42.9"`)
}

func TestThePageComesBackAfterTheServerWasAway(t *testing.T) {
	ctx := tab(t)
	b := newFakeBench()
	b.show(whiting())
	start := func(addr string) (string, func()) {
		ready := make(chan string, 1)
		s, err := New(Config{Bench: b, Addr: addr, Log: zerolog.Nop(), Ready: func(a net.Addr) { ready <- a.String() }})
		require.NoError(t, err)
		run, cancel := context.WithCancel(t.Context())
		done := make(chan error, 1)
		go func() { done <- s.Run(run) }()
		return <-ready, func() { cancel(); require.NoError(t, <-done) }
	}
	addr, stop := start("127.0.0.1:0")
	visit(t, ctx, "http://"+addr)
	drawn(t, ctx, whiting())
	stop()
	until(t, ctx, `document.getElementById("digits").textContent === "– – –"`)
	_, stop = start(addr)
	defer stop()
	until(t, ctx, `document.getElementById("digits").textContent === "42.9"`)
}

// A scale that shows ounces has its figures in ounces, and what is typed of it too.
func TestABenchInOuncesSaysSo(t *testing.T) {
	ctx := tab(t)
	address, b := served(t, nil)
	b.asked = make(chan session.Command, 10)
	visit(t, ctx, address)
	v := whiting()
	n := &v.Now
	n.Unit, n.Step, n.Target, n.Low, n.High, n.In, n.Missing = "oz", "0.005", "4.500", "4.455", "4.545", "4.000", "0.500"
	n.Next = &session.NextView{Material: "Tin oxide", Target: "0.2500", Unit: "oz", Scale: "bench"}
	for i := range v.Batch.Steps {
		v.Batch.Steps[i].Unit = "oz"
	}
	b.show(v)
	drawn(t, ctx, v)
	for where, want := range map[string]string{"#big": "0.500oz", "#bar-low": "4.455", ".bar-in": "4.000 oz in", "#side-target": "of 4.500 oz", "#next-amount": "0.2500 oz on the bench scale", "#steps": " oz"} {
		assert.Contains(t, strings.Join(strings.Fields(eval[string](t, ctx, fmt.Sprintf(`document.querySelector(%q).textContent`, where))), " "), strings.TrimSpace(want), where)
	}
	assert.NotRegexp(t, `\d g\b`, eval[string](t, ctx, `[...document.querySelectorAll("#big, #label, .bar-words, .next")].map((el) => el.innerText).join("\n")`), "no gram beside it")

	v.Now.State, v.Now.Eye, v.Now.In, v.Now.Missing = "decide", true, "", ""
	v.Asked = &session.AskedView{Question: "typed", Says: text.Written("What does it show?"), Answers: []session.AnswerView{{Word: "typed", Label: text.Written("this much went in"), Needs: "mass"}}}
	b.show(v)
	drawn(t, ctx, v)
	assert.Equal(t, "oz", eval[string](t, ctx, `document.querySelector("#ask-unit").textContent`))
	eval[bool](t, ctx, `(() => { document.querySelector("#ask-input").value = "4.5"; document.querySelector("#ask-field").requestSubmit(); return true })()`)
	select {
	case c := <-b.asked:
		assert.Equal(t, "4.5oz", c.Rest)
	case <-time.After(patience):
		t.Fatal("no command came")
	}
}

func TestKeysAndPedalCarryWordsToTheBench(t *testing.T) {
	ctx := tab(t)
	address, b := served(t, nil)
	b.asked = make(chan session.Command, 10)
	visit(t, ctx, address)
	drawn(t, ctx, whiting())
	scene := func(name string) session.View {
		for _, s := range scenes() {
			if s.name == name {
				return s.view
			}
		}
		t.Fatalf("no scene %q", name)
		return session.View{}
	}
	press := func(key string) bool { // tells whether the page took the key for itself
		return eval[bool](t, ctx, fmt.Sprintf(`!document.activeElement.dispatchEvent(new KeyboardEvent("keydown", {key: %q, bubbles: true, cancelable: true}))`, key))
	}
	told := func() session.Command {
		t.Helper()
		select {
		case c := <-b.asked:
			return c
		case <-time.After(patience):
			t.Fatal("no command came")
			return session.Command{}
		}
	}

	hold(t, ctx, "d", 1500*time.Millisecond)
	c := told()
	assert.Equal(t, "done", c.Word)
	assert.NotZero(t, c.Seen, "the bench must know which view was answered")

	// A held key is one press.
	assert.True(t, eval[bool](t, ctx, `!document.body.dispatchEvent(new KeyboardEvent("keydown", {key: "d", repeat: true, bubbles: true, cancelable: true}))`))
	assert.False(t, press("q"), "a key that means nothing is left to the browser")
	time.Sleep(120 * time.Millisecond)
	assert.True(t, press("u"))
	assert.Equal(t, "undo", told().Word, "and the held key before it sent nothing")

	// A pedal answers with the operator's name, without a touch.
	b.show(scene("reminder"))
	drawn(t, ctx, scene("reminder"))
	assert.True(t, press("PageDown"))
	c = told()
	assert.Equal(t, "yes", c.Word)
	assert.Equal(t, "Mara", c.Rest)

	b.show(scene("decide"))
	drawn(t, ctx, scene("decide"))
	assert.True(t, press("PageUp"))
	assert.Equal(t, "keep", told().Word)
	assert.True(t, press("1"))
	assert.Equal(t, "enlarge", told().Word)
	hold(t, ctx, "3", 1500*time.Millisecond)
	assert.Equal(t, "undo", told().Word)
	require.NoError(t, chromedp.Do(ctx, chromedp.Click(chromedp.CSS(`[data-word="keep"].answer`))))
	assert.Equal(t, "keep", told().Word)

	// An amount is asked for, then sent with its unit.
	b.show(scene("eye"))
	drawn(t, ctx, scene("eye"))
	assert.Equal(t, "decimal", eval[string](t, ctx, `document.getElementById("ask-input").inputMode`))
	press("1")
	until(t, ctx, `document.activeElement.id === "ask-input"`)
	for _, k := range []string{"8", ",", "9", "7", "Enter"} {
		tap(t, ctx, k)
	}
	c = told()
	assert.Equal(t, "typed", c.Word)
	assert.Equal(t, "8,97g", c.Rest)

	// A note is written where nothing is asked.
	b.show(whiting())
	drawn(t, ctx, whiting())
	assert.True(t, press("n"))
	until(t, ctx, `document.activeElement.id === "ask-input"`)
	for _, k := range []string{"d", "a", "m", "p", "Enter"} {
		tap(t, ctx, k)
	}
	c = told()
	assert.Equal(t, "note", c.Word)
	assert.Equal(t, "damp", c.Rest)
	until(t, ctx, `document.getElementById("ask").hidden`)

	// What the bench refuses is shown in its own words.
	b.mu.Lock()
	b.fail = &text.Refusal{Message: text.Written("nothing has been taken in this batch yet")}
	b.mu.Unlock()
	press("u")
	told()
	until(t, ctx, `document.getElementById("trouble").textContent === "nothing has been taken in this batch yet"`)
	assert.Empty(t, b.asked)
}

func TestSoundWakesWithAKeyAndSaysSo(t *testing.T) {
	ctx := tab(t)
	address, _ := served(t, nil)
	visit(t, ctx, address)
	drawn(t, ctx, whiting())
	assert.Equal(t, "Sound off", eval[string](t, ctx, `document.getElementById("sound-words").textContent`))
	require.NoError(t, chromedp.Do(ctx, chromedp.KeyEvent("x")))
	until(t, ctx, `document.getElementById("sound-words").textContent === "Sound on"`)
	for _, words := range []string{"Sound soft", "Alarms only", "Sound off"} {
		require.NoError(t, chromedp.Do(ctx, chromedp.Click(chromedp.CSS("#sound"))))
		until(t, ctx, fmt.Sprintf(`document.getElementById("sound-words").textContent === %q`, words))
	}
	eval[bool](t, ctx, `localStorage.clear(), true`)
	// Every cue lies where ears of all ages hear, and none sounds like another.
	faults := eval[[]string](t, ctx, `import("/modules/sound.js").then(({cues}) => {
		const bad = [], seen = {};
		for (const name of ["near", "ease", "stop", "in", "over", "lost", "ask", "taken"]) {
			const c = cues[name];
			if (!c) { bad.push("no cue " + name); continue; }
			for (const [hz] of c.tones) if (hz < 300 || hz > 3000) bad.push(name + " " + hz);
			const rhythm = c.tones.map(([, from, length]) => from + ":" + length).join(" ");
			const pitch = c.tones.map(([hz]) => hz).join(" ");
			if (seen[rhythm]) bad.push(name + " has the rhythm of " + seen[rhythm]);
			if (seen[pitch]) bad.push(name + " has the pitches of " + seen[pitch]);
			seen[rhythm] = seen[pitch] = name;
		}
		return bad;
	})`)
	assert.Empty(t, faults)
}

func TestThePageWorksWithoutWhatABrowserMayLack(t *testing.T) {
	ctx := tab(t)
	address, b := served(t, nil)
	visit(t, ctx, address+"/modules/icon.svg") // a document of the same origin, to know that the script below ran first
	_, err := chromedp.Run(ctx, addScript(`for (const n of ["AudioContext", "webkitAudioContext", "speechSynthesis", "localStorage", "sessionStorage", "indexedDB"])
		Object.defineProperty(window, n, { get() { return undefined; } });
		Object.defineProperty(Navigator.prototype, "wakeLock", { get() { return undefined; } });`))
	require.NoError(t, err)
	visit(t, ctx, address)
	drawn(t, ctx, whiting())
	require.True(t, eval[bool](t, ctx, `window.AudioContext === undefined && window.localStorage === undefined`))
	b.asked = make(chan session.Command, 1)
	hold(t, ctx, "d", 1500*time.Millisecond)
	assert.Equal(t, "done", (<-b.asked).Word)
	assert.Equal(t, "Sound off", eval[string](t, ctx, `document.getElementById("sound-words").textContent`))
}

func TestWordsFromOutsideAreOnlyWords(t *testing.T) {
	ctx := tab(t)
	address, b := served(t, nil)
	visit(t, ctx, address)
	v := whiting()
	const nasty = `<img src=x onerror="window.hit=1"><b>Quartz</b>`
	v.Now.Material, v.Batch.Title, v.Batch.Steps[0].Material = nasty, nasty, nasty
	v.Now.Headline, v.Now.Detail, v.Said[0].Says = text.Written(nasty), []text.Message{text.Written(nasty)}, text.Written(nasty)
	b.show(v)
	drawn(t, ctx, v)
	assert.Equal(t, nasty, eval[string](t, ctx, `document.getElementById("material").textContent`))
	assert.Zero(t, eval[int](t, ctx, `document.querySelectorAll("main img, main b b").length`))
	assert.False(t, eval[bool](t, ctx, `"hit" in window`))
}

func TestHandsStandApartFromTheBench(t *testing.T) {
	ctx := tab(t)
	h := &fakeHands{}
	address, _ := served(t, func(c *Config) { c.Hands = h })
	for _, sz := range benchSizes {
		resize(t, ctx, sz)
		visit(t, ctx, address)
		drawn(t, ctx, whiting())
		until(t, ctx, `!document.getElementById("hands").hidden`)
		settle(t, ctx)
		shot(t, ctx, "hands-"+sz.String(), sz.w < 720)
		assert.Empty(t, eval[[]string](t, ctx, layout), sz)
		assert.Empty(t, eval[[]string](t, ctx, small), sz)
		if sz.w > sz.h && sz.h > 600 {
			assert.Empty(t, eval[[]string](t, ctx, tall), "must not need scrolling at the bench")
		}
		if sz.h > 600 {
			under := eval[[]string](t, ctx, `[...document.querySelectorAll(".face > :not(.seldom), .sill *")].filter((el) => el.checkVisibility() && el.getBoundingClientRect().bottom > document.getElementById("hands").getBoundingClientRect().top + 1).map((el) => el.id || el.className)`)
			assert.Empty(t, under, "%s: under the hands", sz)
		}
	}
	moved := func(n int) { // two requests on their way at once may overtake each other
		t.Helper()
		require.Eventually(t, func() bool { return len(h.moves()) == n }, patience, 10*time.Millisecond)
	}
	require.NoError(t, chromedp.Do(ctx, chromedp.Click(chromedp.CSS(`[data-do="pour"]`))))
	moved(1)
	require.NoError(t, chromedp.Do(ctx, chromedp.Click(chromedp.CSS(`[data-scale="fine"]`))))
	until(t, ctx, `document.querySelector('[data-scale="fine"]').getAttribute("aria-pressed") === "true"`)
	require.NoError(t, chromedp.Do(ctx, chromedp.Click(chromedp.CSS(`[data-do="lift"]`))))
	moved(2)
	assert.Equal(t, []string{"bench pour", "fine lift"}, h.moves())
}

// looked is an address at which a page of the table is looked at.
type looked struct{ name, path string }

// looks are all of them but the bench, which has scenes of its own.
func looks() (all []looked) {
	for _, p := range pages {
		if p.Name == "bench" {
			continue
		}
		for i, address := range p.addresses() {
			name := p.Name
			if i > 0 {
				name += fmt.Sprintf("-%d", i+1)
			}
			all = append(all, looked{name, address})
		}
	}
	return all
}

// ready is when a page has drawn what it draws by itself.
const ready = `document.readyState === "complete" && document.querySelector("[aria-busy=true]") === null`

// unfolded visits a page, and opens all that is folded on it.
func unfolded(t *testing.T, ctx context.Context, address string) {
	t.Helper()
	visit(t, ctx, address)
	until(t, ctx, ready)
	eval[int](t, ctx, `document.querySelectorAll("details").forEach((d) => { d.open = true; }), 1`)
	settle(t, ctx)
}

func TestTheOtherPagesFitEverySize(t *testing.T) {
	ctx := tab(t)
	address, b := served(t, nil)
	for _, sz := range sizes {
		resize(t, ctx, sz)
		for _, p := range looks() {
			t.Run(sz.String()+"/"+p.name, func(t *testing.T) {
				unfolded(t, ctx, address+p.path)
				shot(t, ctx, p.name+"-"+sz.String(), true)
				assert.Empty(t, eval[[]string](t, ctx, layout))
				assert.NotContains(t, eval[string](t, ctx, `document.documentElement.outerHTML`), "[page.", "a sentence is missing")
			})
		}
		visit(t, ctx, address+"/scales")
		for _, s := range scenes() {
			if s.name != "lost" {
				continue
			}
			b.show(s.view)
			until(t, ctx, `document.querySelector(".why:not([hidden])") !== null`)
			settle(t, ctx)
			shot(t, ctx, "scales-lost-"+sz.String(), true)
			assert.Empty(t, eval[[]string](t, ctx, layout), "scales, lost, %s", sz)
			b.show(whiting())
		}
	}
}

func TestASheetIsMadeAndABatchStarted(t *testing.T) {
	ctx := tab(t)
	address, b := served(t, nil)
	for _, sz := range sizes {
		resize(t, ctx, sz)
		visit(t, ctx, address+"/sheet")
		until(t, ctx, `document.getElementById("recipe").value !== ""`)
		press(t, ctx, `document.querySelector("#form button[type=submit]")`)
		until(t, ctx, `document.querySelectorAll("#rows tr").length === 7`)
		settle(t, ctx)
		shot(t, ctx, "sheet-made-"+sz.String(), true)
		assert.Empty(t, eval[[]string](t, ctx, layout), sz)
	}
	// A line for the scale's step: zeros at the end are digits too.
	assert.Equal(t, "18.0", eval[string](t, ctx, `document.querySelector("#rows tr:nth-child(2) .target").textContent`))
	assert.Equal(t, 14, eval[int](t, ctx, `document.querySelectorAll("#picture .dot").length`))

	// As it is printed: A4 less the margins, at 96 pixels to the inch.
	resize(t, ctx, size{688, 1017})
	_, err := chromedp.Call(ctx, emulation.SetEmulatedMedia, emulation.SetEmulatedMediaParams{Media: "print"})
	require.NoError(t, err)
	settle(t, ctx)
	shot(t, ctx, "sheet-print", true)
	media(t, ctx)
	pdf, err := chromedp.Run(ctx, chromedp.PrintToPDF(chromedp.PDFPreferCSSPageSize()))
	require.NoError(t, err)
	assert.Equal(t, 1, strings.Count(string(pdf), "/Type /Page\n"), "one sheet of A4")
	if dir := os.Getenv("TARED_SHOTS"); dir != "" {
		require.NoError(t, os.WriteFile(filepath.Join(dir, "sheet.pdf"), pdf, 0o644))
	}

	press(t, ctx, `document.querySelector("#start button[type=submit]")`)
	until(t, ctx, `!document.getElementById("start-trouble").hidden`)
	require.Empty(t, b.started, "nobody's batch must not start")
	require.NoError(t, chromedp.Do(ctx, chromedp.SendKeys(chromedp.CSS("#by"), "Ilse")))
	press(t, ctx, `document.querySelector("#start button[type=submit]")`)
	until(t, ctx, `location.pathname === "/"`)
	require.Len(t, b.started, 1)
	assert.Equal(t, "Ilse", b.started[0].By)
	assert.Equal(t, "750g", b.started[0].Base)
	assert.Equal(t, tidewrack, b.started[0].Recipe)
}

func TestFaultsOfARecipeAreListedByLine(t *testing.T) {
	ctx := tab(t)
	address, b := served(t, nil)
	b.planErr = recipeFaults()
	resize(t, ctx, size{1280, 800})
	visit(t, ctx, address+"/sheet")
	until(t, ctx, `document.getElementById("recipe").value !== ""`)
	eval[bool](t, ctx, `document.getElementById("recipe").value = "Quartz 20\nWhiting\nBall clay 12,345,6\n", true`)
	press(t, ctx, `document.querySelector("#form button[type=submit]")`)
	until(t, ctx, `!document.getElementById("trouble").hidden`)
	settle(t, ctx)
	shot(t, ctx, "sheet-faults", true)
	text := eval[string](t, ctx, `document.getElementById("trouble").textContent`)
	assert.Contains(t, text, "Line 2")
	assert.Contains(t, text, "Line 3")
	assert.True(t, eval[bool](t, ctx, `document.getElementById("sheet").hidden`), "an old sheet must not stand for a new recipe")
	assert.Empty(t, eval[[]string](t, ctx, layout))
}

// A table of several recipes is pasted: the page offers each, and the one that is chosen
// takes its place.
func TestOneRecipeOfATableIsChosenOnThePage(t *testing.T) {
	ctx := tab(t)
	address, _ := served(t, nil)
	visit(t, ctx, address+"/sheet")
	until(t, ctx, `document.getElementById("recipe").value !== ""`)
	eval[bool](t, ctx, `document.getElementById("recipe").value = "recipe,material,amount\nBath white,Quartz,60\nBath white,Whiting,40\nBath blue,Quartz,50\nBath blue,Whiting,50\n", true`)
	press(t, ctx, `document.querySelector("#form button[type=submit]")`)
	until(t, ctx, `document.querySelectorAll("#trouble button").length === 2`)
	press(t, ctx, `document.querySelectorAll("#trouble button")[1]`)
	until(t, ctx, `!document.getElementById("sheet").hidden && document.getElementById("trouble").hidden`)
	text := eval[string](t, ctx, `document.getElementById("recipe").value`)
	assert.Contains(t, text, "# Bath blue")
	assert.Contains(t, text, "50")
	assert.NotContains(t, text, "white")
}

func TestASampleOfWetVolumeIsAskedFor(t *testing.T) {
	ctx := tab(t)
	address, b := served(t, nil)
	visit(t, ctx, address+"/sheet")
	until(t, ctx, `document.getElementById("recipe").value !== ""`)
	require.NoError(t, chromedp.Do(ctx, chromedp.Click(chromedp.CSS("input[value=wet]")), chromedp.Click(chromedp.CSS("#form button[type=submit]"))))
	until(t, ctx, `document.querySelectorAll("#rows tr").length === 7`)
	require.NoError(t, chromedp.Do(ctx, chromedp.SendKeys(chromedp.CSS("#by"), "Ilse")))
	press(t, ctx, `document.querySelector("#start button[type=submit]")`)
	until(t, ctx, `location.pathname === "/"`)
	require.Len(t, b.started, 1)
	assert.Equal(t, "2l at 1.45", b.started[0].Wet)
	assert.Empty(t, b.started[0].Base)
}

func TestTwoBatchesAreChosenToCompare(t *testing.T) {
	ctx := tab(t)
	address, _ := served(t, nil)
	visit(t, ctx, address+"/book")
	until(t, ctx, `document.getElementById("compare")?.disabled`)
	require.NoError(t, chromedp.Do(ctx, chromedp.Click(chromedp.CSS(`input[value="a261125"]`)), chromedp.Click(chromedp.CSS(`input[value="c261124"]`)), chromedp.Click(chromedp.CSS("#compare"))))
	until(t, ctx, `location.pathname === "/compare" && document.getElementById("both") !== null`)
	assert.Equal(t, "c261124", eval[string](t, ctx, `document.querySelectorAll("thead a")[1].textContent`))
}

// axeTab opens a tab, and gives with it what asks axe-core about its page.
func axeTab(t *testing.T) (context.Context, func(what string)) {
	t.Helper()
	path := os.Getenv("TARED_AXE")
	if path == "" {
		path = filepath.Join("..", "node_modules", "axe-core", "axe.min.js")
	}
	axe, err := os.ReadFile(path)
	if err != nil {
		missing(t, "no axe-core: npm install --no-save axe-core@4.14.1, or name its axe.min.js in TARED_AXE (%v)", err)
	}
	ctx := tab(t, "Applying inline style") // axe tries to; the page's policy stops it
	return ctx, func(what string) {
		t.Helper()
		settle(t, ctx)
		// What lies under it at this moment is reached by scrolling.
		eval[int](t, ctx, `document.querySelectorAll(".tray, .hands").forEach((e) => { e.style.position = "static"; }), 1`)
		if !eval[bool](t, ctx, `"axe" in window`) {
			_, err := chromedp.Run(ctx, chromedp.Evaluate[bool](string(axe)+";true"))
			require.NoError(t, err)
		}
		found := eval[string](t, ctx, `axe.run(document, { runOnly: ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa", "best-practice"] })
			.then((r) => JSON.stringify(r.violations.flatMap((v) => v.nodes.map((n) => v.id + ": " + n.target + " " + n.failureSummary))))`)
		var faults []string
		require.NoError(t, json.Unmarshal([]byte(found), &faults))
		assert.Empty(t, faults, what)
	}
}

// Accessibility, as far as a program can tell: axe-core 4.14.1.
func TestAxeFindsNothing(t *testing.T) {
	ctx, check := axeTab(t)
	address, b := served(t, func(c *Config) { c.Hands = &fakeHands{} })
	for _, theme := range []string{"light", "dark"} {
		media(t, ctx, &emulation.MediaFeature{Name: "prefers-color-scheme", Value: theme})
		for _, sz := range []size{sizes[0], sizes[2]} {
			resize(t, ctx, sz)
			visit(t, ctx, address)
			for _, s := range scenes() {
				b.show(s.view)
				drawn(t, ctx, s.view)
				if theme == "dark" {
					shot(t, ctx, "dark-"+s.name+"-"+sz.String(), sz.w < 720)
				}
				check("bench " + s.name + " " + theme)
			}
			b.show(whiting())
			for _, p := range looks() {
				visit(t, ctx, address+p.path)
				until(t, ctx, ready)
				if theme == "dark" {
					shot(t, ctx, "dark-"+p.name+"-"+sz.String(), true)
				}
				check(p.path + " " + theme)
			}
			visit(t, ctx, address+"/sheet")
			until(t, ctx, `document.getElementById("recipe").value !== ""`)
			press(t, ctx, `document.querySelector("#form button[type=submit]")`)
			until(t, ctx, `document.querySelectorAll("#rows tr").length === 7`)
			check("sheet " + theme)
			if theme == "dark" {
				shot(t, ctx, "dark-sheet-"+sz.String(), true)
			}
		}
	}
}

// The page obeys what a person told the system about colours and motion.
func TestForcedColoursAndMoreContrastKeepTheShapes(t *testing.T) {
	ctx := tab(t)
	address, b := served(t, nil)
	resize(t, ctx, size{1280, 800})
	for _, f := range []*emulation.MediaFeature{{Name: "forced-colors", Value: "active"}, {Name: "prefers-contrast", Value: "more"}} {
		media(t, ctx, f, dark)
		visit(t, ctx, address)
		for _, s := range scenes() {
			if s.name == "in" || s.name == "over" || s.name == "pour" {
				b.show(s.view)
				drawn(t, ctx, s.view)
				shot(t, ctx, f.Name+"-"+s.name, false)
				assert.Empty(t, eval[[]string](t, ctx, layout))
				assert.True(t, eval[bool](t, ctx, `document.querySelector(".shape").getBoundingClientRect().width > 20`))
			}
		}
	}
	media(t, ctx)
}

// addScript runs js before every page's own scripts.
func addScript(js string) chromedp.Action[browserpage.ScriptIdentifier] {
	return func(ctx context.Context, t *chromedp.Target) (browserpage.ScriptIdentifier, error) {
		r, err := cdp.Call(ctx, t, browserpage.AddScriptToEvaluateOnNewDocument, browserpage.AddScriptToEvaluateOnNewDocumentParams{Source: js})
		return r.Identifier, err
	}
}

//go:build unix

package main

import (
	"context"
	"encoding/json"
	"fmt"
	"math"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/chromedp/cdproto/input"
	"github.com/chromedp/chromedp"
	"github.com/chromedp/chromedp/kb"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"tared/scale/sim"
)

// These tests drive the real program with a real browser, by keys alone, as a
// person at the bench would. Without a browser they are skipped, except where
// CI=true says that there must be one. TARED_CHROMIUM names the browser,
// TARED_SHOTS a directory to leave a picture of a failure in.
//
// The demos behind them run at the speed of the wall clock, or at twice that where much
// is weighed: at four times, half a second in which a busy machine reads no line is a
// scale that fell silent.

// tab is one open page.
type tab struct {
	t   *testing.T
	ctx context.Context
	url string // of the bench
}

// openPage starts a browser and opens an address. The page's own errors fail the
// test at its end.
func openPage(t *testing.T, address string) *tab {
	t.Helper()
	ctx, stop := context.WithDeadline(browser(t), deadline(t))
	t.Cleanup(stop)
	p := &tab{t: t, ctx: ctx, url: address}
	messages := chromedp.Console(ctx)
	var mu sync.Mutex
	var bad []string
	go func() {
		for m, err := range messages {
			if err != nil {
				return
			}
			// A daemon that is away is logged by the browser as an error of the
			// network; that is meant.
			if (m.Type == chromedp.ConsoleException || m.Type == chromedp.ConsoleError) && m.Source != "network" {
				mu.Lock()
				bad = append(bad, m.String())
				mu.Unlock()
			}
		}
	}()
	t.Cleanup(func() {
		mu.Lock()
		defer mu.Unlock()
		assert.Empty(t, bad, "the page's console")
	})
	require.NoError(t, chromedp.Do(ctx, chromedp.EmulateViewport(1280, 800), chromedp.Navigate(address)))
	t.Cleanup(func() {
		dir := os.Getenv("TARED_SHOTS")
		if !t.Failed() || dir == "" {
			return
		}
		if png, err := chromedp.Run(ctx, chromedp.CaptureScreenshot()); err == nil {
			assert.NoError(t, os.WriteFile(filepath.Join(dir, "failed-"+t.Name()+".png"), png, 0o600))
		}
	})
	return p
}

// browser starts one, or skips the test, or fails it in CI.
func browser(t *testing.T) context.Context {
	t.Helper()
	if testing.Short() {
		t.Skip("a browser takes its time; run without -short")
	}
	path := os.Getenv("TARED_CHROMIUM")
	for _, name := range []string{"chromium", "chromium-browser", "google-chrome"} {
		if path == "" {
			path, _ = exec.LookPath(name)
		}
	}
	if path == "" {
		const words = "no Chromium found; install it or name it in TARED_CHROMIUM"
		if os.Getenv("CI") == "true" {
			t.Fatal(words)
		}
		t.Skip(words)
	}
	opts := []chromedp.ExecAllocatorOption{chromedp.ExecPath(path), chromedp.Headless, chromedp.NoSandbox, chromedp.DisableGPU, chromedp.NoFirstRun}
	for _, f := range []string{"disable-quic", "disable-background-networking", "disable-component-update", "disable-sync", "mute-audio"} {
		opts = append(opts, chromedp.Flag(f, true))
	}
	alloc, stopAlloc := chromedp.NewExecAllocator(context.Background(), opts...)
	t.Cleanup(stopAlloc)
	ctx, stop := chromedp.NewContext(alloc)
	t.Cleanup(stop)
	require.NoError(t, chromedp.Do(ctx), "start %s", path)
	return ctx
}

// seen is what a person can read off the bench page.
type seen struct {
	State, Kind, Material, Word, Headline, Detail string
	Digits, In, Live, Mark                        string
	Asked                                         string   // the question that stands
	Answers                                       []string // its answers' words
	Hand                                          string   // the scale at which the hands are
	Lost                                          bool     // the bar shows that nothing is known
	Trouble                                       string
	Steps                                         []struct{ Name, Amount, State, Verdict string }
	Said                                          []string
}

const look = `(() => {
	const $ = (id) => document.getElementById(id);
	const text = (id) => $(id).checkVisibility() ? $(id).textContent : "";
	return {
		State: $("bench").dataset.state, Kind: text("kind"), Material: text("material"), Word: text("word"), Headline: text("headline"), Detail: text("detail"),
		Digits: text("digits"), In: text("in"), Live: text("live-words"), Mark: $("batch-rest").textContent.split(" ")[0],
		Asked: $("ask").hidden ? "" : $("ask-words").textContent,
		Answers: $("ask").hidden ? [] : [...document.querySelectorAll("#ask-answers button")].map((b) => b.dataset.word),
		Hand: document.querySelector("#hands-pick [aria-pressed=true]")?.dataset.scale ?? "",
		Lost: $("bar").checkVisibility() && $("bar").dataset.lost === "true", Trouble: text("trouble"),
		Steps: [...document.querySelectorAll("#steps .step")].map((s) => ({ Name: s.querySelector(".name").textContent, Amount: s.querySelector(".amount").textContent, State: s.dataset.state, Verdict: s.dataset.verdict })),
		Said: [...document.querySelectorAll("#said li span")].map((s) => s.textContent),
	};
})()`

func (p *tab) look() seen {
	p.t.Helper()
	s, err := chromedp.Run(p.ctx, chromedp.Evaluate[seen](look))
	require.NoError(p.t, err)
	return s
}

// until looks at the page till what is wanted is there.
func (p *tab) until(what string, ok func(seen) bool) seen {
	p.t.Helper()
	var s seen
	for limit := time.Now().Add(patience(p.t)); time.Now().Before(limit); time.Sleep(20 * time.Millisecond) {
		if s = p.look(); ok(s) {
			return s
		}
	}
	require.Fail(p.t, "the page never showed: "+what, "it shows %+v", s)
	return s
}

func (p *tab) state(states ...string) seen {
	p.t.Helper()
	return p.until("state "+strings.Join(states, " or "), func(s seen) bool { return slices.Contains(states, s.State) })
}

// js waits for an expression to become true, on pages other than the bench.
func (p *tab) js(expression string) {
	p.t.Helper()
	var err error
	// A page that navigates meanwhile takes the question with it: ask the next one.
	for limit := time.Now().Add(patience(p.t)); time.Now().Before(limit); {
		if _, err = chromedp.Run(p.ctx, chromedp.Poll[bool](expression, chromedp.WithPollingTimeout(30*time.Second))); err == nil || p.ctx.Err() != nil {
			break
		}
	}
	require.NoError(p.t, err, expression)
}

func (p *tab) eval(expression string) string {
	p.t.Helper()
	v, err := chromedp.Run(p.ctx, chromedp.Evaluate[string](expression))
	require.NoError(p.t, err, expression)
	return v
}

// press is a key on the keyboard. A hand takes a moment for each: what comes faster is
// a scanner.
func (p *tab) press(key string) {
	p.t.Helper()
	require.NoError(p.t, chromedp.Do(p.ctx, chromedp.KeyEvent(key)))
	time.Sleep(120 * time.Millisecond)
}

// hold keeps a letter key down for so long that it counts.
func (p *tab) hold(letter string) {
	p.t.Helper()
	for _, kind := range []input.DispatchKeyEventType{input.DispatchKeyEventTypeKeyDown, input.DispatchKeyEventTypeKeyUp} {
		_, err := chromedp.Call(p.ctx, input.DispatchKeyEvent, input.DispatchKeyEventParams{Type: kind, Key: letter, Code: "Key" + strings.ToUpper(letter)})
		require.NoError(p.t, err)
		time.Sleep(1500 * time.Millisecond)
	}
}

// walk goes by Tab to the element that the selector names.
func (p *tab) walk(selector string) {
	p.t.Helper()
	for range 80 {
		p.press(kb.Tab)
		if p.eval(fmt.Sprintf(`String(document.activeElement.matches(%q))`, selector)) == "true" {
			return
		}
	}
	require.Fail(p.t, "not to be reached by Tab", selector)
}

// toHand goes by Tab to a button of the hands.
func (p *tab) toHand(do string) {
	p.t.Helper()
	button := fmt.Sprintf(`#hands-moves [data-do=%q]`, do)
	if p.eval(fmt.Sprintf(`String(document.querySelector(%q).checkVisibility())`, button)) == "false" {
		p.walk("#hands-more")
		p.press(" ")
	}
	p.walk(button)
}

// answer presses the digit of an answer to the question that stands.
func (p *tab) answer(s seen, word string) {
	p.t.Helper()
	require.Contains(p.t, s.Answers, word, "%+v", s)
	p.press(fmt.Sprint(slices.Index(s.Answers, word) + 1))
}

// Keys of the hands on the page.
const (
	keyPut     = "o"
	keyPour    = "f"
	keyPinch   = "i"
	keyStop    = "x"
	keySpoon   = "e"
	keyTip     = "t"
	keyLift    = "l"
	lostDigits = "– – –"
)

// figure reads a figure of the page; ok is false where it shows none.
func figure(text string) (g float64, ok bool) {
	g, err := strconv.ParseFloat(strings.TrimPrefix(text, "+"), 64)
	return g, err == nil
}

// rest waits till the pour has come to something: the bench says that what is in the
// container rests, and the page shows just that.
func (p *tab) rest() seen {
	p.t.Helper()
	return p.until("that the pour rests", func(s seen) bool {
		v := benchView(p.t, p.url)
		return (s.State == "pour" || s.State == "in" || s.State == "over") && s.State == v.Now.State && v.Now.Settled &&
			strings.TrimPrefix(s.In, "+") == v.Now.In
	})
}

// heard is how many lines the bench has read of the scale in work: time as it goes by
// for the bench, also where the machine is busy.
func (p *tab) heard() uint64 {
	v := benchView(p.t, p.url)
	for _, c := range v.Scales {
		if c.Name == v.Now.Scale {
			return c.Frames
		}
	}
	return 0
}

// fill brings what is in the container into the band, as a person would: a scoop,
// a pinch, a spoon out of it.
func (p *tab) fill() seen {
	p.t.Helper()
	s := p.look()
	for range 40 {
		if s.State == "in" {
			return s
		}
		missing, ok := figure(s.Digits)
		key := keyPour
		if s.State == "over" {
			key = keySpoon
		} else if ok && missing < 1 {
			key = keyPinch
		}
		before, _ := figure(s.In)
		p.press(key)
		// What was asked of the hands must be seen to begin; a pinch may be too small for
		// that, and is over after three seconds of ten lines each.
		over := p.heard() + 30
		p.until("something", func(n seen) bool {
			in, ok := figure(n.In)
			return n.State != s.State || ok && math.Abs(in-before) > 0.15 || p.heard() > over
		})
		s = p.rest()
	}
	require.Fail(p.t, "never in the band", "%+v", s)
	return s
}

// lift takes the container off the pan. Where a busy machine read the lines of the scale
// late the bench does not know what is in it: it is put back then, as the page says, and
// lifted again.
func (p *tab) lift(lift, put func()) {
	p.t.Helper()
	stood := p.look().State
	lift()
	p.state("lifted")
	for benchView(p.t, p.url).Now.Lifted == "" {
		put()
		p.state(stood)
		p.rest()
		lift()
		p.state("lifted")
	}
}

// weigh brings a material into the band and tips it, as often as the bench asks
// for more of it. At the edge of a narrow band what clings to the container is
// enough to fall short, and is to be knocked out; what clung to it before and comes off
// is enough to be over, which is then kept. It may be enough, too, for the bench to ask.
func (p *tab) weigh() seen {
	p.t.Helper()
	material := p.fill().Material
	for range 8 {
		p.lift(func() { p.press(keyLift) }, func() { p.press(keyPut) })
		before := p.look().Said
		p.press(keyTip)
		s := p.until("what was taken of "+material, func(s seen) bool {
			return s.State == "decide" || s.State != "lifted" && !slices.Equal(s.Said, before)
		})
		if s.State == "decide" {
			// What clings by chance may be so much that the bench asks whose container came back:
			// it is the same one.
			require.Regexp(p.t, "^(Too much|Some left in it)", s.Headline, "%+v", s)
			p.answer(s, "keep")
			s = p.until("what comes after a decision", func(s seen) bool { return s.State != "decide" })
		}
		if s.Material != material {
			return s
		}
		p.fill()
	}
	require.Fail(p.t, "never enough of it", material)
	return seen{}
}

// begin opens the page of a demo and answers its first question by key.
func (p *tab) begin() seen {
	p.t.Helper()
	s := p.state("reminder")
	assert.Equal(p.t, []string{"yes"}, s.Answers)
	p.press("1")
	return p.state("container")
}

// record is the batch as `tared record` tells it.
type record struct {
	State string
	Hash  string
	Lines []struct {
		Material, Scale, Verdict string
		Delivered                struct{ G string }
	}
	Facts []struct{ Kind, Words string }
}

// same checks that the record in dir says what the page shows at the end, and
// that the journal holds.
func (p *tab) same(dir string, s seen) record {
	p.t.Helper()
	got := runTared(p.t, "", "record", s.Mark, "--data", dir, "--json")
	require.Equal(p.t, exitDone, got.code, got.err)
	var r record
	require.NoError(p.t, json.Unmarshal([]byte(got.out), &r), got.out)
	assert.Equal(p.t, "finished", r.State)
	require.Len(p.t, s.Steps, len(r.Lines))
	for i, l := range r.Lines {
		assert.Equal(p.t, l.Material, s.Steps[i].Name)
		if s.Steps[i].State == "skipped" {
			assert.Equal(p.t, "skipped", l.Verdict, l.Material)
			continue
		}
		assert.Equal(p.t, "done", s.Steps[i].State, l.Material)
		assert.Equal(p.t, l.Delivered.G+"\u00a0g", s.Steps[i].Amount, l.Material)
		assert.Equal(p.t, l.Verdict, s.Steps[i].Verdict, l.Material)
	}
	verified := runTared(p.t, "", "verify", "--data", dir)
	assert.Equal(p.t, exitDone, verified.code, verified.err)
	assert.Contains(p.t, verified.out, "every line is intact")
	return r
}

func demoAt(t *testing.T, dir, listen string, more ...string) *daemon {
	t.Helper()
	t.Cleanup(func() {
		if journal, err := os.ReadFile(filepath.Join(dir, "journal.jsonl")); t.Failed() && err == nil {
			lines := strings.Split(string(journal), "\n")
			t.Logf("the record ends:\n%s", strings.Join(lines[max(0, len(lines)-15):], "\n"))
		}
	})
	return startDaemon(t, append([]string{"demo", "--listen", listen, "--data", dir}, more...)...)
}

// A whole batch on the demo, from the reminder to the book, without a mouse.
func TestAWholeBatchByKeys(t *testing.T) {
	t.Parallel()
	dir := t.TempDir()
	d := demoAt(t, dir, "127.0.0.1:0", "--speed", "2")
	p := openPage(t, d.url)
	s := p.begin()
	materials := len(s.Steps)
	require.Equal(t, 7, materials)
	scales := map[string]bool{}
	for n := 1; n <= materials; n++ {
		assert.True(t, strings.HasPrefix(s.Kind, fmt.Sprintf("step %d of %d", n, materials)), s.Kind)
		material := s.Material
		if s.State == "container" {
			// The hands are where the bench wants the container.
			p.until("the hands at the scale", func(s seen) bool { return s.Hand != "" && strings.Contains(s.Headline, "on the "+s.Hand+" scale") })
			p.press(keyPut)
			s = p.state("pour")
		}
		scales[s.Hand] = true
		switch n {
		case 1: // a scoop, stopped when the page shows that it runs
			p.press(keyPour)
			p.until("a pour that runs", func(s seen) bool { in, ok := figure(s.In); return ok && in > 10 })
			p.press(keyStop)
			p.rest()
		case 2: // the buttons of the hands, by Tab
			p.toHand("pour")
			p.press(kb.Enter)
			p.until("a pour that runs", func(s seen) bool { in, ok := figure(s.In); return ok && in > 10 })
			p.toHand("stop")
			p.press(" ")
			p.rest()
		case 3: // lifted, and put back untipped: nothing is taken
			p.fill()
			p.press(keyLift)
			s = p.state("lifted")
			assert.Equal(t, material, s.Material)
			p.press(keyPut)
			s = p.state("in")
			assert.Contains(t, s.Said[0], "Nothing was tipped")
			assert.Equal(t, "now", s.Steps[n-1].State)
		}
		require.Equal(t, material, s.Material)
		s = p.weigh()
		assert.Equal(t, "done", s.Steps[n-1].State, "%+v", s)
	}
	require.Equal(t, "finished", s.State)
	assert.Len(t, scales, 2, "both scales had their turn")
	assert.Contains(t, s.Headline, s.Mark)
	r := p.same(dir, s)
	checkChain(t, dir, r.Hash)

	// The book shows the same, and a key leads there.
	p.walk("#onward-main")
	p.press(kb.Enter)
	p.js(`location.pathname.startsWith("/book/") && !document.getElementById("made").hidden`)
	assert.Equal(t, "/book/"+s.Mark, p.eval(`location.pathname`))
	for i, l := range r.Lines {
		assert.Equal(t, l.Delivered.G, p.eval(fmt.Sprintf(`document.querySelector("#rows tr:nth-child(%d) .got").textContent`, i+1)), l.Material)
	}
	assert.Equal(t, r.Hash, p.eval(`document.getElementById("hash").textContent`))
	assert.Equal(t, exitDone, d.end(t))
}

// knowsNothing tells that nothing on the page claims to know the weight.
func (s seen) knowsNothing() bool {
	return s.Digits == lostDigits && s.In == "–" && s.Lost
}

// The daemon is killed in the middle of a pour, under an open page, and started
// again.
func TestThePageOutlivesTheDaemon(t *testing.T) {
	t.Parallel()
	dir := t.TempDir()
	address := lastingAddress(t)
	d := demoAt(t, dir, address)
	p := openPage(t, d.url)
	p.begin()
	p.press(keyPut)
	p.state("pour")
	second := p.weigh()
	require.Equal(t, "pour", second.State)
	p.press(keyPour)
	p.until("a pour that runs", func(s seen) bool { in, ok := figure(s.In); return ok && in > 20 })

	require.NoError(t, d.cmd.Process.Kill())
	_ = d.cmd.Wait()
	killed := time.Now()
	s := p.until("that it hears nothing", func(s seen) bool { return s.Word == "Stop" && s.Live == "No word" && s.knowsNothing() })
	t.Logf("dashes %v after the daemon was gone", time.Since(killed).Round(time.Millisecond))
	assert.Equal(t, "No word", s.Live)
	assert.Contains(t, s.Headline, "No word from the bench since")
	assert.Contains(t, s.Detail, "Stop pouring")
	assert.Equal(t, second.Material, s.Material, "what was being weighed stays in sight")
	p.press("d")
	s = p.until("that nothing was sent", func(s seen) bool { return s.Trouble != "" })
	assert.Contains(t, s.Trouble, "Nothing was sent")

	// It looks for the daemon as often after a long time as after a short one.
	p.js(`performance.getEntriesByType("resource").filter((e) => e.name.endsWith("/api/pair")).length > 6`)
	d = demoAt(t, dir, address)
	back := time.Now()
	s = p.until("the bench again", func(s seen) bool { return s.Live == "Live" && s.Word != "No word" })
	t.Logf("live again %v after the daemon served", time.Since(back).Round(time.Millisecond))
	assert.Equal(t, second.Mark, s.Mark)
	assert.Equal(t, second.Kind, s.Kind)
	assert.Equal(t, second.Material, s.Material)
	assert.Equal(t, second.Steps, s.Steps)

	// The new demo has an empty pan. Nothing is taken for granted before the
	// container that was tared stands there again.
	s = p.until("that it asks for the container", func(s seen) bool {
		return s.State == "lost" && strings.Contains(s.Headline, "Check the tare")
	})
	assert.True(t, s.knowsNothing(), "%+v", s)
	assert.Contains(t, s.Detail, "put it back")
	p.press(keyPut)
	// What was in it before is on record, and is not there any more: was it tipped?
	s = p.state("decide")
	assert.Contains(t, s.Asked, "left the container unseen")
	p.answer(s, "again")
	s = p.until("that it asks once more", func(s seen) bool { return strings.Contains(s.Headline, "Is that right?") })
	p.answer(s, "yes")
	s = p.state("pour")
	in, ok := figure(s.In)
	assert.True(t, ok && math.Abs(in) < 1, "what was in the container is gone with the simulated world: %+v", s)
	s = p.weigh()
	assert.Equal(t, "done", s.Steps[1].State)
	assert.Equal(t, "done", s.Steps[0].State)
	assert.Equal(t, exitDone, d.end(t))
	verified := runTared(t, "", "verify", "--data", dir)
	assert.Equal(t, exitDone, verified.code, verified.err)
}

// The same on a scale that outlives the daemon: what was poured stands on the
// pan when it is back, so the page asks before it counts that.
func TestThePageAsksAfterADaemonWasKilledInMidPour(t *testing.T) {
	t.Parallel()
	r := newRig(t, "Quartz 60\nWhiting 40\n", "100g")
	port := r.line.Path()
	address := lastingAddress(t)
	serve := func() *daemon {
		return startDaemon(t, "serve", "--listen", address, "--data", r.dir, "--log", "error",
			"--scale", "name=bench,port="+port+",format=header-comma-mode,baud=9600,step=0.1g,max=2000g")
	}
	d := serve()
	send(t, d.url+"api/start", `{"recipe":"Quartz 60\nWhiting 40\n","base":"100g","by":"Ilse"}`)
	p := openPage(t, d.url)
	first := p.begin()
	r.hand(sim.Put)
	p.state("pour")
	r.pour("Quartz", 30)
	p.until("half the pour", func(s seen) bool { in, ok := figure(s.In); return ok && in > 15 })

	require.NoError(t, d.cmd.Process.Kill())
	_ = d.cmd.Wait()
	p.until("that it hears nothing", func(s seen) bool { return s.Word == "Stop" && s.Live == "No word" && s.knowsNothing() })
	d = serve()
	s := p.until("what the page must ask", func(s seen) bool { return s.State == "decide" })
	assert.Equal(t, first.Mark, s.Mark)
	assert.Equal(t, first.Material, s.Material)
	assert.Contains(t, s.Asked, "After the gap")
	assert.Empty(t, s.Digits, "no figure stands while it is asked what it means")
	require.Equal(t, "keep", s.Answers[0])

	p.press(kb.PageDown) // the pedal: count what it shows
	s = p.until("what is in", func(s seen) bool { in, ok := figure(s.In); return ok && s.State == "pour" && math.Abs(in-30) < 0.3 })
	assert.Contains(t, s.Kind, "step 1 of 2")
	p.lift(func() { r.hand(sim.Lift) }, func() { r.hand(sim.Put) })
	r.hand(sim.Tip)
	r.hand(sim.Put)
	s = p.until("what was taken", func(s seen) bool { return len(s.Said) > 0 && strings.Contains(s.Said[0], "of Quartz is in") })
	taken, _ := figure(strings.Fields(s.Said[0])[0])
	assert.InDelta(t, 30, taken, 0.3, "what was poured before the kill counts, once")
	assert.Equal(t, exitDone, d.end(t))
}

// The cable falls out in the middle of a pour, under an open page.
func TestAScaleIsUnpluggedInMidPour(t *testing.T) {
	t.Parallel()
	dir := t.TempDir()
	d := demoAt(t, dir, "127.0.0.1:0")
	p := openPage(t, d.url)
	first := p.begin()
	p.press(keyPut)
	p.state("pour")
	// A hand that closes in the middle ends the pour.
	p.press(keyPour)
	p.until("a pour that runs", func(s seen) bool { in, ok := figure(s.In); return ok && in > 10 })
	p.press(keyStop)
	half, _ := figure(p.rest().In)
	require.True(t, half > 10 && half < 130, "%v g of 164 g are in", half)

	p.toHand("unplug")
	p.press(keyPour)
	p.until("a pour that runs", func(s seen) bool { in, ok := figure(s.In); return ok && in > half+10 })
	p.press(kb.Enter)
	s := p.until("that the scale is lost", func(s seen) bool { return s.State == "lost" && s.Word == "Stop" && s.knowsNothing() })
	assert.Equal(t, "Live", s.Live, "the bench itself is well")
	assert.Contains(t, s.Headline, "Lost the bench scale")
	assert.Equal(t, first.Material, s.Material)

	// What is in the scoop runs on; nobody hears it. Then the cable is in again.
	p.toHand("replug")
	p.press(" ")
	plugged := time.Now()
	s = p.until("the scale again", func(s seen) bool {
		return s.State == "decide" || s.State != "lost" || !strings.Contains(s.Headline, "Lost")
	})
	t.Logf("a new line reached the page %v after the cable was in", time.Since(plugged).Round(time.Millisecond))
	assert.NotEqual(t, "in", s.State, "nothing is in before it is known what stands there")
	s = p.state("decide")
	assert.Contains(t, s.Asked, "After the gap the bench scale shows")
	assert.Equal(t, "0", p.eval(`String([...document.querySelectorAll("#ask-answers button, #keys button")]
		.filter((b) => b.getBoundingClientRect().bottom > innerHeight + 1).length)`), "answers out of sight")
	p.answer(s, "keep")
	p.state("pour", "settle", "in", "over")
	s = p.rest()
	assert.Equal(t, first.Material, s.Material)
	s = p.weigh()
	// The others are left out, each by a key: the batch comes to its end.
	for s.State != "finished" {
		was := s.Material
		p.hold("s")
		p.answer(p.state("decide"), "yes")
		s = p.until("what comes after "+was, func(s seen) bool { return s.State == "finished" || s.Material != was })
	}
	r := p.same(dir, s)
	var kinds []string
	for _, f := range r.Facts {
		kinds = append(kinds, f.Kind)
	}
	lost, found := slices.Index(kinds, "lost"), slices.Index(kinds, "found")
	assert.True(t, lost > 0 && found > lost, "the record tells of the gap: %v", kinds)
	assert.Contains(t, kinds[found:], "decided", "and of the answer")
	assert.Equal(t, exitDone, d.end(t))
}

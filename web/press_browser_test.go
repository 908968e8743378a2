package web

import (
	"context"
	"fmt"
	"testing"
	"time"

	"github.com/chromedp/cdproto/input"
	"github.com/chromedp/chromedp"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"tared/session"
	"tared/session/text"
)

// key sends one event of a real keyboard.
func key(t *testing.T, ctx context.Context, kind input.DispatchKeyEventType, k string, again bool) {
	t.Helper()
	p := input.DispatchKeyEventParams{Type: kind, Key: k, Code: "Key" + k, AutoRepeat: &again}
	if len(k) == 1 && kind == input.DispatchKeyEventTypeKeyDown {
		p.Text = k
	}
	if k == "Enter" {
		p.Code, p.WindowsVirtualKeyCode = "Enter", 13
		if kind == input.DispatchKeyEventTypeKeyDown {
			p.Text = "\r"
		}
	}
	_, err := chromedp.Call(ctx, input.DispatchKeyEvent, p)
	require.NoError(t, err)
}

// tap is a short press of a finger on a key, and a pause after it as a hand makes it.
func tap(t *testing.T, ctx context.Context, k string) {
	t.Helper()
	key(t, ctx, input.DispatchKeyEventTypeKeyDown, k, false)
	time.Sleep(120 * time.Millisecond)
	key(t, ctx, input.DispatchKeyEventTypeKeyUp, k, false)
	time.Sleep(120 * time.Millisecond)
}

// hold holds a key for so long, with the repeats that a keyboard sends meanwhile.
func hold(t *testing.T, ctx context.Context, k string, long time.Duration) {
	t.Helper()
	key(t, ctx, input.DispatchKeyEventTypeKeyDown, k, false)
	for end := time.Now().Add(long); time.Now().Before(end); time.Sleep(35 * time.Millisecond) {
		key(t, ctx, input.DispatchKeyEventTypeKeyDown, k, true)
	}
	key(t, ctx, input.DispatchKeyEventTypeKeyUp, k, false)
	time.Sleep(120 * time.Millisecond)
}

// scan types as a scanner does, a key each so many milliseconds by the clock of the
// keyboard: what the machine of the test has to do besides changes nothing.
func scan(t *testing.T, ctx context.Context, code string, gap int) {
	t.Helper()
	eval[bool](t, ctx, fmt.Sprintf(`(async () => {
		let at = performance.now();
		for (const key of [...%q, "Enter"]) {
			const target = document.activeElement;
			const on = (kind) => {
				const e = new KeyboardEvent(kind, { key, code: "Key" + key, bubbles: true, cancelable: true });
				Object.defineProperty(e, "timeStamp", { value: at });
				return target.dispatchEvent(e);
			};
			if (on("keydown") && target.matches("input")) key === "Enter" ? target.form.requestSubmit() : (target.value += key);
			on("keyup");
			at += %d;
		}
		await new Promise((r) => setTimeout(r, at - performance.now() + 300));
		return true;
	})()`, code, gap))
}

const troubled = `document.getElementById("trouble").hidden ? "" : document.getElementById("trouble").textContent`

func readOut(t *testing.T, ctx context.Context, js string) string {
	t.Helper()
	settle(t, ctx)
	return eval[string](t, ctx, js)
}

// atBench is a page at a bench that keeps what it was told.
func atBench(t *testing.T, ctx context.Context, v session.View) (b *fakeBench, told func() []string) {
	t.Helper()
	resize(t, ctx, size{1280, 800})
	address, b := served(t, nil)
	b.show(v)
	visit(t, ctx, address)
	eval[bool](t, ctx, `localStorage.clear(), true`)
	visit(t, ctx, address)
	drawn(t, ctx, v)
	before := 0
	return b, func() (all []string) {
		for _, c := range b.commands()[before:] {
			all = append(all, c.Word)
		}
		before += len(all)
		return all
	}
}

func TestAKeyThatChangesTheRecordIsHeld(t *testing.T) {
	ctx := tab(t)
	b, told := atBench(t, ctx, whiting())
	for _, k := range []string{"d", "u", "s"} {
		tap(t, ctx, k)
		assert.Empty(t, told(), "a tap of %s", k)
		assert.Contains(t, readOut(t, ctx, troubled), "Hold it for a second", k)
	}
	hold(t, ctx, "u", 500*time.Millisecond)
	assert.Empty(t, told(), "let go too early")

	key(t, ctx, input.DispatchKeyEventTypeKeyDown, "u", false)
	until(t, ctx, `document.querySelector('[data-word="undo"]').hasAttribute("data-holding")`)
	shot(t, ctx, "bench-holding", false)
	until(t, ctx, `!document.querySelector("[data-holding]")`)
	key(t, ctx, input.DispatchKeyEventTypeKeyUp, "u", false)
	assert.Equal(t, []string{"undo"}, told())
	hold(t, ctx, "u", 3*time.Second)
	assert.Equal(t, []string{"undo"}, told(), "one, however long it is held")
	assert.NotZero(t, b.commands()[0].Seen, "the bench must know which view was answered")

	tap(t, ctx, "p")
	assert.Equal(t, []string{"pause"}, told(), "what can be taken up again is pressed once")
	hold(t, ctx, "p", 800*time.Millisecond)
	assert.Equal(t, []string{"pause"}, told(), "and held, too, only once")
}

// What is held and is offered no more when the second is over is not done.
func TestWhatIsHeldMustStillBeThere(t *testing.T) {
	ctx := tab(t)
	b, told := atBench(t, ctx, whiting())
	key(t, ctx, input.DispatchKeyEventTypeKeyDown, "s", false)
	until(t, ctx, `document.querySelector('[data-word="skip"]').hasAttribute("data-holding")`)
	asked := sceneOf(t, "reminder")
	b.show(asked)
	drawn(t, ctx, asked)
	time.Sleep(1500 * time.Millisecond)
	key(t, ctx, input.DispatchKeyEventTypeKeyUp, "s", false)
	assert.Empty(t, told())
}

func TestAnAnswerIsPressedAndWhatStrikesOutIsHeld(t *testing.T) {
	ctx := tab(t)
	_, told := atBench(t, ctx, sceneOf(t, "decide"))
	tap(t, ctx, "1")
	assert.Equal(t, []string{"enlarge"}, told())
	hold(t, ctx, "PageUp", 1500*time.Millisecond)
	assert.Equal(t, []string{"keep"}, told(), "a foot that stays on the pedal answers once")
	tap(t, ctx, "3")
	assert.Empty(t, told())
	hold(t, ctx, "3", 1500*time.Millisecond)
	assert.Equal(t, []string{"undo"}, told())
}

func TestAFingerHolds(t *testing.T) {
	ctx := tab(t)
	_, told := atBench(t, ctx, whiting())
	tap(t, ctx, ".")
	at := eval[[]float64](t, ctx, `(() => { const r = document.querySelector('[data-word="skip"]').getBoundingClientRect(); return [r.left + r.width / 2, r.top + r.height / 2]; })()`)
	press := func(kind input.DispatchMouseEventType) {
		_, err := chromedp.Call(ctx, input.DispatchMouseEvent, input.DispatchMouseEventParams{Type: kind, X: at[0], Y: at[1], Button: input.MouseButtonLeft, ClickCount: 1})
		require.NoError(t, err)
	}
	press(input.DispatchMouseEventTypeMousePressed)
	press(input.DispatchMouseEventTypeMouseReleased)
	assert.Contains(t, readOut(t, ctx, troubled), "Hold it for a second")
	assert.Empty(t, told())
	press(input.DispatchMouseEventTypeMousePressed)
	time.Sleep(1500 * time.Millisecond)
	press(input.DispatchMouseEventTypeMouseReleased)
	time.Sleep(200 * time.Millisecond)
	assert.Equal(t, []string{"skip"}, told())

	// By Tab and Enter it is held as well.
	tap(t, ctx, ".")
	eval[bool](t, ctx, `document.querySelector('[data-word="done"]').focus({ focusVisible: true }), true`)
	tap(t, ctx, "Enter")
	assert.Empty(t, told())
	hold(t, ctx, "Enter", 1500*time.Millisecond)
	assert.Equal(t, []string{"done"}, told())
}

func TestWhatAScannerTypesIsNoCommand(t *testing.T) {
	ctx := tab(t)
	b, told := atBench(t, ctx, whiting())
	const scanner = "That came from a scanner; nothing was done."
	for _, code := range []string{"d", "p", "snbp12", "4006381333931", "pppppppp"} {
		for _, gap := range []int{0, 10, 45} {
			scan(t, ctx, code, gap)
			assert.Empty(t, told(), "%s, a key each %d ms", code, gap)
			assert.Equal(t, scanner, readOut(t, ctx, troubled), "%s, a key each %d ms", code, gap)
		}
	}
	tap(t, ctx, "p")
	assert.Equal(t, []string{"pause"}, told(), "a hand is heard after it")
	assert.Empty(t, readOut(t, ctx, troubled))

	asked := sceneOf(t, "decide")
	b.show(asked)
	drawn(t, ctx, asked)
	for _, code := range []string{"1", "2", "12", "2501"} {
		scan(t, ctx, code, 10)
		assert.Empty(t, told(), code)
	}

	// In a field it types, and neither sends nor stays.
	eye := sceneOf(t, "eye")
	b.show(eye)
	drawn(t, ctx, eye)
	for _, code := range []string{"12", "4006381333931"} {
		eval[bool](t, ctx, `document.getElementById("ask-input").value = "8", document.getElementById("ask-input").focus(), true`)
		scan(t, ctx, code, 10)
		assert.Empty(t, told(), code)
		assert.Equal(t, "8", eval[string](t, ctx, `document.getElementById("ask-input").value`), code)
		assert.Equal(t, scanner, readOut(t, ctx, troubled))
	}
	for _, k := range []string{",", "9"} {
		tap(t, ctx, k)
	}
	tap(t, ctx, "Enter")
	assert.Equal(t, []string{"typed"}, told())
	all := b.commands()
	assert.Equal(t, "8,9g", all[len(all)-1].Rest)
}

// Keys are set anew for one browser, or switched off there; the sentences follow.
func TestKeysAreSetAnew(t *testing.T) {
	ctx := tab(t)
	v := sceneOf(t, "in")
	_, told := atBench(t, ctx, v)
	row := func(word string, n int) string {
		return fmt.Sprintf(`#own-keys [data-word="%s"] button:nth-of-type(%d)`, word, n)
	}
	click := func(selector string) {
		t.Helper()
		require.NoError(t, chromedp.Do(ctx, chromedp.Click(chromedp.CSS(selector))))
		settle(t, ctx)
	}
	click("#more")
	click(".seldom-own summary")
	click(row("pause", 1))
	assert.Contains(t, readOut(t, ctx, `document.querySelector('`+row("pause", 1)+`').textContent`), "Press the new key")
	for k, why := range map[string]string{"1": "stays as it is", "PageUp": "stays as it is", "d": "D is taken"} {
		tap(t, ctx, k)
		assert.Contains(t, readOut(t, ctx, troubled), why, k)
	}
	tap(t, ctx, "f")
	click(row("note", 2))
	click("#seldom-close")
	assert.Empty(t, told(), "nothing was meant for the bench")
	for _, k := range []string{"p", "n", "f"} {
		tap(t, ctx, k)
	}
	assert.Equal(t, []string{"pause"}, told(), "the new key, and neither of the old ones")

	// It is the same after the page was opened again, and can be had back.
	require.NoError(t, chromedp.Do(ctx, chromedp.Reload()))
	drawn(t, ctx, v)
	tap(t, ctx, "f")
	assert.Equal(t, []string{"pause"}, told())
	click("#more")
	click(".seldom-own summary")
	click(row("note", 2))
	click("#seldom-close")
	tap(t, ctx, "n")
	until(t, ctx, `document.activeElement.id === "ask-input"`)
	eval[bool](t, ctx, `localStorage.clear(), true`)
}

// A sentence that names a key names the one of this browser.
func TestASentenceNamesTheKeyOfThisBrowser(t *testing.T) {
	ctx := tab(t)
	_, _ = atBench(t, ctx, whiting())
	assert.Equal(t, "Hold D. | Hold F. | Hold its button.", eval[string](t, ctx, `import("/modules/keys.js").then(({ saying, setKey }) => {
		const m = { words: "Hold D.", values: { done: { key: "D" } } };
		const all = [saying(m)];
		setKey("done", "f"); all.push(saying(m));
		setKey("done", ""); all.push(saying(m));
		setKey("done", null);
		return all.join(" | ");
	})`))
}

// What is seldom wanted is behind …, and reaches the bench with what it needs.
func TestSeldomWordsReachTheBench(t *testing.T) {
	ctx := tab(t)
	b, told := atBench(t, ctx, whiting())
	for _, s := range []struct{ word, rest string }{{"abandon", "the bag was damp"}, {"substitute", "Potash feldspar"}, {"by", "Ilse"}, {"note", "full of dust"}, {"anew", "wrong scoop"}} {
		tap(t, ctx, ".")
		button := fmt.Sprintf(`#seldom-keys [data-word="%s"]`, s.word)
		require.True(t, eval[bool](t, ctx, `document.querySelector('`+button+`').checkVisibility()`), s.word)
		eval[bool](t, ctx, `document.querySelector('`+button+`').focus({ focusVisible: true }), true`)
		hold(t, ctx, "Enter", 1500*time.Millisecond)
		until(t, ctx, `document.activeElement.id === "ask-input"`)
		assert.Empty(t, told(), s.word)
		assert.Empty(t, eval[string](t, ctx, `document.getElementById("ask-input").value`))
		assert.Equal(t, s.word == "substitute", eval[bool](t, ctx, `document.getElementById("ask-input").list?.options.length > 20`))
		eval[bool](t, ctx, fmt.Sprintf(`document.getElementById("ask-input").value = %q, true`, s.rest))
		tap(t, ctx, "Enter")
		until(t, ctx, `document.getElementById("ask").hidden`)
		assert.Equal(t, []string{s.word}, told())
		all := b.commands()
		assert.Equal(t, s.rest, all[len(all)-1].Rest)
	}
	tap(t, ctx, ".")
	tap(t, ctx, "Escape")
	assert.True(t, eval[bool](t, ctx, `document.getElementById("seldom").hidden`))
}

// What is behind … fits each size, is large enough for a glove, and leaves in sight what
// is to be done now.
func TestWhatIsSeldomWantedFitsEverySize(t *testing.T) {
	ctx, check := axeTab(t)
	v := whiting()
	long := text.Written("141.4 g came back in the container. If this is another, empty one, hold A. Nothing else is to be done about it.")
	v.Said = []session.Notice{{At: moment, Says: long}, {At: moment, Says: long}, {At: moment, Says: long}}
	_, _ = atBench(t, ctx, v)
	for _, sz := range benchSizes {
		resize(t, ctx, sz)
		eval[bool](t, ctx, `document.getElementById("more").click(), document.querySelector(".seldom-own").open = true`)
		settle(t, ctx)
		shot(t, ctx, "seldom-"+sz.String(), sz.w < 720)
		assert.Empty(t, eval[[]string](t, ctx, layoutOver), sz)
		assert.Empty(t, eval[[]string](t, ctx, small), sz)
		check("what is seldom wanted, " + sz.String())
		assert.Empty(t, eval[[]string](t, ctx, `[...document.querySelectorAll("#word, #digits")].filter((el) => el.getBoundingClientRect().bottom > document.getElementById("seldom").getBoundingClientRect().top + 1).map((el) => el.id)`), "%s: over the deed and its figure", sz)
		eval[bool](t, ctx, `document.getElementById("seldom-close").click(), true`)
	}
}

// layoutOver is layout without what the panel lies over.
var layoutOver = `(document.querySelectorAll(".what, .say, .bar, .sill").forEach((el) => { el.style.display = "none"; }), true) && ` + layout + `.concat((document.querySelectorAll(".what, .say, .bar, .sill").forEach((el) => { el.style.display = ""; }), []))`

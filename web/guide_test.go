package web

import (
	"fmt"
	"slices"
	"testing"
	"time"

	"github.com/chromedp/cdproto/emulation"
	"github.com/chromedp/chromedp"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"tared/protocol"
	"tared/session"
	"tared/session/text"
)

// These tests look at how the bench page guides a pour: the bar near the mark,
// how a portion is taken, tones, captions and speech.

// pouring is a view of a pour with so much in the container (g), as the bench
// would show it. The amounts are invented.
func pouring(t *testing.T, state, cue, in string) session.View {
	t.Helper()
	m, err := protocol.ParseMass(in + "g")
	require.NoError(t, err)
	target, err := protocol.ParseMass("127.5g")
	require.NoError(t, err)
	v := whiting()
	n := &v.Now
	n.State, n.Cue, n.In, n.Missing, n.Fill = state, cue, m.Grams(1), (target - m).Rounded(1), int(m*1000/target)
	n.Settled = state == "in" || state == "over"
	switch {
	case cue == "stop":
		n.Headline = text.Written("Stop")
	case cue == "ease":
		n.Headline = text.Written("Ease off")
	case state == "settle":
		n.Headline, n.Detail = text.Written("Wait for the scale"), []text.Message{text.Written("Hands off: it is coming to rest.")}
	case state == "in":
		n.Headline, n.Detail = text.Written("In the band: lift the container"), []text.Message{text.Written("Lifting records it. Staying on the scale? Hold D.")}
	case state == "over":
		n.Headline, n.Detail = text.Written("Take out "+(m-target).Rounded(1)+" g"), []text.Message{text.Written("Spoon it out until the reading is in the band.")}
	}
	return v
}

func sceneOf(t *testing.T, name string) session.View {
	t.Helper()
	for _, s := range scenes() {
		if s.name == name {
			return s.view
		}
	}
	t.Fatalf("no scene %q", name)
	return session.View{}
}

// aPour is a whole pour as it is seen at the bench: it runs, eases, trembles
// around the marks, overshoots, is spooned out and rests.
func aPour(t *testing.T) []session.View {
	var all []session.View
	add := func(state, cue string, ins ...string) {
		for _, in := range ins {
			all = append(all, pouring(t, state, cue, in))
		}
	}
	add("pour", "", "0.0", "0.1", "9.9", "10.0", "27.4", "27.6", "61.0", "99.9", "100.1", "112.0")
	add("pour", "near", "114.8", "114.7", "114.9", "116.2")
	add("pour", "ease", "117.5", "119.9", "121.0", "122.4")
	add("pour", "stop", "124.0", "125.3", "126.2")
	add("settle", "stop", "126.4", "127.9")
	add("settle", "", "128.8", "128.9")
	add("over", "over", "131.2", "130.4", "129.0", "128.8")
	add("settle", "", "128.6", "128.5")
	add("in", "in", "128.5", "127.6", "127.5", "127.4")
	add("settle", "", "127.3")
	add("in", "in", "127.3")
	add("pour", "near", "126.2")
	add("settle", "", "126.3")
	add("in", "in", "126.3")
	return all
}

// showing waits until the page has drawn a pour's view.
func showing(v session.View) string {
	digits := v.Now.Missing
	switch {
	case digits[0] == '-':
		digits = "+" + digits[1:]
	case v.Now.Missing == "0.0":
		digits = "0.0"
	}
	return fmt.Sprintf(`document.getElementById("digits").textContent === %q && document.getElementById("in").textContent === %q && document.getElementById("bench").dataset.state === %q`, digits, v.Now.In, v.Now.State)
}

// While powder runs the eye must find the figure where it was.
func TestAPourMovesNothingButTheFigureAndTheBar(t *testing.T) {
	ctx := tab(t)
	address, b := served(t, nil)
	visit(t, ctx, address)
	for _, sz := range sizes {
		for _, name := range []string{"Whiting", "Minspar, the old bag from the loft"} {
			t.Run(sz.String()+"/"+name, func(t *testing.T) {
				resize(t, ctx, sz)
				var first map[string]string
				for i, v := range aPour(t) {
					v.Now.Material = name
					if v.Now.State == "pour" && v.Now.Cue != "stop" && v.Now.Cue != "ease" {
						v.Now.Headline = text.Written("Pour " + name)
					}
					b.show(v)
					at := look[map[string]string](t, ctx, showing(v), `Object.fromEntries(["material", "big-label", "digits", "bar", "in", "keys"].map((id) => {
						const el = document.getElementById(id), r = el.getBoundingClientRect();
						// Letters of the label differ in width, not in place; a sign may go left of the figure.
						const side = id === "big-label" ? r.left : r.right;
						return [id, [side, r.top, r.bottom, getComputedStyle(el).fontSize].map((x) => Math.round(parseFloat(x))).join(" ")];
					}).concat([["scale", [".bar-track", ".bar-words", ".bar-say", ".sign"].map((q) => { const r = document.querySelector(q).getBoundingClientRect(); return [r.left, r.top, r.right, r.bottom].map(Math.round); }).join(" ")]]))`)
					if i == 0 {
						first = at
						continue
					}
					require.Equal(t, first, at, "view %d: %s, %s g in, cue %q", i, v.Now.State, v.Now.In, v.Now.Cue)
				}
			})
		}
	}
}

func TestTheBarIsStretchedNearTheMark(t *testing.T) {
	ctx := tab(t)
	address, b := served(t, nil)
	resize(t, ctx, size{1280, 800})
	visit(t, ctx, address)
	fine := func(v session.View, want bool, why string) {
		t.Helper()
		b.show(v)
		so := shown(v)
		if v.Now.In != "" {
			so = showing(v)
		}
		assert.Equal(t, fmt.Sprint(want), look[string](t, ctx, so, `document.getElementById("bar").dataset.fine`), why)
	}
	words := func() string { return eval[string](t, ctx, `document.getElementById("scale-words").textContent`) }

	fine(pouring(t, "pour", "", "84.6"), false, "far away")
	assert.Equal(t, "The whole pour", words())
	assert.Zero(t, eval[int](t, ctx, `document.querySelectorAll(".bar-lines").length && document.querySelector(".bar-lines").getBoundingClientRect().width`), "no lines on the whole bar")
	fine(pouring(t, "pour", "near", "114.6"), false, "just outside a tenth")
	fine(pouring(t, "pour", "near", "114.8"), true, "within a tenth of the target")
	assert.Equal(t, "Near: each line is 0.2\u00a0g", words())
	assert.Contains(t, eval[string](t, ctx, `document.getElementById("bar").getAttribute("aria-label")`), "each line is 0.2\u00a0g")
	// 127.5 g with a band of 1.2 g: the even part goes 3.0 g to both sides.
	assert.Equal(t, 31, eval[int](t, ctx, `document.getElementById("bar-lines").getAttribute("d").split("M").length - 1`))
	fine(pouring(t, "pour", "near", "114.6"), true, "noise must not change the scale to and fro")
	fine(sceneOf(t, "lost"), true, "a cable that falls out does not move the band")
	fine(pouring(t, "over", "over", "160.0"), true, "far over")
	fine(pouring(t, "pour", "", "90.0"), false, "spooned out again by far")
	fine(pouring(t, "in", "in", "127.2"), true, "in the band")
	pin := eval[[]float64](t, ctx, `[".bar-pin", ".bar-track", ".bar-band"].flatMap((q) => { const r = document.querySelector(q).getBoundingClientRect(); return [(r.left + r.right) / 2, r.width]; })`)
	assert.Less(t, pin[0], pin[2], "left of the middle, for it is short of the mark")
	assert.InDelta(t, pin[2], pin[4], 1.5, "the band is in the middle")
	assert.Greater(t, pin[5], pin[3]/4, "and wide enough to be seen")
	fine(sceneOf(t, "lifted"), false, "lifted")
	next := pouring(t, "pour", "", "114.6")
	fine(next, false, "what comes after begins with the whole bar")
}

// The lines and their words are read at two metres, as the state is: 34 pixels
// for a capital on a screen of 1920 (16 minutes of arc, NUREG-0700 1.3.1-4).
func TestTheStretchedScaleCanBeReadAtTwoMetres(t *testing.T) {
	ctx := tab(t)
	address, b := served(t, nil)
	resize(t, ctx, size{1920, 1080})
	visit(t, ctx, address)
	v := pouring(t, "pour", "near", "120.0")
	b.show(v)
	until(t, ctx, showing(v))
	settle(t, ctx)
	heights := eval[map[string]float64](t, ctx, `(() => {
		const c = document.createElement("canvas").getContext("2d"), out = {};
		for (const [id, sample] of [["scale-words", "N"], ["bar-low", "0"], ["bar-target", "0"], ["bar-high", "0"]]) {
			const s = getComputedStyle(document.getElementById(id));
			c.font = s.fontWeight + " " + s.fontSize + " " + s.fontFamily;
			out[id] = c.measureText(sample).actualBoundingBoxAscent;
		}
		return out;
	})()`)
	for id, h := range heights {
		assert.GreaterOrEqual(t, h, 34.0, id)
	}
	// A line and the gap to the next must be told apart: some two minutes of arc, 4 pixels.
	gap := eval[float64](t, ctx, `(() => { const d = document.getElementById("bar-lines").getAttribute("d").split("M").slice(1).map(parseFloat); return (d[1] - d[0]) / 100 * document.querySelector(".bar-lines").getBoundingClientRect().width; })()`)
	assert.GreaterOrEqual(t, gap, 12.0)
}

func TestHowAPortionIsTakenIsShownAsItRests(t *testing.T) {
	ctx := tab(t)
	address, b := served(t, nil)
	resize(t, ctx, size{1280, 800})
	visit(t, ctx, address)
	take := func(v session.View) []string {
		t.Helper()
		b.show(v)
		return look[[]string](t, ctx, showing(v), `document.getElementById("take").checkVisibility() ? [...document.querySelectorAll("#take li")].map((li) => li.dataset.state + ": " + li.textContent) : []`)
	}
	assert.Empty(t, take(pouring(t, "pour", "near", "120.0")))
	assert.Equal(t, []string{"done: enough in", "now: hands off", "to come: lift it"}, take(pouring(t, "settle", "", "127.2")))
	v := pouring(t, "in", "in", "127.2")
	assert.Equal(t, []string{"done: enough in", "done: steady", "now: lift it"}, take(v))
	v.At, v.Now.In = moment.Add(12900*time.Millisecond), "127.1"
	assert.Equal(t, []string{"done: enough in", "done: steady 12\u00a0s", "now: lift it"}, take(v), "by the bench's own clock")
	v.Now.Settled, v.Now.In = false, "127.3"
	assert.Equal(t, []string{"done: enough in", "now: hands off", "to come: lift it"}, take(v), "in the band and not at rest")
	assert.Empty(t, take(pouring(t, "pour", "near", "126.0")), "any change takes it back")
	assert.Empty(t, take(pouring(t, "over", "over", "131.2")))
	// Done and not done differ in shape.
	take(pouring(t, "settle", "", "127.2"))
	assert.Equal(t, 3, eval[int](t, ctx, `new Set([...document.querySelectorAll("#take path")].map((p) => p.getAttribute("d"))).size`))
	b.setStuck(true)
	until(t, ctx, `document.getElementById("digits").textContent === "– – –"`)
	assert.False(t, eval[bool](t, ctx, `document.getElementById("take").checkVisibility()`), "no word from the bench")
	b.setStuck(false)
}

// fakeSound stands for the browser's sound and voices and remembers what they
// were asked for.
const fakeSound = `
	window.tones = [];
	const node = () => ({ connect: (to) => to, gain: { value: 0, setValueAtTime() {}, linearRampToValueAtTime() {} } });
	window.AudioContext = class {
		state = "suspended"; destination = {};
		get currentTime() { return performance.now() / 1000; }
		async resume() { if (this.state !== "running") { this.state = "running"; this.onstatechange?.(); } }
		createGain() { return node(); }
		createOscillator() { const o = { ...node(), frequency: { value: 0 }, start(at) { tones.push({ hz: o.frequency.value, at: at * 1000 }); }, stop() {} }; return o; }
	};
	window.told = [];
	window.SpeechSynthesisUtterance = class { constructor(text) { this.text = text; } };
	const synth = { voices: [{ lang: "de-DE", localService: true, name: "d" }, { lang: "en-GB", localService: false, name: "far" }, { lang: "en-GB", localService: true, name: "here" }],
		getVoices() { return this.voices; }, addEventListener() {}, speak(u) { told.push(u.text + " / " + (u.voice?.name ?? "")); }, cancel() { told.push("hush"); } };
	Object.defineProperty(window, "speechSynthesis", { get() { return synth; } });`

func TestEachToneHasItsCaption(t *testing.T) {
	ctx := tab(t)
	address, b := served(t, nil)
	visit(t, ctx, address)
	caption := func(v session.View) string {
		t.Helper()
		return look[string](t, ctx, shown(v), `document.getElementById("caption").innerText`)
	}
	for cue, words := range map[string]string{"near": "near", "ease": "ease off", "stop": "stop", "in": "in", "over": "over", "ask": "a question", "taken": "taken", "lost": "lost"} {
		v := pouring(t, "pour", cue, "120.0")
		v.Now.Headline = text.Written("a view with the cue " + cue)
		b.show(v)
		assert.Regexp(t, "^♪ .+: "+words+"$", caption(v), "the caption says what it means")
		assert.True(t, eval[bool](t, ctx, `document.getElementById("caption").checkVisibility()`), "and stands there without sound")
	}
	v := pouring(t, "pour", "", "84.6")
	v.Now.Headline = text.Written("a view without a cue")
	b.show(v)
	assert.Empty(t, caption(v))
	b.setStuck(true)
	until(t, ctx, `document.getElementById("caption").textContent.endsWith("lost")`)
	b.setStuck(false)
}

func TestTheRhythmTellsHowFar(t *testing.T) {
	ctx := tab(t)
	address, b := served(t, nil)
	visit(t, ctx, address+"/modules/icon.svg")
	_, err := chromedp.Run(ctx, addScript(fakeSound))
	require.NoError(t, err)
	visit(t, ctx, address)
	faults := eval[[]string](t, ctx, `import("/modules/sound.js").then(({ cues, every }) => {
		const bad = [];
		// As the bench says how near the band is.
		const gap = (cue, fill) => every(cue, { show: { bar: { closeness: Math.max(0, Math.min(1000, 1000 - 10 * (fill > 1009 ? fill - 1009 : 991 - fill))) } } });
		for (const cue of ["near", "ease"]) {
			for (let fill = 0; fill < 1000; fill++) if (gap(cue, fill + 1) > gap(cue, fill)) bad.push(cue + " slows down at " + fill);
			if (!(gap(cue, 991) * 1.9 < gap(cue, 891))) bad.push(cue + " does not grow denser");
		}
		for (let fill = 1009; fill < 1200; fill++) if (gap("over", fill + 1) > gap("over", fill)) bad.push("over at " + fill);
		if (!(gap("over", 1200) < gap("over", 1010))) bad.push("over does not tell how much");
		for (const name in cues) {
			const g = gap(name, 991), end = Math.max(...cues[name].tones.map(([, from, length]) => from + length));
			if (g && g < end + 60) bad.push(name + " runs into itself");
		}
		return bad;
	})`)
	assert.Empty(t, faults)

	// The page's own knocks follow.
	v := pouring(t, "pour", "near", "116.0")
	b.show(v)
	until(t, ctx, showing(v))
	tap(t, ctx, "x")
	until(t, ctx, `tones.filter((t) => t.hz === 440).length >= 3`)
	gaps := `tones.filter((t) => t.hz === 440).map((t) => t.at).map((t, i, all) => t - all[i - 1]).slice(1)`
	slow := eval[float64](t, ctx, `Math.min(...`+gaps+`)`)
	v = pouring(t, "pour", "near", "126.2")
	b.show(v)
	until(t, ctx, showing(v))
	eval[bool](t, ctx, `tones.length = 0, true`)
	// A busy machine makes a knock late and never early, so the shortest gap is what is
	// waited for.
	until(t, ctx, fmt.Sprintf(`Math.min(...`+gaps+`) < %g`, slow*0.7))
}

func TestQuietLetsOnlyTheAlarmsThrough(t *testing.T) {
	ctx := tab(t)
	address, b := served(t, nil)
	visit(t, ctx, address+"/modules/icon.svg")
	_, err := chromedp.Run(ctx, addScript(fakeSound))
	require.NoError(t, err)
	visit(t, ctx, address)
	words := func(want string) {
		t.Helper()
		until(t, ctx, fmt.Sprintf(`document.getElementById("sound-words").textContent === %q`, want))
	}
	hear := func(want ...string) {
		t.Helper()
		eval[bool](t, ctx, `import("/modules/sound.js").then(({ cues }) => { window.of = (name) => (t) => cues[name].tones.some(([hz]) => t.hz === hz || t.hz === 2 * hz); return true; })`)
		for _, cue := range []string{"near", "ease", "stop", "in", "over", "ask", "taken", "lost"} {
			v := pouring(t, "pour", "", "84.6")
			v.Now.Headline = text.Written("between")
			b.show(v)
			drawn(t, ctx, v)
			eval[bool](t, ctx, `tones.length = 0, true`)
			v = pouring(t, "pour", cue, "120.0")
			v.Now.Headline = text.Written("a view with the cue " + cue)
			b.show(v)
			drawn(t, ctx, v)
			// A machine that stalls for two seconds sounds as lost meanwhile, and rightly.
			others := `tones.filter((t) => !of("lost")(t)`
			if slices.Contains(want, cue) {
				until(t, ctx, fmt.Sprintf(`tones.some(of(%q))`, cue))
				others += fmt.Sprintf(` && !of(%q)(t)`, cue)
			} else if len(want) == 0 {
				others = `tones.filter((t) => true`
			}
			assert.Zero(t, eval[int](t, ctx, others+`).length`), cue)
			assert.NotEmpty(t, eval[string](t, ctx, `document.getElementById("caption").textContent`), "%s: the caption stays", cue)
		}
	}
	words("Sound off")
	tap(t, ctx, "m")
	words("Sound on") // the first press wakes it
	hear("near", "ease", "stop", "in", "over", "ask", "taken", "lost")
	tap(t, ctx, "m")
	words("Alarms only")
	hear("over", "lost")
	// The choice is kept; the page still needs a key to wake it.
	visit(t, ctx, address)
	words("Sound off")
	tap(t, ctx, "x")
	words("Alarms only")
	tap(t, ctx, "m")
	words("Sound off")
	hear()
	tap(t, ctx, "m")
	words("Sound on")
	assert.Empty(t, b.commands(), "these keys are the page's own")
	eval[bool](t, ctx, `localStorage.clear(), true`)
}

func TestSpeechNamesWhatBegins(t *testing.T) {
	ctx := tab(t)
	address, b := served(t, nil)
	visit(t, ctx, address+"/modules/icon.svg")
	_, err := chromedp.Run(ctx, addScript(fakeSound))
	require.NoError(t, err)
	visit(t, ctx, address)
	told := func() []string { return eval[[]string](t, ctx, `told.splice(0).filter((x) => x !== "hush")`) }
	caption := func() string { return eval[string](t, ctx, `document.getElementById("spoken").innerText`) }
	clay := whiting()
	clay.Now.Material, clay.Now.Target, clay.Now.Headline = "Ball clay", "90.0", text.Written("Pour Ball clay")

	drawn(t, ctx, whiting())
	assert.Empty(t, told(), "off unless somebody switches it on")
	assert.Equal(t, "Whiting, 127.5 grams, on the bench scale", caption())
	b.show(clay)
	drawn(t, ctx, clay)
	assert.Empty(t, told())
	assert.Equal(t, "Ball clay, 90.0 grams, on the bench scale", caption(), "the caption stands there in any case")

	tap(t, ctx, "v")
	until(t, ctx, `document.getElementById("speech").getAttribute("aria-pressed") === "true"`)
	assert.Equal(t, []string{"Ball clay, 90.0 grams, on the bench scale / here"}, told(), "switched on, it says where things stand")
	for _, v := range []session.View{pouring(t, "pour", "near", "120.0"), pouring(t, "in", "in", "127.2"), pouring(t, "pour", "near", "120.0")} {
		b.show(v)
		until(t, ctx, showing(v))
	}
	assert.Equal(t, []string{"Whiting, 127.5 grams, on the bench scale / here"}, told(), "once for each material")
	part := sceneOf(t, "portions")
	b.show(part)
	drawn(t, ctx, part)
	assert.Equal(t, []string{"Minspar, the old bag from the loft, 1250.5 grams, on the bench scale, portion 2 of 3 / here"}, told())
	for _, quiet := range []string{"reminder", "decide", "paused", "lifted", "finished", "idle", "lost"} {
		b.show(sceneOf(t, quiet))
		drawn(t, ctx, sceneOf(t, quiet))
	}
	assert.Empty(t, told(), "nothing begins there")

	// It is remembered, and quiet mutes it.
	b.show(clay)
	visit(t, ctx, address)
	drawn(t, ctx, clay)
	until(t, ctx, `document.getElementById("speech-words").textContent === "Speech on"`)
	tap(t, ctx, "x")
	until(t, ctx, `document.getElementById("sound-words").textContent === "Sound on"`)
	tap(t, ctx, "m")
	until(t, ctx, `document.getElementById("speech-words").textContent === "Speech muted"`)
	told()
	b.show(whiting())
	drawn(t, ctx, whiting())
	assert.Empty(t, told())
	assert.Equal(t, "Whiting, 127.5 grams, on the bench scale", caption())
	require.NoError(t, chromedp.Do(ctx, chromedp.Click(chromedp.CSS("#speech"))))
	until(t, ctx, `document.getElementById("speech-words").textContent === "Speech off"`)
	eval[bool](t, ctx, `localStorage.clear(), true`)
}

func TestWithoutVoicesTheWordsStandThere(t *testing.T) {
	ctx := tab(t)
	address, b := served(t, nil)
	visit(t, ctx, address+"/modules/icon.svg")
	_, err := chromedp.Run(ctx, addScript(fakeSound+`synth.voices = [];`))
	require.NoError(t, err)
	visit(t, ctx, address)
	drawn(t, ctx, whiting())
	assert.Equal(t, "No voice here", eval[string](t, ctx, `document.getElementById("speech-words").textContent`))
	tap(t, ctx, "v")
	assert.Equal(t, "false", eval[string](t, ctx, `document.getElementById("speech").getAttribute("aria-pressed")`))
	assert.Equal(t, "Whiting, 127.5 grams, on the bench scale", eval[string](t, ctx, `document.getElementById("spoken").innerText`))
	assert.Empty(t, b.commands())
	eval[bool](t, ctx, `localStorage.clear(), true`)
}

// Nothing on the page moves by itself, so nothing has to be stopped for those
// who asked their system for less motion.
func TestNothingMovesByItself(t *testing.T) {
	ctx := tab(t)
	address, b := served(t, nil)
	for _, value := range []string{"no-preference", "reduce"} {
		media(t, ctx, &emulation.MediaFeature{Name: "prefers-reduced-motion", Value: value})
		visit(t, ctx, address)
		for _, s := range scenes() {
			b.show(s.view)
			drawn(t, ctx, s.view)
			assert.Zero(t, eval[int](t, ctx, `document.getAnimations().length`), "%s: %s", value, s.name)
		}
	}
	media(t, ctx)
}

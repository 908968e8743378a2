package web

import (
	"fmt"
	"slices"
	"testing"

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
		n.Headline = text.New("bench.stop")
	case cue == "ease":
		n.Headline = text.New("bench.ease")
	case state == "settle":
		n.Headline, n.Detail = text.Written("Wait for the scale"), []text.Message{text.Written("Hands off: it is coming to rest.")}
	case state == "in":
		n.Headline, n.Detail = text.Written("In the band: lift the container"), []text.Message{text.Written("Lifting records it. Staying on the scale? Hold D.")}
	case state == "over":
		n.Headline, n.Detail = text.New("bench.take-out", text.Grams("excess", (m-target).Rounded(1))), []text.Message{text.Written("Spoon it out until the reading is in the band.")}
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
	return fmt.Sprintf(`document.getElementById("digits").textContent === %q && document.getElementById("in").textContent === %q && document.getElementById("bench").dataset.state === %q`, v.Shown().Now.Show.Digits, v.Now.In, v.Now.State)
}

// From the container to the lift the eye finds each thing where it was.
func TestAPourMovesNothingButTheFigureAndTheNeedle(t *testing.T) {
	ctx := tab(t)
	address, b := served(t, nil)
	visit(t, ctx, address)
	all := append([]session.View{sceneOf(t, "container")}, aPour(t)...)
	all = append(all, sceneOf(t, "lifted"), sceneOf(t, "container"))
	for _, sz := range benchSizes {
		for _, name := range []string{"Whiting", "Nepheline syenite", "Minspar, the old bag from the loft"} {
			t.Run(sz.String()+"/"+name, func(t *testing.T) {
				resize(t, ctx, sz)
				var first map[string]string
				for i, v := range all {
					v.Now.Material = name
					so := shown(v)
					if v.Now.In != "" {
						so = showing(v)
					}
					b.show(v)
					at := look[map[string]string](t, ctx, so+fmt.Sprintf(` && document.getElementById("material").textContent === %q`, name), `Object.fromEntries(["material", "digits", "bar", "keys-box", "rail", "label"].map((id) => {
						const el = document.getElementById(id), r = el.getBoundingClientRect();
						// Letters differ in width, not in place; a sign may go left of the figure.
						const side = id === "material" ? r.left : r.right;
						return [id, (id === "digits" && el.textContent.includes("–") ? [] : [side, r.top, r.bottom, getComputedStyle(el).fontSize]).map((x) => Math.round(parseFloat(x))).join(" ")];
					}))`)
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

// The band and the aim stand in the middle, the needle on an even scale, and where it is off
// the scale there is a chevron at that end and no needle.
func TestTheNeedleStandsWhereThePourIs(t *testing.T) {
	ctx := tab(t)
	address, b := served(t, nil)
	resize(t, ctx, size{1280, 800})
	media(t, ctx, &emulation.MediaFeature{Name: "prefers-reduced-motion", Value: "reduce"})
	visit(t, ctx, address)
	type places struct{ Needle, Off, Low, Aim, High, Fill float64 }
	at := func(v session.View) places {
		t.Helper()
		b.show(v)
		so := shown(v)
		if v.Now.In != "" {
			so = showing(v)
		}
		return look[places](t, ctx, so, `(() => {
			const box = document.querySelector(".bar-fine").getBoundingClientRect(), inner = { left: box.left + 3, width: box.width - 6 };
			const r = (q) => { const el = document.querySelector(q); return el.checkVisibility() ? el.getBoundingClientRect() : null; };
			const share = (x) => (x - inner.left) / inner.width, mid = (q) => { const is = r(q); return is ? share((is.left + is.right) / 2) : -1; };
			return { Needle: mid(".bar-needle"), Off: mid(".bar-off"), Low: share(r(".bar-band").left), High: share(r(".bar-band").right), Aim: mid(".bar-aim"), Fill: r(".bar-fill") ? r(".bar-fill").width / inner.width : -1 };
		})()`)
	}
	// 127.5 g with a band of 1.2 g to each side: four bands are 122.7 to 132.3 g.
	for in, want := range map[string]float64{"123.9": 0.125, "126.3": 0.375, "127.5": 0.5, "128.7": 0.625, "131.1": 0.875} {
		p := at(pouring(t, "settle", "", in))
		assert.InDelta(t, want, p.Needle, 0.002, in)
		assert.InDelta(t, -1, p.Off, 0, in)
	}
	p := at(pouring(t, "pour", "", "84.6"))
	assert.InDelta(t, -1, p.Needle, 0)
	assert.Less(t, p.Off, 0.1, "off at the lower end")
	assert.InDelta(t, 0.663, p.Fill, 0.002, "so much of the whole")
	assert.InDelta(t, 0.375, p.Low, 0.002)
	assert.InDelta(t, 0.5, p.Aim, 0.002)
	assert.InDelta(t, 0.625, p.High, 0.002)
	assert.Greater(t, at(pouring(t, "over", "over", "160.0")).Off, 0.9, "and at the upper")
	for _, none := range []string{"lost", "container", "lifted"} {
		p = at(sceneOf(t, none))
		assert.Equal(t, []float64{-1, -1, -1}, []float64{p.Needle, p.Off, p.Fill}, none)
		assert.InDelta(t, 0.375, p.Low, 0.002, "%s: the band stays", none)
	}
	assert.Contains(t, eval[string](t, ctx, `document.getElementById("bar").getAttribute("aria-label")`), "each line 0.5\u00a0g")
	assert.InDelta(t, 120, eval[float64](t, ctx, `document.querySelector(".bar-fine").offsetHeight + document.querySelector(".bar-whole").offsetHeight`), 1)
	media(t, ctx)
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
	resize(t, ctx, size{1280, 800})
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
	words("Sound soft")
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
	caption := func() string { return eval[string](t, ctx, `document.getElementById("spoken").textContent`) }
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
	tap(t, ctx, "m")
	until(t, ctx, `document.getElementById("speech-words").textContent === "Speech muted"`)
	told()
	b.show(whiting())
	drawn(t, ctx, whiting())
	assert.Empty(t, told())
	assert.Equal(t, "Whiting, 127.5 grams, on the bench scale", caption())
	tap(t, ctx, ".")
	require.NoError(t, chromedp.Do(ctx, chromedp.Click(chromedp.CSS("#speech"))))
	until(t, ctx, `document.getElementById("speech-words").textContent === "Speech off"`)
	eval[bool](t, ctx, `localStorage.clear(), true`)
}

// A voice of another language would read the words as nobody understands them.
func TestWithoutAVoiceOfTheLanguageTheWordsStandThere(t *testing.T) {
	ctx := tab(t)
	address, b := served(t, nil)
	visit(t, ctx, address+"/modules/icon.svg")
	_, err := chromedp.Run(ctx, addScript(fakeSound+`synth.voices = [{ lang: "de-DE", localService: true, name: "d" }, { lang: "eno", localService: true, name: "no English" }];`))
	require.NoError(t, err)
	visit(t, ctx, address)
	drawn(t, ctx, whiting())
	assert.Equal(t, "No voice here", eval[string](t, ctx, `document.getElementById("speech-words").textContent`))
	tap(t, ctx, "v")
	assert.Equal(t, "false", eval[string](t, ctx, `document.getElementById("speech").getAttribute("aria-pressed")`))
	assert.Equal(t, "Whiting, 127.5 grams, on the bench scale", eval[string](t, ctx, `document.getElementById("spoken").textContent`))
	assert.Empty(t, b.commands())

	visit(t, ctx, address+"/?lang=de")
	until(t, ctx, `document.documentElement.lang === "de" && !document.getElementById("speech").disabled`)
	visit(t, ctx, address+"/?lang=en")
	eval[bool](t, ctx, `localStorage.clear(), true`)
}

// Nothing on the page moves by itself: the needle glides for a tenth of a second after a
// reading, with what trails behind it and what is in, where lines come no quicker than that;
// and for those who asked their system for less motion nothing does.
func TestNothingMovesByItself(t *testing.T) {
	ctx := tab(t)
	address, b := served(t, nil)
	moving := `document.getAnimations().map((a) => a.effect.target.className + " " + a.transitionProperty + " " + a.effect.getTiming().duration)`
	for _, value := range []string{"no-preference", "reduce"} {
		media(t, ctx, &emulation.MediaFeature{Name: "prefers-reduced-motion", Value: value})
		visit(t, ctx, address)
		for _, s := range scenes() {
			b.show(s.view)
			drawn(t, ctx, s.view)
			for _, m := range eval[[]string](t, ctx, moving) {
				require.Equal(t, "no-preference", value, "%s: %s", s.name, m)
				assert.Contains(t, []string{"bar-at translate 100", "bar-fill scale 100", "bar-trail scale 100"}, m, s.name)
			}
			until(t, ctx, moving+`.length === 0`)
		}
	}
	b.show(pouring(t, "pour", "", "123.9"))
	until(t, ctx, showing(pouring(t, "pour", "", "123.9")))
	media(t, ctx)
	until(t, ctx, moving+`.length === 0`)
	eval[bool](t, ctx, `new Promise((r) => setTimeout(r, 200, true))`) // lines that come quickly need no glide
	b.show(pouring(t, "settle", "", "127.2"))
	until(t, ctx, moving+`.some((m) => m === "bar-at translate 100")`)
}

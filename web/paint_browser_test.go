package web

import (
	"context"
	"encoding/json"
	"fmt"
	"net/http"
	"net/http/httptest"
	"os"
	"slices"
	"testing"
	"time"

	"github.com/chromedp/cdproto/cdp"
	"github.com/chromedp/cdproto/tracing"
	"github.com/chromedp/chromedp"
	"github.com/rs/zerolog"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"tared/session"
)

// bare is the least page that shows the same figure by websocket.
const bare = `<!doctype html><p id="digits"></p><script>
	let view;
	new WebSocket("ws://" + location.host + "/live").onmessage = (e) => {
		const m = JSON.parse(e.data);
		if (m.beat) return;
		if (!m.set) view = m; else if (m.set["now.show.digits"]) view.now.show.digits = m.set["now.show.digits"];
		document.getElementById("digits").textContent = view.now.show.digits;
	};
</script>`

// timed notes when a message comes, and how long after it (ms) the frame that shows it is drawn.
const timed = `window.took = []; window.long = 0;
	new PerformanceObserver((l) => { long += l.getEntries().filter((e) => e.duration > 50).length; }).observe({ type: "longtask", buffered: true });
	const Socket = WebSocket;
	window.WebSocket = class extends Socket {
		constructor(...a) {
			super(...a);
			this.addEventListener("message", (e) => {
				if (e.data.includes('"beat"')) return;
				const at = performance.now();
				requestAnimationFrame(() => { const c = new MessageChannel(); c.port1.onmessage = () => took.push(performance.now() - at); c.port2.postMessage(0); });
			});
		}
	};`

// From a line to the picture, beside a bare page in the same run, at 20 lines a second. It
// measures time, so it runs only where TARED_LONG asks for it, and judges nothing.
func TestFromAReadingToThePicture(t *testing.T) {
	if os.Getenv("TARED_LONG") == "" {
		t.Skip("it measures time: TARED_LONG=1")
	}
	ctx := tab(t)
	b := newFakeBench()
	b.show(whiting())
	s, err := New(Config{Bench: b, Book: fakeBook{}, Log: zerolog.Nop()})
	require.NoError(t, err)
	hs := httptest.NewServer(http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		if r.URL.Path == "/bare" {
			w.Header().Set("Content-Type", "text/html")
			_, _ = w.Write([]byte(bare))
			return
		}
		s.handler.ServeHTTP(w, r)
	}))
	t.Cleanup(func() { s.live.close(); hs.Close() })
	resize(t, ctx, size{1280, 800})
	visit(t, ctx, hs.URL+"/bare")
	_, err = chromedp.Run(ctx, addScript(timed))
	require.NoError(t, err)
	var all []session.View // a pour of ten seconds
	for i := range 200 {
		state, cue := "pour", ""
		switch {
		case i >= 195:
			state = "settle"
		case i >= 185:
			cue = "ease"
		case i >= 175:
			cue = "near"
		}
		all = append(all, pouring(t, state, cue, fmt.Sprintf("%.1f", 7.5+0.6*float64(i))))
	}
	median := map[string]float64{}
	for range 2 {
		for _, path := range []string{"/bare", "/"} {
			visit(t, ctx, hs.URL+path)
			until(t, ctx, `document.getElementById("digits").textContent !== ""`)
			for _, v := range all {
				b.show(v)
				time.Sleep(50 * time.Millisecond)
			}
			took := eval[[]float64](t, ctx, `took`)
			slices.Sort(took)
			median[path] = took[len(took)/2]
			t.Logf("%-5s tenth %.1f, median %.1f ms of %d, long tasks %d", path, took[len(took)/10], median[path], len(took), eval[int](t, ctx, `long`))
		}
	}
	t.Logf("%.1f times the bare page", median["/"]/median["/bare"])
}

// While powder runs nothing is laid out but the figure and the words of the bar, once a line,
// however busy the machine is: that is what keeps a line far from a long task.
func TestALineLaysOutLittle(t *testing.T) {
	ctx := tab(t)
	address, b := served(t, nil)
	at := func(tenths int) session.View {
		v := pouring(t, "pour", "", fmt.Sprintf("%d.%d", tenths/10, tenths%10))
		b.show(v)
		return v
	}
	at(1200)
	visit(t, ctx, address)
	for _, sz := range benchSizes {
		resize(t, ctx, sz)
		until(t, ctx, showing(at(1200)))
		settle(t, ctx)
		seen := traced(t, ctx, func() {
			for i := 1201; i < 1221; i++ {
				until(t, ctx, showing(at(i)))
			}
		})
		assert.NotEmpty(t, seen, sz)
		assert.LessOrEqual(t, len(seen), 20, "%s: layouts of twenty lines", sz)
		for _, l := range seen {
			assert.LessOrEqual(t, l.Args.BeginData.TotalObjects, 30, "%s: what a line lays out", sz)
		}
	}
}

// laidOut is one layout, as the browser traces it.
type laidOut struct {
	Name string
	Args struct {
		BeginData struct{ DirtyObjects, TotalObjects int }
	}
}

// traced has the browser trace its layouts meanwhile.
func traced(t *testing.T, ctx context.Context, do func()) (seen []laidOut) {
	t.Helper()
	ctx, stop := context.WithCancel(ctx)
	defer stop()
	over := make(chan bool)
	require.NoError(t, chromedp.Listen(ctx, func(event any) {
		switch e := event.(type) {
		case *tracing.EventDataCollected:
			for _, v := range e.Value {
				var l laidOut
				if json.Unmarshal(v, &l) == nil && l.Name == "Layout" {
					seen = append(seen, l)
				}
			}
		case *tracing.EventTracingComplete:
			close(over)
		}
	}))
	_, err := chromedp.Call(ctx, tracing.Start, tracing.StartParams{TraceConfig: &tracing.TraceConfig{IncludedCategories: []string{"devtools.timeline"}}})
	require.NoError(t, err)
	do()
	_, err = chromedp.Call(ctx, tracing.End, cdp.Empty{})
	require.NoError(t, err)
	<-over
	return seen
}

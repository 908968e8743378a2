package web

import (
	"net/http"
	"net/http/httptest"
	"os"
	"slices"
	"testing"
	"time"

	"github.com/chromedp/chromedp"
	"github.com/rs/zerolog"
	"github.com/stretchr/testify/require"
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
	all := aPour(t)
	median := map[string]float64{}
	for range 2 {
		for _, path := range []string{"/bare", "/"} {
			visit(t, ctx, hs.URL+path)
			until(t, ctx, `document.getElementById("digits").textContent !== ""`)
			for range 5 {
				for _, v := range all {
					b.show(v)
					time.Sleep(50 * time.Millisecond)
				}
			}
			took := eval[[]float64](t, ctx, `took`)
			slices.Sort(took)
			median[path] = took[len(took)/2]
			t.Logf("%s: median %.1f ms of %d, long tasks %d", path, median[path], len(took), eval[int](t, ctx, `long`))
		}
	}
	t.Logf("%.1f times the bare page", median["/"]/median["/bare"])
}

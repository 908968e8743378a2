package web

import (
	"context"
	"net"
	"strings"
	"testing"
	"time"

	"github.com/chromedp/chromedp"
	"github.com/rs/zerolog"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"tared/session"
)

// elsewhere is a name that a browser leads to this machine (RFC 6761, section 6.3), and the
// server takes for one from elsewhere.
const elsewhere = "tablet.localhost"

// listening runs a server that another machine would reach by the name elsewhere.
func listening(t *testing.T, change func(*Config)) (here, there string, b *fakeBench) {
	t.Helper()
	ln, err := net.Listen("tcp", "127.0.0.1:0")
	require.NoError(t, err)
	_, port, err := net.SplitHostPort(ln.Addr().String())
	require.NoError(t, err)
	here, there = "http://127.0.0.1:"+port, "http://"+elsewhere+":"+port
	b = newFakeBench()
	b.planned = demoSheet()
	b.show(whiting())
	cfg := Config{Bench: b, Book: fakeBook{}, Listener: ln, Names: []string{elsewhere}, Link: there + "/", Log: zerolog.New(zerolog.NewTestWriter(t))}
	if change != nil {
		change(&cfg)
	}
	s, err := New(cfg)
	require.NoError(t, err)
	ctx, end := context.WithCancel(t.Context())
	done := make(chan error, 1)
	go func() { done <- s.Run(ctx) }()
	t.Cleanup(func() {
		end()
		assert.NoError(t, <-done)
	})
	return here, there, b
}

// A tablet comes in by the code that the page shows, and is out at once when it is sent
// away, in the middle of watching.
func TestATabletIsPairedAndRevoked(t *testing.T) {
	potter, axe := axeTab(t)
	tablet := tab(t, "401")
	here, there, b := listening(t, nil)
	resize(t, potter, size{1280, 800})
	visit(t, tablet, there+"/book?find=quartz")
	until(t, tablet, `location.pathname === "/pair"`)
	assert.Empty(t, eval[string](t, tablet, `document.body.textContent.match(/Tidewrack/)?.[0] ?? ""`), "nothing of the record is told")
	assert.Equal(t, 401., eval[float64](t, tablet, `fetch("/api/view").then(r => r.status)`))

	visit(t, potter, here+"/devices")
	until(t, potter, `document.querySelector("#add") !== null`)
	require.NoError(t, chromedp.Do(potter, chromedp.Click(chromedp.CSS(`#add`))))
	until(t, potter, `!document.querySelector("#invite").hidden && document.querySelector("#qr svg") !== null`)
	axe("a device is invited")
	shot(t, potter, "devices-invite", true)
	link := eval[string](t, potter, `document.querySelector("#link").href`)
	require.True(t, strings.HasPrefix(link, there+"/pair#"), link)

	visit(t, tablet, link+"x") // a wrong one first
	until(t, tablet, `!document.querySelector("#trouble").hidden`)
	start := time.Now()
	visit(t, tablet, "about:blank")
	visit(t, tablet, strings.Replace(link, "/pair#", "/pair?to=%2Fbook#", 1))
	until(t, tablet, `location.pathname === "/book"`)
	t.Logf("from the code to the page %v", time.Since(start))
	visit(t, tablet, there)
	until(t, tablet, `document.querySelector("[data-link=up]") !== null || document.body.textContent.includes("Whiting")`)
	assert.True(t, eval[bool](t, tablet, `fetch("/api/pair").then(r => r.json()).then(p => p.may && p.needed)`))
	assert.Equal(t, "", eval[string](t, tablet, `document.cookie.match(/tared_paired/)?.[0] ?? ""`), "no script reads the proof")

	until(t, potter, `document.querySelector("#invite").hidden && document.querySelectorAll("#devices [data-id]").length === 1`)
	axe("a device is paired")
	for _, sz := range sizes {
		resize(t, potter, sz)
		settle(t, potter)
		shot(t, potter, "devices-"+sz.String(), true)
		assert.Empty(t, eval[[]string](t, potter, layout), sz)
	}
	require.NoError(t, chromedp.Do(potter, chromedp.SetValue(chromedp.CSS(`.rename input`), "tablet on the wall"), chromedp.Click(chromedp.CSS(`.rename .press`))))
	until(t, potter, `document.querySelector("#devices h2").textContent === "tablet on the wall"`)
	require.NoError(t, chromedp.Do(potter, chromedp.Click(chromedp.CSS(`.revoke`))))
	until(t, potter, `document.querySelector(".revoke").textContent.includes("again")`)
	assert.Len(t, b.devices, 1)
	require.NoError(t, chromedp.Do(potter, chromedp.Click(chromedp.CSS(`.revoke`))))
	until(t, potter, `document.querySelectorAll("#devices [data-id]").length === 0`)
	start = time.Now()
	until(t, tablet, `location.pathname === "/pair"`)
	t.Logf("out after %v", time.Since(start))
	assert.Equal(t, 401., eval[float64](t, tablet, `fetch("/api/view").then(r => r.status)`))

	// The code that let it in serves nobody.
	visit(t, tablet, "about:blank")
	visit(t, tablet, link)
	until(t, tablet, `!document.querySelector("#trouble").hidden`)
	devices, err := b.Devices(t.Context())
	require.NoError(t, err)
	assert.Equal(t, []session.Device{{ID: devices[0].ID, Name: "tablet on the wall", From: "127.0.0.1", At: moment, Revoked: moment}}, devices)
}

// Where a device must come to trust the bench first, the code for that stands before the one
// that pairs.
func TestTrustComesBeforePairing(t *testing.T) {
	potter, axe := axeTab(t)
	_, a := encrypted(t)
	here, there, _ := listening(t, func(c *Config) { c.Authority = a })
	for _, sz := range sizes {
		resize(t, potter, sz)
		visit(t, potter, here+"/devices")
		until(t, potter, `document.querySelector("#add") !== null`)
		require.NoError(t, chromedp.Do(potter, chromedp.Click(chromedp.CSS(`#add`))))
		until(t, potter, `document.querySelector("#qr svg") !== null`)
		settle(t, potter)
		shot(t, potter, "devices-trust-"+sz.String(), true)
		assert.Empty(t, eval[[]string](t, potter, layout), sz)
	}
	axe("a device is to trust first")
	assert.Equal(t, there+trustPath, eval[string](t, potter, `document.querySelector("#trust-link").href`))
	assert.True(t, eval[bool](t, potter, `document.querySelector("#trust-qr svg").getBoundingClientRect().bottom < document.querySelector("#qr svg").getBoundingClientRect().top`))
	assert.Equal(t, "1.2.", eval[string](t, potter, `[...document.querySelectorAll("#invite h2")].map((h) => h.textContent.slice(0, 2)).join("")`))
	assert.True(t, eval[bool](t, potter, `document.querySelector("#named").hidden`), "without a name in the network none is shown")
}

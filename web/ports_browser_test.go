package web

import (
	"sync"
	"testing"

	"github.com/chromedp/chromedp"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"tared/session/text"
)

// A scale that no format knows shows how its lines could be read; it is set up only when a
// known weight has shown that they are read right.
func TestAScaleOfNoFormatOnThePage(t *testing.T) {
	ctx := tab(t)
	strange := &Proposal{Reads: "12.3", NoUnit: true, Sure: []text.Message{text.New("ports.sure-minus"), text.New("ports.sure-length", text.Count("count", 16))},
		Guessed: []text.Message{text.New("ports.guess-unit"), text.New("ports.guess-rest")}}
	f := &fakePorts{view: PortsView{Here: true, Looking: true, Ports: []Port{
		{Port: "/dev/ttyUSB1", Raw: `WT<  012.3>gram\r\nWT<  012.3>gram\r\n`, Why: "Text comes, but in no format that tared knows.", Proposal: strange},
		{Port: "/dev/ttyUSB2", Raw: `GROSS 1.5 kg\r\nTARE 0.5 kg\r\n`, Why: "Text comes, but in no format that tared knows.", Unclear: text.New("ports.unclear-printout")},
	}}}
	address, _ := served(t, func(c *Config) { c.Ports = f })
	stands := func(trial string, says text.Message) {
		f.mu.Lock()
		defer f.mu.Unlock()
		q := *strange
		q.Trial, q.Says = trial, says
		f.view.Ports[0].Proposal = &q
	}
	shots := func(name string) {
		t.Helper()
		for _, sz := range sizes {
			resize(t, ctx, sz)
			settle(t, ctx)
			shot(t, ctx, "strange-"+name+"-"+sz.String(), true)
			assert.False(t, eval[bool](t, ctx, `document.documentElement.scrollWidth > document.documentElement.clientWidth`), "at %s", sz)
		}
	}
	visit(t, ctx, address+"/scales")
	until(t, ctx, `document.querySelectorAll(".port").length === 2`)
	until(t, ctx, `document.querySelector(".port:last-child .port-why").textContent.includes("print-out")`)
	assert.False(t, eval[bool](t, ctx, `document.querySelector(".port:first-child .port-form").checkVisibility()`), "nothing that was not tried is set up")
	assert.False(t, eval[bool](t, ctx, `document.querySelector(".port:last-child .port-form").checkVisibility()`), "nor what cannot be read")
	assert.True(t, eval[bool](t, ctx, `document.querySelector(".port:first-child [data-what=keep]").checkVisibility()`))
	shots("proposed")
	require.NoError(t, chromedp.Do(ctx, chromedp.SetValue(chromedp.CSS(`.port:first-child [name=weight]`), "200"),
		chromedp.SetValue(chromedp.CSS(`.port:first-child [name=unit]`), "oz"), chromedp.Click(chromedp.CSS(`.port:first-child .try-form .press`))))
	until(t, ctx, `!document.querySelector(".port:first-child .try-form").inert`)
	stands("put", text.New("ports.trial-put", text.Grams("shows", "0.0"), text.Grams("weight", "200")))
	until(t, ctx, `document.querySelector(".port:first-child .strange-says").textContent.startsWith("The pan shows")`)
	shots("put")
	stands("wrong", text.New("ports.trial-wrong", text.Grams("net", "5669.9"), text.Grams("weight", "200")))
	until(t, ctx, `document.querySelector(".port:first-child .strange-says").textContent.includes("5669.9")`)
	shots("wrong")
	stands("passed", text.New("ports.trial-passed", text.Grams("net", "200.0"), text.Grams("weight", "200")))
	until(t, ctx, `document.querySelector(".port:first-child .port-form").checkVisibility()`)
	shots("passed")
	require.NoError(t, chromedp.Do(ctx, chromedp.Click(chromedp.CSS(`.port:first-child .port-form .press`))))
	until(t, ctx, `document.querySelector(".port:first-child .port-done").textContent.includes("/etc/tared/tared.toml")`)
	f.mu.Lock()
	defer f.mu.Unlock()
	assert.Equal(t, []TryPort{{Port: "/dev/ttyUSB1", Weight: "200g", Unit: "oz"}}, f.tried)
	assert.Equal(t, []TakePort{{Port: "/dev/ttyUSB1", Name: "bench"}}, f.taken)
}

// fakePorts are ports made of what a test puts in.
type fakePorts struct {
	mu    sync.Mutex
	view  PortsView
	taken []TakePort
	tried []TryPort
	kept  []string
}

func (f *fakePorts) Seen() PortsView {
	f.mu.Lock()
	defer f.mu.Unlock()
	return f.view
}

func (f *fakePorts) Look() {
	f.mu.Lock()
	defer f.mu.Unlock()
	f.view.Looking = true
}

func (f *fakePorts) Take(t TakePort) (string, error) {
	f.mu.Lock()
	defer f.mu.Unlock()
	f.taken = append(f.taken, t)
	if t.Name == "taken" {
		return "", text.Refuse("ports.by-flag")
	}
	return "/etc/tared/tared.toml", nil
}

func (f *fakePorts) Try(t TryPort) error {
	f.mu.Lock()
	defer f.mu.Unlock()
	f.tried = append(f.tried, t)
	return nil
}

func (f *fakePorts) Reload() {}

func (f *fakePorts) KeepCapture(port string) (string, error) {
	f.mu.Lock()
	defer f.mu.Unlock()
	f.kept = append(f.kept, port)
	return "/var/lib/tared/captures/2026-12-01-ttyUSB1.txt", nil
}

// What stands in the way at a port is said in the reader's language.
func TestPortsAreToldInTheReadersLanguage(t *testing.T) {
	f := &fakePorts{view: PortsView{Here: true, Ports: []Port{{Port: "/dev/ttyS0", Why: text.New("heard.first-reading").String()}}}}
	s, _ := newServer(t, func(c *Config) { c.Ports = f })
	for _, l := range text.All {
		r := request("GET", "/api/ports", "")
		r.Header.Set("Accept-Language", l.Tag)
		assert.Contains(t, do(s, r).Body.String(), l.Say(text.New("heard.first-reading")), l.Tag)
	}
	assert.Equal(t, text.New("heard.first-reading").String(), f.Seen().Ports[0].Why, "the ports are left as they are")
}

// A scale that is plugged in shows on the scales page, and one press sets it up; what
// nobody understands shows its text, and another press keeps it.
func TestANewScaleOnThePage(t *testing.T) {
	ctx := tab(t)
	f := &fakePorts{view: PortsView{
		Here: true,
		Ports: []Port{
			{Port: "/dev/ttyUSB0", USB: "0403:6001:A5", Product: "FTDI FT232R USB UART", Line: "9600 8N1", Format: "header-comma", Shows: "123.45 g", Raw: `ST,+00123.45  g\r\n`},
			{Port: "/dev/ttyUSB1", Raw: `WT<  012.3>gram\r\nWT<  012.3>gram\r\n`, Why: "Text comes, but in no format that tared knows."},
		},
		Faults: []string{`configuration /etc/tared/tared.toml, the scale in line 9: step: amount "0.1": no unit`},
	}}
	address, _ := served(t, func(c *Config) { c.Ports = f })
	for _, sz := range sizes {
		resize(t, ctx, sz)
		visit(t, ctx, address+"/scales")
		until(t, ctx, `document.querySelectorAll(".port").length === 2`)
		settle(t, ctx)
		shot(t, ctx, "ports-"+sz.String(), true)
		assert.False(t, eval[bool](t, ctx, `document.documentElement.scrollWidth > document.documentElement.clientWidth`), "at %s", sz)
	}
	require.NoError(t, chromedp.Do(ctx, chromedp.Click(chromedp.CSS(`#ports-look`))))
	until(t, ctx, `document.querySelector("#ports-look").hidden`)
	require.NoError(t, chromedp.Do(ctx, chromedp.Click(chromedp.CSS(`.port:first-child .port-form .press.first`))))
	until(t, ctx, `document.querySelector(".port:first-child .port-done").textContent.includes("/etc/tared/tared.toml")`)
	require.NoError(t, chromedp.Do(ctx, chromedp.Click(chromedp.CSS(`.port:last-child [data-what=keep]`))))
	until(t, ctx, `document.querySelector(".port:last-child .port-done").textContent.includes("ttyUSB1.txt")`)
	require.NoError(t, chromedp.Do(ctx, chromedp.SetValue(chromedp.CSS(`.port:last-child [name=name]`), "taken"),
		chromedp.Click(chromedp.CSS(`.port:last-child .port-form .press.first`))))
	until(t, ctx, `document.querySelector(".port:last-child .trouble").textContent.includes("its scales named")`)
	f.mu.Lock()
	defer f.mu.Unlock()
	assert.Equal(t, []TakePort{{Port: "/dev/ttyUSB0", Name: "bench"}, {Port: "/dev/ttyUSB1", Name: "taken"}}, f.taken)
	assert.Equal(t, []string{"/dev/ttyUSB1"}, f.kept)
}

package web

import (
	"bytes"
	"errors"
	"io"
	"net/http"
	"os"
	"path/filepath"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/chromedp/chromedp"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"tared/session/copies"
	"tared/session/text"
)

// fakeArchive is a record made of what a test puts in.
type fakeArchive struct {
	mu      sync.Mutex
	nightly Nightly
	steps   chan int64 // how far a longer work is; closed: it is done
	dir     string
	sent    []byte
	fail    error
	without []string
	as      string
}

func newArchive() *fakeArchive {
	return &fakeArchive{nightly: Nightly{Folder: "/media/stick", At: "03:30", Keep: copies.Usual, Last: time.Date(2026, 12, 1, 3, 30, 0, 0, time.Local)}}
}

func (a *fakeArchive) work(step Step) {
	if a.steps == nil {
		return
	}
	for done := range a.steps {
		time.Sleep(stepEvery) // it takes its time, and only then is there something to tell
		step(done, 100)
	}
}

func (a *fakeArchive) Verify(step Step) ([]text.Message, bool, error) {
	a.work(step)
	return []text.Message{text.New("page.shop.intact", text.Count("count", 4711)), text.New("page.shop.photos", text.Count("count", 3))}, true, a.fail
}

func (a *fakeArchive) Export(w io.Writer, as string, without []string) error {
	a.mu.Lock()
	defer a.mu.Unlock()
	a.without, a.as = without, as
	_, err := io.WriteString(w, "mark\r\n")
	return err
}

func (a *fakeArchive) Pack(step Step) (string, []text.Message, error) {
	a.work(step)
	file := filepath.Join(a.dir, "tared-2026-12-01-1403.zip")
	return file, []text.Message{text.New("page.shop.read-back", text.Count("count", 4711))}, errors.Join(a.fail, os.WriteFile(file, []byte("PK packed"), 0o600))
}

func (a *fakeArchive) Restore(in io.Reader) ([]text.Message, error) {
	b, err := io.ReadAll(in)
	a.mu.Lock()
	defer a.mu.Unlock()
	if a.sent = b; len(b) == 0 {
		return nil, text.Refuse("backup.not-taken", text.Because("why", text.Fault("copy.cut-off")))
	}
	return []text.Message{text.New("page.shop.restored", text.Name("folder", "/var/lib/tared/restored/2026-12-01-140300")), text.New("page.shop.epoch")}, err
}

func (a *fakeArchive) Nightly() Nightly {
	a.mu.Lock()
	defer a.mu.Unlock()
	return a.nightly
}

func (a *fakeArchive) Copy(step Step) (text.Message, error) {
	a.work(step)
	a.mu.Lock()
	defer a.mu.Unlock()
	a.nightly.Last = time.Date(2026, 12, 1, 14, 3, 0, 0, time.Local)
	return text.New("page.shop.copied", text.Name("file", "/media/stick/tared-01234567-2026-12-01-140300.jsonl")), a.fail
}

func (a *fakeArchive) Formats() []Format {
	return []Format{{"header-comma", "two letters, a comma, the weight", "ST,GS,+  281.0 g"}}
}

// The record is checked, saved, copied and brought back by the page, each with one press, or
// two where it is weighty; a longer work says how far it is.
func TestTheRecordOnThePage(t *testing.T) {
	ctx := tab(t)
	a := newArchive()
	a.dir = t.TempDir()
	address, _ := served(t, func(c *Config) { c.Archive = a })
	for _, sz := range sizes {
		resize(t, ctx, sz)
		visit(t, ctx, address+"/archive")
		settle(t, ctx)
		shot(t, ctx, "archive-record-"+sz.String(), true)
	}
	said := func(list string) string { return eval[string](t, ctx, `document.getElementById("`+list+`").innerText`) }

	a.steps = make(chan int64)
	press(t, ctx, `document.querySelector('[data-says="verified"]')`)
	for range 7 {
		a.steps <- 40
	}
	until(t, ctx, `/40 in a hundred is done, about .+ to go/.test(document.getElementById("verified").innerText)`)
	// A second longer work waits its turn, and is told so.
	visitor := eval[string](t, ctx, `fetch("/api/pack", { method: "POST", headers: { "Content-Type": "application/json" }, body: "{}" }).then((r) => r.json()).then((b) => b.error)`)
	assert.Contains(t, visitor, "Wait until that is done")
	close(a.steps)
	until(t, ctx, `document.getElementById("verified").innerText.includes("every one intact")`)
	assert.Contains(t, said("verified"), "3 photographs, all there.")
	a.steps = nil

	press(t, ctx, `document.querySelector('[data-says="packed"]')`)
	until(t, ctx, `!document.getElementById("fetch").hidden`)
	assert.Contains(t, said("packed"), "all intact")
	got := eval[string](t, ctx, `fetch(document.getElementById("fetch").href).then((r) => r.headers.get("Content-Disposition") + r.headers.get("Content-Type"))`)
	assert.Equal(t, "attachment; filename=tared-2026-12-01-1403.zipapplication/zip", got)

	press(t, ctx, `document.querySelector('[data-says="copied"]')`)
	until(t, ctx, `document.getElementById("nights").innerText.includes("14:03")`)
	assert.Contains(t, said("copied"), "read back and checked")

	// One press asks, the second does it.
	assert.False(t, eval[bool](t, ctx, `document.querySelector("#restoring .once .press.first").checkVisibility()`))
	press(t, ctx, `document.querySelector("#restoring summary")`)
	assert.Contains(t, eval[string](t, ctx, `document.querySelector("#restoring .once").innerText`), "A second record is made beside the one in use")
	press(t, ctx, `document.querySelector("#restoring .once .press.first")`)
	until(t, ctx, `document.getElementById("restored").innerText.includes("Nothing was taken in")`)
	file := filepath.Join(t.TempDir(), "glaze.zip")
	require.NoError(t, os.WriteFile(file, []byte("PK packed"), 0o600))
	require.NoError(t, chromedp.Do(ctx, chromedp.SetUploadFiles(chromedp.CSS("#file"), []string{file})))
	press(t, ctx, `document.querySelector("#restoring .once .press.first")`)
	until(t, ctx, `document.getElementById("restored").innerText.includes("begins a new epoch")`)
	a.mu.Lock()
	assert.True(t, bytes.Equal([]byte("PK packed"), a.sent))
	a.fail = text.Refuse("backup.folder-gone", text.Name("folder", "/media/stick"))
	a.mu.Unlock()

	press(t, ctx, `document.querySelector('[data-says="copied"]')`)
	until(t, ctx, `document.getElementById("copied").innerText.includes("Is its disk plugged in?")`)

	eval[int](t, ctx, `document.querySelectorAll(".export input").forEach((i) => { i.click(); }), 1`)
	csv := eval[string](t, ctx, `fetch("/export/batches.csv?" + new URLSearchParams(new FormData(document.querySelector(".export")))).then((r) => r.text())`)
	assert.Equal(t, "mark\r\n", csv)
	a.mu.Lock()
	assert.Equal(t, []string{"names", "prices"}, a.without)
	a.mu.Unlock()
}

// A bench whose copies stopped says so where somebody looks.
func TestCopiesThatStopped(t *testing.T) {
	for _, c := range []struct {
		is   Nightly
		want string
	}{
		{Nightly{}, "No copy is made by itself"},
		{Nightly{Folder: "/media/stick"}, "No copy has been made yet"},
		{Nightly{Folder: "/media/stick", Last: time.Now().AddDate(0, 0, -9), Late: true}, "Nights went by without one"},
		{Nightly{Folder: "/media/stick", Why: text.New("backup.folder-gone", text.Name("folder", "/media/stick"))}, "Is its disk plugged in?"},
	} {
		c.is.Keep = copies.Usual
		s, _ := newServer(t, func(cfg *Config) { cfg.Archive = &fakeArchive{nightly: c.is} })
		for _, path := range []string{"/workshop", "/archive"} {
			assert.Contains(t, do(s, request("GET", path, "")).Body.String(), c.want, path)
		}
	}
}

// The table is of the decimal mark that was chosen; the choice begins with that of the reader's language.
func TestTheDecimalMarkOfATable(t *testing.T) {
	a := &fakeArchive{}
	s, _ := newServer(t, func(c *Config) { c.Archive = a })
	for path, as := range map[string]string{"/export/batches.csv": "csv", "/export/batches.csv?decimal=comma": "csv-comma", "/export/batches.html?decimal=comma": "page"} {
		require.Equal(t, http.StatusOK, do(s, request("GET", path, "")).Code)
		assert.Equal(t, as, a.as, path)
	}
	for tag, comma := range map[string]bool{"en": false, "de": true, "fr": true, "es": true} {
		r := request("GET", "/archive", "")
		r.Header.Set("Accept-Language", tag)
		assert.Equal(t, comma, strings.Contains(do(s, r).Body.String(), `value="comma" checked`), tag)
	}
}

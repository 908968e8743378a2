package web

import (
	"bytes"
	"encoding/json"
	"errors"
	"image"
	"image/color"
	"image/jpeg"
	"io"
	"net/http"
	"net/http/httptest"
	"os"
	"path/filepath"
	"runtime"
	"strings"
	"testing"

	"github.com/chromedp/chromedp"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"tared/session/photo"
)

// tilePicture is an invented tile as a JPEG, with a script in a comment.
func tilePicture(t *testing.T) []byte {
	t.Helper()
	m := image.NewRGBA(image.Rect(0, 0, 400, 300))
	for y := range 300 {
		for x := range 400 {
			m.Set(x, y, color.RGBA{uint8(x / 2), 90, uint8(y / 2), 255})
		}
	}
	var b bytes.Buffer
	require.NoError(t, jpeg.Encode(&b, m, nil))
	words := "<script>alert(1)</script>"
	out := append([]byte("\xff\xd8\xff\xfe\x00"), byte(len(words)+2))
	return append(append(out, words...), b.Bytes()[2:]...)
}

func photoRequest(body io.Reader, kind string) *http.Request {
	r := httptest.NewRequest("POST", "http://localhost:7410/api/photo", body)
	r.RemoteAddr = "127.0.0.1:50000"
	r.Header.Set("Origin", "http://localhost:7410")
	r.Header.Set("Content-Type", kind)
	return r
}

func TestAPhotographIsSentAndShown(t *testing.T) {
	dir := t.TempDir()
	s, _ := newServer(t, func(c *Config) { c.Photos = dir })
	w := do(s, photoRequest(bytes.NewReader(tilePicture(t)), "image/jpeg"))
	require.Equal(t, 200, w.Code, w.Body)
	var got struct{ Name string }
	require.NoError(t, json.Unmarshal(w.Body.Bytes(), &got))
	require.NoError(t, photo.Check(dir, got.Name))

	w = do(s, request("GET", "/photo/"+got.Name, ""))
	require.Equal(t, 200, w.Code)
	assert.Equal(t, "image/jpeg", w.Header().Get("Content-Type"))
	assert.Equal(t, "nosniff", w.Header().Get("X-Content-Type-Options"))
	assert.Contains(t, w.Header().Get("Content-Security-Policy"), "sandbox")
	assert.NotContains(t, w.Body.String(), "script")
	w = do(s, request("GET", "/photo/small/"+got.Name, ""))
	require.Equal(t, 200, w.Code)
	assert.Equal(t, "image/jpeg", w.Header().Get("Content-Type"))
	assert.Contains(t, w.Header().Get("Content-Security-Policy"), "sandbox")
	for _, bad := range []string{"/photo/small/x.jpg", "/photo/x.jpg", "/photo/..%2Fjournal.jsonl", "/photo/" + strings.Repeat("0", 64) + ".jpg", "/photo/" + got.Name + ".html"} {
		assert.Equal(t, 404, do(s, request("GET", bad, "")).Code, bad)
	}
}

func TestWhatIsNoPhotographIsNotTaken(t *testing.T) {
	dir := t.TempDir()
	s, _ := newServer(t, func(c *Config) { c.Photos = dir })
	for name, c := range map[string]struct {
		kind, body string
		code       int
	}{
		"SVG":             {"image/svg+xml", "<svg/>", 415},
		"HTML":            {"text/html", "<script>", 415},
		"form":            {"multipart/form-data; boundary=x", "--x--", 415},
		"JSON":            {"application/json", "{}", 415},
		"SVG in disguise": {"image/png", `<svg xmlns="http://www.w3.org/2000/svg"><script/></svg>`, 422},
		"empty":           {"image/jpeg", "", 422},
		"cut off":         {"image/jpeg", string(tilePicture(t)[:900]), 422},
	} {
		w := do(s, photoRequest(strings.NewReader(c.body), c.kind))
		assert.Equal(t, c.code, w.Code, "%s: %s", name, w.Body)
	}
	// A photograph is no way around the limit of the other commands.
	r := request("POST", "/api/after", "x")
	r.Header.Set("Content-Type", "image/jpeg")
	assert.Equal(t, 415, do(s, r).Code)
	r = photoRequest(bytes.NewReader(tilePicture(t)), "image/jpeg")
	r.Header.Set("Origin", "http://elsewhere.example")
	assert.Equal(t, 403, do(s, r).Code, "another page may not send one")
	files, err := os.ReadDir(filepath.Join(dir, photo.Dir))
	assert.True(t, err != nil || len(files) == 0, "nothing was kept")

	s, _ = newServer(t, func(c *Config) { c.Photos, c.Pair = dir, true })
	assert.Equal(t, 401, do(s, photoRequest(bytes.NewReader(tilePicture(t)), "image/jpeg")).Code)
	s, _ = newServer(t, nil)
	assert.Equal(t, 404, do(s, photoRequest(bytes.NewReader(tilePicture(t)), "image/jpeg")).Code)
	assert.Equal(t, 404, do(s, request("GET", "/photo/"+strings.Repeat("0", 64)+".jpg", "")).Code)
}

// flood is a JPEG that never ends, and tells how much of it was read.
type flood struct {
	head io.Reader
	n    int64
}

func (f *flood) Read(p []byte) (int, error) {
	n, err := f.head.Read(p)
	if errors.Is(err, io.EOF) {
		n, err = len(p), nil
	}
	f.n += int64(n)
	return n, err
}

func TestAPhotographOf200MegabytesIsRefusedEarly(t *testing.T) {
	s, _ := newServer(t, func(c *Config) { c.Photos = t.TempDir() })
	body := &flood{head: bytes.NewReader(tilePicture(t))}
	r := photoRequest(body, "image/jpeg")
	r.ContentLength = 200 << 20
	w := do(s, r)
	assert.Equal(t, 413, w.Code)
	assert.Contains(t, w.Body.String(), "200 MB; the limit is 20 MB")
	assert.Zero(t, body.n, "not a byte was read")

	// Nor when it does not say how much is to come.
	var before, after runtime.MemStats
	runtime.ReadMemStats(&before)
	r = photoRequest(body, "image/jpeg")
	r.ContentLength = -1
	w = do(s, r)
	runtime.ReadMemStats(&after)
	assert.Equal(t, 413, w.Code, w.Body)
	assert.Contains(t, w.Body.String(), "larger than 20 MB")
	assert.LessOrEqual(t, body.n, int64(photo.MaxFile+1))
	assert.Less(t, after.TotalAlloc-before.TotalAlloc, uint64(150<<20), "all growth of one buffer of 20 MB")
}

func TestAPhotographGoesWithAJudgement(t *testing.T) {
	ctx := tab(t, "not a JPEG or PNG")
	dir := t.TempDir()
	b := newFakeBench()
	b.show(whiting())
	address, _ := served(t, func(c *Config) { c.Bench, c.Photos = b, dir })
	file := filepath.Join(t.TempDir(), "tile.jpg")
	require.NoError(t, os.WriteFile(file, tilePicture(t), 0o600))
	visit(t, ctx, address+"/book/c261124")
	until(t, ctx, `document.querySelectorAll("#entries li").length === 3`)
	eval[bool](t, ctx, `document.getElementById("verdict").open = true, true`)
	require.NoError(t, chromedp.Do(ctx, chromedp.SendKeys(chromedp.CSS("#j-tile"), "KD-A"), chromedp.SendKeys(chromedp.CSS("#j-by"), "Mara"),
		chromedp.SetUploadFiles(chromedp.CSS("#j-photos"), []string{file}), chromedp.Click(chromedp.CSS(`form[data-kind=judged] button`))))
	until(t, ctx, `document.activeElement.id === "after-title"`)
	require.Len(t, b.requests(), 1)
	j := b.requests()[0].Judged
	require.NotNil(t, j)
	require.Len(t, j.Photos, 1)
	require.NoError(t, photo.Check(dir, j.Photos[0]))

	// One that cannot be sent is named, and nothing of the form is lost.
	require.NoError(t, os.WriteFile(file, []byte("<svg/>"), 0o600))
	eval[bool](t, ctx, `document.getElementById("verdict").open = true, true`)
	require.NoError(t, chromedp.Do(ctx, chromedp.SendKeys(chromedp.CSS("#j-tile"), "KD-C"),
		chromedp.SetUploadFiles(chromedp.CSS("#j-photos"), []string{file}), chromedp.Click(chromedp.CSS(`form[data-kind=judged] button`))))
	until(t, ctx, `document.getElementById("after-trouble").textContent.includes("not a JPEG or PNG")`)
	assert.Equal(t, "KD-C", eval[string](t, ctx, `document.getElementById("j-tile").value`))
	assert.Len(t, b.requests(), 1)
	assert.Equal(t, "Save", eval[string](t, ctx, `document.querySelector("form[data-kind=judged] button").textContent`))
}

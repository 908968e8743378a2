package main

import (
	"time"

	"cmp"
	"context"
	"io"
	"net"
	"net/http"
	"regexp"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"tared/session"
	"tared/session/book"
	"tared/session/fact"
	"tared/session/journal"
	"tared/web"
)

// onLabel is what stands on a label, however its lines are broken.
func onLabel(svg string) string {
	var lines []string
	for _, l := range regexp.MustCompile(`<text [^>]*>([^<]*)</text>`).FindAllStringSubmatch(svg, -1) {
		lines = append(lines, l[1])
	}
	return strings.Join(lines, " ")
}

func TestLabel(t *testing.T) {
	dir := keptBatch(t)
	x, err := readIndex(dir, true)
	require.NoError(t, err)
	n, err := x.Find("260302a")
	require.NoError(t, err)
	hash := n.Made().Hash
	code, out, errs := tared(t, "label", "260302A", "--data", dir)
	require.Equal(t, 0, code, errs)
	for _, words := range []string{"260302a", "Lye &lt;b&gt;white&lt;/b&gt;", "2026-03-02", hash[:4] + " " + hash[4:8], "Hazards of the dry", "Quartz: H372", "No dust"} {
		assert.Contains(t, onLabel(out), words)
	}
	assert.Contains(t, errs, "leads to http://127.0.0.1:7410/, which a telephone takes for itself")
	_, _, errs = tared(t, "label", "260302A", "--data", dir, "--link", "http://192.168.178.40:7410/")
	assert.Empty(t, errs)
	code, out, errs = tared(t, "label", "260302a", "--sheet", "2x6 letter", "--data", dir)
	require.Equal(t, 0, code, errs)
	assert.Contains(t, out, `width="215.9mm"`)
	code, out, errs = tared(t, "label", "260302a", "--sheet", "2x5", "--count", "5", "--data", dir)
	require.Equal(t, 0, code, errs)
	assert.Contains(t, out, "5 labels of batch 260302a")
	code, out, errs = tared(t, "label", "260302a", "--sheet", "99.1x67.7mm", "--data", dir)
	require.Equal(t, 0, code, errs)
	assert.Contains(t, out, "8 labels of batch 260302a")
	for _, bad := range []string{"x", "2by7", "9x9", "0x1", "NaNxNaNmm", "1e9x50mm", "-5x-5mm", "axbmm"} {
		code, _, errs = tared(t, "label", "260302a", "--sheet", bad, "--data", dir)
		assert.Equal(t, 64, code, errs)
	}
	code, _, errs = tared(t, "label", "260302z", "--data", dir)
	assert.Equal(t, 1, code, errs)

	// Nothing that comes after the closing changes the label.
	_, before, _ := tared(t, "label", "260302a", "--data", dir)
	for _, args := range [][]string{
		{"water", "260302a", "--added", "900g"},
		{"fire", "260302a", "--kiln", "small kiln", "--tile", "AC-A"},
		{"fire", "260302a", "--kiln", "small kiln", "--tile", "AC-A", "--note", "glazed once more"},
		{"judge", "260302a", "--tile", "AC-A", "--photo", pictureFile(t)},
	} {
		code, _, errs = tared(t, append(args, "--by", "Mara", "--data", dir)...)
		require.Equal(t, 0, code, errs)
	}
	_, after, _ := tared(t, "label", "260302a", "--data", dir)
	assert.Equal(t, before, after)

	// But a corrected portion is told, and the hash is that of the bucket's label.
	code, _, errs = tared(t, "correct", "260302a", "--entry", "3", "--weight", "999.0g", "--reason", "read wrongly", "--by", "Jonas", "--data", dir)
	require.Equal(t, 0, code, errs)
	_, corrected, _ := tared(t, "label", "260302a", "--data", dir)
	assert.Contains(t, onLabel(corrected), "Corrected since")
	assert.Contains(t, onLabel(corrected), book.Short(hash))

	// A batch in work has none.
	j, past, _, err := session.Open(dir, "", time.Time{})
	require.NoError(t, err)
	_, err = j.Append(past.Facts[0].At, "planned", "260302c", "Mara", fact.Planned{Title: "Another (invented)"})
	require.NoError(t, err)
	require.NoError(t, j.Close())
	code, _, errs = tared(t, "label", "260302c", "--data", dir)
	assert.Equal(t, 1, code)
	assert.Contains(t, errs, "finish it first")

	// serve gives what asks the page for the labels, as a browser that opened it at an
	// address of the workshop's network would.
	serve := func(link string) func(path string) (int, string) {
		ln, err := net.Listen("tcp", "127.0.0.1:0")
		require.NoError(t, err)
		bench := session.New(session.Config{})
		page, err := web.New(web.Config{Listener: ln, Bench: bench, Book: bookOf(t, dir), Open: true, Link: link})
		require.NoError(t, err)
		ctx, end := context.WithCancel(t.Context())
		done := make(chan error, 1)
		go func() { _ = bench.Run(ctx) }() // it ends with ctx
		go func() { done <- page.Run(ctx) }()
		t.Cleanup(func() { end(); require.NoError(t, <-done) })
		return func(path string) (int, string) {
			r, err := http.NewRequest("GET", "http://"+ln.Addr().String()+path, nil)
			require.NoError(t, err)
			r.Host = "192.168.178.40:7410"
			w, err := http.DefaultClient.Do(r)
			require.NoError(t, err)
			defer func() { _ = w.Body.Close() }()
			body, err := io.ReadAll(w.Body)
			require.NoError(t, err)
			return w.StatusCode, string(body)
		}
	}
	get := serve("")
	for path, want := range map[string]int{"/label/260302a": 200, "/label/260302a?sheet=2x7&count=2": 200, "/label/260302c": 409, "/label/%3Cscript%3E": 404, "/label/260302a?sheet=99x1": 409} {
		code, body := get(path)
		assert.Equal(t, want, code, path)
		assert.NotContains(t, body, "<script>")
	}
	// The code leads to the public address where one is set, else to that by which the
	// page was opened.
	_, opened := get("/label/260302a")
	_, public := serve("http://glaze.local:7410/")("/label/260302a")
	for set, want := range map[string]string{"": opened, "http://glaze.local:7410/": public} {
		_, svg, errs := tared(t, "label", "260302a", "--sheet", "2x4", "--link", cmp.Or(set, "http://192.168.178.40:7410/"), "--data", dir)
		assert.Contains(t, want, strings.TrimSpace(svg), errs)
	}
	assert.NotEqual(t, opened, public)
	rep, err := journal.Read(dir, nil)
	require.NoError(t, err)
	assert.EqualValues(t, 11, rep.Lines)
}

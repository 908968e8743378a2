package web

import (
	"bytes"
	"crypto/sha256"
	"embed"
	"encoding/hex"
	"fmt"
	"html/template"
	"io/fs"
	"net/http"
	"path"
	"strings"
)

//go:embed page
var pageFiles embed.FS

// asset is a file as it is sent.
type asset struct {
	kind string // Content-Type
	etag string
	body []byte
}

// nav lists the pages that the header leads to.
var nav = []struct{ Name, Path, Label string }{
	{"bench", "/", "Bench"},
	{"sheet", "/sheet", "Sheet"},
	{"stock", "/stock", "Stock"},
	{"book", "/book", "Book"},
	{"scales", "/scales", "Scales"},
	{"calc", "/calc", "Calculate"},
}

// pageTitles names each page; In is the entry of the header that it belongs to.
var pageTitles = []struct{ Name, Title, In string }{
	{"bench", "Bench", "bench"},
	{"sheet", "Weigh sheet", "sheet"},
	{"stock", "Stock", "stock"},
	{"book", "Book", "book"},
	{"made", "Batch", "book"},
	{"compare", "Compare batches", "book"},
	{"series", "Series", "book"},
	{"proof", "Check the record", "book"},
	{"scales", "Scales", "scales"},
	{"calc", "Calculate", "calc"},
	{"pair", "Pair this browser", ""},
}

// kinds are the types of our few files; the system's own table may say otherwise.
var kinds = map[string]string{
	".css": "text/css; charset=utf-8",
	".js":  "text/javascript; charset=utf-8",
	".svg": "image/svg+xml",
}

// loadPages draws every page once: nothing in them depends on who asks.
func loadPages() (map[string]asset, error) {
	files := map[string]asset{}
	for _, p := range pageTitles {
		if drawnPages[p.Name] != nil {
			continue
		}
		t, err := template.ParseFS(pageFiles, "page/layout.html", "page/"+p.Name+".html")
		if err != nil {
			return nil, fmt.Errorf("page %s: %w", p.Name, err)
		}
		var b bytes.Buffer
		if err := t.ExecuteTemplate(&b, "layout.html", pageData(p.Name, nil)); err != nil {
			return nil, fmt.Errorf("page %s: %w", p.Name, err)
		}
		files[p.Name] = newAsset("text/html; charset=utf-8", b.Bytes())
	}
	err := fs.WalkDir(pageFiles, "page", func(name string, d fs.DirEntry, err error) error {
		if err != nil || d.IsDir() || strings.HasSuffix(name, ".html") {
			return err
		}
		kind, ok := kinds[path.Ext(name)]
		if !ok {
			return fmt.Errorf("page file %s: no content type known for it", name)
		}
		b, err := pageFiles.ReadFile(name)
		files["static/"+path.Base(name)] = newAsset(kind, b)
		return err
	})
	return files, err
}

// pageData is what a page is drawn from.
func pageData(name string, data any) map[string]any {
	d := map[string]any{"Nav": nav, "Data": data}
	for _, p := range pageTitles {
		if p.Name == name {
			d["Page"] = p
		}
	}
	if name == "calc" {
		d["Calc"] = calcTopics()
	}
	return d
}

func newAsset(kind string, body []byte) asset {
	sum := sha256.Sum256(body)
	return asset{kind, `"` + hex.EncodeToString(sum[:12]) + `"`, body}
}

func (s *Server) page(name string) http.HandlerFunc {
	return func(w http.ResponseWriter, r *http.Request) { send(w, r, s.pages[name]) }
}

func (s *Server) static(w http.ResponseWriter, r *http.Request) {
	a, ok := s.pages["static/"+r.PathValue("file")]
	if !ok {
		refuse(w, http.StatusNotFound, "no such file")
		return
	}
	send(w, r, a)
}

// send answers with a file, or with nothing when the browser has it. The browser
// asks each time, so that after an update page and server are of one kind.
func send(w http.ResponseWriter, r *http.Request, a asset) {
	h := w.Header()
	h.Set("Cache-Control", "no-cache")
	h.Set("ETag", a.etag)
	if r.Header.Get("If-None-Match") == a.etag {
		w.WriteHeader(http.StatusNotModified)
		return
	}
	h.Set("Content-Type", a.kind)
	_, _ = w.Write(a.body)
}

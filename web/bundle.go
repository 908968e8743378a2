package web

import (
	"bytes"
	"compress/gzip"
	"crypto/sha256"
	"embed"
	"encoding/base64"
	"encoding/hex"
	"errors"
	"fmt"
	"html/template"
	"net/http"
	"path"
	"regexp"
	"strings"
	"sync"

	"tared/session/text"
)

// What a page needs is put together when the server starts, so that nobody has to build
// anything: its style goes out in the page itself, so that the first answer can be painted,
// and its script, with all that this imports, as one file. A file is named by what is in it
// and kept by the browser for ever; a page is asked for again each time, so that after an
// update page and server are of one kind.

//go:embed page
var pageFiles embed.FS

// asset is a file as it is sent.
type asset struct {
	kind string // Content-Type
	body []byte
	gzip func() []byte // made when somebody wants it
}

func newAsset(kind string, body []byte) asset {
	return asset{kind, body, sync.OnceValue(func() []byte { return compressed(body) })}
}

// bundled is what a page is sent with.
type bundled struct {
	Style        template.CSS
	Script, Icon string // where they are
	policy       string // Content-Security-Policy
}

// bundler puts together what pages need, and makes of each file only once what it needs of it.
type bundler struct {
	files   map[string]asset
	modules map[string]module
}

func newBundler() bundler { return bundler{map[string]asset{}, map[string]module{}} }

// bundle puts together what a page needs.
func (b bundler) bundle(p page) (bundled, error) {
	style, err := styles("vars.css", "base.css", p.Name+".css")
	if err != nil {
		return bundled{}, fmt.Errorf("page %s: %w", p.Name, err)
	}
	var script bytes.Buffer
	if err := b.script(&script, p.Name, map[string]bool{}); err != nil {
		return bundled{}, fmt.Errorf("page %s: %w", p.Name, err)
	}
	icon, err := pageFiles.ReadFile("page/icon.svg")
	sum := sha256.Sum256([]byte(style))
	return bundled{template.CSS(style), b.named(p.Name, ".js", script.Bytes()), b.named("icon", ".svg", icon),
		policy + "; style-src 'self' 'sha256-" + base64.StdEncoding.EncodeToString(sum[:]) + "'"}, err
}

// film puts together the script that keeps a screen on.
func (b bundler) film() (string, error) {
	var script bytes.Buffer
	err := b.script(&script, "film", map[string]bool{})
	return b.named("film", ".js", script.Bytes()), err
}

// plain reports whether a browser takes this for an address that is not a secure one: http,
// and not this machine. Behind a proxy it may be https all the same; film.js looks.
func plain(r *http.Request) bool { return r.TLS == nil && !localName(r.Host) }

// named keeps a file under a name with what is in it, and gives its path.
func (b bundler) named(stem, ext string, body []byte) string {
	sum := sha256.Sum256(body)
	name := stem + "-" + hex.EncodeToString(sum[:6]) + ext
	b.files[name] = newAsset(kinds[ext], body)
	return "/static/" + name
}

var imported = regexp.MustCompile(`^@import url\("(.*)"\);`)

// styles sets style sheets one behind the other.
func styles(names ...string) (string, error) {
	var out strings.Builder
	for _, name := range names {
		lines, err := linesOfFile(name)
		if err != nil {
			return "", err
		}
		for _, line := range lines {
			if of := imported.FindStringSubmatch(line); of != nil {
				line, err = styles(of[1])
				if err != nil {
					return "", err
				}
			}
			out.WriteString(line)
		}
	}
	return out.String(), nil
}

// behind is a comment behind what it is about.
var behind = regexp.MustCompile("[ \t]+(// [^\"'`]*|/\\* [^*]* \\*/)\n$")

// linesOfFile are the lines of a file, without the comments, and not set in.
func linesOfFile(name string) (lines []string, err error) {
	b, err := pageFiles.ReadFile("page/" + name)
	comment := false
	for line := range strings.Lines(string(b)) {
		is := strings.TrimSpace(line)
		ends := strings.HasSuffix(is, "*/")
		comment = comment || strings.HasPrefix(is, "/*") && (ends || !strings.Contains(is, "*/"))
		if !comment && !strings.HasPrefix(is, "//") {
			lines = append(lines, behind.ReplaceAllString(strings.TrimLeft(line, "\t "), "\n"))
		}
		comment = comment && !ends
	}
	return lines, err
}

// module is a script as a function that gives what the script exports, in "$" and its name.
type module struct {
	imports []string
	text    string
}

var (
	imports = regexp.MustCompile(`^import (?:\* as (\w+) from |(\{.*\}) from |)"\./(\w+)\.js";\n$`)
	exports = regexp.MustCompile(`^export ((?:async )?function|const|class) ([\w$]+)`)
)

// module knows imports and exports as our files write them, a line each, and says where it
// meets another.
func (b bundler) module(name string) (m module, err error) {
	if m, ok := b.modules[name]; ok {
		return m, nil
	}
	lines, err := linesOfFile(name + ".js")
	if err != nil {
		return m, err
	}
	gives := ""
	for i, line := range lines {
		if !strings.HasPrefix(line, "import") && !strings.HasPrefix(line, "export") {
			continue
		}
		in, out := imports.FindStringSubmatch(line), exports.FindStringSubmatch(line)
		switch {
		case out != nil:
			gives += out[2] + ", "
			lines[i] = strings.TrimPrefix(line, "export ")
			continue
		case in == nil:
			return m, errors.New(name + ".js: cannot be bundled: " + line)
		case in[1]+in[2] == "":
			lines[i] = ""
		default:
			lines[i] = "const " + in[1] + strings.ReplaceAll(in[2], " as ", ": ") + " = $" + in[3] + ";\n"
		}
		m.imports = append(m.imports, in[3])
	}
	m.text = "const $" + name + " = (() => {\n" + strings.Join(lines, "") + "return { " + gives + "};\n})();\n"
	b.modules[name] = m
	return m, nil
}

// script writes a module behind those that it imports.
func (b bundler) script(out *bytes.Buffer, name string, have map[string]bool) error {
	have[name] = true
	m, err := b.module(name)
	for _, of := range m.imports {
		if err == nil && !have[of] {
			err = b.script(out, of, have)
		}
	}
	out.WriteString(m.text)
	return err
}

// getFile answers with a file that is named by what is in it.
func getFile(files map[string]asset) http.HandlerFunc {
	return func(w http.ResponseWriter, r *http.Request) {
		a, known := files[path.Base(r.URL.Path)]
		if !known {
			refuse(w, r, http.StatusNotFound, text.New("page.api.no-file"))
			return
		}
		w.Header().Set("Cache-Control", "public, max-age=31536000, immutable")
		send(w, r, a)
	}
}

func send(w http.ResponseWriter, r *http.Request, a asset) {
	h, body := w.Header(), a.body
	h.Set("Content-Type", a.kind)
	h["Vary"] = []string{"Accept-Encoding", "Accept-Language", "Cookie"}
	if strings.Contains(r.Header.Get("Accept-Encoding"), "gzip") {
		h.Set("Content-Encoding", "gzip")
		body = a.gzip()
	}
	_, _ = w.Write(body) // a browser that left needs no answer
}

func compressed(b []byte) []byte {
	var out bytes.Buffer
	z := gzip.NewWriter(&out)
	_, _ = z.Write(b) // into memory
	_ = z.Close()
	return out.Bytes()
}

// drawnPages are pages as they were sent last, so that one that comes out the same again is
// compressed once. The zero value is ready.
type drawnPages struct {
	mu    sync.Mutex
	pages map[string]asset // by their ETag
}

// mostDrawn is how many of a page are remembered: they take memory, and strangers ask for any.
const mostDrawn = 4

// send answers with a page, or with nothing where the browser has it.
func (d *drawnPages) send(w http.ResponseWriter, r *http.Request, page []byte) {
	sum := sha256.Sum256(page)
	etag := `W/"` + hex.EncodeToString(sum[:12]) + `"`
	w.Header().Set("Cache-Control", "no-cache")
	w.Header().Set("ETag", etag)
	if r.Header.Get("If-None-Match") == etag {
		w.WriteHeader(http.StatusNotModified)
		return
	}
	d.mu.Lock()
	a, ok := d.pages[etag]
	if !ok {
		if a = newAsset(kinds[".html"], page); len(d.pages) >= mostDrawn || d.pages == nil {
			d.pages = map[string]asset{}
		}
		d.pages[etag] = a
	}
	d.mu.Unlock()
	send(w, r, a)
}

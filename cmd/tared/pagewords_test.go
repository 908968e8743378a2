package main

import (
	"encoding/json"
	"fmt"
	"html"
	"io"
	"maps"
	"net/http"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"tared/session/photo"
)

// terminalWords are words of the terminal, of this program's inside, or of this machine, that
// nobody who has a page before them can use.
var terminalWords = regexp.MustCompile("`|\\btared (?:serve|weigh|scales|decode|formats|plan|calc|recipe|stock|record|water|fire|judge|vessel|correct|strike|label|export|import|backup|restore|verify|checkup|settings|setup)\\b" +
	`|(?:^|[\s(])--[a-z]|\bTARED_|/tmp/|\bstrconv\b|\bjson:|\bparsing "|%!|invalid syntax|\[page\.|\[[a-z]+\.[a-z-]+\]|0x[0-9a-f]{6}|goroutine|standard (?:output|error)|(?i:write it as|schreiben als|écrire|se escribe) (?:step=|max=|[0-9.]+g\b)`)

// asker asks a daemon as a page does, and looks at each word that comes back.
type asker struct {
	t     *testing.T
	url   string
	data  string // directory of its record
	seen  map[string]bool
	count int
}

func (a *asker) look(where, words string) {
	a.count++
	words = strings.ReplaceAll(words, a.data, "/var/lib/tared") // that is where the record is, and somebody may have to know
	for _, line := range strings.Split(words, "\n") {
		at := terminalWords.FindStringIndex(line)
		if at == nil {
			continue
		}
		if word := line[at[0]:at[1]]; !a.seen[where+word] {
			a.seen[where+word] = true
			a.t.Errorf("%s: %q in: %s", where, word, line[max(0, at[0]-120):min(len(line), at[1]+120)])
		}
	}
}

func (a *asker) ask(language, method, path, kind, body string) (int, string) {
	q, err := http.NewRequest(method, a.url+path, strings.NewReader(body))
	require.NoError(a.t, err)
	q.Header.Set("Accept-Language", language)
	q.Header.Set("Accept", "text/html")
	if kind != "" {
		q.Header.Set("Content-Type", kind)
	}
	res, err := http.DefaultClient.Do(q)
	require.NoError(a.t, err)
	defer func() { _ = res.Body.Close() }()
	b, err := io.ReadAll(res.Body)
	require.NoError(a.t, err)
	return res.StatusCode, string(b)
}

var (
	unreadParts = regexp.MustCompile(`(?s)<style>.*?</style>|<pre.*?</pre>|<code.*?</code>`)
	markedUp    = regexp.MustCompile(`(?s)<[^>]*?(?:placeholder|title|aria-label|value)="([^"]*)"[^>]*>|<[^>]*>`)
	leadsTo     = regexp.MustCompile(`(?:href|action)="(/[^"#]*)`)
)

// page reads a page in a language, and gives where it leads.
func (a *asker) page(language, path string) []string {
	status, body := a.ask(language, "GET", path, "", "")
	if strings.HasPrefix(path, "/proof") || strings.HasPrefix(path, "/help") || strings.HasPrefix(path, "/static") || strings.HasPrefix(path, "/export") || strings.Contains(path, "lot=") {
		return nil // how a record is checked without this program is told in commands; help is for engineers too
	}
	if !strings.Contains(body, "<html") && !strings.HasPrefix(body, "{") {
		return nil // a picture
	}
	a.look(fmt.Sprintf("%s GET %s (%d)", language, path, status), html.UnescapeString(markedUp.ReplaceAllString(unreadParts.ReplaceAllString(body, " "), "\n$1\n")))
	var to []string
	for _, m := range leadsTo.FindAllStringSubmatch(body, -1) {
		to = append(to, html.UnescapeString(m[1]))
	}
	return to
}

// walk follows each link from the bench on.
func (a *asker) walk(language string, from ...string) {
	been := map[string]bool{}
	for todo := append([]string{"/"}, from...); len(todo) > 0; todo = todo[1:] {
		path := todo[0]
		if been[path] || strings.Contains(path, "lang=") || strings.Contains(path, "lot=L1") || len(been) > 120 {
			continue
		}
		been[path] = true
		todo = append(todo, a.page(language, path)...)
	}
}

// wrong are values that somebody types into a field of whatever kind.
var wrong = []any{"", "x", "-1", "0.1", "5 stone", "1e99g", "12.5.3g", "9999999999999g", "2026-13-45", "200%", strings.Repeat("a", 3000), nil, -1, 3.5, true, []string{"x"}}

// spoil sends a good body with one field after the other spoilt, at every depth, and says
// what is not the page's own words.
func (a *asker) spoil(language, path string, good map[string]any) {
	send := func(body map[string]any, what string) {
		b, err := json.Marshal(body)
		require.NoError(a.t, err)
		status, said := a.ask(language, "POST", path, "application/json", string(b))
		if status == http.StatusOK {
			return
		}
		var f struct {
			Error string
			Lines []struct{ Words string }
		}
		require.NoError(a.t, json.Unmarshal([]byte(said), &f), "%s: %s", path, said)
		require.NotEmpty(a.t, f.Error, "%s %s", path, what)
		if status == http.StatusBadRequest && strings.Contains(f.Error, "JSON") {
			return // no page sends what is no value of the field; this is told to whoever writes one
		}
		a.look(fmt.Sprintf("%s POST %s %s (%d)", language, path, what, status), f.Error)
		for _, l := range f.Lines {
			a.look(fmt.Sprintf("%s POST %s %s", language, path, what), l.Words)
		}
	}
	var each func(at map[string]any, name string)
	each = func(at map[string]any, name string) {
		for _, key := range slices.Sorted(maps.Keys(at)) {
			was := at[key]
			for _, bad := range wrong {
				at[key] = bad
				if reflectsText(was) {
					send(good, fmt.Sprintf("%s%s=%.20v", name, key, bad))
				}
			}
			at[key] = was
			if under, ok := was.(map[string]any); ok {
				each(under, name+key+".")
			}
		}
	}
	send(good, "as it should be")
	each(good, "")
}

func reflectsText(v any) bool {
	switch v.(type) {
	case string, int:
		return true
	}
	return false
}

// What a page shows, and what it answers to anything that can be typed into it, in each
// language, is in words of the page: on a bench as it should be, on one whose record is
// damaged, and with settings that are half wrong.
func TestPagesSpeakNoTerminal(t *testing.T) {
	t.Parallel()
	config := writeFile(t, "tared.toml", "backup_dir = \"/media/not-there\"\n[[scale]]\nname=\"fine\"\nport=\"eye\"\nstep=\"0.01g\"\nmax=\"500g\"\n"+
		"[[scale]]\nname=\"bench\"\nport=\"/dev/no-such-port\"\n[[scale]]\nname=\"wrong\"\nport=\"/dev/no\"\nstep=\"0.1\"\n")
	dir := recordWithPhoto(t)
	damaged := keptBatch(t)
	path := filepath.Join(damaged, "journal.jsonl")
	b, err := os.ReadFile(path)
	require.NoError(t, err)
	b[len(b)/2] ^= 1
	require.NoError(t, os.WriteFile(path, b, 0o600))
	lost := recordWithPhoto(t)
	require.NoError(t, os.RemoveAll(filepath.Join(lost, photo.Dir)))

	languages := []string{"en", "de", "fr", "es"}
	addresses := []string{"/workshop", "/workshop?find=quartz", "/workshop?find=nothing", "/archive", "/proof", "/pair", "/scales", "/stock", "/calc", "/sheet", "/book", "/book?find=material:", "/book?find=quartz+%3E+x",
		"/book?find=date:x", "/book/260302a", "/book/260302a/glaze", "/book/nothing/glaze", "/book/nothing", "/label/260302a", "/label/260302a?sheet=x", "/label/260302a?sheet=0x0", "/label/nothing", "/compare", "/compare?mark=260302a", "/compare?mark=260302a&mark=x", "/series/260302a",
		"/nowhere", "/photo/none", "/export/none", "/packed/none", "/static/none", "/api/do", "/favicon.ico"}
	for _, c := range []struct{ what, dir, config string }{{"a good record", dir, config}, {"a damaged record", damaged, config}, {"photographs lost", lost, "none"}, {"nothing yet", t.TempDir(), "none"}} {
		d := startDaemon(t, "serve", "--listen", "127.0.0.1:0", "--data", c.dir, "--log", "error", "--config", c.config)
		a := &asker{t, strings.TrimSuffix(d.url, "/"), c.dir, map[string]bool{}, 0}
		t.Log(c.what)
		for _, l := range languages {
			a.walk(l, addresses...)
			for _, bad := range []struct{ method, path, kind, body string }{
				{"PUT", "/book", "", ""}, {"DELETE", "/api/do", "", ""}, {"GET", "/api/keep", "", ""}, {"POST", "/book", "application/json", "{}"}, {"POST", "/api/do", "text/plain", "x"},
				{"POST", "/api/photo", "image/png", "no picture"}, {"POST", "/api/photo", "text/plain", "x"}, {"POST", "/api/restore", "text/plain", "x"}, {"POST", "/api/restore", "application/octet-stream", "my glazes\n"},
				{"POST", "/api/restore", "application/octet-stream", "PK\x03\x04"}, {"POST", "/api/restore", "application/octet-stream", `{"seq":1}`}, {"POST", "/api/keep", "application/json", `{"x":"` + strings.Repeat("a", 300<<10) + `"}`},
				{"POST", "/api/verify", "application/json", "{}"}, {"POST", "/api/copy", "application/json", "{}"}, {"POST", "/api/pack", "application/json", "{}"},
				{"GET", "/api/book/nothing/after", "", ""}, {"GET", "/api/book/260302a/after?wanted=x", "", ""}, {"GET", "/api/book/260302a/curve/x", "", ""}, {"GET", "/api/compare?mark=x", "", ""},
				{"GET", "/api/calc/none", "", ""}, {"GET", "/api/calc/least?step=x", "", ""}, {"GET", "/api/calc/moisture?wet=1&dry=", "", ""},
			} {
				status, said := a.ask(l, bad.method, bad.path, bad.kind, bad.body)
				if strings.Contains(said, "<html") {
					said = markedUp.ReplaceAllString(unreadParts.ReplaceAllString(said, " "), "\n$1\n")
				}
				a.look(fmt.Sprintf("%s %s %s %.20q (%d)", l, bad.method, bad.path, bad.body, status), html.UnescapeString(said))
			}
			if l != "en" && (l != "fr" || c.dir != dir) { // the errors of two languages show what a third would
				continue
			}
			recipe := "Quartz 60\nWhiting 40\n"
			plan := map[string]any{"recipe": recipe, "base": "100g", "total": "", "wet": "", "gravity": "", "water": "85%", "by": "Mara", "most": ""}
			a.spoil(l, "/api/plan", plan)
			for _, r := range []string{"", "Quartz", "Quartz x", "Quartz -3", "+ Tin oxide 4", "Unobtainium 50\nQuartz 50", "Water 5g\nQuartz 10", "Quartz 1\nQuartz 2"} {
				a.spoil(l, "/api/start", map[string]any{"recipe": r, "base": "100g", "by": "Mara"})
			}
			a.spoil(l, "/api/keep", map[string]any{"by": "Mara", "lot": map[string]any{"material": "Quartz", "amount": "25kg", "supplier": "Q", "opened": "2026-11-25", "moisture": "3%", "price": "0.84 EUR", "words": ""}})
			a.spoil(l, "/api/keep", map[string]any{"by": "Mara", "correct": map[string]any{"lot": "L1", "amount": "2kg", "moisture": "2%", "reason": "counted"}})
			a.spoil(l, "/api/keep", map[string]any{"by": "Mara", "recipe": map[string]any{"text": recipe, "name": "Tidewrack", "words": "less"}})
			a.spoil(l, "/api/keep", map[string]any{"by": "Mara", "left": map[string]any{"batch": "260302a", "material": "Quartz", "amount": "390g"}})
			for _, entry := range []map[string]any{
				{"watered": map[string]any{"added": "675g", "sample": "145.0g", "volume": "100ml", "bottle": "", "celsius": "18", "seconds": "20", "mesh": "80", "standard": "US", "opening": "", "vessel": ""}},
				{"fired": map[string]any{"cone": "6", "atmosphere": "oxidation", "kiln": "big", "words": ""}},
				{"judged": map[string]any{"tile": "AC-A", "words": "matt", "when": "2026-12-01"}},
				{"correct": map[string]any{"entry": 3, "weight": "35.0g", "reason": "misread"}},
				{"strike": map[string]any{"entry": 3, "reason": "wrong"}},
			} {
				entry["batch"], entry["by"] = "260302a", "Mara"
				a.spoil(l, "/api/after", entry)
			}
			a.spoil(l, "/api/vessel", map[string]any{"name": "jug", "empty": "100g", "full": "200g", "celsius": "20", "by": "Mara"})
			a.spoil(l, "/api/check", map[string]any{"scale": "fine", "do": "mass", "mass": "100g", "shown": "100.0g", "by": "Mara"})
			a.spoil(l, "/api/order", map[string]any{"scale": "bench", "do": "zero", "by": "Mara"})
			a.spoil(l, "/api/reading", map[string]any{"scale": "fine"})
			a.spoil(l, "/api/ports/take", map[string]any{"port": "/dev/ttyUSB9", "name": "bench", "step": "0.1g", "max": "2000g"})
			a.spoil(l, "/api/ports/capture", map[string]any{"port": "/dev/ttyUSB9"})
			a.spoil(l, "/api/pair", map[string]any{"code": "abc"})
		}
		// A whole batch by hands that press each key at each moment.
		words := []string{"yes", "no", "done", "typed", "undo", "skip", "keep", "enlarge", "next", "anew", "abandon", "by", "pause", "resume", "note", "substitute", "record", "same", "alone", "help", "nonsense"}
		try := func(l string) {
			for _, w := range words {
				for _, rest := range []string{"", "x", "-1g", "0.1"} {
					if (w == "abandon" || w == "anew" || w == "substitute" || w == "skip" || w == "done") && rest != "" {
						continue // it would end it
					}
					status, said := a.ask(l, "POST", "/api/do", "application/json", fmt.Sprintf(`{"word":%q,"rest":%q,"by":"Mara"}`, w, rest))
					a.look(fmt.Sprintf("%s POST /api/do %s %s (%d)", l, w, rest, status), said)
				}
			}
			_, view := a.ask(l, "GET", "/api/view", "", "")
			a.look(l+" the bench", view)
		}
		for i, l := range []string{"en", "de"} {
			a.ask(l, "POST", "/api/start", "application/json", `{"recipe":"Quartz 60\nWhiting 40\n","base":"100g","by":"Mara"}`)
			try(l)
			for _, do := range []string{`{"word":"yes","by":"Mara"}`, `{"word":"typed","rest":"0.00g","by":"Mara"}`, `{"word":"typed","rest":"90.00g","by":"Mara"}`} {
				a.ask(l, "POST", "/api/do", "application/json", do)
				try(l)
			}
			a.ask(l, "POST", "/api/do", "application/json", fmt.Sprintf(`{"word":"abandon","rest":"try %d","by":"Mara"}`, i))
		}
		t.Logf("%d sentences and pages", a.count)
		require.Equal(t, exitDone, d.end(t))
	}
}

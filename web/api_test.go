package web

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"net/http"
	"net/url"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"tared/session"
)

func TestEveryPageIsServed(t *testing.T) {
	s, _ := newServer(t, nil)
	for path, want := range map[string]string{"/": "Bench", "/sheet": "Weigh sheet", "/book": "Book", "/book/a261125": "Batch", "/compare": "Compare", "/proof": "Check the record", "/scales": "Scales", "/calc": "Calculate", "/pair": "Pair"} {
		w := do(s, request("GET", path, ""))
		require.Equal(t, http.StatusOK, w.Code, path)
		assert.Equal(t, "text/html; charset=utf-8", w.Header().Get("Content-Type"))
		assert.Contains(t, w.Body.String(), "<title>"+want)
		// Every file that a page names is there, with the type that nosniff insists on.
		for _, name := range names(w.Body.String()) {
			f := do(s, request("GET", name, ""))
			assert.Equal(t, http.StatusOK, f.Code, "%s names %s", path, name)
			assert.NotContains(t, f.Header().Get("Content-Type"), "text/plain", name)
			r := request("GET", name, "")
			r.Header.Set("If-None-Match", f.Header().Get("ETag"))
			assert.Equal(t, http.StatusNotModified, do(s, r).Code, name)
		}
	}
	assert.Equal(t, http.StatusNotFound, do(s, request("GET", "/nothing", "")).Code)
	assert.Equal(t, http.StatusNotFound, do(s, request("GET", "/static/layout.html", "")).Code)
}

func names(page string) []string {
	var all []string
	for _, part := range strings.Split(page, `"/static/`)[1:] {
		name, _, _ := strings.Cut(part, `"`)
		all = append(all, "/static/"+name)
	}
	return all
}

func TestTheViewIsTheBenchsOwnBytes(t *testing.T) {
	s, b := newServer(t, nil)
	w := do(s, request("GET", "/api/view", ""))
	require.Equal(t, http.StatusOK, w.Code)
	assert.Equal(t, string(b.latest()), w.Body.String())
	assert.Zero(t, b.views.Watching(), "the watch is closed again")
	assert.Equal(t, "no-store", w.Header().Get("Cache-Control"))
	b.views.Show(nil)
	assert.Equal(t, http.StatusServiceUnavailable, do(s, request("GET", "/api/view", "")).Code)
}

func TestACommandReachesTheBenchAsSent(t *testing.T) {
	s, b := newServer(t, nil)
	w := do(s, request("POST", "/api/do", `{"word":" Yes ","rest":" Mara ","by":"Ilse","seen":41}`))
	require.Equal(t, http.StatusOK, w.Code, w.Body)
	assert.Equal(t, []session.Command{{At: moment, Word: "yes", Rest: "Mara", By: "Ilse", Seen: 41}}, b.commands())
}

func TestWhatTheBenchSaysComesBack(t *testing.T) {
	for _, c := range []struct {
		err    error
		status int
	}{
		{&session.Refusal{Words: "nothing waits for a yes now"}, 409},
		{fmt.Errorf("write the journal: %w", errors.New("no space left on device")), 500},
	} {
		s, b := newServer(t, nil)
		b.fail = c.err
		w := do(s, request("POST", "/api/do", `{"word":"yes"}`))
		assert.Equal(t, c.status, w.Code)
		var f fault
		require.NoError(t, json.Unmarshal(w.Body.Bytes(), &f))
		assert.Equal(t, c.err.Error(), f.Error)
	}
}

func TestFaultsOfARecipeComeWithTheirLines(t *testing.T) {
	s, b := newServer(t, nil)
	b.planErr = fmt.Errorf("plan: %w", recipeFaults())
	for _, path := range []string{"/api/plan", "/api/start"} {
		w := do(s, request("POST", path, `{"recipe":"…","base":"750g","by":"Mara"}`))
		assert.Equal(t, http.StatusUnprocessableEntity, w.Code)
		var f fault
		require.NoError(t, json.Unmarshal(w.Body.Bytes(), &f))
		require.Len(t, f.Lines, 2, f.Error)
		assert.Equal(t, 2, f.Lines[0].Line)
		assert.Equal(t, 3, f.Lines[1].Line)
		assert.NotEmpty(t, f.Lines[0].Words)
	}
}

func TestABatchIsStartedByANamedPerson(t *testing.T) {
	s, b := newServer(t, nil)
	assert.Equal(t, http.StatusUnprocessableEntity, do(s, request("POST", "/api/start", `{"recipe":"Quartz 1","base":"750g","by":" "}`)).Code)
	assert.Empty(t, b.started)
	w := do(s, request("POST", "/api/start", `{"recipe":"Quartz 1","base":"750g","by":"Mara"}`))
	require.Equal(t, http.StatusOK, w.Code, w.Body)
	assert.JSONEq(t, `{"mark":"a251125"}`, w.Body.String())
	require.Len(t, b.started, 1)
	assert.Equal(t, "750g", b.started[0].Base)
}

func TestHandsAreThereOnlyForADemonstration(t *testing.T) {
	s, _ := newServer(t, nil)
	assert.JSONEq(t, `[]`, do(s, request("GET", "/api/hands", "")).Body.String())
	assert.Equal(t, http.StatusNotFound, do(s, request("POST", "/api/hands", `{"scale":"bench","do":"pour"}`)).Code)

	h := &fakeHands{}
	s, _ = newServer(t, func(c *Config) { c.Hands = h })
	assert.Contains(t, do(s, request("GET", "/api/hands", "")).Body.String(), `"scale":"fine"`)
	assert.Equal(t, http.StatusOK, do(s, request("POST", "/api/hands", `{"scale":"bench","do":"pour"}`)).Code)
	assert.Equal(t, http.StatusConflict, do(s, request("POST", "/api/hands", `{"scale":"bench","do":"fly"}`)).Code)
	assert.Equal(t, []string{"bench pour"}, h.moves())
}

func TestMoreRoutesStandBehindTheSameGuard(t *testing.T) {
	s, _ := newServer(t, func(c *Config) {
		c.Extra = []Route{{"GET /extra", http.HandlerFunc(func(w http.ResponseWriter, _ *http.Request) { _, _ = w.Write([]byte("here")) })}}
	})
	assert.Equal(t, "here", do(s, request("GET", "/extra", "")).Body.String())
	r := request("GET", "/extra", "")
	r.Host = "evil.example"
	assert.Equal(t, http.StatusForbidden, do(s, r).Code)
}

func TestBook(t *testing.T) {
	s, _ := newServer(t, nil)
	for _, path := range []string{"/api/book", "/api/book/x", "/api/compare?a=x&b=y"} {
		assert.Equal(t, http.StatusNotFound, do(s, request("GET", path, "")).Code, path)
	}
	s, _ = newServer(t, func(c *Config) { c.Book = fakeBook{} })
	for path, want := range map[string]int{
		"/api/book": 200, "/api/book/a261125": 200, "/api/book/none": 404, "/api/compare?a=a261125&b=c261124": 200,
		"/api/compare?a=a261125": 400, "/api/compare?a=a261125&b=none": 404,
	} {
		assert.Equal(t, want, do(s, request("GET", path, "")).Code, path)
	}
}

// fakeBook is an invented record.
type fakeBook struct{}

func (fakeBook) Batches(_ context.Context, find string) ([]BatchRow, error) {
	switch find {
	case "nowhere":
		return nil, nil
	case "quartz >":
		return nil, &session.Refusal{Words: "no amount stands behind >"}
	}
	return []BatchRow{rowA(), rowB(), {Mark: "d261120", Title: "Caldera, matt, cone 6", By: "Ilse", Started: "2026-11-20T10:00:00Z", Ended: "2026-11-20T10:31:00Z", Base: "500.0", Done: 5, Of: 5}}, nil
}

func rowA() BatchRow {
	return BatchRow{Mark: "a261125", Title: "Tidewrack, satin, cone 6 oxidation", By: "Mara", Started: "2026-11-25T13:40:00Z", Base: "750.0", Done: 2, Of: 7, Off: 1, Simulated: true}
}

func rowB() BatchRow {
	return BatchRow{Mark: "c261124", Title: "Tidewrack, satin, cone 6 oxidation", By: "Ilse", Started: "2026-11-24T09:12:00Z", Ended: "2026-11-24T09:51:00Z", Base: "750.0", Done: 7, Of: 7, Off: 1}
}

func (fakeBook) Batch(_ context.Context, mark string) (BatchMade, error) {
	if mark != "c261124" && mark != "a261125" && mark != "d261120" {
		return BatchMade{}, fmt.Errorf("%q: %w", mark, ErrNoBatch)
	}
	return BatchMade{BatchRow: rowB(),
		Recipe: "# Tidewrack, satin, cone 6 oxidation\nNepheline syenite   41\nQuartz              24\nWhiting             17\nBall clay           12\nZinc oxide           6\n+ Tin oxide          4\n+ Copper carbonate   1.2\n",
		Lines: []LineMade{
			{Material: "Nepheline syenite", Role: "base", Scale: "bench", Target: "307.5", Low: "304.5", High: "310.5", Delivered: "307.3", Deviation: "-0.2", Bands: -66, U: "0.13", Planned: "41", Share: "40.96", Verdict: "in"},
			{Material: "Quartz", Role: "base", Scale: "bench", Target: "180.0", Low: "178.2", High: "181.8", Delivered: "182.4", Deviation: "+2.4", Bands: 1333, U: "0.13", Planned: "24", Share: "24.312", Verdict: "over"},
			{Material: "Whiting", Role: "base", Scale: "bench", Target: "127.5", Low: "126.3", High: "128.7", Delivered: "127.2", Deviation: "-0.3", Bands: -250, U: "0.13", Planned: "17", Share: "16.954", Verdict: "in"},
			{Material: "Ball clay", Role: "base", Scale: "bench", Target: "90.0", Low: "89.1", High: "90.9", Delivered: "88.2", Deviation: "-1.8", Bands: -2000, U: "0.13", Planned: "12", Share: "11.756", Verdict: "under"},
			{Material: "Zinc oxide", Role: "base", Scale: "bench", Target: "45.0", Low: "44.6", High: "45.4", Delivered: "45.1", Deviation: "+0.1", Bands: 250, U: "0.13", Planned: "6", Share: "6.011", Verdict: "in"},
			{Material: "Tin oxide", Role: "addition", Scale: "bench", Target: "30.0", Low: "29.4", High: "30.6", Planned: "4", Verdict: "skipped"},
			{Material: "Copper carbonate", As: "Copper carbonate, second jar", Role: "strong", Scale: "fine", Target: "9.00", Low: "8.82", High: "9.18", Delivered: "9.03", Deviation: "+0.03", Bands: 166, U: "0.013", Planned: "1.2", Share: "1.204", Verdict: "in",
				Was: "9.3", WasShare: "1.240", Corrected: []string{"entry 5 was 9.3 g, is 9.03 g; Jonas, 2026-11-30 08:00 +00:00: two digits swapped"}},
		},
		Picture: `<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 900 60" role="img"><title>How far each material is off, in units of its band</title><rect class="band" x="330" y="20" width="183" height="34"/><circle class="pin" cx="415" cy="45" r="8"/><text class="name" x="0" y="50">Nepheline syenite</text></svg>`,
		Slim:    `<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 360 80" role="img"><title>How far each material is off, in units of its band</title><rect class="band" x="98" y="20" width="85" height="54"/><circle class="pin" cx="140" cy="60" r="8"/><text class="name" x="0" y="42">Nepheline syenite</text></svg>`,
		Pours: []PourRow{
			{Seq: 4, Material: "Nepheline syenite", Before: "519.7", After: "212.4", Delivered: "307.3", U: "0.13", Verdict: "in", Raw: []string{"ST,GS,+  519.7  g", "ST,GS,+  212.4  g"},
				Picture: `<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 420 170" role="img"><title>The pour of Nepheline syenite as the scale showed it</title><path class="band" d="M58 14H410V18H58z"/><path class="line" fill="none" d="M58 140L200 60L410 16"/><text class="word" x="52" y="16" text-anchor="end">307.5 g</text></svg>`},
			{Seq: 5, Material: "Copper carbonate, second jar, instead of Copper carbonate", Delivered: "9.3", Corrected: "9.03", NewU: "0.013", Why: "typed by Jonas, 30 November 2026, 08:00: two digits swapped", U: "0.13", Verdict: "in", Typed: "Ilse"},
		},
		Facts: []FactRow{
			{Seq: 1, At: "2026-11-24T09:12:00Z", Kind: "planned", By: "Ilse", Words: "Planned 750 g of base, 789 g dry, seven materials on two scales.", Hash: "9c1f…"},
			{Seq: 2, At: "2026-11-24T09:12:31Z", Kind: "reminded", By: "Ilse", Words: "Mask on and ventilation running: yes."},
			{Seq: 3, At: "2026-11-24T09:13:02Z", Kind: "tared", By: "scale", Words: "A container of 212.4 g on the bench scale counts as zero."},
			{Seq: 4, At: "2026-11-24T09:14:40Z", Kind: "portion", By: "Ilse", Words: "307.3 g of Nepheline syenite went in: in the band of 304.5 to 310.5 g."},
			{Seq: 5, At: "2026-11-24T09:18:07Z", Kind: "overpoured", By: "scale", Words: "182.4 g of Quartz was tipped, 2.4 g over the target."},
			{Seq: 6, At: "2026-11-24T09:18:31Z", Kind: "decided", By: "Mara", Words: "Keep it and note the deviation."},
			{Seq: 19, At: "2026-11-24T09:51:00Z", Kind: "finished", By: "Ilse", Words: "The batch is complete."},
			{Seq: 43, At: "2026-11-30T08:00:00Z", Kind: "amended", By: "Jonas", Words: "Amended: entry 5 (Copper carbonate) was 9.30 g and is 9.03 g, typed (± 0.013 g). Reason: two digits swapped."},
		},
		Words:  []string{"Quartz is 1.3 % over and stands as a deviation.", "Tin oxide was left out."},
		Hash:   "3f6a1c9d2be84c0f8e17a5d2f0b96c41d7e3a8805b1f9ce2647d90ab35c8e174",
		Verify: []string{"Each line of journal.jsonl holds the SHA-256 of the line before it, as bytes.", "sed -n 19p journal.jsonl | tr -d '\\n' | sha256sum gives the closing hash above."},
	}, nil
}

func (b fakeBook) Compare(ctx context.Context, marks ...string) (Comparison, error) {
	rows := []BatchRow{}
	for k, m := range marks {
		if _, err := b.Batch(ctx, m); err != nil {
			return Comparison{}, err
		}
		rows = append(rows, []BatchRow{rowA(), rowB()}[k%2])
	}
	c := Comparison{Batches: rows, Explains: true, Verdict: "The nepheline syenite differs by 0.03 to 0.07 % of the base, less of it in c261124: it can.",
		Causes: []string{"The nepheline syenite differs by 0.03 to 0.07 % of the base, less of it in c261124: it can explain a difference.",
			"They were fired to other cones: 6 in a261125, 7 in c261124."},
		Notes: []string{"Not recorded, so not compared: the gravity (of a261125)."}}
	for _, l := range []CompareLine{
		{Material: "Nepheline syenite", Differs: true, Cells: []CompareCell{{Share: "41.010", U: "0.014"}, {Share: "40.960", U: "0.014", Difference: "-0.050", JointU: "0.020", Differs: true}}},
		{Material: "Quartz", Cells: []CompareCell{{Share: "24.310", U: "0.018"}, {Share: "24.312", U: "0.018", Difference: "+0.002", JointU: "0.025"}}},
		{Material: "Tin oxide", Addition: true, Differs: true, Cells: []CompareCell{{Share: "4.000", U: "0.020"}, {}}},
	} {
		for k := range l.Cells {
			l.Cells[k].Mark = rows[k].Mark
		}
		for len(l.Cells) < len(rows) {
			l.Cells = append(l.Cells, l.Cells[len(l.Cells)%2])
		}
		c.Lines = append(c.Lines, l)
	}
	return c, nil
}

// The list and the comparison are drawn by the server: no script is needed to
// search and to compare.
func TestTheBookIsDrawnByTheServer(t *testing.T) {
	s, _ := newServer(t, func(c *Config) { c.Book = fakeBook{} })
	get := func(path string) (int, string) {
		r := do(s, request("GET", path, ""))
		return r.Code, r.Body.String()
	}
	code, body := get("/book")
	assert.Equal(t, 200, code)
	assert.Contains(t, body, `<a class="batch" href="/book/a261125">a261125</a>`)
	assert.Contains(t, body, `name="mark" value="c261124"`)
	code, body = get("/book?find=nowhere")
	assert.Equal(t, 200, code)
	assert.Contains(t, body, "No batch is like that.")
	assert.Contains(t, body, `value="nowhere"`)
	code, body = get("/book?find=" + url.QueryEscape("quartz >"))
	assert.Equal(t, 409, code)
	assert.Contains(t, body, "no amount stands behind &gt;")
	_, body = get("/book?find=" + url.QueryEscape(`"><script>alert(1)</script>`))
	assert.NotContains(t, body, "<script>alert")
	code, body = get("/compare?mark=a261125&mark=c261124&mark=b")
	assert.Equal(t, 404, code)
	assert.Contains(t, body, ErrNoBatch.Error())
	code, body = get("/compare?mark=a261125")
	assert.Equal(t, 400, code)
	assert.Contains(t, body, "Two batches or more")
	code, body = get("/compare?a=a261125&b=c261124")
	assert.Equal(t, 200, code)
	assert.Contains(t, body, "it can.")
	assert.Contains(t, body, "<li>They were fired to other cones: 6 in a261125, 7 in c261124.</li>")
	assert.Contains(t, body, `data-label="difference">-0.050</td>`)
}

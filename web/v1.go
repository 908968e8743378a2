package web

import (
	_ "embed"
	"net/http"
	"strconv"
	"time"

	"tared/session"
	"tared/session/book"
	"tared/session/recipebook"
	"tared/session/text"
)

// What programs ask for. Paths, fields and words of version 1 stay as they are; more may
// come. openapi.json tells all of it and is made by a test from this table, the types that
// it names, and what is written above them.

//go:embed openapi.json
var openAPI []byte

// endpoint is one thing that a program can ask for.
type endpoint struct {
	path  string
	asks  any    // its query, field by field; nil: it takes none
	tells any    // what the answer is; nil: see kind
	kind  string // of the answer, where it is not JSON
	serve func(s *site) http.HandlerFunc
}

// jsonLines is a kind of answers.
const jsonLines = "application/jsonl"

var v1 = []endpoint{
	{path: "/api/v1/bench", tells: benchState{}, serve: telling((*site).benchState)},
	{path: "/api/v1/scales", tells: []scaleState{}, serve: telling((*site).scaleStates)},
	{path: "/api/v1/batches", asks: batchesQuery{}, tells: batchesPage{}, serve: recorded(telling((*site).batchesPage))},
	{path: "/api/v1/batches/{mark}", tells: book.Made{}, serve: recorded(telling(func(s *site, r *http.Request) (any, error) {
		return s.cfg.Book.Batch(r.Context(), r.PathValue("mark"))
	}))},
	{path: "/api/v1/batches/{mark}/label", asks: labelQuery{}, kind: "image/svg+xml", serve: recorded(func(s *site) http.HandlerFunc { return s.getLabel })},
	{path: "/api/v1/lots", tells: []lotRow{}, serve: telling(func(s *site, r *http.Request) (any, error) {
		all, err := s.shelf(r)
		return all.Lots, err
	})},
	{path: "/api/v1/recipes", tells: []recipebook.Recipe{}, serve: telling(func(s *site, r *http.Request) (any, error) {
		all, err := s.shelf(r)
		return all.Recipes, err
	})},
	{path: "/api/v1/lines", asks: linesQuery{}, kind: jsonLines, serve: func(s *site) http.HandlerFunc { return s.command(s.getLines) }},
}

func (s *site) addV1(get func(path string, h http.HandlerFunc)) {
	for _, e := range v1 {
		if _, lines := e.asks.(linesQuery); lines && s.cfg.Lines == nil {
			continue
		}
		get(e.path, e.serve(s))
	}
	get("/api/v1/openapi.json", func(w http.ResponseWriter, _ *http.Request) { write(w, http.StatusOK, ".json", openAPI) })
}

func telling(get func(s *site, r *http.Request) (any, error)) func(s *site) http.HandlerFunc {
	return func(s *site) http.HandlerFunc {
		return s.tell(func(r *http.Request) (any, error) { return get(s, r) })
	}
}

func recorded(h func(s *site) http.HandlerFunc) func(s *site) http.HandlerFunc {
	return func(s *site) http.HandlerFunc { return s.withBook(h(s)) }
}

// benchState is how the bench stands.
type benchState struct {
	Bench     string     `json:"bench"` // fingerprint of its key; empty: it has none
	Sign      string     `json:"sign"`  // of it, on marks, tiles and lots
	Epoch     uint64     `json:"epoch"` // how often its journal began, anew too
	Version   string     `json:"version"`
	At        time.Time  `json:"at"`
	Lines     uint64     `json:"lines"`            // of the journal
	Recording bool       `json:"recording"`        // the journal takes lines
	Why       string     `json:"why,omitempty"`    // it does not
	Simulated bool       `json:"simulated"`        // the scales are
	State     string     `json:"state"`            // idle, reminder, container, pour, settle, in, over, lifted, lost, decide, blind, paused, finished
	Batch     *openBatch `json:"batch,omitempty"`  // in work
	Now       *pourState `json:"now,omitempty"`    // what is being weighed
	Asked     string     `json:"asked,omitempty"`  // the question that waits for a person
	Due       []string   `json:"due,omitempty"`    // marks of batches that wait to be measured, the longest first
	Scales    []string   `json:"scales,omitempty"` // their names
}

// openBatch is the batch in work.
type openBatch struct {
	Mark  string `json:"mark"`
	Title string `json:"title"`
	By    string `json:"by"`
	Base  string `json:"base"` // in grams
	Dry   string `json:"dry"`  // in grams
	Done  int    `json:"done"` // steps that are complete
	Of    int    `json:"of"`   // steps in all
}

// pourState is what is being weighed. Its masses are decimals in the unit of the scale.
type pourState struct {
	Material string `json:"material"`
	As       string `json:"as,omitempty"` // what goes in instead
	Role     string `json:"role"`         // base, addition, strong, water
	Scale    string `json:"scale"`
	Unit     string `json:"unit"`
	Target   string `json:"target"` // of this portion
	Low      string `json:"low"`    // the marks of its band
	High     string `json:"high"`
	In       string `json:"in"`      // in the container; empty: not known
	Missing  string `json:"missing"` // target less what is in; empty: not known
	Portion  int    `json:"portion"`
	Portions int    `json:"portions"` // 1 where it is not split
	Settled  bool   `json:"settled"`
}

func (s *site) benchState(r *http.Request) (any, error) {
	t, err := s.cfg.Bench.Tally(r.Context())
	if err != nil {
		return nil, err
	}
	watch := s.cfg.Bench.Watch(nil)
	defer watch.Close()
	v := watch.View()
	b := benchState{Bench: t.Bench, Sign: t.Sign, Epoch: t.Epoch, Version: s.cfg.Version, At: v.At, Lines: t.Seq,
		Recording: v.Recording.OK, Simulated: v.Simulated, State: v.Now.State}
	if !b.Recording {
		b.Why = languageOf(r).Say(v.Recording.Why)
	}
	if v.Batch != nil {
		b.Batch = &openBatch{v.Batch.Mark, v.Batch.Title, v.Batch.By, v.Batch.Base, v.Batch.Dry, v.Batch.Done, len(v.Batch.Steps)}
	}
	if n := v.Now; n.Material != "" {
		b.Now = &pourState{n.Material, n.As, n.Role, n.Scale, n.Unit, n.Target, n.Low, n.High, n.In, n.Missing, n.Portion, n.Portions, n.Settled}
	}
	if v.Asked != nil {
		b.Asked = v.Asked.Question
	}
	for _, d := range v.Due {
		b.Due = append(b.Due, d.Batch)
	}
	for _, scale := range v.Scales {
		b.Scales = append(b.Scales, scale.Name)
	}
	return b, nil
}

// scaleState is one scale. Its masses are decimals with the digits that it shows.
type scaleState struct {
	Name    string    `json:"name"`
	Port    string    `json:"port"`
	USB     string    `json:"usb,omitempty"`    // vendor, product and serial number
	Format  string    `json:"format,omitempty"` // of its lines
	Link    string    `json:"link"`             // waiting, up, lost
	Why     string    `json:"why,omitempty"`    // it is not up
	Shows   string    `json:"shows"`            // empty: nothing
	Unit    string    `json:"unit"`
	Status  string    `json:"status"` // ok, overload, underload, error
	Settled bool      `json:"settled"`
	Step    string    `json:"step"`          // in grams
	Max     string    `json:"max"`           // in grams
	At      time.Time `json:"at,omitzero"`   // of the last line
	Lines   uint64    `json:"lines"`         // since its port was opened
	Damaged uint64    `json:"damaged"`       // of its format, and cut or spoilt
	Foreign uint64    `json:"foreign"`       // of another format
	Eye     bool      `json:"eye,omitempty"` // it is read by eye
}

func scaleOf(v session.ScaleView) scaleState {
	return scaleState{v.Name, v.Port, v.USB, v.Format, v.Link, v.Why, v.Shows, v.Unit, v.Status, v.Settled, v.Step, v.Max, v.At, v.Frames, v.Damaged, v.Foreign, v.Eye}
}

func (s *site) scaleStates(*http.Request) (any, error) {
	watch := s.cfg.Bench.Watch(nil)
	defer watch.Close()
	all := []scaleState{}
	for _, v := range watch.View().Scales {
		all = append(all, scaleOf(v))
	}
	return all, nil // no error: there is a view from the start
}

// batchesQuery says which batches are wanted.
type batchesQuery struct {
	Find   string // what is searched for, as on the page of the book
	Before string // mark of a batch: only those that were planned before it
	Most   int    // how many are told of, 1 to 200; 50 unless it is said
}

// batchesPage is some batches, the newest first. The rest is asked for with the mark that
// next has.
type batchesPage struct {
	Batches []book.Row `json:"batches"`
	All     int        `json:"all"`            // how many there are from here on
	Next    string     `json:"next,omitempty"` // what to give as before; none: there are no more
}

func (s *site) batchesPage(r *http.Request) (any, error) {
	q := batchesQuery{Find: r.FormValue("find"), Before: r.FormValue("before"), Most: 50}
	if most := r.FormValue("most"); most != "" {
		var err error
		if q.Most, err = strconv.Atoi(most); err != nil || q.Most < 1 || q.Most > mostGiven {
			return nil, text.Refuse("page.api.most", text.Name("most", most), text.Number("limit", strconv.Itoa(mostGiven)))
		}
	}
	if _, read := s.cfg.Book.Behind(); read < 100 && q.Find != "" {
		return nil, text.Refuse("page.api.reading", text.Count("read", read))
	}
	rows, all, err := s.cfg.Book.Older(r.Context(), q.Find, q.Before, q.Most)
	p := batchesPage{Batches: append([]book.Row{}, rows...), All: all}
	if len(rows) > 0 && all > len(rows) {
		p.Next = rows[len(rows)-1].Mark
	}
	return p, err
}

// labelQuery says how a label is wanted.
type labelQuery struct {
	Sheet string // columns and rows of a page of A4, as 2x4, or the size of labels, as 99.1x67.7mm, with letter behind it on US letter paper; one label of 105 by 74 mm unless it is said
	Count int    // how many on the sheet; all unless it is said
}

func (s *site) getLabel(w http.ResponseWriter, r *http.Request) {
	drawn, err := s.cfg.Book.Label(r.Context(), r.PathValue("mark"), r.FormValue("sheet"), r.FormValue("count"), s.link(r))
	if err != nil {
		s.done(w, r, nil, err)
		return
	}
	write(w, http.StatusOK, ".svg", []byte(drawn))
}

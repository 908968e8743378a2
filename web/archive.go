package web

import (
	"context"
	"encoding/json"
	"mime"
	"net/http"
	"os"
	"path/filepath"
	"time"

	"tared/session/copies"
	"tared/session/text"
)

// restorePath is where a copy of a record is sent to, its bytes as they are.
const restorePath = "/api/restore"

// mostCopy is the most bytes of such a copy.
const mostCopy = 16 << 30

// restoreWait is how long a browser may take to send one.
const restoreWait = time.Hour

// isCopy reports whether a content type may be that of a copy. A plain form of a foreign
// page cannot have it.
func isCopy(contentType string) bool { return contentType == "application/octet-stream" }

// archivePage is the record as a whole.
type archivePage struct {
	Archive bool // there is one that can be taken out
	Nightly Nightly
	Comma   bool // the reader's language has a decimal comma
}

func archiveData(s *site, r *http.Request) (any, error) {
	if s.cfg.Archive == nil {
		return archivePage{}, nil
	}
	return archivePage{true, s.cfg.Archive.Nightly(), languageOf(r).DecimalComma()}, nil
}

// keptFor says how many copies are kept.
func keptFor(k copies.Keep) text.Message {
	var all []text.Message
	add := func(n int, m text.Message) {
		if n > 0 {
			all = append(all, m)
		}
	}
	add(k.Days, text.New("page.shop.days", text.Count("count", k.Days)))
	add(k.Weeks, text.New("page.shop.weeks", text.Count("count", k.Weeks)))
	add(k.Months, text.New("page.shop.months", text.Count("count", k.Months)))
	add(k.Years, text.New("page.shop.years", text.Count("count", k.Years)))
	return text.Listed(all...)
}

// addArchive are the routes of the record as a whole.
func (s *site) addArchive(get, post func(path string, h http.HandlerFunc)) {
	a := s.cfg.Archive
	if a == nil {
		return
	}
	post("/api/verify", s.long(func(r *http.Request, step Step) (any, error) {
		words, ok, err := a.Verify(step)
		return verified{ok, saidIn(r, words)}, err
	}))
	post("/api/pack", s.long(func(r *http.Request, step Step) (any, error) {
		file, words, err := a.Pack(step)
		if err == nil {
			s.packed.Store(&file)
		}
		return packed{"/packed/" + filepath.Base(file), saidIn(r, words)}, err
	}))
	get("/packed/{file}", s.command(s.getPacked))
	post("/api/copy", s.long(func(r *http.Request, step Step) (any, error) {
		m, err := a.Copy(step)
		return verified{true, saidIn(r, []text.Message{m})}, err
	}))
	post(restorePath, s.command(s.alone(func(w http.ResponseWriter, r *http.Request) {
		_ = http.NewResponseController(w).SetReadDeadline(time.Now().Add(restoreWait))
		_ = http.NewResponseController(w).SetWriteDeadline(time.Now().Add(2 * restoreWait))
		words, err := a.Restore(r.Body)
		s.done(w, r, verified{true, saidIn(r, words)}, err)
	})))
	get("/export/{file}", s.command(s.getExport))
}

// verified is what came of a work on the record.
type verified struct {
	OK    bool     `json:"ok"`
	Words []string `json:"words"`
}

// packed is a copy that can be fetched.
type packed struct {
	File  string   `json:"file"`
	Words []string `json:"words"`
}

func saidIn(r *http.Request, all []text.Message) (said []string) {
	l := languageOf(r)
	for _, m := range all {
		said = append(said, onPage(l, m))
	}
	return said
}

// getPacked gives the copy that was made last.
func (s *site) getPacked(w http.ResponseWriter, r *http.Request) {
	file := s.packed.Load()
	if file == nil || filepath.Base(*file) != r.PathValue("file") {
		refuse(w, r, http.StatusNotFound, text.New("page.api.no-file"))
		return
	}
	f, err := os.Open(*file)
	if err != nil {
		refuse(w, r, http.StatusNotFound, text.New("page.api.no-file"))
		return
	}
	defer func() { _ = f.Close() }()
	h := w.Header()
	h.Set("Content-Type", "application/zip")
	h.Set("Content-Disposition", mime.FormatMediaType("attachment", map[string]string{"filename": filepath.Base(*file)}))
	h.Set("Cache-Control", "no-store")
	_ = http.NewResponseController(w).SetWriteDeadline(time.Now().Add(restoreWait))
	http.ServeContent(w, r, "", time.Time{}, f)
}

// stepEvery is how often a longer work tells how far it is.
const stepEvery = 200 * time.Millisecond

// step is how far a longer work is.
type step struct {
	Step string `json:"step"`
}

// long carries out a work on the whole record, one at a time. Where it takes longer than a
// moment the answer is lines: how far it is, now and then, and at last what came of it.
func (s *site) long(work func(r *http.Request, step Step) (any, error)) http.HandlerFunc {
	do := s.alone(func(w http.ResponseWriter, r *http.Request) {
		t := stepper{w: w, l: languageOf(r), begun: s.cfg.Now(), now: s.cfg.Now}
		t.last = t.begun
		v, err := work(r, t.step)
		if !t.told {
			s.done(w, r, v, err)
			return
		}
		if err != nil {
			_ = s.status(r, err) // what is no fault of who asked is logged
			v = fault{Error: onPage(t.l, text.Of(err))}
		}
		t.line(v)
	})
	return s.command(func(w http.ResponseWriter, r *http.Request) {
		if read(w, r, &struct{}{}) {
			do(w, r.WithContext(context.WithoutCancel(r.Context())))
		}
	})
}

// alone lets one work on the whole record through at a time.
func (s *site) alone(next http.HandlerFunc) http.HandlerFunc {
	return func(w http.ResponseWriter, r *http.Request) {
		if !s.working.TryLock() {
			refuse(w, r, http.StatusConflict, text.New("page.shop.busy"))
			return
		}
		defer s.working.Unlock()
		next(w, r)
	}
}

// stepper tells how far a work is.
type stepper struct {
	w           http.ResponseWriter
	l           *text.Language
	begun, last time.Time
	now         func() time.Time
	told        bool
}

func (t *stepper) step(done, of int64) {
	now := t.now()
	if now.Sub(t.last) < stepEvery || of <= 0 {
		return
	}
	t.last = now
	m := text.New("page.shop.step", text.Count("count", int(done*100/of)))
	if took := now.Sub(t.begun); took > time.Second && done > 0 {
		left := time.Duration(float64(took) / float64(done) * float64(of-done))
		m = text.New("page.shop.step-left", text.Count("count", int(done*100/of)), text.Duration("left", left.Round(time.Second)))
	}
	t.line(step{t.l.Say(m)})
}

// line writes a line of the answer. One who left needs none.
func (t *stepper) line(v any) {
	if !t.told {
		t.told = true
		t.w.Header().Set("Content-Type", "application/x-ndjson")
		t.w.Header().Set("Cache-Control", "no-store")
	}
	c := http.NewResponseController(t.w)
	_ = c.SetWriteDeadline(time.Now().Add(answerWait))
	if json.NewEncoder(t.w).Encode(v) == nil {
		_ = c.Flush()
	}
}

package web

import (
	"context"
	"encoding/json"
	"errors"
	"net/http"
	"strconv"
	"strings"
	"time"

	"tared/session"
	"tared/session/recipe"
)

func (s *Server) routes() http.Handler {
	mux := http.NewServeMux()
	mux.HandleFunc("GET /{$}", s.page("bench"))
	mux.HandleFunc("GET /sheet", s.page("sheet"))
	mux.HandleFunc("GET /book", s.bookPage)
	mux.HandleFunc("GET /book/{mark}", s.page("made"))
	mux.HandleFunc("GET /compare", s.comparePage)
	mux.HandleFunc("GET /proof", s.page("proof"))
	mux.HandleFunc("GET /scales", s.page("scales"))
	mux.HandleFunc("GET /calc", s.page("calc"))
	mux.HandleFunc("GET /pair", s.page("pair"))
	mux.HandleFunc("GET /static/{file}", s.static)
	mux.HandleFunc("GET /live", s.serveLive)
	mux.HandleFunc("GET /api/view", s.getView)
	mux.HandleFunc("GET /api/samples", s.getSamples)
	mux.HandleFunc("GET /api/book", s.withBook(s.getBook))
	mux.HandleFunc("GET /api/book/{mark}", s.withBook(s.getBatch))
	mux.HandleFunc("GET /api/compare", s.withBook(s.getCompare))
	mux.HandleFunc("GET /api/calc/{topic}", s.getCalc)
	mux.HandleFunc("GET /api/hands", s.getHands)
	mux.HandleFunc("GET /api/pair", s.getPair)
	mux.HandleFunc("POST /api/pair", s.postPair)
	// Plan changes nothing, yet it works for a stranger: so it is a command too.
	mux.HandleFunc("POST /api/plan", s.command(s.postPlan))
	mux.HandleFunc("POST /api/do", s.command(s.postDo))
	mux.HandleFunc("POST /api/start", s.command(s.postStart))
	mux.HandleFunc("POST /api/hands", s.command(s.postHands))
	s.gaugeRoutes(mux)
	s.afterRoutes(mux)
	s.photoRoutes(mux)
	s.seriesRoutes(mux)
	s.shelfRoutes(mux)
	for _, r := range s.cfg.Extra {
		mux.Handle(r.Pattern, r.Handler)
	}
	return mux
}

// fault is the answer to a request that was not carried out.
type fault struct {
	Error string      `json:"error"`
	Lines []faultLine `json:"lines,omitempty"` // of a recipe, where the fault has a line
}

type faultLine struct {
	Line  int    `json:"line"`
	Words string `json:"words"`
}

func refuse(w http.ResponseWriter, status int, words string) {
	answer(w, status, fault{Error: words})
}

func answer(w http.ResponseWriter, status int, v any) {
	b, err := json.Marshal(v)
	if err != nil {
		status, b = http.StatusInternalServerError, []byte(`{"error":"the answer cannot be written as JSON"}`)
	}
	w.Header().Set("Content-Type", "application/json; charset=utf-8")
	w.Header().Set("Cache-Control", "no-store")
	w.WriteHeader(status)
	_, _ = w.Write(b) // a browser that left needs no answer
}

// command lets only paired browsers through, where pairing is needed.
func (s *Server) command(next http.HandlerFunc) http.HandlerFunc {
	return func(w http.ResponseWriter, r *http.Request) {
		if s.mustPair.Load() && !s.pairing.paired(r) {
			refuse(w, http.StatusUnauthorized, "this browser may watch but not command; pair it first, with the code that tared printed")
			return
		}
		next(w, r)
	}
}

// read understands a request's body, or answers and returns false.
func read(w http.ResponseWriter, r *http.Request, v any) bool {
	// A client that sends its body byte by byte holds a goroutine no longer than this.
	_ = http.NewResponseController(w).SetReadDeadline(time.Now().Add(bodyWait))
	d := json.NewDecoder(r.Body)
	d.DisallowUnknownFields()
	err := d.Decode(v)
	if err == nil && d.More() {
		err = errors.New("more than one value")
	}
	var big *http.MaxBytesError
	switch {
	case errors.As(err, &big):
		refuse(w, http.StatusRequestEntityTooLarge, "the request is larger than "+strconv.Itoa(maxBody>>10)+" KiB")
	case err != nil:
		refuse(w, http.StatusBadRequest, "the request is not the JSON that is expected here: "+err.Error())
	}
	_ = http.NewResponseController(w).SetReadDeadline(time.Time{})
	return err == nil
}

func (s *Server) getView(w http.ResponseWriter, _ *http.Request) {
	watch := s.cfg.Bench.Watch()
	defer watch.Close()
	b := watch.Latest()
	if b == nil {
		refuse(w, http.StatusServiceUnavailable, "the bench has nothing to show yet; ask again")
		return
	}
	w.Header().Set("Content-Type", "application/json; charset=utf-8")
	w.Header().Set("Cache-Control", "no-store")
	_, _ = w.Write(b)
}

func (s *Server) getSamples(w http.ResponseWriter, _ *http.Request) {
	samples := s.cfg.Samples
	if samples == nil {
		samples = []Sample{}
	}
	answer(w, http.StatusOK, samples)
}

func (s *Server) postDo(w http.ResponseWriter, r *http.Request) {
	var c session.Command
	if !read(w, r, &c) {
		return
	}
	c.At = s.cfg.Now()
	c.Word = strings.ToLower(strings.TrimSpace(c.Word))
	c.Rest, c.By = strings.TrimSpace(c.Rest), strings.TrimSpace(c.By)
	if c.Word == "" {
		refuse(w, http.StatusBadRequest, "no word to carry out; send {\"word\": …}")
		return
	}
	// Once begun, a command is finished even when the browser leaves: the page
	// learns the outcome from the next view.
	ctx, cancel := context.WithTimeout(context.WithoutCancel(r.Context()), bodyWait)
	defer cancel()
	if err := s.cfg.Bench.Do(ctx, c); err != nil {
		s.failed(w, "carry out "+c.Word, err)
		return
	}
	answer(w, http.StatusOK, map[string]bool{"ok": true})
}

// failed answers for a bench that refused or failed.
func (s *Server) failed(w http.ResponseWriter, doing string, err error) {
	if errors.Is(err, session.ErrRefused) {
		refuse(w, http.StatusConflict, err.Error())
		return
	}
	s.cfg.Log.Error().Err(err).Msg(doing)
	refuse(w, http.StatusInternalServerError, err.Error())
}

func (s *Server) postPlan(w http.ResponseWriter, r *http.Request) {
	var p session.PlanRequest
	if !read(w, r, &p) {
		return
	}
	sh, err := s.cfg.Bench.Plan(r.Context(), p)
	if err != nil {
		answer(w, http.StatusUnprocessableEntity, fault{err.Error(), linesOf(err)})
		return
	}
	answer(w, http.StatusOK, sh)
}

func (s *Server) postStart(w http.ResponseWriter, r *http.Request) {
	var p session.PlanRequest
	if !read(w, r, &p) {
		return
	}
	if strings.TrimSpace(p.By) == "" {
		refuse(w, http.StatusUnprocessableEntity, "a batch needs a name: who is weighing?")
		return
	}
	ctx, cancel := context.WithTimeout(context.WithoutCancel(r.Context()), bodyWait)
	defer cancel()
	mark, err := s.cfg.Bench.Start(ctx, p)
	switch {
	case err == nil:
		answer(w, http.StatusOK, map[string]string{"mark": mark})
	case errors.Is(err, session.ErrRefused):
		refuse(w, http.StatusConflict, err.Error())
	default:
		answer(w, http.StatusUnprocessableEntity, fault{err.Error(), linesOf(err)})
	}
}

// linesOf finds the lines of a recipe that an error speaks of; several faults
// come joined.
func linesOf(err error) []faultLine {
	if fault, ok := err.(*recipe.Error); ok {
		if fault.Line == 0 {
			return nil // of the text as a whole
		}
		return []faultLine{{fault.Line, fault.Why}}
	}
	switch e := err.(type) {
	case interface{ Unwrap() []error }:
		var lines []faultLine
		for _, one := range e.Unwrap() {
			lines = append(lines, linesOf(one)...)
		}
		return lines
	case interface{ Unwrap() error }:
		return linesOf(e.Unwrap())
	}
	return nil
}

func (s *Server) getHands(w http.ResponseWriter, _ *http.Request) {
	if s.cfg.Hands == nil {
		// Not an error: most benches have real hands, and their page asks all the same.
		answer(w, http.StatusOK, []HandMoves{})
		return
	}
	answer(w, http.StatusOK, s.cfg.Hands.Moves())
}

func (s *Server) postHands(w http.ResponseWriter, r *http.Request) {
	var m struct {
		Scale string `json:"scale"`
		Do    string `json:"do"`
	}
	if !read(w, r, &m) {
		return
	}
	if s.cfg.Hands == nil {
		refuse(w, http.StatusNotFound, "no simulated hands at these scales")
		return
	}
	if err := s.cfg.Hands.Move(r.Context(), m.Scale, m.Do); err != nil {
		refuse(w, http.StatusConflict, err.Error())
		return
	}
	answer(w, http.StatusOK, s.cfg.Hands.Moves())
}

// getPair tells a page whether it may command.
func (s *Server) getPair(w http.ResponseWriter, r *http.Request) {
	need := s.mustPair.Load()
	answer(w, http.StatusOK, map[string]bool{"needed": need, "may": !need || s.pairing.paired(r)})
}

func (s *Server) postPair(w http.ResponseWriter, r *http.Request) {
	var p struct {
		Code string `json:"code"`
	}
	if !read(w, r, &p) {
		return
	}
	if !s.pairing.use(p.Code) {
		s.cfg.Log.Warn().Str("from", r.RemoteAddr).Msg("wrong pairing code")
		refuse(w, http.StatusForbidden, "this code is not the right one, or was used before; take the newest that tared printed")
		return
	}
	http.SetCookie(w, s.pairing.cookie(r.TLS != nil))
	s.cfg.Log.Info().Str("from", r.RemoteAddr).Msg("browser paired")
	s.announceCode() // so that the next browser finds one that serves
	answer(w, http.StatusOK, map[string]bool{"ok": true})
}

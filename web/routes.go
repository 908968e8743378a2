package web

import (
	"context"
	"net/http"
	"strings"

	"tared/session"
	"tared/session/fact"
	"tared/session/text"
)

// routes are all that can be asked for. What changes something, or works for whoever
// asks, is a command.
func routes(s *site) (http.Handler, error) {
	mux := http.NewServeMux()
	var nav []page
	for _, p := range pages {
		if !p.Nav.None() {
			nav = append(nav, p)
		}
	}
	b := newBundler()
	film, err := b.film()
	if err != nil {
		return nil, err
	}
	for _, p := range pages {
		t := drawing(p)
		with, err := b.bundle(p)
		if err != nil {
			return nil, err
		}
		mux.HandleFunc("GET "+p.Path, s.page(p, nav, with, film, t))
		if p.Name == "sheet" {
			mux.HandleFunc("POST "+p.Path, s.command(s.postSheet(t)))
		}
	}
	with, err := b.bundle(faultPage)
	if err != nil {
		return nil, err
	}
	s.fault = s.faults(nav, with, drawing(faultPage))
	mux.HandleFunc("GET /", func(w http.ResponseWriter, r *http.Request) {
		post := r.Clone(r.Context())
		post.Method = http.MethodPost
		if _, there := mux.Handler(post); there != "" {
			w.Header().Set("Allow", http.MethodPost)
			refuse(w, r, http.StatusMethodNotAllowed, text.New("page.api.method"))
			return
		}
		refuse(w, r, http.StatusNotFound, text.New("page.fault.no-page"))
	})
	icon := drawnIcon()
	mux.HandleFunc("GET /favicon.ico", icon)
	mux.HandleFunc("GET /apple-touch-icon.png", icon)
	mux.HandleFunc("GET /manifest.webmanifest", func(w http.ResponseWriter, r *http.Request) {
		w.Header().Set("Cache-Control", "max-age=86400")
		send(w, r, manifest)
	})
	mux.HandleFunc("GET /static/{file}", getFile(b.files))
	get := func(path string, h http.HandlerFunc) { mux.HandleFunc("GET "+path, h) }
	post := func(path string, h http.HandlerFunc) { mux.HandleFunc("POST "+path, h) }
	bench, record := s.cfg.Bench, s.cfg.Book

	get("/help/picture/{name}", s.getHelpPicture)
	get("/healthz", s.getHealth)
	get("/readyz", s.getReady)
	get("/metrics", s.getMetrics)

	get(trustPath+".crt", s.getAuthority)
	get("/live", s.live.serve)
	get("/api/view", s.getView)
	post("/api/do", carry(s, s.do))
	get("/api/hands", s.tell(s.getHands))
	post("/api/hands", s.command(s.postHands))
	get("/api/pair", s.tell(func(r *http.Request) (any, error) { return pairData(s, r) }))
	post("/api/pair", s.postPair)
	get("/api/devices", s.command(s.tell(func(r *http.Request) (any, error) { return devicesData(s, r) })))
	post("/api/devices", s.command(s.postDevice))
	post("/api/devices/invite", carry(s, s.postInvite))

	s.addV1(get)

	get("/api/samples", s.tell(func(*http.Request) (any, error) { return append([]Sample{}, s.cfg.Samples...), nil }))
	post("/api/plan", carry(s, s.plan)) // it changes nothing, and yet works
	post("/api/start", carry(s, s.start))

	post("/api/check", carry(s, func(ctx context.Context, c session.CheckRequest) (any, error) {
		return ok, bench.Check(ctx, checkedIn(c))
	}))
	post("/api/order", carry(s, func(ctx context.Context, o order) (any, error) {
		return ok, bench.Order(ctx, o.Scale, strings.ToLower(o.Do), o.By)
	}))

	s.addPorts(get, post)

	get("/api/shelf", s.tell(func(r *http.Request) (any, error) { return s.shelf(r) }))
	post("/api/keep", carry(s, func(ctx context.Context, k session.KeepRequest) (any, error) { return bench.Keep(ctx, keptIn(k)) }))

	get("/api/book", s.withBook(s.tell(s.getBook)))
	get("/api/book/{mark}", s.withBook(s.tell(func(r *http.Request) (any, error) { return record.Batch(r.Context(), r.PathValue("mark")) })))
	get("/api/book/{mark}/after", s.withBook(s.tell(func(r *http.Request) (any, error) {
		return record.After(r.Context(), r.PathValue("mark"), r.FormValue("wanted"))
	})))
	get("/api/book/{mark}/curve/{seq}", s.withBook(s.getCurve))
	get("/api/book/{mark}/oxides.csv", s.withBook(s.getOxides))
	get("/api/compare", s.withBook(s.tell(s.getCompare)))
	get("/api/series/{mark}", s.withBook(s.tell(func(r *http.Request) (any, error) { return seriesData(s, r) })))
	post("/api/after", s.withBook(carry(s, s.addEntry)))
	post("/api/reading", carry(s, func(ctx context.Context, q order) (any, error) { return bench.Read(ctx, q.Scale) }))
	get("/api/vessels", s.tell(func(r *http.Request) (any, error) {
		all, err := bench.Vessels(r.Context())
		return append([]fact.Vessel{}, all...), err
	}))
	post("/api/vessel", carry(s, func(ctx context.Context, v session.VesselRequest) (any, error) {
		return bench.Measure(ctx, measuredIn(v))
	}))

	post(photoPath, s.command(s.postPhoto))
	get("/photo/{name}", s.getPhoto)
	get("/photo/small/{name}", s.getSmall)

	if s.cfg.Printer != nil {
		post("/api/print", s.command(s.postPrint))
	}
	get("/api/calc/{topic}", s.getCalc)
	s.addArchive(get, post)
	return mux, nil
}

// order is what a scale is told to do, or, with its name alone, a scale to be read.
type order struct {
	Scale string `json:"scale"`
	Do    string `json:"do"`
	By    string `json:"by"`
}

package web

import (
	"net/http"

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
	for _, p := range pages {
		t, err := drawing(p, text.English)
		if err != nil {
			return nil, err
		}
		mux.HandleFunc("GET "+p.Path, s.page(p, nav, t))
		if p.Name == "sheet" {
			mux.HandleFunc("POST "+p.Path, s.command(s.postSheet(t)))
		}
	}
	files, err := static()
	if err != nil {
		return nil, err
	}
	mux.HandleFunc("GET /static/{file}", func(w http.ResponseWriter, r *http.Request) {
		a, known := files[r.PathValue("file")]
		if !known {
			refuse(w, http.StatusNotFound, text.New("page.api.no-file"))
			return
		}
		send(w, r, a)
	})
	get := func(path string, h http.HandlerFunc) { mux.HandleFunc("GET "+path, h) }
	command := func(path string, h http.HandlerFunc) { mux.HandleFunc("POST "+path, s.command(h)) }

	get("/live", s.live.serve)
	get("/api/view", s.getView)
	command("/api/do", s.postDo)
	get("/api/hands", s.getHands)
	command("/api/hands", s.postHands)
	get("/api/pair", s.getPair)
	mux.HandleFunc("POST /api/pair", s.postPair)

	get("/api/samples", s.getSamples)
	command("/api/plan", s.postPlan) // it changes nothing, and yet works
	command("/api/start", s.postStart)

	command("/api/check", s.postCheck)
	command("/api/order", s.postOrder)

	get("/api/shelf", s.getStock)
	command("/api/keep", s.postKeep)

	get("/api/book", s.withBook(s.getBook))
	get("/api/book/{mark}", s.withBook(s.getBatch))
	get("/api/book/{mark}/after", s.withBook(s.getFollowUp))
	get("/api/book/{mark}/curve/{seq}", s.withBook(s.getCurve))
	get("/api/compare", s.withBook(s.getCompare))
	get("/api/series/{mark}", s.withBook(s.getSeries))
	command("/api/after", s.withBook(s.postFollowUp))
	command("/api/reading", s.postReading)
	get("/api/vessels", s.getVessels)
	command("/api/vessel", s.postVessel)

	command(photoPath, s.postPhoto)
	get("/photo/{name}", s.getPhoto)
	get("/photo/small/{name}", s.getSmall)

	get("/api/calc/{topic}", s.getCalc)
	return mux, nil
}

package web

import (
	"context"
	"net/http"
)

type madeFile struct {
	File string `json:"file"`
}

// addPorts are the routes of them.
func (s *site) addPorts(get, post func(path string, h http.HandlerFunc)) {
	var ports Ports = noPorts{}
	if s.cfg.Ports != nil {
		ports = s.cfg.Ports
	}
	get("/api/ports", s.tell(func(r *http.Request) (any, error) {
		v, l := ports.Seen(), languageOf(r)
		v.Ports, v.Faults = append([]Port{}, v.Ports...), append([]string{}, v.Faults...)
		for i := range v.Ports {
			v.Ports[i].Why = l.Term(v.Ports[i].Why)
		}
		return v, nil
	}))
	post("/api/ports/look", carry(s, func(context.Context, struct{}) (any, error) {
		ports.Look()
		return ok, nil
	}))
	post("/api/ports/take", carry(s, func(_ context.Context, t TakePort) (any, error) {
		file, err := ports.Take(takenIn(t))
		return madeFile{file}, err
	}))
	post("/api/ports/capture", carry(s, func(_ context.Context, t TakePort) (any, error) {
		file, err := ports.KeepCapture(t.Port)
		return madeFile{file}, err
	}))
}

package web

import (
	"context"
	"net/http"
	"slices"

	"tared/session/text"
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
			p := &v.Ports[i]
			p.Why, p.Unclear, p.Proposal = l.Term(p.Why), p.Unclear.In(l), p.Proposal.In(l)
		}
		return v, nil
	}))
	post("/api/ports/try", carry(s, func(_ context.Context, t TryPort) (any, error) { return ok, ports.Try(triedIn(t)) }))
	post("/api/ports/reload", carry(s, func(context.Context, struct{}) (any, error) {
		ports.Reload()
		return ok, nil
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

// In puts what is said of a proposal into a language.
func (p *Proposal) In(l *text.Language) *Proposal {
	if p == nil {
		return nil
	}
	q := *p
	q.Says, q.Sure, q.Guessed = q.Says.In(l), slices.Clone(q.Sure), slices.Clone(q.Guessed)
	for _, all := range [][]text.Message{q.Sure, q.Guessed} {
		for i := range all {
			all[i] = all[i].In(l)
		}
	}
	return &q
}

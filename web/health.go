package web

import (
	"bytes"
	"context"
	"fmt"
	"mime"
	"net/http"
	"strconv"
	"strings"
	"time"

	"tared/session"
)

// Who looks after the machine asks here. None of it names a person, a material or a batch.

// healthWait is how long the bench has to answer: after as long a page shows dashes.
const healthWait = 2 * time.Second

// health is how the program stands.
type health struct {
	Alive     bool `json:"alive"`     // the bench answers, and no line of its journal hangs on the way to the disk
	Recording bool `json:"recording"` // the journal takes lines: what was read of it holds
	Checking  int  `json:"checking"`  // lines of earlier starts that are still to be checked again
}

// ask has the bench count, which also shows that it lives: see session.Bench.Alive.
func (s *site) ask(ctx context.Context) (t session.Tally, h health) {
	ctx, cancel := context.WithTimeout(ctx, healthWait)
	defer cancel()
	t, err := s.cfg.Bench.Tally(ctx)
	h.Alive, h.Recording = err == nil, t.Recording
	if s.cfg.Book != nil {
		h.Checking, _ = s.cfg.Book.Behind()
	}
	return t, h
}

// getHealth tells whether the program lives, by the same answer on which the service manager's
// watchdog rests; getReady whether what is weighed is recorded.
func (s *site) getHealth(w http.ResponseWriter, r *http.Request) {
	_, h := s.ask(r.Context())
	answer(w, statusIf(h.Alive), h)
}

func (s *site) getReady(w http.ResponseWriter, r *http.Request) {
	_, h := s.ask(r.Context())
	answer(w, statusIf(h.Recording), h)
}

func statusIf(good bool) int {
	if good {
		return http.StatusOK
	}
	return http.StatusServiceUnavailable
}

// exposition is text of the Prometheus exposition format 0.0.4. It is written by hand: the
// usual library adds 2.4 MiB to a program that is to stay within 15.
type exposition struct{ bytes.Buffer }

// family begins one; of adds a value of it, with labels as name and value by turns.
func (e *exposition) family(name, kind string) { fmt.Fprintf(e, "# TYPE %s %s\n", name, kind) }

func (e *exposition) of(name string, value float64, labels ...string) {
	e.WriteString(name)
	for i, with := 0, byte('{'); i < len(labels); i, with = i+2, ',' {
		e.WriteByte(with)
		fmt.Fprintf(e, `%s="%s"`, labels[i], labelSafe.Replace(labels[i+1]))
		if i+2 == len(labels) {
			e.WriteByte('}')
		}
	}
	fmt.Fprintf(e, " %s\n", strconv.FormatFloat(value, 'g', -1, 64))
}

var labelSafe = strings.NewReplacer(`\`, `\\`, `"`, `\"`, "\n", `\n`)

func (e *exposition) one(name, kind string, value float64, labels ...string) {
	e.family(name, kind)
	e.of(name, value, labels...)
}

func truth(yes bool) float64 {
	if yes {
		return 1
	}
	return 0
}

func (s *site) getMetrics(w http.ResponseWriter, r *http.Request) {
	t, h := s.ask(r.Context())
	var e exposition
	e.one("tared_build_info", "gauge", 1, "version", s.cfg.Version)
	e.one("tared_bench_alive", "gauge", truth(h.Alive))
	e.one("tared_live_clients", "gauge", float64(s.live.watching()))
	if h.Alive {
		e.bench(t, h)
	}
	w.Header().Set("Content-Type", mime.FormatMediaType("text/plain", map[string]string{"version": "0.0.4", "charset": "utf-8"}))
	w.Header().Set("Cache-Control", "no-store")
	_, _ = w.Write(e.Bytes()) // who left needs no answer
}

func (e *exposition) bench(t session.Tally, h health) {
	verified := t.Seq
	if h.Checking > 0 || !h.Recording {
		verified = 0
	}
	e.one("tared_recording", "gauge", truth(t.Recording))
	e.one("tared_batch_open", "gauge", truth(t.Working))
	e.one("tared_takes_total", "counter", float64(t.Takes))
	e.one("tared_journal_seq", "gauge", float64(t.Seq))
	e.one("tared_journal_verified_seq", "gauge", float64(verified))
	e.one("tared_journal_unchecked_lines", "gauge", float64(h.Checking))
	for _, f := range []struct {
		name, kind string
		of         func(session.ScaleTally) float64
	}{
		{"tared_scale_up", "gauge", func(s session.ScaleTally) float64 { return truth(s.Up) }},
		{"tared_scale_lines_total", "counter", func(s session.ScaleTally) float64 { return float64(s.Lines) }},
		{"tared_scale_damaged_frames_total", "counter", func(s session.ScaleTally) float64 { return float64(s.Damaged) }},
		{"tared_scale_foreign_frames_total", "counter", func(s session.ScaleTally) float64 { return float64(s.Foreign) }},
		{"tared_scale_gaps_total", "counter", func(s session.ScaleTally) float64 { return float64(s.Gaps) }},
	} {
		e.family(f.name, f.kind)
		for _, scale := range t.Scales {
			e.of(f.name, f.of(scale), "scale", scale.Name)
		}
	}
	const sync = "tared_journal_sync_seconds"
	e.family(sync, "histogram")
	n := uint64(0)
	for i, count := range t.Syncs {
		n += count
		le := "+Inf"
		if i < len(session.SyncBounds) {
			le = strconv.FormatFloat(session.SyncBounds[i].Seconds(), 'g', -1, 64)
		}
		e.of(sync+"_bucket", float64(n), "le", le)
	}
	e.of(sync+"_sum", t.SyncTime.Seconds())
	e.of(sync+"_count", float64(n))
}

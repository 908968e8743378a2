package web

import (
	"encoding/json"
	"net/http"
	"strings"
	"testing"
	"time"

	dto "github.com/prometheus/client_model/go"
	"github.com/prometheus/common/expfmt"
	"github.com/prometheus/common/model"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"tared/session"
)

func counted() session.Tally {
	t := session.Tally{Seq: 4711, Recording: true, Working: true, Takes: 12, SyncTime: 90 * time.Millisecond,
		Scales: []session.ScaleTally{{Name: "bench", Up: true, Lines: 18231, Damaged: 2, Foreign: 1, Gaps: 3}, {Name: "Wa\"a\\ge\nö", Lines: 7}}}
	t.Syncs[0], t.Syncs[3], t.Syncs[len(t.Syncs)-1] = 20, 4, 1
	return t
}

// The Prometheus project's own reader understands what is served.
func TestMetricsAreOfTheExpositionFormat(t *testing.T) {
	s, b := newServer(t, func(c *Config) { c.Book, c.Version = fakeBook{}, "v1.2.3" })
	b.tally = counted()
	w := do(s, request("GET", "/metrics", ""))
	require.Equal(t, http.StatusOK, w.Code)
	assert.Equal(t, "text/plain; charset=utf-8; version=0.0.4", w.Header().Get("Content-Type"))
	p := expfmt.NewTextParser(model.LegacyValidation)
	families, err := p.TextToMetricFamilies(strings.NewReader(w.Body.String()))
	require.NoError(t, err, w.Body.String())
	values := map[string]float64{}
	for name, f := range families {
		for _, m := range f.Metric {
			key := name
			for _, l := range m.Label {
				key += " " + l.GetName() + "=" + l.GetValue()
			}
			switch f.GetType() {
			case dto.MetricType_COUNTER:
				values[key] = m.Counter.GetValue()
			case dto.MetricType_GAUGE:
				values[key] = m.Gauge.GetValue()
			case dto.MetricType_HISTOGRAM:
				h := m.Histogram
				values[key] = float64(h.GetSampleCount())
				assert.InDelta(t, 0.09, h.GetSampleSum(), 1e-9)
				assert.Len(t, h.Bucket, len(session.SyncBounds)+1)
				assert.Equal(t, uint64(20), h.Bucket[0].GetCumulativeCount())
				assert.Equal(t, uint64(24), h.Bucket[3].GetCumulativeCount())
				assert.Equal(t, uint64(25), h.Bucket[len(h.Bucket)-1].GetCumulativeCount())
			default:
				t.Errorf("%s is a %s", name, f.GetType())
			}
		}
	}
	assert.Equal(t, map[string]float64{
		"tared_build_info version=v1.2.3": 1, "tared_bench_alive": 1, "tared_live_clients": 0, "tared_recording": 1, "tared_batch_open": 1,
		"tared_takes_total": 12, "tared_journal_seq": 4711, "tared_journal_verified_seq": 4711, "tared_journal_unchecked_lines": 0,
		"tared_scale_up scale=bench": 1, "tared_scale_up scale=Wa\"a\\ge\nö": 0,
		"tared_scale_lines_total scale=bench": 18231, "tared_scale_lines_total scale=Wa\"a\\ge\nö": 7,
		"tared_scale_damaged_frames_total scale=bench": 2, "tared_scale_damaged_frames_total scale=Wa\"a\\ge\nö": 0,
		"tared_scale_foreign_frames_total scale=bench": 1, "tared_scale_foreign_frames_total scale=Wa\"a\\ge\nö": 0,
		"tared_scale_gaps_total scale=bench": 3, "tared_scale_gaps_total scale=Wa\"a\\ge\nö": 0,
		"tared_journal_sync_seconds": 25,
	}, values)
}

// What the bench cannot say is left out, not served as nought.
func TestMetricsOfABenchThatDoesNotAnswer(t *testing.T) {
	s, b := newServer(t, nil)
	b.setStuck(true)
	b.tally = counted()
	body := do(s, request("GET", "/metrics", "")).Body.String()
	assert.Contains(t, body, "tared_bench_alive 0\n")
	assert.NotContains(t, body, "tared_journal_seq")
}

func TestHealthAndReady(t *testing.T) {
	for name, c := range map[string]struct {
		stuck, recording bool
		checking         int
		healthz, readyz  int
	}{
		"all is well":                    {false, true, 0, http.StatusOK, http.StatusOK},
		"old lines are checked again":    {false, true, 900, http.StatusOK, http.StatusOK},
		"the journal takes nothing":      {false, false, 0, http.StatusOK, http.StatusServiceUnavailable},
		"the bench or its journal hangs": {true, true, 0, http.StatusServiceUnavailable, http.StatusServiceUnavailable},
	} {
		t.Run(name, func(t *testing.T) {
			s, b := newServer(t, func(cfg *Config) { cfg.Book = fakeBook{checking: c.checking} })
			b.setStuck(c.stuck)
			b.tally.Recording = c.recording
			for path, want := range map[string]int{"/healthz": c.healthz, "/readyz": c.readyz} {
				w := do(s, request("GET", path, ""))
				assert.Equal(t, want, w.Code, path)
				var h health
				require.NoError(t, json.Unmarshal(w.Body.Bytes(), &h))
				assert.Equal(t, !c.stuck, h.Alive)
				assert.Equal(t, c.checking, h.Checking)
			}
		})
	}
}

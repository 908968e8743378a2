package web

import (
	"testing"

	"github.com/stretchr/testify/assert"
)

func TestHowABatchWentIsTold(t *testing.T) {
	const closed = "2026-03-02T11:20:00Z"
	for _, c := range []struct {
		name              string
		row               BatchRow
		tone, shape, went string
	}{
		{"in work", BatchRow{Done: 2, Of: 7, Worst: "in"}, "", "now", "open, 2 of 7 in"},
		{"all in", BatchRow{Ended: closed, Done: 7, Of: 7, Worst: "in"}, "in", "in", "all in band"},
		{"too much of one", BatchRow{Ended: closed, Done: 7, Of: 7, Off: 2, Worst: "over"}, "over", "over", "2 of 7 out of band"},
		{"too little of one", BatchRow{Ended: closed, Done: 5, Of: 7, Off: 2, Worst: "under"}, "under", "under", "2 of 7 out of band"},
		{"left out", BatchRow{Ended: closed, Done: 7, Of: 7, Off: 1, Worst: "skipped"}, "", "skip", "1 of 7 left out"},
		{"given up is not too little", BatchRow{Ended: closed, Early: true, Done: 0, Of: 7, Off: 7, Worst: "under"}, "", "skip", "closed early, 0 of 7 in"},
	} {
		c.row.Started = "2026-03-02T09:05:00+01:00"
		l := listed(c.row)
		assert.Equal(t, []string{c.tone, c.shape, c.went}, []string{l.Tone, l.Shape, l.Went}, c.name)
		assert.Equal(t, "2 March 2026 09:05", l.Day+" "+l.Clock, "the day where it was")
	}
}

package session

import (
	"context"
	"errors"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"tared/protocol"
	"tared/scale"
	"tared/session/fact"
	"tared/session/plan"
	"tared/session/sheet"
)

func TestOrderAndWants(t *testing.T) {
	j, past, _, err := open(t.TempDir(), time.Time{})
	require.NoError(t, err)
	var told []string
	answer := error(nil)
	var kinds []string
	b := New(Config{Recorder: kindsOf{Into(j), &kinds}, Past: past, Scales: []sheet.Scale{
		{Name: "bench", Step: protocol.Gram / 10, Max: 2 * protocol.Kilogram}, {Name: "eye", Step: protocol.Gram, Eye: true}},
		Order: func(name string, what scale.Order) error { told = append(told, name+" "+string(what)); return answer }})
	ctx, cancel := context.WithCancel(t.Context())
	done := make(chan error)
	go func() { done <- b.Run(ctx) }()
	defer func() { cancel(); <-done; require.NoError(t, j.Close()) }()

	for _, c := range [][2]string{{"nope", "zero"}, {"eye", "zero"}, {"bench", "dance"}} {
		assert.ErrorIs(t, b.Order(ctx, c[0], c[1], ""), ErrRefused)
	}
	assert.Empty(t, told)
	require.NoError(t, b.Order(ctx, "bench", "zero", "Mara"))
	assert.Empty(t, kinds, "without a batch there is nothing that it could spoil")
	assert.False(t, b.Wants("bench"))
	require.NoError(t, b.Check(ctx, CheckRequest{Scale: "bench", What: CheckMass, Mass: "100g"}))
	assert.True(t, b.Wants("bench"), "for a check")
	require.NoError(t, b.Check(ctx, CheckRequest{Scale: "bench", What: CheckStop}))
	assert.False(t, b.Wants("bench"))

	_, err = b.Start(ctx, plan.Request{Recipe: "Quartz 60\nWhiting 40\n", Base: "1kg", By: "Mara"})
	require.NoError(t, err)
	assert.True(t, b.Wants("bench"))
	require.NoError(t, b.Order(ctx, "bench", "tare", "Ilse"))
	assert.Equal(t, []string{"bench zero", "bench tare"}, told)
	assert.Equal(t, fact.Noticed{}.Kind(), kinds[len(kinds)-1], "recorded before it is sent")
	answer = errors.New("it is not connected now")
	err = b.Order(ctx, "bench", "zero", "Ilse")
	assert.ErrorIs(t, err, ErrRefused)
	assert.ErrorContains(t, err, "not connected")
	require.NoError(t, b.Do(ctx, Command{At: time.Now(), Word: "pause"}))
	assert.False(t, b.Wants("bench"), "a paused batch makes no scale beep")
}

// kindsOf notes the kinds of what is recorded.
type kindsOf struct {
	Recorder
	kinds *[]string
}

func (k kindsOf) Append(facts []fact.Fact) ([][]byte, error) {
	for _, f := range facts {
		*k.kinds = append(*k.kinds, f.Body.Kind())
	}
	return k.Recorder.Append(facts)
}

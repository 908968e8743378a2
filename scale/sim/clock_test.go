package sim

import (
	"context"
	"testing"
	"testing/synctest"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

func TestClockGains(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		c, err := NewClock(20)
		require.NoError(t, err)
		assert.Equal(t, c.Start(), c.Now())
		time.Sleep(3 * time.Second)
		assert.Equal(t, time.Minute, c.Now().Sub(c.Start()))
		assert.Equal(t, 50*time.Millisecond, c.Wall(time.Second))
		assert.Equal(t, 20.0, c.Speed())
		began := time.Now()
		require.NoError(t, c.Sleep(t.Context(), 10*time.Second))
		<-c.After(10 * time.Second)
		assert.Equal(t, time.Second, time.Since(began))
		ctx, cancel := context.WithCancel(t.Context())
		cancel()
		assert.ErrorIs(t, c.Sleep(ctx, time.Hour), context.Canceled)
		for _, bad := range []float64{0, -1, 1e9} {
			_, err := NewClock(bad)
			assert.Error(t, err)
		}
	})
}

package session

import (
	"context"
	"testing"

	"github.com/stretchr/testify/require"
)

// A bench that has stopped says so, and not that no batch is in work.
func TestOpenOfAStoppedBench(t *testing.T) {
	b := New(Config{})
	ctx, cancel := context.WithCancel(t.Context())
	cancel()
	require.NoError(t, b.Run(ctx))
	_, _, ok, err := b.Open(t.Context())
	require.False(t, ok)
	require.ErrorIs(t, err, ErrStopped)
}

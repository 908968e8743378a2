package session

import (
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// Who was let in and sent away stands in the record, and outlives a restart, also one behind
// a checkpoint. One that was sent away does not come back.
func TestDevicesAreKept(t *testing.T) {
	dir := t.TempDir()
	b, stop := benchOn(t, dir)
	pair := func(r DeviceRequest, fresh string) error { return b.Pair(t.Context(), r, fresh) }
	require.NoError(t, pair(DeviceRequest{Name: " the  tablet ", From: "192.168.1.9"}, "a1"))
	require.NoError(t, pair(DeviceRequest{Name: "the telephone", From: "192.168.1.8", Via: "the tablet", By: "Mara"}, "b2"))
	require.NoError(t, pair(DeviceRequest{Name: "charts", Token: true, By: "Jonas"}, "c3"))
	require.NoError(t, pair(DeviceRequest{Device: "b2", Name: "Ilse's telephone"}, ""))
	for why, r := range map[string]DeviceRequest{
		"no name": {}, "a name that is taken": {Name: "The Tablet"}, "none of that id": {Device: "z9", Name: "x"}, "sent away, and there is none": {Device: "z9"},
		"too long": {Name: strings.Repeat("x", 61)}, "not shown": {Name: "a\u202eb"},
	} {
		require.ErrorIs(t, pair(r, "d4"), ErrRefused, why)
	}
	require.NoError(t, pair(DeviceRequest{Device: "a1"}, ""))
	require.ErrorIs(t, pair(DeviceRequest{Device: "a1", Name: "again"}, ""), ErrRefused)
	before, err := b.Devices(t.Context())
	require.NoError(t, err)
	stop()
	require.Len(t, before, 3)
	assert.Equal(t, "the tablet", before[0].Name)
	assert.False(t, before[0].Revoked.IsZero())
	assert.Equal(t, "Ilse's telephone", before[1].Name)
	assert.Equal(t, "Mara", before[1].By)
	names := ""
	for _, d := range devices(before).May() {
		names += d.Name + "; "
	}
	assert.Equal(t, "Ilse's telephone; charts; ", names)

	b, stop = benchOn(t, dir)
	after, err := b.Devices(t.Context())
	require.NoError(t, err)
	stop()
	require.Len(t, after, 3)
	for i := range after {
		assert.True(t, before[i].At.Equal(after[i].At))
		assert.True(t, before[i].Revoked.Equal(after[i].Revoked))
		assert.Equal(t, before[i].Name, after[i].Name)
	}

	// And where no bench is running.
	require.NoError(t, RecordDevice(dir, "", time.Now(), DeviceRequest{Device: "c3", By: "Mara"}))
	w, err := ReadWorkshop(dir, time.Now())
	require.NoError(t, err)
	assert.Len(t, w.Devices.May(), 1)
}

package fact

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"tared/protocol"
)

// What is written by hand is what the library would write.
func TestObjectsAreWrittenAsByTheLibrary(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		var v struct {
			A string        `json:"a"`
			B string        `json:"b,omitempty"`
			C []string      `json:"c"`
			D protocol.Mass `json:"d"`
		}
		v.A, v.B = rapid.String().Draw(t, "a"), string(rapid.SliceOf(rapid.Byte()).Draw(t, "b"))
		v.C = rapid.OneOf(rapid.Just([]string(nil)), rapid.SliceOf(rapid.String())).Draw(t, "c")
		v.D = protocol.Mass(rapid.Int64Range(-9e18, 9e18).Draw(t, "d"))
		want, err := plain(v)
		require.NoError(t, err)
		got := object(nil).text("a", v.A).some("b", v.B).texts("c", v.C).mass("d", v.D, 0).end()
		assert.Equal(t, string(want), string(got))
	})
}

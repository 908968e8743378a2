package fact

import (
	"os"
	"reflect"
	"regexp"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"tared/protocol"
)

var later = []Body{Watered{}, Fired{}, Judged{}, Vessel{}}

func TestEveryLaterKindIsDecoded(t *testing.T) {
	src, err := os.ReadFile("after.go")
	require.NoError(t, err)
	var named, have []string
	for _, m := range regexp.MustCompile(`(?m)^func \(\w+\) Kind\(\) string +\{ return "(\w+)" \}`).FindAllSubmatch(src, -1) {
		named = append(named, string(m[1]))
	}
	for _, b := range later {
		have = append(have, b.Kind())
		got, err := DecodeBody(b.Kind(), []byte("{}"))
		require.NoError(t, err)
		assert.IsType(t, b, got)
		_, err = DecodeBody(b.Kind(), []byte(`{"words":7,"name":7}`))
		assert.ErrorIs(t, err, ErrFact)
	}
	require.ElementsMatch(t, named, have)
}

func TestLaterRoundTrip(t *testing.T) {
	for _, zero := range later {
		t.Run(zero.Kind(), rapid.MakeCheck(func(t *rapid.T) {
			v := reflect.New(reflect.TypeOf(zero)).Elem()
			fill(t, v)
			line, err := Encode(Fact{Seq: 1, Batch: "260302a", By: "Mara", Body: v.Interface().(Body)})
			require.NoError(t, err)
			back, _, err := Decode(line)
			require.NoError(t, err)
			again, err := Encode(back)
			require.NoError(t, err)
			assert.Equal(t, string(line), string(again))
		}))
	}
}

func TestTypedKeepsItsDigits(t *testing.T) {
	j, err := plain(Typed{Mass: 145 * protocol.Gram, Step: protocol.Gram / 100})
	require.NoError(t, err)
	assert.JSONEq(t, `{"mass":{"g":"145.00"},"step":{"g":"0.01"}}`, string(j))
}

package fact

import (
	"os"
	"reflect"
	"regexp"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"
)

var kept = []Body{Stocked{}, Corrected{}, Recipe{}}

func TestEveryKeptKindIsDecoded(t *testing.T) {
	src, err := os.ReadFile("stock.go")
	require.NoError(t, err)
	var named, have []string
	for _, m := range regexp.MustCompile(`(?m)^func \(\w+\) Kind\(\) string +\{ return "(\w+)" \}`).FindAllSubmatch(src, -1) {
		named = append(named, string(m[1]))
	}
	for _, b := range kept {
		have = append(have, b.Kind())
		got, err := DecodeBody(b.Kind(), []byte("{}"))
		require.NoError(t, err)
		assert.IsType(t, b, got)
		_, err = DecodeBody(b.Kind(), []byte(`{"version":"x","lot":7}`))
		assert.ErrorIs(t, err, ErrFact)
	}
	require.ElementsMatch(t, named, have)
}

func TestKeptRoundTrip(t *testing.T) {
	for _, zero := range kept {
		t.Run(zero.Kind(), rapid.MakeCheck(func(t *rapid.T) {
			v := reflect.New(reflect.TypeOf(zero)).Elem()
			fill(t, v)
			line, err := Encode(Fact{Seq: 1, By: "Mara", Body: v.Interface().(Body)})
			require.NoError(t, err)
			back, _, err := Decode(line)
			require.NoError(t, err)
			assert.Equal(t, v.Interface(), back.Body)
		}))
	}
}

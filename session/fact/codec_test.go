package fact_test

import (
	"encoding/json"
	"reflect"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"tared/protocol"
	. "tared/session/fact"
	"tared/session/fact/facttest"
	"tared/session/text"
)

// zeros gives an empty body of each kind.
func zeros() (all []Body) {
	for _, k := range Kinds {
		all = append(all, k.Zero)
	}
	return all
}

// What the journal keeps must be what was written, whatever stands in it.
func TestRoundTrip(t *testing.T) {
	for _, k := range Kinds {
		t.Run(k.Name, rapid.MakeCheck(func(t *rapid.T) {
			v := reflect.New(reflect.TypeOf(k.Zero)).Elem()
			fill(t, v)
			f := Fact{
				Seq: rapid.Uint64().Draw(t, "seq"), Batch: drawn(t, "batch"), By: drawn(t, "by"),
				At:   time.Unix(rapid.Int64Range(0, 4e9).Draw(t, "s"), rapid.Int64Range(0, 999999999).Draw(t, "ns")).UTC(),
				Body: v.Interface().(Body),
			}
			line, err := facttest.Line(f)
			require.NoError(t, err)
			assert.True(t, json.Valid(line))
			assert.NotContains(t, string(line), "\n")
			back, _, err := Decode(line)
			require.NoError(t, err)
			assert.Equal(t, f, back)
		}))
	}
}

func drawn(t *rapid.T, label string) string {
	return strings.ToValidUTF8(rapid.String().Draw(t, label), "?")
}

// fill gives every field of a body a drawn value. Slices and maps have at least
// one member, since an empty one and none are written alike.
func fill(t *rapid.T, v reflect.Value) {
	switch {
	case v.Type() == reflect.TypeFor[protocol.Mass]():
		v.SetInt(rapid.Int64Range(-9e18, 9e18).Draw(t, "mass"))
	case v.Type() == reflect.TypeFor[text.Message]():
		v.Set(reflect.ValueOf(text.New("material.reminder", text.Name("materials", drawn(t, "name")), text.Exact("mass", 84_600*protocol.Milligram, 2))))
	case v.Kind() == reflect.String:
		v.SetString(drawn(t, "text"))
	case v.Kind() == reflect.Bool:
		v.SetBool(rapid.Bool().Draw(t, "bool"))
	case v.Kind() == reflect.Uint64:
		v.SetUint(rapid.Uint64().Draw(t, "uint"))
	case v.Kind() == reflect.Struct:
		for i := range v.NumField() {
			fill(t, v.Field(i))
		}
	case v.Kind() == reflect.Pointer:
		v.Set(reflect.New(v.Type().Elem()))
		fill(t, v.Elem())
	case v.Kind() == reflect.Slice:
		v.Set(reflect.MakeSlice(v.Type(), rapid.IntRange(1, 3).Draw(t, "len"), 3))
		for i := range v.Len() {
			fill(t, v.Index(i))
		}
	case v.Kind() == reflect.Map:
		v.Set(reflect.MakeMap(v.Type()))
		k, e := reflect.New(v.Type().Key()).Elem(), reflect.New(v.Type().Elem()).Elem()
		fill(t, k)
		fill(t, e)
		v.SetMapIndex(k, e)
	default:
		t.Fatalf("fill knows no %s", v.Type())
	}
}

// The hand-written MarshalJSON methods must write every field of their struct
// under its own name: a field added to the struct and forgotten there would
// never reach the disk.
func TestNoFieldIsForgotten(t *testing.T) {
	for _, b := range zeros() {
		j, err := facttest.Body(b)
		require.NoError(t, err)
		var m map[string]json.RawMessage
		require.NoError(t, json.Unmarshal(j, &m))
		typ := reflect.TypeOf(b)
		for i := range typ.NumField() {
			name, opts, _ := strings.Cut(typ.Field(i).Tag.Get("json"), ",")
			require.NotEmpty(t, name, "%s.%s has no stable name", b.Kind(), typ.Field(i).Name)
			assert.NotContains(t, []string{"seq", "at", "kind", "batch", "by", "prev"}, name, "%s.%s takes a name of the head", b.Kind(), typ.Field(i).Name)
			if opts == "" {
				assert.Contains(t, m, name, b.Kind())
			}
		}
	}
}

func TestTypedKeepsItsDigits(t *testing.T) {
	j, err := facttest.Body(Typed{Mass: 145 * protocol.Gram, Step: protocol.Gram / 100})
	require.NoError(t, err)
	assert.JSONEq(t, `{"mass":{"g":"145.00"},"step":{"g":"0.01"}}`, string(j))
}

func TestDigitsOfTheStep(t *testing.T) {
	g := func(s string) protocol.Mass {
		m, err := protocol.ParseMass(s + "g")
		require.NoError(t, err)
		return m
	}
	for _, c := range []struct{ step, mass, want string }{
		{"0.1", "84.6", "84.6"},
		{"0.1", "84", "84.0"},
		{"0.01", "84", "84.00"},
		{"0.05", "84.6", "84.60"},
		{"1", "84", "84"},
		{"10", "80", "80"},
		{"0.1", "84.65", "84.65"}, // an exact target keeps what it has
		{"0", "84.6", "84.6"},     // step not known
		{"0.1", "-0.2", "-0.2"},
	} {
		j, err := facttest.Body(Portion{Material: "Quartz", Delivered: g(c.mass), Step: g(c.step), Raw: []string{"ST,GS,  84.6 g"}})
		require.NoError(t, err)
		assert.Contains(t, string(j), `"delivered":{"g":"`+c.want+`"}`, "step %s", c.step)
		j, err = facttest.Body(Tared{Container: g(c.mass), Step: g(c.step)})
		require.NoError(t, err)
		assert.Contains(t, string(j), `"container":{"g":"`+c.want+`"}`, "step %s", c.step)
	}
}

func TestNoEscapesForHTML(t *testing.T) {
	j, err := facttest.Line(Fact{Seq: 1, Batch: "A<B", By: "Mara & Ilse", Body: Portion{Material: "Quartz <45 µm>", Words: "a & b"}})
	require.NoError(t, err)
	assert.Contains(t, string(j), `Quartz <45 µm>`)
	assert.Contains(t, string(j), `Mara & Ilse`)
	assert.NotContains(t, string(j), `\u00`)
}

func TestUnknownKindIsKept(t *testing.T) {
	line := `{"seq":7,"at":"2026-11-25T10:00:00.5+01:00","kind":"photographed","batch":"K1","by":"Ilse","prev":"` +
		strings.Repeat("0", 64) + `","file":"ab<c.jpg","size":12345678901234567890,"nest":{"seq":1}}` + "\n"
	f, h, err := Decode([]byte(line))
	require.NoError(t, err)
	assert.Equal(t, uint64(7), f.Seq)
	assert.Equal(t, "Ilse", f.By)
	assert.Equal(t, strings.Repeat("0", 64), h.Prev)
	_, off := f.At.Zone()
	assert.Equal(t, 3600, off, "the zone is part of what was recorded")
	u, ok := f.Body.(Unknown)
	require.True(t, ok)
	assert.Equal(t, "photographed", u.Kind())
	assert.Equal(t, `{"file":"ab<c.jpg","size":12345678901234567890,"nest":{"seq":1}}`, string(u.JSON))

	again, err := facttest.Line(f)
	require.NoError(t, err)
	assert.Equal(t, `{"seq":7,"at":"2026-11-25T10:00:00.5+01:00","kind":"photographed","batch":"K1","by":"Ilse","file":"ab<c.jpg","size":12345678901234567890,"nest":{"seq":1}}`, string(again))
}

func TestDecodeRefuses(t *testing.T) {
	for _, line := range []string{
		``, `{`, `[]`, `null`, `{}`, `{"kind":7}`, `{"kind":"portion","seq":-1}`,
		`{"kind":"portion","seq":1,"at":"2026-11-25T10:00:00Z","before":12.5}`, // a mass as a JSON number
		`{"kind":"portion","seq":1,"at":"yesterday"}`,
		`{"kind":"photographed","seq":1,"at":"2026-11-25T10:00:00Z","x":}`,
	} {
		_, _, err := Decode([]byte(line))
		assert.ErrorIs(t, err, ErrFact, line)
	}
}

func FuzzDecode(f *testing.F) {
	for _, b := range zeros() {
		j, err := facttest.Line(Fact{Seq: 1, Body: b})
		if err != nil {
			f.Fatal(err)
		}
		f.Add(j)
	}
	f.Add([]byte(`{"seq":1,"at":"2026-11-25T10:00:00Z","kind":"new","x":[1,{"y":null}]}`))
	f.Fuzz(func(t *testing.T, line []byte) {
		got, _, err := Decode(line)
		if err != nil {
			return
		}
		j, err := facttest.Line(got)
		if err != nil {
			return // a year past 9999 cannot be written; it could be read
		}
		again, _, err := Decode(j)
		if err != nil {
			t.Fatalf("%s became %s: %v", line, j, err)
		}
		one, _ := json.Marshal(got)
		two, _ := json.Marshal(again)
		if string(one) != string(two) {
			t.Fatalf("%s became %s", one, two)
		}
	})
}

func BenchmarkDecodePortion(b *testing.B) {
	line, err := facttest.Line(Fact{Seq: 9, At: time.Unix(1795600000, 0), Batch: "K1", By: "Mara", Body: Portion{
		Material: "Quartz", Scale: "bench", Before: 84 * protocol.Gram, Delivered: 84 * protocol.Gram, Step: 100 * protocol.Milligram,
		Verdict: "in", How: "tipped", Raw: []string{"ST,GS,  84.0 g", "ST,GS,   0.0 g"}}})
	require.NoError(b, err)
	b.SetBytes(int64(len(line)))
	for b.Loop() {
		if _, _, err := Decode(line); err != nil {
			b.Fatal(err)
		}
	}
}

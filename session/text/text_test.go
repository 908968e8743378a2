package text

import (
	"cmp"
	"encoding/json"
	"fmt"
	"strings"
	"testing"
	"testing/fstest"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"tared/protocol"
)

func made(t testing.TB, l Language, file string) *Language {
	t.Helper()
	l.Tag = cmp.Or(l.Tag, "x")
	if l.plural == nil {
		l.plural = onlyOne
	}
	read := read(fstest.MapFS{l.Tag + "/t.json": {Data: []byte(file)}}, l)
	read.sentences()
	return read
}

func english(t testing.TB) *Language {
	return made(t, Language{mark: ".", date: "2 January 2006"}, `{
		"plain": "Stop",
		"is-in": "{material} is in: {amount}.",
		"left": {"one": "{count} portion is left.", "other": "{count} portions are left."},
		"no": "Not now. {why}"
	}`)
}

var ninth = time.Date(2026, 3, 9, 14, 5, 0, 0, time.UTC)

func grams(t testing.TB, s string) protocol.Mass {
	t.Helper()
	m, err := protocol.ParseMass(s)
	require.NoError(t, err)
	return m
}

func TestSay(t *testing.T) {
	l := english(t).Plain()
	amount := grams(t, "84.60g")
	for _, c := range []struct {
		m    Message
		want string
	}{
		{New("t.plain"), "Stop"},
		{New("t.is-in", Name("material", "Quartz"), Mass("amount", amount, 2)), "Quartz is in: 84.60 g."},
		{New("t.is-in", Name("material", "Quartz"), Mass("amount", amount, 0)), "Quartz is in: 85 g."},
		{New("t.is-in", Name("material", "Quartz"), Exact("amount", amount, 0)), "Quartz is in: 84.6 g."},
		{New("t.is-in", Name("material", "Quartz"), Share("amount", "5.2")), "Quartz is in: 5.2 %."},
		{New("t.is-in", Names("material", []string{"a", "b"}), Number("amount", "1.045")), "a, b is in: 1.045."},
		{New("t.left", Count("count", 1)), "1 portion is left."},
		{New("t.left", Count("count", 0)), "0 portions are left."},
		{New("t.left", Count("count", 2)), "2 portions are left."},
		{New("t.no", Because("why", &Refusal{New("t.left", Count("count", 2))})), "Not now. 2 portions are left."},
		{New("t.no", Because("why", fmt.Errorf("the port is gone"))), "Not now. the port is gone"},
		{New("t.no", Duration("why", 310*time.Millisecond)), "Not now. 0.31 s"},
		{New("t.no", Duration("why", 65*time.Second)), "Not now. 1 min 5 s"},
		{New("t.no", Duration("why", 3*time.Hour+20*time.Minute)), "Not now. 3 h 20 min"},
		{New("t.no", Date("why", ninth)), "Not now. 9 March 2026"},
		{New("t.no", Clock("why", ninth)), "Not now. 14:05"},
		{New("t.no", Moment("why", ninth)), "Not now. 9 March 2026 14:05"},
		{Written("as it was"), "as it was"},
		{Message{}, ""},
	} {
		assert.Equal(t, c.want, l.Say(c.m))
		assert.NoError(t, l.Check(c.m))

		j, err := json.Marshal(c.m)
		require.NoError(t, err)
		var back Message
		require.NoError(t, json.Unmarshal(j, &back), string(j))
		again, err := json.Marshal(back)
		require.NoError(t, err)
		assert.Equal(t, string(j), string(again))
		assert.True(t, c.m.Same(back))
	}
}

func TestNumbersAreTheLanguages(t *testing.T) {
	l := made(t, Language{mark: ",", plural: uptoOne}, `{"cups": {"one": "{amount}, {count} gobelet", "other": "{amount}, {count} gobelets"}}`)
	say := func(n int) string {
		return l.Say(New("t.cups", Mass("amount", grams(t, "1.50g"), 2), Count("count", n)))
	}
	assert.Equal(t, "1,50\u00a0g, 0 gobelet", say(0))
	assert.Equal(t, "1,50\u00a0g, 1 gobelet", say(1))
	assert.Equal(t, "1,50\u00a0g, 2 gobelets", say(2))
}

func TestAFaultShows(t *testing.T) {
	l := english(t)
	for want, m := range map[string]Message{
		"[t.unknown]":                      New("t.unknown"),
		"Quartz is in: [t.is-in: amount].": New("t.is-in", Name("material", "Quartz")),
		"Not now. [t.unknown]":             New("t.no", Said("why", New("t.unknown"))),
	} {
		assert.Equal(t, want, l.Say(m))
		assert.Error(t, l.Check(m))
	}
}

func TestAFileThatIsWrong(t *testing.T) {
	for _, file := range []string{
		`{"a": "x", "a": "y"}`, `{"a": "{x"}`, `{"a": "x}"}`, `{"a": "{}"}`, `{"a": ""}`, `{"a": 1}`, `{"a": {"one": "x"}}`, `{"a": {"other": "x", "lots": "y"}}`, `{"a": `, ``,
	} {
		assert.Panics(t, func() { made(t, Language{}, file) }, file)
	}
}

func TestWordsThatAreThere(t *testing.T) {
	var m Message
	require.NoError(t, json.Unmarshal([]byte(`"The bench scale went away."`), &m))
	assert.Equal(t, Written("The bench scale went away."), m)
	j, err := json.Marshal(New("t.is-in", Name("material", `a "b" <c>`), Mass("amount", grams(t, "1.50g"), 2)).In(english(t)))
	require.NoError(t, err)
	assert.JSONEq(t, `{"code": "t.is-in", "values": {"material": "a \"b\" <c>", "amount": {"g": "1.50"}}, "words": "a \"b\" <c> is in: 1.50\u00a0g."}`, string(j))
}

func TestRefusal(t *testing.T) {
	err := fmt.Errorf("start: %w", &Refusal{Written("Which cup?")})
	assert.ErrorIs(t, err, ErrRefused)
	assert.Equal(t, "Which cup?", Of(err).String())
	assert.Equal(t, "start: Which cup?", err.Error())
}

// The bench makes a dozen sentences with every line of a scale.
func TestSayIsFrugal(t *testing.T) {
	l := english(t)
	amount := grams(t, "84.60g")
	got := testing.AllocsPerRun(100, func() { l.Say(New("t.is-in", Name("material", "Quartz"), Mass("amount", amount, 2))) })
	assert.LessOrEqual(t, got, 2.0, "the digits and the sentence")
}

// BenchmarkSay is of the sentences that are made with every line of a scale.
func BenchmarkSay(b *testing.B) {
	l := english(b)
	amount := grams(b, "84.60g")
	b.Run("plain", func(b *testing.B) {
		b.ReportAllocs()
		for b.Loop() {
			l.Say(New("t.plain"))
		}
	})
	b.Run("two values", func(b *testing.B) {
		b.ReportAllocs()
		for b.Loop() {
			l.Say(New("t.is-in", Name("material", "Quartz"), Mass("amount", amount, 2)))
		}
	})
	b.Run("json", func(b *testing.B) {
		b.ReportAllocs()
		m := New("t.is-in", Name("material", "Quartz"), Mass("amount", amount, 2)).In(l)
		for b.Loop() {
			if _, err := json.Marshal(m); err != nil {
				b.Fatal(err)
			}
		}
	})
}

// Each fault of an amount is told in each language, with what was typed.
func TestFaultsOfAnAmount(t *testing.T) {
	for typed, code := range map[string]string{
		"x": "amount.no-number", "": "amount.no-number", "12": "amount.no-unit", "5 stone": "amount.other-unit", "1,234g": "amount.two-ways",
		"1.2.3g": "amount.unclear", strings.Repeat("9", 31) + "g": "amount.unclear", "99999999999kg": "amount.too-large",
	} {
		_, err := protocol.ParseMass(typed)
		m := Of(fmt.Errorf("in a field: %w", err))
		assert.Equal(t, code, m.Code, typed)
		for _, l := range All {
			said := l.Say(m)
			assert.NotContains(t, said, "[", l.Tag)
			assert.NotContains(t, said, "84.6g", l.Tag)
			if typed != "" && len(typed) < longest {
				assert.Contains(t, said, typed, l.Tag)
			}
		}
	}
}

func TestQuotedAsTheStandardLibraryDoes(t *testing.T) {
	letter := rapid.SampledFrom([]rune("a 7\"\\/<>&\x00\n\t\x7f\u00a0é\u2028\u2029\ufffd漢🏺"))
	rapid.Check(t, func(t *rapid.T) {
		s := rapid.OneOf(rapid.StringOf(letter), rapid.String(), rapid.Map(rapid.SliceOf(rapid.Byte()), func(b []byte) string { return string(b) })).Draw(t, "s")
		want, err := json.Marshal(s)
		require.NoError(t, err)
		require.Equal(t, "x"+string(want), string(AppendQuoted([]byte("x"), s)))
	})
}

package text

import (
	"flag"
	"fmt"
	"maps"
	"os"
	"regexp"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// whole are the languages that have every sentence. One that is being written is not among
// them: what it lacks is said in English meanwhile.
var whole = []string{"de", "fr", "es"}

var missing = flag.String("missing", "", "a language: print what its file lacks, in English, as lines to be translated there")

// lacks gives the codes that English has and a language has not, sorted.
func lacks(l *Language) (codes []string) {
	for _, code := range slices.Sorted(maps.Keys(English.sentences())) {
		if _, ok := l.sentences()[code]; !ok {
			codes = append(codes, code)
		}
	}
	return codes
}

func TestEachLanguageHasEachSentence(t *testing.T) {
	for _, l := range All[1:] {
		codes := lacks(l)
		t.Logf("%s lacks %d of %d sentences", l.Tag, len(codes), len(English.sentences()))
		if slices.Contains(whole, l.Tag) {
			assert.Empty(t, codes, "%s: print them with go test ./session/text -run Missing -missing %s", l.Tag, l.Tag)
		}
	}
}

// TestMissing prints what the file of a language lacks.
func TestMissing(t *testing.T) {
	l := Named(*missing)
	if l == nil {
		t.Skip("for -missing de")
	}
	for _, code := range lacks(l) {
		fmt.Fprintf(os.Stdout, "\t%q: %s,\n", code, inJSON(English.sentences()[code], l))
	}
}

// inJSON is a sentence as its file has it, with a form for each plural of the language.
func inJSON(s sentence, l *Language) string {
	if !s.plural {
		return quote(s.forms[other])
	}
	var forms []string
	for _, name := range []string{"one", "many", "other"} {
		if f := pluralNames[name]; slices.Contains(formsOf(l), f) {
			pieces := s.forms[f]
			if pieces == nil {
				pieces = s.forms[other]
			}
			forms = append(forms, fmt.Sprintf("%q: %s", name, quote(pieces)))
		}
	}
	return "{" + strings.Join(forms, ", ") + "}"
}

func quote(pieces []piece) string { return string(AppendQuoted(nil, written(pieces))) }

// written is a sentence as it stands in its file.
func written(pieces []piece) string {
	var b strings.Builder
	for _, p := range pieces {
		b.WriteString(p.plain)
		if p.value != "" {
			b.WriteString("{" + p.value + "}")
		}
	}
	return b.String()
}

// formsOf are the plurals of a language.
func formsOf(l *Language) (all []plural) {
	for _, n := range []int{0, 1, 2, 3, 5, 11, 100, 1_000_000} {
		if f := l.plural(n); !slices.Contains(all, f) {
			all = append(all, f)
		}
	}
	return all
}

// What a translation says of a thing that happened must have the same values as the
// English, in each form, and each form that the language has.
func TestTranslationsHaveTheValuesOfTheEnglish(t *testing.T) {
	for _, l := range All {
		for code, s := range l.sentences() {
			english, ok := English.sentences()[code]
			if !assert.True(t, ok, "%s: %s is not in English: nothing says it", l.Tag, code) {
				continue
			}
			assert.Equal(t, wanted(t, code, english), wanted(t, code, s), "%s: values of %s", l.Tag, code)
			assert.Equal(t, english.plural, s.plural, "%s: %s has plural forms in one of English and %[1]s only", l.Tag, code)
			for _, f := range formsOf(l) {
				if s.plural {
					assert.NotNil(t, s.forms[f], "%s: %s lacks the plural form of %v", l.Tag, code, f)
				}
			}
			if many := s.forms[many]; many != nil {
				assert.Equal(t, written(s.forms[other]), written(many), "%s: %s: no count here reaches a million: the form of many is that of other", l.Tag, code)
			}
		}
	}
}

// The forms by CLDR 48.2, supplemental/plurals: English and German have one (1) and other,
// French has one for 0 and 1, Spanish for 1; both have many for whole millions.
func TestPlurals(t *testing.T) {
	for tag, want := range map[string]map[int]plural{
		"en-GB": {0: other, 1: one, 2: other, 1_000_000: other},
		"de":    {0: other, 1: one, 2: other, 1_000_000: other},
		"fr":    {0: one, 1: one, 2: other, 1_000_000: many, 2_000_000: many, 1_000_001: other},
		"es":    {0: other, 1: one, 2: other, 1_000_000: many, 1_500_000: other},
	} {
		l := Named(tag)
		require.NotNil(t, l, tag)
		for n, form := range want {
			assert.Equal(t, form, l.plural(n), "%d in %s", n, tag)
		}
	}
}

// Decimal marks, dates: CLDR 48.2, cldr-numbers-full and cldr-dates-full (long dates).
func TestNumbersAndDates(t *testing.T) {
	for tag, want := range map[string][]string{
		"en-GB": {"84.6\u00a0g", "9 March 2026", "0.31\u00a0s"},
		"de":    {"84,6\u00a0g", "9. März 2026", "0,31\u00a0s"},
		"fr":    {"84,6\u00a0g", "9 mars 2026", "0,31\u00a0s"},
		"es":    {"84,6\u00a0g", "9 de marzo de 2026", "0,31\u00a0s"},
	} {
		l := Named(tag)
		for i, v := range []Value{Grams("v", "84.6"), Date("v", ninth), Duration("v", 310_000_000)} {
			assert.Equal(t, want[i], string(l.value(nil, &v)), tag)
		}
		assert.Equal(t, want[0][:4], l.Digits("84.6"), tag)
	}
	for day, want := range map[int]string{1: "1er mai 2026 14:05", 2: "2 mai 2026 14:05", 21: "21 mai 2026 14:05"} { // common practice, no source
		v := Moment("v", time.Date(2026, 5, day, 14, 5, 0, 0, time.UTC))
		assert.Equal(t, want, string(Named("fr").value(nil, &v)))
	}
}

// Decimal marks by country, and no ß in Switzerland: CLDR 48.2.
func TestNumbersByCountry(t *testing.T) {
	for wish, want := range map[string]string{"de-CH": "84.6", "de-LI": "84.6", "de-AT": "84,6", "es-MX": "84.6", "es-AR": "84,6", "es-ES": "84,6", "fr-CH": "84,6", "fr-CA": "84,6", "en-GB": "84.6", "en-US": "84.6"} {
		assert.Equal(t, want, For(wish).Digits("84.6"), wish)
	}
	for code, s := range For("de-CH").sentences() {
		assert.NotContains(t, written(s.forms[other]), "ß", code)
	}
	assert.Equal(t, lacks(For("de-CH")), lacks(Named("de")))
}

func TestFor(t *testing.T) {
	for wish, want := range map[string]string{
		"": "en-GB", "de": "de", "de-AT": "de", "de_CH.UTF-8": "de-CH", "de-LI": "de-LI", "es_AR": "es", "fr-CH": "fr", "en-US": "en-GB", "de_DE@euro": "de", "gsw": "de", "fr-CA": "fr", "es-MX,en;q=0.5": "es-MX",
		"zh,es;q=0.1": "es", "C": "en-GB", "C.UTF-8": "en-GB", "POSIX": "en-GB", "en_US.UTF-8": "en-GB", "ja": "en-GB", "?;q": "en-GB", "es, de;q=0.9": "es",
	} {
		assert.Equal(t, want, For(wish).Tag, "%q", wish)
	}
	assert.Equal(t, "de-CH", Named("de").In("en, de-CH;q=0.5").Tag, "who chooses German by hand is still in their country")
	assert.Equal(t, "de", Named("de").In("es-MX").Tag)
	assert.Equal(t, "es-MX", Named("es-MX").Tag)
	assert.Equal(t, "fr", For("", "?", "fr", "de").Tag, "the first wish that is one")
	assert.Nil(t, Named("ja"))
}

// A sentence that a language lacks is said in English: better than nothing, and a test
// keeps a language that is whole from it.
func TestWhatALanguageLacks(t *testing.T) {
	l := made(t, Language{mark: ",", lacking: English}, `{"a": "b"}`)
	assert.Equal(t, English.Say(New("show.in")), l.Say(New("show.in")))
	assert.Equal(t, English.Pattern("show.in"), l.Pattern("show.in"))
	assert.Equal(t, "[t.c]", l.Say(New("t.c")))
}

// How a language writes what all its sentences have in common.
var customs = map[string][]struct{ wrong, says string }{
	"de": {{`[\p{L},)“}] (Sie|Ihre?[nmrs]?|Ihnen)\b`, "say it without a person, or by du"}, {`"`, "quotes are „ and “"}, {`\b[Aa]lto\b|Eichung|[Kk]alibrier`, "an act of the law, or of a laboratory: it is a Prüfung"}},
	"fr": {{`[^\x{202f}\x{a0}][;!?»]|«[^\x{202f}\x{a0}]`, "a narrow no-break space stands before ; ! ? and inside « »"}, {`[^\x{a0}\d]:( |$)`, "a no-break space stands before a colon"}, {`\b([Tt]u|[Tt]oi|[Tt]es|[Tt]on)\b`, "say it without a person, or by vous"}, {`"`, "quotes are « and »"}, {`étalonnage|[Vv]érification`, "an act of the law, or of a laboratory: it is a contrôle"}},
	"es": {{`^[^¿]*\?|^[^¡]+!`, "a question begins with ¿, an exclamation with ¡"}, {`\b([Tt]ú|[Vv]os)\b`, "say it without a person, or by usted"}, {`"`, "quotes are « and »"}, {`calibración|[Vv]erificación`, "an act of the law, or of a laboratory: it is a comprobación"}},
}

func TestCustoms(t *testing.T) {
	for tag, all := range customs {
		for code, s := range Named(tag).sentences() {
			for _, pieces := range s.forms {
				if strings.HasPrefix(code, "data.clp-") {
					continue // as the law has it
				}
				for _, c := range all {
					assert.NotRegexp(t, regexp.MustCompile(c.wrong), written(pieces), "%s: %s: %s", tag, code, c.says)
				}
			}
		}
	}
}

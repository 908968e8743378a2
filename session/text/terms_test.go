package text

import (
	"encoding/json"
	"os"
	"regexp"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// A term of the trade, of weighing or of safety is said in one way throughout a language: that
// of testdata/terms.json, where each has its source. A word that is typed at the bench or
// stands in a file stays English.
func TestTermsAreSaidInOneWay(t *testing.T) {
	b, err := os.ReadFile("testdata/terms.json")
	require.NoError(t, err)
	var terms []map[string]string
	require.NoError(t, json.Unmarshal(b, &terms))
	for _, term := range terms {
		assert.NotEmpty(t, term["source"], term["en"])
		english := regexp.MustCompile(`(?i)\b` + term["en"] + `\b`)
		for _, l := range All[1:] {
			require.NotEmpty(t, term[l.Tag], "%s in %s", term["en"], l.Tag)
			own := regexp.MustCompile(`(?i)` + term[l.Tag])
			for code, s := range l.sentences() {
				if words := written(s.forms[other]); english.MatchString(English.Pattern(code)) && !english.MatchString(words) {
					assert.Regexp(t, own, words, "%s: %s: %s", l.Tag, code, term["en"])
				}
			}
		}
	}
}

package text

import (
	"regexp"
	"testing"

	"github.com/stretchr/testify/assert"
)

// verdictWords are the words that each language has for what is over, under and in the band; "in
// stock" and the like are no verdict.
var verdictWords = map[string]map[string]string{
	"en-GB": {"over": `\bover\b|too much`, "under": `\bunder\b|too little`, "in": `in (the )?band`},
	"de":    {"over": `[Zz]u viel|[Dd]arüber`, "under": `[Zz]u wenig|[Dd]arunter|[Ff]ehlt:`, "in": `im Band`},
	"fr":    {"over": `[Ee]n trop|[Tt]rop versé|au-dessus`, "under": `[Tt]rop peu|[Mm]anque|au-dessous`, "in": `dans la plage`},
	"es":    {"over": `[Ss]obra|de más|demasiado|exceso|por encima`, "under": `[Ff]alta|de menos|por debajo`, "in": `dentro`},
}

// No sentence contradicts its verdict: one whose code says over has no word of under, and the
// other way round, in any language; and the three verdicts have the words of their table alone.
func TestNoSentenceContradictsItsVerdict(t *testing.T) {
	of := regexp.MustCompile(`(?:^|[.-])(over|under)(?:$|-)`)
	opposite := map[string]string{"over": "under", "under": "over"}
	seen := 0
	for _, l := range All {
		words := verdictWords[l.Tag]
		for verdict := range words {
			said := l.Say(New("page.verdict." + verdict))
			for other, is := range words {
				if other == verdict {
					assert.Regexp(t, is, said, "%s: %s", l.Tag, verdict)
				} else {
					assert.NotRegexp(t, is, said, "%s: %s", l.Tag, verdict)
				}
			}
		}
		for code, s := range l.sentences() {
			m := of.FindStringSubmatch(code)
			if m == nil {
				continue
			}
			seen++
			for _, pieces := range s.forms {
				assert.NotRegexp(t, words[opposite[m[1]]], written(pieces), "%s: %s", l.Tag, code)
			}
		}
	}
	assert.Greater(t, seen, 40, "the codes that name a verdict")
}

package web

import (
	"fmt"
	"io/fs"
	"math/big"
	"path"
	"regexp"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"tared/session/recipe"
	"tared/session/sheet"
)

// geometry are scripts that place things on the screen or in time, with what of them may
// reckon, and why.
var geometry = map[string]string{
	"live.js":  "how long nothing was heard, in milliseconds of this browser",
	"sound.js": "pitches and rhythm of the tones",
	"awake.js": "",
	"face.js":  "how large letters are and how much room they have",
}

// amounts are the fields of views that are masses or shares, or their place.
const amounts = `target|low|high|step|in|missing|lifted|delivered|shows|fill|low_fill|high_fill|need|has|left|came|allowed|band|u|less|dry|base`

// reckoning are the ways in which a script works out what the server is to say.
var reckoning = map[string]*regexp.Regexp{
	"reads a number from text": regexp.MustCompile(`parseFloat|parseInt|\bNumber\(|toFixed|toPrecision|toLocaleString\(\s*"en"`),
	"has a tolerance":          regexp.MustCompile(`\b1e-\d`),
	"reckons with an amount":   regexp.MustCompile(`[\w)\]]\.(?:` + amounts + `)\b\s*(?:[-+*/%]|[<>]=?)\s*[\w($]|[-+*/%<>]\s*[a-z]\w*\.(?:` + amounts + `)\b`),
	"reckons logarithms":       regexp.MustCompile(`Math\.(?:log|pow|sqrt)`),
}

// allowed are lines that look like it and are not.
var allowed = map[string]string{
	`Number(f.value) : f.value; // the number of an entry`: "an entry has a number, and that is no amount",
}

func scripts(t *testing.T) map[string]string {
	t.Helper()
	all := map[string]string{}
	require.NoError(t, fs.WalkDir(pageFiles, "page", func(name string, _ fs.DirEntry, err error) error {
		if err == nil && path.Ext(name) == ".js" {
			var b []byte
			if b, err = pageFiles.ReadFile(name); err == nil {
				all[path.Base(name)] = string(b)
			}
		}
		return err
	}))
	require.NotEmpty(t, all)
	return all
}

// faultsOf finds what a script must not do.
func faultsOf(name, script string) (faults []string) {
	if _, ok := geometry[name]; ok {
		return nil
	}
next:
	for i, line := range strings.Split(script, "\n") {
		line = strings.TrimSpace(line)
		if strings.HasPrefix(line, "//") || strings.HasPrefix(line, "*") || strings.HasPrefix(line, "/**") {
			continue
		}
		for a := range allowed {
			if strings.Contains(line, a) {
				continue next
			}
		}
		for what, is := range reckoning {
			if m := is.FindString(line); m != "" {
				faults = append(faults, fmt.Sprintf("%s:%d %s: %s", name, i+1, what, m))
			}
		}
		if m := sentences.FindString(line); m != "" {
			faults = append(faults, fmt.Sprintf("%s:%d holds a sentence: %s", name, i+1, m))
		}
	}
	return faults
}

// sentences are two words or more in quotes that a person would read.
var sentences = regexp.MustCompile("[\"`][A-Z][a-z]+[ ,.:][^\"`]*[\"`]|[\"`][^\"`]*[a-z]{2,} [a-z]{2,} [a-z]{2,}[^\"`]*[\"`]")

func TestScriptsOnlyShow(t *testing.T) {
	for name, script := range scripts(t) {
		for _, f := range faultsOf(name, script) {
			t.Error(f)
		}
	}
}

// TestTheRuleOfScriptsCatches holds the rule itself to account.
func TestTheRuleOfScriptsCatches(t *testing.T) {
	for line, want := range map[string]bool{
		`const low = Number(g(l.low)) - less;`:                            true,
		`let up = Math.ceil(low / step - 1e-6) * step;`:                   true,
		`text = n.toFixed(2);`:                                            true,
		`if (now.in > now.high) over();`:                                  true,
		`const half = Math.max(now.high_fill - 1000, 1);`:                 true,
		`const r = Math.log10(x);`:                                        true,
		"say(el, `${n} batches are like that`);":                          true,
		`say(el, "No word from the bench");`:                              true,
		`say($("in"), now.in);`:                                           false,
		`show($("side-in"), now.in !== "");`:                              false,
		`say($("lead"), words("script.connecting"));`:                     false,
		`list.scrollTop = Math.max(0, el.offsetTop - list.offsetTop);`:    false,
		`document.querySelector("input[name=size]:checked").value;`:       false,
		`make("button.press.first", { type: "button", onclick: press });`: false,
	} {
		assert.Equal(t, want, len(faultsOf("x.js", line)) > 0, line)
	}
}

// Each role whose deviation a request can set has its field in the form, with the usual
// band in grey.
func TestEachRoleHasItsFieldOfDeviation(t *testing.T) {
	form, err := pageFiles.ReadFile("page/sheet.html")
	require.NoError(t, err)
	script, err := pageFiles.ReadFile("page/sheet.js")
	require.NoError(t, err)
	for _, role := range sheet.Roles {
		assert.Regexp(t, `id="allow-`+string(role)+`" placeholder="`+strings.ReplaceAll(recipe.Decimal(new(big.Rat).Mul(sheet.Standard(role).Share, big.NewRat(100, 1)), 3), ".", `\.`)+`"`, string(form))
		assert.Contains(t, string(script), `"`+string(role)+`"`)
	}
}

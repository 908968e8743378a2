package text

import (
	"go/ast"
	"go/parser"
	"go/token"
	"strconv"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// What is said of ports and lines is recognised whole, whatever stands in it.
func TestHeard(t *testing.T) {
	de, fr := Named("de"), Named("fr")
	for english, want := range map[string]string{
		`port "/dev/ttyUSB0": the device is gone: check the cable and whether the scale is switched on; it is taken up again by itself`: "Anschluss „/dev/ttyUSB0“: das Gerät ist weg: das Kabel prüfen und ob die Waage eingeschaltet ist; sie wird von selbst wieder aufgenommen",
		`port "/dev/ttyUSB0": permission denied (only root may open it): unplug the adapter and plug it in again`:                       "Anschluss „/dev/ttyUSB0“: kein Zugriff (nur root darf ihn öffnen): den Adapter ausstecken und wieder einstecken",
		"Finding the speed and format.": "Geschwindigkeit und Format werden gesucht.",
		"the whiting was damp":          "the whiting was damp",
		"":                              "",
	} {
		assert.Equal(t, want, de.Say(Written(english)))
		assert.Equal(t, english, English.Say(Written(english)))
	}
	assert.Equal(t, "pas de lecture depuis deux secondes", fr.Term("no reading for two seconds"))
	values, ok := taken([]piece{{"a ", "1"}, {" b ", "2"}}, "a x b y")
	assert.True(t, ok)
	assert.Equal(t, []Value{Name("1", "x"), Name("2", "y")}, values)
	_, ok = taken([]piece{{"a ", "1"}}, "b x")
	assert.False(t, ok)
}

// A sentence of another area never stands for what was heard, and each is heard by itself.
func TestEachIsHeard(t *testing.T) {
	for _, code := range heards() {
		words := written(English.sentences()[code].forms[other])
		assert.NotEqual(t, words, Pseudo.heard(words), code)
	}
}

// Each sentence that scale has of an instrument is heard, with what may stand in it.
func TestWordsOfTheScaleAreHeard(t *testing.T) {
	file, err := parser.ParseFile(token.NewFileSet(), "../../scale/words.go", nil, 0)
	require.NoError(t, err)
	consts := map[string]string{}
	ast.Inspect(file, func(n ast.Node) bool {
		if v, ok := n.(*ast.ValueSpec); ok {
			for i, name := range v.Names {
				if words, ok := spoken(v.Values[i], nil); ok {
					consts[name.Name] = words
				}
			}
		}
		return true
	})
	heard := 0
	ast.Inspect(file, func(n ast.Node) bool {
		r, ok := n.(*ast.ReturnStmt)
		if !ok {
			return true
		}
		words, ok := spoken(r.Results[0], consts)
		if call, is := r.Results[0].(*ast.CallExpr); is && len(call.Args) > 1 {
			words, ok = spoken(call.Args[0], consts)
			if first, is := spoken(call.Args[1], consts); is {
				words = strings.Replace(words, "%s", first, 1)
			}
		}
		if ok && strings.HasSuffix(words, ".") {
			heard++
			words = strings.Replace(words, "%s%s", "%s, for example %s", 1)
			words = strings.NewReplacer("%s", "wn", "%c", "E", "knows%s", `knows, for example "x"`).Replace(words)
			assert.Regexp(t, "^⟦[^⟦⟧]*(⟦[^⟦⟧]*⟧[^⟦⟧]*)*⟧$", Pseudo.heard(words), words)
		}
		return true
	})
	assert.Greater(t, heard, 12)
	es := Named("es")
	assert.Equal(t, `Llega texto, pero en ningún formato que tared conozca, por ejemplo "x". Guardar lo que envía, y declarar su formato.`,
		es.Term(`Text comes, but in no format that tared knows, for example "x". Keep what it sends, and declare its format.`))
}

// spoken is a text of the source, put together of others where it is a sum.
func spoken(e ast.Expr, consts map[string]string) (string, bool) {
	switch e := e.(type) {
	case *ast.BasicLit:
		s, err := strconv.Unquote(e.Value)
		return s, err == nil
	case *ast.Ident:
		s, ok := consts[e.Name]
		return s, ok
	case *ast.BinaryExpr:
		left, one := spoken(e.X, consts)
		right, two := spoken(e.Y, consts)
		return left + right, one && two
	}
	return "", false
}

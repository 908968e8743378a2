package main

import (
	"fmt"
	"go/ast"
	"go/parser"
	"go/token"
	"io/fs"
	"maps"
	"os"
	"path"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"tared/session/material"
)

// wordsLeft counts, by directory, the sentences that still stand in Go and not among the
// texts. A number here may only shrink.
var wordsLeft = map[string]int{"session": 4, "session/batch": 1, "session/signer": 1, "web": 2}

// twoWords finds what a person would read as more than a name.
var twoWords = regexp.MustCompile(`\p{L}{2,}[,;:]? \p{L}{2,}`)

// markup is what a browser reads, and no person.
var markup = regexp.MustCompile(`<[^>]*(>|$)`)

// notSeen are calls whose words no potter sees: what a program logs for the one who
// looks after it, and what can only be a fault of the program.
var notSeen = regexp.MustCompile(`^(panic|regexp\.MustCompile|slog\.\w+|log\.\w+|\w*[lL]og(ger)?\.\w+|(\w+\.)*(Debug|Info|Warn|Error)|Msgf?|errors\.New)$`)

// notShown are calls with words that stay inside: kind tells those who work on tared
// what a kind of fact says, for DEVELOPERS.md; words lists what may be written above and
// in a recipe, to be recognised.
var notShown = regexp.MustCompile(`^(kind|words)$`)

// sentencesIn gives each literal of two or more words of a file, by its place.
func sentencesIn(set *token.FileSet, f *ast.File) (all []string) {
	var see func(n ast.Node) bool
	see = func(n ast.Node) bool {
		switch n := n.(type) {
		case *ast.ImportSpec:
			return false
		case *ast.Field:
			if n.Tag != nil {
				ast.Inspect(n.Type, func(ast.Node) bool { return true })
				return false
			}
		case *ast.CallExpr:
			if name := callName(n.Fun); notSeen.MatchString(name) || notShown.MatchString(name) {
				return false
			}
		case *ast.BinaryExpr:
			return n.Op != token.EQL && n.Op != token.NEQ // compared, not shown
		case *ast.CaseClause:
			for _, s := range n.Body {
				ast.Inspect(s, see)
			}
			return false // what it compares with is not shown
		case *ast.ValueSpec:
			if _, named := n.Type.(*ast.Ident); named && !isString(n.Type) {
				return false // one of a set of codes that have a type of their own
			}
		case *ast.BasicLit:
			if n.Kind != token.STRING {
				return true
			}
			s, err := strconv.Unquote(n.Value)
			if m, _ := material.Default().Lookup(s); strings.EqualFold(m.Name, s) {
				return true // a name of the table
			}
			if err == nil && twoWords.MatchString(markup.ReplaceAllString(s, "")) {
				all = append(all, fmt.Sprintf("%s: %s", set.Position(n.Pos()), n.Value))
			}
		}
		return true
	}
	ast.Inspect(f, see)
	return all
}

func isString(e ast.Expr) bool {
	name, ok := e.(*ast.Ident)
	return ok && name.Name == "string"
}

func callName(e ast.Expr) string {
	switch e := e.(type) {
	case *ast.Ident:
		return e.Name
	case *ast.IndexExpr: // of a type
		return callName(e.X)
	case *ast.SelectorExpr:
		if x := callName(e.X); x != "" {
			return x + "." + e.Sel.Name
		}
		return e.Sel.Name
	}
	return ""
}

// Every sentence that a person reads is in session/text, by its code: so it is said in
// one way, can be put into another language, and a fact holds no prose. The topics of
// calc are left out, with the words that describe their arguments.
func TestSentencesAreAmongTheTexts(t *testing.T) {
	found := map[string][]string{}
	set := token.NewFileSet()
	for _, dir := range []string{"session", "web"} {
		err := fs.WalkDir(os.DirFS(top), dir, func(name string, d fs.DirEntry, err error) error {
			if err != nil {
				return err
			}
			if d.IsDir() || !strings.HasSuffix(name, ".go") || strings.HasSuffix(name, "_test.go") || slices.Contains([]string{"session/text", "session/calc"}, path.Dir(name)) {
				return nil
			}
			src, err := os.ReadFile(path.Join(top, name))
			if err != nil {
				return err
			}
			f, err := parser.ParseFile(set, name, src, 0)
			if err != nil {
				return err
			}
			found[path.Dir(name)] = append(found[path.Dir(name)], sentencesIn(set, f)...)
			return nil
		})
		require.NoError(t, err)
	}
	for _, dir := range slices.Sorted(maps.Keys(found)) {
		if assert.LessOrEqual(t, len(found[dir]), wordsLeft[dir], "%s: sentences that are not in session/text:\n%s", dir, strings.Join(found[dir], "\n")) {
			t.Logf("%s: %d sentences that are not in session/text", dir, len(found[dir]))
		}
	}
}

// The walk must see what it is there for.
func TestSentencesAreSeen(t *testing.T) {
	set := token.NewFileSet()
	f, err := parser.ParseFile(set, "x.go", `package x
import "some thing/else"
type t struct { A string `+"`json:\"a b\" xml:\"some thing\"`"+` }
var _ = fmt.Errorf("the pan: is not empty")
var _ = a.b("Wait for it", "one", "a: b", "plain-code")
func f() { panic("cannot happen here"); slog.Info("scale lost again") }
`, 0)
	require.NoError(t, err)
	got := sentencesIn(set, f)
	assert.Len(t, got, 2, "%v", got)
}

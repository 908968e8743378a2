package text

import (
	"go/ast"
	"go/parser"
	"go/token"
	"io/fs"
	"maps"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// use is a call of New, Refuse or Fault in the source.
type use struct {
	code   string
	values []string // by name, sorted
	at     token.Position
	wrong  string // why it cannot be read
	script bool   // a script of a page puts the values in
}

// used finds each call of New, Refuse and Fault in the program.
func used(t *testing.T, top string) []use {
	t.Helper()
	var all []use
	set := token.NewFileSet()
	byDir := map[string][]*ast.File{}
	require.NoError(t, filepath.WalkDir(top, func(path string, d fs.DirEntry, err error) error {
		if err != nil {
			return err
		}
		if d.IsDir() && path != top && (strings.HasPrefix(d.Name(), ".") || d.Name() == "testdata") {
			return filepath.SkipDir
		}
		if !strings.HasSuffix(path, ".go") || strings.HasSuffix(path, "_test.go") || filepath.Base(filepath.Dir(path)) == "text" {
			return nil
		}
		f, err := parser.ParseFile(set, path, nil, 0)
		if err != nil {
			return err
		}
		byDir[filepath.Dir(path)] = append(byDir[filepath.Dir(path)], f)
		return nil
	}))
	for _, files := range byDir {
		all = append(all, usedIn(set, files...)...)
	}
	require.NotEmpty(t, all)
	return append(all, said(t, top)...)
}

var (
	say   = regexp.MustCompile(`say "([^"]+)"((?: \((?:[^()]|\((?:[^()]|\([^()]*\))*\))*\))*)`)
	value = regexp.MustCompile(` \((?:name|names|number|count|share|mass|exact|amount) "([^"]+)"`)
	given = regexp.MustCompile(`\{\{words ((?:"[^"]+" ?)+)\}\}`)
	code  = regexp.MustCompile(`"([^"]+)"`)
)

// said finds what the pages say themselves: {{say "code" (name "material" .Material)}},
// and the sentences that they hand to their scripts, {{words "code" "code"}}.
func said(t *testing.T, top string) (all []use) {
	t.Helper()
	files, err := filepath.Glob(filepath.Join(top, "web", "page", "*.html"))
	require.NoError(t, err)
	require.NotEmpty(t, files)
	files = append(files, filepath.Join(top, "session", "book", "page.html"))
	for _, f := range files {
		b, err := os.ReadFile(f)
		require.NoError(t, err)
		for _, m := range say.FindAllStringSubmatch(string(b), -1) {
			u := use{code: m[1], at: token.Position{Filename: f}}
			for _, v := range value.FindAllStringSubmatch(m[2], -1) {
				u.values = append(u.values, v[1])
			}
			slices.Sort(u.values)
			all = append(all, u)
		}
		for _, m := range given.FindAllStringSubmatch(string(b), -1) {
			for _, c := range code.FindAllStringSubmatch(m[1], -1) {
				all = append(all, use{code: c[1], at: token.Position{Filename: f}, script: true})
			}
		}
	}
	return all
}

// makers are functions of a package that make a value and do nothing else: by name, the
// name of the value, "" where it is their first argument.
func makers(files []*ast.File) map[string]string {
	all := map[string]string{}
	for _, f := range files {
		for _, d := range f.Decls {
			fn, ok := d.(*ast.FuncDecl)
			if !ok || fn.Body == nil || len(fn.Body.List) != 1 {
				continue
			}
			r, ok := fn.Body.List[0].(*ast.ReturnStmt)
			if !ok || len(r.Results) != 1 {
				continue
			}
			call, ok := r.Results[0].(*ast.CallExpr)
			if !ok || textFunc(call) == "" || len(call.Args) == 0 || slices.Contains([]string{"New", "Refuse", "Fault"}, textFunc(call)) {
				continue
			}
			if name, ok := literal(call.Args[0]); ok {
				all[fn.Name.Name] = name
			} else if p := fn.Type.Params.List; len(p) > 0 && p[0].Names[0].Name == "as" {
				all[fn.Name.Name] = ""
			}
		}
	}
	return all
}

// valueName gives the name of the value that an argument makes.
func valueName(arg ast.Expr, makers map[string]string) (string, bool) {
	call, ok := arg.(*ast.CallExpr)
	if !ok {
		return "", false
	}
	if textFunc(call) == "" {
		var called string
		switch f := call.Fun.(type) {
		case *ast.SelectorExpr:
			called = f.Sel.Name
		case *ast.Ident:
			called = f.Name
		}
		name, ok := makers[called]
		if !ok || name != "" {
			return name, ok
		}
	}
	if len(call.Args) == 0 {
		return "", false
	}
	return literal(call.Args[0])
}

func usedIn(set *token.FileSet, files ...*ast.File) (all []use) {
	makers, placers := makers(files), placers(files)
	for _, f := range files {
		all = append(all, usedInFile(set, f, makers)...)
		all = append(all, placedInFile(set, f, placers)...)
	}
	return all
}

// placers are the functions of a package that hand a code and its values on to Put or Failed:
// by name, the place of the code among their arguments.
func placers(files []*ast.File) map[string]int {
	all := map[string]int{}
	for _, f := range files {
		for _, d := range f.Decls {
			fn, ok := d.(*ast.FuncDecl)
			if last := len(paramsOf(fn)); !ok || last == 0 || !isAny(paramsOf(fn)[last-1].Type) {
				continue
			}
			place := 0
			for _, p := range fn.Type.Params.List {
				for _, n := range p.Names {
					if n.Name == "code" {
						all[fn.Name.Name] = place
					}
					place++
				}
			}
		}
	}
	return all
}

func paramsOf(fn *ast.FuncDecl) []*ast.Field {
	if fn == nil {
		return nil
	}
	return fn.Type.Params.List
}

func isAny(e ast.Expr) bool {
	l, ok := e.(*ast.Ellipsis)
	if !ok {
		return false
	}
	name, ok := l.Elt.(*ast.Ident)
	return ok && name.Name == "any"
}

// placedInFile finds the calls of placers, and of Put and Failed themselves, where their code is a literal.
func placedInFile(set *token.FileSet, f *ast.File, placers map[string]int) (all []use) {
	ast.Inspect(f, func(n ast.Node) bool {
		call, ok := n.(*ast.CallExpr)
		if !ok {
			return true
		}
		place, ok := 0, slices.Contains([]string{"Put", "Failed"}, textFunc(call))
		if !ok {
			switch f := call.Fun.(type) {
			case *ast.SelectorExpr:
				place, ok = placers[f.Sel.Name]
			case *ast.Ident:
				place, ok = placers[f.Name]
			}
		}
		if !ok || len(call.Args) <= place || call.Ellipsis.IsValid() {
			return true
		}
		u := use{at: set.Position(call.Pos())}
		if u.code, ok = literal(call.Args[place]); !ok {
			u.wrong = "the code is no literal"
		}
		for i := range call.Args[place+1:] {
			u.values = append(u.values, strconv.Itoa(i+1))
		}
		all = append(all, u)
		return true
	})
	return all
}

func usedInFile(set *token.FileSet, f *ast.File, makers map[string]string) (all []use) {
	ast.Inspect(f, func(n ast.Node) bool {
		call, ok := n.(*ast.CallExpr)
		if !ok || !slices.Contains([]string{"New", "Refuse", "Fault"}, textFunc(call)) {
			return true
		}
		u := use{at: set.Position(call.Pos())}
		if u.code, ok = literal(call.Args[0]); !ok {
			u.wrong = "the code is no literal"
		}
		for _, a := range call.Args[1:] {
			name, ok := valueName(a, makers)
			if !ok {
				u.wrong = "a value is not made in the call, or its name is no literal"
			}
			u.values = append(u.values, name)
		}
		slices.Sort(u.values)
		all = append(all, u)
		return true
	})
	return all
}

// textFunc gives the name of the function of this package that is called.
func textFunc(call *ast.CallExpr) string {
	s, ok := call.Fun.(*ast.SelectorExpr)
	if !ok {
		return ""
	}
	if p, ok := s.X.(*ast.Ident); !ok || p.Name != "text" {
		return ""
	}
	return s.Sel.Name
}

func literal(e ast.Expr) (string, bool) {
	l, ok := e.(*ast.BasicLit)
	if !ok || l.Kind != token.STRING {
		return "", false
	}
	s, err := strconv.Unquote(l.Value)
	return s, err == nil
}

// wanted gives the values that a sentence names, sorted; for plural forms those of
// "other", after the rest was held against them.
func wanted(t *testing.T, code string, s sentence) []string {
	names := func(pieces []piece) []string {
		set := map[string]bool{}
		for _, p := range pieces {
			if p.value != "" {
				set[p.value] = true
			}
		}
		return slices.Sorted(maps.Keys(set))
	}
	all := names(s.forms[other])
	for f, pieces := range s.forms {
		for _, name := range names(pieces) {
			assert.Contains(t, all, name, "%s: form %d has a value that \"other\" lacks", code, f)
		}
	}
	return all
}

// bound are the areas whose codes are made of the names of things: tests of cmd/tared hold data
// against the tables, short and flag against the commands, head against the tables of columns,
// amount
// are the faults that protocol finds in an amount, heard is what a scale or a port says.
var bound = regexp.MustCompile(`^(data|short|flag|head|amount|heard)\.`)

func TestEachCodeHasItsSentence(t *testing.T) {
	seen := map[string]bool{}
	for _, u := range used(t, "../..") {
		seen[u.code] = true
		if u.wrong != "" {
			t.Errorf("%s: %s", u.at, u.wrong)
			continue
		}
		s, ok := English.sentences()[u.code]
		if !ok {
			t.Errorf("%s: %s has no sentence", u.at, u.code)
			continue
		}
		if !u.script {
			assert.Equal(t, wanted(t, u.code, s), u.values, "%s: the values of %s, in the sentence and in the call", u.at, u.code)
		}
	}
	for code := range English.sentences() {
		assert.True(t, seen[code] || bound.MatchString(code), "%s: nothing says it", code)
	}
}

// TestTheWalkSees holds the walk itself to account.
func TestTheWalkSees(t *testing.T) {
	set := token.NewFileSet()
	f, err := parser.ParseFile(set, "x.go", `package x
var (
	_ = text.New("a.b", text.Name("who", w), text.Mass("m", m, 1))
	_ = text.Refuse(code)
	_ = text.New("a.c", values...)
	_ = text.New("a.d", text.Name(as, w))
	_ = other.New("a.e")
	_ = text.New("a.f", x.scale(), exact("m", m), other("n"))
)
func (x X) scale() text.Value { return text.Name("scale", x.s) }
func exact(as string, m Mass) text.Value { return text.Exact(as, m, 1) }
func other(as string) text.Value { p(); return text.Name(as, "x") }`, 0)
	require.NoError(t, err)
	all := usedIn(set, f)
	require.Len(t, all, 5)
	assert.Equal(t, []string{"", "m", "scale"}, all[4].values, "what a function makes counts, where it does nothing else")
	assert.Equal(t, "a.b", all[0].code)
	assert.Equal(t, []string{"m", "who"}, all[0].values)
	for _, u := range all[1:] {
		assert.NotEmpty(t, u.wrong, u.code)
	}
}

// A sentence takes the key that it names as a value, from the list of keys: a written
// letter stays when the key goes.
func TestNoSentenceWritesAKey(t *testing.T) {
	written := regexp.MustCompile(`(?i:press|hold|keys?) [A-Z]\b|\([A-Z]\)`)
	for _, l := range All {
		for code, s := range l.sentences() {
			for _, pieces := range s.forms {
				if strings.HasPrefix(code, "data.") {
					continue // vanadium(V) is no key
				}
				for _, p := range pieces {
					assert.NotRegexp(t, written, p.plain, code)
				}
			}
		}
	}
	assert.Regexp(t, written, "Carry on, or press A if this is an empty container.")
}

func TestSentencesAreCleanlyWritten(t *testing.T) {
	for _, l := range All {
		for code, s := range l.sentences() {
			for _, pieces := range s.forms {
				var words strings.Builder
				for _, p := range pieces {
					words.WriteString(p.plain)
					if p.value != "" {
						words.WriteString("{" + p.value + "}")
					}
				}
				w := words.String()
				assert.Equal(t, strings.TrimSpace(w), w, code)
				assert.NotContains(t, w, "  ", code)
				for _, unit := range []string{"} g", "} %", "} s"} {
					assert.NotContains(t, w+" ", unit+" ", "%s: the unit is the language's to write", code)
				}
			}
		}
	}
}

package main

import (
	"cmp"
	"fmt"
	"go/ast"
	"go/build"
	"go/parser"
	"go/token"
	"go/types"
	"maps"
	"os"
	"path"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// The limits of the house. What is over them stands in one of the lists below,
// with its number. A number may only fall, and what is within the limit must go
// from the list.
const (
	mostBranches = 20  // cyclomatic complexity of a function
	mostFields   = 30  // of a struct
	mostLines    = 600 // of a file that is no test
	mostInCircle = 4   // files of a package that need each other
)

// overBranches are the functions that still branch too much.
var overBranches = map[string]int{}

// overFields are the structs that still have too many fields.
var overFields = map[string]int{}

// overLines are the files that are still too long.
var overLines = map[string]int{}

// overCircle is the size of the largest circle of files in a package.
var overCircle = map[string]int{}

// pkg is one package as it is written, without its tests.
type pkg struct {
	dir   string // from the top of the project, with slashes
	fset  *token.FileSet
	files map[string]*ast.File // by name within dir
}

// packages parses every package of the project for this system.
func packages(t *testing.T) []pkg {
	t.Helper()
	all := map[string]pkg{}
	for _, s := range sources(t) {
		dir, name := filepath.Join(top, filepath.FromSlash(s.pkg)), path.Base(s.file)
		if s.test {
			continue
		}
		if ok, err := build.Default.MatchFile(dir, name); err != nil || !ok {
			require.NoError(t, err)
			continue
		}
		p, ok := all[s.pkg]
		if !ok {
			p = pkg{dir: s.pkg, fset: token.NewFileSet(), files: map[string]*ast.File{}}
			all[s.pkg] = p
		}
		f, err := parser.ParseFile(p.fset, filepath.Join(dir, name), nil, parser.ParseComments)
		require.NoError(t, err)
		p.files[name] = f
	}
	return slices.SortedFunc(maps.Values(all), func(a, b pkg) int { return cmp.Compare(a.dir, b.dir) })
}

// shrink holds what was counted against a limit and the list of what is still
// over it.
func shrink(t *testing.T, what string, limit int, over, counted map[string]int) {
	t.Helper()
	for _, name := range slices.Sorted(maps.Keys(counted)) {
		switch n, listed := over[name]; {
		case counted[name] <= limit && listed:
			t.Errorf("%s is within the limit of %d %s now: take it off the list", name, limit, what)
		case counted[name] > limit && !listed:
			t.Errorf("%s has %d %s, and %d is the limit: split it", name, counted[name], what, limit)
		case counted[name] > n && listed:
			t.Errorf("%s has %d %s, and had %d: it may only shrink", name, counted[name], what, n)
		}
	}
	for _, name := range slices.Sorted(maps.Keys(over)) {
		if _, ok := counted[name]; !ok {
			t.Errorf("%s is no more: take it off the list", name)
		}
	}
}

func TestFunctionsBranchLittle(t *testing.T) {
	counted := map[string]int{}
	for _, p := range packages(t) {
		for _, f := range p.files {
			for _, d := range f.Decls {
				if fn, ok := d.(*ast.FuncDecl); ok && !isTable(fn) {
					counted[p.dir+" "+funcName(fn)] = branches(fn)
				}
			}
		}
	}
	shrink(t, "branches", mostBranches, overBranches, counted)
}

func funcName(fn *ast.FuncDecl) string {
	if fn.Recv == nil {
		return fn.Name.Name
	}
	of := fn.Recv.List[0].Type
	if p, ok := of.(*ast.StarExpr); ok {
		of = p.X
	}
	if g, ok := of.(*ast.IndexExpr); ok {
		of = g.X
	}
	return of.(*ast.Ident).Name + "." + fn.Name.Name
}

// branches is the cyclomatic complexity: one, and one more for each if, loop,
// case, && and ||, those of function literals included.
func branches(n ast.Node) int {
	count := 1
	ast.Inspect(n, func(n ast.Node) bool {
		switch n := n.(type) {
		case *ast.IfStmt, *ast.ForStmt, *ast.RangeStmt:
			count++
		case *ast.CaseClause:
			if n.List != nil {
				count++
			}
		case *ast.CommClause:
			if n.Comm != nil {
				count++
			}
		case *ast.BinaryExpr:
			if n.Op == token.LAND || n.Op == token.LOR {
				count++
			}
		}
		return true
	})
	return count
}

// isTable reports whether a function is one switch of which each case is a few
// plain statements: it reads as a table, however many rows that has.
func isTable(fn *ast.FuncDecl) bool {
	if fn.Body == nil {
		return false
	}
	switches := 0
	for _, s := range fn.Body.List {
		var body *ast.BlockStmt
		switch s := s.(type) {
		case *ast.SwitchStmt:
			body = s.Body
		case *ast.TypeSwitchStmt:
			body = s.Body
		default:
			if branches(s) > 1 {
				return false
			}
			continue
		}
		switches++
		for _, c := range body.List {
			clause := c.(*ast.CaseClause)
			if len(clause.Body) > 3 || branches(clause)-1 > 1 {
				return false
			}
		}
	}
	return switches == 1
}

func TestStructsAreNarrow(t *testing.T) {
	counted := map[string]int{}
	for _, p := range packages(t) {
		for _, f := range p.files {
			ast.Inspect(f, func(n ast.Node) bool {
				spec, ok := n.(*ast.TypeSpec)
				if !ok {
					return true
				}
				if s, ok := spec.Type.(*ast.StructType); ok {
					counted[p.dir+" "+spec.Name.Name] = s.Fields.NumFields()
				}
				return true
			})
		}
	}
	shrink(t, "fields", mostFields, overFields, counted)
}

func TestFilesAreShort(t *testing.T) {
	counted := map[string]int{}
	for _, s := range sources(t) {
		if s.test {
			continue
		}
		b, err := os.ReadFile(filepath.Join(top, filepath.FromSlash(s.file)))
		require.NoError(t, err)
		counted[s.file] = strings.Count(string(b), "\n")
	}
	shrink(t, "lines", mostLines, overLines, counted)
}

// TestFilesFormNoLargeCircle: a file needs another where it uses a function, a
// method, a type, a variable or a constant of it. Files that all need each other
// can be read only together, so only a few may.
func TestFilesFormNoLargeCircle(t *testing.T) {
	counted := map[string]int{}
	for _, p := range packages(t) {
		uses := p.uses()
		counted[p.dir] = 1
		for _, circle := range circles(uses) {
			counted[p.dir] = max(counted[p.dir], len(circle))
			if len(circle) > max(mostInCircle, overCircle[p.dir]) {
				t.Errorf("%s: these files all need each other: %s", p.dir, strings.Join(circle, " "))
				for _, a := range circle {
					for b, what := range uses[a] {
						if slices.Contains(circle, b) {
							t.Logf("  %s needs %s of %s", a, what, b)
						}
					}
				}
			}
		}
	}
	shrink(t, "files in one circle", mostInCircle, overCircle, counted)
}

// uses tells which file of the package uses which, and one name that it uses.
// Types of other packages are not resolved: within the package that is enough.
func (p pkg) uses() map[string]map[string]string {
	info := types.Info{Defs: map[*ast.Ident]types.Object{}, Uses: map[*ast.Ident]types.Object{}}
	conf := types.Config{Importer: blind{}, Error: func(error) {}, FakeImportC: true}
	files := slices.Collect(maps.Values(p.files))
	_, _ = conf.Check("tared/"+p.dir, p.fset, files, &info) // imports are blind, so there are errors
	in := func(pos token.Pos) string { return filepath.Base(p.fset.Position(pos).Filename) }
	home := map[types.Object]string{}
	for id, o := range info.Defs {
		if o == nil || o.Parent() != nil && o.Parent() != o.Pkg().Scope() {
			continue // a local name
		}
		if v, ok := o.(*types.Var); ok && v.IsField() {
			continue // a field comes with its type
		}
		home[o] = in(id.Pos())
	}
	uses := map[string]map[string]string{}
	for name := range p.files {
		uses[name] = map[string]string{}
	}
	for id, o := range info.Uses {
		if at, from := home[o], in(id.Pos()); at != "" && at != from {
			uses[from][at] = id.Name
		}
	}
	return uses
}

// blind imports every package as an empty one.
type blind struct{}

func (blind) Import(p string) (*types.Package, error) {
	pkg := types.NewPackage(p, path.Base(p))
	pkg.MarkComplete()
	return pkg, nil
}

// circles gives the groups of nodes that all reach each other, by Tarjan's walk.
func circles(next map[string]map[string]string) [][]string {
	index, low, on := map[string]int{}, map[string]int{}, map[string]bool{}
	var stack []string
	var out [][]string
	var walk func(string)
	walk = func(v string) {
		index[v] = len(index) + 1
		low[v] = index[v]
		stack = append(stack, v)
		on[v] = true
		for w := range next[v] {
			if index[w] == 0 {
				walk(w)
				low[v] = min(low[v], low[w])
			} else if on[w] {
				low[v] = min(low[v], index[w])
			}
		}
		if low[v] != index[v] {
			return
		}
		at := slices.Index(stack, v)
		group := slices.Sorted(slices.Values(stack[at:]))
		for _, w := range group {
			on[w] = false
		}
		stack = stack[:at]
		if len(group) > 1 {
			out = append(out, group)
		}
	}
	for _, v := range slices.Sorted(maps.Keys(next)) {
		if index[v] == 0 {
			walk(v)
		}
	}
	return out
}

var (
	fileName = regexp.MustCompile(`\b[\w/-]+\.(?:go|js|html|css|json|txt)\b`)
	dotted   = regexp.MustCompile(`\b([A-Za-z]\w*)\.([A-Z]\w*)`)
	hump     = regexp.MustCompile(`^[A-Z][a-z0-9]+[A-Z]\w*$`)
	word     = regexp.MustCompile(`[A-Za-z]\w*`)
)

// TestMapsNameWhatExists: a package comment is the map of the package. A file in
// it must be there; so must a name with a dot, a name with a hump, and each name
// that the sentence tells to start with.
func TestMapsNameWhatExists(t *testing.T) {
	all := packages(t)
	names := map[string]map[string]bool{}
	for _, p := range all {
		names[path.Base(p.dir)] = p.names()
	}
	for _, p := range all {
		own := p.names()
		for _, f := range p.files {
			if f.Doc == nil {
				continue
			}
			doc := strings.Join(strings.Fields(f.Doc.Text()), " ")
			for _, name := range fileName.FindAllString(doc, -1) {
				if stem := strings.TrimSuffix(path.Base(name), path.Ext(name)); stem == strings.ToUpper(stem) {
					continue // a name in capitals stands for many
				}
				_, err := os.Stat(filepath.Join(top, filepath.FromSlash(p.dir), name))
				_, err2 := os.Stat(filepath.Join(top, filepath.FromSlash(name)))
				assert.True(t, err == nil || err2 == nil, "package %s: its comment names %s, which is not there", p.dir, name)
			}
			for _, m := range dotted.FindAllStringSubmatch(doc, -1) {
				if of, ok := names[m[1]]; ok {
					assert.True(t, of[m[2]], "package %s: its comment names %s, which is not there", p.dir, m[0])
				} else if own[m[1]] {
					assert.True(t, own[m[2]], "package %s: its comment names %s, which is not there", p.dir, m[0])
				}
			}
			for sentence := range strings.SplitSeq(doc, ". ") {
				start := regexp.MustCompile(`\b[Ss]tart\b`).MatchString(sentence)
				for i, w := range word.FindAllString(dotted.ReplaceAllString(fileName.ReplaceAllString(sentence, ""), ""), -1) {
					if hump.MatchString(w) || start && i > 0 && w != strings.ToUpper(w) && w != strings.ToLower(w) {
						assert.True(t, own[w], "package %s: its comment names %s, which is not there", p.dir, w)
					}
				}
			}
		}
	}
}

// names are all that the package declares: types, functions, methods, fields,
// variables and constants.
func (p pkg) names() map[string]bool {
	out := map[string]bool{}
	for _, f := range p.files {
		ast.Inspect(f, func(n ast.Node) bool {
			switch n := n.(type) {
			case *ast.FuncDecl:
				out[n.Name.Name] = true
				return false
			case *ast.TypeSpec:
				out[n.Name.Name] = true
			case *ast.ValueSpec:
				for _, id := range n.Names {
					out[id.Name] = true
				}
			case *ast.Field:
				for _, id := range n.Names {
					out[id.Name] = true
				}
			}
			return true
		})
	}
	return out
}

// TestHouseRulesCatch holds the rules themselves to account.
func TestHouseRulesCatch(t *testing.T) {
	parse := func(files map[string]string) pkg {
		p := pkg{dir: "x", fset: token.NewFileSet(), files: map[string]*ast.File{}}
		for name, text := range files {
			f, err := parser.ParseFile(p.fset, name, "package x\n"+text, 0)
			require.NoError(t, err)
			p.files[name] = f
		}
		return p
	}
	p := parse(map[string]string{
		"a.go": "type T struct{}\nfunc A() { B() }",
		"b.go": "func B() { var t T; t.C() }",
		"c.go": "import \"fmt\"\nfunc (T) C() { fmt.Println(D) }",
		"d.go": "const D = 1",
	})
	assert.Equal(t, [][]string{{"a.go", "b.go", "c.go"}}, circles(p.uses()))
	f := p.files["a.go"].Decls[1].(*ast.FuncDecl)
	assert.Equal(t, 1, branches(f))
	p = parse(map[string]string{"a.go": `
func F(a, b bool, n int) int {
	for a && !b { if n > 1 { n-- } }
	switch n { case 1, 2: return 1; default: return 2 }
}
func G(n int) int { switch n { case 1: return 1; case 2: return 2 }; return 3 }
func (t *T[X]) H() {}`})
	fns := p.files["a.go"].Decls
	assert.Equal(t, 5, branches(fns[0]), "the loop, its &&, the if and one case")
	assert.False(t, isTable(fns[0].(*ast.FuncDecl)))
	assert.True(t, isTable(fns[1].(*ast.FuncDecl)))
	assert.Equal(t, "T.H", funcName(fns[2].(*ast.FuncDecl)))
	for _, c := range []struct {
		over, counted map[string]int
		fails         bool
	}{
		{nil, map[string]int{"f": 3}, false},
		{nil, map[string]int{"f": 4}, true},
		{map[string]int{"f": 4}, map[string]int{"f": 4}, false},
		{map[string]int{"f": 4}, map[string]int{"f": 5}, true},
		{map[string]int{"f": 5}, map[string]int{"f": 4}, false},
		{map[string]int{"f": 5}, map[string]int{"f": 3}, true},
		{map[string]int{"f": 5}, map[string]int{}, true},
	} {
		inner := &testing.T{}
		shrink(inner, "of it", 3, c.over, c.counted)
		assert.Equal(t, c.fails, inner.Failed(), fmt.Sprint(c))
	}
}

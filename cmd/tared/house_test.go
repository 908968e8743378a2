package main

import (
	"go/parser"
	"go/token"
	"io/fs"
	"os"
	"os/exec"
	"path"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// source is one Go file of the project.
type source struct {
	file    string // from the top of the project, with slashes
	pkg     string // its directory
	test    bool
	imports []string
	doc     bool // it carries a package comment
}

// top is the directory of go.mod, seen from this package.
const top = "../.."

// sources reads the head of every Go file, whatever its build tags, so that a
// file for another system keeps the rule too.
func sources(t *testing.T) []source {
	t.Helper()
	var all []source
	err := filepath.WalkDir(top, func(p string, d fs.DirEntry, err error) error {
		if err != nil {
			return err
		}
		if d.IsDir() {
			if p != top && (strings.HasPrefix(d.Name(), ".") || d.Name() == "testdata") {
				return filepath.SkipDir
			}
			return nil
		}
		if !strings.HasSuffix(p, ".go") {
			return nil
		}
		f, err := parser.ParseFile(token.NewFileSet(), p, nil, parser.ImportsOnly|parser.ParseComments)
		if err != nil {
			return err
		}
		rel, err := filepath.Rel(top, p)
		if err != nil {
			return err
		}
		rel = filepath.ToSlash(rel)
		s := source{file: rel, pkg: path.Dir(rel), test: strings.HasSuffix(p, "_test.go"), doc: f.Doc != nil}
		for _, i := range f.Imports {
			name, err := strconv.Unquote(i.Path.Value)
			if err != nil {
				return err
			}
			s.imports = append(s.imports, name)
		}
		all = append(all, s)
		return nil
	})
	require.NoError(t, err)
	require.NotEmpty(t, all)
	return all
}

// within tells whether the import path is the package dir of this module or below it.
func within(imported, dir string) bool {
	return imported == "tared/"+dir || strings.HasPrefix(imported, "tared/"+dir+"/")
}

func in(pkg, dir string) bool { return pkg == dir || strings.HasPrefix(pkg, dir+"/") }

func standard(imported string) bool {
	first, _, _ := strings.Cut(imported, "/")
	return !strings.Contains(first, ".") && first != "tared"
}

// objection says why a file of package pkg must not import what it imports, or
// gives "". The way of a reading is protocol, scale, session, web, cmd; a
// package may import what stands before it, never what stands after.
func objection(pkg string, test bool, imported string) string {
	switch {
	case imported == "go.bug.st/serial" || strings.HasPrefix(imported, "go.bug.st/serial/"):
		if pkg != "scale/serialport" {
			return "only scale/serialport imports the serial library"
		}
	case in(pkg, "protocol"):
		if !test && !standard(imported) {
			return "protocol uses the standard library only"
		}
		if within(imported, "scale") || within(imported, "session") || within(imported, "web") {
			return "protocol comes first on the way of a reading"
		}
	case in(pkg, "scale/pan"):
		if imported != "tared/scale" && imported != "tared/protocol" && !standard(imported) && !test {
			return "scale/pan knows readings and nothing else"
		}
		if within(imported, "session") || within(imported, "web") {
			return "scale/pan knows no batch"
		}
	case in(pkg, "scale"):
		if within(imported, "session") || within(imported, "web") {
			return "scale knows nothing of recipes and pages"
		}
		if pkg == "scale/pan" && within(imported, "scale") && imported != "tared/scale" && !test {
			return "scale/pan sees scale updates, never a port"
		}
	case in(pkg, "session"):
		if within(imported, "web") {
			return "session knows nothing of HTTP"
		}
		if imported == "net/http" && !test {
			return "session knows nothing of HTTP"
		}
		if within(imported, "scale/serialport") || within(imported, "scale/sim") && !test {
			return "session sees scale updates, never a port"
		}
		if !test {
			return innerObjection(pkg, imported)
		}
	case in(pkg, "web"):
		if (within(imported, "scale") || within(imported, "protocol")) && !test {
			return "web imports session only, so that no verdict is reached in a page"
		}
	}
	if within(imported, "cmd") {
		return "cmd is the end of the way: nothing imports it"
	}
	return ""
}

// inner names the rooms of session and what else of session each may import,
// beside itself: the facts know nothing, the plan knows no bench, the fold of a
// batch does not know where its facts come from, a question and a sentence know
// only what they are about. A room that is not named is held by the rules above
// alone.
var inner = []struct {
	room string
	may  []string
	why  string
}{
	{"session/doubt", nil, "session/doubt knows a scale, not what is weighed on it"},
	{"session/fact", []string{"session/recipe", "session/plan", "session/doubt", "session/text"}, "session/fact is the words of the journal and knows nothing of who reads them"},
	{"session/peer", []string{"session/fact", "session/journal", "session/signer"}, "session/peer keeps the lines of another bench and knows nothing of this one"},
	{"session/signer", nil, "session/signer keeps a key and knows nothing of what is signed"},
	{"session/journal", nil, "session/journal knows nothing of what the facts mean"},
	{"session/recipe", []string{"session/text"}, "session/recipe knows nothing of the bench"},
	{"session/material", []string{"session/plain", "session/text"}, "session/material knows nothing of the bench"},
	{"session/glaze", []string{"session/material", "session/plain", "session/text"}, "session/glaze knows what is in a bag, not who weighed it"},
	{"session/plain", []string{"session/text"}, "session/plain knows nothing of what is in a file"},
	{"session/slip", []string{"session/text"}, "session/slip knows nothing of the bench"},
	{"session/sheet", planRooms, "session/sheet knows nothing of the bench"},
	{"session/plan", planRooms, "session/plan knows nothing of the bench"},
	{"session/calc", planRooms, "session/calc knows nothing of the bench"},
	{"session/batch", append([]string{"session/fact"}, planRooms...), "session/batch folds facts and does not know where they come from"},
	{"session/derive", append([]string{"session/fact", "session/batch"}, planRooms...), "session/derive looks at the record and knows no bench"},
	{"session/text", nil, "session/text knows codes and values, not who says them"},
	{"session/guide", []string{"session/fact"}, "session/guide knows a pour, not the batch"},
	{"session/question", append([]string{"session/fact", "session/batch", "session/guide"}, planRooms...), "session/question knows the batch, not the bench"},
	{"session/sentence", []string{"session/fact", "session/curve", "session/signer"}, "session/sentence tells a fact, its fingerprints shortened as the signer does, and knows nothing else"},
	{"session/curve", nil, "session/curve knows a kiln, not the bench"},
	{"session/book", append([]string{"session/fact", "session/batch", "session/sentence", "session/curve", "session/question", "session/label", "session/journal", "session/signer", "session/glaze"}, planRooms...), "session/book reads what it is given and knows nothing of the bench"},
}

var planRooms = []string{"session/plan", "session/plain", "session/recipe", "session/material", "session/sheet", "session/slip", "session/stock", "session/recipebook", "session/doubt", "session/signer", "session/text"}

// innerObjection is objection among the rooms of session.
func innerObjection(pkg, imported string) string {
	if !within(imported, "session") || imported == "tared/session/text" {
		return "" // every room has something to say
	}
	for _, r := range inner {
		if in(pkg, r.room) && !within(imported, r.room) && !slices.ContainsFunc(r.may, func(m string) bool { return within(imported, m) }) {
			return r.why
		}
	}
	if imported == "tared/session" {
		return "the bench comes last in session: its rooms do not know it"
	}
	return ""
}

func TestImportsRunOneWay(t *testing.T) {
	for _, s := range sources(t) {
		for _, imported := range s.imports {
			if why := objection(s.pkg, s.test, imported); why != "" {
				t.Errorf("%s imports %s: %s", s.file, imported, why)
			}
		}
	}
}

// TestImportRuleCatches holds the rule itself to account: a rule that allows
// everything would pass the test above.
func TestImportRuleCatches(t *testing.T) {
	for _, c := range []struct {
		pkg, imported string
		test, wrong   bool
	}{
		{pkg: "protocol", imported: "bytes"},
		{pkg: "protocol", imported: "github.com/rs/zerolog", wrong: true},
		{pkg: "protocol", imported: "github.com/stretchr/testify/assert", test: true},
		{pkg: "protocol", imported: "tared/scale", test: true, wrong: true},
		{pkg: "scale", imported: "tared/protocol"},
		{pkg: "scale", imported: "tared/session", wrong: true},
		{pkg: "scale/sim", imported: "tared/session/sheet", wrong: true},
		{pkg: "scale", imported: "go.bug.st/serial", wrong: true},
		{pkg: "scale/pan", imported: "tared/scale"},
		{pkg: "scale/pan", imported: "tared/session/fact", test: true, wrong: true},
		{pkg: "scale/pan", imported: "tared/scale/serialport", wrong: true},
		{pkg: "scale/pan", imported: "github.com/rs/zerolog", wrong: true},
		{pkg: "scale/serialport", imported: "go.bug.st/serial"},
		{pkg: "session", imported: "tared/scale"},
		{pkg: "session", imported: "tared/scale/serialport", wrong: true},
		{pkg: "session/book", imported: "tared/web", wrong: true},
		{pkg: "session/book", imported: "go.bug.st/serial/enumerator", wrong: true},
		{pkg: "session", imported: "net/http", wrong: true},
		{pkg: "scale/pan", imported: "tared/scale"},
		{pkg: "scale/pan", imported: "tared/scale/serialport", wrong: true},
		{pkg: "session", imported: "tared/session/batch"},
		{pkg: "session/batch", imported: "tared/session/fact"},
		{pkg: "session/batch", imported: "tared/session/journal", wrong: true},
		{pkg: "session/batch", imported: "tared/session", wrong: true},
		{pkg: "session/question", imported: "tared/session/batch"},
		{pkg: "session/question", imported: "tared/session/book", wrong: true},
		{pkg: "session/plan/sheet", imported: "tared/session/plan/recipe"},
		{pkg: "session/plan/sheet", imported: "tared/session/batch", wrong: true},
		{pkg: "session", imported: "tared/session/plan"},
		{pkg: "session/plan", imported: "tared/session/sheet"},
		{pkg: "session/plan", imported: "tared/session/fact", wrong: true},
		{pkg: "session/plan", imported: "tared/session/batch", wrong: true},
		{pkg: "session/plan", imported: "tared/session", wrong: true},
		{pkg: "session/text", imported: "tared/session/book", wrong: true},
		{pkg: "session/label", imported: "tared/session", wrong: true},
		{pkg: "web", imported: "tared/session/book"},
		{pkg: "web", imported: "tared/protocol", wrong: true},
		{pkg: "web", imported: "tared/scale/sim", wrong: true},
		{pkg: "web", imported: "tared/cmd/tared", wrong: true},
		{pkg: "cmd/tared", imported: "tared/scale/sim"},
	} {
		assert.Equal(t, c.wrong, objection(c.pkg, c.test, c.imported) != "", "%s importing %s", c.pkg, c.imported)
	}
}

func TestEveryPackageHasAMap(t *testing.T) {
	mapped := map[string]bool{}
	for _, s := range sources(t) {
		if !s.test {
			mapped[s.pkg] = mapped[s.pkg] || s.doc
		}
	}
	for pkg, has := range mapped {
		assert.True(t, has, "package %s has no package comment: say what it does, its words, and where to start", pkg)
	}
}

// TestTopLevelIsShort keeps the first thing that a newcomer sees small. What git
// ignores does not count.
func TestTopLevelIsShort(t *testing.T) {
	allowed := []string{".ci", ".gitignore", "DEVELOPERS.md", "README.md", "cmd", "go.mod", "go.sum", "protocol", "scale", "session", "testdata", "web"}
	var names []string
	cmd := exec.Command("git", "ls-files", "--cached", "--others", "--exclude-standard")
	cmd.Dir = top
	if list, err := cmd.Output(); err == nil {
		for _, f := range strings.Fields(string(list)) {
			first, _, _ := strings.Cut(f, "/")
			names = append(names, first)
		}
	} else { // not a git checkout: all that is there counts
		entries, err := os.ReadDir(top)
		require.NoError(t, err)
		for _, e := range entries {
			names = append(names, e.Name())
		}
	}
	require.Contains(t, names, "go.mod")
	for _, n := range names {
		assert.True(t, slices.Contains(allowed, n), "%s stands at the top level: move it into the folder it belongs to", n)
	}
}

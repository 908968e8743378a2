package protocol

import (
	"go/ast"
	"go/parser"
	"go/token"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// One format, one file: each stands in a file of its name, below a comment that
// shows its layout, and has a test of its own.
func TestOneFormatOneFile(t *testing.T) {
	named := map[string]string{}
	files, err := filepath.Glob("*.go")
	require.NoError(t, err)
	for _, file := range files {
		if strings.HasSuffix(file, "_test.go") {
			continue
		}
		f, err := parser.ParseFile(token.NewFileSet(), file, nil, parser.ParseComments)
		require.NoError(t, err)
		for _, d := range f.Decls {
			v, ok := d.(*ast.GenDecl)
			if !ok || v.Tok != token.VAR {
				continue
			}
			ast.Inspect(v, func(n ast.Node) bool {
				kv, ok := n.(*ast.KeyValueExpr)
				if !ok {
					return true
				}
				key, ok := kv.Key.(*ast.Ident)
				text, isText := kv.Value.(*ast.BasicLit)
				if ok && isText && strings.EqualFold(key.Name, "name") {
					named[file] += text.Value
					assert.NotEmpty(t, v.Doc.Text(), "%s has no comment that shows the layout", file)
				}
				return true
			})
		}
	}
	for _, f := range All() {
		file := strings.ReplaceAll(f.Name, "-", "_")
		assert.Equal(t, `"`+f.Name+`"`, named[file+".go"], "%s.go holds the format of its name, and no other", file)
		_, err := os.Stat(file + "_test.go")
		assert.NoError(t, err)
	}
}

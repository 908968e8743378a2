package fact

import (
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"reflect"
	"regexp"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// A type with a method Kind is a kind of fact, and must have its row: what has none is
// written, and read back as a kind that nobody knows.
func TestEveryKindHasItsRow(t *testing.T) {
	have := map[string]bool{}
	for _, k := range Kinds {
		have[fmt.Sprintf("%T", k.Zero)] = true
		got, err := DecodeBody(k.Name, []byte("{}"))
		require.NoError(t, err, k.Name)
		assert.IsType(t, k.Zero, got)
		typ := reflect.TypeOf(k.Zero)
		for i := range typ.NumField() {
			field, _, _ := strings.Cut(typ.Field(i).Tag.Get("json"), ",")
			_, err = DecodeBody(k.Name, []byte(`{"`+field+`":[7]}`))
			assert.ErrorIs(t, err, ErrFact, "%s.%s", k.Name, field)
		}
		assert.NotEmpty(t, k.Says, "%s: what happened?", k.Name)
		assert.NotEmpty(t, k.Readers, "%s: which fold reads it?", k.Name)
	}
	files, err := filepath.Glob("*.go")
	require.NoError(t, err)
	for _, file := range files {
		src, err := os.ReadFile(file)
		require.NoError(t, err)
		for _, m := range regexp.MustCompile(`(?m)^func \((?:\w+ )?(\w+)\) Kind\(\) string`).FindAllSubmatch(src, -1) {
			if name := string(m[1]); name != "Unknown" {
				assert.True(t, have["fact."+name], "%s: %s has no row in Kinds", file, name)
			}
		}
	}
}

// folds tells where each fold stands, from session down.
var folds = map[Reader]string{
	Batch:   `^(batch/\w+|state|book/(book|after|checks))\.go$`,
	Stock:   `^stock/\w+\.go$`,
	Recipes: `^(recipebook|folder)/\w+\.go$`,
	Roles:   `^(roles?|record)\.go$`,
	Vessels: `^(vessels?|record)\.go$`,
	Gauges:  `^(gauges?|check)\.go$`,
	Due:     `^due\.go$`,
	Devices: `^device\.go$`,
	Epochs:  `^epoch\.go$`,
}

// A kind that its fold does not look at is lost, and one that is said to stand in the
// record alone must not be read by any.
func TestReadersRead(t *testing.T) {
	read := map[string][]Reader{}
	asks := regexp.MustCompile(`(?:case [^:\n]*\b|\.\()fact\.\w+`)
	named := regexp.MustCompile(`fact\.\w+`)
	for reader, where := range folds {
		err := fs.WalkDir(os.DirFS(".."), ".", func(path string, d fs.DirEntry, err error) error {
			if err != nil || d.IsDir() || strings.HasSuffix(path, "_test.go") || !regexp.MustCompile(where).MatchString(path) {
				return err
			}
			src, err := os.ReadFile(filepath.Join("..", path))
			for _, line := range asks.FindAllString(string(src), -1) {
				for _, kind := range named.FindAllString(line, -1) {
					read[kind] = append(read[kind], reader)
				}
			}
			return err
		})
		require.NoError(t, err)
	}
	for _, k := range Kinds {
		name := fmt.Sprintf("%T", k.Zero)
		if k.Readers[0] == RecordOnly {
			assert.Empty(t, read[name], "%s: the table says that no fold reads it", name)
			continue
		}
		for _, reader := range k.Readers {
			assert.Contains(t, read[name], reader, "%s: the fold %q does not read it where this test looks (%s)", name, reader, folds[reader])
		}
	}
}

// The page for those who work on it has the table as it is.
func TestDevelopersSeeTheTable(t *testing.T) {
	var b strings.Builder
	b.WriteString("| kind | says that | read by |\n|---|---|---|\n")
	for _, k := range Kinds {
		var by []string
		for _, r := range k.Readers {
			by = append(by, string(r))
		}
		fmt.Fprintf(&b, "| `%s` | %s | %s |\n", k.Name, k.Says, strings.Join(by, ", "))
	}
	page, err := os.ReadFile("../../DEVELOPERS.md")
	require.NoError(t, err)
	assert.True(t, strings.Contains(string(page), b.String()), "put this table there:\n%s", b.String())
}

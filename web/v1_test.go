package web

import (
	"bytes"
	"encoding/json"
	"flag"
	"go/ast"
	"go/parser"
	"go/token"
	"net/http"
	"os"
	"path/filepath"
	"reflect"
	"regexp"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/santhosh-tekuri/jsonschema/v6"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"tared/protocol"
	"tared/session/book"
)

var update = flag.Bool("update", false, "write openapi.json anew")

// What programs are told of version 1 is what the code does: openapi.json is made of the
// table, the types and what stands above them.
func TestOpenAPIIsMadeOfTheTypes(t *testing.T) {
	made, err := json.MarshalIndent(describe(t), "", "\t")
	require.NoError(t, err)
	made = append(made, '\n')
	if *update {
		require.NoError(t, os.WriteFile("openapi.json", made, 0o644))
	}
	is, err := os.ReadFile("openapi.json")
	require.NoError(t, err)
	if !bytes.Equal(made, is) {
		t.Error("openapi.json is not what the types say: go test ./web -run OpenAPI -update, and read what it changed: nothing may go, and no name may change")
	}
}

// The OpenAPI Initiative's own schema takes it (openapi-3.1-schema.json in testdata is
// https://spec.openapis.org/oas/3.1/schema/2022-10-07, Apache License 2.0).
func TestOpenAPIIsOfItsVersion(t *testing.T) {
	b, err := os.ReadFile("testdata/openapi-3.1-schema.json")
	require.NoError(t, err)
	schema := schemaOf(t, decodedJSON(t, b), "")
	s, _ := newServer(t, nil)
	w := do(s, request("GET", "/api/v1/openapi.json", ""))
	require.Equal(t, "application/json; charset=utf-8", w.Header().Get("Content-Type"))
	assert.NoError(t, schema.Validate(decodedJSON(t, w.Body.Bytes())))
	assert.Error(t, schema.Validate(map[string]any{"openapi": "3.1.0", "paths": map[string]any{}}), "the schema takes anything")
}

// Each answer is what the description says of it, and holds nothing that it does not name.
func TestEachAnswerIsAsDescribed(t *testing.T) {
	s, b := newServer(t, func(c *Config) { c.Book, c.Version = fakeBook{}, "v1" })
	b.tally = counted()
	doc := decodedJSON(t, openAPI).(map[string]any)
	nothingElse(doc)
	asked := 0
	for _, e := range v1 {
		for _, path := range []string{e.path, e.path + "?before=a261125&most=1"} {
			path = strings.Replace(path, "{mark}", "c261124", 1)
			w := do(s, request("GET", path, ""))
			if e.tells == nil {
				continue
			}
			require.Equal(t, http.StatusOK, w.Code, "%s: %s", path, w.Body)
			at := "#/paths/" + strings.ReplaceAll(e.path, "/", "~1") + "/get/responses/200/content/application~1json/schema"
			assert.NoError(t, schemaOf(t, doc, at).Validate(decodedJSON(t, w.Body.Bytes())), "%s: %s", path, w.Body)
			asked++
		}
		w := do(s, request("GET", strings.Replace(e.path, "{mark}", "nothing", 1)+"?most=none&from=none", ""))
		if w.Code != http.StatusOK {
			assert.NoError(t, schemaOf(t, doc, "#/components/schemas/fault").Validate(decodedJSON(t, w.Body.Bytes())), "%s: %s", e.path, w.Body)
		}
	}
	assert.Equal(t, 12, asked)
	var two struct{ Batches []struct{ Mark string } }
	w := do(s, request("GET", "/api/v1/batches?before=a261125&most=1", ""))
	require.NoError(t, json.Unmarshal(w.Body.Bytes(), &two))
	assert.Equal(t, "c261124", two.Batches[0].Mark)
	assert.Contains(t, w.Body.String(), `"next":"c261124"`)
}

// No route of the API is left out of the description.
func TestEachRouteIsDescribed(t *testing.T) {
	var doc struct{ Paths map[string]any }
	require.NoError(t, json.Unmarshal(openAPI, &doc))
	src, err := filepath.Glob("*.go")
	require.NoError(t, err)
	named := regexp.MustCompile(`"(/api/v1/[^" ]*)"`)
	n := 0
	for _, file := range src {
		b, err := os.ReadFile(file)
		require.NoError(t, err)
		if strings.HasSuffix(file, "_test.go") {
			continue
		}
		for _, m := range named.FindAllStringSubmatch(string(b), -1) {
			n++
			if m[1] != "/api/v1/openapi.json" {
				assert.Contains(t, doc.Paths, m[1], file)
			}
		}
	}
	assert.Equal(t, len(v1)+1, n)
}

func decodedJSON(t *testing.T, b []byte) any {
	t.Helper()
	v, err := jsonschema.UnmarshalJSON(bytes.NewReader(b))
	require.NoError(t, err, "%s", b)
	return v
}

func schemaOf(t *testing.T, doc any, at string) *jsonschema.Schema {
	t.Helper()
	c := jsonschema.NewCompiler()
	require.NoError(t, c.AddResource("https://tared.invalid/doc.json", doc))
	s, err := c.Compile("https://tared.invalid/doc.json" + at)
	require.NoError(t, err)
	return s
}

// nothingElse has no object hold what is not named.
func nothingElse(v any) {
	switch v := v.(type) {
	case map[string]any:
		if _, ok := v["properties"]; ok {
			v["additionalProperties"] = false
		}
		for _, x := range v {
			nothingElse(x)
		}
	case []any:
		for _, x := range v {
			nothingElse(x)
		}
	}
}

// describer makes the description.
type describer struct {
	t       *testing.T
	schemas map[string]any
	words   map[string]map[string]string // by directory, of types and of fields as Type.Field
}

func describe(t *testing.T) map[string]any {
	d := describer{t, map[string]any{}, map[string]map[string]string{}}
	d.schema(reflect.TypeFor[fault]())
	paths := map[string]any{}
	for _, e := range v1 {
		var params []any
		for _, name := range regexp.MustCompile(`\{(\w+)\}`).FindAllStringSubmatch(e.path, -1) {
			params = append(params, map[string]any{"name": name[1], "in": "path", "required": true, "schema": map[string]any{"type": "string"}})
		}
		about := "The " + strings.NewReplacer("/api/v1/", "", "{mark}", "MARK").Replace(e.path)
		if e.asks != nil {
			q := reflect.TypeOf(e.asks)
			for i := range q.NumField() {
				f := q.Field(i)
				schema := d.schema(f.Type)
				if f.Type.Kind() == reflect.Bool {
					schema = map[string]any{"type": "integer", "enum": []int{0, 1}}
				}
				params = append(params, map[string]any{"name": strings.ToLower(f.Name), "in": "query", "schema": schema, "description": d.said(q, "."+f.Name)})
			}
		}
		content := map[string]any{e.kind: map[string]any{"schema": map[string]any{"type": "string"}}}
		if e.tells != nil {
			content = map[string]any{"application/json": map[string]any{"schema": d.schema(reflect.TypeOf(e.tells))}}
		}
		answer := map[string]any{"description": about, "content": content}
		if e.kind == jsonLines {
			answer["description"] = "The lines of the journal, byte by byte. Each carries in prev the SHA-256 of the line before, newline included."
			answer["headers"] = map[string]any{
				linesHeader: map[string]any{"description": "How many lines the journal has.", "schema": map[string]any{"type": "integer"}},
				headHeader:  map[string]any{"description": "SHA-256 of the last of them.", "schema": map[string]any{"type": "string"}}}
		}
		get := map[string]any{"operationId": strings.Trim(regexp.MustCompile(`\W+`).ReplaceAllString(strings.TrimPrefix(e.path, "/api/v1/"), "-"), "-"), "responses": map[string]any{
			"200":     answer,
			"default": map[string]any{"description": "Why there is no answer.", "content": map[string]any{"application/json": map[string]any{"schema": map[string]any{"$ref": "#/components/schemas/fault"}}}}}}
		if params != nil {
			get["parameters"] = params
		}
		paths[e.path] = map[string]any{"get": get}
	}
	return map[string]any{"openapi": "3.1.0", "info": map[string]any{"title": "tared", "version": "1",
		"description": "What programs can ask of a bench. Nothing here changes anything. What is there stays as it is, and more may come: pass over what you do not know. Masses are decimals."},
		"paths": paths, "components": map[string]any{"schemas": d.schemas}}
}

// nullable are fields that are written as null, as the marshaller of their type does it.
var nullable = map[string]bool{"Line.Delivered": true, "Line.U": true, "Line.Deviation": true}

func (d *describer) schema(t reflect.Type) map[string]any {
	switch {
	case t == reflect.TypeFor[time.Time]():
		return map[string]any{"type": "string", "format": "date-time"}
	case t == reflect.TypeFor[protocol.Mass]() || t == reflect.TypeFor[book.Amount]():
		d.schemas["mass"] = map[string]any{"type": "object", "description": "A mass in grams, with its digits.", "required": []string{"g"},
			"properties": map[string]any{"g": map[string]any{"type": "string", "pattern": `^-?[0-9]+(\.[0-9]+)?$`}}}
		return map[string]any{"$ref": "#/components/schemas/mass"}
	}
	switch t.Kind() {
	case reflect.String:
		return map[string]any{"type": "string"}
	case reflect.Bool:
		return map[string]any{"type": "boolean"}
	case reflect.Int, reflect.Int64, reflect.Int32:
		return map[string]any{"type": "integer"}
	case reflect.Uint64:
		return map[string]any{"type": "integer", "minimum": 0}
	case reflect.Pointer:
		return d.schema(t.Elem())
	case reflect.Slice:
		return map[string]any{"type": "array", "items": d.schema(t.Elem())}
	case reflect.Struct:
		name := t.Name()
		if _, there := d.schemas[name]; !there {
			d.schemas[name] = nil // it may name itself
			s := map[string]any{"type": "object", "properties": map[string]any{}}
			if words := d.said(t, ""); words != "" {
				s["description"] = words
			}
			need := []string{}
			d.fields(t, s["properties"].(map[string]any), &need)
			slices.Sort(need)
			s["required"] = need
			d.schemas[name] = s
		}
		return map[string]any{"$ref": "#/components/schemas/" + name}
	}
	d.t.Fatalf("%s cannot be described yet", t)
	return nil
}

func (d *describer) fields(t reflect.Type, to map[string]any, need *[]string) {
	for i := range t.NumField() {
		f := t.Field(i)
		if f.Anonymous {
			d.fields(f.Type, to, need)
			continue
		}
		name, how, _ := strings.Cut(f.Tag.Get("json"), ",")
		if !f.IsExported() || name == "-" {
			continue
		}
		require.NotEmpty(d.t, name, "%s.%s has no name for programs", t, f.Name)
		s := d.schema(f.Type)
		if strings.Contains(how, "omit") {
		} else if *need = append(*need, name); f.Type.Kind() == reflect.Slice || f.Type.Kind() == reflect.Pointer || nullable[t.Name()+"."+f.Name] {
			s = map[string]any{"anyOf": []any{s, map[string]any{"type": "null"}}}
		}
		if words := d.said(t, "."+f.Name); words != "" {
			s = map[string]any{"allOf": []any{s}, "description": words}
			if inner := s["allOf"].([]any)[0].(map[string]any); inner["$ref"] == nil {
				inner["description"] = words
				s = inner
			}
		}
		to[name] = s
	}
}

// said is what stands above a type, or beside a field of it.
func (d *describer) said(t reflect.Type, field string) string {
	dir := filepath.Join("..", strings.TrimPrefix(t.PkgPath(), "tared/"))
	words, read := d.words[dir]
	if !read {
		words = map[string]string{}
		d.words[dir] = words
		files, err := filepath.Glob(dir + "/*.go")
		require.NoError(d.t, err)
		for _, file := range files {
			f, err := parser.ParseFile(token.NewFileSet(), file, nil, parser.ParseComments)
			require.NoError(d.t, err)
			ast.Inspect(f, func(n ast.Node) bool {
				g, ok := n.(*ast.GenDecl)
				if !ok {
					return true
				}
				for _, s := range g.Specs {
					if s, ok := s.(*ast.TypeSpec); ok {
						noteWords(words, s, strings.TrimSpace(s.Doc.Text()+g.Doc.Text()))
					}
				}
				return true
			})
		}
	}
	return words[t.Name()+field]
}

func noteWords(words map[string]string, s *ast.TypeSpec, doc string) {
	doc = strings.Join(strings.Fields(doc), " ")
	if rest, ok := strings.CutPrefix(doc, s.Name.Name+" "); ok { // "row is a batch in a list." says it of a Go type
		for _, verb := range []string{"is ", "are ", "says ", "tells "} {
			if r, ok := strings.CutPrefix(rest, verb); ok && verb != "says " && verb != "tells " {
				rest = strings.ToUpper(r[:1]) + r[1:]
			}
		}
		doc = rest
	}
	words[s.Name.Name] = doc
	st, ok := s.Type.(*ast.StructType)
	if !ok {
		return
	}
	for _, f := range st.Fields.List {
		for _, name := range f.Names {
			words[s.Name.Name+"."+name.Name] = strings.Join(strings.Fields(f.Doc.Text()+" "+f.Comment.Text()), " ")
		}
	}
}

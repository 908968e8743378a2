package web

import (
	"mime"
	"net/http"
	"slices"
	"strings"

	"tared/session/material"
	"tared/session/recipe"
	"tared/session/recipebook"
	"tared/session/text"
	"tared/web/peers"
)

// workshopPage is what is seldom wanted: recipes with their versions, materials, the record
// as a whole, formats.
type workshopPage struct {
	Recipes   []keptRecipe
	Find      string
	Materials []material.Material
	Formats   []Format
	Peers     []peers.State
	Archive   bool // the record can be taken out and verified
	Nightly   Nightly
}

// keptRecipe is a recipe with what each version changed, the newest first.
type keptRecipe struct {
	Name     string
	Versions []keptVersion
}

type keptVersion struct {
	recipebook.Version
	Changes []string // against the version before
}

// most materials that the page tells of at a time.
const mostMaterials = 12

func workshopData(s *site, r *http.Request) (any, error) {
	p := workshopPage{Find: strings.TrimSpace(r.FormValue("find")), Archive: s.cfg.Archive != nil}
	if p.Archive {
		p.Formats, p.Nightly = s.cfg.Archive.Formats(), s.cfg.Archive.Nightly()
	}
	if s.cfg.Peers != nil {
		p.Peers = s.cfg.Peers()
	}
	p.Materials = materialsLike(s.cfg.Materials.Or(), p.Find)
	_, kept, err := s.cfg.Bench.LotsAndRecipes(r.Context())
	for _, k := range kept {
		p.Recipes = append(p.Recipes, versionsOf(k))
	}
	return p, err
}

// materialsLike are the materials whose names have what was typed.
func materialsLike(t *material.Table, find string) (some []material.Material) {
	if find == "" {
		return nil
	}
	if m, ok := t.Lookup(find); ok {
		some = append(some, m)
	}
	for _, m := range t.All() {
		has := slices.ContainsFunc(append([]string{m.Name}, m.Synonyms...), func(n string) bool { return strings.Contains(strings.ToLower(n), strings.ToLower(find)) })
		if has && len(some) < mostMaterials && !slices.ContainsFunc(some, func(o material.Material) bool { return o.Name == m.Name }) {
			some = append(some, m)
		}
	}
	return some
}

func versionsOf(k recipebook.Recipe) keptRecipe {
	out := keptRecipe{Name: k.Name}
	var last recipe.Recipe
	for i, v := range k.Versions {
		one := keptVersion{Version: v}
		is, err := recipe.Parse(v.Text)
		if err == nil && i > 0 {
			for _, c := range recipe.Diff(last, is) {
				one.Changes = append(one.Changes, c.String())
			}
		}
		last = is
		out.Versions = append(out.Versions, one)
	}
	slices.Reverse(out.Versions)
	return out
}

// exported are the files in which all batches can be taken out.
var exported = map[string]struct{ as, kind string }{
	"batches.csv":  {"csv", "text/csv" + utf8},
	"batches.html": {"page", "text/html" + utf8},
}

// wantsComma reports whether a table is asked for with decimal commas.
func wantsComma(r *http.Request) bool { return r.URL.Query().Get("decimal") == "comma" }

func (s *site) getExport(w http.ResponseWriter, r *http.Request) {
	name := r.PathValue("file")
	e, known := exported[name]
	if !known || s.cfg.Archive == nil {
		refuse(w, r, http.StatusNotFound, text.New("page.api.no-file"))
		return
	}
	begun := &begin{w: w, first: func() {
		h := w.Header()
		h.Set("Content-Type", e.kind)
		h.Set("Content-Disposition", mime.FormatMediaType("attachment", map[string]string{"filename": name}))
		h.Set("Cache-Control", "no-store")
	}}
	if e.as == "csv" && wantsComma(r) {
		e.as += "-comma"
	}
	err := s.cfg.Archive.Export(begun, e.as, r.URL.Query()["without"])
	switch {
	case err == nil || r.Context().Err() != nil:
	case begun.first != nil: // nothing went out
		refuse(w, r, s.status(r, err), text.Of(err))
	default:
		s.cfg.Log.Error().Err(err).Str("file", name).Msg("export")
		panic(http.ErrAbortHandler) // half a file must not look like a whole one
	}
}

// begin says what comes when the first of it does.
type begin struct {
	w     http.ResponseWriter
	first func()
}

func (b *begin) Write(p []byte) (int, error) {
	if b.first != nil {
		b.first()
		b.first = nil
	}
	return b.w.Write(p)
}

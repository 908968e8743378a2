package web

import (
	"context"
	"errors"
	"net/http"
	"slices"
	"strings"

	"tared/session"
	"tared/session/plan"
	"tared/session/recipebook"
	"tared/session/sheet"
	"tared/session/text"
)

// sheetPage is what a sheet can be made of.
type sheetPage struct {
	Samples []Sample
	Kept    []recipebook.Recipe
	Lots    []lotRow
}

func sheetData(s *site, r *http.Request) (any, error) {
	all, err := s.shelf(r)
	return sheetPage{s.cfg.Samples, all.Recipes, all.Lots}, err
}

// planned is a sheet as the page shows it.
type planned struct {
	sheet.Sheet
	Ordered bool // the order is a person's
	lots    []lotRow
}

// Choice are the lots between which a person can choose for a material; none where
// there is but one.
func (p planned) Choice(of sheet.Lot) []lotRow {
	same := slices.DeleteFunc(slices.Clone(p.lots), func(l lotRow) bool { return l.Mark != of.Lot && !slices.Contains(of.Others, l.Mark) })
	if len(same) < 2 {
		return nil
	}
	return same
}

// FirstUnknown reports whether a cup is the first to get a material that no table knows.
func (p planned) FirstUnknown(cup int, material string) bool {
	for i, c := range p.Cups {
		for _, l := range c.All() {
			if l.Material == material && l.Unknown {
				return i == cup
			}
		}
	}
	return false
}

// warning is what is dangerous about materials of which the same is to be said.
type warning struct {
	Materials, Hazards []string
}

// Warnings are the hazards of the materials, each said once.
func (p planned) Warnings() (all []warning) {
	for _, l := range p.Hazardous() {
		k := slices.IndexFunc(all, func(w warning) bool { return slices.Equal(w.Hazards, l.Hazards) })
		if k < 0 {
			k, all = len(all), append(all, warning{Hazards: l.Hazards})
		}
		all[k].Materials = append(all[k].Materials, l.Material)
	}
	return all
}

// plan makes a sheet, as JSON.
func (s *site) plan(ctx context.Context, p plan.Request) (any, error) {
	sh, err := s.cfg.Bench.Plan(ctx, plannedIn(p))
	if err != nil {
		return nil, unplanned{err}
	}
	return sh, nil
}

// postSheet makes a sheet, drawn for its page.
func (s *site) postSheet(t *drawings) http.HandlerFunc {
	return func(w http.ResponseWriter, r *http.Request) {
		var p plan.Request
		if !read(w, r, &p) {
			return
		}
		sh, err := s.cfg.Bench.Plan(r.Context(), plannedIn(p))
		if err != nil {
			s.done(w, r, nil, unplanned{err})
			return
		}
		all, err := s.shelf(r)
		if err != nil {
			s.done(w, r, nil, err)
			return
		}
		if b := s.draw(w, r, t.of(languageOf(r)), "result", planned{sh, p.Order != nil, all.Lots}); b != nil {
			write(w, http.StatusOK, ".html", b)
		}
	}
}

func (s *site) start(ctx context.Context, p plan.Request) (any, error) {
	if strings.TrimSpace(p.By) == "" {
		return nil, unplanned{text.Refuse("page.sheet.nobody")}
	}
	mark, err := s.cfg.Bench.Start(ctx, plannedIn(p))
	if err != nil && !errors.Is(err, session.ErrRefused) {
		err = unplanned{err}
	}
	return map[string]string{"mark": mark}, err
}

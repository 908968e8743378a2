// Package recipebook keeps recipes with their versions. Give it every fact with Add;
// nothing in it is ever changed, a new version stands after the old one.
package recipebook

import (
	"fmt"
	"slices"
	"strconv"
	"strings"
	"time"

	"tared/session/fact"
	"tared/session/recipe"
	"tared/session/text"
)

// Version is one version of a recipe.
type Version struct {
	Number uint64    `json:"version"`
	Seq    uint64    `json:"seq"`
	At     time.Time `json:"at"`
	By     string    `json:"by"`
	Text   string    `json:"text"`
	Hash   string    `json:"sha256"`
	Words  string    `json:"words,omitempty"`
}

// Recipe is a recipe with its versions, oldest first.
type Recipe struct {
	Name     string    `json:"name"`
	Versions []Version `json:"versions"`
}

// Newest is the last version.
func (k Recipe) Newest() Version { return k.Versions[len(k.Versions)-1] }

// Version gives one by its number.
func (k Recipe) Version(n uint64) (Version, error) {
	for _, v := range k.Versions {
		if v.Number == n {
			return v, nil
		}
	}
	return Version{}, text.Refuse("recipe.no-version", text.Name("name", k.Name), text.Number("version", strconv.FormatUint(n, 10)), text.Number("newest", strconv.FormatUint(k.Newest().Number, 10)))
}

// Book is all recipes that are kept, in the order in which they came. The zero
// value is empty.
type Book struct{ recipes []Recipe }

// Reads reports whether facts of a kind matter here.
func (b *Book) Reads(kind, _ string, _ time.Time, _ []byte) bool {
	return kind == (fact.Recipe{}).Kind()
}

// Add takes the next fact; one that is no recipe changes nothing.
func (b *Book) Add(f fact.Fact) {
	r, ok := f.Body.(fact.Recipe)
	if !ok {
		return
	}
	v := Version{r.Version, f.Seq, f.At, f.By, r.Text, r.Hash, r.Words}
	if i := b.index(r.Name); i >= 0 {
		b.recipes[i].Versions = append(b.recipes[i].Versions, v)
		return
	}
	b.recipes = append(b.recipes, Recipe{r.Name, []Version{v}})
}

func (b *Book) index(name string) int {
	return slices.IndexFunc(b.recipes, func(k Recipe) bool { return recipe.Key(k.Name) == recipe.Key(name) })
}

// All gives every recipe with its versions.
func (b *Book) All() []Recipe {
	out := make([]Recipe, 0, len(b.recipes))
	for _, k := range b.recipes {
		out = append(out, Recipe{k.Name, slices.Clone(k.Versions)})
	}
	return out
}

// Find gives a recipe by its name, without regard to case.
func (b *Book) Find(name string) (Recipe, bool) {
	if i := b.index(name); i >= 0 {
		return b.All()[i], true
	}
	return Recipe{}, false
}

// like finds a recipe by its name, or by a beginning that no other has.
func (b *Book) like(name string) (Recipe, bool) {
	if k, ok := b.Find(name); ok {
		return k, true
	}
	begin := recipe.Key(name)
	var found []Recipe
	for _, k := range b.recipes {
		if begin != "" && strings.HasPrefix(recipe.Key(k.Name), begin) {
			found = append(found, k)
		}
	}
	if len(found) != 1 {
		return Recipe{}, false
	}
	return found[0], true
}

// Read gives the version that "Tidewrack" (the newest) or "Tidewrack:2" names; the
// beginning of a name is enough where no other recipe has it.
func (b *Book) Read(name string) (Recipe, Version, error) {
	if k, ok := b.like(name); ok {
		return k, k.Newest(), nil
	}
	if i := strings.LastIndexByte(name, ':'); i > 0 {
		if n, err := strconv.ParseUint(strings.TrimSpace(name[i+1:]), 10, 64); err == nil {
			if k, ok := b.like(name[:i]); ok {
				v, err := k.Version(n)
				return k, v, err
			}
		}
	}
	names := make([]string, 0, len(b.recipes))
	for _, k := range b.recipes {
		names = append(names, k.Name)
	}
	if len(names) == 0 {
		return Recipe{}, Version{}, text.Refuse("recipe.none-kept", text.Name("name", name))
	}
	return Recipe{}, Version{}, text.Refuse("recipe.not-kept", text.Name("name", name), text.Names("names", names))
}

// Of names the kept version that has this text, such as "Tidewrack, version 3"; ""
// where none has.
func (b *Book) Of(hash string) string {
	for i := len(b.recipes) - 1; i >= 0; i-- {
		k := b.recipes[i]
		for j := len(k.Versions) - 1; j >= 0; j-- {
			if k.Versions[j].Hash == hash {
				return fmt.Sprintf("%s, version %d", k.Name, k.Versions[j].Number)
			}
		}
	}
	return ""
}

// Package folder keeps recipes with their versions. Give it every fact with Add;
// nothing in it is ever changed, a new version stands after the old one.
package folder

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

// Kept is a recipe with its versions, oldest first.
type Kept struct {
	Name     string    `json:"name"`
	Versions []Version `json:"versions"`
}

// Newest is the last version.
func (k Kept) Newest() Version { return k.Versions[len(k.Versions)-1] }

// Version gives one by its number.
func (k Kept) Version(n uint64) (Version, error) {
	for _, v := range k.Versions {
		if v.Number == n {
			return v, nil
		}
	}
	return Version{}, text.Refuse("recipe.no-version", text.Name("name", k.Name), text.Number("version", strconv.FormatUint(n, 10)), text.Number("newest", strconv.FormatUint(k.Newest().Number, 10)))
}

// Folder is all recipes that are kept, in the order in which they came. The zero
// value is empty.
type Folder struct{ kept []Kept }

// Add takes the next fact; one that is no recipe changes nothing.
func (f *Folder) Add(x fact.Fact) {
	r, ok := x.Body.(fact.Recipe)
	if !ok {
		return
	}
	v := Version{r.Version, x.Seq, x.At, x.By, r.Text, r.Hash, r.Words}
	if i := f.index(r.Name); i >= 0 {
		f.kept[i].Versions = append(f.kept[i].Versions, v)
		return
	}
	f.kept = append(f.kept, Kept{r.Name, []Version{v}})
}

func (f *Folder) index(name string) int {
	return slices.IndexFunc(f.kept, func(k Kept) bool { return recipe.Key(k.Name) == recipe.Key(name) })
}

// All gives every recipe with its versions.
func (f *Folder) All() []Kept {
	out := make([]Kept, 0, len(f.kept))
	for _, k := range f.kept {
		out = append(out, Kept{k.Name, slices.Clone(k.Versions)})
	}
	return out
}

// Find gives a recipe by its name, without regard to case.
func (f *Folder) Find(name string) (Kept, bool) {
	if i := f.index(name); i >= 0 {
		return f.All()[i], true
	}
	return Kept{}, false
}

// like finds a recipe by its name, or by a beginning that no other has.
func (f *Folder) like(name string) (Kept, bool) {
	if k, ok := f.Find(name); ok {
		return k, true
	}
	begin := recipe.Key(name)
	var found []Kept
	for _, k := range f.kept {
		if begin != "" && strings.HasPrefix(recipe.Key(k.Name), begin) {
			found = append(found, k)
		}
	}
	if len(found) != 1 {
		return Kept{}, false
	}
	return found[0], true
}

// Read gives the version that "Tidewrack" (the newest) or "Tidewrack:2" names; the
// beginning of a name is enough where no other recipe has it.
func (f *Folder) Read(name string) (Kept, Version, error) {
	if k, ok := f.like(name); ok {
		return k, k.Newest(), nil
	}
	if i := strings.LastIndexByte(name, ':'); i > 0 {
		if n, err := strconv.ParseUint(strings.TrimSpace(name[i+1:]), 10, 64); err == nil {
			if k, ok := f.like(name[:i]); ok {
				v, err := k.Version(n)
				return k, v, err
			}
		}
	}
	names := make([]string, 0, len(f.kept))
	for _, k := range f.kept {
		names = append(names, k.Name)
	}
	if len(names) == 0 {
		return Kept{}, Version{}, text.Refuse("recipe.none-kept", text.Name("name", name))
	}
	return Kept{}, Version{}, text.Refuse("recipe.not-kept", text.Name("name", name), text.Names("names", names))
}

// Of names the kept version that has this text, such as "Tidewrack, version 3"; ""
// where none has.
func (f *Folder) Of(hash string) string {
	for i := len(f.kept) - 1; i >= 0; i-- {
		k := f.kept[i]
		for j := len(k.Versions) - 1; j >= 0; j-- {
			if k.Versions[j].Hash == hash {
				return fmt.Sprintf("%s, version %d", k.Name, k.Versions[j].Number)
			}
		}
	}
	return ""
}

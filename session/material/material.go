// Package material knows the materials of the glaze bench: what a name on a bag
// means, whether a little of it changes a glaze, how dense it is, what it is
// made of, and what to say about its dust before the bag is opened.
//
// The table is embedded as table.json; every figure in it carries its source.
// Default gives it; Overlay lays a user's own file over it. Lookup finds a
// material by name, Suggest guesses what a mistyped name meant, Reminder writes
// the lines for a batch. ParseFormula, Formula and Convert reckon with atomic
// weights, exactly.
//
// Nothing here says that a glaze is safe. The lines are reminders and defer to
// the supplier's safety data sheet and the local code.
package material

import (
	_ "embed"
	"encoding/json"
	"errors"
	"io"
	"math/big"
	"slices"
	"strings"
	"sync"

	"tared/protocol"
	"tared/session/text"
)

// Kind says what a material does in a glaze or a slip.
type Kind string

// The kinds. The first group are base materials, the second additions.
const (
	Clay        Kind = "clay"
	Feldspar    Kind = "feldspar"
	GlassFormer Kind = "glass-former"
	Flux        Kind = "flux"
	Alumina     Kind = "alumina"
	Frit        Kind = "frit"
	Opacifier   Kind = "opacifier"
	Colourant   Kind = "colourant"
	Suspender   Kind = "suspender"
)

func kindNames() (all []string) {
	for _, k := range kinds {
		all = append(all, string(k))
	}
	return all
}

var kinds = []Kind{Clay, Feldspar, GlassFormer, Flux, Alumina, Frit, Opacifier, Colourant, Suspender}

// Material is one entry of the table.
type Material struct {
	Name     string   `json:"name"`
	Synonyms []string `json:"synonyms,omitempty"`
	Kind     Kind     `json:"kind"`
	// Strong marks a strong colourant: tenths of a percent change the glaze. The
	// table counts cobalt, copper, chromium, nickel and vanadium compounds and
	// iron chromate as strong; iron, manganese, rutile, titania and stains are
	// used by the percent and are not (common practice, no source).
	Strong bool `json:"strong,omitempty"`
	// Family takes in names that end in this one, as "Custer feldspar" or
	// "Frit 3134" do.
	Family  bool     `json:"family,omitempty"`
	Density Figure   `json:"density,omitzero"` // relative density of the dry material
	Formula string   `json:"formula,omitempty"`
	Limits  []Said   `json:"limits,omitempty"`   // air limits, each with body and year
	Codes   []string `json:"codes,omitempty"`    // GHS hazard statements
	CodesBy string   `json:"codes_by,omitempty"` // source of Codes
	Lines   []Said   `json:"lines,omitempty"`    // what to remind of
	Soluble string   `json:"soluble,omitempty"`  // "", slightly, partly, yes
	Caustic bool     `json:"caustic,omitempty"`  // its solution attacks skin
	Blocked string   `json:"blocked,omitempty"`  // why no sheet is made with it
	Note    string   `json:"note,omitempty"`

	said []string // HazardLines, put together once for the table
}

// Figure is a number with its source.
type Figure struct {
	Value  *big.Rat
	Source string
}

// Said is a sentence with its source.
type Said struct {
	Words  string `json:"words"`
	Source string `json:"source"`
}

// IsZero tells that the figure is not known.
func (f Figure) IsZero() bool { return f.Value == nil }

type figure struct {
	Value  string `json:"value"`
	Source string `json:"source"`
}

// MarshalJSON writes the value as a decimal string.
func (f Figure) MarshalJSON() ([]byte, error) {
	n, _ := f.Value.FloatPrec()
	return json.Marshal(figure{f.Value.FloatString(n), f.Source})
}

// UnmarshalJSON reads a decimal string and its source; both must be there.
func (f *Figure) UnmarshalJSON(b []byte) error {
	var g figure
	if err := json.Unmarshal(b, &g); err != nil {
		return text.Kind(err, text.Refuse("material.figure", text.Name("figure", string(b)), text.Name("form", `{"value":"2.65","source":"…"}`), text.Because("why", err)))
	}
	d, err := protocol.ParseDecimal(g.Value)
	if err != nil {
		return text.Kind(err, text.Refuse("material.figure-number", text.Because("why", err)))
	}
	if strings.TrimSpace(g.Source) == "" {
		return text.Refuse("material.figure-source", text.Number("figure", g.Value))
	}
	f.Value, _ = new(big.Rat).SetString(d.String())
	f.Source = g.Source
	return nil
}

// Solid gives the relative density and reports whether the table knows it. Where
// it does not, 2.6 stands in: most clays and feldspars are near it (GTZ, Forming
// Techniques for the Self-Reliant Potter, 1991: 2.5; Handbook for Australian
// Potters: 2.5 to 2.65).
func (m Material) Solid() (density *big.Rat, known bool) {
	if m.Density.IsZero() {
		return big.NewRat(26, 10), false
	}
	return m.Density.Value, true
}

// Table is a set of materials. The zero value is empty. It is not changed after
// it is made and may be used by many goroutines.
type Table struct {
	all  []Material
	keys map[string]int // normal form of name or synonym to index in all
	// families are the normal forms that take in longer names, longest first.
	families []string
}

//go:embed table.json
var embedded []byte

var standard = sync.OnceValue(func() *Table {
	t, err := (&Table{}).Overlay(strings.NewReader(string(embedded)))
	if err != nil {
		panic("material: embedded table: " + err.Error()) // a test reads it
	}
	return t
})

// Default gives the embedded table.
func Default() *Table { return standard() }

// Lookup finds a material of the embedded table by any of its names.
func Lookup(name string) (Material, bool) { return Default().Lookup(name) }

// All gives the materials in the order of the table.
func (t *Table) All() []Material { return slices.Clone(t.all) }

// file is the form of the table and of a user's own file.
type file struct {
	Materials []Material `json:"materials"`
}

// ErrFile is in the chain of every error about a materials file.
var ErrFile = errors.New("materials file")

// Overlay reads a user's file, {"materials":[…]}, and gives a new table in which
// its entries stand before those of t: an entry with the name of one that is
// there replaces it whole, so a block is lifted by an entry without "blocked".
// Every entry is checked, and all faults are reported together.
func (t *Table) Overlay(r io.Reader) (*Table, error) {
	dec := json.NewDecoder(r)
	dec.DisallowUnknownFields()
	var f file
	if err := dec.Decode(&f); err != nil {
		return nil, text.Kind(errors.Join(ErrFile, err), text.Refuse("material.file", text.Because("why", err)))
	}
	if _, err := dec.Token(); err != io.EOF {
		return nil, text.Kind(ErrFile, text.Refuse("material.file-behind"))
	}
	var errs []error
	n := &Table{keys: map[string]int{}}
	replaced := map[string]bool{}
	for i, m := range f.Materials {
		faults := m.check()
		for _, err := range faults {
			errs = append(errs, text.Kind(errors.Join(ErrFile, err), text.Refuse("material.file-entry", text.Count("entry", i+1), text.Name("material", m.Name), text.Because("why", err))))
		}
		if len(faults) > 0 {
			continue
		}
		for _, name := range m.names() {
			k := normal(name)
			if j, ok := n.keys[k]; ok {
				if j == len(n.all) {
					continue // two spellings of one name in the same entry
				}
				errs = append(errs, text.Kind(ErrFile, text.Refuse("material.file-twice", text.Count("entry", i+1), text.Name("material", m.Name), text.Name("name", name), text.Name("other", n.all[j].Name))))
				continue
			}
			n.keys[k] = len(n.all)
		}
		if old, ok := t.exact(m.Name); ok {
			replaced[old.Name] = true
		}
		m.said = m.hazardLines()
		n.all = append(n.all, m)
	}
	if len(errs) > 0 {
		return nil, errors.Join(errs...)
	}
	for _, m := range t.all {
		if replaced[m.Name] {
			continue
		}
		n.all = append(n.all, m)
		for _, name := range m.names() {
			if _, ok := n.keys[normal(name)]; !ok { // the user's word for it goes first
				n.keys[normal(name)] = len(n.all) - 1
			}
		}
	}
	for k, i := range n.keys {
		if n.all[i].Family {
			n.families = append(n.families, k)
		}
	}
	slices.SortFunc(n.families, func(a, b string) int {
		if len(a) != len(b) {
			return len(b) - len(a)
		}
		return strings.Compare(a, b)
	})
	return n, nil
}

func (m Material) names() []string { return append([]string{m.Name}, m.Synonyms...) }

func (m Material) check() (errs []error) {
	fail := func(err error) { errs = append(errs, err) }
	for _, n := range m.names() {
		if normal(n) == "" {
			fail(text.Refuse("material.name-letters", text.Name("name", n)))
		}
	}
	if !slices.Contains(kinds, m.Kind) {
		fail(text.Refuse("material.kind", text.Name("kind", string(m.Kind)), text.Names("kinds", kindNames())))
	}
	if !m.Density.IsZero() && (m.Density.Value.Cmp(big.NewRat(1, 1)) <= 0 || m.Density.Value.Cmp(big.NewRat(25, 1)) >= 0) {
		fail(text.Refuse("material.density", text.Number("density", m.Density.Value.FloatString(3))))
	}
	if m.Formula != "" {
		if _, err := ParseFormula(m.Formula); err != nil {
			fail(err)
		}
	}
	for _, c := range m.Codes {
		if !validCode(c) {
			fail(text.Refuse("material.code", text.Name("code", c)))
		}
	}
	if len(m.Codes) > 0 && strings.TrimSpace(m.CodesBy) == "" {
		fail(text.Refuse("material.code-source"))
	}
	for _, s := range slices.Concat(m.Limits, m.Lines) {
		if strings.TrimSpace(s.Words) == "" || strings.TrimSpace(s.Source) == "" {
			fail(text.Refuse("material.line-source", text.Name("words", s.Words)))
		}
	}
	if !slices.Contains([]string{"", "slightly", "partly", "yes"}, m.Soluble) {
		fail(text.Refuse("material.soluble", text.Name("soluble", m.Soluble)))
	}
	return errs
}

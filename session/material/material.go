// Package material knows the materials of the glaze bench: what a name on a bag
// means, in five languages, what is in the bag as it is sold, how dense it is, whether a
// little of it changes a glaze, and what to say about its dust before it is opened.
//
// The data is embedded, see data.go: every figure names its source, and the list of
// sources has it in full. Default gives the table; Overlay lays a user's own file over
// it. Lookup finds a material by name, by CAS number or by formula; a poison leads to
// the entry that blocks it. Suggest guesses what a mistyped name meant, and never
// leads from a poison to something harmless. Reminder writes the lines for a batch.
// ParseFormula, Formula and Convert reckon with atomic weights, exactly.
//
// Nothing here says that a glaze is safe. The lines are reminders and defer to
// the supplier's safety data sheet and the local code.
package material

import (
	"bytes"
	"encoding/json"
	"errors"
	"io"
	"math/big"
	"regexp"
	"slices"
	"strings"
	"sync"

	"tared/protocol"
	"tared/session/plain"
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
	Additive    Kind = "additive" // an addition that neither colours nor keeps the glaze in suspension
)

func kindNames() (all []string) {
	for _, k := range kinds {
		all = append(all, string(k))
	}
	return all
}

var kinds = []Kind{Clay, Feldspar, GlassFormer, Flux, Alumina, Frit, Opacifier, Colourant, Suspender, Additive}

// Material is one entry of the table.
type Material struct {
	Name     string   `json:"name"`
	Synonyms []string `json:"synonyms,omitempty"`
	Kind     Kind     `json:"kind"`
	// CAS are the registry numbers of what is sold under the name.
	CAS []string `json:"cas,omitempty"`
	// Strong marks what changes the glaze by tenths of a percent: compounds of cobalt,
	// copper, chromium, nickel and vanadium, and silicon carbide. Iron, manganese,
	// rutile, titania and stains are used by the percent (common practice, no source).
	Strong bool `json:"strong,omitempty"`
	// Means are the names of several entries, where the name alone does not tell which
	// of them is in the bag: then a person must be asked.
	Means   []string `json:"means,omitempty"`
	Formula string   `json:"formula,omitempty"` // as sold, with its water; empty: it has none of its own
	Leaves  string   `json:"leaves,omitempty"`  // formula of what the fire leaves of it
	Metal   Span     `json:"metal,omitzero"`    // how much of its metal the bags hold, in percent
	Sold    Said     `json:"sold,omitzero"`     // in what form it is sold
	Density Figure   `json:"density,omitzero"`  // relative density of the dry material
	Says    []string `json:"says,omitempty"`    // lines by their key in lines.json
	Air     []string `json:"air,omitempty"`     // limits by their key in limits.json
	Limits  []Said   `json:"limits,omitempty"`  // air limits, each with body and year
	// CLP is the index number of its row in the EU list; "none" where the list of the
	// 23rd adaptation has none, "none17" where that of the 17th has none.
	CLP       string   `json:"clp,omitempty"`
	Codes     []string `json:"codes,omitempty"`     // GHS hazard statements
	CodesBy   string   `json:"codes_by,omitempty"`  // source of Codes
	Australia []string `json:"australia,omitempty"` // hazard statements there, where they differ
	Lines     []Said   `json:"lines,omitempty"`     // what to remind of
	InWater
	Caustic bool   `json:"caustic,omitempty"` // its solution attacks skin
	Band    string `json:"band,omitempty"`    // how far a weighing may be off: 10%, 0.1g; empty: as its role
	Blocked string `json:"blocked,omitempty"` // why no sheet is made with it
	Note    string `json:"note,omitempty"`

	said []string     // HazardLines in English, put together once for the table
	air  []limit      // those of Air, the last of Limits
	row  text.Message // of the EU list, from which Codes are
	none text.Message // that the EU list has no row for it
	own  bool         // from a user's file
}

// InWater is what becomes of a material in water.
type InWater struct {
	Soluble string `json:"soluble,omitempty"` // "", slightly, partly, yes (over 3 g in 100 ml of water)
	// Solubility is how many grams 100 ml of water take up at 20 °C, where that is published.
	Solubility Figure `json:"solubility,omitzero"`
	Liquid     bool   `json:"liquid,omitempty"` // sold in water, and takes any more of it
}

func (w InWater) check() (errs []error) {
	if !w.Solubility.IsZero() && w.Solubility.Value.Sign() <= 0 {
		errs = append(errs, text.Refuse("material.solubility", text.Number("solubility", w.Solubility.Value.FloatString(3))))
	}
	if !slices.Contains([]string{"", "slightly", "partly", "yes"}, w.Soluble) {
		errs = append(errs, text.Refuse("material.soluble", text.Name("soluble", w.Soluble)))
	}
	return errs
}

// Various tells that one name stands for bags that are not the same: clays, feldspars,
// frits, and all that has no formula.
func (m Material) Various() bool {
	return m.Formula == "" || slices.Contains([]Kind{Clay, Feldspar, Frit, Suspender}, m.Kind)
}

// Dissolves gives how many grams of the material 100 g of water are given at most, so that
// it stays clear in a cold room: half of the published solubility (ours); where none is
// known, the 3 g from which on the table calls it soluble; nil where it takes any more water.
// False: no solution is made of it, for it does not dissolve or not all of it does.
func (m Material) Dissolves() (most *big.Rat, ok bool) {
	switch {
	case m.Liquid:
		return nil, true
	case !m.Solubility.IsZero():
		return new(big.Rat).Quo(m.Solubility.Value, big.NewRat(2, 1)), true
	case m.Soluble == "yes":
		return big.NewRat(3, 1), true
	}
	return nil, false
}

// Loss gives the loss on ignition as a share of the mass, 0 to 1, from the formula and
// what the fire leaves; false where either is not known.
func (m Material) Loss() (*big.Rat, bool) {
	raw, err := ParseFormula(m.Formula)
	left, err2 := ParseFormula(m.Leaves)
	if err != nil || err2 != nil {
		return nil, false
	}
	e := left.order[0]
	stays := new(big.Rat).Mul(left.Molar(), big.NewRat(raw.atoms[e], left.atoms[e]))
	stays.Quo(stays, raw.Molar())
	return stays.Sub(big.NewRat(1, 1), stays), true
}

// Span is a range with its source.
type Span struct {
	Low    string `json:"low"`
	High   string `json:"high"`
	Source string `json:"source"`
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

// digits writes the value with all the decimals that it has.
func (f Figure) digits() string {
	n, _ := f.Value.FloatPrec()
	return f.Value.FloatString(n)
}

type figure struct {
	Value  string `json:"value"`
	Source string `json:"source"`
}

// MarshalJSON writes the value as a decimal string.
func (f Figure) MarshalJSON() ([]byte, error) {
	return json.Marshal(figure{f.digits(), f.Source})
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
	keys map[string]int // key of a name, CAS number or formula to index in all
	near []spelled      // every name, to guess by
}

var standard = sync.OnceValue(func() *Table {
	f, err := embedded.Open("data/materials.json")
	if err == nil {
		defer f.Close()
		var t *Table
		if t, err = (&Table{}).Overlay(f); err == nil {
			for i := range t.all {
				t.all[i].own = false
			}
			return t
		}
	}
	panic("material: embedded table: " + err.Error()) // a test reads it
})

// Default gives the embedded table.
func Default() *Table { return standard() }

// Or gives the table, or the embedded one where it is nil.
func (t *Table) Or() *Table {
	if t == nil {
		return Default()
	}
	return t
}

// All gives the materials in the order of the table.
func (t *Table) All() []Material { return slices.Clone(t.all) }

// file is the form of the table and of a user's own file.
type file struct {
	Materials []Material `json:"materials"`
}

// mostBytes bounds a materials file; ours has some 100 kB.
const mostBytes = 8 << 20

// ErrFile is in the chain of every error about a materials file.
var ErrFile = errors.New("materials file")

// Overlay reads a user's file, {"materials":[…]}, and gives a new table in which
// its entries stand before those of t: an entry with the name of one that is
// there replaces it whole, so a block is lifted by an entry without "blocked".
// Every entry is checked, and all faults are reported together.
func (t *Table) Overlay(r io.Reader) (*Table, error) {
	b, err := plain.Read(r, mostBytes)
	if err != nil {
		return nil, text.Kind(errors.Join(ErrFile, err), err)
	}
	dec := json.NewDecoder(bytes.NewReader(b))
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
		for _, err := range n.add(m) {
			errs = append(errs, text.Kind(errors.Join(ErrFile, err), text.Refuse("material.file-entry", text.Count("entry", i+1), text.Name("material", m.Name), text.Because("why", err))))
		}
		if old, ok := t.exact(m.Name); ok {
			replaced[old.Name] = true
		}
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
			n.also(shelf().key(words(name), false), len(n.all)-1) // the user's word for it goes first
		}
	}
	n.index()
	return n, nil
}

// add puts an entry of a user's file into the table and gives all that is wrong with it.
func (t *Table) add(m Material) (errs []error) {
	if errs = append(shelf().expand(&m), m.check()...); len(errs) > 0 {
		return errs
	}
	for _, name := range m.names() {
		k := shelf().key(words(name), false)
		if j, ok := t.keys[k]; !ok {
			t.keys[k] = len(t.all)
		} else if j != len(t.all) { // two spellings of one name in the same entry are no fault
			errs = append(errs, text.Refuse("material.file-twice", text.Name("name", name), text.Name("other", t.all[j].Name)))
		}
	}
	m.said, m.own = m.hazardLines(nil), true
	t.all = append(t.all, m)
	return errs
}

// index adds what a material is found by beside the keys of its names.
func (t *Table) index() {
	for i, m := range t.all {
		for _, cas := range m.CAS {
			t.also(shelf().key(words(cas), false), i)
		}
		if k := formulaKey(m.Formula); k != "" && len(m.Means) == 0 {
			t.also(k, i)
			t.also(strings.ToLower(capitals(m.Formula)), i)
		}
	}
	ends := map[string]int{}
	for k, i := range t.keys {
		if t.all[i].Blocked != "" {
			continue // a poison has its ends among the dangers
		}
		if j, ok := ends[loose(k)]; ok && j != i {
			i = -1 // it could be either
		}
		ends[loose(k)] = i
	}
	for k, i := range ends {
		if i >= 0 {
			t.keys[k] = i
		}
	}
	for i, m := range t.all {
		for _, name := range m.names() {
			t.keys[asWritten(name)] = t.keys[shelf().key(words(name), false)]
			t.near = append(t.near, spelled{i, name, strings.Join(letters(name), " "), words(name)})
		}
	}
}

// also adds a key unless it is there.
func (t *Table) also(key string, i int) {
	if _, ok := t.keys[key]; !ok {
		t.keys[key] = i
	}
}

func (m Material) names() []string { return append([]string{m.Name}, m.Synonyms...) }

// bandForm is how a band is written: as --allow takes it.
var bandForm = regexp.MustCompile(`^[0-9]+(?:[.][0-9]+)?(?:%|mg|g)$`)

func (m Material) check() (errs []error) {
	fail := func(err error) { errs = append(errs, err) }
	for _, n := range m.names() {
		if shelf().key(words(n), false) == "" {
			fail(text.Refuse("material.name-letters", text.Name("name", n)))
		}
	}
	if !slices.Contains(kinds, m.Kind) {
		fail(text.Refuse("material.kind", text.Name("kind", string(m.Kind)), text.Names("kinds", kindNames())))
	}
	if !m.Density.IsZero() && (m.Density.Value.Cmp(big.NewRat(1, 1)) <= 0 || m.Density.Value.Cmp(big.NewRat(25, 1)) >= 0) {
		fail(text.Refuse("material.density", text.Number("density", m.Density.Value.FloatString(3))))
	}
	for _, f := range []string{m.Formula, m.Leaves} {
		if _, err := ParseFormula(f); f != "" && err != nil {
			fail(err)
		}
	}
	if m.Band != "" && !bandForm.MatchString(m.Band) {
		fail(text.Refuse("material.band", text.Name("band", m.Band)))
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
	return append(errs, m.InWater.check()...)
}

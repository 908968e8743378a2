package material

import (
	"maps"
	"regexp"
	"slices"
	"strings"
	"unicode"

	"tared/session/text"
)

// Lookup finds a material by any of its names, whatever the order, case, accents and
// hyphens of its words, by its CAS number or by its formula; what only says how fine
// or how pure it is may stand beside it. A name or a formula that means a poison gives
// the entry that blocks it, or that of a stain that holds it bound, unless it says that
// it is free of it. A user's own entry goes before all that.
func (t *Table) Lookup(name string) (Material, bool) {
	if i, ok := t.keys[asWritten(name)]; ok {
		return t.all[i], true
	}
	ws := words(name)
	i, exact := t.keys[shelf().key(ws, false)]
	if exact && (t.all[i].own || shelf().formula(name) == "") {
		return t.all[i], true
	}
	number, numbered := t.keys[shelf().key(words(registered.FindString(name)), false)]
	if p := shelf().read(name); p != "" {
		m, ok := t.exact(p)
		m.Blocked = t.unlessMeant(name, m.Blocked)
		return m, ok
	} else if numbered && t.all[number].Blocked != "" {
		return t.all[number], true
	}
	plain := words(brackets.ReplaceAllString(name, " "))
	tries := []string{formulaKey(name)}
	for _, grades := range []bool{false, true} {
		for _, said := range [][]string{ws, plain} {
			k := shelf().key(said, grades)
			tries = append(tries, k, loose(k))
		}
	}
	for _, k := range tries {
		if i, ok := t.keys[k]; ok && k != "" {
			return t.all[i], true
		}
	}
	if numbered {
		return t.all[number], true
	}
	return t.ofWords(ws)
}

// ofWords finds a material by words that are its names only together, or apart.
func (t *Table) ofWords(ws []string) (Material, bool) {
	// A name that is one word in the table: Kali-Feldspat, Feldspat Kali.
	if len(ws) == 2 {
		for _, w := range []string{ws[0] + ws[1], ws[1] + ws[0]} {
			if i, ok := t.keys[shelf().key([]string{fold(w)}, false)]; ok {
				return t.all[i], true
			}
		}
	}
	// Two of its names, one behind the other: EPK kaolin.
	for n := 1; n < len(ws); n++ {
		i, ok := t.keys[shelf().key(ws[:n], true)]
		if j, ok2 := t.keys[shelf().key(ws[n:], true)]; ok && ok2 && i == j {
			return t.all[i], true
		}
	}
	return Material{}, false
}

// unlessMeant adds to why a name is blocked how a harmless formula is written that has the
// same letters: CUO is carbon, uranium and oxygen, and CuO is copper oxide. It stays blocked.
func (t *Table) unlessMeant(name, why string) string {
	for _, w := range pieces(name) {
		f, err := ParseFormula(w)
		if err != nil || f.Poison() == "" || w != strings.ToUpper(w) || len(w) > 20 {
			continue
		}
		meant := ""
		for _, s := range spellings(w) {
			g, err := ParseFormula(s)
			if err != nil || shelf().read(strings.ReplaceAll(name, w, s)) != "" {
				continue
			}
			if i, ok := t.keys[formulaKey(s)]; ok && t.all[i].Blocked == "" {
				return text.New("material.meant", text.Name("why", why), text.Name("name", t.all[i].Name), text.Name("formula", s)).String()
			}
			if meant == "" && g.balanced() {
				meant = s
			}
		}
		if meant != "" {
			return text.New("material.meant", text.Name("why", why), text.Name("name", meant), text.Name("formula", meant)).String()
		}
	}
	return why
}

// registered is a CAS number.
var registered = regexp.MustCompile(`\b\d{2,7}-\d\d-\d\b`)

var brackets = regexp.MustCompile(`[(\[][^)\]]*[)\]]`)

// asWritten is the key of a name as it stands in the table, which most are.
func asWritten(name string) string { return "=" + strings.ToLower(name) }

func (t *Table) exact(name string) (Material, bool) {
	i, ok := t.keys[shelf().key(words(name), false)]
	if !ok {
		return Material{}, false
	}
	return t.all[i], true
}

// formulaKey is the key of a formula, by what it is made of; "" where it is none.
func formulaKey(s string) string {
	if f, err := ParseFormula(s); err == nil && (len(f.order) > 1 || f.atoms[f.order[0]] > 1) {
		return f.made()
	}
	return ""
}

// Suggest gives at most three known names that are a few typing faults away from this
// one, nearest first, or that stand in it; none when nothing is near or the name is
// known. It never leads from what may be a poison to what is none, nor to a poison.
func (t *Table) Suggest(name string) []string {
	if _, ok := t.Lookup(name); ok || formulaKey(name) != "" || strings.ContainsFunc(name, unicode.IsDigit) && !strings.ContainsFunc(strings.TrimSpace(name), unicode.IsSpace) {
		return nil
	}
	ws := words(name)
	k := strings.Join(letters(name), " ")
	if len(k) < 3 || slices.ContainsFunc(ws, shelf().nearly) {
		return nil
	}
	best, poison := t.nearest(k, 1+len([]rune(k))/6)
	if len(best) == 0 && !poison {
		best = t.within(ws)
	}
	ns := slices.SortedFunc(maps.Values(best), func(a, b guess) int {
		if a.far != b.far {
			return a.far - b.far
		}
		return strings.Compare(a.name, b.name)
	})
	var out []string
	for _, n := range ns[:min(len(ns), 3)] {
		out = append(out, n.name)
	}
	return out
}

// spelled is a name of the entry with that index: in small letters, and its words.
type spelled struct {
	i           int
	name, plain string
	words       []string
}

// guess is a name that may be meant; the less far the better.
type guess struct {
	name string
	far  int
}

// nearest gives the best name of each entry so many typing faults away, none of a
// poison, nor one that a poison is almost as near as; and whether one is near at all.
func (t *Table) nearest(k string, most int) (best map[int]guess, near bool) {
	best = map[int]guess{}
	poison := 2 * most
	for _, s := range t.near {
		d := distance(k, s.plain, most)
		if d > most || shelf().other(k, s.plain) {
			continue
		}
		if t.all[s.i].Blocked != "" {
			poison, near = min(poison, d), true
			continue
		}
		if b, ok := best[s.i]; !ok || d < b.far || d == b.far && s.name < b.name {
			best[s.i] = guess{s.name, d}
		}
	}
	maps.DeleteFunc(best, func(_ int, g guess) bool { return near && poison <= g.far+1 })
	return best, near
}

// within gives the longest name of each entry all of whose words stand in the name.
func (t *Table) within(ws []string) map[int]guess {
	best := map[int]guess{}
	for _, s := range t.near {
		all := t.all[s.i].Blocked == ""
		for _, w := range s.words {
			all = all && slices.Contains(ws, w)
		}
		if b, ok := best[s.i]; all && (!ok || -len(s.words) < b.far) {
			best[s.i] = guess{s.name, -len(s.words)}
		}
	}
	return best
}

// nearly tells whether a word may be that of a poison with a typing fault.
func (d *dangers) nearly(w string) bool {
	if len(w) < 4 {
		return false
	}
	for _, g := range d.groups {
		for _, p := range g.words {
			core := strings.Trim(p[0], "*")
			if len(p) > 1 || len(core) < 4 {
				continue
			}
			most := 1
			if len(core) > 7 {
				most = 2
			}
			head := w
			if strings.HasSuffix(p[0], "*") {
				head = w[:min(len(w), len(core))]
			}
			if distance(head, core, most) <= most {
				return true
			}
		}
	}
	return false
}

// distance counts the letters to put in, take out, change or swap to make b of
// a (optimal string alignment); anything over most is as good as most+1.
func distance(a, b string, most int) int {
	x, y := []rune(a), []rune(b)
	if len(x)-len(y) > most || len(y)-len(x) > most {
		return most + 1
	}
	two, one := make([]int, len(y)+1), make([]int, len(y)+1)
	for j := range one {
		one[j] = j
	}
	for i := 1; i <= len(x); i++ {
		row := make([]int, len(y)+1)
		row[0] = i
		for j := 1; j <= len(y); j++ {
			cost := 1
			if x[i-1] == y[j-1] {
				cost = 0
			}
			row[j] = min(row[j-1]+1, one[j]+1, one[j-1]+cost)
			if i > 1 && j > 1 && x[i-1] == y[j-2] && x[i-2] == y[j-1] {
				row[j] = min(row[j], two[j-2]+1)
			}
		}
		two, one = one, row
	}
	return one[len(y)]
}

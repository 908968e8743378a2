package material

import (
	"regexp"
	"slices"
	"strings"
	"unicode"
)

var (
	brackets  = regexp.MustCompile(`[(\[][^)\]]*[)\]]`)
	valence   = regexp.MustCompile(`^\((?:[iv]+[, ]*)+\)$`)
	qualifier = regexp.MustCompile(`^(?:\d+(?:mesh|m|µm|um)?|mesh|fine|coarse|powder|powdered|ground|raw|pure|dry|grade|no|nr)$`)
	short     = map[string]string{
		"carb": "carbonate", "carbonat": "carbonate", "ox": "oxide", "neph": "nepheline", "sye": "syenite", "syn": "syenite",
		"di": "dioxide", "spar": "feldspar", "felspar": "feldspar", "sulphate": "sulfate", "sulphide": "sulfide",
		"aluminum": "aluminium", "colemite": "colemanite", "kaolins": "kaolin", "dichromat": "dichromate", "bichromate": "dichromate",
	}
)

// normal is the form in which two spellings of a name are the same: lower case,
// letters and digits only, common short forms written out.
func normal(name string) string {
	s := strings.ToLower(name)
	if strings.ContainsAny(s, "([") {
		s = brackets.ReplaceAllStringFunc(s, func(b string) string {
			if valence.MatchString(b) {
				return b // copper(I) oxide and copper(II) oxide differ
			}
			return " "
		})
	}
	s = strings.Map(func(r rune) rune {
		switch {
		case unicode.IsLetter(r), unicode.IsDigit(r):
			return r
		case r == '\'', r == '’':
			return -1
		}
		return ' '
	}, s)
	w := strings.Fields(s)
	for i := range w {
		if long, ok := short[w[i]]; ok {
			w[i] = long
		}
	}
	return strings.Join(w, " ")
}

func (t *Table) exact(name string) (Material, bool) {
	i, ok := t.keys[normal(name)]
	if !ok {
		return Material{}, false
	}
	return t.all[i], true
}

// Lookup finds a material by any of its names, without regard to case,
// punctuation, mesh sizes and what stands in brackets. A name that is not in the
// table but says lead, cadmium, dichromate or vanadium is taken for the blocked
// material of that sort, unless it says that it is free of it.
func (t *Table) Lookup(name string) (Material, bool) {
	// What stands in brackets counts first: "(encapsulated)", "(lead free)".
	all := normal(opened.Replace(name))
	if i, ok := t.keys[all]; ok {
		return t.all[i], true
	}
	if m, ok := t.dangerous(strings.Fields(all)); ok {
		return m, true
	}
	if m, ok := t.exact(name); ok {
		return m, true
	}
	w := strings.Fields(normal(name))
	w = slices.DeleteFunc(w, qualifier.MatchString)
	if i, ok := t.keys[strings.Join(w, " ")]; ok {
		return t.all[i], true
	}
	s := " " + strings.Join(w, " ")
	for _, f := range t.families {
		if strings.HasSuffix(s, " "+f) || strings.HasPrefix(s, " "+f+" ") && t.all[t.keys[f]].Kind == Frit {
			return t.all[t.keys[f]], true
		}
	}
	return Material{}, false
}

var opened = strings.NewReplacer("(", " ", ")", " ", "[", " ", "]", " ")

// dangers are words in a name that lead to the blocked entry.
var dangers = [][2]string{
	{"lead", "lead compounds"}, {"litharge", "lead compounds"}, {"galena", "lead compounds"},
	{"cadmium", "cadmium pigment"}, {"dichromate", "potassium dichromate"}, {"vanadium", "vanadium pentoxide"},
}

func (t *Table) dangerous(w []string) (Material, bool) {
	for _, d := range dangers {
		i := slices.Index(w, d[0])
		if i < 0 {
			continue
		}
		if i+1 < len(w) && w[i+1] == "free" || i > 0 && (w[i-1] == "no" || w[i-1] == "without") {
			continue
		}
		if d[0] == "cadmium" && (slices.Contains(w, "encapsulated") || slices.Contains(w, "inclusion")) && !slices.Contains(w, "not") {
			return t.exact("encapsulated cadmium stain")
		}
		// A zirconium-vanadium stain holds no free pentoxide.
		if d[0] == "vanadium" && slices.Contains(w, "stain") {
			continue
		}
		return t.exact(d[1])
	}
	return Material{}, false
}

// Suggest gives at most three known names that are a few typing faults away
// from this one, nearest first; none when nothing is near or the name is known.
func (t *Table) Suggest(name string) []string {
	k := normal(name)
	if _, ok := t.keys[k]; ok || len(k) < 3 {
		return nil
	}
	far := 1 + len([]rune(k))/6
	type near struct {
		name string
		far  int
	}
	best := map[int]near{}
	for key, i := range t.keys {
		d := distance(k, key, far)
		if d > far {
			continue
		}
		said := t.all[i].Name
		for _, n := range t.all[i].names() {
			if normal(n) == key {
				said = n
				break
			}
		}
		if b, ok := best[i]; !ok || d < b.far || d == b.far && said < b.name {
			best[i] = near{said, d}
		}
	}
	var ns []near
	for _, n := range best {
		ns = append(ns, n)
	}
	slices.SortFunc(ns, func(a, b near) int {
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

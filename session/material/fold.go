package material

import (
	"regexp"
	"slices"
	"strings"
	"unicode"

	"golang.org/x/text/unicode/norm"
)

// spelling is what different hands and languages write differently: what is left of a
// word when that is taken away says whether two are the same.
var spelling = strings.NewReplacer("chalk", "chalq", "ß", "ss", "æ", "a", "œ", "o", "tz", "c", "sch", "sc", "ck", "c", "ph", "f", "th", "t", "ch", "c", "k", "c", "z", "c", "y", "i", "ae", "a", "oe", "o", "ue", "u")

// code is a hyphen or blank within a code: OM-4 is OM4.
var code = regexp.MustCompile(`\b(\pL{1,2})[- ](\d)`)

// words splits a name into words in the form in which two spellings are the same:
// small letters without accents, Kadmium as cadmium, sulphate as sulfate. What holds
// a digit is left as it is.
func words(name string) []string {
	all := letters(name)
	for i, w := range all {
		all[i] = fold(w)
	}
	return all
}

// letters splits a name into words in small letters without accents.
func letters(name string) []string {
	return strings.Fields(strings.Map(func(r rune) rune {
		switch {
		case r >= '₀' && r <= '₉':
			return '0' + r - '₀'
		case unicode.Is(unicode.Mn, r):
			return -1
		case unicode.IsLetter(r), unicode.IsDigit(r):
			return unicode.ToLower(r)
		}
		return ' '
	}, code.ReplaceAllString(norm.NFD.String(name), "$1$2")))
}

func fold(w string) string {
	if strings.ContainsFunc(w, unicode.IsDigit) {
		return w
	}
	w = spelling.Replace(w)
	var b strings.Builder
	last := rune(0)
	for _, r := range w {
		if r != last || r == 'i' { // (II) is not (I)
			b.WriteRune(r)
		}
		last = r
	}
	return b.String()
}

// vocabulary turns the words of a name into its key.
type vocabulary struct {
	ours       map[string]bool   // words of chemistry as we write them
	same       map[string]string // a word of another language, or a short form, to ours
	idle       map[string]bool   // words that say nothing
	qualifiers map[string]bool   // of the grade, and not of the material
	tails      []string          // ends of a word that are words of their own: Zinkoxid
}

func newVocabulary(file struct {
	Words                   map[string][]string
	Idle, Qualifiers, Tails []string
}) vocabulary {
	v := vocabulary{map[string]bool{}, map[string]string{}, map[string]bool{}, map[string]bool{}, nil}
	for ours, theirs := range file.Words {
		for _, w := range theirs {
			v.same[fold(w)] = fold(ours)
		}
	}
	for _, w := range file.Idle {
		v.idle[fold(w)] = true
	}
	for _, w := range file.Qualifiers {
		v.qualifiers[fold(w)] = true
	}
	for _, w := range file.Tails {
		v.tails = append(v.tails, fold(w))
	}
	for ours := range file.Words {
		v.ours[strings.Join(v.add(nil, fold(ours)), "")] = true
	}
	slices.SortFunc(v.tails, func(a, b string) int { return len(b) - len(a) })
	return v
}

// key is the form in which two names of one material are the same, in whatever order
// their words stand. With grades it leaves out what only says how fine or how pure,
// and codes with a digit.
func (v vocabulary) key(all []string, grades bool) string {
	var out []string
	for _, w := range all {
		if grades && (v.qualifiers[w] || strings.ContainsFunc(w, unicode.IsDigit)) {
			continue
		}
		for _, tail := range v.tails {
			if head, ok := strings.CutSuffix(w, tail); ok && len(head) > 2 {
				out = v.add(out, head)
				w = tail
				break
			}
		}
		out = v.add(out, w)
	}
	if len(out) == 0 && !grades {
		out = slices.Clone(all)
	}
	slices.Sort(out)
	return strings.Join(out, " ")
}

func (v vocabulary) add(out []string, w string) []string {
	if v.idle[w] {
		return out
	}
	if ours, ok := v.same[w]; ok {
		w = ours
	}
	if len(w) > 3 {
		w = strings.TrimSuffix(w, "s")
		if ours, ok := v.same[w]; ok {
			w = ours
		}
		if stem, ok := strings.CutSuffix(w, "um"); ok { // aluminum, aluminium
			w = strings.TrimSuffix(stem, "i")
		}
	}
	return append(out, w)
}

// other tells whether a name has a word of chemistry that another lacks, which is no
// typing fault then: a fluoride is no chloride.
func (v vocabulary) other(name, than string) bool {
	theirs := strings.Fields(v.key(words(than), false))
	return slices.ContainsFunc(strings.Fields(v.key(words(name), false)), func(w string) bool {
		return v.ours[w] && !slices.Contains(theirs, w)
	})
}

// loose is a key without the ends in which languages differ: dolomite, dolomita,
// Dolomit.
func loose(key string) string {
	all := strings.Fields(key)
	for i, w := range all {
		if len(w) > 4 {
			all[i] = strings.TrimRight(w, "aeo")
		}
	}
	return "~" + strings.Join(all, " ")
}

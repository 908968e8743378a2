package text

import (
	"strings"
	"sync"

	"golang.org/x/text/language"
)

// Readers of some countries write numbers otherwise than their language does elsewhere. From
// Unicode CLDR 48.2, cldr-numbers-full: a point is the mark of decimals in de-CH, de-LI and es-MX
// (read there), and in the other countries named here by es-419 and its children (from memory);
// de-AT, fr-CA, fr-CH and the rest of South America have the comma.
const (
	pointGerman  = "CH LI"
	pointSpanish = "MX 419 US PR GT HN NI SV PA DO PE CU"
)

// regional are the languages of such countries, made when one is asked for.
var regional = sync.OnceValue(func() map[string]*Language {
	all := map[string]*Language{}
	for stem, regions := range map[string]string{"de": pointGerman, "es": pointSpanish} {
		for _, r := range strings.Fields(regions) {
			l := *stemmed(stem)
			if stem == "de" { // no ß is written there
				l = *stemmed(stem).respelt(strings.NewReplacer("ß", "ss"))
			}
			l.Tag, l.mark = stem+"-"+r, "."
			all[l.Tag] = &l
		}
	}
	return all
})

// In gives the language as it is written in the country that a reader's wishes name, each as in
// [For]; the language itself where none of them is of it.
func (l *Language) In(wishes ...string) *Language {
	stem, _, _ := strings.Cut(l.Tag, "-")
	for _, w := range wishes {
		tags, _, _ := language.ParseAcceptLanguage(locale(w))
		for _, t := range tags {
			if base, _ := t.Base(); base.String() != stem {
				continue
			}
			region, _ := t.Region()
			if own := regional()[stem+"-"+region.String()]; own != nil {
				return own
			}
			return l
		}
	}
	return l
}

// respelt is the language with each of its own words spelt anew.
func (l *Language) respelt(as *strings.Replacer) *Language {
	own := *l
	own.spelling, own.months = as, as.Replace(l.months)
	own.sentences = sync.OnceValue(func() map[string]sentence {
		said := map[string]sentence{}
		for code, s := range l.sentences() {
			for i, pieces := range s.forms {
				if pieces == nil {
					continue
				}
				out := make([]piece, len(pieces))
				for k, q := range pieces {
					out[k] = piece{as.Replace(q.plain), q.value}
				}
				s.forms[i] = out
			}
			said[code] = s
		}
		return said
	})
	own.terms, own.hear = sync.OnceValue(own.termsOf), own.heard
	return &own
}

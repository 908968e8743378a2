package text

import (
	"strings"
	"sync"
)

// Pseudo is no language: English between brackets, with accents, so that what stands without
// them was never a sentence of a file. `--lang qps` and ?lang=qps show it; nobody's wish
// leads to it. The tag is one of those that ISO 639 leaves to private use.
var Pseudo = English.pseudo()

var accents = strings.NewReplacer("a", "á", "e", "ê", "i", "ï", "o", "ö", "u", "ü")

// pseudo makes it of a language.
func (l *Language) pseudo() *Language {
	p := *l.respelt(accents)
	p.Tag, p.Name, p.mark = "qps", "[Pseudo]", ","
	plain := p.sentences
	p.sentences = sync.OnceValue(func() map[string]sentence {
		said := map[string]sentence{}
		for code, s := range plain() {
			for i, pieces := range s.forms {
				if pieces != nil {
					s.forms[i] = append(append([]piece{{plain: "⟦"}}, pieces...), piece{plain: "⟧"})
				}
			}
			said[code] = s
		}
		return said
	})
	p.terms, p.hear = sync.OnceValue(p.termsOf), p.heard
	return &p
}

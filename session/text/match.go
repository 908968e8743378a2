package text

import (
	"strings"

	"golang.org/x/text/language"
)

var matcher = func() language.Matcher {
	tags := make([]language.Tag, len(All))
	for i, l := range All {
		tags[i] = language.Make(l.Tag)
	}
	return language.NewMatcher(tags)
}()

// For gives the language that a reader understands best: what they wish for comes first,
// each as in the header Accept-Language, or the name of a locale as in LANG. English where
// none of it is known.
func For(wishes ...string) *Language {
	for _, w := range wishes {
		tags, _, err := language.ParseAcceptLanguage(locale(w))
		if err != nil || len(tags) == 0 {
			continue
		}
		if _, i, sure := matcher.Match(tags...); sure > language.No {
			return All[i].In(w)
		}
	}
	return English
}

// Named gives the language of that tag, Pseudo included, nil where there is none.
func Named(tag string) *Language {
	if tag == Pseudo.Tag {
		return Pseudo
	}
	if own := regional()[tag]; own != nil {
		return own
	}
	return stemmed(tag)
}

// stemmed is Named for the languages of no country.
func stemmed(tag string) *Language {
	for _, l := range All {
		if base, _ := language.Make(l.Tag).Base(); l.Tag == tag || base.String() == tag {
			return l
		}
	}
	return nil
}

// locale takes from the name of a locale what is no tag: de_AT.UTF-8@euro is de-AT.
func locale(s string) string {
	if strings.ContainsAny(s, ",;") {
		return s // a header
	}
	s, _, _ = strings.Cut(s, "@")
	s, _, _ = strings.Cut(s, ".")
	return strings.ReplaceAll(s, "_", "-")
}

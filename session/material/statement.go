package material

import (
	"regexp"
	"strings"

	"tared/session/text"
)

// The hazard statements are shown as the law words them, each with its code, and never joined
// into a sentence: Regulation (EC) No 1272/2008 (CLP), Annex III, consolidated text of 1 September
// 2025, in each language; H300, H310 and H362 from memory. Where the law leaves the route or the
// organ to whoever writes the label, the statement ends before it: the supplier's sheet says the
// rest. The letters behind a number are part of the code (H360FD is not H360).

// statements gives the wording of those codes of a material that have one.
func (m Material) statements() (all []text.Message) {
	for _, code := range m.Codes {
		if words := shelf().statements[code]; words != "" {
			all = append(all, text.New("material.statement", text.Name("code", code), text.Term("words", words)))
		}
	}
	return all
}

// saysDanger are the statements that come with the signal word Danger, all others of ours that have
// one with Warning (CLP, Annex I, label elements; from memory). Danger goes before (Article 20).
// H411 to H413 have none, and H272 has either, by its category.
var (
	saysDanger  = regexp.MustCompile(`^H(300|301|310|311|314|318|330|331|334|340|350|360|370|372)`)
	saysWarning = regexp.MustCompile(`^H(302|312|315|317|319|332|335|336|341|351|361|371|373|400|410)`)
)

// signal is the signal word that the codes of a material ask for; "" where they ask for none.
func (m Material) signal() string {
	word := ""
	for _, code := range m.Codes {
		switch {
		case saysDanger.MatchString(code):
			return "Danger"
		case saysWarning.MatchString(strings.ToUpper(code)):
			word = "Warning"
		}
	}
	return word
}

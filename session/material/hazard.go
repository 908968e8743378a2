package material

import (
	"regexp"
	"slices"
	"strings"
)

var code = regexp.MustCompile(`^H[234]\d\d(?:i|D|F|FD|d|f|fd|Df|Fd)?$`)

func validCode(c string) bool { return code.MatchString(c) }

// pictograms tells which pictogram a hazard statement brings. Source: UN GHS
// Annex 1 and Regulation (EC) 1272/2008 (CLP) Annex V, from memory.
var pictograms = map[string]string{
	"H300": "GHS06", "H301": "GHS06", "H310": "GHS06", "H311": "GHS06", "H330": "GHS06", "H331": "GHS06",
	"H302": "GHS07", "H312": "GHS07", "H332": "GHS07", "H315": "GHS07", "H317": "GHS07", "H319": "GHS07", "H335": "GHS07", "H336": "GHS07",
	"H290": "GHS05", "H314": "GHS05", "H318": "GHS05",
	"H304": "GHS08", "H334": "GHS08", "H340": "GHS08", "H341": "GHS08", "H350": "GHS08", "H351": "GHS08", "H360": "GHS08",
	"H361": "GHS08", "H370": "GHS08", "H371": "GHS08", "H372": "GHS08", "H373": "GHS08",
	"H270": "GHS03", "H271": "GHS03", "H272": "GHS03",
	"H400": "GHS09", "H410": "GHS09", "H411": "GHS09",
}

// Pictograms gives the GHS pictograms that a set of hazard statements brings,
// in order, after precedence (UN GHS 1.4.10.5.3.1 and CLP Article 26, from
// memory): where the skull GHS06 stands GHS07 does not; the corrosion GHS05
// takes the place of GHS07 for irritation of skin and eyes; GHS08 for H334 takes
// it for sensitisation and irritation of the skin and irritation of the eyes.
// H412 and H413 bring none.
func Pictograms(codes []string) []string {
	base := map[string]bool{}
	for _, c := range codes {
		if validCode(c) {
			base[c[:4]] = true
		}
	}
	skull, corrosive := false, false
	for c := range base {
		skull = skull || pictograms[c] == "GHS06"
		corrosive = corrosive || pictograms[c] == "GHS05" && c != "H290"
	}
	var out []string
	for c := range base {
		p := pictograms[c]
		switch {
		case p == "GHS07" && skull,
			(c == "H315" || c == "H319") && (corrosive || base["H334"]),
			c == "H317" && base["H334"]:
			p = ""
		}
		if p != "" && !slices.Contains(out, p) {
			out = append(out, p)
		}
	}
	slices.Sort(out)
	return out
}

// HazardLines gives what to say before the bag is opened: the lines and the
// air limits, each with its source in brackets.
func (m Material) HazardLines() []string {
	if m.said != nil {
		return slices.Clone(m.said)
	}
	return m.hazardLines()
}

func (m Material) hazardLines() []string {
	var out []string
	for _, s := range slices.Concat(m.Lines, m.Limits) {
		out = append(out, s.Words+" ("+s.Source+")")
	}
	if len(m.Codes) > 0 {
		out = append(out, "hazard statements "+strings.Join(m.Codes, ", ")+" ("+m.CodesBy+")")
	}
	return out
}

package recipe

import (
	"strings"
	"unicode"
)

// What stands in the text of a recipe with a number at its end and is no material: a
// title with its cone, a firing, a date, a telephone number, a thickness. Common
// practice, no source; the words are in English, German, French, Spanish and Italian.
var (
	cones  = words(`cone, cones, kegel, segerkegel, sk, cône, cono, montre, montres, orton`)
	months = words(`january, february, march, april, may, june, july, august, september, october, november, december,
		jan, feb, mar, apr, jun, jul, aug, sep, sept, oct, nov, dec, januar, februar, märz, mai, juni, juli, oktober, dezember,
		janvier, février, mars, avril, juin, juillet, août, septembre, octobre, novembre, décembre,
		enero, febrero, marzo, abril, mayo, junio, julio, agosto, septiembre, octubre, noviembre, diciembre,
		gennaio, febbraio, aprile, maggio, giugno, luglio, settembre, ottobre, dicembre`)
	// No name of a material ends in one of these.
	joining = words(`to, at, for, from, until, till, on, by, about, in, with, and, is, was, bis, auf, bei, um, für, am, vom, von,
		jusqu'à, à, pour, le, hasta, para, fino, fino a, per, of, sur, de, di, aus, su`)
	labels = words(`date, datum, fecha, data, tel, telephone, telefon, téléphone, teléfono, telefono, phone, mobile, mobil, fax, page, seite, página, pagina, pp, p,
		sheet, blatt, feuille, hoja, foglio, version, ref, order, test, tile, year, recipe, rezept, recette, receta, ricetta, glaze, glasur, émail, emaille,
		esmalte, smalto, no, nr, n, n°, nº, num, número, numero, numéro, batch, temperature, gravity, sg, density, ph, cone, kegel`)
	makers = words(`by, von, par, de, por, di, da`)
)

// aside reports whether what stands before a number, in lower case, is no name of a
// material, and whether it is a cone.
func aside(name string) (is, cone bool) {
	w := strings.FieldsFunc(name, func(r rune) bool { return unicode.IsSpace(r) || strings.ContainsRune(".,:;=", r) })
	if len(w) == 0 {
		return false, false
	}
	last := w[len(w)-1]
	return cones[last] || joining[last] || months[last] || labelled(w), cones[last]
}

// labelled reports whether all behind the first word, which says what the number is, is
// part of the number.
func labelled(w []string) bool {
	if !labels[w[0]] {
		return false
	}
	if len(w) > 2 && makers[w[1]] { // Recipe by Ann, 1998
		return true
	}
	for _, x := range w[1:] {
		if !months[x] && !labels[x] && strings.Trim(x, "0123456789-/+()") != "" {
			return false
		}
	}
	return true
}

// words makes a set of a list with commas, in lower case.
func words(s string) map[string]bool {
	m := map[string]bool{}
	for w := range strings.SplitSeq(s, ",") {
		m[strings.ToLower(strings.Join(strings.Fields(w), " "))] = true
	}
	return m
}

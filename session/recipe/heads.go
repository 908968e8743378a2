package recipe

import "regexp"

// The words that head a column or a group of lines, in English, German, French, Spanish
// and Italian.
var additionHeads = words(`zusätze, zusatz, additif, additifs, aditivo, aditivos, additivi, aggiunte, plus, add, adds, addition, additions, additional, additives, additives and colourants,
	also add, in addition, on top, colourant, colourants, colorant, colorants, colour, colours, color, colors, oxides,
	extras, plus additions, plus add`)

var baseHeads = words(`base, base recipe, base glaze, base materials, recipe, materials, glaze, batch, ingredients, body`)

var (
	nameHeads = words(`material, materials, name, names, ingredient, ingredients, raw material, raw materials, component, components, item, oxide, chemical,
		rohstoff, rohstoffe, bezeichnung, zutat, zutaten, materialien, matière, matières, matière première, matières premières, matériau, matériaux, nom, produit,
		materia prima, materias primas, materiales, nombre, ingrediente, ingredientes, materie prime, materiale, materiali, nome, ingredienti`)
	bareNames   = words(`name, names, nom, nombre, nome, bezeichnung`)
	amountHeads = words(`anteil, anteile, menge, mengen, gewicht, prozent, masse, teile, quantité, quantités, poids, pourcentage, pourcent, proportion,
		cantidad, cantidades, peso, pesos, porcentaje, quantità, percentuale, amount, amounts, amt, parts, part, %, percent, percentage, per cent, pct, grams, gram, g, kg, mg, weight, wt, mass, oz, lb, lbs, qty, quantity, share, wt %, weight %, %wt`)
	kindHeads   = words(`art, typ, zusatz, rôle, tipo, ruolo, type, kind, role, addition, additions, add, class, group`)
	noteHeads   = words(`bemerkung, bemerkungen, notiz, notizen, remarque, remarques, nota, notas, observaciones, osservazioni, note, notes, comment, comments, remark, remarks`)
	recipeHeads = words(`recipe, recipes, recipe name, glaze, glaze name, rezept, glasur, recette, émail, receta, esmalte, ricetta, smalto`)
	otherHeads  = words(`no, no., nr, nr., line, unit, units, id, pos`)
	inBrackets  = regexp.MustCompile(`[(\[]([^)\]]*)[)\]]`)
)

var total = words(`summe, gesamt, gesamtsumme, somme, totale, totaux, suma, somma, total, totals, sum, subtotal, sub total, sub-total, grand total`)

// Package glaze says what weights mean: the oxides that a batch leaves in the fire, as
// planned or as it was really weighed, with the doubt of the weighing and the doubt of
// the analyses kept apart.
//
// An Analysis is what a raw material brings, in percent of its dry weight: from its formula,
// from a published analysis (data/analyses.json, each with its source), or from a person's
// own file (Read). Melt adds up what the parts of a batch bring: oxides in percent and in
// moles, the unity formula with the fluxes as one, silica to alumina, and expansion
// estimates by named sets of factors (expansion.go). Shift tells how two batches made of the
// same bags differ, where what nobody knows of the bags falls out.
//
// Conventions, for sources differ: the fluxes are the alkalis, the alkaline earths, zinc and
// lead, as in I. Currie, Revealing Glazes (2000), introduction. Boron stands beside alumina and is
// no flux; iron is counted in its highest oxide and is no flux. Fluorine, chlorine, sulfur, carbon
// and water go up the chimney.
//
// The figures are estimates, computed in floating point; no verdict on a weighing rests on
// them, and nothing here says that a glaze is safe or that it fits a body: the test tile decides.
package glaze

// Package doubt says how far a weighing may be wrong, and what may be said of it then.
//
// Scale is what is known of an instrument; U and Span tell the doubt of one net weight on
// it (scale.go). What several weighings have in common, a span that is not quite right,
// does not average out, and falls out of a ratio: On keeps it apart, scale by scale
// (sum.go). Judge holds a weight and its U against a band (judge.go). Each is exact: one
// root, rounded up, at the end. `tared calc doubt` has the formulas with their sources.
package doubt

// Package book reads what the journal holds as batches: what went in, beside
// what should have, and how well that is known.
//
// The words: an Index knows of all batches of a journal, by being given every line in
// order (Add), and reads one when it is asked for; a Book is the batches that are read
// together, told fact after fact; a Batch is one of them; a Made is a batch as it stands, ready to be
// shown, written as JSON or exported; a Line is one material of it. The share
// of a material is percent of the delivered base: base materials add up to 100
// again, additions stand on top. A Comparison sets shares of batches side by
// side.
//
// How well a thing is known: a material's U is the root of the sum of the
// squares of its portions' U, and the U of a share follows from those of all
// materials that it rests on (see share.go). They are taken as independent;
// what a scale does wrong in the same way every time (a wrong calibration) cancels
// in shares that were weighed on one scale, and is not seen between two.
//
// All of it is arithmetic on whole picograms and exact fractions, rounded once,
// where a number is shown. Nothing here changes a fact: an amendment is added
// up, and the old value is shown beside the new one.
//
// Read on from the bottom: made.go (what is shown of a batch), amount.go, share.go
// and table.go (numbers and columns), batch.go (a Batch and what is kept of it),
// checks.go (known weights around it), correct.go (weights that were corrected),
// line.go and bag.go (one material), row.go (a batch in a list), words.go (what a
// reader should know), record.go (Batch.Made), after.go (water, firing, tiles). A
// comparison stands on side.go (one share, exact) and common.go (cups of one tub):
// comparison.go, findings.go, beside.go, causes.go, then compare.go (Compare). On top
// are book.go (Book.Add), series.go (a series as a grid), index.go (where the lines of a
// batch stand), codec.go and digest.go (what is kept of it for lists), search.go (finding batches), seal.go
// (an Index beside the journal), and what writes it all out: render.go for the terminal, page.go, picture.go
// and export.go (CSV and JSON lines). Package sentence tells a fact in words.
package book

// Package batch folds the facts of a batch into what the batch is: its
// weighings, what went in of each, what is still to come.
//
// New opens a batch from the fact that planned it; Apply takes each fact that
// follows. There is no other way in which a batch changes: the bench, the record,
// the pages, the export and every command see the same batch, because all of them
// fold it here. Nothing in this package knows what stands on a scale, where the
// facts come from, or how a batch is told.
//
// Read on from the bottom: made.go (what reached the batch of one material),
// share.go (its share of the base), allow.go (how far it may be off), step.go (one
// weighing, and what is mixed apart), batch.go (the Batch and what can be asked of
// it), mix.go and water.go (mixtures and the first water), material.go (all that
// went in), retarget.go (targets that follow what went in), fold.go (New and Apply).
// On top stand enlarge.go (a larger batch after an overpour) and series.go (the tub
// and its cups, and Work: what is in work). No file needs one that comes after it.
package batch

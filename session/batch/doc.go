// Package batch folds the facts of a batch into what the batch is: its
// weighings, what went in of each, what is still to come.
//
// New opens a batch from the fact that planned it; Apply takes each fact that
// follows. There is no other way in which a batch changes: the bench, the record,
// the pages, the export and every command see the same batch, because all of them
// fold it here. Nothing in this package knows what stands on a scale, where the
// facts come from, or how a batch is told.
//
// Read on in batch.go (the fold), step.go (one weighing), mix.go (what is diluted
// in a mixing cup, or comes out of the tub of a series), water.go (the first
// water), made.go and share.go (what reached the batch, and its shares), enlarge.go
// (a larger batch after an overpour), series.go (the tub and its cups).
package batch

// Package journal is the file in which a weighing is remembered: one line of
// JSON for each thing that happened, added at the end and never changed. It
// does not know what the things mean.
//
// The words:
//
//   - the journal is the file journal.jsonl in a data directory; a line is what
//     POSIX calls one, its newline included;
//   - the head of a line is seq, at, kind, batch, by and prev; all other fields are
//     the body and belong to whoever wrote it;
//   - prev is the SHA-256 of the line before, newline included, in 64 lower-case
//     hexadecimal digits; 64 zeros on the first line. So the chain is checked without
//     this program: the output of
//     sed -n 41p journal.jsonl | sha256sum
//     stands in line 42 as prev;
//   - a torn tail is a last line without its newline: a write that the power cut
//     off. It was never acknowledged. Open cuts it, saves the bytes beside the
//     journal as journal.torn-TIME, and reports it;
//   - damage is any other fault. Open then refuses, for a
//     record added to a damaged chain proves nothing.
//
// What is promised. When Append returns without an error, its lines are on the
// disk: written, synced, and found again by the next Open. When it returns an
// error from writing or syncing, nobody knows what reached the disk; the
// Journal is Broken for good, and only a new Open can tell. Syncing again on
// the same descriptor would prove nothing, since a kernel may drop the pages
// that failed and call the next sync a success (Rebello et al., "Can
// Applications Recover from fsync Failures?", USENIX ATC 2020). For the same reason
// Open believes what it reads only after it has written the last lines once more,
// as they are, and synced them.
//
// What is not promised. AppendAll writes the lines of one input at once, but a
// power cut can leave the first few of them whole; the cut goes back to a whole
// line, not to the beginning of the group. So put them in an order in which
// every beginning is true by itself. And the chain cannot witness its own last
// line: change that one with care, and nothing here can tell. That is why the
// hash of a batch's last line is printed on its label: paper is the outside
// witness.
//
// Start with Journal, then Scan, then head.go for the reading of a line.
package journal

// Package protocol turns the bytes of a scale into readings.
//
// The words, in the order in which bytes meet them:
//
//   - a frame is one message of an instrument: a line with or without its
//     terminator, or a block of bytes that must be counted;
//   - a Format knows how one family of instruments frames and writes a
//     weight. One file holds one format, and All lists every one of them;
//   - a Reading is what a frame said: the digits as shown (Decimal), the unit,
//     whether the instrument calls itself stable, and a Status;
//   - a Decoder cuts a stream into frames and has its Format read them; it
//     drops the cut first line, bounds a flood, and mends or refuses wrong parity;
//   - Detect names the format of a sample, or the look-alikes it cannot tell apart;
//   - a Pattern is a format that a user declares by a regular expression, and a Proposal is one that Propose makes
//     of lines that no format reads, for a person to check;
//   - a Mass is an exact amount, in picograms, made from digits and unit.
//
// A frame is refused in two ways. ErrForeign: this is not my format at all.
// ErrDamaged: it is mine, but cut, corrupted or impossible. Neither ever
// becomes a weight, for a wrong weight is worse than none.
//
// Start with Reading, then Format, then header_comma.go or any other format file,
// then Decoder. A new format is a new file, one line in formats.go, and captures
// in testdata/captures, which the tests find by themselves. The package uses
// the standard library only and knows nothing of ports or recipes.
package protocol

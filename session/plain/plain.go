// Package plain reads the files that people write: recipes, settings, tables, curves.
package plain

import (
	"bytes"
	"io"

	"tared/session/text"
)

// Read reads a file of plain text as editors and spreadsheets save it: a mark of UTF-8 at its
// beginning is left out (U+FEFF; the Unicode Standard, section 23.8), and UTF-16 is refused by
// name. Of a file of more than most bytes it gives one more, so that it is seen to be too long.
func Read(r io.Reader, most int64) ([]byte, error) {
	b, err := io.ReadAll(io.LimitReader(r, most+int64(len(mark))+1))
	if err != nil {
		return nil, err
	}
	if sixteen(b) {
		return nil, text.Refuse("file.utf16")
	}
	return bytes.TrimPrefix(b, []byte(mark)), nil
}

const mark = "\ufeff"

// sixteen reports whether a text has two bytes a letter: by its mark, or because one byte of
// each of the first two letters is empty, as it is in plain English letters.
func sixteen(b []byte) bool {
	if bytes.HasPrefix(b, []byte{0xFE, 0xFF}) || bytes.HasPrefix(b, []byte{0xFF, 0xFE}) {
		return true
	}
	return len(b) >= 4 && (b[0] == 0) == (b[2] == 0) && (b[1] == 0) == (b[3] == 0) && (b[0] == 0) != (b[1] == 0)
}

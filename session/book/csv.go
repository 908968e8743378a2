package book

import (
	"encoding/csv"
	"io"
	"regexp"
	"strings"
)

// sheetWriter writes rows as RFC 4180, with lines ended by CR LF. With a decimal comma a semicolon
// stands between the cells, as spreadsheets of those countries want it; the texts in it
// stay as they are.
type sheetWriter struct {
	*csv.Writer
	numbers []bool // the columns that hold decimal numbers; nil: no cell is changed
}

// decimals are the heads of columns that hold decimal numbers.
var decimals = regexp.MustCompile(`_g$|_percent|_u_|_unity|^cost$`)

func newSheetWriter(w io.Writer, comma bool, head []string) (*sheetWriter, error) {
	s := &sheetWriter{Writer: csv.NewWriter(w)}
	s.UseCRLF = true
	if comma {
		s.Comma = ';'
		for _, h := range head {
			s.numbers = append(s.numbers, decimals.MatchString(h))
		}
	}
	return s, s.Writer.Write(head)
}

// Write writes a row.
func (s *sheetWriter) Write(row []string) error {
	for i, number := range s.numbers {
		if number {
			row[i] = strings.Replace(row[i], ".", ",", 1)
		}
	}
	return s.Writer.Write(row)
}

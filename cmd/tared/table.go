package main

import (
	"encoding/json"
	"io"
	"strings"
	"unicode/utf8"

	"tared/session/text"
)

// table is text in columns for people: plain characters, two blanks between
// columns, numbers to the right. It survives a pipe, a printer and a screen reader.
type table struct {
	right []bool // by column
	rows  [][]string
}

// newTable takes the heads of the columns, by their codes among the heads of session/text; one
// that ends in ">" is set to the right.
func newTable(heads ...string) *table {
	said := make([]string, len(heads))
	for i, h := range heads {
		name := strings.TrimSuffix(h, ">")
		said[i] = head(name) + h[len(name):]
	}
	return tableUnder(said...)
}

// head is the head of a column, or of a line.
func head(name string) string {
	if name == "" {
		return ""
	}
	return language.Say(text.Message{Code: "head." + name})
}

// tableUnder is newTable for heads that are words already.
func tableUnder(heads ...string) *table {
	t := &table{right: make([]bool, len(heads))}
	row := make([]string, len(heads))
	for i, h := range heads {
		row[i] = strings.TrimSuffix(h, ">")
		t.right[i] = row[i] != h
	}
	t.rows = append(t.rows, row)
	return t
}

// add adds a row. Numbers are to the right, and written as the language has them.
func (t *table) add(cells ...string) {
	for i := range cells {
		if t.right[i] {
			cells[i] = language.Digits(cells[i])
		}
	}
	t.rows = append(t.rows, cells)
}

// String is the table, each line behind two blanks.
func (t *table) String() string {
	wide := make([]int, len(t.right))
	for _, row := range t.rows {
		for i, c := range row {
			wide[i] = max(wide[i], utf8.RuneCountInString(c))
		}
	}
	var b strings.Builder
	for _, row := range t.rows {
		var line strings.Builder
		for i, c := range row {
			pad := strings.Repeat(" ", wide[i]-utf8.RuneCountInString(c))
			line.WriteString("  ")
			if t.right[i] {
				line.WriteString(pad + c)
			} else {
				line.WriteString(c + pad)
			}
		}
		b.WriteString(strings.TrimRight(line.String(), " ") + "\n")
	}
	return b.String()
}

// rendered is what can be told to people as well as to programs.
type rendered interface{ Render(w io.Writer) error }

// render tells it to a program, or to people.
func render(out io.Writer, asJSON bool, v rendered) error {
	if asJSON {
		return json.NewEncoder(out).Encode(v)
	}
	return v.Render(out)
}

// writeLines writes one object a line.
func writeLines[T any](out io.Writer, all []T) error {
	for _, v := range all {
		if err := json.NewEncoder(out).Encode(v); err != nil {
			return err
		}
	}
	return nil
}

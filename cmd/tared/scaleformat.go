package main

import (
	"bytes"
	"maps"
	"slices"
	"strconv"
	"strings"

	"github.com/BurntSushi/toml"

	"tared/protocol"
)

// scaleFormat is a format that was proposed for a scale, as it goes into a file of settings.
type scaleFormat struct {
	protocol.Proposal
	line  string   // settings of the port, as "9600 8N1"; "": not known
	heard []string // lines that it was made of
}

// declared are the keys of its table that take any text; see formatTable.
type declared struct {
	Unit   string   `toml:"unit,omitempty"`
	End    string   `toml:"end,omitempty"`
	Comma  bool     `toml:"comma,omitempty"`
	Length int      `toml:"length,omitzero"`
	Stable []string `toml:"stable,omitempty"`
	Moving []string `toml:"moving,omitempty"`
	Lines  []string `toml:"lines,omitempty"`
}

// write writes it as a table, with the lines that it was made of as comments. The expression
// holds no quote, so it can stand as a person would write it.
func (o *scaleFormat) write(b *bytes.Buffer, name string) error {
	for _, l := range o.heard {
		b.WriteString("# " + l + "\n")
	}
	b.WriteString("[[format]]\nname = " + strconv.Quote(name) + "\nexpr = '" + o.Pattern.Expr + "'\n")
	d := declared{Unit: o.Pattern.BlankUnit, End: o.Pattern.End, Comma: o.Pattern.DecimalComma, Length: o.Pattern.Length}
	if o.line != "" {
		d.Lines = []string{o.line}
	}
	for _, mark := range slices.Sorted(maps.Keys(o.Pattern.Stable)) {
		if o.Pattern.Stable[mark] {
			d.Stable = append(d.Stable, mark)
		} else {
			d.Moving = append(d.Moving, mark)
		}
	}
	if err := toml.NewEncoder(b).Encode(d); err != nil {
		return err
	}
	b.WriteString("\n")
	return nil
}

// freeName gives a name that no format has.
func freeName(name string, taken []*protocol.Format) string {
	name = strings.ReplaceAll(name, " ", "-") // what is no name is refused with the scale
	for n := 2; ; n++ {
		_, builtIn := protocol.Lookup(name)
		if !builtIn && !slices.ContainsFunc(taken, func(f *protocol.Format) bool { return f.Name == name }) {
			return name
		}
		name = strings.TrimRight(name, "0123456789") + strconv.Itoa(n)
	}
}

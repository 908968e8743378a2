package main

import (
	"io"
	"slices"
	"strings"

	"github.com/spf13/cobra"

	"tared/protocol"
	"tared/scale"
)

func formatsCommand() *cobra.Command {
	var asJSON bool
	var files []string
	cmd := &cobra.Command{
		Use:  "formats",
		Args: noArgs,
		RunE: func(cmd *cobra.Command, _ []string) error {
			own, err := readFormats(files)
			if err != nil {
				return err
			}
			all := append(own, protocol.All()...)
			if asJSON {
				return formatsJSON(cmd, all)
			}
			t := newTable("format", "line-of", "what-it-is")
			for _, f := range all {
				t.add(f.Name, shorten(f.Example, 36), language.Term(f.Summary))
			}
			_, err = io.WriteString(cmd.OutOrStdout(), t.String())
			return err
		},
	}
	addFormats(cmd, &files)
	cmd.Flags().BoolVar(&asJSON, "json", false, "")
	return cmd
}

// shorten cuts a line to n signs, and shows that it did.
func shorten(s string, n int) string {
	if r := []rune(s); len(r) > n {
		return string(r[:n-1]) + "…"
	}
	return s
}

type formatLine struct {
	Name    string     `json:"name"`
	Summary string     `json:"summary"`
	Example string     `json:"example"` // as a Go string literal would show it, without quotes
	Unit    string     `json:"unit"`    // of a line that shows none, where the format fixes it
	Asked   bool       `json:"asked"`   // it can be asked for the weight
	Pairs   bool       `json:"pairs"`   // believed only when the next line is equal
	Lines   []portLine `json:"lines"`
}

type portLine struct {
	Line   string `json:"line"`
	Source string `json:"source"`
}

func formatsJSON(cmd *cobra.Command, all []*protocol.Format) error {
	var lines []formatLine
	for _, f := range all {
		l := formatLine{Name: f.Name, Summary: f.Summary, Example: f.Example, Unit: string(f.BlankUnit), Asked: f.Ask != nil, Pairs: f.Pairs, Lines: []portLine{}}
		for _, p := range f.Lines {
			l.Lines = append(l.Lines, portLine{scale.LineText(p), p.Source})
		}
		lines = append(lines, l)
	}
	return writeLines(cmd.OutOrStdout(), lines)
}

// didYouMean names the formats whose names come near to a wrong one, with a comma
// behind them; it is empty where none does.
func didYouMean(own []*protocol.Format, name string) string {
	wrong := plainName(name)
	var near []string
	best := min(3, 1+len(wrong)/6) // so many slips of the finger, and no more
	for _, f := range append(slices.Clone(own), protocol.All()...) {
		if d := slips(wrong, plainName(f.Name)); d < best {
			near, best = nil, d
		} else if d > best {
			continue
		}
		near = append(near, f.Name)
	}
	if near == nil && len(wrong) >= 3 {
		for _, f := range append(slices.Clone(own), protocol.All()...) {
			if strings.Contains(plainName(f.Name), wrong) {
				near = append(near, f.Name)
			}
		}
	}
	if near == nil {
		return ""
	}
	return says("cli.did-you-mean", strings.Join(near[:min(len(near), 5)], ", ")) + " "
}

// plainName strips a name of case, blanks and dashes.
func plainName(s string) string {
	return strings.NewReplacer("-", "", "_", "", " ", "").Replace(strings.ToLower(s))
}

// slips counts the letters to insert, take out, change or swap with their
// neighbour that turn one word into another.
func slips(a, b string) int {
	before, last, now := make([]int, len(b)+1), make([]int, len(b)+1), make([]int, len(b)+1)
	for j := range last {
		last[j] = j
	}
	for i := range len(a) {
		now[0] = i + 1
		for j := range len(b) {
			now[j+1] = min(now[j]+1, last[j+1]+1, last[j])
			if a[i] != b[j] {
				now[j+1] = min(now[j], last[j+1], last[j]) + 1
				if i > 0 && j > 0 && a[i] == b[j-1] && a[i-1] == b[j] {
					now[j+1] = min(now[j+1], before[j-1]+1)
				}
			}
		}
		before, last, now = last, now, before
	}
	return last[len(b)]
}

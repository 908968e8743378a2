package main

import (
	"encoding/json"
	"io"

	"github.com/spf13/cobra"

	"tared/session/book"
	"tared/session/recipe"
)

func oxidesCommand() *cobra.Command {
	var dir, recipeFile string
	var own ownFiles
	var asJSON, asCSV, comma bool
	cmd := &cobra.Command{
		Use:  "oxides BATCH | --recipe FILE",
		Args: maybeOneArg("BATCH"),
		RunE: func(cmd *cobra.Command, args []string) error {
			if (len(args) == 0) == (recipeFile == "") {
				return usagef("cli.give-the-mark-of-a")
			}
			if asJSON && asCSV {
				return usagef("cli.json-and-csv-give-one")
			}
			if comma && !asCSV {
				return usagef("cli.comma-oxides")
			}
			shelf, err := own.open()
			if err != nil {
				return err
			}
			show := func(o book.Oxides, err error) error {
				if err != nil {
					return err
				}
				return writeOxides(cmd.OutOrStdout(), o, asJSON, asCSV, comma)
			}
			if recipeFile != "" {
				text, err := recipeText(recipeFile, dir, cmd.InOrStdin())
				if err != nil {
					return err
				}
				r, err := recipe.Parse(text)
				if err != nil {
					return err
				}
				return show(book.OxidesOf(r, shelf))
			}
			return withIndex(dir, false, shelf, func(x *book.Index) error {
				n, err := batchOf(x, dir, args[0])
				if err != nil {
					return err
				}
				return show(n.Oxides())
			})
		},
	}
	addData(cmd, &dir)
	own.add(cmd)
	f := cmd.Flags()
	f.StringVar(&recipeFile, "recipe", "", "")
	f.BoolVar(&asJSON, "json", false, "")
	f.BoolVar(&asCSV, "csv", false, "")
	f.BoolVar(&comma, "decimal-comma", false, "")
	return cmd
}

func writeOxides(w io.Writer, o book.Oxides, asJSON, asCSV, comma bool) error {
	switch {
	case asCSV:
		return o.WriteCSV(w, comma)
	case asJSON:
		var words []string
		for _, m := range o.Told() {
			words = append(words, m.String())
		}
		return json.NewEncoder(w).Encode(struct {
			book.Oxides
			Words []string `json:"words"`
		}{o, words})
	}
	return o.Render(w)
}

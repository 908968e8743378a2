package main

import (
	"io"
	"os"
	"strings"

	"github.com/spf13/cobra"

	"tared/session/glaze"
	"tared/session/material"
	"tared/session/text"
)

// addMaterials gives a command the flag for it.
func addMaterials(cmd *cobra.Command, to *string) {
	cmd.Flags().StringVar(to, "materials", "", "")
	fills(cmd.Flags(), "materials", "materials")
}

// ownFiles are files of a person's own, which add to what the program knows of materials.
type ownFiles struct{ materials, analyses string }

func (o *ownFiles) add(cmd *cobra.Command) {
	addMaterials(cmd, &o.materials)
	cmd.Flags().StringVar(&o.analyses, "analyses", "", "")
	fills(cmd.Flags(), "analyses", "analyses")
}

func (o ownFiles) open() (s glaze.Shelf, err error) {
	if s.Table, err = openMaterials(o.materials); err == nil {
		s.Own, err = readOwn("analyses", o.analyses, glaze.Read)
	}
	return s, err
}

func materialsCommand() *cobra.Command {
	var own string
	var asJSON bool
	cmd := &cobra.Command{
		Use:  "materials [NAME]",
		Args: maybeOneArg("NAME"),
		RunE: func(cmd *cobra.Command, args []string) error {
			t, err := openMaterials(own)
			if err != nil {
				return err
			}
			all := t.Or().All()
			if len(args) == 1 {
				m, ok := t.Or().Lookup(args[0])
				if !ok {
					near := t.Or().Suggest(args[0])
					if len(near) == 0 {
						return text.Refuse("material.not-found-at-all", text.Name("name", args[0]))
					}
					return text.Refuse("material.not-found", text.Name("name", args[0]), text.Names("near", near))
				}
				all = []material.Material{m}
			}
			if asJSON {
				return writeLines(cmd.OutOrStdout(), all)
			}
			var b strings.Builder
			for _, m := range all {
				b.WriteString(m.Name + "  " + string(m.Kind) + "\n")
				for _, s := range m.Tell() {
					if len(args) == 1 {
						b.WriteString("  " + language.Say(s) + "\n")
					}
				}
			}
			_, err = io.WriteString(cmd.OutOrStdout(), b.String())
			return err
		},
	}
	addMaterials(cmd, &own)
	cmd.Flags().BoolVar(&asJSON, "json", false, "")
	return cmd
}

// openMaterials lays the user's own file over the table; nil without a file.
func openMaterials(path string) (*material.Table, error) {
	return readOwn("materials", path, material.Default().Overlay)
}

// readOwn reads a file of the user's own; nothing without a path.
func readOwn[T any](what, path string, read func(io.Reader) (T, error)) (none T, err error) {
	if path == "" {
		return none, nil
	}
	f, err := os.Open(path)
	if err != nil {
		return none, configf("cli.layout", what, err)
	}
	defer f.Close()
	t, err := read(f)
	if err != nil {
		return none, configf("cli.layout-5", what, path, err)
	}
	return t, nil
}

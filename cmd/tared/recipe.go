package main

import (
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"strings"

	"github.com/spf13/cobra"

	"tared/session"
	"tared/session/recipe"
	"tared/session/recipebook"
)

// keptSign stands before the name of a recipe that is kept in the journal.
const keptSign = "@"

func recipeCommand() *cobra.Command {
	var k keepFlags
	var save, name, note, diff string
	var plain bool
	cmd := &cobra.Command{
		Use:  "recipe [NAME[:VERSION]]",
		Args: maybeOneArg("NAME"),
		RunE: func(cmd *cobra.Command, args []string) error {
			out := cmd.OutOrStdout()
			if save != "" {
				if len(args) > 0 || diff != "" || plain {
					return usagef("cli.save-keeps-a-recipe-it")
				}
				text, err := readRecipe(save, cmd.InOrStdin())
				if err != nil {
					return err
				}
				return k.keep(cmd.Context(), out, session.KeepRequest{Recipe: &session.RecipeRequest{Name: name, Text: text, Words: note}})
			}
			if name+note != "" {
				return usagef("cli.name-and-note-are-for")
			}
			if len(args) == 0 && (diff != "" || plain) {
				return usagef("cli.which-recipe-give-its-name")
			}
			return withWorkshop(k.data, func(w *session.Workshop) error {
				if len(args) == 0 {
					return listRecipes(out, w.Recipes.All(), k.json)
				}
				kept, version, err := w.Recipes.Read(args[0])
				switch {
				case err != nil:
					return err
				case diff != "":
					return showDiff(out, kept, diff, k.json)
				}
				return showRecipe(out, kept, version, plain, k.json)
			})
		},
	}
	k.addTo(cmd)
	f := cmd.Flags()
	f.StringVar(&save, "save", "", "")
	f.StringVar(&name, "name", "", "")
	f.StringVar(&note, "note", "", "")
	f.StringVar(&diff, "diff", "", "")
	f.BoolVar(&plain, "plain", false, "")
	return cmd
}

func listRecipes(out io.Writer, all []recipebook.Recipe, asJSON bool) error {
	if asJSON {
		return writeLines(out, all)
	}
	if len(all) == 0 {
		_, err := fmt.Fprintln(out, says("cli.no-recipe"))
		return err
	}
	t := newTable("recipe", "version>", "kept", "by", "")
	for _, k := range all {
		for i, v := range k.Versions {
			n := k.Name
			if i > 0 {
				n = ""
			}
			t.add(n, fmt.Sprint(v.Number), v.At.Format("2006-01-02 15:04"), v.By, v.Words)
		}
	}
	_, err := io.WriteString(out, t.String())
	return err
}

func showRecipe(out io.Writer, k recipebook.Recipe, v recipebook.Version, plain, asJSON bool) error {
	text := v.Text
	if plain || asJSON {
		r, err := recipe.Parse(v.Text)
		if err != nil {
			return err
		}
		text = r.Format()
	}
	if asJSON {
		return json.NewEncoder(out).Encode(struct {
			Name string `json:"name"`
			recipebook.Version
			Plain string `json:"plain"`
		}{k.Name, v, text})
	}
	_, err := io.WriteString(out, strings.TrimRight(text, "\n")+"\n")
	return err
}

func showDiff(out io.Writer, k recipebook.Recipe, which string, asJSON bool) error {
	var from, to uint64
	if n, err := fmt.Sscanf(strings.ReplaceAll(which, " ", "")+"\n", "%d,%d\n", &from, &to); n != 2 || err != nil {
		return usagef("cli.diff-give-two-versions-for", which)
	}
	var parsed [2]recipe.Recipe
	for i, n := range []uint64{from, to} {
		v, err := k.Version(n)
		if err != nil {
			return err
		}
		if parsed[i], err = recipe.Parse(v.Text); err != nil {
			return failf("cli.version", k.Name, n, err)
		}
	}
	changes := []string{}
	for _, c := range recipe.Diff(parsed[0], parsed[1]) {
		changes = append(changes, c.String())
	}
	if asJSON {
		return json.NewEncoder(out).Encode(map[string]any{"name": k.Name, "from": from, "to": to, "changes": changes})
	}
	if len(changes) == 0 {
		changes = append(changes, says("cli.same-materials"))
	}
	_, err := fmt.Fprintf(out, "%s\n  %s\n", says("cli.versions-differ", k.Name, from, to), strings.Join(changes, "\n  "))
	return err
}

// recipeText reads what RECIPE names: a recipe that is kept, a file, or - for
// standard input.
func recipeText(arg, data string, in io.Reader) (string, error) {
	name, kept := strings.CutPrefix(arg, keptSign)
	if !kept {
		return readRecipe(arg, in)
	}
	w, err := readWorkshop(data)
	if w == nil {
		return "", err
	}
	_, v, e := w.Recipes.Read(name)
	if e != nil {
		return "", errors.Join(err, failf("cli.tared-recipe-data-lists-them", e, data))
	}
	return v.Text, nil
}

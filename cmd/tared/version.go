package main

import (
	"cmp"
	"encoding/json"
	"fmt"
	"io"
	"runtime"
	"runtime/debug"
	"time"

	"github.com/spf13/cobra"

	"tared/session/fact"
	"tared/session/text"
)

// edition says which program this is. What the builder did not note is empty.
type edition struct {
	Version string `json:"version"` // as Go makes it of the tag or the commit; "(devel)" where there was neither
	Commit  string `json:"commit"`
	Date    string `json:"date"`    // of the commit, RFC 3339
	Changed bool   `json:"changed"` // built from files that differ from the commit
	Go      string `json:"go"`
	System  string `json:"system"` // such as linux/arm64
	Format  int    `json:"format"` // of the journal that it writes
}

// thisEdition reads what the builder noted in the program.
func thisEdition() edition {
	e := edition{Version: "(devel)", Go: runtime.Version(), System: runtime.GOOS + "/" + runtime.GOARCH, Format: fact.Format}
	if info, ok := debug.ReadBuildInfo(); ok {
		e.built(info)
	}
	return e
}

func (e *edition) built(info *debug.BuildInfo) {
	e.Version = cmp.Or(info.Main.Version, e.Version)
	for _, s := range info.Settings {
		switch s.Key {
		case "vcs.revision":
			e.Commit = s.Value
		case "vcs.time":
			e.Date = s.Value
		case "vcs.modified":
			e.Changed = s.Value == "true"
		}
	}
}

// says gives the lines for a person, the first of which --version prints.
func (e edition) says() (all []text.Message) {
	all = append(all, text.New("version.program", text.Name("version", e.Version)))
	if day, err := time.Parse(time.RFC3339, e.Date); err == nil {
		all = append(all, text.New("version.commit", text.Name("commit", e.Commit), text.Date("date", day)))
	} else {
		all = append(all, text.New("version.no-commit"))
	}
	if e.Changed {
		all = append(all, text.New("version.changed"))
	}
	return append(all,
		text.New("version.built", text.Name("go", e.Go), text.Name("system", e.System)),
		text.New("version.format", text.Count("count", e.Format)))
}

func versionCommand() *cobra.Command {
	var asJSON bool
	cmd := &cobra.Command{
		Use:  "version",
		Args: noArgs,
		RunE: func(cmd *cobra.Command, _ []string) error {
			return thisEdition().tell(cmd.OutOrStdout(), asJSON)
		},
	}
	cmd.Flags().BoolVar(&asJSON, "json", false, "")
	return cmd
}

func (e edition) tell(out io.Writer, asJSON bool) error {
	if asJSON {
		return json.NewEncoder(out).Encode(e)
	}
	indent := ""
	for _, m := range e.says() {
		if _, err := fmt.Fprintln(out, indent+language.Say(m)); err != nil {
			return err
		}
		indent = "  "
	}
	return nil
}

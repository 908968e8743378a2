package main

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"strings"
	"time"

	"github.com/spf13/cobra"

	"tared/session"
	"tared/session/journal"
	"tared/session/recipe"
)

// keepFlags are what commands have in common that keep something beside the
// batches.
type keepFlags struct {
	data, by string
	json     bool
}

func (k *keepFlags) addTo(cmd *cobra.Command) {
	addRecord(cmd, &k.data)
	cmd.Flags().StringVar(&k.by, "by", "", "")
	cmd.Flags().BoolVar(&k.json, "json", false, "")
}

// name gives the name that the record needs.
func (k *keepFlags) name() (string, error) {
	if strings.TrimSpace(k.by) == "" {
		return "", usagef("cli.who-did-it-the-record")
	}
	return k.by, nil
}

// keep records something beside the batches.
func (k *keepFlags) keep(ctx context.Context, out io.Writer, r session.KeepRequest) error {
	by, err := k.name()
	if err != nil {
		return err
	}
	r.By = by
	var got session.Receipt
	err = aloneOrThrough(ctx, k.data, "api/keep", r, &got, func() (err error) {
		got, err = session.RecordKeep(k.data, witnessFile(k.data), time.Now(), r)
		return err
	})
	var in *recipe.Error
	switch {
	case errors.As(err, &in) || errors.Is(err, session.ErrRefused):
		return err
	case err != nil:
		return failf("cli.journal-in", k.data, err)
	case k.json:
		return json.NewEncoder(out).Encode(struct {
			Kind string `json:"kind"`
			session.Receipt
		}{"recorded", got})
	}
	what := says("cli.kept-lot", got.Lot)
	if got.Name != "" {
		what = says("cli.kept-version", got.Name, got.Version)
	}
	_, err = fmt.Fprintln(out, says("cli.recorded-as-entry", got.Seq, what))
	return err
}

// aloneOrThrough records something: through the bench that is running, which alone may
// write, else by itself. What is refused is a mistake in the command line.
func aloneOrThrough(ctx context.Context, dir, path string, r, answer any, alone func() error) error {
	err := handOver(ctx, dir, path, r, answer)
	if errors.Is(err, errNoBench) {
		err = alone()
	}
	if errors.Is(err, journal.ErrLocked) {
		err = whoHasIt(dir)
	} else if errors.Is(err, session.ErrRefused) {
		err = usage(err)
	}
	return err
}

// addressName is the file beside the journal in which a bench with a page leaves
// its address, for commands that tell of it.
const addressName = "page.url"

// keepAddress leaves the address; forget takes it away again.
func keepAddress(dir, url string) (forget func(), err error) {
	path := filepath.Join(dir, addressName)
	if err := os.WriteFile(path, []byte(url+"\n"), 0o640); err != nil {
		return func() {}, failf("cli.leave-the-address-of-the", err)
	}
	return func() { _ = os.Remove(path) }, nil
}

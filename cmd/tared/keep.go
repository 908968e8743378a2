package main

import (
	"bytes"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"net/http"
	"os"
	"path/filepath"
	"strings"
	"time"

	"github.com/spf13/cobra"

	"tared/session"
	"tared/session/journal"
	"tared/session/recipe"
	"tared/session/text"
)

// keepFlags are what commands have in common that keep something beside the
// batches.
type keepFlags struct {
	data, by string
	json     bool
}

func (k *keepFlags) addTo(cmd *cobra.Command) {
	addRecord(cmd, &k.data)
	cmd.Flags().StringVar(&k.by, "by", "", "who did it, for the record")
	cmd.Flags().BoolVar(&k.json, "json", false, "for a program")
}

// name gives the name that the record needs.
func (k *keepFlags) name() (string, error) {
	if strings.TrimSpace(k.by) == "" {
		return "", usagef("Who did it? The record needs a name: add --by NAME")
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
		return fmt.Errorf("journal in %s: %w", k.data, err)
	case k.json:
		return json.NewEncoder(out).Encode(struct {
			Kind string `json:"kind"`
			session.Receipt
		}{"recorded", got})
	}
	what := fmt.Sprintf("lot %s", got.Lot)
	if got.Name != "" {
		what = fmt.Sprintf("%s, version %d", got.Name, got.Version)
	}
	_, err = fmt.Fprintf(out, "Recorded as entry %d: %s.\n", got.Seq, what)
	return err
}

// aloneOrThrough records something: by itself where no bench is running, else through
// the bench, which alone may write. What is refused is a mistake in the command line.
func aloneOrThrough(ctx context.Context, dir, path string, r, answer any, alone func() error) error {
	err := alone()
	if errors.Is(err, journal.ErrLocked) {
		err = handOver(ctx, dir, path, r, answer)
	}
	if errors.Is(err, session.ErrRefused) {
		return usage(err)
	}
	return err
}

// addressName is the file beside the journal in which a bench with a page leaves
// its address, for commands that must go through it.
const addressName = "page.url"

// keepAddress leaves the address; forget takes it away again.
func keepAddress(dir, url string) (forget func(), err error) {
	path := filepath.Join(dir, addressName)
	if err := os.WriteFile(path, []byte(url+"\n"), 0o640); err != nil {
		return func() {}, fmt.Errorf("leave the address of the page: %w", err)
	}
	return func() { _ = os.Remove(path) }, nil // a stale one only costs a failed call
}

// handOver hands a request to the bench that has the journal open, and reads its answer.
func handOver(ctx context.Context, dir, path string, r, answer any) error {
	url, err := os.ReadFile(filepath.Join(dir, addressName))
	if err != nil {
		return fmt.Errorf("another tared is using %s. Stop it, or do this on its page", dir)
	}
	body, err := json.Marshal(r)
	if err != nil {
		return err
	}
	ctx, cancel := context.WithTimeout(ctx, 10*time.Second)
	defer cancel()
	q, err := http.NewRequestWithContext(ctx, http.MethodPost, strings.TrimSpace(string(url))+path, bytes.NewReader(body))
	if err != nil {
		return fmt.Errorf("the bench that is running on %s: %w", dir, err)
	}
	q.Header.Set("Content-Type", "application/json")
	res, err := http.DefaultClient.Do(q)
	if err != nil {
		return fmt.Errorf("the bench that is running on %s does not answer: %w", dir, err)
	}
	defer func() { _ = res.Body.Close() }()
	answered, err := io.ReadAll(io.LimitReader(res.Body, 1<<20))
	var got struct {
		Error string `json:"error"`
	}
	if err == nil {
		err = json.Unmarshal(answered, &got)
	}
	if err == nil && res.StatusCode == http.StatusOK {
		err = json.Unmarshal(answered, answer)
	}
	switch {
	case err != nil:
		return fmt.Errorf("the answer of the bench that is running on %s: %w", dir, err)
	case res.StatusCode == http.StatusOK:
		return nil
	case res.StatusCode == http.StatusConflict || res.StatusCode == http.StatusUnprocessableEntity:
		return &text.Refusal{Message: text.Written(got.Error)}
	case res.StatusCode == http.StatusUnauthorized:
		return errors.New("the bench that is running wants a paired browser: do this on its page")
	}
	return errors.New(got.Error)
}

package main

import (
	"bufio"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"strings"

	"github.com/spf13/cobra"

	"tared/session/journal"
)

func backupCommand() *cobra.Command {
	var dir string
	cmd := &cobra.Command{
		Use:  "backup FILE",
		Args: oneArg("FILE"),
		RunE: func(cmd *cobra.Command, args []string) error {
			return backup(cmd.OutOrStdout(), cmd.ErrOrStderr(), dir, args[0])
		},
	}
	addData(cmd, &dir)
	return cmd
}

func backup(out, errs io.Writer, dir, file string) error {
	shown := drawOn(errs, false)
	var made copied
	var err error
	beside := photosBeside(file)
	if strings.EqualFold(filepath.Ext(file), ".zip") {
		made, err = packRecord(file, dir, shown.step())
		beside = file
	} else {
		made, err = copyRecord(file, beside, dir, shown.step())
	}
	shown.end()
	if err != nil {
		return fmt.Errorf("backup: %w", err)
	}
	_, err = fmt.Fprintf(out, "%s\n  %s\n", says("cli.read-back", file, made.Lines), says("cli.hash-write-down", made.Head))
	return errors.Join(err, tellPhotos(out, beside, made.photos, made.missing))
}

// copied is what went into a copy of a record.
type copied struct {
	journal.Report
	photos  int
	missing []string // photographs that are named and were not there
}

// copyRecord writes the lines into a file and reads them back, and puts the photographs
// into the directory of that name in another one.
func copyRecord(file, photosTo, dir string, step func(done, of int64)) (made copied, err error) {
	pictures := photosNamed{step: newGauge(dir, 2, step)}
	err = whole(file, func(w io.Writer) (err error) {
		made.Report, err = writeCopy(w, dir, pictures.line)
		return err
	}, func(written io.Reader) error {
		_, err := readCopy(pictures.step.reads(written), io.Discard, "")
		if err != nil {
			return err
		}
		// The photographs go first: a journal must not name what is not there.
		made.photos, made.missing, err = copyPhotos(photosTo, dir, pictures.all)
		return err
	})
	return made, err
}

// whole writes a file beside its place and puts it there when all went well, so that
// what was there is never half replaced. Then, which may be nil, gets to read what
// was written, and can still refuse it.
func whole(file string, write func(io.Writer) error, then func(written io.Reader) error) error {
	old, err := os.Lstat(file)
	if err == nil && !old.Mode().IsRegular() {
		return failf("cli.is-not-a-plain-file", file)
	}
	tmp, err := os.CreateTemp(filepath.Dir(file), filepath.Base(file)+"-*.part")
	if errors.Is(err, fs.ErrNotExist) {
		return failf("cli.there-is-no-such-directory", filepath.Dir(file))
	}
	if err != nil {
		return fmt.Errorf("begin %s: %w", file, err)
	}
	defer func() { _ = os.Remove(tmp.Name()) }() // gone already when all went well
	if old != nil {                              // who may read it stays as somebody had it
		err = tmp.Chmod(old.Mode().Perm())
	}
	w := bufio.NewWriterSize(tmp, 1<<20)
	if err == nil {
		err = write(w)
	}
	if err == nil {
		err = errors.Join(w.Flush(), tmp.Sync())
	}
	if err == nil && then != nil {
		if _, err = tmp.Seek(0, io.SeekStart); err == nil {
			err = then(tmp)
		}
	}
	if err = errors.Join(err, tmp.Close()); err != nil {
		return failf("cli.is-as-it-was", err, file)
	}
	if err := os.Rename(tmp.Name(), file); err != nil {
		return failf("cli.put-in-its-place", file, err)
	}
	return syncDir(filepath.Dir(file))
}

func restoreCommand() *cobra.Command {
	var dir string
	cmd := &cobra.Command{
		Use:  "restore FILE",
		Args: oneArg("FILE"),
		RunE: func(cmd *cobra.Command, args []string) error {
			return takeIn(cmd.OutOrStdout(), cmd.ErrOrStderr(), dir, args[0], "")
		},
	}
	addData(cmd, &dir)
	return cmd
}

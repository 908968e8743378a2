package main

import (
	"bufio"
	"bytes"
	"encoding/hex"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"iter"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"time"

	"github.com/spf13/cobra"

	"tared/session/book"
	"tared/session/journal"
	"tared/session/material"
	"tared/session/photo"
	"tared/session/text"
)

// A copy of a journal is its lines, byte for byte, and one line more that says how
// many they are and what the last one hashes to: without it the last line, which
// has no successor, could be changed unseen.
type seal struct {
	Copy struct {
		Lines uint64       `json:"lines"`
		Head  journal.Hash `json:"head"`
	} `json:"copy"`
}

func sealed(rep journal.Report) []byte {
	var s seal
	s.Copy.Lines, s.Copy.Head = rep.Lines, rep.Head
	b, _ := json.Marshal(s) // numbers and hashes always marshal
	return append(b, '\n')
}

// writeCopy writes a copy of the journal in dir, checked while it is read. A line
// that a running bench is writing just now is not in it.
// Each line is given to each, too.
func writeCopy(w io.Writer, dir string, each func(journal.Record) error) (journal.Report, error) {
	rep, err := journal.Read(dir, func(r journal.Record) error {
		_, err := w.Write(r.Line)
		return errors.Join(err, each(r))
	})
	if err == nil {
		_, err = w.Write(sealed(rep))
	}
	if errors.Is(err, fs.ErrNotExist) {
		err = failf("cli.there-is-no-journal-in-2", dir)
	}
	return rep, err
}

// readCopy checks a copy and gives the lines of its journal to w as they are.
// head, when not empty, is what a bare journal without the last line must end in.
func readCopy(r io.Reader, w io.Writer, head string) (journal.Report, error) {
	var body bytes.Buffer // the line read last: the seal, when it is the last of all
	var tail []byte
	pr, pw := io.Pipe()
	type result struct {
		rep journal.Report
		err error
	}
	done := make(chan result, 1)
	go func() {
		rep, err := journal.Scan(pr, nil)
		_, _ = io.Copy(io.Discard, pr) // so that the writer never waits
		done <- result{rep, err}
	}()
	in := bufio.NewReaderSize(r, 64<<10)
	var err error
	for err == nil {
		var part []byte
		if part, err = in.ReadSlice('\n'); errors.Is(err, bufio.ErrBufferFull) {
			err = nil
		}
		if body.Len()+len(part) > journal.MaxLine {
			err = text.Fault("copy.long-line", text.Count("most", journal.MaxLine))
			break
		}
		body.Write(part)
		if len(part) == 0 || part[len(part)-1] != '\n' {
			continue
		}
		if _, e := io.MultiWriter(pw, w).Write(tail); e != nil {
			err = e
		}
		tail = append(tail[:0], body.Bytes()...)
		body.Reset()
	}
	if err = atEnd(err); err == nil && body.Len() > 0 {
		err = text.Fault("copy.cut-off")
	}
	hasSeal := bytes.HasPrefix(tail, []byte(`{"copy":`))
	if err == nil && !hasSeal {
		if head == "" {
			err = text.Kind(errNoSeal, text.Fault("copy.no-seal"))
		} else {
			_, err = io.MultiWriter(pw, w).Write(tail)
		}
	}
	_ = pw.Close()
	got := <-done
	var broken *journal.Damage
	switch {
	case errors.As(got.err, &broken) && broken.Line == 1:
		err = text.Kind(got.err, text.Refuse("copy.other-file", text.Because("why", broken.Why)))
	case got.err != nil:
		err = got.err
	case err == nil && !hasSeal:
		err = endsIn(got.rep, nil, head)
	case err == nil:
		err = endsIn(got.rep, tail, head)
	}
	return got.rep, err
}

// atEnd is what kept a reader from the end; nil: nothing.
func atEnd(err error) error {
	switch {
	case errors.Is(err, io.EOF):
		return nil
	case err != nil && text.Of(err).Code == "":
		return text.Kind(err, text.Fault("copy.unreadable", text.Because("why", err)))
	}
	return err
}

// endsIn holds what was read against the seal behind it and the hash that a person gave; a
// nil seal and an empty hash say nothing.
func endsIn(rep journal.Report, seal []byte, head string) error {
	if seal != nil && !bytes.Equal(seal, sealed(rep)) {
		return text.Fault("copy.other-seal", text.Count("line", int(rep.Lines)), text.Name("hash", rep.Head.String()), text.Name("seal", fmt.Sprintf("%.160s", bytes.TrimSpace(seal))))
	}
	if head != "" && !strings.EqualFold(strings.TrimSpace(head), rep.Head.String()) {
		return text.Fault("copy.other-head", text.Name("hash", rep.Head.String()), text.Name("head", head))
	}
	return nil
}

func exportCommand() *cobra.Command {
	var dir, as, without, file, own string
	var all, comma bool
	cmd := &cobra.Command{
		Use:  "export BATCH | --all",
		Args: maybeOneArg("BATCH"),
		RunE: func(cmd *cobra.Command, args []string) error {
			var noNames, noPrices bool
			for _, w := range strings.Split(without, ",") {
				switch strings.TrimSpace(w) {
				case "":
				case "prices":
					noPrices = true
				case "names":
					noNames = true
				default:
					return usagef("cli.without-give-names-prices-or", w)
				}
			}
			switch {
			case all == (len(args) == 1):
				return usagef("cli.give-the-number-of-one")
			case !slices.Contains([]string{"csv", "lines", "page"}, as):
				return usagef("cli.as-use-csv-lines-or", as)
			case comma && as != "csv":
				return usagef("cli.comma-export")
			case as == "lines" && without != "":
				return usagef("cli.as-lines-without-lines-are", without)
			}
			if comma {
				as = csvComma
			}
			mark := ""
			if !all {
				mark = args[0]
			}
			table, err := openMaterials(own)
			if err != nil {
				return err
			}
			shown := drawOn(cmd.ErrOrStderr(), false)
			write := func(w io.Writer, each func(journal.Record) error) error {
				return export(w, dir, mark, as, table, noNames, noPrices, time.Now(), each, shown.step())
			}
			if file != "" {
				return exportTo(cmd.OutOrStdout(), cmd.ErrOrStderr(), dir, file, as == "lines" && all, write, shown.end)
			}
			var pictures photosNamed
			out := bufio.NewWriter(cmd.OutOrStdout())
			err = errors.Join(write(out, pictures.line), out.Flush())
			if shown.end(); err != nil {
				return err
			}
			return tellLeft(cmd.ErrOrStderr(), dir, pictures.all)
		},
	}
	addData(cmd, &dir)
	addMaterials(cmd, &own)
	f := cmd.Flags()
	f.BoolVar(&all, "all", false, "")
	f.StringVar(&as, "as", "page", "")
	f.BoolVar(&comma, "decimal-comma", false, "")
	f.StringVar(&file, "out", "", "")
	f.StringVar(&without, "without", "", "")
	return cmd
}

// exportTo writes into a file; lines take their photographs along. All lines of a
// journal are a backup of it.
func exportTo(out, errs io.Writer, dir, file string, backs bool, write func(io.Writer, func(journal.Record) error) error, end func()) error {
	if backs {
		return backup(out, errs, dir, file)
	}
	var pictures photosNamed
	var copied int
	var missing []string
	err := whole(file, func(w io.Writer) error { return write(w, pictures.line) }, func(io.Reader) (err error) {
		copied, missing, err = copyPhotos(photosBeside(file), dir, pictures.all)
		return err
	})
	if end(); err == nil {
		_, err = fmt.Fprintln(out, says("cli.is-written", file))
	}
	if err == nil {
		err = tellPhotos(out, photosBeside(file), copied, missing)
	}
	return err
}

// csvComma is CSV with decimal commas, as the page of the record asks for it.
const csvComma = "csv-comma"

// export writes one batch, or all where mark is empty. Each gets the lines that are
// written as lines.
func export(out io.Writer, dir, mark, as string, table *material.Table, noNames, noPrices bool, at time.Time, each func(journal.Record) error, step func(done, of int64)) error {
	if as == "lines" && mark == "" {
		_, err := writeCopy(out, dir, each)
		return err
	}
	x, err := readIndex(dir, mark == "" || noNames)
	if err != nil {
		return err // a damaged record is not passed on
	}
	x.Shelf.Table = table
	count, batches := x.Len(), x.All()
	if mark != "" {
		n, err := batchOf(x, dir, mark)
		if err != nil {
			return err
		}
		count, batches = 1, book.Only(n)
	} else if step != nil {
		batches = counted(batches, count, step)
	}
	if as == "lines" {
		return x.Lines(mark, func(r journal.Record) error {
			_, err := out.Write(r.Line)
			return errors.Join(err, each(r))
		})
	}
	if noPrices {
		batches = withoutPrices(batches)
	}
	var hide *book.Names
	if noNames {
		if hide, err = x.Names(); err != nil {
			return err
		}
	}
	if as == "page" {
		return book.WritePage(out, at, hide, func(name string) ([]byte, error) { return photo.Small(dir, name) }, count, batches)
	}
	return book.WriteCSV(out, as == csvComma, hide, batches)
}

// counted tells how far the work on so many batches is.
func counted(batches iter.Seq2[*book.Batch, error], of int, step func(done, of int64)) iter.Seq2[*book.Batch, error] {
	return func(yield func(*book.Batch, error) bool) {
		done := int64(0)
		for n, err := range batches {
			if done++; !yield(n, err) {
				return
			}
			step(done, int64(of))
		}
	}
}

func withoutPrices(batches iter.Seq2[*book.Batch, error]) iter.Seq2[*book.Batch, error] {
	return func(yield func(*book.Batch, error) bool) {
		for n, err := range batches {
			if err == nil {
				n = n.WithoutPrices()
			}
			if !yield(n, err) {
				return
			}
		}
	}
}

// put makes a journal of a copy in a directory that has none. The lines are
// written beside it first, so that a damaged copy leaves nothing; nor does
// one with a photograph that was changed.
func put(dir, file, head string, pictures *photosTaken, step func(done, of int64)) (rep journal.Report, err error) {
	if _, err := os.Stat(file); errors.Is(err, fs.ErrNotExist) {
		return rep, failf("cli.there-is-no-such-file", file)
	}
	if err := os.MkdirAll(dir, 0o755); err != nil {
		return rep, failf("cli.make-the-data-directory", err)
	}
	path := filepath.Join(dir, journal.Name)
	if info, err := os.Stat(path); err == nil && info.Size() > 0 {
		return rep, failf("cli.is-there-already-and-is", path)
	}
	in, err := openSource(file, dir)
	if err != nil {
		return rep, text.Kind(errCopy, err)
	}
	defer in.drop()
	defer func() { _ = in.lines.Close() }()
	tmp, err := os.CreateTemp(dir, "copy-*.jsonl")
	if err != nil {
		return rep, failf("cli.write-beside-the-journal", err)
	}
	defer func() { _ = os.Remove(tmp.Name()) }() // gone already when all went well
	g := gaugeOf(2*in.size, step)
	rep, err = readCopy(g.reads(in.lines), tmp, head)
	if err == nil {
		err = tmp.Sync()
	}
	if err == nil {
		if _, err = tmp.Seek(0, io.SeekStart); err == nil {
			_, err = journal.Scan(g.reads(tmp), pictures.named.line)
		}
	}
	if err = errors.Join(err, tmp.Close()); err != nil {
		return rep, text.Kind(errCopy, err)
	}
	if err := pictures.find(in.photos, dir); err != nil {
		return rep, err
	}
	// Whoever opened the directory meanwhile has begun a journal: it is his.
	j, _, err := journal.Open(dir, journal.Options{})
	if err != nil {
		return rep, err
	}
	if j.Len() > 0 {
		return rep, errors.Join(failf("cli.was-begun-meanwhile-nothing-was", path), j.Close())
	}
	// The photographs go first: a journal must not name what is not there. They lie
	// there unnamed where the journal then cannot be put, and harm nothing.
	if err := pictures.bring(dir); err != nil {
		return rep, errors.Join(err, j.Close())
	}
	if err := os.Rename(tmp.Name(), path); err != nil {
		return rep, errors.Join(failf("cli.put-the-journal-in-its", err), j.Close())
	}
	return rep, errors.Join(syncDir(dir), j.Close())
}

// syncDir makes names in a directory last, where the system has a way to.
func syncDir(dir string) error {
	d, err := os.Open(dir)
	if err != nil {
		return err
	}
	_ = d.Sync() // not every system can; the file itself is on the disk
	return d.Close()
}

// checkHead holds what is given as the hash of a last line to the form of one.
func checkHead(head string) error {
	b, err := hex.DecodeString(strings.TrimSpace(head))
	if head != "" && (err != nil || len(b) != len(journal.Hash{})) {
		return text.Refuse("copy.hash", text.Name("hash", head))
	}
	return nil
}

func importCommand() *cobra.Command {
	var dir, head string
	cmd := &cobra.Command{
		Use:  "import FILE",
		Args: oneArg("FILE"),
		RunE: func(cmd *cobra.Command, args []string) error {
			if err := checkHead(head); err != nil {
				return usagef("cli.of-flag", "head", err)
			}
			return takeIn(cmd.OutOrStdout(), cmd.ErrOrStderr(), dir, args[0], head)
		},
	}
	addData(cmd, &dir)
	cmd.Flags().StringVar(&head, "head", "", "")
	return cmd
}

// errCopy is of a copy that cannot be taken in, errNoSeal of one whose end says nothing of
// the rest.
var (
	errCopy   = errors.New("the copy")
	errNoSeal = errors.New("no seal")
)

func takeIn(out, errs io.Writer, dir, file, head string) error {
	var pictures photosTaken
	shown := drawOn(errs, false)
	rep, err := put(dir, file, head, &pictures, shown.step())
	shown.end()
	switch {
	case errors.Is(err, errNoSeal):
		return failf("cli.no-seal", file, err)
	case errors.Is(err, errCopy):
		return failf("cli.nothing-was-taken-in", file, err)
	case err != nil:
		return err
	}
	if _, err = fmt.Fprintf(out, "%s\n  %s\n", says("cli.taken-in", filepath.Join(dir, journal.Name), rep.Lines), says("cli.hash-of-last", rep.Head)); err != nil {
		return err
	}
	return pictures.tell(out, dir, file)
}

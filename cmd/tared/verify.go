package main

import (
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"slices"
	"time"

	"github.com/spf13/cobra"

	"tared/session/journal"
	"tared/session/photo"
	"tared/session/text"
)

// tornAgain is how long verify waits before it looks a second time at a last
// line without its newline: a daemon may be writing it just now, and one write
// takes milliseconds.
const tornAgain = 300 * time.Millisecond

func verifyCommand() *cobra.Command {
	var dir, hash string
	var asJSON bool
	cmd := &cobra.Command{
		Use:  "verify [FILE]",
		Args: maybeOneArg("FILE"),
		RunE: func(cmd *cobra.Command, args []string) error {
			if len(args) > 0 {
				if err := checkHead(hash); err != nil {
					return usagef("cli.of-flag", "hash", err)
				}
				return verifyCopy(cmd.OutOrStdout(), cmd.ErrOrStderr(), args[0], hash, asJSON)
			}
			if hash != "" {
				var err error
				if hash, err = hashWanted(hash); err != nil {
					return usage(err)
				}
			}
			return verify(cmd.OutOrStdout(), cmd.ErrOrStderr(), dir, hash, asJSON)
		},
	}
	cmd.Flags().StringVar(&hash, "hash", "", "")
	addData(cmd, &dir)
	cmd.Flags().BoolVar(&asJSON, "json", false, "")
	return cmd
}

// verdict is what verify --json says.
type verdict struct {
	OK   bool   `json:"ok"`
	Path string `json:"path"`
	journal.Report
	Damage   *damage      `json:"damage"`           // null when every line is intact
	Pictures int          `json:"photos"`           // photographs that the lines name
	Photos   []photoFault `json:"photo_faults"`     // those that are missing or were changed
	Unnamed  int          `json:"photos_not_named"` // files that no line names; they harm nothing
	Differ   []saidOfLine `json:"differs"`          // what a line says, and what follows from the lines of its scale
	Cannot   int          `json:"not_derived"`      // portions of which that is not known
	Signed   int          `json:"signed"`           // signatures that hold
	Unsure   []saidOfLine `json:"signature_faults"` // those that do not
	Hashed   []saidOfLine `json:"hashed,omitempty"` // the lines with the hash that was asked for
}

// verifyCopy checks a backup or an export of all lines, and restores nothing. head is
// what a bare journal must end in.
func verifyCopy(out, errs io.Writer, file, head string, asJSON bool) error {
	in, err := openSource(file, os.TempDir())
	if err != nil {
		return failf("cli.open-the-copy", err)
	}
	defer in.drop()
	defer func() { _ = in.lines.Close() }()
	shown := drawOn(errs, asJSON)
	rep, err := readCopy(gaugeOf(in.size, shown.step()).reads(in.lines), io.Discard, head)
	shown.end()
	switch {
	case err != nil:
		return fmt.Errorf("%s: %w", file, err)
	case asJSON:
		return json.NewEncoder(out).Encode(verdict{OK: true, Path: file, Report: rep})
	}
	_, err = fmt.Fprintf(out, "%s\n  %s\n", language.Say(text.New("copy.holds", text.Name("file", file), text.Count("count", int(rep.Lines)))),
		language.Say(text.New("copy.head", text.Name("hash", rep.Head.String()))))
	return err
}

type damage struct {
	Line   uint64 `json:"line"`
	Offset int64  `json:"offset"`
	Why    string `json:"why"`
}

func verify(out, errs io.Writer, dir, hash string, asJSON bool) error {
	shown := drawOn(errs, asJSON)
	v, err := judge(dir, hash, shown.step())
	shown.end()
	if err != nil {
		return err
	}
	if asJSON {
		v.Marks, v.Before = [2]int64{}, 0 // of no use to a reader
		if err := json.NewEncoder(out).Encode(v); err != nil {
			return err
		}
	} else if err := v.tell(out); err != nil {
		return err
	}
	return v.complaint(dir, hash)
}

// judge walks the journal and says how it stands.
func judge(dir, hash string, step func(done, of int64)) (v verdict, err error) {
	path := filepath.Join(dir, journal.Name)
	begin := func() walked {
		return walked{hash: hash, photos: photosNamed{step: newGauge(dir, 1, step)}}
	}
	seen := begin()
	report, err := journal.ReadWith(dir, journal.Options{Witness: witnessFile(dir), Each: seen.line})
	if report.Torn != nil {
		time.Sleep(tornAgain)
		seen = begin()
		report, err = journal.ReadWith(dir, journal.Options{Witness: witnessFile(dir), Each: seen.line})
	}
	var broken *journal.Damage
	switch {
	case errors.Is(err, fs.ErrNotExist):
		return v, noJournal(dir)
	case errors.As(err, &broken):
	case err != nil:
		return v, fmt.Errorf("read %s: %w", path, err)
	}
	v = verdict{OK: err == nil && report.Torn == nil, Path: path, Report: report, Differ: seen.differ, Cannot: seen.cannot, Signed: seen.signed, Unsure: seen.unsure, Hashed: seen.hashed}
	switch {
	case broken != nil:
		v.Damage = &damage{broken.Line, broken.Offset, broken.Why.Error()}
	case report.Torn != nil:
		v.Damage = &damage{report.Torn.Line, report.Torn.Offset, says("cli.it-is-cut-off-after", report.Torn.Bytes)}
	}
	if v.Photos, v.Unnamed, err = seen.photos.faults(dir); err != nil {
		return v, err
	}
	v.Pictures = len(seen.photos.all)
	v.OK = v.OK && len(v.Photos) == 0 && len(v.Differ) == 0 && len(v.Unsure) == 0 && report.Missing == nil
	return v, nil
}

// complaint is what is wrong, and what to do about it; nil: nothing.
func (v verdict) complaint(dir, hash string) error {
	switch w := v.Missing; {
	case v.Damage != nil:
		advice := text.Put("cli.keep-file")
		if v.Torn != nil {
			advice = text.Put("cli.torn")
		}
		return failf("cli.line-is-damaged", v.Path, v.Damage.Line, v.Damage.Why, advice)
	case w != nil:
		return failf("cli.every-line-holds-but-this", v.Path, w.Lines, w.At.Format(time.DateOnly), w.Head)
	case len(v.Photos) > 0:
		f := v.Photos[0]
		return failf("cli.line-names-it-take-it", f.Why, f.Line, filepath.Join(dir, photo.Dir))
	case len(v.Unsure) > 0:
		f := v.Unsure[0]
		return failf("cli.every-line-holds-but-line", v.Path, f.Line, f.Says, f.Batch)
	case len(v.Differ) > 0:
		d := v.Differ[0]
		return failf("cli.every-line-holds-but-line-2", v.Path, d.Line, d.Says)
	case hash != "" && len(v.Hashed) == 0:
		return failf("cli.no-line-of-this-journal")
	}
	return nil
}

func (v verdict) tell(out io.Writer) error {
	if v.Lines == 0 {
		_, err := fmt.Fprintln(out, says("cli.no-line-is-whole", v.Path))
		if v.OK {
			_, err = fmt.Fprintln(out, says("cli.empty-nothing-has-been-recorded", v.Path))
		}
		return err
	}
	word := says("cli.intact", v.Path)
	if v.Damage != nil {
		word = says("cli.intact-before", v.Path)
	}
	_, err := fmt.Fprintf(out, "%s\n  %s\n  %s\n", word,
		says("cli.lines-from", v.Lines, v.First.Format(time.RFC3339), v.Last.Format(time.RFC3339)), says("cli.hash-of-last", v.Head))
	if err == nil && v.Backwards > 0 {
		_, err = fmt.Fprint(out, "  "+says("cli.the-clock-of-the-machine", v.Backwards)+"\n")
	}
	if err == nil {
		err = v.tellHeld(out)
	}
	for _, f := range v.Photos {
		if err == nil {
			_, err = fmt.Fprintln(out, "  "+says("cli.line-says", f.Line, f.Why))
		}
	}
	if err == nil && v.Unnamed > 0 {
		_, err = fmt.Fprint(out, "  "+says("cli.photos-that-no-line-names", v.Unnamed)+"\n")
	}
	for _, d := range append(slices.Clone(v.Unsure), v.Differ...) {
		if err == nil {
			_, err = fmt.Fprintln(out, "  "+says("cli.line-batch-says", d.Line, d.Batch, d.Says))
		}
	}
	if err == nil && v.Cannot > 0 {
		_, err = fmt.Fprint(out, "  "+says("cli.portions-that-cannot-be-derived", v.Cannot)+"\n")
	}
	for _, h := range v.Hashed {
		if err == nil {
			_, err = fmt.Fprint(out, "  "+says("cli.line-batch-has-the-hash", h.Line, h.Batch, h.Says)+"\n")
		}
	}
	for _, n := range v.Notes {
		if err == nil {
			_, err = fmt.Fprintln(out, "  "+says("cli.line-says", n.Line, n.Words))
		}
	}
	return err
}

// tellHeld tells how many photographs and signatures are as they should be.
func (v verdict) tellHeld(out io.Writer) (err error) {
	if v.Pictures > 0 {
		_, err = fmt.Fprint(out, "  "+says("cli.photos-of-them-as-the", v.Pictures, v.Pictures-len(v.Photos))+"\n")
	}
	if v.Signed > 0 && err == nil {
		_, err = fmt.Fprint(out, "  "+says("cli.signatures-that-hold", v.Signed)+"\n")
	}
	return err
}

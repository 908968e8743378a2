package main

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"math/big"
	"net/http"
	"os"
	"path/filepath"
	"strings"
	"time"

	"github.com/spf13/cobra"

	"tared/protocol"
	"tared/session"
	"tared/session/book"
	"tared/session/fact"
	"tared/session/glaze"
	"tared/session/journal"
	"tared/session/photo"
)

func waterCommand() *cobra.Command {
	var a keepFlags
	var w session.WaterRequest
	var wanted, own string
	cmd := &cobra.Command{
		Use:  "water BATCH",
		Args: oneArg("BATCH"),
		RunE: func(cmd *cobra.Command, args []string) error {
			want, err := wantedGravity(wanted)
			if err != nil {
				return usage(err)
			}
			table, err := openMaterials(own)
			if err != nil {
				return err
			}
			out, tell := cmd.OutOrStdout(), func(n *book.Batch) error { return render(cmd.OutOrStdout(), a.json, n.After(time.Now(), want)) }
			if w != (session.WaterRequest{}) {
				b, err := a.record(cmd.Context(), out, session.EntryRequest{Batch: args[0], Watered: &w})
				if err != nil {
					return err
				}
				if b != nil {
					b.Shelf.Table = table
					n, err := b.Find(args[0])
					if err != nil {
						return err
					}
					return tell(n)
				}
			}
			return withBatch(a.data, glaze.Shelf{Table: table}, args[0], tell)
		},
	}
	a.addTo(cmd)
	f := cmd.Flags()
	f.StringVar(&w.Added, "added", "", "")
	f.StringVar(&w.Sample, "sample", "", "")
	f.StringVar(&w.Volume, "volume", "", "")
	f.StringVar(&w.Bottle, "bottle", "", "")
	f.StringVar(&w.Vessel, "vessel", "", "")
	f.StringVar(&w.Celsius, "celsius", "", "")
	f.StringVar(&w.Seconds, "seconds", "", "")
	f.StringVar(&w.Mesh, "mesh", "", "")
	f.StringVar(&w.Standard, "standard", "", "")
	f.StringVar(&w.Opening, "opening", "", "")
	f.StringVar(&w.Words, "note", "", "")
	addMaterials(cmd, &own)
	f.StringVar(&wanted, "wanted", "", "")
	return cmd
}

// wantedGravity reads a gravity; "" is none.
func wantedGravity(s string) (*big.Rat, error) {
	if s == "" {
		return nil, nil
	}
	d, err := protocol.ParseHumanDecimal(s)
	if err != nil {
		return nil, failf("cli.gravity-wanted-write-it-as", err)
	}
	r, _ := new(big.Rat).SetString(d.String())
	if r.Cmp(big.NewRat(1, 1)) <= 0 || r.Cmp(big.NewRat(3, 1)) > 0 {
		return nil, failf("cli.wanted-give-a-specific-gravity", s)
	}
	return r, nil
}

func fireCommand() *cobra.Command {
	var f fact.Fired
	var curve string
	var pictures []string
	cmd := entryCommand("fire BATCH --kiln KILN",
		func(ctx context.Context, a *keepFlags, in io.Reader) (r session.EntryRequest, err error) {
			if curve != "" {
				if f.Curve, err = readRecipe(curve, in); err != nil {
					return r, fmt.Errorf("curve: %s", strings.TrimPrefix(err.Error(), "recipe "))
				}
			}
			f.Photos, err = a.keepPhotos(ctx, pictures)
			return session.EntryRequest{Fired: &f}, err
		})
	fl := cmd.Flags()
	fl.StringVar(&f.Kiln, "kiln", "", "")
	fl.StringVar(&f.Cone, "cone", "", "")
	fl.StringVar(&f.Hold, "hold", "", "")
	fl.StringVar(&f.Atmosphere, "atmosphere", "", "")
	fl.StringArrayVar(&f.Tiles, "tile", nil, "")
	fl.StringArrayVar(&pictures, "photo", nil, "")
	fl.StringVar(&curve, "curve", "", "")
	fl.StringVar(&f.Words, "note", "", "")
	return cmd
}

func judgeCommand() *cobra.Command {
	var j fact.Judged
	var pictures []string
	cmd := entryCommand("judge BATCH --tile MARK",
		func(ctx context.Context, a *keepFlags, _ io.Reader) (_ session.EntryRequest, err error) {
			j.Photos, err = a.keepPhotos(ctx, pictures)
			return session.EntryRequest{Judged: &j}, err
		})
	f := cmd.Flags()
	f.StringVar(&j.Tile, "tile", "", "")
	f.StringVar(&j.Clay, "clay", "", "")
	f.StringVar(&j.Coats, "coats", "", "")
	f.StringVar(&j.Thick, "thickness", "", "")
	f.StringVar(&j.Place, "place", "", "")
	f.StringVar(&j.Words, "words", "", "")
	f.StringArrayVar(&j.Tags, "tag", nil, "")
	f.StringArrayVar(&pictures, "photo", nil, "")
	f.StringVar(&j.Verdict, "verdict", "", "")
	f.StringVar(&j.Next, "next", "", "")
	return cmd
}

func correctCommand() *cobra.Command {
	var c session.WeightRequest
	cmd := entryCommand("correct BATCH --entry N --weight MASS --reason WHY",
		func(context.Context, *keepFlags, io.Reader) (session.EntryRequest, error) {
			return session.EntryRequest{Correct: &c}, nil
		})
	f := cmd.Flags()
	f.Uint64Var(&c.Entry, "entry", 0, "")
	f.StringVar(&c.Weight, "weight", "", "")
	f.StringVar(&c.Reason, "reason", "", "")
	return cmd
}

func strikeCommand() *cobra.Command {
	var s session.StrikeRequest
	cmd := entryCommand("strike BATCH --entry N --reason WHY",
		func(context.Context, *keepFlags, io.Reader) (session.EntryRequest, error) {
			return session.EntryRequest{Strike: &s}, nil
		})
	cmd.Flags().Uint64Var(&s.Entry, "entry", 0, "")
	cmd.Flags().StringVar(&s.Reason, "reason", "", "")
	return cmd
}

// entryCommand is a command that records something of a batch that is closed. Entry says
// what, once the flags are read; in is standard input.
func entryCommand(use string, entry func(ctx context.Context, a *keepFlags, in io.Reader) (session.EntryRequest, error)) *cobra.Command {
	var a keepFlags
	cmd := &cobra.Command{Use: use, Args: oneArg("BATCH"),
		RunE: func(cmd *cobra.Command, args []string) error {
			r, err := entry(cmd.Context(), &a, cmd.InOrStdin())
			if err == nil {
				r.Batch = args[0]
				_, err = a.record(cmd.Context(), cmd.OutOrStdout(), r)
			}
			return err
		},
	}
	a.addTo(cmd)
	return cmd
}

// keepPhotos copies photographs beside the journal and gives their names. A name does
// harm to nobody where the entry that was to name it is refused.
func (a *keepFlags) keepPhotos(ctx context.Context, files []string) (names []string, err error) {
	for _, file := range files {
		if err := journalIn(a.data); err != nil {
			return nil, err
		}
		name, err := a.keepPhoto(ctx, file)
		if err != nil {
			return nil, fmt.Errorf("photograph %s: %w", file, err)
		}
		names = append(names, name)
	}
	return names, nil
}

// keepPhoto hands a photograph to the bench that is running, else keeps it itself.
func (a *keepFlags) keepPhoto(ctx context.Context, file string) (name string, err error) {
	f, err := os.Open(file)
	if err != nil {
		return "", err
	}
	defer func() { _ = f.Close() }()
	picture, ext, err := photo.Clean(f)
	if err != nil {
		return "", err
	}
	var got struct{ Name string }
	err = call(ctx, a.data, http.MethodPost, "api/photo", photo.Type(ext), bytes.NewReader(picture), &got)
	if errors.Is(err, errNoBench) {
		return photo.Keep(a.data, bytes.NewReader(picture))
	}
	return got.Name, err
}

// record adds an entry: by itself where no bench is running, else through the
// bench, which alone may write. It gives the book with the entry where it had to read it.
func (a *keepFlags) record(ctx context.Context, out io.Writer, r session.EntryRequest) (all *book.Index, err error) {
	if err := journalIn(a.data); err != nil {
		return nil, err
	}
	if r.By, err = a.name(); err != nil {
		return nil, err
	}
	var added fact.Fact
	if added, err = through(ctx, a.data, r); errors.Is(err, errNoBench) {
		added, all, err = session.RecordEntry(a.data, witnessFile(a.data), time.Now(), r)
	}
	switch {
	case errors.Is(err, journal.ErrLocked):
		err = whoHasIt(a.data)
	case errors.Is(err, session.ErrRefused):
		err = usage(err)
	case err != nil:
	case a.json:
		_, err = fmt.Fprintf(out, "{\"kind\":\"recorded\",\"batch\":%q,\"seq\":%d}\n", added.Batch, added.Seq)
	default:
		_, err = fmt.Fprintln(out, says("cli.recorded-as-entry-of-batch", added.Seq, added.Batch))
	}
	return all, err
}

// through hands an entry to the bench that has the journal open.
func through(ctx context.Context, dir string, r session.EntryRequest) (added fact.Fact, err error) {
	if !exists(filepath.Join(dir, controlName)) {
		return added, errNoBench
	}
	x, err := readIndex(dir, false)
	if x == nil {
		return added, err
	}
	if k := x.Number(r.Batch); k > 0 {
		r.Batch = x.Mark(k) // it may be typed in any case
	}
	var got struct {
		Seq uint64 `json:"seq"`
	}
	err = handOver(ctx, dir, "api/after", r, &got)
	return fact.Fact{Seq: got.Seq, Batch: r.Batch}, err
}

// journalIn refuses a directory without a journal: a wrong --data begins none.
func journalIn(dir string) error {
	if _, err := os.Stat(filepath.Join(dir, journal.Name)); errors.Is(err, fs.ErrNotExist) {
		return noJournal(dir)
	}
	return nil // what else is wrong with it, reading it tells better
}

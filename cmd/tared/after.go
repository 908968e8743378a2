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
	"tared/session/journal"
	"tared/session/photo"
)

func waterCommand() *cobra.Command {
	var a keepFlags
	var w session.WaterRequest
	var wanted, own string
	cmd := &cobra.Command{
		Use:   "water BATCH",
		Short: "Water, gravity and sieve of a batch that is closed; how much water to add",
		Args:  oneArg("BATCH"),
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
					b.Table = table
					n, err := b.Find(args[0])
					if err != nil {
						return err
					}
					return tell(n)
				}
			}
			return withBatch(a.data, table, args[0], tell)
		},
	}
	a.addTo(cmd)
	f := cmd.Flags()
	f.StringVar(&w.Added, "added", "", "water weighed in, such as 700g")
	f.StringVar(&w.Sample, "sample", "", "net weight of the slip that fills a vessel, such as 148.7g")
	f.StringVar(&w.Volume, "volume", "", "what that vessel holds, such as 100ml")
	f.StringVar(&w.Bottle, "bottle", "", "in place of --volume: net weight of the water that fills it, such as 99.8g")
	f.StringVar(&w.Vessel, "vessel", "", "in place of --volume: a vessel that 'tared vessel' has measured")
	f.StringVar(&w.Celsius, "celsius", "", "temperature of that water in degrees Celsius")
	f.StringVar(&w.Seconds, "seconds", "", "seconds from a flow cup")
	f.StringVar(&w.Mesh, "mesh", "", "number of the sieve; needs --standard")
	f.StringVar(&w.Standard, "standard", "", "of that number: US (ASTM E11) or British (BSS)")
	f.StringVar(&w.Opening, "opening", "", "in place of --mesh: opening of the sieve in µm")
	f.StringVar(&w.Words, "note", "", "how thick it is, in words")
	addMaterials(cmd, &own)
	f.StringVar(&wanted, "wanted", "", "tell how much water brings it to this gravity, such as 1.45")
	return cmd
}

// wantedGravity reads a gravity; "" is none.
func wantedGravity(s string) (*big.Rat, error) {
	if s == "" {
		return nil, nil
	}
	d, err := protocol.ParseHumanDecimal(s)
	if err != nil {
		return nil, fmt.Errorf("gravity wanted: %w; write it as 1.45", err)
	}
	r, _ := new(big.Rat).SetString(d.String())
	if r.Cmp(big.NewRat(1, 1)) <= 0 || r.Cmp(big.NewRat(3, 1)) > 0 {
		return nil, fmt.Errorf("--wanted %q: give a specific gravity of more than 1 and at most 3, for example 1.45", s)
	}
	return r, nil
}

func fireCommand() *cobra.Command {
	var f fact.Fired
	var curve string
	var pictures []string
	cmd := entryCommand("fire BATCH --kiln KILN", "Note a firing of tiles with a batch that is closed",
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
	fl.StringVar(&f.Kiln, "kiln", "", "which kiln")
	fl.StringVar(&f.Cone, "cone", "", "cone, as you call it")
	fl.StringVar(&f.Hold, "hold", "", "hold at the top")
	fl.StringVar(&f.Atmosphere, "atmosphere", "", "oxidation, reduction, …")
	fl.StringArrayVar(&f.Tiles, "tile", nil, "mark of a tile in it; may be repeated")
	fl.StringArrayVar(&pictures, "photo", nil, "file of a photograph, JPEG or PNG; may be repeated")
	fl.StringVar(&curve, "curve", "", "file of minutes and degrees Celsius, - for standard input")
	fl.StringVar(&f.Words, "note", "", "anything else")
	return cmd
}

func judgeCommand() *cobra.Command {
	var j fact.Judged
	var pictures []string
	cmd := entryCommand("judge BATCH --tile MARK", "Note how a tile of a batch came out",
		func(ctx context.Context, a *keepFlags, _ io.Reader) (_ session.EntryRequest, err error) {
			j.Photos, err = a.keepPhotos(ctx, pictures)
			return session.EntryRequest{Judged: &j}, err
		})
	f := cmd.Flags()
	f.StringVar(&j.Tile, "tile", "", "mark of the tile")
	f.StringVar(&j.Clay, "clay", "", "clay body")
	f.StringVar(&j.Coats, "coats", "", "coats of glaze")
	f.StringVar(&j.Thick, "thickness", "", "how thick it is on")
	f.StringVar(&j.Place, "place", "", "where it stood in the kiln")
	f.StringVar(&j.Words, "words", "", "what came out")
	f.StringArrayVar(&j.Tags, "tag", nil, "a tag of your own; may be repeated")
	f.StringArrayVar(&pictures, "photo", nil, "file of a photograph, JPEG or PNG; may be repeated")
	f.StringVar(&j.Verdict, "verdict", "", "your verdict")
	f.StringVar(&j.Next, "next", "", "what to try next")
	return cmd
}

func correctCommand() *cobra.Command {
	var c session.WeightRequest
	cmd := entryCommand("correct BATCH --entry N --weight MASS --reason WHY", "Give a portion of a closed batch another weight; the old one stays beside it",
		func(context.Context, *keepFlags, io.Reader) (session.EntryRequest, error) {
			return session.EntryRequest{Correct: &c}, nil
		})
	f := cmd.Flags()
	f.Uint64Var(&c.Entry, "entry", 0, "number of the portion's entry")
	f.StringVar(&c.Weight, "weight", "", "what went in, such as 35.0g")
	f.StringVar(&c.Reason, "reason", "", "why it is not what was recorded")
	return cmd
}

func strikeCommand() *cobra.Command {
	var s session.StrikeRequest
	cmd := entryCommand("strike BATCH --entry N --reason WHY", "Take a note on water, firing or tile, or a portion, out of the count",
		func(context.Context, *keepFlags, io.Reader) (session.EntryRequest, error) {
			return session.EntryRequest{Strike: &s}, nil
		})
	cmd.Flags().Uint64Var(&s.Entry, "entry", 0, "number of the entry")
	cmd.Flags().StringVar(&s.Reason, "reason", "", "why it no longer counts")
	return cmd
}

// entryCommand is a command that records something of a batch that is closed. Entry says
// what, once the flags are read; in is standard input.
func entryCommand(use, short string, entry func(ctx context.Context, a *keepFlags, in io.Reader) (session.EntryRequest, error)) *cobra.Command {
	var a keepFlags
	cmd := &cobra.Command{Use: use, Short: short, Args: oneArg("BATCH"),
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
		return "", errors.Unwrap(err)
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
		_, err = fmt.Fprintf(out, "Recorded as entry %d of batch %s.\n", added.Seq, added.Batch)
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

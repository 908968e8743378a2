package main

import (
	"bufio"
	"errors"
	"fmt"
	"io"
	"strings"

	"github.com/spf13/cobra"

	"tared/protocol"
)

func decodeCommand() *cobra.Command {
	var name, unit, parity, file string
	var midstream bool
	cmd := &cobra.Command{
		Use:   "decode [--format NAME]",
		Short: "Bytes of a scale in, one JSON object a frame out",
		Long: `decode reads the bytes that a scale sends from standard input and writes one
JSON object for each frame to standard output:

  {"format":…,"value":…,"unit":…,"stable":…,"mode":…,"status":…,"raw":…}

value is a decimal string with the digits as shown, or null; stable is true,
false or null where the frame does not say; status is ok, overload, underload,
error or invalid; raw is the frame in hex without its terminator. It writes as
it reads, so the input may never end.

Without --format it looks at the first frames and finds the format. Where several
formats could be meant and would read the bytes differently it prints no weight:
it names them and exits 1.

A frame that is damaged or not of the format is an object too, with the status
invalid. decode exits 0 when at least one frame was understood (overload,
underload and error count), and 1 when none was.`,
		Example: `  tared decode <capture.bin
  tared decode --format bare-number-cr --unit g <capture.bin
  stty -F /dev/ttyUSB0 9600 raw; tared decode </dev/ttyUSB0`,
		Args: noArgs,
		RunE: func(cmd *cobra.Command, _ []string) error {
			d := decoding{in: cmd.InOrStdin(), out: bufio.NewWriter(cmd.OutOrStdout()), errs: cmd.ErrOrStderr()}
			if unit != "" {
				u, ok := protocol.LookupUnit(unit)
				if !ok || !u.IsMass() {
					return usagef("--unit %q: not a unit of mass: use g, kg, mg, oz, lb, ct or gn", unit)
				}
				d.unit = u
			}
			if name != "" {
				own, err := readFormats(file)
				if err != nil {
					return err
				}
				f, ok := lookup(own, name)
				if !ok {
					return usagef("--format %q: there is no such format: 'tared formats' lists them", name)
				}
				d.format = f
			}
			switch parity {
			case "":
			case "even":
				d.parity = 'E'
			case "odd":
				d.parity = 'O'
			default:
				return usagef("--parity %q: use even or odd", parity)
			}
			d.midstream = midstream
			return d.run()
		},
	}
	cmd.Flags().StringVar(&name, "format", "", "name of the format; without it the format is found from the first frames")
	addFormats(cmd, &file)
	cmd.Flags().StringVar(&unit, "unit", "", "what a frame with no unit means, such as g")
	cmd.Flags().BoolVar(&midstream, "midstream", false, "the bytes were caught while the scale talked: drop what may be a cut frame at the front")
	cmd.Flags().StringVar(&parity, "parity", "", "even or odd, for bytes sent with 7 data bits and that parity but read with 8 and none")
	cmd.Flags().Bool("json", true, "one JSON object a frame; there is no other output")
	_ = cmd.Flags().MarkHidden("json")
	return cmd
}

// lookup finds a format by its name, the user's own first.
func lookup(own []*protocol.Format, name string) (*protocol.Format, bool) {
	for _, f := range own {
		if f.Name == name {
			return f, true
		}
	}
	return protocol.Lookup(name)
}

// decoding is one run of decode.
type decoding struct {
	in         io.Reader
	out        *bufio.Writer
	errs       io.Writer
	format     *protocol.Format
	unit       protocol.Unit
	parity     byte
	midstream  bool
	understood int
	refused    int
}

func (d *decoding) run() error {
	var sample []byte
	var ended bool
	if d.format == nil {
		var err error
		if sample, ended, err = d.detect(); err != nil {
			return err
		}
	}
	dec := protocol.NewDecoder(d.format, protocol.Options{BlankUnit: d.unit, Midstream: d.midstream, Parity: d.parity, EachFrame: true})
	dec.Push(sample)
	buf := make([]byte, 4096)
	for !ended {
		if err := d.write(dec); err != nil {
			return err
		}
		n, err := d.in.Read(buf)
		dec.Push(buf[:n])
		if errors.Is(err, io.EOF) {
			ended = true
		} else if err != nil {
			return fmt.Errorf("read standard input: %w", err)
		}
	}
	dec.Finish()
	if err := d.write(dec); err != nil {
		return err
	}
	switch {
	case d.understood > 0:
		return nil
	case d.refused > 0:
		return fmt.Errorf("none of %d frames was understood as %s: try without --format, or 'tared formats'", d.refused, d.format.Name)
	}
	return errors.New("standard input held no frame: give it the bytes that a scale sends")
}

// write prints the readings that are there, and lets them go at once: whoever
// reads an endless stream wants each weight when it comes.
func (d *decoding) write(dec *protocol.Decoder) error {
	var line []byte
	for {
		r, ok := dec.Next()
		if !ok {
			break
		}
		if r.Status == protocol.Invalid {
			d.refused++
		} else {
			d.understood++
		}
		line = append(protocol.AppendJSON(line[:0], r), '\n')
		if _, err := d.out.Write(line); err != nil {
			return fmt.Errorf("write to standard output: %w", err)
		}
	}
	if err := d.out.Flush(); err != nil {
		return fmt.Errorf("write to standard output: %w", err)
	}
	return nil
}

// How much is looked at before a stream that does not end is decided, or given
// up: enough frames for a live instrument to show its kinds of line, or a
// sample of bytes in which any format would have shown one.
const (
	sameFrames = 10
	manyFrames = 20
	sampleSize = 16 << 10
)

// detect reads until the format is clear, and gives the bytes read so far.
func (d *decoding) detect() (sample []byte, ended bool, err error) {
	buf := make([]byte, 4096)
	var found protocol.Detection
	for {
		n, err := d.in.Read(buf)
		sample = append(sample, buf[:n]...)
		if errors.Is(err, io.EOF) {
			ended = true
		} else if err != nil {
			return nil, false, fmt.Errorf("read standard input: %w", err)
		}
		if n == 0 && !ended {
			continue
		}
		found = protocol.Detect(sample)
		frames := 0
		if len(found.Candidates) > 0 {
			frames = found.Candidates[0].Frames()
		}
		if found.Live() || found.Same && frames >= sameFrames || frames >= manyFrames || ended || len(sample) >= sampleSize {
			break
		}
	}
	if len(sample) == 0 {
		return nil, true, errors.New("standard input held no byte: give it what a scale sends, such as: tared decode <capture.bin")
	}
	var names []string
	weights := 0
	for _, c := range found.Candidates {
		names = append(names, c.Format.Name)
		weights += c.Weights
	}
	switch {
	case found.Format != nil:
		d.format = found.Format
	case found.Same, len(names) == 1 && weights == 0:
		// Either nothing depends on the choice, or there is no weight to be wrong.
		d.format = found.Candidates[0].Format
		if len(names) > 1 {
			_, _ = fmt.Fprintf(d.errs, "tared decode: %s. So far all of them read every frame alike, and that is what is shown; to be certain give --format.\n", found.Why)
		}
	case len(names) > 1:
		return nil, false, fmt.Errorf("%s: no weight is shown, for they would read it differently. Choose with --format %s", found.Why, strings.Join(names, " or --format "))
	default:
		return nil, false, fmt.Errorf("%s ('tared formats' lists what is known)", found.Why)
	}
	if d.parity == 0 && found.Parity != 0 {
		d.parity = found.Parity
		_, _ = fmt.Fprintf(d.errs, "tared decode: %s\n", found.Why)
	}
	return sample, ended, nil
}

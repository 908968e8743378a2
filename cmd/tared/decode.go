package main

import (
	"bufio"
	"errors"
	"fmt"
	"io"

	"github.com/spf13/cobra"

	"tared/protocol"
)

func decodeCommand() *cobra.Command {
	var name, unit string
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
				f, ok := protocol.Lookup(name)
				if !ok {
					return usagef("--format %q: there is no such format: 'tared formats' lists them", name)
				}
				d.format = f
			}
			return d.run()
		},
	}
	cmd.Flags().StringVar(&name, "format", "", "name of the format; without it the format is found from the first frames")
	cmd.Flags().StringVar(&unit, "unit", "", "what a frame with no unit means, such as g")
	cmd.Flags().Bool("json", true, "one JSON object a frame; there is no other output")
	_ = cmd.Flags().MarkHidden("json")
	return cmd
}

// decoding is one run of decode.
type decoding struct {
	in         io.Reader
	out        *bufio.Writer
	errs       io.Writer
	format     *protocol.Format
	unit       protocol.Unit
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
	dec := protocol.NewDecoder(d.format, protocol.Options{BlankUnit: d.unit, EachFrame: true})
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

func (d *decoding) detect() (sample []byte, ended bool, err error) {
	return nil, false, usagef("--format is missing")
}

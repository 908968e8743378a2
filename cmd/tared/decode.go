package main

import (
	"bufio"
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"os"
	"os/signal"
	"slices"
	"strconv"
	"strings"
	"syscall"

	"github.com/spf13/cobra"

	"tared/protocol"
	"tared/scale"
)

func decodeCommand() *cobra.Command {
	var name, unit, parity string
	var files []string
	var midstream bool
	cmd := &cobra.Command{
		Use:  "decode [--format NAME]",
		Args: noArgs,
		RunE: func(cmd *cobra.Command, _ []string) error {
			d := decoding{in: cmd.InOrStdin(), out: bufio.NewWriter(cmd.OutOrStdout()), errs: cmd.ErrOrStderr()}
			if unit != "" {
				u, ok := protocol.LookupUnit(unit)
				if !ok || !u.IsMass() {
					return usagef("cli.unit-not-a-unit-of", unit)
				}
				d.unit = u
			}
			var err error
			if d.own, err = readFormats(files); err != nil {
				return err
			}
			if name != "" {
				f, ok := lookup(d.own, name)
				if !ok {
					return usagef("cli.format-there-is-no-such", name, didYouMean(d.own, name))
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
				return usagef("cli.parity-use-even-or-odd", parity)
			}
			d.midstream = midstream
			// A filter ends at the first Ctrl-C: nothing has to be put in order, and a
			// read of standard input cannot be called off.
			signal.Reset(os.Interrupt, syscall.SIGTERM)
			return d.run()
		},
	}
	cmd.Flags().StringVar(&name, "format", "", "")
	addFormats(cmd, &files)
	cmd.Flags().StringVar(&unit, "unit", "", "")
	cmd.Flags().BoolVar(&midstream, "midstream", false, "")
	cmd.Flags().StringVar(&parity, "parity", "", "")
	cmd.Flags().Bool("json", true, "")
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
	in        io.Reader
	out       *bufio.Writer
	errs      io.Writer
	own       []*protocol.Format
	format    *protocol.Format   // nil: to be found
	alike     []*protocol.Format // look-alikes of format that may be meant, too
	unit      protocol.Unit
	parity    byte
	midstream bool

	understood int // frames with a weight or a state
	others     int // frames of the format that say neither, such as acknowledgements
	refused    int
	why        string // the last of them was
}

func (d *decoding) run() error {
	var sample []byte
	var ended bool
	found := d.format == nil
	if found {
		var err error
		if sample, ended, err = d.detect(); err != nil {
			return err
		}
	}
	r := newReaders(append([]*protocol.Format{d.format}, d.alike...),
		protocol.Options{BlankUnit: d.unit, Midstream: d.midstream, Parity: d.parity, EachFrame: true})
	r.push(sample)
	buf := make([]byte, 4096)
	for !ended {
		if err := d.write(r); err != nil {
			return err
		}
		n, err := d.in.Read(buf)
		r.push(buf[:n])
		if errors.Is(err, io.EOF) {
			ended = true
		} else if err != nil {
			return failf("cli.read-standard-input", err)
		}
	}
	r.finish()
	if err := d.write(r); err != nil {
		return err
	}
	switch {
	case d.understood > 0:
		return nil
	case d.others > 0 && d.refused == 0:
		return failf("cli.no-frame-holds-a-weight")
	case d.refused+d.others == 0:
		return failf("cli.standard-input-held-no-frame")
	}
	try := says("cli.no-frame-mend")
	if found {
		try = says("cli.name-format")
	}
	if slices.Contains(d.own, d.format) && d.why != "" {
		try = d.why // whoever declared the format can mend it
	}
	return failf("cli.none-of-frames-holds-a", d.refused+d.others, d.format.Name, try)
}

// write prints the readings that are there, and lets them go at once: whoever
// reads an endless stream wants each weight when it comes.
func (d *decoding) write(rs *readers) error {
	var line []byte
	for {
		r, ok, err := rs.next()
		if err != nil {
			_ = d.out.Flush()
			return err
		}
		if !ok {
			break
		}
		switch {
		case r.Status != protocol.Invalid:
			d.understood++
		case r.Err == nil:
			d.others++
		default:
			d.refused++
			d.why = r.Why
		}
		line = append(withText(protocol.AppendJSON(line[:0], r), r.Raw), '\n')
		if _, err := d.out.Write(line); err != nil {
			return failf("cli.write-to-standard-output", err)
		}
	}
	if err := d.out.Flush(); err != nil {
		return failf("cli.write-to-standard-output", err)
	}
	return nil
}

// withText puts what the frame says beside its hex, as text: what is no sign of ASCII is
// written as Go writes it in a string.
func withText(line, raw []byte) []byte {
	text := strconv.QuoteToASCII(string(raw))
	b, _ := json.Marshal(text[1 : len(text)-1]) // a string always marshals
	return append(append(append(line[:len(line)-1], `,"text":`...), b...), '}')
}

// readers reads one stream by several formats that have agreed about it so far. It
// gives what all of them say.
type readers struct {
	of     []reader
	single int // frames in a row that some refused and others read
}

// reader is a format with the readings that the others have not come to yet.
type reader struct {
	dec   *protocol.Decoder
	ahead []protocol.Reading
}

func newReaders(formats []*protocol.Format, o protocol.Options) *readers {
	rs := &readers{}
	for _, f := range formats {
		rs.of = append(rs.of, reader{dec: protocol.NewDecoder(f, o)})
	}
	return rs
}

func (rs *readers) push(b []byte) {
	rs.keep()
	for i := range rs.of {
		rs.of[i].dec.Push(b)
	}
}

func (rs *readers) finish() {
	for i := range rs.of {
		rs.of[i].dec.Finish()
	}
}

// keep takes all readings out of the decoders, whose next Push ends them.
func (rs *readers) keep() {
	if len(rs.of) == 1 && len(rs.of[0].ahead) == 0 {
		return // next leaves none behind
	}
	for i := range rs.of {
		for r, ok := rs.of[i].dec.Next(); ok; r, ok = rs.of[i].dec.Next() {
			r.Raw = bytes.Clone(r.Raw)
			rs.of[i].ahead = append(rs.of[i].ahead, r)
		}
	}
}

// next gives the next reading. Where formats read a frame differently it ends in
// an error, and no weight of that frame is shown. A format that refuses two frames
// in a row which the others read is out of the question from then on: one of them
// may be a spoilt one, and is shown as invalid.
func (rs *readers) next() (protocol.Reading, bool, error) {
	if len(rs.of) == 1 && len(rs.of[0].ahead) == 0 {
		r, ok := rs.of[0].dec.Next()
		return r, ok, nil
	}
	rs.keep()
	for i := range rs.of {
		if len(rs.of[i].ahead) == 0 {
			return protocol.Reading{}, false, nil
		}
	}
	first, alike, readBy := rs.of[0].ahead[0], true, 0
	for i := range rs.of {
		r := rs.of[i].ahead[0]
		rs.of[i].ahead = rs.of[i].ahead[1:]
		alike = alike && (r.Err == nil) == (first.Err == nil)
		if r.Err != nil {
			continue
		}
		if readBy++; readBy == 1 {
			first = r
			alike = i == 0
		}
		if r.Status != first.Status || r.Value != first.Value || r.Unit != first.Unit || r.Stable != first.Stable || r.Mode != first.Mode || !bytes.Equal(r.Raw, first.Raw) {
			return protocol.Reading{}, false, rs.apart()
		}
	}
	if alike {
		rs.single = 0
		return first, true, nil
	}
	if rs.single++; rs.single < 2 {
		return protocol.Reading{Format: first.Format, Raw: first.Raw, Err: protocol.ErrDamaged, Why: says("cli.one-reads-it")}, true, nil
	}
	rs.drop(first.Raw)
	return first, true, nil
}

// drop takes out the formats that do not read a frame.
func (rs *readers) drop(frame []byte) {
	kept := rs.of[:0]
	for _, r := range rs.of {
		var got protocol.Reading
		if r.dec.Format().Parse(frame, &got) == nil {
			kept = append(kept, r)
		}
	}
	rs.of, rs.single = kept, 0
}

func (rs *readers) apart() error {
	var names []string
	for _, r := range rs.of {
		names = append(names, r.dec.Format().Name)
	}
	return failf("cli.from-here-on-read-the", strings.Join(names, " and "), strings.Join(names, " or --format "))
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
	for looked := 0; ; {
		n, err := d.in.Read(buf)
		sample = append(sample, buf[:n]...)
		if errors.Is(err, io.EOF) {
			ended = true
		} else if err != nil {
			return nil, false, failf("cli.read-standard-input", err)
		}
		// Every look reads all of the sample, so one at each byte of a slow line
		// would look at the first bytes thousands of times.
		if !ended && len(sample) < looked+looked/16+1 {
			continue
		}
		looked = len(sample)
		found = protocol.Detect(sample, d.own...)
		frames := 0
		if len(found.Candidates) > 0 {
			frames = found.Candidates[0].Frames()
		}
		if found.Live() || found.Same && frames >= sameFrames || frames >= manyFrames || ended || len(sample) >= sampleSize {
			break
		}
	}
	if err := d.choose(sample, found); err != nil {
		return nil, ended, err
	}
	return sample, ended, nil
}

// propose shows a format that would read what no format knows, to be checked with a known
// weight.
func (d *decoding) propose(sample []byte) {
	for _, f := range d.own {
		own := protocol.NewDecoder(f, protocol.Options{EachFrame: true, Midstream: d.midstream})
		own.Push(sample)
		if r, ok := own.Next(); ok && errors.Is(r.Err, protocol.ErrDamaged) {
			_, _ = fmt.Fprintln(d.errs, says("heard.own-format", f.Name, r.Why))
			return
		}
	}
	all, _ := protocol.Propose(sample, !d.midstream, d.unit)
	if len(all) == 0 {
		return
	}
	var b strings.Builder
	tellProposal(&b, proposalOf(&scale.Met{Proposal: &all[0]}))
	var table bytes.Buffer
	if err := (&scaleFormat{Proposal: all[0]}).write(&table, "own-scale"); err == nil {
		b.WriteString(table.String())
	}
	_, _ = io.WriteString(d.errs, b.String())
}

// choose takes the format that a sample shows, or says why there is none.
func (d *decoding) choose(sample []byte, found protocol.Detection) error {
	if len(sample) == 0 {
		return failf("cli.standard-input-held-no-byte")
	}
	if len(bytes.Trim(sample, "\r\n\x00")) == 0 {
		return failf("cli.standard-input-held-no-frame-2")
	}
	var all []*protocol.Format
	var names []string
	for _, c := range found.Candidates {
		all = append(all, c.Format)
		names = append(names, c.Format.Name)
	}
	switch {
	case found.Format != nil:
		d.format = found.Format
	case found.Same:
		// Nothing depends on the choice yet.
		d.format, d.alike = all[0], all[1:]
		_, _ = fmt.Fprintln(d.errs, says("cli.tared-decode-so-far-all", found.Why))
	case len(names) > 1 && !found.Few:
		return failf("cli.no-weight-is-shown-for", found.Why, strings.Join(names, " or --format "))
	default:
		if len(found.Candidates) == 0 {
			d.propose(sample)
		}
		return failf("cli.tared-formats-lists-what-is", found.Why)
	}
	if d.parity == 0 && found.Parity != 0 {
		d.parity = found.Parity
		_, _ = fmt.Fprintln(d.errs, says("cli.tared-decode", found.Why))
	}
	return nil
}

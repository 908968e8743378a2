package peers

import (
	"compress/gzip"
	"context"
	"errors"
	"io"
	"net/http"
	"path/filepath"
	"strconv"
	"sync"
	"time"

	"github.com/rs/zerolog"

	"tared/session/fact"
	"tared/session/journal"
	"tared/session/peer"
	"tared/session/text"
)

// Puller takes the lines of all peers of a data directory.
type Puller struct {
	Data string
	// Witness records how far the lines of a peer were taken.
	Witness func(ctx context.Context, w fact.Witnessed) error
	Log     zerolog.Logger

	every, witnessEvery, stall time.Duration // for tests; 0: as usual
}

const (
	askEvery     = 2 * time.Second  // how often a peer that ended its answer is asked again
	askLast      = time.Minute      // and at last, while it cannot be reached
	witnessEvery = 10 * time.Minute // how often its head is witnessed while it grows
	followFor    = 10 * time.Minute // how long an answer is followed; then it is asked anew, which shows that it lives
	stallFor     = 30 * time.Second // how long it may take for what it said to have
	lookEvery    = 5 * time.Second  // how often new peers are looked for
)

// Run takes lines until ctx ends.
func (p *Puller) Run(ctx context.Context) error {
	var group sync.WaitGroup
	defer group.Wait()
	running := map[string]context.CancelFunc{}
	for ctx.Err() == nil {
		there := map[string]bool{}
		files, _ := filepath.Glob(filepath.Join(p.Data, Dir, "*", configName))
		for _, f := range files {
			there[f] = true
			if running[f] == nil {
				within, end := context.WithCancel(ctx)
				running[f] = end
				group.Go(func() { p.follow(within, f) })
			}
		}
		for f, end := range running {
			if !there[f] {
				end()
				delete(running, f)
			}
		}
		pause(ctx, usual(p.every, lookEvery))
	}
	return nil
}

func usual(d, or time.Duration) time.Duration {
	if d > 0 {
		return d
	}
	return or
}

func pause(ctx context.Context, d time.Duration) {
	t := time.NewTimer(d)
	defer t.Stop()
	select {
	case <-t.C:
	case <-ctx.Done():
	}
}

// one is one peer that is followed.
type one struct {
	*Puller
	Peer
	dir       string
	kept      *peer.Kept
	state     State
	witnessed time.Time
	moved     uint64 // number of its last line that does not only witness others
}

// follow takes the lines of one peer until ctx ends.
func (p *Puller) follow(ctx context.Context, file string) {
	o := &one{Puller: p, dir: filepath.Dir(file)}
	var err error
	if o.Peer, err = read[Peer](file); err == nil {
		o.kept, err = peer.Open(o.dir)
	}
	if err != nil {
		p.Log.Warn().Err(err).Str("peer", file).Msg("a peer cannot be kept")
		return
	}
	defer func() { _ = o.kept.Close() }()
	o.state, _ = read[State](filepath.Join(o.dir, stateName)) // none at first
	if o.moved = o.state.Noted; o.state.Lines != o.kept.Place.Lines {
		o.moved = o.kept.Place.Lines
	}
	wait := usual(p.every, askEvery)
	for ctx.Err() == nil {
		if p, err := read[Peer](file); err == nil && p.Bench == o.Bench {
			o.Peer = p // it may have been paired anew
		}
		heard := o.state.Heard
		err := o.pull(ctx)
		if ctx.Err() != nil {
			break
		}
		o.tell(ctx, err)
		if wait = min(2*wait, askLast); o.state.Heard != heard {
			wait = usual(p.every, askEvery)
		}
		pause(ctx, wait)
	}
}

// troubleOf is the code of an error.
func troubleOf(err error) string {
	switch {
	case err == nil:
		return ""
	case errors.Is(err, peer.ErrFork):
		return "fork"
	case errors.Is(err, peer.ErrOlder):
		return "older"
	case errors.Is(err, errUnpaired):
		return "unpaired"
	case errors.Is(err, errUnreachable):
		return "unreachable"
	}
	return "refused"
}

var errUnpaired, errUnreachable = errors.New("unpaired"), errors.New("unreachable")

// tell notes how the peer stands.
func (o *one) tell(ctx context.Context, err error) {
	s := &o.state
	was, now := *s, time.Now()
	s.Bench, s.URL, s.Sign, s.Epoch, s.Lines, s.Last = o.Bench, o.URL, o.kept.Sign, o.kept.Epoch, o.kept.Place.Lines, o.kept.Place.Last
	s.Trouble, s.Why = troubleOf(err), ""
	if err != nil {
		s.Why = text.Of(err).String()
	}
	if s.Trouble != was.Trouble {
		if s.Since = now; err != nil {
			o.Log.Warn().Err(err).Str("bench", o.Bench[:12]).Str("address", o.URL).Msg("another bench: " + s.Trouble)
		} else {
			o.Log.Info().Str("bench", o.Bench[:12]).Str("address", o.URL).Msg("another bench is well again")
		}
		if s.Trouble == "fork" {
			o.recordFork(ctx)
		}
	}
	if s.Trouble == "" {
		s.Since = time.Time{}
	}
	o.witness(ctx)
	if *s != was {
		_ = write(filepath.Join(o.dir, stateName), s, 0o640) // it is told anew
	}
}

func (o *one) recordFork(ctx context.Context) {
	f := o.kept.Fork
	_ = o.Witness(ctx, fact.Witnessed{Bench: o.Bench, Sign: o.kept.Sign, Epoch: o.kept.Epoch, Lines: f.Line, Head: f.Was.String(), Other: f.Shown.String()}) // the state says it, too
}

// witness records the head of the peer where it has moved, and not often. A line that only
// witnesses others is no reason: else two benches would go on for ever about each other.
func (o *one) witness(ctx context.Context) {
	now := time.Now()
	if o.kept.Fork != nil || o.kept.Bench == "" || o.moved <= o.state.Noted || now.Sub(o.witnessed) < usual(o.witnessEvery, witnessEvery) {
		return
	}
	if o.Witness(ctx, fact.Witnessed{Bench: o.kept.Bench, Sign: o.kept.Sign, Epoch: o.kept.Epoch, Lines: o.kept.Place.Lines, Head: o.kept.Place.Head.String()}) == nil {
		o.witnessed, o.state.Noted = now, o.kept.Place.Lines
	}
}

// pull asks for the lines behind the last one, and takes what comes.
func (o *one) pull(ctx context.Context) error {
	if o.kept.Fork != nil {
		return peer.ErrFork
	}
	ctx, cancel := context.WithTimeout(ctx, followFor)
	defer cancel()
	from := strconv.FormatUint(o.kept.Place.Lines+1, 10)
	res, err := o.get(ctx, "api/v1/lines?follow=1&from="+from)
	if err != nil {
		return errors.Join(errUnreachable, err)
	}
	defer func() { _ = res.Body.Close() }()
	switch {
	case res.StatusCode == http.StatusUnauthorized:
		return errUnpaired
	case res.StatusCode == http.StatusNotFound || res.StatusCode >= 500:
		return errors.Join(errUnreachable, errors.New(res.Status))
	}
	lines, err := strconv.ParseUint(res.Header.Get("Tared-Lines"), 10, 64)
	var head journal.Hash
	if err == nil {
		err = head.UnmarshalText([]byte(res.Header.Get("Tared-Head")))
	}
	if err != nil {
		return errors.Join(errUnreachable, text.Refuse("peer.no-bench", text.Name("address", o.URL)))
	}
	o.state.Has, o.state.Heard = lines, time.Now()
	if err := o.kept.Head(lines, head, time.Now()); err != nil {
		return err
	}
	if res.StatusCode != http.StatusOK {
		return errors.Join(errUnreachable, errors.New(res.Status))
	}
	o.tell(ctx, nil)
	body := io.Reader(&patient{res.Body, time.AfterFunc(usual(o.stall, stallFor), cancel), func() bool { return o.kept.Place.Lines < lines }, usual(o.stall, stallFor)})
	if res.Header.Get("Content-Encoding") == "gzip" {
		if body, err = gzip.NewReader(body); err != nil {
			return errors.Join(errUnreachable, err)
		}
	}
	err = o.kept.Take(body, time.Now(), func(r journal.Record) {
		if r.Kind != (fact.Witnessed{}).Kind() {
			o.moved = r.Seq
		}
		if o.state.Has = max(o.state.Has, r.Seq); r.Seq >= lines {
			o.tell(ctx, nil)
		}
	})
	if err != nil && !errors.Is(err, journal.ErrDamaged) && !errors.Is(err, peer.ErrFork) && text.Of(err).Code == "" {
		err = errors.Join(errUnreachable, err) // the line broke off
		if o.kept.Place.Lines >= lines {
			err = nil // as it may, behind what there was
		}
	}
	return err
}

// patient ends a line that says nothing while something is due.
type patient struct {
	io.Reader
	late *time.Timer
	due  func() bool
	wait time.Duration
}

// Read reads, and waits for what is due only so long.
func (p *patient) Read(b []byte) (int, error) {
	n, err := p.Reader.Read(b)
	if p.due() {
		p.late.Reset(p.wait)
	} else {
		p.late.Stop()
	}
	return n, err
}

package main

import (
	"context"
	"errors"
	"io/fs"
	"os"
	"path/filepath"
	"sync"
	"time"

	"github.com/rs/zerolog"

	"tared/session/copies"
	"tared/session/fact"
	"tared/session/journal"
	"tared/session/text"
)

// How often a daemon looks whether a copy is due, and how soon it tries again what failed.
const (
	nightlyFirst = 3 * time.Second // a new record has begun by then
	nightlyEvery = time.Minute
	nightlyAgain = time.Hour
)

// nightly makes a copy of the record each night.
type nightly struct {
	data, dir string // where the record is, and where its copies go; no dir: there are none
	at        copies.Clock
	keep      copies.Keep
	log       zerolog.Logger

	mu    sync.Mutex
	bench string       // its fingerprint, once it is known
	tried time.Time    // when the last one began that failed
	why   text.Message // it failed; none: it did not
}

func newNightly(data string, b backupSettings, log zerolog.Logger) *nightly {
	at, _ := copies.ReadClock(b.at)    // both were looked at when the
	keep, _ := copies.ReadKeep(b.keep) // settings were gathered
	return &nightly{data: data, dir: b.dir, at: at, keep: keep, log: log}
}

// run makes copies until ctx ends.
func (n *nightly) run(ctx context.Context) {
	next := time.NewTimer(nightlyFirst)
	defer next.Stop()
	for n.dir != "" {
		select {
		case <-ctx.Done():
			return
		case <-next.C:
			n.look(time.Now())
			next.Reset(nightlyEvery)
		}
	}
}

// look makes a copy if one is due at now.
func (n *nightly) look(now time.Time) {
	last, why, failed := n.state(now)
	wait := !why.None() && now.Sub(failed) < nightlyAgain && !now.Before(failed)
	if n.who() == "" || wait || !n.at.Due(last, now) {
		return
	}
	if _, err := n.make(now, nil); err != nil {
		n.log.Error().Err(err).Str("folder", n.dir).Msg("no copy of the record was made; it is tried again in an hour")
	}
}

// who gives the fingerprint of the bench whose record it is; none as long as it has no line.
func (n *nightly) who() string {
	n.mu.Lock()
	defer n.mu.Unlock()
	if n.bench == "" {
		n.bench, _ = benchOf(n.data)
	}
	return n.bench
}

// make makes a copy now, reads it back, and then takes away those that are kept no longer.
func (n *nightly) make(now time.Time, step func(done, of int64)) (file string, err error) {
	bench := n.who()
	n.mu.Lock()
	defer n.mu.Unlock()
	defer func() {
		n.tried, n.why = now, text.Message{}
		if err != nil {
			n.why = text.Of(err)
		}
	}()
	switch {
	case n.dir == "":
		return "", text.Refuse("backup.no-folder")
	case bench == "":
		return "", text.Refuse("backup.nothing")
	}
	if info, err := os.Stat(n.dir); err != nil || !info.IsDir() {
		return "", text.Refuse("backup.folder-gone", text.Name("folder", n.dir))
	}
	file = filepath.Join(n.dir, copies.Name(bench, now))
	made, err := copyRecord(file, n.dir, n.data, step)
	switch {
	case errors.Is(err, fs.ErrNotExist):
		return "", text.Kind(err, text.Refuse("backup.folder-gone", text.Name("folder", n.dir)))
	case err != nil:
		return "", text.Kind(err, text.Refuse("backup.failed", text.Because("why", err)))
	case len(made.missing) > 0:
		n.log.Warn().Int("count", len(made.missing)).Msg("photographs that the record names are not there, and not in its copy")
	}
	n.log.Info().Str("file", file).Uint64("lines", made.Lines).Msg("a copy of the record was made, read back and checked")
	return file, n.prune(bench, now.Location())
}

// prune takes away the copies of a bench that are kept no longer.
func (n *nightly) prune(bench string, where *time.Location) error {
	all, err := copiesIn(n.dir, bench, where)
	if err != nil {
		return err
	}
	for _, t := range n.keep.Drop(all) {
		err = errors.Join(err, os.Remove(filepath.Join(n.dir, copies.Name(bench, t))))
	}
	return err
}

// state tells how it stands: when the last good copy was made, and why and when the last
// try failed.
func (n *nightly) state(now time.Time) (last time.Time, why text.Message, failed time.Time) {
	if bench := n.who(); bench != "" && n.dir != "" {
		last, _ = newest(n.dir, bench, now.Location()) // a folder that is not there has none
	}
	n.mu.Lock()
	defer n.mu.Unlock()
	return last, n.why, n.tried
}

// copiesIn are the times of the copies of a bench in a folder.
func copiesIn(dir, bench string, where *time.Location) (all []time.Time, err error) {
	files, err := os.ReadDir(dir)
	for _, f := range files {
		if t, ok := copies.Read(bench, f.Name(), where); ok && f.Type().IsRegular() {
			all = append(all, t)
		}
	}
	return all, err
}

// newest is the time of the newest of them; zero where there is none.
func newest(dir, bench string, where *time.Location) (last time.Time, err error) {
	all, err := copiesIn(dir, bench, where)
	for _, t := range all {
		if t.After(last) {
			last = t
		}
	}
	return last, err
}

// benchOf is the fingerprint of the bench that keeps the record in a directory, as its lines
// say; where they name none, that of the first line.
func benchOf(dir string) (bench string, err error) {
	_, err = journal.Read(dir, func(r journal.Record) error {
		if r.Seq == 1 {
			bench = r.Hash.String()
		}
		if r.Kind != (fact.Began{}).Kind() {
			return nil
		}
		body, err := fact.DecodeBody(r.Kind, r.Line)
		if began, ok := body.(fact.Began); err == nil && ok && began.Bench != "" {
			bench = began.Bench
		}
		return nil
	})
	if err == nil && bench == "" {
		err = text.Refuse("backup.nothing")
	}
	return bench, err
}

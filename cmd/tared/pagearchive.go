package main

import (
	"errors"
	"io"
	"os"
	"path/filepath"
	"slices"
	"time"

	"tared/protocol"
	"tared/session/copies"
	"tared/session/journal"
	"tared/session/material"
	"tared/session/text"
	"tared/web"
)

// pageArchive gives the workshop page the record as a whole.
type pageArchive struct {
	dir     string
	table   *material.Table
	nightly *nightly
}

func (p pageArchive) Verify(step web.Step) (words []text.Message, ok bool, err error) {
	v, err := judge(p.dir, "", step)
	if err != nil {
		return nil, false, err
	}
	say := func(m text.Message) { words = append(words, m) }
	switch {
	case v.Damage != nil:
		say(text.New("page.shop.damaged", text.Count("line", int(v.Damage.Line)), text.Name("why", v.Damage.Why)))
	case v.Missing != nil:
		say(text.New("page.shop.other-journal", text.Count("lines", int(v.Missing.Lines)), text.Date("day", v.Missing.At)))
	default:
		say(text.New("page.shop.intact", text.Count("count", int(v.Lines))))
	}
	if len(v.Photos) > 0 {
		say(text.New("page.shop.photos-lost", text.Count("count", len(v.Photos))))
		for _, f := range v.Photos[:min(len(v.Photos), mostNamed)] {
			say(text.New("page.shop.photo-of", text.Count("line", int(f.Line)), text.Name("why", f.Why)))
		}
	} else if v.Pictures > 0 {
		say(text.New("page.shop.photos", text.Count("count", v.Pictures)))
	}
	for _, d := range v.Differ {
		say(text.New("page.shop.differs", text.Count("line", int(d.Line)), text.Name("why", d.Says)))
	}
	for _, d := range v.Unsure {
		say(text.New("page.shop.unsure", text.Count("line", int(d.Line)), text.Name("why", d.Says)))
	}
	if v.Signed > 0 && len(v.Unsure) == 0 {
		say(text.New("page.shop.signed", text.Count("count", v.Signed)))
	}
	return words, v.OK, nil
}

func (p pageArchive) Export(w io.Writer, as string, without []string) error {
	return export(w, p.dir, "", as, p.table, slices.Contains(without, "names"), slices.Contains(without, "prices"), time.Now(), func(journal.Record) error { return nil }, nil)
}

func (p pageArchive) Formats() (all []web.Format) {
	for _, f := range protocol.All() {
		all = append(all, web.Format{Name: f.Name, Summary: f.Summary, Example: f.Example})
	}
	return all
}

// Nightly tells how it stands with the copies that the daemon makes by itself.
func (p pageArchive) Nightly() web.Nightly {
	now := time.Now()
	last, why, _ := p.nightly.state(now)
	return web.Nightly{Folder: p.nightly.dir, At: p.nightly.at.String(), Keep: p.nightly.keep, Last: last, Why: why, Late: !last.IsZero() && copies.Late(last, now)}
}

// Copy makes one of them now.
func (p pageArchive) Copy(step web.Step) (text.Message, error) {
	file, err := p.nightly.make(time.Now(), step)
	return text.New("page.shop.copied", text.Name("file", file)), err
}

// outgoing is the directory in the data directory for the copy that a browser fetches; the
// next one takes its place.
const outgoing = "outgoing"

// Pack makes a packed copy and tells where it lies.
func (p pageArchive) Pack(step web.Step) (file string, words []text.Message, err error) {
	dir := filepath.Join(p.dir, outgoing)
	if err := errors.Join(os.RemoveAll(dir), os.Mkdir(dir, 0o700)); err != nil {
		return "", nil, text.Kind(err, text.Refuse("backup.failed", text.Because("why", err)))
	}
	file = filepath.Join(dir, "tared-"+time.Now().Format("2006-01-02-1504")+".zip")
	made, err := packRecord(file, p.dir, step)
	if err != nil {
		return "", nil, text.Kind(err, text.Refuse("backup.failed", text.Because("why", err)))
	}
	return file, held(made.Lines, made.photos, made.missing), nil
}

// held tells what a copy has in it.
func held(lines uint64, photos int, missing []string) []text.Message {
	words := []text.Message{text.New("page.shop.read-back", text.Count("count", int(lines)))}
	if photos > 0 {
		words = append(words, text.New("page.shop.photos-in", text.Count("count", photos)))
	}
	if len(missing) > 0 {
		words = append(words, text.New("page.shop.photos-not-in", text.Count("count", len(missing))))
	}
	return words
}

// restored is the directory in the data directory under which copies become records again.
const restored = "restored"

// Restore makes a record of a copy, in a place of its own beside the one that is in use.
func (p pageArchive) Restore(in io.Reader) (words []text.Message, err error) {
	at := filepath.Join(p.dir, restored, time.Now().Format("2006-01-02-150405.000"))
	if err := errors.Join(os.MkdirAll(filepath.Dir(at), 0o750), os.Mkdir(at, 0o750)); err != nil {
		return nil, text.Kind(err, text.Refuse("backup.failed", text.Because("why", err)))
	}
	defer func() {
		if err != nil {
			_ = os.RemoveAll(at)
		}
	}()
	f, err := os.CreateTemp(at, "sent-*")
	if err != nil {
		return nil, text.Kind(err, text.Refuse("backup.failed", text.Because("why", err)))
	}
	defer func() { _ = os.Remove(f.Name()) }()
	_, err = io.Copy(f, in)
	if err = errors.Join(err, f.Close()); err != nil {
		return nil, text.Kind(err, text.Refuse("backup.not-sent", text.Because("why", err)))
	}
	var pictures photosTaken
	rep, err := put(at, f.Name(), "", &pictures, nil)
	if err != nil {
		return nil, text.Kind(err, text.Refuse("backup.not-taken", text.Because("why", err)))
	}
	words = append(words, text.New("page.shop.restored", text.Name("folder", at)))
	words = append(words, held(rep.Lines, len(pictures.from), pictures.missing)...)
	return append(words, text.New("page.shop.spans", text.Date("from", rep.First), text.Date("to", rep.Last)), text.New("page.shop.epoch")), nil
}

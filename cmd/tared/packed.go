package main

import (
	"archive/zip"
	"errors"
	"io"
	"os"
	"path"
	"path/filepath"
	"slices"

	"tared/session/journal"
	"tared/session/photo"
	"tared/session/text"
)

// A packed copy is one file: the lines and the photographs of a record in a ZIP archive, by
// the names that they have in a data directory. It is what the page gives and takes.

// packRecord packs the record of a directory, then reads all of it back.
func packRecord(file, dir string, step func(done, of int64)) (made copied, err error) {
	g := newGauge(dir, 2, step)
	err = whole(file, func(w io.Writer) (err error) {
		made, err = pack(w, dir, g)
		return err
	}, func(written io.Reader) error {
		at, ok := written.(io.ReaderAt)
		size, err := written.(io.Seeker).Seek(0, io.SeekEnd)
		if !ok || err != nil {
			return errors.Join(err, errors.ErrUnsupported)
		}
		z, err := zip.NewReader(at, size)
		if err != nil {
			return err
		}
		rep, photos, err := checkPacked(z, g)
		if err == nil && (rep.Head != made.Head || photos != made.photos) {
			err = text.Fault("backup.not-as-written")
		}
		return err
	})
	return made, err
}

func pack(w io.Writer, dir string, g *byteGauge) (made copied, err error) {
	z := zip.NewWriter(w)
	lines, err := z.Create(journal.Name)
	if err != nil {
		return made, err
	}
	pictures := photosNamed{step: g}
	if made.Report, err = writeCopy(lines, dir, pictures.line); err != nil {
		return made, err
	}
	for _, name := range pictures.all {
		err := packPhoto(z, dir, name, g)
		if errors.Is(err, os.ErrNotExist) {
			made.missing = append(made.missing, name)
			continue
		}
		if err != nil {
			return made, err
		}
		made.photos++
	}
	slices.Sort(made.missing)
	return made, z.Close()
}

func packPhoto(z *zip.Writer, dir, name string, g *byteGauge) error {
	if err := photo.Check(dir, name); err != nil {
		return err
	}
	f, err := photo.Open(dir, name)
	if err != nil {
		return err
	}
	defer func() { _ = f.Close() }()
	w, err := z.CreateHeader(&zip.FileHeader{Name: path.Join(photo.Dir, name), Method: zip.Store}) // a photograph is compressed
	if err == nil {
		_, err = io.Copy(w, g.reads(f))
	}
	return err
}

// packedFiles finds the lines and the photographs of a packed copy; what else is in it, and
// whatever would lie elsewhere, is left alone.
func packedFiles(z *zip.Reader) (lines *zip.File, photos []*zip.File, err error) {
	for _, f := range z.File {
		switch dir, name := path.Split(f.Name); {
		case f.Name == journal.Name && lines == nil:
			lines = f
		case dir == photo.Dir+"/" && photo.IsName(name) && f.UncompressedSize64 <= photo.MaxFile:
			photos = append(photos, f)
		}
	}
	if lines == nil {
		err = text.Fault("backup.no-lines")
	}
	return lines, photos, err
}

// openPacked opens a file of it, and gives no more than it says it has.
func openPacked(f *zip.File) (io.ReadCloser, error) {
	r, err := f.Open()
	if err != nil {
		return nil, text.Kind(err, text.Fault("backup.not-packed", text.Because("why", err)))
	}
	return struct {
		io.Reader
		io.Closer
	}{io.LimitReader(r, int64(f.UncompressedSize64)+1), r}, nil
}

// checkPacked reads all of a packed copy.
func checkPacked(z *zip.Reader, g *byteGauge) (rep journal.Report, photos int, err error) {
	lines, all, err := packedFiles(z)
	if err != nil {
		return rep, 0, err
	}
	in, err := openPacked(lines)
	if err != nil {
		return rep, 0, err
	}
	rep, err = readCopy(g.reads(in), io.Discard, "")
	err = errors.Join(err, in.Close())
	for _, f := range all {
		if err == nil {
			err = photoIn(f, g, photo.Is)
		}
	}
	return rep, len(all), err
}

// photoIn reads a photograph of a packed copy.
func photoIn(f *zip.File, g *byteGauge, read func(name string, r io.Reader) error) error {
	in, err := openPacked(f)
	if err != nil {
		return err
	}
	return errors.Join(read(path.Base(f.Name), g.reads(in)), in.Close())
}

// givenCopy is a copy of a record as somebody gives it.
type givenCopy struct {
	lines  io.ReadCloser
	photos []string // directories with a directory of photographs in them
	drop   func()   // takes away what was unpacked
	size   int64    // bytes of lines
}

// openSource opens a copy: lines, or a packed one, whose photographs are unpacked under a
// directory.
func openSource(file, under string) (s givenCopy, err error) {
	s = givenCopy{photos: []string{photosBeside(file), filepath.Dir(file)}, drop: func() {}}
	f, err := os.Open(file)
	if err != nil {
		return s, err
	}
	s.lines = f
	s.size = sizeOf(f.Stat())
	var head [4]byte
	if _, err := f.ReadAt(head[:], 0); err != nil || string(head[:]) != "PK\x03\x04" { // APPNOTE.TXT 6.3.10, 4.3.7
		return s, nil
	}
	defer func() {
		if err != nil {
			_ = f.Close()
			s.drop()
		}
	}()
	info, err := f.Stat()
	if err != nil {
		return s, err
	}
	z, err := zip.NewReader(f, info.Size())
	if err != nil {
		return s, text.Kind(err, text.Fault("backup.not-packed", text.Because("why", err)))
	}
	lines, all, err := packedFiles(z)
	if err != nil {
		return s, err
	}
	at, err := os.MkdirTemp(under, "unpacked-*")
	if err != nil {
		return s, err
	}
	s.drop = func() { _ = os.RemoveAll(at) }
	for _, p := range all {
		put := func(name string, r io.Reader) error { return photo.Put(at, name, r) }
		if err := photoIn(p, nil, put); err != nil {
			return s, err
		}
	}
	in, err := openPacked(lines)
	if err != nil {
		return s, err
	}
	s.photos, s.size = []string{at}, int64(lines.UncompressedSize64)
	s.lines = struct {
		io.Reader
		io.Closer
	}{in, closers{in, f}}
	return s, nil
}

type closers []io.Closer

func (c closers) Close() (err error) {
	for _, one := range c {
		err = errors.Join(err, one.Close())
	}
	return err
}

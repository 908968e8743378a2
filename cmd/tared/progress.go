package main

import (
	"io"
	"os"
	"path/filepath"

	"tared/session/journal"
	"tared/session/photo"
)

// byteGauge tells how far the work on a record is, in bytes. A nil one tells nobody.
type byteGauge struct {
	done, of int64
	tell     func(done, of int64)
}

// newGauge makes one for work that goes over the record of a directory so many times; nil for
// nobody.
func newGauge(dir string, times int64, tell func(done, of int64)) *byteGauge {
	if tell == nil {
		return nil
	}
	g := &byteGauge{tell: tell}
	_ = filepath.WalkDir(filepath.Join(dir, photo.Dir), func(_ string, d os.DirEntry, err error) error {
		if err == nil && d.Type().IsRegular() {
			g.of += sizeOf(d.Info())
		}
		return nil
	})
	g.of += sizeOf(os.Stat(filepath.Join(dir, journal.Name)))
	g.of *= times
	return g
}

func sizeOf(info os.FileInfo, err error) int64 {
	if err != nil {
		return 0
	}
	return info.Size()
}

func (g *byteGauge) add(n int) {
	if g != nil {
		g.done = min(g.done+int64(n), g.of)
		g.tell(g.done, g.of)
	}
}

// reads counts what is read.
func (g *byteGauge) reads(r io.Reader) io.Reader {
	if g == nil {
		return r
	}
	return gauged{r, g}
}

type gauged struct {
	io.Reader
	g *byteGauge
}

func (r gauged) Read(b []byte) (int, error) {
	n, err := r.Reader.Read(b)
	r.g.add(n)
	return n, err
}

package main

import (
	"bufio"
	"encoding/binary"
	"io"
	"maps"
	"math/rand/v2"
	"net"
	"os"
	"slices"
	"sync"
	"testing"

	"github.com/stretchr/testify/require"
)

// cutDisk is a disk with a cache that the power takes with it: what was written stands in
// the cache until a flush, or a write that is to go through, puts it onto the plate. It
// speaks NBD, the protocol of network block devices
// (https://github.com/NetworkBlockDevice/nbd/blob/master/doc/proto.md), as far as QEMU
// needs it.
type cutDisk struct {
	path string // of its socket

	mu      sync.Mutex
	plate   []byte
	cache   map[int64][]byte // blocks by their number
	onFlush func()           // called once, with mu held, just before a flush is done
}

const cutBlock = 4096

func newCutDisk(t *testing.T, path, image string) *cutDisk {
	plate, err := os.ReadFile(image)
	require.NoError(t, err)
	d := &cutDisk{path: path, plate: plate, cache: map[int64][]byte{}}
	l, err := net.Listen("unix", path)
	require.NoError(t, err)
	t.Cleanup(func() { _ = l.Close() })
	go func() {
		for {
			c, err := l.Accept()
			if err != nil {
				return
			}
			go func() { defer c.Close(); _ = d.serve(c) }()
		}
	}()
	return d
}

// left is what would be on the plate if the power failed now: of each block in the cache
// the seed decides whether it got there, in part (one in eight), or not at all. Call it
// with mu held.
func (d *cutDisk) left(rng *rand.Rand) []byte {
	plate := append([]byte(nil), d.plate...)
	for _, n := range sorted(d.cache) {
		b := d.cache[n]
		switch {
		case rng.IntN(2) == 0:
			continue
		case rng.IntN(8) == 0:
			b = b[:512*rng.IntN(9)]
		}
		copy(plate[n*cutBlock:], b)
	}
	return plate
}

// cut is the power cut, and tells how many blocks were in the cache. Nobody may be writing
// any more.
func (d *cutDisk) cut(rng *rand.Rand) (cached int) {
	d.mu.Lock()
	defer d.mu.Unlock()
	cached = len(d.cache)
	d.plate = d.left(rng)
	clear(d.cache)
	return cached
}

func (d *cutDisk) block(n int64) []byte {
	if b := d.cache[n]; b != nil {
		return b
	}
	return d.plate[n*cutBlock : min((n+1)*cutBlock, int64(len(d.plate)))]
}

func (d *cutDisk) read(p []byte, off int64) {
	for len(p) > 0 {
		c := copy(p, d.block(off / cutBlock)[off%cutBlock:])
		p, off = p[c:], off+int64(c)
	}
}

func (d *cutDisk) write(p []byte, off int64, through bool) {
	for len(p) > 0 {
		n := off / cutBlock
		b := append([]byte(nil), d.block(n)...)
		c := copy(b[off%cutBlock:], p)
		if through {
			copy(d.plate[n*cutBlock:], b)
			delete(d.cache, n)
		} else {
			d.cache[n] = b
		}
		p, off = p[c:], off+int64(c)
	}
}

func (d *cutDisk) flush() {
	if f := d.onFlush; f != nil {
		d.onFlush = nil
		f()
	}
	for n, b := range d.cache {
		copy(d.plate[n*cutBlock:], b)
	}
	clear(d.cache)
}

// What the protocol calls them.
const (
	nbdOption, nbdReply           = 0x49484156454F5054, 0x3e889045565a9
	nbdRequestMagic, nbdAnswer    = 0x25609513, 0x67446698
	nbdInfo, nbdGo                = 6, 7
	nbdAck, nbdExport, nbdNotHere = 1, 3, 1<<31 | 1
	nbdRead, nbdWrite             = 0, 1
	nbdEnd, nbdFlush              = 2, 3
	nbdHasFlags, nbdSendsFlush    = 1, 4
	nbdSendsThrough, nbdThrough   = 8, 1
	nbdInvalid                    = 22
)

func (d *cutDisk) serve(c net.Conn) error {
	r := bufio.NewReaderSize(c, 1<<16)
	be := binary.BigEndian
	if _, err := c.Write(be.AppendUint16(be.AppendUint64([]byte("NBDMAGIC"), nbdOption), 3)); err != nil {
		return err
	}
	if _, err := io.CopyN(io.Discard, r, 4); err != nil { // the flags of the other side
		return err
	}
	for agreed := false; !agreed; {
		var h struct {
			Magic       uint64
			Option, Len uint32
		}
		if err := binary.Read(r, be, &h); err != nil {
			return err
		}
		if _, err := io.CopyN(io.Discard, r, int64(h.Len)); err != nil {
			return err
		}
		reply := func(kind uint32, data []byte) {
			b := be.AppendUint32(be.AppendUint64(nil, nbdReply), h.Option)
			b = be.AppendUint32(be.AppendUint32(b, kind), uint32(len(data)))
			_, _ = c.Write(append(b, data...))
		}
		if h.Option != nbdGo && h.Option != nbdInfo {
			reply(nbdNotHere, nil)
			continue
		}
		about := be.AppendUint64(make([]byte, 2), uint64(len(d.plate)))
		reply(nbdExport, be.AppendUint16(about, nbdHasFlags|nbdSendsFlush|nbdSendsThrough))
		reply(nbdAck, nil)
		agreed = h.Option == nbdGo
	}
	for {
		var h struct {
			Magic       uint32
			Flags, Kind uint16
			Handle      uint64
			Off         int64
			Len         uint32
		}
		if err := binary.Read(r, be, &h); err != nil || h.Kind == nbdEnd {
			return err
		}
		answer := be.AppendUint64(be.AppendUint32(be.AppendUint32(nil, nbdAnswer), 0), h.Handle)
		switch h.Kind {
		case nbdRead:
			p := make([]byte, h.Len)
			d.mu.Lock()
			d.read(p, h.Off)
			d.mu.Unlock()
			answer = append(answer, p...)
		case nbdWrite:
			p := make([]byte, h.Len)
			if _, err := io.ReadFull(r, p); err != nil {
				return err
			}
			d.mu.Lock()
			d.write(p, h.Off, h.Flags&nbdThrough != 0)
			d.mu.Unlock()
		case nbdFlush:
			d.mu.Lock()
			d.flush()
			d.mu.Unlock()
		default:
			be.PutUint32(answer[4:], nbdInvalid)
		}
		if _, err := c.Write(answer); err != nil {
			return err
		}
	}
}

func sorted(m map[int64][]byte) (all []int64) {
	return slices.Sorted(maps.Keys(m))
}

package photo

import (
	"bytes"
	"encoding/binary"
	"errors"
	"fmt"
	"image"
	"image/draw"
	"image/jpeg"
	"image/png"
	"io"
	"os"
	"path/filepath"
	"sync"

	"tared/session/text"
)

// Side is the longest side of a small copy, in pixels.
const Side = 900

// smallDir holds small copies, which can be made again at any time.
const smallDir = "small"

// hopeless are photographs of which no small copy can be made, with why: whoever asks again
// has nothing unpacked.
var hopeless sync.Map

// Small gives a small copy of a photograph as JPEG, the right way up, for a grid of
// many and for pages that are sent. It is made once and kept beside the photograph.
func Small(data, name string) ([]byte, error) {
	f, err := Open(data, name)
	if err != nil {
		return nil, err
	}
	defer f.Close()
	dir := filepath.Join(data, Dir, smallDir)
	kept := name[:64] + ".jpg"
	if b, err := os.ReadFile(filepath.Join(dir, kept)); err == nil {
		return b, nil
	}
	if err, ok := hopeless.Load(name); ok {
		return nil, fmt.Errorf("photograph %s: %w", name, err.(error))
	}
	whole, err := io.ReadAll(io.LimitReader(f, MaxFile+1))
	if err != nil {
		return nil, text.Kind(err, text.Refuse("photo.read-named", text.Name("name", name), text.Because("why", err)))
	}
	b, err := unpack(whole)
	if errors.Is(err, ErrPhoto) {
		hopeless.Store(name, err)
	}
	if err != nil {
		return nil, fmt.Errorf("photograph %s: %w", name, err)
	}
	if os.MkdirAll(dir, 0o750) == nil {
		_ = write(dir, kept, b) // without it the next one makes it again
	}
	return b, nil
}

// shrink makes a small copy, each pixel the mean of those that it stands for.
func shrink(b []byte) ([]byte, error) {
	decode := jpeg.Decode
	if bytes.HasPrefix(b, []byte(pngMagic)) {
		decode = png.Decode
	}
	from, err := decode(bytes.NewReader(b))
	if err != nil {
		return nil, err
	}
	r := from.Bounds()
	w, h := r.Dx(), r.Dy()
	longest := max(w, h)
	sw, sh := w, h
	if longest > Side {
		sw, sh = max(1, w*Side/longest), max(1, h*Side/longest)
	}
	to := image.NewRGBA(image.Rect(0, 0, sw, sh))
	for y := range sh {
		y0, y1 := y*h/sh, max((y+1)*h/sh, y*h/sh+1)
		strip := image.NewRGBA(image.Rect(0, 0, w, y1-y0))
		// What can be seen through is white, as paper is.
		draw.Draw(strip, strip.Bounds(), image.White, image.Point{}, draw.Src)
		draw.Draw(strip, strip.Bounds(), from, image.Pt(r.Min.X, r.Min.Y+y0), draw.Over)
		for x := range sw {
			x0, x1 := x*w/sw, max((x+1)*w/sw, x*w/sw+1)
			var sum [3]int
			for row := range y1 - y0 {
				for col := x0; col < x1; col++ {
					for c := range sum {
						sum[c] += int(strip.Pix[row*strip.Stride+4*col+c])
					}
				}
			}
			n, at := (x1-x0)*(y1-y0), to.PixOffset(x, y)
			for c := range sum {
				to.Pix[at+c] = uint8((sum[c] + n/2) / n)
			}
			to.Pix[at+3] = 255
		}
	}
	var out bytes.Buffer
	if err := jpeg.Encode(&out, upright(to, turnOf(b)), &jpeg.Options{Quality: 85}); err != nil {
		return nil, err
	}
	return out.Bytes(), nil
}

// turnOf reads the orientation of a photograph as Clean leaves it.
func turnOf(b []byte) uint16 {
	if at := bytes.Index(b[:min(len(b), 200)], []byte("Exif\x00\x00")); at >= 0 {
		return orientation(b[at+6:])
	}
	if at := bytes.Index(b[:min(len(b), 200)], []byte("eXIf")); at >= 4 {
		if n := int(binary.BigEndian.Uint32(b[at-4:])); at+4+n <= len(b) {
			return orientation(b[at+4 : at+4+n])
		}
	}
	return 1
}

// upright turns a picture as its orientation says (CIPA DC-008, 4.6.4, tag 0x0112:
// which edges the first row and the first column are).
func upright(m *image.RGBA, turn uint16) *image.RGBA {
	w, h := m.Rect.Dx(), m.Rect.Dy()
	var at func(x, y int) (int, int) // where the pixel at x, y comes from
	switch turn {
	case 2:
		at = func(x, y int) (int, int) { return w - 1 - x, y }
	case 3:
		at = func(x, y int) (int, int) { return w - 1 - x, h - 1 - y }
	case 4:
		at = func(x, y int) (int, int) { return x, h - 1 - y }
	case 5:
		at = func(x, y int) (int, int) { return y, x }
	case 6:
		at = func(x, y int) (int, int) { return y, h - 1 - x }
	case 7:
		at = func(x, y int) (int, int) { return w - 1 - y, h - 1 - x }
	case 8:
		at = func(x, y int) (int, int) { return w - 1 - y, x }
	default:
		return m
	}
	ow, oh := w, h
	if turn >= 5 {
		ow, oh = h, w
	}
	out := image.NewRGBA(image.Rect(0, 0, ow, oh))
	for y := range oh {
		for x := range ow {
			out.SetRGBA(x, y, m.RGBAAt(at(x, y)))
		}
	}
	return out
}

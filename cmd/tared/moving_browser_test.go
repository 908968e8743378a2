//go:build unix

package main

import (
	"bytes"
	"encoding/binary"
	"hash/crc32"
	"image"
	"image/color"
	"image/png"
	"os"
	"path/filepath"
	"slices"
	"sync"
	"testing"
	"time"

	"github.com/chromedp/chromedp"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// moment is a picture of a page, and how long it stood.
type moment struct {
	at  time.Time
	pix *image.RGBA // half as wide and high as the page
}

// A moving picture of the bench page as it is, from the first container to the next material,
// for the help and README.md. It is written where TARED_MOVING says; without it the test
// looks that one can be made, and that the one which is kept is one.
func TestMovingPicture(t *testing.T) {
	kept, err := os.ReadFile(filepath.Join("..", "..", "web", "help", "picture", "bench.png"))
	require.NoError(t, err)
	assert.True(t, bytes.Contains(kept[:200], []byte("acTL")), "bench.png moves")
	dir := os.Getenv("TARED_MOVING")
	if dir == "" {
		return // the page is tested elsewhere
	}
	d := demoAt(t, t.TempDir(), "127.0.0.1:0")
	p := openPage(t, d.url)
	p.begin()
	stop := make(chan struct{})
	var all []moment
	var done sync.WaitGroup
	done.Go(func() {
		for {
			shot, err := chromedp.Run(p.ctx, chromedp.CaptureScreenshot())
			if m, e := png.Decode(bytes.NewReader(shot)); err == nil && e == nil {
				all = append(all, moment{time.Now(), halved(m)})
			}
			select {
			case <-stop:
				return
			case <-time.After(400 * time.Millisecond):
			}
		}
	})
	p.press(keyPut)
	p.state("pour")
	p.weigh()
	time.Sleep(time.Second)
	close(stop)
	done.Wait()
	made := moving(t, all)
	t.Logf("%d pictures, %d bytes", len(all), len(made))
	assert.Less(t, len(made), 400<<10)
	require.NoError(t, os.WriteFile(filepath.Join(dir, "bench.png"), made, 0o600))
}

// halved takes the mean of each four points.
func halved(m image.Image) *image.RGBA {
	b := m.Bounds()
	out := image.NewRGBA(image.Rect(0, 0, b.Dx()/2, b.Dy()/2))
	for y := range b.Dy() / 2 {
		for x := range b.Dx() / 2 {
			var sum [3]uint32
			for _, d := range []image.Point{{0, 0}, {1, 0}, {0, 1}, {1, 1}} {
				r, g, bl, _ := m.At(b.Min.X+2*x+d.X, b.Min.Y+2*y+d.Y).RGBA()
				sum[0], sum[1], sum[2] = sum[0]+r>>8, sum[1]+g>>8, sum[2]+bl>>8
			}
			out.SetRGBA(x, y, color.RGBA{uint8(sum[0] / 4), uint8(sum[1] / 4), uint8(sum[2] / 4), 255})
		}
	}
	return out
}

// palette is the 256 colours that are seen most, of 32 shades of each light.
func palette(all []moment) color.Palette {
	count := map[color.RGBA]int{}
	for _, m := range all {
		for i := 0; i < len(m.pix.Pix); i += 4 {
			c := color.RGBA{m.pix.Pix[i] &^ 7, m.pix.Pix[i+1] &^ 7, m.pix.Pix[i+2] &^ 7, 255}
			count[c]++
		}
	}
	var most []color.RGBA
	for c := range count {
		most = append(most, c)
	}
	slices.SortFunc(most, func(a, b color.RGBA) int { return count[b] - count[a] })
	var p color.Palette
	for _, c := range most[:min(256, len(most))] {
		c.R, c.G, c.B = c.R|c.R>>5, c.G|c.G>>5, c.B|c.B>>5
		p = append(p, c)
	}
	return p
}

// moving puts pictures behind each other in an APNG (Portable Network Graphics, W3C
// Recommendation of 24 June 2025, third edition, 11.3.6): after the first, only what changed.
func moving(t *testing.T, all []moment) []byte {
	pal := palette(all)
	type frame struct {
		m     *image.Paletted
		at    image.Point
		stood time.Duration
	}
	var frames []frame
	var last *image.Paletted
	known := map[color.RGBA]uint8{}
	for i, m := range all {
		now := image.NewPaletted(m.pix.Bounds(), pal)
		for k := range now.Pix {
			c := color.RGBA{m.pix.Pix[4*k], m.pix.Pix[4*k+1], m.pix.Pix[4*k+2], 255}
			n, ok := known[c]
			if !ok {
				n = uint8(pal.Index(c))
				known[c] = n
			}
			now.Pix[k] = n
		}
		stood := 250 * time.Millisecond
		if i+1 < len(all) {
			stood = all[i+1].at.Sub(m.at)
		} else {
			stood = 2 * time.Second
		}
		box := changed(last, now)
		if box.Empty() {
			frames[len(frames)-1].stood += stood
			continue
		}
		part := image.NewPaletted(image.Rect(0, 0, box.Dx(), box.Dy()), pal)
		for y := range box.Dy() {
			copy(part.Pix[y*part.Stride:], now.Pix[now.PixOffset(box.Min.X, box.Min.Y+y):][:box.Dx()])
		}
		frames = append(frames, frame{part, box.Min, stood})
		last = now
	}
	var out bytes.Buffer
	chunk := func(kind string, data ...[]byte) {
		body := append([]byte(kind), bytes.Join(data, nil)...)
		_ = binary.Write(&out, binary.BigEndian, uint32(len(body)-4))
		out.Write(body)
		_ = binary.Write(&out, binary.BigEndian, crc32.ChecksumIEEE(body))
	}
	number := func(n ...uint32) (b []byte) {
		for _, x := range n {
			b = binary.BigEndian.AppendUint32(b, x)
		}
		return b
	}
	seq := uint32(0)
	next := func() []byte { seq++; return number(seq - 1) }
	out.WriteString("\x89PNG\r\n\x1a\n")
	for i, f := range frames {
		var b bytes.Buffer
		require.NoError(t, (&png.Encoder{CompressionLevel: png.BestCompression}).Encode(&b, f.m))
		parts := chunks(b.Bytes())
		if i == 0 {
			chunk("IHDR", parts["IHDR"])
			chunk("acTL", number(uint32(len(frames)), 0))
			chunk("PLTE", parts["PLTE"])
		}
		ms := uint16(min(f.stood, 1500*time.Millisecond) / time.Millisecond)
		delay := binary.BigEndian.AppendUint16(binary.BigEndian.AppendUint16(nil, ms), 1000)
		chunk("fcTL", next(), number(uint32(f.m.Rect.Dx()), uint32(f.m.Rect.Dy()), uint32(f.at.X), uint32(f.at.Y)), delay, []byte{0, 0})
		if i == 0 {
			chunk("IDAT", parts["IDAT"])
		} else {
			chunk("fdAT", next(), parts["IDAT"])
		}
	}
	chunk("IEND")
	_, err := png.Decode(bytes.NewReader(out.Bytes()))
	require.NoError(t, err)
	return out.Bytes()
}

// changed is where two pictures differ; all of it where there is no first.
func changed(a, b *image.Paletted) image.Rectangle {
	if a == nil {
		return b.Rect
	}
	var box image.Rectangle
	for k := range b.Pix {
		if a.Pix[k] != b.Pix[k] {
			x, y := k%b.Stride, k/b.Stride
			box = box.Union(image.Rect(x, y, x+1, y+1))
		}
	}
	return box
}

// chunks are those of a PNG, those of one kind joined.
func chunks(b []byte) map[string][]byte {
	all := map[string][]byte{}
	for b = b[8:]; len(b) >= 12; {
		n := binary.BigEndian.Uint32(b)
		kind := string(b[4:8])
		all[kind] = append(all[kind], b[8:8+n]...)
		b = b[12+n:]
	}
	return all
}

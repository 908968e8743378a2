package photo

import (
	"bytes"
	"encoding/binary"
	"errors"
	"hash/crc32"
	"image"
	"image/color"
	"image/jpeg"
	"image/png"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"
)

// tile is an invented picture: a gradient with a mark in one corner.
func tile() image.Image {
	m := image.NewRGBA(image.Rect(0, 0, 64, 48))
	for y := range 48 {
		for x := range 64 {
			m.Set(x, y, color.RGBA{uint8(x * 4), uint8(y * 5), 120, 255})
		}
	}
	for y := range 8 {
		for x := range 8 {
			m.Set(x, y, color.RGBA{255, 0, 0, 255})
		}
	}
	return m
}

func jpegOf(t testing.TB) []byte {
	var b bytes.Buffer
	require.NoError(t, jpeg.Encode(&b, tile(), &jpeg.Options{Quality: 90}))
	return b.Bytes()
}

func pngOf(t testing.TB) []byte {
	var b bytes.Buffer
	require.NoError(t, png.Encode(&b, tile()))
	return b.Bytes()
}

func segment(marker byte, body string) []byte {
	return append(binary.BigEndian.AppendUint16([]byte{0xff, marker}, uint16(len(body)+2)), body...)
}

// exif is a TIFF header as a phone writes it: orientation 6 (turned by a quarter)
// and a pointer to a GPS directory with a latitude (CIPA DC-008, 4.6.6). The place is
// invented.
func exif() string {
	o := binary.LittleEndian
	b := []byte("II*\x00\x08\x00\x00\x00")
	b = o.AppendUint16(b, 3)
	entry := func(tag, kind uint16, count, value uint32) {
		b = o.AppendUint16(b, tag)
		b = o.AppendUint16(b, kind)
		b = o.AppendUint32(b, count)
		b = o.AppendUint32(b, value)
	}
	entry(0x0110, 2, 12, 50) // model, at 50
	entry(0x0112, 3, 1, 6)
	entry(0x8825, 4, 1, 62) // GPS, at 62
	b = o.AppendUint32(b, 0)
	b = append(b, "InventedFon\x00"...)
	b = o.AppendUint16(b, 1)
	entry(0x0001, 2, 2, 'N')
	b = o.AppendUint32(b, 0)
	return "Exif\x00\x00" + string(b) + "GPSPLACE 12.345 67.890"
}

// profileColours are the colours of an invented colour profile.
func profileColours() map[string]string {
	xyz := func(n byte) string { return "XYZ \x00\x00\x00\x00" + strings.Repeat("\x00\x00\x40"+string(rune(n)), 3) }
	curve := "para\x00\x00\x00\x00\x00\x00\x00\x00\x00\x02\x33\x33"
	return map[string]string{"rXYZ": xyz(1), "gXYZ": xyz(2), "bXYZ": xyz(3), "wtpt": xyz(4), "rTRC": curve, "gTRC": curve, "bTRC": "curv" + strings.Repeat("\x00", 7) + "\x01\x02\x33"}
}

// profile is a colour profile with those, and the names that a telephone puts into it.
func profile() string {
	all := profileColours()
	all["desc"], all["cprt"] = "desc\x00\x00\x00\x00\x00\x00\x00\x10Mara's telephone", "text\x00\x00\x00\x00secret"
	head := make([]byte, 128)
	copy(head[4:], "INVT\x04\x00\x00\x00mntrRGB XYZ \x07\xe8secret dayacspINVT\x00\x00\x00\x00INVTINVT")
	copy(head[80:], "INVTsecretsecretsecr")
	head = binary.BigEndian.AppendUint32(head, uint32(len(all)))
	var body []byte
	for name, v := range all {
		head = append(head, name...)
		head = binary.BigEndian.AppendUint32(head, uint32(132+12*len(all)+len(body)))
		head = binary.BigEndian.AppendUint32(head, uint32(len(v)))
		body = append(body, v...)
	}
	return string(head) + string(body) + "secret"
}

func phoneJPEG(t testing.TB) []byte {
	b := jpegOf(t)
	var out []byte
	out = append(out, b[:2]...)
	out = append(out, segment(app0, "JFIF\x00\x01\x02\x00\x00\x48\x00\x48\x01\x01abc")...) // with a small copy of one pixel
	out = append(out, segment(app0+1, exif())...)
	out = append(out, segment(app0+1, "http://ns.adobe.com/xap/1.0/\x00<x:xmpmeta>GPSLatitude</x:xmpmeta>")...)
	out = append(out, segment(app0+13, "Photoshop 3.0\x00 city of nowhere")...)
	out = append(out, segment(app0+2, "ICC_PROFILE\x00\x01\x01"+profile())...)
	out = append(out, segment(app0+14, "Adobe\x00\x64QQQQ\x01secret of a program")...)
	out = append(out, segment(0xfe, "<script>alert(1)</script>")...)
	out = append(out, b[2:]...)
	return append(out, "<html><script>alert(2)</script></html>"...)
}

func TestAPhoneTellsNoPlace(t *testing.T) {
	raw := phoneJPEG(t)
	secrets := []string{"GPS", "script", "city of nowhere", "InventedFon", "abc", "xmp", "html", "Mara's telephone", "INVT", "Adobe", "QQQQ", "secret"}
	for _, secret := range secrets {
		require.Contains(t, string(raw), secret)
	}
	out, ext, err := Clean(bytes.NewReader(raw))
	require.NoError(t, err)
	assert.Equal(t, ".jpg", ext)
	for _, secret := range secrets {
		assert.NotContains(t, string(out), secret)
	}
	i := bytes.Index(out, []byte(iccMagic))
	require.Positive(t, i, "what the colours mean stays")
	kept := out[i+14:]
	for name, v := range profileColours() {
		e := bytes.Index(kept, []byte(name))
		require.Positive(t, e, name)
		at := binary.BigEndian.Uint32(kept[e+4:])
		assert.Equal(t, v, string(kept[at:at+binary.BigEndian.Uint32(kept[e+8:])]), name)
	}
	assert.Equal(t, []byte{0xff, app0, 0, 16}, out[2:6], "JFIF comes first")
	at := bytes.Index(out, []byte("Exif\x00\x00"))
	require.Positive(t, at)
	assert.EqualValues(t, 6, orientation(out[at+6:]), "it is still shown the right way up")

	// The picture is the same, pixel by pixel.
	was, err := jpeg.Decode(bytes.NewReader(raw))
	require.NoError(t, err)
	is, err := jpeg.Decode(bytes.NewReader(out))
	require.NoError(t, err)
	assert.Equal(t, was, is)

	again, _, err := Clean(bytes.NewReader(out))
	require.NoError(t, err)
	assert.Equal(t, out, again, "what is clean stays as it is")
}

func TestAPNGTellsNoPlace(t *testing.T) {
	b := pngOf(t)
	chunk := func(kind, body string) []byte { return chunk(kind, []byte(body)) }
	const head = 8 + 12 + 13
	named := strings.Replace(string(deflated([]byte(profile()))), "icc\x00", "Mara's telephone\x00", 1)
	raw := bytes.Join([][]byte{b[:head], chunk("tEXt", "Location\x00nowhere"), chunk("eXIf", exif()[6:]), chunk("iCCP", named), chunk("gAMA", "\x00\x00\xb1\x8f"), b[head:], []byte("<script>")}, nil)
	out, ext, err := Clean(bytes.NewReader(raw))
	require.NoError(t, err)
	assert.Equal(t, ".png", ext)
	i := bytes.Index(out, []byte("iCCP"))
	require.Positive(t, i)
	kept := inflated(out[i+4 : i+4+int(binary.BigEndian.Uint32(out[i-4:]))])
	assert.Contains(t, string(kept), profileColours()["rXYZ"])
	assert.NotContains(t, string(kept), "telephone")
	assert.NotContains(t, string(kept), "secret")
	for _, secret := range []string{"nowhere", "GPS", "InventedFon", "script", "telephone"} {
		require.Contains(t, string(raw), secret)
		assert.NotContains(t, string(out), secret)
	}
	assert.Contains(t, string(out), "gAMA")
	at := bytes.Index(out, []byte("eXIf"))
	require.Equal(t, head+4, at)
	assert.EqualValues(t, 6, orientation(out[at+4:]))
	was, err := png.Decode(bytes.NewReader(b))
	require.NoError(t, err)
	is, err := png.Decode(bytes.NewReader(out))
	require.NoError(t, err)
	assert.Equal(t, was, is)
}

// counted tells how much of an endless body was read.
type counted struct {
	head io.Reader
	n    int64
}

func (c *counted) Read(p []byte) (int, error) {
	n, err := c.head.Read(p)
	if err == io.EOF {
		n, err = len(p), nil
	}
	c.n += int64(n)
	return n, err
}

// bomb is a PNG whose head promises so many pixels.
func bomb(w, h uint32) []byte {
	body := binary.BigEndian.AppendUint32(binary.BigEndian.AppendUint32(nil, w), h)
	body = append(body, 8, 2, 0, 0, 0)
	c := append([]byte("IHDR"), body...)
	out := binary.BigEndian.AppendUint32([]byte(pngMagic), 13)
	out = append(out, c...)
	return binary.BigEndian.AppendUint32(out, crc32.ChecksumIEEE(c))
}

func TestWhatIsNoPhotographIsRefused(t *testing.T) {
	good := jpegOf(t)
	for name, c := range map[string]struct {
		body []byte
		why  string
	}{
		"empty":              {nil, "empty"},
		"text":               {[]byte("hello"), "not a JPEG or PNG"},
		"SVG with a script":  {[]byte(`<svg xmlns="http://www.w3.org/2000/svg"><script>alert(1)</script></svg>`), "not a JPEG or PNG"},
		"HTML":               {[]byte("<!doctype html><script>alert(1)</script>"), "not a JPEG or PNG"},
		"GIF":                {[]byte("GIF89a\x01\x00\x01\x00"), "not a JPEG or PNG"},
		"JPEG in name only":  {[]byte("\xff\xd8\xff<script>alert(1)</script>"), "cannot be read"},
		"PNG in name only":   {[]byte(pngMagic + "<script>alert(1)</script>"), "cannot be read"},
		"cut off":            {good[:len(good)-3], "cut off"},
		"PNG cut off":        {pngOf(t)[:60], "cut off"},
		"bomb":               {bomb(100000, 100000), "by 100000 pixels"},
		"long and thin bomb": {bomb(1, 1<<31-1), "pixels"},
		"spoilt":             {bytes.Replace(good, []byte{0xff, 0xdb}, []byte{0x00, 0xdb}, 1), ""},
	} {
		t.Run(name, func(t *testing.T) {
			_, _, err := Clean(bytes.NewReader(c.body))
			require.ErrorIs(t, err, ErrPhoto)
			assert.ErrorContains(t, err, c.why)
		})
	}
}

// However much is sent, no more is read than a photograph may have.
func TestAHugeBodyIsNotRead(t *testing.T) {
	in := &counted{head: bytes.NewReader(jpegOf(t))}
	_, _, err := Clean(in)
	require.ErrorIs(t, err, ErrPhoto)
	assert.ErrorContains(t, err, "larger than 20 MB")
	assert.LessOrEqual(t, in.n, int64(MaxFile+1))
}

func TestKeep(t *testing.T) {
	dir := t.TempDir()
	name, err := Keep(dir, bytes.NewReader(phoneJPEG(t)))
	require.NoError(t, err)
	assert.True(t, IsName(name))
	assert.Equal(t, "image/jpeg", Type(name))
	require.NoError(t, Check(dir, name))
	again, err := Keep(dir, bytes.NewReader(phoneJPEG(t)))
	require.NoError(t, err)
	assert.Equal(t, name, again)
	files, err := os.ReadDir(filepath.Join(dir, Dir))
	require.NoError(t, err)
	assert.Len(t, files, 1, "nothing half written is left")

	other := t.TempDir()
	require.NoError(t, Copy(other, dir, name))
	require.NoError(t, Check(other, name))

	for _, bad := range []string{"", "../journal.jsonl", name + "x", strings.ToUpper(name), "/etc/passwd", "x/" + name} {
		_, err := Open(dir, bad)
		assert.ErrorIs(t, err, fs.ErrNotExist, bad)
		assert.Error(t, Check(dir, bad), bad)
	}

	require.NoError(t, os.WriteFile(filepath.Join(dir, Dir, name), []byte("other"), 0o644))
	assert.ErrorContains(t, Check(dir, name), "was changed")
	assert.Error(t, Copy(t.TempDir(), dir, name))
	// Sent once more it is mended.
	_, err = Keep(dir, bytes.NewReader(phoneJPEG(t)))
	require.NoError(t, err)
	require.NoError(t, Check(dir, name))
	require.NoError(t, os.Remove(filepath.Join(dir, Dir, name)))
	assert.ErrorIs(t, Check(dir, name), fs.ErrNotExist)
	all, err := List(t.TempDir())
	require.NoError(t, err)
	assert.Empty(t, all)
}

// Spoilt bytes are refused or give a picture, and never the secret.
func TestSpoiltPhotographs(t *testing.T) {
	whole := [][]byte{phoneJPEG(t), pngOf(t)}
	rapid.Check(t, func(t *rapid.T) {
		b := bytes.Clone(rapid.SampledFrom(whole).Draw(t, "picture"))
		for range rapid.IntRange(1, 5).Draw(t, "times") {
			i := rapid.IntRange(0, len(b)-1).Draw(t, "at")
			b[i] = rapid.Byte().Draw(t, "byte")
		}
		b = b[:rapid.IntRange(0, len(b)).Draw(t, "length")]
		out, _, err := Clean(bytes.NewReader(b))
		if err != nil {
			if !errors.Is(err, ErrPhoto) {
				t.Fatal(err)
			}
			return
		}
		if bytes.Contains(out, []byte("GPSPLACE")) {
			t.Fatal("the place is in it")
		}
	})
}

func FuzzClean(f *testing.F) {
	f.Add(phoneJPEG(f))
	f.Add(pngOf(f))
	f.Add([]byte(pngMagic))
	f.Fuzz(func(t *testing.T, b []byte) {
		out, _, err := Clean(bytes.NewReader(b))
		if err == nil {
			if _, _, err := Clean(bytes.NewReader(out)); err != nil {
				t.Fatal("what was kept is refused: ", err)
			}
		}
	})
}

// What Adobe's segment says is kept where the colours would be read otherwise, and
// nothing that stands beside it.
func TestTheTransformIsKeptWhereItMatters(t *testing.T) {
	for _, c := range []struct {
		components, transform byte
		kept                  bool
	}{{1, 0, false}, {3, 0, true}, {3, 1, false}, {4, 0, true}, {4, 2, true}} {
		m := meaning{components: c.components}
		m.read(app0+14, append([]byte("Adobe\x00\x64QQQQ"), c.transform, 'x'))
		out := m.into([]byte{0xff, soi, 0xff, eoi})
		assert.Equal(t, c.kept, len(out) > 4, "%v", c)
		assert.NotContains(t, string(out), "QQQQ")
		if c.kept {
			assert.Equal(t, c.transform, out[4+13])
		}
	}
}

// No bytes that claim to be a profile do harm.
func TestSpoiltProfiles(t *testing.T) {
	whole := []byte(profile())
	rapid.Check(t, func(t *rapid.T) {
		b := bytes.Clone(whole)
		for range rapid.IntRange(0, 6).Draw(t, "times") {
			b[rapid.IntRange(0, len(b)-1).Draw(t, "at")] = rapid.Byte().Draw(t, "byte")
		}
		out := rebuilt(b[:rapid.IntRange(0, len(b)).Draw(t, "length")])
		if out != nil && !bytes.Equal(rebuilt(out), out) {
			t.Fatal("what was written anew is not read as it was written")
		}
	})
}

// Package photo keeps photographs beside the journal: one file each, named by the
// SHA-256 of what is in it, so that a name in the record is a proof of the picture.
//
// Keep takes one in, Open gives it back, Check says whether it is still the one it
// was. What a phone writes into a picture besides the picture (where and when it
// was taken, by which telephone, a small copy, a film) is left out; which way up it
// is and what its colours mean stays. The pixels are not touched: nothing is
// compressed a second time.
package photo

import (
	"bytes"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"image"
	"image/color"
	"image/jpeg"
	"image/png"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"regexp"
	"strconv"

	"tared/session/text"
)

// Dir is the directory beside the journal that holds the photographs.
const Dir = "photos"

// MaxFile is the most bytes that a photograph may have.
const MaxFile = 20 << 20

// What a photograph may need once it is unpacked: a small file can hold a picture
// that fills the memory.
const (
	maxPixels = 50_000_000
	maxBytes  = 200 << 20
)

// ErrPhoto is in the chain of every error about a file that is not taken.
var ErrPhoto = errors.New("photograph refused")

func refuse(refusal error) error { return text.Kind(ErrPhoto, refusal) }

// Clean checks what claims to be a photograph and gives what is kept of it, with
// the end that its name gets. It reads no more than MaxFile bytes and one.
func Clean(r io.Reader) (data []byte, ext string, err error) {
	raw, err := io.ReadAll(io.LimitReader(r, MaxFile+1))
	switch {
	case err != nil:
		return nil, "", text.Kind(err, text.Refuse("photo.read", text.Because("why", err)))
	case len(raw) > MaxFile:
		return nil, "", refuse(text.Refuse("photo.large", text.Number("most", strconv.Itoa(MaxFile>>20))))
	case len(raw) == 0:
		return nil, "", refuse(text.Refuse("photo.empty"))
	}
	var config func(io.Reader) (image.Config, error)
	var strip func([]byte) ([]byte, error)
	switch {
	case bytes.HasPrefix(raw, []byte("\xff\xd8\xff")):
		ext, config, strip = ".jpg", jpeg.DecodeConfig, stripJPEG
	case bytes.HasPrefix(raw, []byte(pngMagic)):
		ext, config, strip = ".png", png.DecodeConfig, stripPNG
	default:
		return nil, "", refuse(text.Refuse("photo.format"))
	}
	c, err := config(bytes.NewReader(raw))
	if err != nil {
		return nil, "", refuse(text.Refuse("photo.unreadable", text.Because("why", err)))
	}
	pixels := int64(c.Width) * int64(c.Height)
	if c.Width < 1 || c.Height < 1 || pixels > maxPixels || max(pixels*perPixel(c.ColorModel), samplesOf(raw)) > maxBytes {
		return nil, "", refuse(text.Refuse("photo.pixels", text.Number("width", strconv.Itoa(c.Width)), text.Number("height", strconv.Itoa(c.Height)), text.Number("most", strconv.Itoa(maxPixels/1_000_000))))
	}
	if data, err = strip(raw); err != nil {
		return nil, "", err
	}
	// What is kept must itself be a picture from its first byte to its last.
	if _, err := unpack(data); err != nil {
		return nil, "", err
	}
	return data, ext, nil
}

// perPixel is how many bytes a pixel takes when it is unpacked.
func perPixel(m color.Model) int64 {
	switch m {
	case color.GrayModel:
		return 1
	case color.Gray16Model:
		return 2
	case color.YCbCrModel:
		return 3
	case color.RGBAModel, color.NRGBAModel, color.CMYKModel:
		return 4
	case color.RGBA64Model, color.NRGBA64Model:
		return 8
	}
	return 1 // a palette
}

// names are those that Keep gives.
var names = regexp.MustCompile(`^[0-9a-f]{64}\.(jpg|png)$`)

// IsName reports whether a text can be the name of a photograph.
func IsName(name string) bool { return names.MatchString(name) }

// Type is the content type of a photograph.
func Type(name string) string {
	if filepath.Ext(name) == ".png" {
		return "image/png"
	}
	return "image/jpeg"
}

// Keep takes a photograph into the data directory and gives its name. It is on the
// disk when Keep returns. The same picture again is the same file.
func Keep(data string, r io.Reader) (name string, err error) {
	b, ext, err := Clean(r)
	if err != nil {
		return "", err
	}
	sum := sha256.Sum256(b)
	name = hex.EncodeToString(sum[:]) + ext
	dir := filepath.Join(data, Dir)
	if err := os.MkdirAll(dir, 0o750); err != nil {
		return "", text.Kind(err, text.Refuse("photo.keep", text.Because("why", err)))
	}
	if Check(data, name) == nil {
		return name, nil
	}
	return name, write(dir, name, b)
}

// write puts a file in its place, whole or not at all.
func write(dir, name string, b []byte) error {
	tmp, err := os.CreateTemp(dir, "*.part")
	if err != nil {
		return text.Kind(err, text.Refuse("photo.keep", text.Because("why", err)))
	}
	defer func() { _ = os.Remove(tmp.Name()) }() // gone already when all went well
	_, err = tmp.Write(b)
	if err = errors.Join(err, tmp.Chmod(0o640), tmp.Sync(), tmp.Close()); err == nil {
		err = os.Rename(tmp.Name(), filepath.Join(dir, name))
	}
	if err != nil {
		return text.Kind(err, text.Refuse("photo.keep", text.Because("why", err)))
	}
	if d, err := os.Open(dir); err == nil {
		_ = d.Sync() // not every system can; the file itself is on the disk
		_ = d.Close()
	}
	return nil
}

// Open opens a photograph of the data directory.
func Open(data, name string) (*os.File, error) {
	if !IsName(name) {
		return nil, fmt.Errorf("photograph %.80q: %w", name, fs.ErrNotExist)
	}
	return os.Open(filepath.Join(data, Dir, name))
}

// Check reports whether a photograph is there and is what its name says.
func Check(data, name string) error {
	f, err := Open(data, name)
	if errors.Is(err, fs.ErrNotExist) {
		return text.Kind(fs.ErrNotExist, text.Refuse("photo.missing", text.Name("name", name)))
	}
	if err != nil {
		return err
	}
	defer f.Close()
	h := sha256.New()
	if _, err := io.Copy(h, f); err != nil {
		return text.Kind(err, text.Refuse("photo.read-named", text.Name("name", name), text.Because("why", err)))
	}
	if sum := hex.EncodeToString(h.Sum(nil)); sum != name[:len(sum)] {
		return text.Refuse("photo.changed", text.Name("name", name), text.Name("hash", sum))
	}
	return nil
}

// List gives the names of all photographs of the data directory.
func List(data string) ([]string, error) {
	files, err := os.ReadDir(filepath.Join(data, Dir))
	if errors.Is(err, fs.ErrNotExist) {
		return nil, nil
	}
	if err != nil {
		return nil, err
	}
	var out []string
	for _, f := range files {
		if IsName(f.Name()) {
			out = append(out, f.Name())
		}
	}
	return out, nil
}

// Copy brings a photograph from one data directory to another, checked on the way.
// One that is there already and whole is left alone.
func Copy(to, from, name string) error {
	if Check(to, name) == nil {
		return nil
	}
	if err := Check(from, name); err != nil {
		return err
	}
	f, err := Open(from, name)
	if err != nil {
		return err
	}
	defer f.Close()
	return Put(to, name, f)
}

// Put takes in what is said to be the photograph of a name.
func Put(to, name string, r io.Reader) error {
	b, err := named(name, r)
	if err != nil {
		return err
	}
	dir := filepath.Join(to, Dir)
	if err := os.MkdirAll(dir, 0o750); err != nil {
		return text.Kind(err, text.Refuse("photo.keep", text.Because("why", err)))
	}
	return write(dir, name, b)
}

// Is reports whether r gives the photograph of a name.
func Is(name string, r io.Reader) error {
	_, err := named(name, r)
	return err
}

// named reads the photograph of a name.
func named(name string, r io.Reader) ([]byte, error) {
	if !IsName(name) {
		return nil, fmt.Errorf("photograph %.80q: %w", name, fs.ErrNotExist)
	}
	b, err := io.ReadAll(io.LimitReader(r, MaxFile+1))
	if err != nil {
		return nil, text.Kind(err, text.Refuse("photo.read-named", text.Name("name", name), text.Because("why", err)))
	}
	if sum := sha256.Sum256(b); hex.EncodeToString(sum[:]) != name[:64] {
		return nil, text.Refuse("photo.changing", text.Name("name", name))
	}
	return b, nil
}

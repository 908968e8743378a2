package photo

import (
	"bytes"
	"image"
	"image/color"
	"image/jpeg"
	"os"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

func TestSmallIsUprightAndSmall(t *testing.T) {
	dir := t.TempDir()
	name, err := Keep(dir, bytes.NewReader(phoneJPEG(t))) // 64 by 48, to be turned by a quarter
	require.NoError(t, err)
	b, err := Small(dir, name)
	require.NoError(t, err)
	m, err := jpeg.Decode(bytes.NewReader(b))
	require.NoError(t, err)
	assert.Equal(t, image.Pt(48, 64), m.Bounds().Size())
	// Orientation 6: the first row is the right edge. The red mark of the top left
	// corner is shown in the top right one.
	red := func(x, y int) bool {
		r, g, _, _ := m.At(x, y).RGBA()
		return r > 0xb000 && g < 0x6000
	}
	assert.True(t, red(44, 3))
	assert.False(t, red(3, 3))
	assert.FileExists(t, filepath.Join(dir, Dir, smallDir, name[:64]+".jpg"))
	again, err := Small(dir, name)
	require.NoError(t, err)
	assert.Equal(t, b, again)
	all, err := List(dir)
	require.NoError(t, err)
	assert.Equal(t, []string{name}, all, "a small copy is no photograph")
	_, err = Small(dir, "nothing")
	assert.ErrorIs(t, err, os.ErrNotExist)

	big := image.NewRGBA(image.Rect(0, 0, 2000, 1000))
	for i := range big.Pix {
		big.Pix[i] = 255
	}
	var raw bytes.Buffer
	require.NoError(t, jpeg.Encode(&raw, big, nil))
	name, err = Keep(dir, &raw)
	require.NoError(t, err)
	b, err = Small(dir, name)
	require.NoError(t, err)
	c, err := jpeg.DecodeConfig(bytes.NewReader(b))
	require.NoError(t, err)
	assert.Equal(t, []int{900, 450}, []int{c.Width, c.Height})
}

// Turned by its number, and the corner with the mark comes to where CIPA DC-008,
// 4.6.4, says that the first row and the first column meet.
func TestUpright(t *testing.T) {
	m := image.NewRGBA(image.Rect(0, 0, 3, 2))
	m.SetRGBA(0, 0, color.RGBA{255, 0, 0, 255})
	for turn, want := range map[uint16]image.Point{1: {0, 0}, 2: {2, 0}, 3: {2, 1}, 4: {0, 1}, 5: {0, 0}, 6: {1, 0}, 7: {1, 2}, 8: {0, 2}} {
		out := upright(m, turn)
		assert.Equal(t, uint8(255), out.RGBAAt(want.X, want.Y).R, turn)
		if turn >= 5 {
			assert.Equal(t, image.Pt(2, 3), out.Rect.Size())
		}
	}
}

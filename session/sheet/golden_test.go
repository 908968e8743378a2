package sheet

import (
	"encoding/json"
	"flag"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

var update = flag.Bool("update", false, "write the golden sheets anew")

// Each testdata/NAME.recipe is planned for its base on its scales, named in its
// comments, and compared with NAME.golden: the whole sheet as JSON.
func TestGolden(t *testing.T) {
	files, err := filepath.Glob("testdata/*.recipe")
	require.NoError(t, err)
	require.NotEmpty(t, files)
	for _, f := range files {
		t.Run(filepath.Base(f), func(t *testing.T) {
			text, err := os.ReadFile(f)
			require.NoError(t, err)
			r := parse(t, string(text))
			req := Request{Recipe: r, Scales: []Scale{bench}}
			for l := range strings.SplitSeq(r.Notes, "\n") {
				if b, ok := strings.CutPrefix(l, "base "); ok {
					req.Size.Base = mass(b)
				}
				if l == "fine scale" {
					req.Scales = append(req.Scales, fine)
				}
			}
			sh, err := Plan(req)
			require.NoError(t, err)
			got, err := json.MarshalIndent(sh, "", " ")
			require.NoError(t, err)
			golden := strings.TrimSuffix(f, ".recipe") + ".golden"
			if *update {
				require.NoError(t, os.WriteFile(golden, append(got, '\n'), 0o644))
			}
			want, err := os.ReadFile(golden)
			require.NoError(t, err)
			assert.Equal(t, string(want), string(got)+"\n")
		})
	}
}

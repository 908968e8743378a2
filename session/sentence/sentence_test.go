package sentence

import (
	"bytes"
	"encoding/json"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"tared/protocol"
	"tared/session/fact"
	"tared/session/text"
)

func TestEveryKindHasASentence(t *testing.T) {
	for _, k := range fact.Kinds {
		said := Messages(fact.Fact{Body: k.Zero})
		if assert.NotEmpty(t, said, "%s: nothing is said of it", k.Name) {
			assert.True(t, strings.HasPrefix(said[0].Code, "fact."+k.Name), "%s: its sentence is %s", k.Name, said[0].Code)
		}
		for _, m := range said {
			assert.NoError(t, text.English.Check(m))
		}
	}
	assert.Len(t, sentences, len(fact.Kinds), "a sentence of a kind that is no more")
	assert.NotEmpty(t, Of(fact.Fact{Body: fact.Unknown{Name: "photographed"}}))
}

func TestSentences(t *testing.T) {
	for _, c := range []struct {
		body fact.Body
		want string
	}{
		{fact.Portion{Material: "Quartz", Delivered: g("84"), Low: g("83.2"), High: g("84.8"), Verdict: "in", Step: g("0.1"), U: g("0.129099445")},
			"84.0 g of Quartz went in. In the band, 83.2 g to 84.8 g. Its uncertainty is ±0.13 g."},
		{fact.Portion{Material: "Whiting", Delivered: g("17.3"), Low: g("16.712"), High: g("17.288"), Verdict: "over", Step: g("0.1")},
			"17.3 g of Whiting went in. Over the band, which ends at 17.29 g."},
		{fact.Portion{Material: "Quartz", As: "Flint", Delivered: g("84"), High: g("83"), Verdict: "over", Step: g("1"), How: "not-returned"},
			"84 g of Flint went in for Quartz. The container did not come back, so its own weight was used. Over the band, which ends at 83 g."},
		{fact.Enlarged{Because: "Whiting", Factor: "52/51", Base: g("764.705882353"), Dry: g("804.5")},
			"Scaled the batch up to absorb the extra Whiting: 764.7 g base, 804.5 g dry."},
		{fact.Amended{Of: 7, Material: "Quartz", Was: g("53"), Is: g("35"), Reason: "digits swapped."},
			"Amended entry 7: Quartz, 35 g instead of 53 g. Reason: digits swapped."},
		{fact.Found{Scale: "bench", After: "12.4s", Shows: g("0"), Tare: "kept"},
			"The bench scale came back after 12.4s at 0 g, the same as before: the tare still holds."},
		{fact.Unknown{Name: "photographed", JSON: []byte(`{"file":"a"}`)},
			`photographed: written by a newer program. The line itself says: {"file":"a"}`},
	} {
		assert.Equal(t, c.want, Of(fact.Fact{Body: c.body}))
	}
}

// A sentence that an older program wrote into the journal is told as it wrote it.
func TestOldWordsAreToldAsWritten(t *testing.T) {
	files, err := filepath.Glob("../../cmd/tared/testdata/journal-*.jsonl")
	require.NoError(t, err)
	tried := 0
	for _, file := range append(files, "../../testdata/journals/whole.jsonl", "../testdata/aliquot.jsonl") {
		all, err := os.ReadFile(file)
		require.NoError(t, err)
		for line := range bytes.Lines(all) {
			f, _, err := fact.Decode(line)
			require.NoError(t, err)
			var written struct{ Words any }
			require.NoError(t, json.Unmarshal(line, &written))
			if s, ok := written.Words.(string); ok && s != "" {
				tried++
				assert.Contains(t, Of(f), strings.TrimSuffix(s, "."), "%s, entry %d", file, f.Seq)
			}
			for _, m := range Messages(f) {
				assert.NoError(t, text.English.Check(m))
			}
		}
	}
	assert.Greater(t, tried, 3)
}

func g(s string) protocol.Mass {
	m, err := protocol.ParseMass(s + "g")
	if err != nil {
		panic(err)
	}
	return m
}

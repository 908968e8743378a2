package book

import (
	"bytes"
	"encoding/json"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"tared/session/fact"
)

// Nobody who reads a record meets a code in the place of a name.
func TestNobodyNamedIsSaidInWords(t *testing.T) {
	var b bench
	b.plan("T1", four...)
	seq := b.pour("T1", "Quartz", "40.1", "0.13")
	b.put("T1", fact.Amended{Of: seq, Material: "Quartz", Void: true, Reason: "wrong jar"})
	var nobody Book
	for _, f := range b.Find("T1").facts {
		f.By = fact.NotNamed
		nobody.Add(f.Fact, [32]byte{byte(f.Seq)})
	}
	var out bytes.Buffer
	m := nobody.Find("T1").Made()
	require.NoError(t, m.Render(&out))
	assert.Contains(t, out.String(), "not named")
	page, err := json.Marshal(m)
	require.NoError(t, err)
	assert.NotContains(t, out.String()+string(page), fact.NotNamed)
}

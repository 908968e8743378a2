package book

import (
	"bytes"
	"encoding/csv"
	"regexp"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"tared/session/fact"
)

// wetBatch is a batch of 100 g whose first water, 80 % of everything dry, is the last
// step. Pour nothing to leave it out.
func wetBatch(poured string) *Batch {
	var b bench
	b.put("W", fact.Planned{Title: "Grotto", Base: g("100"), Dry: g("100"), Scales: []fact.Scale{{Name: "bench", Step: g("0.1")}},
		Lines: []fact.Line{{Material: "Quartz", Role: "base", Share: "100", Target: g("100"), Low: g("99"), High: g("101"), Scale: "bench", Weighable: "good"}},
		Water: fact.Line{Material: "Water", Role: "water", Share: "80", Target: g("80"), Low: g("78.4"), High: g("81.6"), Scale: "bench", Weighable: "good"}})
	b.pour("W", "Quartz", "100.5", "0.13")
	if poured == "" {
		b.put("W", fact.Decided{Question: "material", Answer: "skip", Material: "Water"})
	} else {
		b.pour("W", "Water", poured, "0.13")
	}
	b.put("W", fact.Finished{})
	return b.Find("W")
}

// Every reader has the line of the first water, and the same figures in it: 80 % of
// 100.5 g dry is 80.4 g, and 81.0 g is 80.597 % of it.
func TestEveryReaderHasTheFirstWater(t *testing.T) {
	n := wetBatch("81.0")
	m := n.Made()
	require.NotNil(t, m.Water)
	assert.Equal(t, []string{"80.4", "81.0", "+0.6", "80.597"}, []string{m.Water.Target.String(), m.Water.Delivered.String(), m.Water.Deviation.Signed(), m.Water.Share})
	assert.Len(t, m.Lines, 1, "it is none of the materials")

	var out bytes.Buffer
	require.NoError(t, m.Render(&out))
	assert.Regexp(t, `(?m)^Water +water +bench +80\.4 +78\.8 to 82\.0 +81\.0 +\+0\.6 ! +\+0\.75 +0\.13 +\+0\.38 +80 +80\.597 +in$`, out.String())
	assert.Contains(t, out.String(), "that of the water is percent of everything dry.")

	out.Reset()
	require.NoError(t, WriteCSV(&out, false, nil, Only(n)))
	rows, err := csv.NewReader(&out).ReadAll()
	require.NoError(t, err)
	require.Len(t, rows, 3)
	row := map[string]string{}
	for i, name := range rows[0] {
		row[name] = rows[2][i]
	}
	for name, want := range map[string]string{"material": "Water", "role": "water", "target_g": "80.4", "delivered_g": "81.0", "deviation_g": "0.6",
		"made_percent": "80.597", "planned_percent": "80", "percent_of": "dry", "dry_g": "0.0", "verdict": "in"} {
		assert.Equal(t, want, row[name], name)
	}

	out.Reset()
	require.NoError(t, WritePage(&out, morning, nil, nil, 1, Only(n)))
	line := regexp.MustCompile(`<tr><th scope="row">Water</th>.*?</tr>`).FindString(out.String())
	for _, want := range []string{">80.4<", ">81.0<", "43;0.6<", ">0.13<", ">80<br>", ">80.597<br>", "of all dry", ">in<"} {
		assert.Contains(t, line, want)
	}
}

// Water that was left out says so; where it was no step there is no line.
func TestWaterThatDidNotGoIn(t *testing.T) {
	var out bytes.Buffer
	require.NoError(t, wetBatch("").Made().Render(&out))
	assert.Regexp(t, `(?m)^Water +water .* - .*skipped: left out$`, out.String())
	out.Reset()
	require.NoError(t, kept(t).Find("T1").Made().Render(&out))
	assert.NotContains(t, strings.ToLower(out.String()), "water")
}

// A line behind a pointer goes without names, too, and the batch keeps them.
func TestNamesAreHiddenInTheWater(t *testing.T) {
	n := wetBatch("81.0")
	n.WaterStep().As = "Mara's rain water"
	m := n.Made()
	kept := *m.Water
	names := &Names{people: []string{"Mara"}, find: regexp.MustCompile(`(?i)(^|[^\pL\pN])(Mara)($|[^\pL\pN])`)}
	p := m.Water
	names.Hide(&m)
	assert.Equal(t, "person 1's rain water", m.Water.As)
	assert.Equal(t, kept.As, p.As)
}

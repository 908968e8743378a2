package journal_test

import (
	"bytes"
	"crypto/sha256"
	"errors"
	"flag"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"tared/protocol"
	"tared/session/fact"
	"tared/session/journal"
)

const goldenDir = "../../testdata/journals"

var update = flag.Bool("update", false, "write the expectations anew, and journals that are missing")

// What Verify says of each kept journal stands beside it. The journals are of
// version 1 and stay as they are: a program of any later day must read them.
func TestGoldenJournals(t *testing.T) {
	if *update {
		writeGolden(t)
	}
	files, err := filepath.Glob(filepath.Join(goldenDir, "*.jsonl"))
	require.NoError(t, err)
	require.GreaterOrEqual(t, len(files), 9)
	for _, name := range files {
		t.Run(filepath.Base(name), func(t *testing.T) {
			b, err := os.ReadFile(name)
			require.NoError(t, err)
			got := verdict(b)
			want := strings.TrimSuffix(name, ".jsonl") + ".want"
			if *update {
				require.NoError(t, os.WriteFile(want, []byte(got), 0o644))
			}
			w, err := os.ReadFile(want)
			require.NoError(t, err)
			assert.Equal(t, string(w), got)
		})
	}
}

func verdict(b []byte) string {
	rep, err := journal.Scan(bytes.NewReader(b), nil)
	var s strings.Builder
	fmt.Fprintf(&s, "lines %d\nhead %s\n", rep.Lines, rep.Head)
	if rep.Torn != nil {
		fmt.Fprintf(&s, "torn line %d, %d bytes\n", rep.Torn.Line, rep.Torn.Bytes)
	}
	for _, n := range rep.Notes {
		fmt.Fprintf(&s, "note at line %d: %s\n", n.Line, n.Words)
	}
	if err != nil {
		var d *journal.Damage
		fmt.Fprintf(&s, "damaged %v: %v\n", errors.As(err, &d), err)
	}
	return s.String()
}

// Every line of the whole journal is a fact that is understood.
func TestGoldenFacts(t *testing.T) {
	b, err := os.ReadFile(filepath.Join(goldenDir, "whole.jsonl"))
	require.NoError(t, err)
	kinds := map[string]int{}
	_, err = journal.Scan(bytes.NewReader(b), func(r journal.Record) error {
		f, _, err := fact.Decode(r.Line)
		if err != nil {
			return err
		}
		if _, unknown := f.Body.(fact.Unknown); unknown {
			return fmt.Errorf("line %d: kind %s is not understood", r.Seq, r.Kind)
		}
		assert.Equal(t, r.Seq, f.Seq)
		assert.Equal(t, r.Batch, f.Batch)
		assert.Equal(t, r.By, f.By)
		assert.True(t, r.At.Equal(f.At))
		kinds[r.Kind]++
		return nil
	})
	require.NoError(t, err)
	for _, k := range []string{"planned", "reminded", "tared", "lifted", "returned", "portion", "overpoured", "decided", "enlarged", "finished",
		"amended", "lost", "found", "noted", "paused", "resumed", "noticed"} {
		assert.Positive(t, kinds[k], k)
	}
}

// writeGolden makes the journals that are missing. All in them is invented: two
// people, Mara and Ilse, mix tiles' glaze for a bath house.
func writeGolden(t *testing.T) {
	put := func(name string, b []byte) {
		path := filepath.Join(goldenDir, name+".jsonl")
		if _, err := os.Stat(path); err == nil {
			return
		}
		require.NoError(t, os.WriteFile(path, b, 0o644))
	}
	dir := t.TempDir()
	j, _, err := journal.Open(dir, journal.Options{})
	require.NoError(t, err)
	for _, f := range inventedFacts(t) {
		_, err := j.Append(f.At, f.Body.Kind(), f.Batch, f.By, f.Body)
		require.NoError(t, err)
	}
	require.NoError(t, j.Close())
	whole, err := os.ReadFile(filepath.Join(dir, journal.Name))
	require.NoError(t, err)
	put("whole", whole)

	l := bytes.SplitAfter(whole, []byte("\n"))
	few := func(edit func(l [][]byte) [][]byte) []byte {
		c := make([][]byte, 8)
		for i := range c {
			c[i] = bytes.Clone(l[i])
		}
		return bytes.Join(edit(c), nil)
	}
	put("torn", few(func(l [][]byte) [][]byte { l[7] = l[7][:len(l[7])/2]; return l }))
	put("torn-before-newline", few(func(l [][]byte) [][]byte { l[7] = l[7][:len(l[7])-1]; return l }))
	put("changed", few(func(l [][]byte) [][]byte {
		l[4] = bytes.Replace(l[4], []byte(`"delivered":{"g":"307.3"}`), []byte(`"delivered":{"g":"307.5"}`), 1)
		return l
	}))
	put("line-missing", few(func(l [][]byte) [][]byte { return append(l[:3], l[4:]...) }))
	put("lines-swapped", few(func(l [][]byte) [][]byte { l[3], l[4] = l[4], l[3]; return l }))
	put("blank-line", few(func(l [][]byte) [][]byte { l[2] = append(l[2], '\n'); return l }))
	put("bad-json", few(func(l [][]byte) [][]byte {
		l[5] = bytes.Replace(l[5], []byte(`"kind":`), []byte(`"kind" `), 1)
		return l
	}))
	put("first-line-missing", few(func(l [][]byte) [][]byte { return l[1:] }))
	put("empty", nil)
}

func inventedFacts(t *testing.T) []fact.Fact {
	g := func(s string) protocol.Mass {
		m, err := protocol.ParseMass(s + "g")
		require.NoError(t, err)
		return m
	}
	const bench, fine = "bench", "fine"
	step := map[string]protocol.Mass{bench: g("0.1"), fine: g("0.01")}
	u := map[string]protocol.Mass{bench: g("0.129099445"), fine: g("0.012909945")}
	type target struct{ name, role, share, target, low, high, scale string }
	tidewrack := []target{
		{"Nepheline syenite", "base", "41", "307.5", "304.5", "310.5", bench},
		{"Quartz", "base", "24", "180", "178.2", "181.8", bench},
		{"Whiting", "base", "17", "127.5", "126.3", "128.7", bench},
		{"Ball clay", "base", "12", "90", "89.1", "90.9", bench},
		{"Zinc oxide", "base", "6", "45", "44.6", "45.4", bench},
		{"Tin oxide", "addition", "4", "30", "29.4", "30.6", bench},
		{"Copper carbonate", "strong", "6/5", "9", "8.82", "9.18", fine},
	}
	var facts []fact.Fact
	at := time.Date(2026, 11, 24, 9, 12, 0, 250_000_000, time.FixedZone("", 3600))
	add := func(batch, by string, body fact.Body) uint64 {
		at = at.Add(37 * time.Second)
		facts = append(facts, fact.Fact{Seq: uint64(len(facts) + 1), At: at, Batch: batch, By: by, Body: body})
		return uint64(len(facts))
	}
	text := "# Tidewrack, satin, cone 6 oxidation (invented)\nNepheline syenite   41\nQuartz              24\nWhiting             17\n" +
		"Ball clay           12\nZinc oxide           6\n+ Tin oxide          4\n+ Copper carbonate   1.2\n"
	plan := func(batch, by string) {
		p := fact.Planned{Title: "Tidewrack, satin, cone 6 oxidation", Recipe: text,
			RecipeHash: fmt.Sprintf("%x", sha256.Sum256([]byte(text))), Base: g("750"), Dry: g("789"),
			Allowed: map[string]string{"base": "1%", "addition": "2%", "strong": "2%"},
			Scales: []fact.Scale{
				{Name: bench, Port: "/dev/ttyUSB0", Identity: "0403:6001:B7", Format: "header-comma-mode", Step: step[bench], Max: g("2000"), Spread: g("0.05"), Assumed: true},
				{Name: fine, Port: "eye", Step: step[fine], Max: g("200"), Spread: g("0.005"), Assumed: true, Eye: true},
			}}
		for _, l := range tidewrack {
			p.Lines = append(p.Lines, fact.Line{Material: l.name, Role: l.role, Share: l.share, Target: g(l.target), Low: g(l.low), High: g(l.high),
				Scale: l.scale, Weighable: "good", U: u[l.scale]})
		}
		add(batch, by, p)
		add(batch, by, fact.Reminded{Words: []string{"Is the mask on and the ventilation running?"}, Answer: "yes"})
	}
	cup := g("212.4")
	tare := func(batch, material string) {
		add(batch, "scale", fact.Tared{Material: material, Scale: bench, Container: cup, Weight: g("212.4"), How: "container", Step: step[bench],
			Raw: []string{"ST,GS,+0212.4 g"}})
	}
	rest := map[string][3]string{} // what is left of a target, where some is in already
	show := func(m protocol.Mass) string { return fmt.Sprintf("ST,GS,+%06s g", m.Grams(1)) }
	pour := func(batch, by, material, delivered, left, how string) uint64 {
		for _, l := range tidewrack {
			if l.name != material {
				continue
			}
			if r, ok := rest[material]; ok {
				l.target, l.low, l.high = r[0], r[1], r[2]
			}
			d := g(delivered)
			v := "in"
			if d < g(l.low) {
				v = "under"
			}
			if d > g(l.high) {
				v = "over"
			}
			p := fact.Portion{Material: material, Scale: l.scale, Delivered: d, Target: g(l.target), Low: g(l.low), High: g(l.high), Verdict: v, How: how,
				U: u[l.scale], Step: step[l.scale]}
			if how == "typed" {
				p.After, p.Before = 0, d
				p.Raw = []string{}
				return add(batch, by, p)
			}
			p.After = g("212.4") + g(left)
			p.Before = p.After + d
			p.Raw = []string{show(p.Before), show(p.After)}
			add(batch, "scale", fact.Lifted{Material: material, Scale: bench, Before: p.Before, Empty: g("212.4"), Base: cup, Settled: true, Raw: p.Raw[:1]})
			cup = p.After
			return add(batch, by, p)
		}
		t.Fatal(material)
		return 0
	}

	// T1, by Mara: all in the band.
	plan("T1", "Mara")
	tare("T1", "Nepheline syenite")
	pour("T1", "Mara", "Nepheline syenite", "307.3", "0.1", "tipped")
	pour("T1", "Mara", "Quartz", "180.1", "0.1", "tipped")
	pour("T1", "Mara", "Whiting", "127.6", "0.2", "tipped")
	pour("T1", "Mara", "Ball clay", "89.9", "0.2", "tipped")
	pour("T1", "Mara", "Zinc oxide", "45.1", "0.2", "tipped")
	pour("T1", "Mara", "Tin oxide", "30", "0.2", "tipped")
	pour("T1", "Mara", "Copper carbonate", "9.03", "0", "typed")
	made := func(rows ...string) (out []fact.Made) {
		for i, r := range rows {
			f := strings.Fields(r)
			out = append(out, fact.Made{Material: tidewrack[i].name, Role: tidewrack[i].role, Target: g(tidewrack[i].target), Delivered: g(f[0]), U: g(f[1]),
				Share: f[2], Verdict: f[3]})
		}
		return out
	}
	clean := []string{"Wipe with a wet sponge; do not sweep dry.", "Wash your hands."}
	add("T1", "Mara", fact.Finished{Base: g("750"), Dry: g("789.03"), Words: clean, Lines: made(
		"307.3 0.129099445 40.974 in", "180.1 0.129099445 24.013 in", "127.6 0.129099445 17.013 in", "89.9 0.129099445 11.987 in",
		"45.1 0.129099445 6.013 in", "30 0.129099445 4.000 in", "9.03 0.012909945 1.204 in")})

	// T2, by Ilse: everything that goes otherwise.
	at = at.Add(25 * time.Hour)
	cup = g("212.4")
	plan("T2", "Ilse")
	tare("T2", "Nepheline syenite")
	pour("T2", "Ilse", "Nepheline syenite", "200.2", "0.1", "tipped")
	add("T2", "scale", fact.Lifted{Material: "Nepheline syenite", Scale: bench, Before: g("260.0"), Empty: g("212.4"), Base: cup, Settled: true,
		Raw: []string{"ST,GS,+0260.0 g"}})
	add("T2", "scale", fact.Returned{Material: "Nepheline syenite", Scale: bench, After: g("260.0"), Raw: []string{"ST,GS,+0260.0 g"}})
	rest["Nepheline syenite"] = [3]string{"107.3", "104.3", "110.3"}
	pour("T2", "Ilse", "Nepheline syenite", "107.1", "0.2", "tipped")
	add("T2", "scale", fact.Overpoured{Material: "Quartz", Scale: bench, Where: "container", Amount: g("185.3"), High: g("181.8"), Excess: g("5.3"),
		Raw: []string{"ST,GS,+0397.9 g"}})
	wrong := pour("T2", "Ilse", "Quartz", "180", "0.2", "tipped")
	add("T2", "Mara", fact.Amended{Of: wrong, Reason: "that was the potash feldspar jar, it went to the waste", Material: "Quartz", Was: g("180"), Void: true})
	pour("T2", "Ilse", "Quartz", "180.4", "0.2", "tipped")
	add("T2", "tared", fact.Lost{Scale: bench, Port: "/dev/ttyUSB0", Why: "the port is gone"})
	add("T2", "tared", fact.Found{Scale: bench, Port: "/dev/ttyUSB0", After: "12.4s", Shows: g("212.6"), Tare: "unknown", Raw: []string{"ST,GS,+0212.6 g"}})
	add("T2", "Ilse", fact.Decided{Question: "tare", Answer: "keep", Material: "Whiting"})
	add("T2", "scale", fact.Tared{Material: "Whiting", Scale: bench, Container: g("212.6"), Weight: g("212.4"), How: "answered", Step: step[bench],
		Raw: []string{"ST,GS,+0212.6 g"}})
	add("T2", "scale", fact.Noticed{Scale: bench, What: "tare-key", Amount: g("212.6"), Words: "The bench scale was tared by its own key: 212.6 g is carried on.",
		Raw: []string{"ST,GS,+0000.0 g"}})
	add("T2", "Ilse", fact.Paused{Why: "the kiln needs a look"})
	add("T2", "Ilse", fact.Resumed{})
	pour("T2", "Ilse", "Whiting", "131.2", "0.2", "tipped")
	add("T2", "scale", fact.Overpoured{Material: "Whiting", Scale: bench, Where: "tipped", Amount: g("131.2"), High: g("128.7"), Excess: g("3.7"),
		Raw: []string{"ST,GS,+0212.6 g"}})
	add("T2", "Ilse", fact.Decided{Question: "overpour", Answer: "enlarge", Material: "Whiting", Amount: g("3.7")})
	// 131.2 = f·127.5 + 1.2, so f = 130/127.5 = 52/51.
	e := fact.Enlarged{Because: "Whiting", Factor: "52/51", Base: g("764.705882353"), Dry: g("804.470588235")}
	for _, l := range []target{
		{"Nepheline syenite", "base", "41", "313.529411765", "310.429411765", "316.629411765", bench},
		{"Quartz", "base", "24", "183.529411765", "181.729411765", "185.329411765", bench},
		{"Whiting", "base", "17", "130", "128.8", "131.2", bench},
		{"Ball clay", "base", "12", "91.764705882", "90.864705882", "92.664705882", bench},
		{"Zinc oxide", "base", "6", "45.882352941", "45.482352941", "46.282352941", bench},
		{"Tin oxide", "addition", "4", "30.588235294", "29.988235294", "31.188235294", bench},
		{"Copper carbonate", "strong", "6/5", "9.176470588", "8.996470588", "9.356470588", fine},
	} {
		e.Lines = append(e.Lines, fact.Line{Material: l.name, Role: l.role, Share: l.share, Target: g(l.target), Low: g(l.low), High: g(l.high),
			Scale: l.scale, Weighable: "good", U: u[l.scale]})
	}
	add("T2", "Ilse", e)
	for _, l := range e.Lines {
		rest[l.Material] = [3]string{l.Target.Grams(0), l.Low.Grams(0), l.High.Grams(0)}
	}
	rest["Nepheline syenite"] = [3]string{"6.229411765", "3.129411765", "9.329411765"}
	rest["Quartz"] = [3]string{"3.129411765", "1.329411765", "4.929411765"}
	pour("T2", "Ilse", "Nepheline syenite", "6.2", "0.2", "tipped")
	pour("T2", "Ilse", "Quartz", "3.1", "0.2", "tipped")
	pour("T2", "Ilse", "Ball clay", "91.8", "0.2", "tipped")
	pour("T2", "Ilse", "Zinc oxide", "45.9", "0.2", "tipped")
	add("T2", "Ilse", fact.Decided{Question: "material", Answer: "skip", Material: "Tin oxide", Words: "the jar is empty"})
	add("T2", "Ilse", fact.Decided{Question: "material", Answer: "substitute", Material: "Copper carbonate", With: "Copper carbonate, second jar"})
	typed := pour("T2", "Ilse", "Copper carbonate", "9.71", "0", "typed")
	facts[typed-1].Body = as(facts[typed-1].Body.(fact.Portion), "Copper carbonate, second jar")
	add("T2", "Ilse", fact.Overpoured{Material: "Copper carbonate", Scale: fine, Where: "tipped", Amount: g("9.71"), High: g("9.356470588"),
		Excess: g("0.533529412"), Strong: true, Raw: []string{}})
	add("T2", "Ilse", fact.Decided{Question: "overpour", Answer: "keep", Material: "Copper carbonate", Amount: g("0.533529412")})
	add("T2", "Ilse", fact.Noted{Text: "second jar smells musty"})
	// Three portions of the first: U is 0.129099445·√3.
	fin := made("313.5 0.223606798 40.932 in", "183.5 0.182574187 23.959 in", "131.2 0.129099445 17.130 in", "91.8 0.129099445 11.986 in",
		"45.9 0.129099445 5.993 in", "0 0 0.000 skipped", "9.71 0.012909945 1.268 over")
	for i := range fin {
		fin[i].Target = e.Lines[i].Target
	}
	fin[6].As = "Copper carbonate, second jar"
	add("T2", "Ilse", fact.Finished{Base: g("765.9"), Dry: g("775.61"), Words: clean, Lines: fin})
	add("T2", "Ilse", fact.Amended{Of: typed, Reason: "misread: the note on the bench says 9.17", Material: "Copper carbonate", Was: g("9.71"), Is: g("9.17")})

	clear(rest)
	// T3, by Mara, is open; the clock was set back before it.
	at = at.Add(-40 * time.Minute)
	cup = g("212.4")
	plan("T3", "Mara")
	tare("T3", "Nepheline syenite")
	pour("T3", "Mara", "Nepheline syenite", "150.7", "0.1", "tipped")
	return facts
}

func as(p fact.Portion, what string) fact.Portion {
	p.As = what
	return p
}

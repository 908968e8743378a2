package derive

import (
	"bytes"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"tared/protocol"
	"tared/session/fact"
)

func g(s string) protocol.Mass {
	m, err := protocol.ParseMass(s + "g")
	if err != nil {
		panic(err)
	}
	return m
}

// journal reads the facts of a kept journal.
func journal(t *testing.T, file string) (all []fact.Fact) {
	t.Helper()
	b, err := os.ReadFile(file)
	require.NoError(t, err)
	for _, line := range bytes.Split(bytes.TrimSpace(b), []byte("\n")) {
		f, _, err := fact.Decode(line)
		require.NoError(t, err)
		all = append(all, f)
	}
	return all
}

// told gives what is wrong with some facts, by the line and the code, and how many
// findings say that something cannot be derived.
func told(all []fact.Fact) (wrong []string, cannot int) {
	var j Journal
	for _, f := range all {
		for _, d := range j.Add(f) {
			if d.Cannot {
				cannot++
			}
			for _, m := range d.Wrong {
				wrong = append(wrong, m.Code)
			}
		}
	}
	return wrong, cannot
}

// Whatever an older program wrote follows from its own lines.
func TestKeptJournalsFollowFromTheirLines(t *testing.T) {
	n := 0
	for _, dir := range []string{"../../testdata/kept/*.jsonl", "../../cmd/tared/testdata/*.jsonl", "../testdata/*.jsonl", "../../testdata/journals/whole.jsonl"} {
		files, err := filepath.Glob(dir)
		require.NoError(t, err)
		require.NotEmpty(t, files, dir)
		for _, file := range files {
			wrong, cannot := told(journal(t, file))
			assert.Empty(t, wrong, file)
			if strings.Contains(file, "cmd/tared/testdata") {
				assert.Zero(t, cannot, "%s: its scales and their lines are all known", file)
			}
			n++
		}
	}
	assert.Greater(t, n, 15)
}

// real is a journal of a bench with scales whose lines can be read.
const real = "../../cmd/tared/testdata/journal-2.jsonl"

// change changes the first fact of a kind that fits.
func change[B fact.Body](t *testing.T, all []fact.Fact, by func(*B) bool) {
	t.Helper()
	for i := range all {
		if v, ok := all[i].Body.(B); ok && by(&v) {
			all[i].Body = v
			return
		}
	}
	t.Fatal("nothing fits")
}

func tipped(by func(*fact.Portion)) func(*fact.Portion) bool {
	return func(p *fact.Portion) bool {
		if p.How != "tipped" {
			return false
		}
		by(p)
		return true
	}
}

// A record that was forged, with a chain made anew so that every line holds, is told.
func TestForgedRecordsAreTold(t *testing.T) {
	for name, c := range map[string]struct {
		forge func(*testing.T, []fact.Fact)
		code  string
	}{
		"delivered": {func(t *testing.T, all []fact.Fact) {
			change(t, all, tipped(func(p *fact.Portion) { p.Delivered += g("0.1") }))
		}, "derive.delivered"},
		"delivered of the last portion": {func(t *testing.T, all []fact.Fact) {
			for i := range all {
				if p, ok := all[i].Body.(fact.Portion); ok && i+2 < len(all) && all[i+1].Body.Kind() == "finished" {
					p.Delivered += g("0.1")
					all[i].Body = p
				}
			}
		}, "derive.delivered"},
		"before, and delivered with it": {func(t *testing.T, all []fact.Fact) {
			change(t, all, tipped(func(p *fact.Portion) { p.Before += g("0.1"); p.Delivered += g("0.1") }))
		}, "derive.before"},
		"before, delivered and the lift": {func(t *testing.T, all []fact.Fact) {
			change(t, all, func(l *fact.Lifted) bool { l.Before += g("0.1"); return true })
			change(t, all, tipped(func(p *fact.Portion) { p.Before += g("0.1"); p.Delivered += g("0.1") }))
		}, "derive.before"},
		"after, and delivered with it": {func(t *testing.T, all []fact.Fact) {
			change(t, all, tipped(func(p *fact.Portion) { p.After -= g("0.2"); p.Delivered += g("0.2") }))
		}, "derive.after"},
		"the line before the lift": {func(t *testing.T, all []fact.Fact) {
			change(t, all, tipped(func(p *fact.Portion) { p.Raw[0] = p.Raw[1] }))
		}, "derive.before"},
		"the line after the tip": {func(t *testing.T, all []fact.Fact) {
			change(t, all, tipped(func(p *fact.Portion) { p.Raw[1] = p.Raw[0] }))
		}, "derive.after"},
		"the verdict": {func(t *testing.T, all []fact.Fact) {
			change(t, all, tipped(func(p *fact.Portion) { p.Verdict = "over" }))
		}, "derive.verdict"},
		"the band": {func(t *testing.T, all []fact.Fact) {
			change(t, all, tipped(func(p *fact.Portion) { p.High = p.Delivered - g("0.1") }))
		}, "derive.verdict"},
		"a sum": {func(t *testing.T, all []fact.Fact) {
			change(t, all, func(f *fact.Finished) bool { f.Lines[0].Delivered += g("0.1"); return true })
		}, "derive.sum"},
		"a share": {func(t *testing.T, all []fact.Fact) {
			change(t, all, func(f *fact.Finished) bool { f.Lines[0].Share = "12.345"; return true })
		}, "derive.sum"},
		"the base": {func(t *testing.T, all []fact.Fact) {
			change(t, all, func(f *fact.Finished) bool { f.Base += g("1"); return true })
		}, "derive.base"},
		"an offset that nobody saw": {func(t *testing.T, all []fact.Fact) {
			change(t, all, func(l *fact.Lifted) bool { l.Carried += g("20"); l.Before += g("20"); return true })
			change(t, all, tipped(func(p *fact.Portion) { p.Before += g("20"); p.Delivered += g("20"); p.Verdict = "over" }))
		}, "derive.carried"},
		"an offset of the container": {func(t *testing.T, all []fact.Fact) {
			change(t, all, func(f *fact.Tared) bool { f.Carried += g("20"); return true })
		}, "derive.container"},
		"what was typed": {func(t *testing.T, all []fact.Fact) {
			change(t, all, func(p *fact.Portion) bool {
				if p.How != "typed" {
					return false
				}
				p.Delivered, p.Before = p.Delivered+g("1"), p.Before+g("1")
				return true
			})
		}, "derive.typed"},
	} {
		t.Run(name, func(t *testing.T) {
			all := journal(t, real)
			c.forge(t, all)
			wrong, _ := told(all)
			assert.Contains(t, wrong, c.code)
		})
	}
}

// Where the lines or their format are not known, nothing is called wrong.
func TestWhatCannotBeDerivedIsNotWrong(t *testing.T) {
	for name, by := range map[string]func(*fact.Portion){
		"no line":           func(p *fact.Portion) { p.Raw = nil },
		"a line that is no": func(p *fact.Portion) { p.Raw[0] = `\x02nothing` },
		"half an escape":    func(p *fact.Portion) { p.Raw[0] = `\x0` },
	} {
		all := journal(t, real)
		change(t, all, tipped(by))
		wrong, cannot := told(all)
		assert.Empty(t, wrong, name)
		assert.NotZero(t, cannot, name)
	}
	all := journal(t, real)
	change(t, all, func(p *fact.Planned) bool {
		for i := range p.Scales {
			p.Scales[i].Format = "of-our-own"
		}
		return true
	})
	wrong, cannot := told(all)
	assert.Empty(t, wrong)
	assert.NotZero(t, cannot)
}

func TestShownReadsPrintableLines(t *testing.T) {
	for _, f := range protocol.All() {
		if f.Name == "header-comma-mode" {
			m, ok := Shown(f.Name, `ST\x2cGS,+  281.0 g`)
			assert.True(t, ok)
			assert.Equal(t, g("281"), m)
		}
	}
	_, ok := Shown("header-comma-mode", `\xzz`)
	assert.False(t, ok)
}

// Of what nobody knows there is no number and no other verdict.
func TestNotKnownIsNoNumber(t *testing.T) {
	p := fact.Portion{Material: "Quartz", Scale: "bench", Before: g("160.0"), After: g("80.0"), Low: g("84"), High: g("86"), How: "not-known", Verdict: "not-known"}
	assert.Equal(t, Result{Cannot: true}, Portion(p, Known{}))
	p.Delivered = g("80.0")
	assert.Len(t, Portion(p, Known{}).Wrong, 1)
	p.Delivered, p.Verdict = 0, "under"
	assert.Len(t, Portion(p, Known{}).Wrong, 1)
}

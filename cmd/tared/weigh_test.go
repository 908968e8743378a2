//go:build unix

package main

import (
	"bufio"
	"bytes"
	"context"
	"encoding/json"
	"fmt"
	"io"
	"math"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"tared/protocol"
	"tared/scale/sim"
)

// rig is a simulated scale on a pseudo-terminal, and the program that weighs on it.
type rig struct {
	t     *testing.T
	clock sim.Clock
	world *sim.World
	line  *sim.Line
	dir   string // of the journal
	args  []string

	cmd   *exec.Cmd
	in    io.WriteCloser
	lines chan map[string]any
	seen  []map[string]any // of the present run
	next  int              // first of seen that until has not looked at
	errs  bytes.Buffer
	now   map[string]any // the last "now"
}

func newRig(t *testing.T, recipe, base string) *rig {
	return newRigIn(t, protocol.UnitGram, recipe, base)
}

// newRigIn is a rig whose scale shows this unit.
func newRigIn(t *testing.T, unit protocol.Unit, recipe, base string) *rig {
	r := &rig{t: t, dir: t.TempDir()}
	var err error
	r.clock, err = sim.NewClock(1)
	require.NoError(t, err)
	model := sim.Bench()
	// A quiet room and a quick scale: these tests are about the program.
	model.Noise, model.Draught, model.Lag = 0.005, 0, 100*time.Millisecond
	model.Units = slices.DeleteFunc(model.Units, func(u sim.UnitSteps) bool { return u.Unit != unit })
	r.world, err = sim.NewWorld(7, r.clock.Now(), sim.Place{Name: "bench", Model: model, Container: 118.4})
	require.NoError(t, err)
	src, err := r.world.Scale("bench")
	require.NoError(t, err)
	port := filepath.Join(t.TempDir(), "tty-bench")
	r.line, err = sim.NewLine(src, sim.LineOptions{Format: "header-comma-mode", Clock: r.clock, Link: port})
	require.NoError(t, err)
	ctx, cancel := context.WithCancel(context.Background())
	done := make(chan struct{})
	go func() {
		defer close(done)
		_ = r.line.Run(ctx)
	}()
	t.Cleanup(func() { cancel(); <-done })
	r.args = []string{"weigh", writeFile(t, "recipe.txt", recipe), "--base", base, "--json", "--data", r.dir, "--by", "Ilse",
		"--scale", "name=bench,port=" + port + ",format=header-comma-mode,baud=9600,max=2000g"}
	return r
}

// start runs the program, for the first time or once more.
func (r *rig) start() {
	r.cmd = endsWithUs(exec.Command(program, r.args...))
	r.cmd.Env = cleanEnv(r.t)
	r.errs.Reset()
	r.cmd.Stderr = &r.errs
	var err error
	r.in, err = r.cmd.StdinPipe()
	require.NoError(r.t, err)
	out, err := r.cmd.StdoutPipe()
	require.NoError(r.t, err)
	require.NoError(r.t, r.cmd.Start())
	r.seen, r.next, r.now = nil, 0, nil
	r.lines = make(chan map[string]any, 1000)
	cmd := r.cmd
	r.t.Cleanup(func() { _ = cmd.Process.Kill() })
	go func(lines chan<- map[string]any) {
		defer close(lines)
		s := bufio.NewScanner(out)
		for s.Scan() {
			var v map[string]any
			if err := json.Unmarshal(s.Bytes(), &v); err != nil {
				v = map[string]any{"kind": "not-json", "line": s.Text()}
			}
			lines <- v
		}
	}(r.lines)
}

// until reads on to the first line of that kind for which ok holds.
func (r *rig) until(kind string, ok func(map[string]any) bool) map[string]any {
	r.t.Helper()
	return r.await("a line of kind "+kind, func(v map[string]any) bool { return v["kind"] == kind && (ok == nil || ok(v)) })
}

// await reads on to the first line for which ok holds.
func (r *rig) await(what string, ok func(map[string]any) bool) map[string]any {
	r.t.Helper()
	allowed := patience(r.t)
	limit := time.After(allowed)
	for {
		for r.next < len(r.seen) {
			v := r.seen[r.next]
			r.next++
			if v["kind"] == "now" {
				r.now = v
			}
			if ok(v) {
				return v
			}
		}
		select {
		case v, open := <-r.lines:
			if !open {
				_ = r.cmd.Wait() // its errors are all there then
				require.Fail(r.t, "the program ended", "before %s; it said:\n%s%s", what, r.told(), r.errs.String())
			}
			require.NotEqual(r.t, "not-json", v["kind"], "a line is no JSON: %v", v["line"])
			r.seen = append(r.seen, v)
		case <-limit:
			_ = r.cmd.Process.Kill()
			_ = r.cmd.Wait()
			require.Fail(r.t, "nothing more came", "in %v, while waiting for %s; it said:\n%s%s", allowed, what, r.told(), r.errs.String())
		}
	}
}

func (r *rig) told() string {
	var b strings.Builder
	for _, v := range r.seen {
		j, _ := json.Marshal(v)
		b.Write(append(j, '\n'))
	}
	return b.String()
}

func (r *rig) state(state string) map[string]any {
	r.t.Helper()
	if r.now != nil && r.now["state"] == state {
		return r.now
	}
	return r.until("now", func(v map[string]any) bool { return v["state"] == state })
}

func (r *rig) say(word string) {
	_, err := io.WriteString(r.in, word+"\n")
	require.NoError(r.t, err)
}

func (r *rig) hand(verb sim.Verb, more ...func(*sim.Action)) {
	a := sim.Action{Scale: "bench", Verb: verb, At: r.clock.Now()}
	for _, m := range more {
		m(&a)
	}
	require.NoError(r.t, r.world.Do(a))
}

// pour lets that many grams run into the container.
func (r *rig) pour(material string, g float64) {
	r.hand(sim.Pour, func(a *sim.Action) {
		a.Flow = sim.Flow{Material: material, Rate: g, Rise: 0.05, Cut: 0.05, Left: g}
	})
}

// tip lifts the container, empties it into the bucket when the program knows what is
// in it, and puts it back. It was too early where a busy machine read the lines of the
// scale late: then it is put back first, as the program says.
func (r *rig) tip() {
	r.t.Helper()
	stood, _ := r.now["state"].(string)
	r.hand(sim.Lift)
	for r.state("lifted")["lifted"] == nil {
		r.hand(sim.Put)
		r.state(stood)
		r.hand(sim.Lift)
	}
	r.hand(sim.Tip)
	r.hand(sim.Put)
}

// rests waits until the program says that so much rests in the container.
func (r *rig) rests(g float64) {
	r.t.Helper()
	r.until("now", func(v map[string]any) bool {
		in, ok := v["in"].(map[string]any)
		return ok && v["settled"] == true && math.Abs(inGram(r.t, in)-g) < 0.15
	})
}

func inGram(t *testing.T, m map[string]any) (g float64) {
	t.Helper()
	_, err := fmt.Sscan(m["g"].(string), &g)
	require.NoError(t, err)
	return g
}

// target reads the target of a "now" line, as a float for the simulated hand.
func target(t *testing.T, v map[string]any) (g float64) {
	t.Helper()
	m, ok := v["target"].(map[string]any)
	require.True(t, ok, "target of %v", v)
	return inGram(t, m)
}

// weigh pours one material into the container that stands there, and tips it.
func (r *rig) weigh(material string) map[string]any {
	r.t.Helper()
	now := r.until("now", func(v map[string]any) bool { return v["material"] == material && v["state"] == "pour" })
	r.pour(material, target(r.t, now))
	r.state("in")
	r.tip()
	return r.until("portion", func(v map[string]any) bool { return v["material"] == material })
}

func (r *rig) kinds() (all []string) {
	for _, v := range r.seen {
		all = append(all, v["kind"].(string))
	}
	return all
}

// A whole batch on the real program: the scale unplugged in the middle of a
// pour, the program killed between two, an overpour tipped and the batch
// enlarged; then the record and its chain.
func TestWeighToTheEnd(t *testing.T) {
	t.Parallel() // it takes the time that a pan takes to settle
	r := newRig(t, "# Grotto, invented for tests\nQuartz 50\nWhiting 30\nBall clay 20\n", "100g")
	r.start()

	asked := r.until("asked", nil)
	assert.Equal(t, "reminder", asked["question"])
	assert.Contains(t, asked["answers"], "yes")
	r.say("enlarge")
	refused := r.until("refused", nil)
	assert.Contains(t, refused["words"], "mask")
	r.say("yes Ilse")
	r.state("container")
	assert.Equal(t, []string{"planned"}, only(r.kinds(), "planned"))
	r.hand(sim.Put)
	r.until("tared", nil)

	first := r.weigh("Quartz")
	assert.Equal(t, "in", first["verdict"])
	assert.Equal(t, map[string]any{"g": "50.0"}, first["target"])
	assert.NotEmpty(t, first["raw"], "a portion carries the lines that it rests on")

	// The power fails.
	require.NoError(t, r.cmd.Process.Kill())
	_ = r.cmd.Wait()
	r.start()
	r.until("resumed", nil)
	assert.Empty(t, only(r.kinds(), "planned"), "an unfinished batch is taken up")

	// The cable falls out with powder in the container.
	now := r.until("now", func(v map[string]any) bool { return v["material"] == "Whiting" && v["state"] == "pour" })
	r.pour("Whiting", target(t, now)/2)
	r.rests(target(t, now) / 2)
	r.hand(sim.Unplug)
	r.until("lost", nil)
	r.state("lost")
	r.hand(sim.Replug)
	r.until("found", nil)
	r.until("now", func(v map[string]any) bool { return v["state"] == "pour" })
	r.pour("Whiting", target(t, now)/2)
	r.state("in")
	r.tip()
	second := r.until("portion", nil)
	assert.Equal(t, "in", second["verdict"])

	// Too much of the last one is tipped; the batch grows, and the others are topped up.
	now = r.until("now", func(v map[string]any) bool { return v["material"] == "Ball clay" && v["state"] == "pour" })
	r.pour("Ball clay", target(t, now)+2)
	r.until("overpoured", func(v map[string]any) bool { return v["where"] == "container" })
	r.state("over")
	r.tip()
	asked = r.until("asked", func(v map[string]any) bool { return v["question"] == "overpour" })
	assert.Subset(t, asked["answers"], []any{"enlarge", "keep"})
	r.say("enlarge")
	r.until("enlarged", nil)
	require.NoError(t, r.in.Close(), "from here on nothing needs an answer")
	for _, material := range []string{"Quartz", "Whiting"} {
		p := r.weigh(material)
		assert.Equal(t, "in", p["verdict"])
	}
	finished := r.until("finished", nil)
	mark := finished["batch"].(string)
	require.NoError(t, ends(t, r.cmd), r.errs.String())

	// The record says what happened.
	got := runTared(t, "", "record", "--data", r.dir)
	assert.Equal(t, exitDone, got.code, got.err)
	assert.Contains(t, got.out, mark)
	got = runTared(t, "", "record", mark, "--data", r.dir, "--json")
	assert.Equal(t, exitDone, got.code, got.err)
	var made struct {
		State string `json:"state"`
		Lines []struct {
			Material string `json:"material"`
			Verdict  string `json:"verdict"`
			Portions int    `json:"portions"`
		} `json:"lines"`
		Hash string `json:"hash"`
	}
	require.NoError(t, json.Unmarshal([]byte(got.out), &made))
	assert.Equal(t, "finished", made.State)
	require.Len(t, made.Lines, 3)
	for _, l := range made.Lines {
		assert.Equal(t, "in", l.Verdict, l.Material)
	}
	got = runTared(t, "", "record", "nonsense", "--data", r.dir)
	assert.Equal(t, exitFailed, got.code)
	assert.Contains(t, got.err, mark, "the marks that are there are named")

	checkChain(t, r.dir, made.Hash)
}

func only(all []string, kind string) []string {
	var some []string
	for _, k := range all {
		if k == kind {
			some = append(some, k)
		}
	}
	return some
}

// checkChain checks the journal with sha256sum and no tool of ours, then with
// ours, then changes one byte.
func checkChain(t *testing.T, dir, closing string) {
	t.Helper()
	path := filepath.Join(dir, "journal.jsonl")
	b, err := os.ReadFile(path)
	require.NoError(t, err)
	lines := strings.SplitAfter(strings.TrimSuffix(string(b), "\n"), "\n")
	lines[len(lines)-1] += "\n"
	require.Greater(t, len(lines), 8)
	prev, closed := strings.Repeat("0", 64), ""
	for i, l := range lines {
		var head struct {
			Seq  uint64 `json:"seq"`
			Prev string `json:"prev"`
			Kind string `json:"kind"`
			Hash string `json:"hash"`
		}
		require.NoError(t, json.Unmarshal([]byte(l), &head))
		assert.EqualValues(t, i+1, head.Seq)
		assert.Equal(t, prev, head.Prev, "line %d", i+1)
		out, err := exec.Command("sh", "-c", fmt.Sprintf("sed -n %dp '%s' | sha256sum", i+1, path)).Output()
		require.NoError(t, err)
		prev = strings.Fields(string(out))[0]
		switch head.Kind {
		case "finished":
			closed = prev
		case "signed":
			assert.Equal(t, closed, head.Hash, "the bench signs what it closed")
		}
	}
	assert.Equal(t, closing, closed, "the closing hash is that of the line that closed the batch")
	assert.Contains(t, lines[len(lines)-1], `"kind":"signed"`)

	got := runTared(t, "", "verify", "--data", dir)
	assert.Equal(t, exitDone, got.code, got.err)
	assert.Contains(t, got.out, "every line is intact")
	assert.Regexp(t, `signatures [1-9]`, got.out)

	changed := bytes.Replace(b, []byte(`"verdict":"in"`), []byte(`"verdict":"im"`), 1)
	require.NotEqual(t, b, changed)
	require.NoError(t, os.WriteFile(path, changed, 0o600))
	line := 1 + strings.Count(string(changed[:bytes.Index(changed, []byte(`"verdict":"im"`))]), "\n")
	got = runTared(t, "", "verify", "--data", dir)
	assert.Equal(t, exitFailed, got.code)
	assert.Contains(t, got.err, fmt.Sprintf("line %d is damaged", line))
	got = runTared(t, "", "verify", "--data", dir, "--json")
	assert.Equal(t, exitFailed, got.code)
	assert.Contains(t, got.out, fmt.Sprintf(`"damage":{"line":%d,`, line))

	require.NoError(t, os.WriteFile(path, b[:len(b)-5], 0o600))
	got = runTared(t, "", "verify", "--data", dir)
	assert.Equal(t, exitFailed, got.code, "a line that was cut off is named")
	assert.Contains(t, got.err, fmt.Sprintf("line %d is damaged", len(lines)))
	require.NoError(t, os.WriteFile(path, b, 0o600))
}

// Without a word for the reminder, and with standard input at its end, weigh
// says that it cannot go on, rather than wait for ever.
func TestWeighNeedsAWord(t *testing.T) {
	recipe := writeFile(t, "recipe.txt", tidewrack)
	got := runTared(t, "", "weigh", recipe, "--base", "100g", "--data", t.TempDir(), "--scale", "name=fine,port=eye,step=0.01g,max=300g")
	assert.Equal(t, exitFailed, got.code)
	assert.Contains(t, got.err, "Input ended before the question was answered")
}

// A balance read by eye needs no port at all: words are enough.
func TestWeighByEye(t *testing.T) {
	t.Parallel()
	recipe := writeFile(t, "recipe.txt", "Quartz 60\nWhiting 40\n")
	got := runTared(t, "yes Mara\ntyped 60.00g\nnote damp bag\nundo yes\ntyped 60.02g\ntyped 40,1g\n",
		"weigh", recipe, "--base", "100g", "--data", t.TempDir(), "--scale", "name=fine,port=eye,step=0.01g,max=300g", "--json")
	require.Equal(t, exitDone, got.code, got.out+got.err)
	var delivered []string
	for l := range strings.Lines(got.out) {
		var v struct {
			Kind, Material, By string
			Delivered          struct{ G string }
		}
		require.NoError(t, json.Unmarshal([]byte(l), &v), l)
		if v.Kind == "portion" {
			delivered = append(delivered, v.Material+" "+v.Delivered.G+" "+v.By)
		}
	}
	assert.Equal(t, []string{"Quartz 60.00 Mara", "Quartz 60.02 Mara", "Whiting 40.1 Mara"}, delivered, "digits that nobody typed are not shown")
}

// With nothing but the port, the scale is found by listening: by scales, and by
// weigh, which plans with the step that it heard.
func TestScaleIsFoundByListening(t *testing.T) {
	t.Parallel()
	r := newRig(t, "Quartz 60\nWhiting 40\n", "100g")
	port := r.line.Path()
	capture := filepath.Join(t.TempDir(), "capture.txt")
	got := runTared(t, "", "scales", port, "--json", "--save", capture)
	require.Equal(t, exitDone, got.code, got.out+got.err)
	var found struct{ Port, Format, Shows, Why, Spec string }
	require.NoError(t, json.Unmarshal([]byte(got.out), &found))
	assert.Equal(t, "header-comma-mode", found.Format)
	assert.Contains(t, found.Shows, "0.0 g")
	assert.Contains(t, found.Spec, "format=header-comma-mode")
	saved, err := os.ReadFile(capture)
	require.NoError(t, err)
	for _, want := range []string{"# port: " + port, "# on the pan: (fill in)", "# format: header-comma-mode", "0.0"} {
		assert.Contains(t, string(saved), want)
	}
	again := runTared(t, "", "scales", "/dev/no-such-port", "--save", capture)
	assert.Equal(t, exitFailed, again.code)
	assert.Contains(t, again.err, "capture.txt is there already. Give a new name, or delete it", "a capture is never written over another")

	r.args[len(r.args)-1] = "name=bench,port=" + port
	r.start()
	planned := r.until("planned", nil)
	scales := planned["scales"].([]any)
	require.Len(t, scales, 1)
	assert.Equal(t, map[string]any{"g": "0.1"}, scales[0].(map[string]any)["step"])
	assert.Equal(t, "header-comma-mode", scales[0].(map[string]any)["format"])
}

// A second person looks at the last portion, too: what is shown then is that portion, and
// not what would be left to weigh.
func TestWeighConfirmsTheLastPortion(t *testing.T) {
	t.Parallel()
	got := runTared(t, "yes Mara\ntyped 60.00g\nyes Jonas\ntyped 40.00g\nyes Jonas\n",
		"weigh", writeFile(t, "recipe.txt", "Quartz 60\nWhiting 40\n"), "--base", "100g", "--data", t.TempDir(), "--scale", "name=fine,port=eye,step=0.01g,max=300g", "--confirm", "typed")
	require.Equal(t, exitDone, got.code, got.out+got.err)
	assert.NotContains(t, got.out, ": 0.00 g")
	assert.NotContains(t, got.out, "portion 2")
	assert.Equal(t, 1, strings.Count(got.out, "Whiting: 40.00 g on the fine scale"))
}

// Where all was weighed and only the closing line is missing, the same command writes it
// and ends; another recipe is another batch.
func TestWeighCompletesWhatLacksItsClosingLine(t *testing.T) {
	t.Parallel()
	for _, again := range []string{"Quartz 60\nWhiting 40\n", "Quartz 50\nWhiting 50\n"} {
		data := t.TempDir()
		weigh := func(recipe string) outcome {
			return runTared(t, "yes Mara\ntyped 60.00g\ntyped 40.00g\n", "weigh", writeFile(t, "recipe.txt", recipe), "--base", "100g", "--data", data, "--scale", "name=fine,port=eye,step=0.01g,max=300g")
		}
		require.Equal(t, exitDone, weigh("Quartz 60\nWhiting 40\n").code)
		file := filepath.Join(data, "journal.jsonl")
		b, err := os.ReadFile(file)
		require.NoError(t, err)
		lines := bytes.SplitAfter(b, []byte("\n"))
		require.Contains(t, string(lines[len(lines)-3]), `"kind":"finished"`)
		require.NoError(t, os.WriteFile(file, bytes.Join(lines[:len(lines)-3], nil), 0o640))
		_ = os.Remove(witnessFile(data)) // the line was never there

		got := weigh(again)
		b, err = os.ReadFile(file)
		require.NoError(t, err)
		assert.Equal(t, 1, bytes.Count(b, []byte(`"kind":"finished"`)), got.out+got.err)
		if strings.Contains(again, "60") {
			assert.Equal(t, exitDone, got.code, got.out+got.err)
			assert.Equal(t, 1, bytes.Count(b, []byte(`"kind":"planned"`)))
			assert.Contains(t, got.out, "is complete")
		} else {
			assert.Equal(t, 2, bytes.Count(b, []byte(`"kind":"planned"`)))
		}
	}
}

// A line that no table knows is asked about before the first gram, and what the text was
// taken for is read back.
func TestWeighReadsTheRecipeBack(t *testing.T) {
	t.Parallel()
	recipe := writeFile(t, "recipe.txt", "Bath blue cone 6\nPond clay 60\nWhiting 40\nFire to 1222\n")
	args := []string{"weigh", recipe, "--base", "100g", "--by", "Ilse", "--scale", "name=fine,port=eye,step=0.01g,max=500g"}
	got := runTared(t, "clay\nbase\nyes Ilse\ntyped 60.00g\ntyped 40.00g\n", append(args, "--data", t.TempDir())...)
	require.Equal(t, exitDone, got.code, got.err)
	for _, says := range []string{"Title: Bath blue cone 6", "Base: Pond clay 60, Whiting 40", "Note: Fire to 1222", "Pond clay is in no table of materials", "No: say base, addition, suspender, opacifier, strong, stop"} {
		assert.Contains(t, got.out, says)
	}
	assert.Less(t, strings.Index(got.out, "Note: Fire to 1222"), strings.Index(got.out, "mask"))
	got = runTared(t, "", append(args, "--data", t.TempDir(), "--json")...)
	assert.Equal(t, exitFailed, got.code)
	assert.Contains(t, got.err, `--role \"Pond clay=base\"`)
	assert.Contains(t, got.out, `"question":"material"`)
	got = runTared(t, "stop\n", append(args, "--data", t.TempDir())...)
	assert.Equal(t, exitFailed, got.code)
	assert.Contains(t, got.err, "nothing was weighed")
}

// One recipe of a table that holds several is named behind a colon.
func TestOneRecipeOfATable(t *testing.T) {
	table := writeFile(t, "all.csv", "recipe,material,amount\nBath white,Quartz,60\nBath white,Whiting,40\nBath clear,Quartz,50\nBath clear,Whiting,50\n")
	got := runTared(t, "", "plan", table, "--base", "100g", "--scale", "name=bench,step=0.1g")
	assert.Equal(t, exitFailed, got.code)
	assert.Contains(t, got.err, "several recipes: Bath white, Bath clear")
	got = runTared(t, "", "plan", table+":Bath clear", "--base", "100g", "--scale", "name=bench,step=0.1g")
	require.Equal(t, exitDone, got.code, got.err)
	assert.Contains(t, got.out, "Title: Bath clear")
	assert.Regexp(t, `Quartz +base +50 % +50.0 g`, got.out)
}

// A colourant without a plus, beside a base of exactly 100, is asked about.
func TestAColourantWithoutAPlus(t *testing.T) {
	scale := []string{"--base", "1kg", "--scale", "name=bench,step=0.1g"}
	plan := func(text string, more ...string) outcome {
		return runTared(t, "", append(append([]string{"plan", writeFile(t, "recipe.txt", text)}, scale...), more...)...)
	}
	const text = "Quartz 60\nWhiting 40\nCopper carbonate 1.2"
	got := plan(text)
	assert.Equal(t, exitFailed, got.code)
	assert.Contains(t, got.err, "Without Copper carbonate the base makes exactly 100; with it, 101.2")
	for _, ok := range []outcome{plan(text, "--role", "Copper carbonate=strong"), plan(text + " (in the base)"), plan("Quartz 60\nWhiting 40\n+ Copper carbonate 1.2"), plan("Quartz 60\nWhiting 38.8\nCopper carbonate 1.2"), plan("Quartz 600g\nWhiting 388g\nCopper carbonate 12g")} {
		assert.Equal(t, exitDone, ok.code, ok.err)
	}
}

// A scale that shows ounces is guided, told and recorded in ounces, and the journal has whole
// picograms: 60 % of 10 oz is 6 oz, 6·28.349523125 g (the ounce of 1959, exactly), and a step
// of 0.005 oz leaves 1 % of it 12 steps to both sides.
func TestWeighInOunces(t *testing.T) {
	t.Parallel()
	r := newRigIn(t, protocol.UnitOunce, "# Ounces, invented\nQuartz 60\nWhiting 40\n", "10oz")
	r.start()
	r.say("yes Ilse")
	r.state("container")
	r.hand(sim.Put)
	r.until("tared", nil)
	quartz := r.weigh("Quartz")
	assert.Equal(t, "oz", r.now["unit"])
	assert.Equal(t, "170.09713875", strings.TrimRight(quartz["target"].(map[string]any)["g"].(string), "0"))
	r.weigh("Whiting")
	r.until("finished", nil)
	require.NoError(t, r.in.Close())
	require.NoError(t, r.cmd.Wait(), r.errs.String())

	for _, v := range r.seen {
		if v["kind"] == "now" && v["state"] == "pour" {
			assert.NotContains(t, v["headline"], " g", "nothing that hands read is in grams")
			assert.NotContains(t, v["detail"], " g", "nothing that hands read is in grams")
		}
	}
	got := runTared(t, "", "record", "--data", r.dir, r.seen[slices.IndexFunc(r.seen, func(v map[string]any) bool { return v["kind"] == "planned" })]["batch"].(string))
	assert.Contains(t, got.out, "10.000 oz base, 10.000 oz dry")
	assert.Regexp(t, `\d\.\d{3} oz of Quartz went in\. That is 1[67]\d\.\d+ g\.`, got.out)
	assert.Regexp(t, `In the band, 5\.940 oz to 6\.060 oz\.`, got.out)
	assert.NotRegexp(t, `[^±]\d\.\d{4}`, strings.Split(got.out, "Closing hash")[0], "no digit that the scale cannot show")
}

package main

import (
	"bytes"
	"encoding/json"
	"strconv"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"tared/session"
	"tared/session/text"
)

func pouring(material, state, in string) session.View {
	return session.View{
		Recording: session.Recording{OK: true},
		Batch:     &session.BatchView{Mark: "B7"},
		Now: session.NowView{State: state, Material: material, Scale: "bench", Unit: "g", Target: "84.6", Low: "83.8", High: "85.4", In: in, Missing: "0.0",
			Headline: text.Written("Pour " + material), Portions: 1},
	}
}

// lines reads what a jsonTeller wrote.
func jsonLines(t *testing.T, out *bytes.Buffer) []map[string]any {
	t.Helper()
	var all []map[string]any
	for l := range strings.Lines(out.String()) {
		var v map[string]any
		require.NoError(t, json.Unmarshal([]byte(l), &v), "line %q", l)
		all = append(all, v)
	}
	return all
}

func tellAllOf(t *testing.T, to teller, e *events) {
	t.Helper()
	for _, x := range e.take() {
		require.NoError(t, to.tell(x))
	}
}

func TestNowIsToldOnChangeOnly(t *testing.T) {
	var out bytes.Buffer
	e, to := newEvents(), &jsonTeller{w: &out}
	e.view(pouring("Quartz", "pour", "0.0"))
	e.view(pouring("Quartz", "pour", "12.3"))
	e.view(pouring("Quartz", "settle", "84.6"))
	e.view(pouring("Quartz", "in", "84.6"))
	e.view(pouring("Whiting", "container", ""))
	tellAllOf(t, to, e)
	var states []string
	for _, l := range jsonLines(t, &out) {
		require.Equal(t, "now", l["kind"])
		states = append(states, l["material"].(string)+" "+l["state"].(string))
		assert.Equal(t, map[string]any{"g": "84.6"}, l["target"])
	}
	assert.Equal(t, []string{"Quartz pour", "Quartz settle", "Quartz in", "Whiting container"}, states)
}

// A program is told of each weight that comes to rest, once.
func TestNowIsToldWhenAWeightSettles(t *testing.T) {
	var out bytes.Buffer
	e, to := newEvents(), &jsonTeller{w: &out}
	show := func(in string, settled bool) {
		v := pouring("Quartz", "pour", in)
		v.Now.Settled = settled
		e.view(v)
		tellAllOf(t, to, e)
	}
	show("0.0", true)
	show("12.3", false)
	show("40.0", false)
	show("40.1", true)
	show("40.1", true)
	show("40.0", false)
	show("41.0", true)
	v := pouring("Quartz", "lifted", "")
	v.Now.Lifted = "41.0"
	e.view(v)
	tellAllOf(t, to, e)
	var told []any
	for _, l := range jsonLines(t, &out) {
		told = append(told, l["in"], l["settled"], l["lifted"])
	}
	g := func(s string) any { return map[string]any{"g": s} }
	assert.Equal(t, []any{g("0.0"), true, nil, g("40.1"), true, nil, g("41.0"), true, nil, nil, false, g("41.0")}, told)
}

// A slow reader loses numbers, never a change or a line of the journal.
func TestEventsKeepEveryChange(t *testing.T) {
	e := newEvents()
	e.view(pouring("Quartz", "pour", "0.0"))
	for range 1000 {
		e.view(pouring("Quartz", "pour", "12.3"))
	}
	e.view(pouring("Quartz", "pour", "12.4"))
	e.facts([][]byte{[]byte("{\"kind\":\"portion\"}\n")})
	e.view(pouring("Whiting", "container", ""))
	got := e.take()
	require.Len(t, got, 4)
	assert.Equal(t, "12.4", got[1].view.Now.In)
	assert.Equal(t, `{"kind":"portion"}`, string(got[2].line))
	assert.Equal(t, "container", got[3].view.Now.State)
}

func TestQuestionsAreToldWithTheirAnswers(t *testing.T) {
	v := pouring("Quartz", "decide", "")
	v.Asked = &session.AskedView{Question: "overpour", Says: text.Written("90.1 g went in."), Lines: []text.Message{text.Written("Whiting: 3.1 g more")},
		Answers: []session.AnswerView{{Word: "enlarge", Label: text.Written("enlarge the batch")}, {Word: "typed", Label: text.Written("say how much"), Needs: "mass"}}}

	var out bytes.Buffer
	e := newEvents()
	e.view(v)
	e.view(v)
	tellAllOf(t, &jsonTeller{w: &out}, e)
	got := jsonLines(t, &out)
	require.Len(t, got, 2)
	assert.Equal(t, map[string]any{"kind": "asked", "question": "overpour", "words": "90.1 g went in.", "lines": []any{"Whiting: 3.1 g more"},
		"answers": []any{"enlarge", "typed"}, "needs": map[string]any{"typed": "mass"}}, got[1])

	var words bytes.Buffer
	e = newEvents()
	e.view(v)
	tellAllOf(t, &wordTeller{w: &words}, e)
	assert.Contains(t, words.String(), "? 90.1 g went in.")
	assert.Contains(t, words.String(), "> typed MASS   say how much")
}

func TestWordsAreForPeople(t *testing.T) {
	var out bytes.Buffer
	e, to := newEvents(), &wordTeller{w: &out}
	v := pouring("Quartz", "pour", "0.0")
	e.view(v)
	v.Now.State, v.Now.Headline = "in", text.Written("In the band: lift the container")
	v.Said = []session.Notice{{At: time.Unix(1, 0), Says: text.Written("Batch B7 begins.")}}
	e.view(v)
	v.Recording = session.Recording{Why: text.Written("The disk is full.")}
	e.view(v)
	e.facts([][]byte{[]byte("{}\n")})
	tellAllOf(t, to, e)
	require.NoError(t, to.refused("nothing waits for a yes now"))
	assert.Equal(t, `
Quartz: 84.6 g on the bench scale (from 83.8 to 85.4 g)
  Pour Quartz.
  Batch B7 begins.
  In the band: lift the container.
Not recording. The disk is full.
  No: nothing waits for a yes now
`, out.String())
}

// On a terminal the number moves in place and leaves no rest behind.
// With a rate a program is told of the weight that moves, so often and not more.
func TestLiveWeightsComeAtTheirRate(t *testing.T) {
	var out bytes.Buffer
	e, to := newEvents(), &jsonTeller{w: &out, every: 200 * time.Millisecond}
	for i := range 20 { // ten lines a second for two seconds
		v := pouring("Quartz", "pour", strconv.Itoa(i)+".0")
		v.At = time.Date(2026, 11, 25, 9, 0, 0, i*int(100*time.Millisecond), time.UTC)
		e.view(v)
		tellAllOf(t, to, e)
	}
	var told []any
	for _, l := range jsonLines(t, &out) {
		told = append(told, l["in"].(map[string]any)["g"])
	}
	assert.Equal(t, []any{"0.0", "2.0", "4.0", "6.0", "8.0", "10.0", "12.0", "14.0", "16.0", "18.0"}, told)
}

func TestMovingLine(t *testing.T) {
	var out bytes.Buffer
	e, to := newEvents(), &wordTeller{w: &out, terminal: true}
	v := pouring("Quartz", "pour", "0.0")
	e.view(v)
	tellAllOf(t, to, e)
	v.Now.In, v.Now.Cue = "84.6", "stop"
	e.view(v)
	v = pouring("Quartz", "lifted", "")
	v.Now.Headline = text.Written("Tip it")
	e.view(v)
	tellAllOf(t, to, e)
	assert.Contains(t, out.String(), "\r  84.6 g, 0.0 g missing   STOP")
	last := out.String()[strings.LastIndex(out.String(), "STOP")+4:]
	assert.Equal(t, "\r"+strings.Repeat(" ", len("  84.6 g, 0.0 g missing   STOP"))+"\r  Tip it.\n", last)
}

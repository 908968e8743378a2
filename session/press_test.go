package session

import (
	"fmt"
	"os"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// spot is a moment of a batch in which a key can be pressed.
type spot struct {
	name string
	sc   scene
	when func(p *proof) bool
}

// spots are the states of a bench, each as the page shows it to a potter.
func spots() []spot {
	on := func(state, material string) func(p *proof) bool { return shows(state, material) }
	plain := func(name string, when func(p *proof) bool) spot { return spot{name, scene{}, when} }
	inHand := func(tipped bool) func(p *proof) bool {
		return func(p *proof) bool {
			n := p.page().Now
			return n.State == "lifted" && n.Material == "Whiting" && p.hands.tipped["bench"] == tipped
		}
	}
	asked := func(key string) func(p *proof) bool {
		return func(p *proof) bool { a := p.page().Asked; return a != nil && a.Question == key }
	}
	all := []spot{
		plain("the reminder", asked("reminder")),
		plain("an empty pan", on("container", "Whiting")),
		plain("a tared cup, empty", on("pour", "Whiting")),
		plain("a pour that runs", runs("Whiting", 0.3)),
		plain("a pour at rest", half("Whiting")),
		plain("in the band", on("in", "Whiting")),
		plain("lifted, not tipped", inHand(false)),
		plain("lifted and tipped", inHand(true)),
		plain("the next material, empty", on("pour", "Quartz")),
		plain("the next material, at rest", half("Quartz")),
	}
	over := scene{acts: []act{{half("Whiting"), overshoot("bench", "Whiting", 33)}}}
	all = append(all, spot{"too much in the cup", over, on("over", "Whiting")})
	over = scene{acts: []act{{half("Whiting"), overshoot("bench", "Whiting", 35)}, {later(5 * time.Second), tipsAnyhow("bench")}}}
	all = append(all, spot{"too much tipped", over, asked("overpour")})
	lost := scene{acts: []act{{half("Whiting"), cableOut(3 * time.Second)}}}
	all = append(all, spot{"the cable is out", lost, on("lost", "Whiting")})
	away := scene{acts: []act{{half("Whiting"), func(p *proof) { cableOut(5 * time.Second)(p); tipsAnyhow("bench")(p) }}}}
	all = append(all, spot{"tipped while the cable was out", away, asked("gone")})
	early := scene{acts: []act{{runs("Whiting", 0.6), func(p *proof) { p.hands.stop(); tipsAnyhow("bench")(p) }}}}
	all = append(all, spot{"lifted too soon", early, asked("unsettled")})
	all = append(all, spot{"another cup, lighter", scene{acts: swapCup("bench", "Whiting", 86)}, asked("swapped")})
	return all
}

// offered are the words behind the keys that the page offers. Each is pressed, those
// too that change nothing.
func offered(p *proof) (all []string) {
	v := p.page()
	for _, k := range v.Keys {
		word := k.Word
		if k.Key == "" {
			continue // it takes a look for it, and a reason
		}
		switch word {
		case "note":
			word = "note full of dust"
		case "by":
			word = "by Ilse"
		case "typed":
			word = "typed 5.0g" // what a scanner may send
		}
		if !slices.Contains(all, word) {
			all = append(all, word)
		}
	}
	return all
}

// pressed runs a batch to a spot, presses one key, and goes on as the page says.
func pressed(t testing.TB, at spot, word string) (p *proof, there []string) {
	sc := at.sc
	done := false
	p = newProof(sc, 1, t)
	look := func(p *proof, _ View) {
		if done || !at.when(p) {
			return
		}
		done = true
		there = offered(p)
		if word != "" {
			p.hands.rest(700 * time.Millisecond) // it was not meant, and takes a moment
			p.say(word)
		}
	}
	sc.still = look
	p.run(sc, 4*time.Minute)
	if !done {
		p.blame("the spot was never reached")
	}
	for _, st := range p.s.Batch.Steps {
		if st.Skipped {
			p.blame("%s is left out, and nobody meant it", st.Material)
		}
	}
	return p, there
}

// TestNoSinglePress walks the states of the bench, presses each key that the page
// offers there once, the pedal and the answers among them, and goes on as the page
// says. No single press may put a falsehood into the record. What does so today stands
// in presses.
func TestNoSinglePress(t *testing.T) {
	found := map[string]string{}
	all := spots()
	for _, at := range all[:min(len(all), spotsToTry)] {
		p, there := pressed(t, at, "")
		if len(p.blames) > 0 {
			found[at.name+": nothing"] = strings.Join(p.blames, "; ")
			story(t, p, at.name, "nothing")
		}
		for _, word := range there {
			p, _ := pressed(t, at, word)
			if len(p.blames) > 0 {
				found[at.name+": "+word] = strings.Join(p.blames, "; ")
				story(t, p, at.name, word)
			}
		}
	}
	for what, why := range found {
		assert.True(t, presses[what], "%s: %s", what, why)
		t.Logf("%s: %s", what, why)
	}
	for what := range presses {
		if len(all) > spotsToTry {
			break
		}
		assert.Contains(t, found, what, "it is right now: take it off the list of presses")
	}
}

// story keeps what happened, for a person who must find out why.
func story(t *testing.T, p *proof, what, more string) {
	if dir := os.Getenv("TARED_TRACES"); dir != "" {
		name := strings.ReplaceAll(fmt.Sprintf("%s/press-%s-%s.txt", dir, what, more), " ", "-")
		require.NoError(t, os.WriteFile(name, []byte(strings.Join(p.said, "\n")), 0o600))
	}
}

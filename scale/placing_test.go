package scale

import (
	"fmt"
	"testing"

	"github.com/stretchr/testify/assert"

	"tared/protocol"
)

func rests(g string, t testing.TB) Update {
	m, err := protocol.ParseMass(g + "g")
	if err != nil {
		t.Fatal(err)
	}
	return Update{Link: Up, HasReading: true, HasMass: true, Settled: true, Mass: m, Step: protocol.Gram / 10, Reading: protocol.Reading{Raw: []byte(g)}}
}

func TestPlacer(t *testing.T) {
	nets := func(p *Placer) (out []string) {
		for _, x := range p.Got {
			out = append(out, x.Net().Grams(1))
		}
		return out
	}
	p := &Placer{Mass: 100 * protocol.Gram, Want: 3}
	assert.Contains(t, p.Words(), "everything off")
	assert.True(t, p.Add(rests("12.0", t)))
	assert.Contains(t, p.Words(), "must show zero")
	p.Add(rests("0.1", t))
	assert.Contains(t, p.Words(), "Put the weight on")
	moving := rests("60.0", t)
	moving.Settled = false
	assert.False(t, p.Add(moving), "what moves tells nothing")
	p.Add(rests("20.0", t))
	assert.Contains(t, p.Words(), "not the weight", "a finger, or half of it")
	p.Add(rests("0.2", t)) // the zero has crept
	p.Add(rests("100.1", t))
	assert.Equal(t, []string{"99.9"}, nets(p))
	assert.False(t, p.Add(rests("100.2", t)), "one placing counts once")
	p.Add(rests("0.0", t))
	p.Add(rests("100.0", t))
	p.Add(Update{Link: Lost, Why: "the cable is out"})
	assert.Equal(t, "the cable is out", p.Words())
	assert.False(t, p.Done())
	p.Add(rests("100.0", t)) // back, with the weight on: its zero is not known
	assert.Len(t, p.Got, 2)
	p.Add(rests("0.0", t))
	p.Add(rests("100.1", t))
	assert.True(t, p.Done())
	assert.Equal(t, []string{"99.9", "100.0", "100.1"}, nets(p))
	assert.Equal(t, "0.2 100.1", fmt.Sprintf("%s %s", p.Got[0].Raw[0], p.Got[0].Raw[1]))
	assert.False(t, p.Add(rests("0.0", t)), "it is over")

	p = &Placer{Mass: 100 * protocol.Gram, Want: 2}
	p.Add(rests("0.0", t))
	p.Add(rests("100.0", t))
	coarse := rests("0", t)
	coarse.Step = protocol.Gram
	p.Add(coarse)
	assert.ErrorContains(t, p.Err(), "step went from 0.1 g to 1 g")
}

package calc

import (
	"bytes"
	_ "embed"
	"encoding/json"
	"strings"
	"sync"
)

// runs gives the functions that answer the forms of each topic, in the order of
// topics.json.
var runs = map[string][]func(given) (Answer, error){
	"least":    {runLeast},
	"doubt":    {runDoubt, runDoubtOfPart},
	"aliquot":  {runAliquot},
	"slip":     {runSlip},
	"water":    {runWater},
	"thin":     {runThin},
	"metal":    {runMetal},
	"moisture": {runMoist, runMoist, runWeighMoist, runWeighMoist},
	"loss":     {runLoss, runLoss, runMaterialLoss, runCompoundLoss},
	"gravity":  {runBaume, runBaume, runTwaddell, runPint, runPint, runGravity},
	"sieve":    {runSieve, runSieve, runSieve},
	"parts":    {runParts},
	"blend":    {runBlend},
	"limits":   {runError, runClasses},
}

//go:embed topics.json
var topicsFile []byte

var topics = sync.OnceValue(func() (all []Topic) {
	d := json.NewDecoder(bytes.NewReader(topicsFile))
	d.DisallowUnknownFields()
	if err := d.Decode(&all); err != nil {
		panic(err) // the file is part of the program
	}
	for _, t := range all {
		for i := range t.Forms {
			t.Forms[i].run = runs[t.Name][i]
		}
	}
	return all
})

// Topics gives every topic, in the order in which they are listed.
func Topics() []Topic { return topics() }

// Lookup finds a topic by its name, without regard to case.
func Lookup(name string) (Topic, bool) {
	for _, t := range topics() {
		if strings.EqualFold(t.Name, name) {
			return t, true
		}
	}
	return Topic{}, false
}

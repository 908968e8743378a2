package calc

import (
	"fmt"
	"strings"

	"tared/protocol"
	"tared/scale"
)

func limitsTopic() Topic {
	interval := Arg{Name: "interval", Words: "verification interval, e on the plate of the scale", Kind: Mass, Like: "0.1g"}
	wide := interval
	wide.Like = "2g"
	return Topic{
		Name:  "limits",
		Title: "Limits of error",
		About: "How far may a verified scale be off at a load, and which accuracy classes can it have?",
		Forms: []Form{{
			Title: "How far may it be off?",
			Args: []Arg{
				{Name: "class", Words: "accuracy class, on the plate of the scale", Kind: Class, Like: "III"},
				interval,
				{Name: "load", Words: "what is on the scale", Kind: Mass, Like: "50.1g", Zero: true},
			},
			Formula: []string{
				"half an interval, one, or one and a half, by the load in intervals m:",
				"class I: m up to 50 000, up to 200 000, above; class II: up to 5000, 20 000, 100 000",
				"class III: up to 500, 2000, 10 000; class IIII: up to 50, 200, 1000",
				"in service: twice that",
			},
			Source: []string{"OIML R 76-1:2006, Table 6 and 3.5.2; UK SI 1995/1907 Sch. 2 s. 4.2 for service"},
			Example: Example{
				Given:  []Given{{"class", "III"}, {"interval", "0.1g"}, {"load", "50.1g"}},
				Says:   "At 50.1 g a class III scale with an interval of 0.1 g may be off by 0.1 g when it is verified, by 0.2 g in service.",
				JSON:   `{"initial_g":0.1,"in_service_g":0.2}`,
				Source: "by Table 6: 501 intervals are over 500",
			},
			run: runError,
		}, {
			Title: "Which classes can it have?",
			Args: []Arg{
				{Name: "max", Words: "capacity, Max on the plate of the scale", Kind: Mass, Like: "6kg"},
				wide,
			},
			Formula: []string{
				"intervals n = max / interval, from the least to the most that the class allows:",
				"class I: 50 000 or more; class II: 100 to 100 000, from an interval of 0.1 g on 5000 to 100 000",
				"class III, from 0.1 g on: 100 to 10 000, from 5 g on 500 to 10 000; class IIII, from 5 g on: 100 to 1000",
			},
			Source: []string{"OIML R 76-1:2006, Table 3; 2014/31/EU Annex I"},
			Example: Example{
				Given:  []Given{{"max", "6kg"}, {"interval", "2g"}},
				Says:   "A scale of 6000 g with an interval of 2 g has 3000 intervals and may be class III.",
				JSON:   `{"classes":["III"],"min_g":{"III":40},"intervals":3000}`,
				Source: "by Table 3: 3000 intervals",
			},
			run: runClasses,
		}},
	}
}

func runError(g given) (Answer, error) {
	class, e, load := g["class"].class, g["interval"].mass, g["load"].mass
	initial, err := scale.MPE(class, e, load)
	if err != nil {
		return Answer{}, err
	}
	service, err := scale.MPEInService(class, e, load)
	if err != nil {
		return Answer{}, err
	}
	var a Answer
	a.Words = fmt.Sprintf("At %s a class %s scale with an interval of %s may be off by %s when it is verified, by %s in service.", show(load), class, show(e), show(initial), show(service))
	a.fact("load in intervals", plain(quo(load.Rat(), e.Rat())))
	if !possible(class, e) {
		a.Notes = append(a.Notes, fmt.Sprintf("No class %s scale has an interval of %s (OIML R 76-1:2006, Table 3): look at the plate again; e is not the step shown where there is an auxiliary digit.", class, show(e)))
	}
	a.Notes = append(a.Notes, "Only a scale with a class on its plate promises this. A kitchen or hobby scale promises nothing of the kind.")
	a.mass("initial_g", initial)
	a.mass("in_service_g", service)
	return a, nil
}

// possible tells whether any capacity makes a scale of that class and interval.
func possible(class scale.Class, e protocol.Mass) bool {
	for _, n := range []protocol.Mass{100, 1000, 10_000, 100_000} {
		if n > 1<<62/e {
			return true // beyond anything that stands on a bench
		}
		fits, err := scale.Classes(n*e, e)
		for _, f := range fits {
			if err == nil && f.Class == class {
				return true
			}
		}
	}
	return false
}

func runClasses(g given) (Answer, error) {
	max, e := g["max"].mass, g["interval"].mass
	fits, err := scale.Classes(max, e)
	if err != nil {
		return Answer{}, err
	}
	var a Answer
	names, least := []string{}, []string{}
	for _, f := range fits {
		names = append(names, f.Class.String())
		least = append(least, fmt.Sprintf("%q:%s", f.Class, f.Least.Grams(0)))
		a.fact("class "+f.Class.String(), "its least load is "+show(f.Least)+" or more")
	}
	n := quo(max.Rat(), e.Rat())
	what := "may be class " + strings.Join(names, " or ")
	if len(names) == 0 {
		what = "can have no class"
		a.Notes = append(a.Notes, "Is the interval e that of the plate? Where there is an auxiliary digit, e is ten times the step or less, and not the step itself.")
	}
	a.Words = fmt.Sprintf("A scale of %s with an interval of %s has %s intervals and %s.", show(max), show(e), plain(n), what)
	a.Notes = append(a.Notes, "Which class it really has stands on its plate, if it was ever verified.")
	a.text("classes", names)
	a.put("min_g", "{"+strings.Join(least, ",")+"}")
	a.number("intervals", n)
	return a, nil
}

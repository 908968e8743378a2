package calc

import (
	"fmt"
	"strings"

	"tared/protocol"
	"tared/scale"
)

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

// possible reports whether any capacity makes a scale of that class and interval.
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

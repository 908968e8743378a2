package calc

import (
	"fmt"
	"strings"

	"tared/protocol"
	"tared/scale"
	"tared/session/text"
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
	a.Words = says("calc.at-a-class-scale-with", show(load), class, show(e), show(initial), show(service))
	a.fact(says("calc.load-in-intervals"), says("calc.is", plain(quo(load.Rat(), e.Rat()))))
	if !possible(class, e) {
		a.note("calc.no-class-scale-has-an", class, show(e))
	}
	a.note("calc.only-with-class")
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
		a.fact(says("calc.class-is", f.Class), says("calc.class-least", show(f.Least)))
	}
	n := quo(max.Rat(), e.Rat())
	var either text.Message
	for i, name := range names {
		if i == 0 {
			either = says("calc.is", name)
			continue
		}
		either = says("calc.or", either, name)
	}
	if a.Words = says("calc.may-be-class", show(max), show(e), plain(n), either); len(names) == 0 {
		a.Words = says("calc.no-class", show(max), show(e), plain(n))
		a.note("calc.interval-of-plate")
	}
	a.note("calc.on-its-plate")
	a.text("classes", names)
	a.put("min_g", "{"+strings.Join(least, ",")+"}")
	a.number("intervals", n)
	return a, nil
}

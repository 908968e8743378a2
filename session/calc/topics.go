package calc

import "strings"

// Topics gives every topic, in the order in which they are listed.
func Topics() []Topic {
	return []Topic{
		leastTopic(),
		aliquotTopic(),
		slipTopic(),
		waterTopic(),
		thinTopic(),
		metalTopic(),
		moistureTopic(),
		lossTopic(),
		partsTopic(),
		blendTopic(),
		limitsTopic(),
	}
}

// Lookup finds a topic by its name, without regard to case.
func Lookup(name string) (Topic, bool) {
	for _, t := range Topics() {
		if strings.EqualFold(t.Name, name) {
			return t, true
		}
	}
	return Topic{}, false
}

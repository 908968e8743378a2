package calc

import (
	"fmt"

	"tared/session/slip"
)

var moistureSource = []string{"kenkidryer.com, About moisture contents (1)"}

func moistureTopic() Topic {
	need := Arg{Name: "need", Words: "what is needed, dry", Kind: Mass, Like: "1kg"}
	return Topic{
		Name:  "moisture",
		Title: "Moisture",
		About: "How moist is a material, and how much of it has to be weighed to have enough dry?",
		Forms: []Form{{
			Title: "How moist is it?",
			Args: []Arg{
				{Name: "wet", Words: "the water alone, which is the weight lost in drying", Kind: Mass, Like: "30g", Zero: true},
				{Name: "dry", Words: "the dry material", Kind: Mass, Like: "120g"},
			},
			Formula: []string{
				"wet basis = 100 · water / (water + dry); dry basis = 100 · water / dry",
			},
			Source: moistureSource,
			Example: Example{
				Given:  []Given{{"wet", "30g"}, {"dry", "120g"}},
				Says:   "30 g of water and 120 g dry are 150 g in all: 20 % moisture on the wet basis, 25 % on the dry basis.",
				JSON:   `{"wet_basis_percent":20,"dry_basis_percent":25,"total_g":150}`,
				Source: "30 g of water in 150 g are 20 % on the wet basis: an exercise in the Nemotron-CC-Math set",
			},
			run: runMoist,
		}, {
			Title: "How much to weigh, moisture by the whole?",
			Args: []Arg{need,
				{Name: "wet_basis", Words: "water in percent of the whole", Kind: Share, Like: "3%", Zero: true},
			},
			Formula: []string{"weigh = need / (1 - wet basis / 100)"},
			Source:  moistureSource,
			Example: Example{
				Given:  []Given{{"need", "1kg"}, {"wet_basis", "3%"}},
				Says:   "Weigh 1030.928 g of the moist material to have 1000 g dry: 3 % moisture on the wet basis.",
				JSON:   `{"weigh_g":1030.927835052,"water_g":30.927835052}`,
				Source: "plain arithmetic: 97 % of 1030.928 g are 1000 g",
			},
			run: runWeighMoist,
		}, {
			Title: "How much to weigh, moisture by the dry?",
			Args: []Arg{need,
				{Name: "dry_basis", Words: "water in percent of the dry material", Kind: Share, Like: "8%", Zero: true},
			},
			Formula: []string{"weigh = need · (1 + dry basis / 100)"},
			Source:  moistureSource,
			Example: Example{
				Given:  []Given{{"need", "1kg"}, {"dry_basis", "8%"}},
				Says:   "Weigh 1080 g of the moist material to have 1000 g dry: 8 % moisture on the dry basis.",
				JSON:   `{"weigh_g":1080,"water_g":80}`,
				Source: "plain arithmetic: 1000 g dry and 80 g of water",
			},
			run: runWeighMoist,
		}},
	}
}

func runMoist(g given) (Answer, error) {
	water, dry := g["wet"].mass.Rat(), g["dry"].mass.Rat()
	db := mul(quo(water, dry), hundred)
	wb, err := slip.WetBasis(db)
	if err != nil {
		return Answer{}, err
	}
	total, err := grams(add(water, dry))
	if err != nil {
		return Answer{}, err
	}
	var a Answer
	a.Words = fmt.Sprintf("%s of water and %s dry are %s in all: %s %% moisture on the wet basis, %s %% on the dry basis.",
		show(g["wet"].mass), show(g["dry"].mass), show(total), plain(wb), plain(db))
	if g["wet"].mass > g["dry"].mass {
		a.Notes = append(a.Notes, fmt.Sprintf("More water than dry material? If %s was the moist material as weighed, the water alone is %s: give that.",
			show(g["wet"].mass), show(g["wet"].mass-g["dry"].mass)))
	}
	a.number("wet_basis_percent", wb)
	a.number("dry_basis_percent", db)
	a.mass("total_g", total)
	return a, nil
}

func runWeighMoist(g given) (Answer, error) {
	need := g["need"].mass
	wb, words := g["wet_basis"].rat, "wet"
	if g.has("dry_basis") {
		var err error
		if wb, err = slip.WetBasis(mul(g["dry_basis"].rat, hundred)); err != nil {
			return Answer{}, err
		}
		words = "dry"
	} else {
		if wb.Cmp(one) >= 0 {
			return Answer{}, refuse("wet_basis", g["wet_basis"].text, "that is all water and nothing dry: use less than 100 %%; if it is percent of the dry material, give dry_basis")
		}
		wb = mul(wb, hundred)
	}
	exact, err := slip.Moist(need.Rat(), wb)
	if err != nil {
		return Answer{}, err
	}
	weigh, err := grams(exact)
	if err != nil {
		return Answer{}, err
	}
	var a Answer
	a.Words = fmt.Sprintf("Weigh %s of the moist material to have %s dry: %s moisture on the %s basis.", show(weigh), show(need), percent(g[words+"_basis"].rat), words)
	a.fact("water in it", show(weigh-need))
	a.mass("weigh_g", weigh)
	a.mass("water_g", weigh-need)
	return a, nil
}

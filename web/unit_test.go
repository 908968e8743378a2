package web

import (
	"encoding/json"
	"net/http"
	"net/url"
	"regexp"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"tared/session"
	"tared/session/calc"
	"tared/session/plan"
	"tared/session/text"
)

func TestABareNumberGetsTheUnitOfItsField(t *testing.T) {
	p := plannedIn(plan.Request{Base: "750", Dry: "0.5 kg", Container: " 84,6 ", Most: "a lot", Water: "none", Series: &plan.Series{Cup: "100"}})
	assert.Equal(t, plan.Request{Base: "750g", Dry: "0.5 kg", Container: "84,6g", Most: "a lot", Water: "none", Series: &plan.Series{Cup: "100g"}}, p)
	e := enteredIn(session.EntryRequest{Watered: &session.WaterRequest{Added: "675", Volume: "100"}})
	assert.Equal(t, session.WaterRequest{Added: "675g", Volume: "100ml"}, *e.Watered)
	assert.Equal(t, "9.03g", enteredIn(session.EntryRequest{Correct: &session.WeightRequest{Weight: "9.03"}}).Correct.Weight)
	assert.Equal(t, "500g", checkedIn(session.CheckRequest{Mass: "500"}).Mass)
	assert.Equal(t, "", measuredIn(session.VesselRequest{}).Water)
}

// Every field that knows its unit takes a bare figure, with a point or with a comma, and
// understands the same by it as with the unit.
func TestEachFieldTakesABareFigure(t *testing.T) {
	sheet := func(change func(p *plan.Request, figure string)) func(figure string) (string, string) {
		return func(figure string) (string, string) {
			p := plan.Request{Recipe: tidewrack, Base: "750g"}
			change(&p, figure)
			return "/api/plan", toJSON(t, p)
		}
	}
	keep := func(change func(k *session.KeepRequest, figure string)) func(figure string) (string, string) {
		return func(figure string) (string, string) {
			k := session.KeepRequest{By: "Mara"}
			change(&k, figure)
			return "/api/keep", toJSON(t, k)
		}
	}
	for name, field := range map[string]struct {
		unit string
		ask  func(figure string) (path, body string)
	}{
		"dry base":      {"g", sheet(func(p *plan.Request, f string) { p.Base = f })},
		"all dry":       {"g", sheet(func(p *plan.Request, f string) { p.Base, p.Dry = "", f })},
		"wet":           {"l", sheet(func(p *plan.Request, f string) { p.Base, p.Wet = "", f+" at 1,45" })},
		"container":     {"g", sheet(func(p *plan.Request, f string) { p.Container = f })},
		"largest batch": {"g", sheet(func(p *plan.Request, f string) { p.Base, p.Most = "10g", f })},
		"water":         {"%", sheet(func(p *plan.Request, f string) { p.Water = f })},
		"band":          {"%", sheet(func(p *plan.Request, f string) { p.Allow = map[string]string{"base": f} })},
		"cup": {"g", sheet(func(p *plan.Request, f string) {
			p.Base, p.Series = "", &plan.Series{Cup: f, Blend: "grid", Vary: []plan.Addition{{Material: "Rutile", Levels: "0,5 1.5"}}}
		})},
		"lot": {"g", keep(func(k *session.KeepRequest, f string) { k.Lot = &session.LotRequest{Material: "Quartz", Amount: f} })},
		"moisture": {"%", keep(func(k *session.KeepRequest, f string) {
			k.Lot = &session.LotRequest{Material: "Quartz", Amount: "1kg", Moisture: f}
		})},
		"corrected": {"g", keep(func(k *session.KeepRequest, f string) {
			k.Correct = &session.CorrectRequest{Lot: "L1", Reason: "counted", Amount: f}
		})},
		"drier than said": {"%", keep(func(k *session.KeepRequest, f string) {
			k.Correct = &session.CorrectRequest{Lot: "L1", Reason: "dried", Moisture: f}
		})},
		"mixed": {"g", keep(func(k *session.KeepRequest, f string) {
			k.Mixed = &session.MixedRequest{Material: "Quartz", Weighed: f, Carrier: "Whiting", Into: f}
		})},
	} {
		t.Run(name, func(t *testing.T) {
			var answers []string
			for _, figure := range []string{"34.6" + field.unit, "34.6", "34,6"} {
				s, _ := newServer(t, func(c *Config) { c.Bench = realBench(t) })
				first := do(s, request("POST", "/api/keep", `{"by":"Mara","lot":{"material":"Quartz","amount":"25kg"}}`))
				require.Equal(t, http.StatusOK, first.Code, first.Body)
				path, body := field.ask(figure)
				w := do(s, request("POST", path, body))
				require.Equal(t, http.StatusOK, w.Code, "%s: %s", figure, w.Body)
				answers = append(answers, regexp.MustCompile(`"(seq|lot)":("L\d+"|\d+)`).ReplaceAllString(w.Body.String(), ""))
			}
			assert.Equal(t, answers[0], answers[1])
			assert.Equal(t, answers[0], answers[2])
		})
	}
	assert.Equal(t, TakePort{Step: "0,1g", Max: "2000g"}, takenIn(TakePort{Step: "0,1", Max: "2000"}))
	assert.Equal(t, "84,6g", keptIn(session.KeepRequest{Left: &session.LeftRequest{Amount: "84,6"}}).Left.Amount)
}

// So does every field of every question, where it asks for a mass, a volume or a share.
func TestEachQuestionTakesABareFigure(t *testing.T) {
	units := map[calc.Kind]string{calc.Mass: "g", calc.Volume: "l", calc.Share: "%"}
	s, _ := newServer(t, nil)
	asked := 0
	for _, topic := range calc.Topics() {
		for _, f := range topic.Forms {
			for _, a := range f.Args {
				if units[a.Kind] == "" {
					continue
				}
				var answers []string
				for _, figure := range []string{"2.5" + units[a.Kind], "2.5", "2,5"} {
					q := url.Values{}
					for _, g := range f.Example.Given {
						q.Add(g.Key, g.Text)
					}
					q.Set(a.Name, figure)
					w := do(s, request("GET", "/api/calc/"+topic.Name+"?"+q.Encode(), ""))
					// What cannot be is told with the figure as it was understood.
					answers = append(answers, strings.ReplaceAll(w.Body.String(), "2,5", "2.5"))
				}
				assert.Equal(t, answers[0], answers[1], "%s %s", topic.Name, a.Name)
				assert.Equal(t, answers[0], answers[2], "%s %s", topic.Name, a.Name)
				asked++
			}
		}
	}
	assert.Greater(t, asked, 20)
}

// A field says its unit in each language, or in none.
func TestAFieldNamesItsUnitInEachLanguage(t *testing.T) {
	unit := regexp.MustCompile(`, (g|kg|ml|l|%|°C|µm)$`)
	found := 0
	for code := range labelled(t) {
		m := unit.FindStringSubmatch(text.English.Say(text.Message{Code: code}))
		for _, l := range text.All {
			said := unit.FindStringSubmatch(l.Say(text.Message{Code: code}))
			if m == nil {
				assert.Nil(t, said, "%s in %s", code, l.Tag)
			} else if assert.NotNil(t, said, "%s in %s", code, l.Tag) {
				assert.Equal(t, m[1], said[1], "%s in %s", code, l.Tag)
				found++
			}
		}
	}
	assert.Greater(t, found, 40)
}

// labelled are the sentences of the labels of all pages that have no value in them.
func labelled(t *testing.T) map[string]bool {
	codes := map[string]bool{}
	files, err := pageFiles.ReadDir("page")
	require.NoError(t, err)
	for _, f := range files {
		if !strings.HasSuffix(f.Name(), ".html") {
			continue
		}
		b, err := pageFiles.ReadFile("page/" + f.Name())
		require.NoError(t, err)
		for _, l := range regexp.MustCompile(`<label[^>]*>(.*?)</label>`).FindAllStringSubmatch(string(b), -1) {
			for _, say := range regexp.MustCompile(`\{\{say "([^"]+)"\}\}`).FindAllStringSubmatch(l[1], -1) {
				codes[say[1]] = true
			}
		}
	}
	return codes
}

func toJSON(t *testing.T, v any) string {
	b, err := json.Marshal(v)
	require.NoError(t, err)
	return string(b)
}

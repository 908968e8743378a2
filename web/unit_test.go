package web

import (
	"testing"

	"github.com/stretchr/testify/assert"

	"tared/session"
	"tared/session/plan"
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

package session

import (
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"tared/protocol"
	"tared/session/batch"
	"tared/session/fact"
)

// Hands told apart. Where what happened is held by another test, that is named, so
// that nobody must search:
//
//	a hand on the pan, a leaning elbow    here; TestTruth/leaning
//	a knock                               here; TestTruth/knocks
//	a spoon laid down and taken up        TestTruth/a_spoon_laid_down; TestLifts/a_spoon_…
//	a container swapped for another       TestLifts/another_container_comes_back, swapped_while_empty_…
//	lifted without tipping                TestLifts/put_back_untipped
//	tipped half                           TestLifts/half_tipped
//	put back off-centre                   here
//	two containers                        here; TestLifts/a_spoon_stays_on_the_pan_…
//	the wrong scale                       TestAnotherScale; TestTruth/the_other_scale; cmd/tared TestWeighOnTheOtherScale
//	the scale's own tare key              TestTareKey (before and in the pour), here (after it, and with the pan empty)
//	negative drift                        here; TestTruth/drift
//	auto-off                              TestScaleThatSlept; TestTruth/scale_goes_to_sleep
//
// and the interruptions:
//
//	pause, another person                 here; TestPauseSkipSubstituteNoteOperator
//	a phone call                          here
//	page closed, tablet asleep            TestASlowWatcherDelaysNobody; package web, live_test.go
//	daemon killed                         TestRestart; cmd/tared TestKilledAtAnyMoment
//	cable pulled                          TestGap; cmd/tared TestAScaleVanishesInMidPour
func TestToldApart(t *testing.T) {
	nothingTaken := func(t *testing.T, r *rig) {
		t.Helper()
		require.Empty(t, r.portions())
		require.Nil(t, r.s.View().Asked)
	}
	take := func(t *testing.T, r *rig, want string) {
		t.Helper()
		require.Equal(t, "in", r.state())
		r.set("bench", "0")
		r.set("bench", "123.4")
		require.Equal(t, g(want), r.lastPortion().Delivered)
	}

	t.Run("a hand rests on the pan in mid-pour", func(t *testing.T) {
		r := two(t)
		r.set("bench", "180.0")
		r.set("bench", "420.0") // and stays there for a while
		require.Equal(t, "over", r.state())
		r.set("bench", "180.0")
		require.Equal(t, "pour", r.state())
		nothingTaken(t, r)
		r.set("bench", "208.0")
		take(t, r, "84.6")
	})
	t.Run("an elbow leans on the edge and lifts the pan a little", func(t *testing.T) {
		r := two(t)
		r.set("bench", "180.0")
		for _, m := range []string{"176.0", "171.5", "178.8"} {
			r.jump("bench", m)
			r.say("bench", protocol.No)
		}
		r.set("bench", "180.0")
		nothingTaken(t, r)
		r.set("bench", "208.0")
		take(t, r, "84.6")
	})
	t.Run("an elbow that stays makes no portion", func(t *testing.T) {
		r := two(t)
		r.set("bench", "207.0") // one more gram would be in the band
		r.set("bench", "208.0") // an elbow
		require.Equal(t, "in", r.state())
		r.set("bench", "207.0")
		require.Equal(t, "pour", r.state(), "any change takes it back")
		nothingTaken(t, r)
	})
	t.Run("somebody leans on the pan while the container is off", func(t *testing.T) {
		r := two(t)
		r.set("bench", "208.0")
		for _, m := range []string{"170.0", "110.0", "61.0", "70.0", "72.0", "72.5", "72.5", "72.5", "72.5", "72.5", "72.5", "72.5", "72.5", "76.0", "80.0", "84.0", "88.0", "92.0", "96.0", "100.0", "104.0", "108.0", "112.0", "116.0", "120.0", "122.0"} {
			r.jump("bench", m)
			r.say("bench", protocol.No)
		}
		r.set("bench", "123.4")
		require.Equal(t, g("84.6"), r.lastPortion().Delivered, "the display never was at zero, so no key took it there")
	})
	t.Run("a knock in the band", func(t *testing.T) {
		r := two(t)
		r.set("bench", "208.0")
		for _, m := range []string{"215.3", "199.1", "210.0", "207.2"} {
			r.jump("bench", m)
			r.say("bench", protocol.No)
			require.NotEqual(t, "lifted", r.state())
		}
		r.set("bench", "208.0")
		nothingTaken(t, r)
		take(t, r, "84.6")
	})
	t.Run("a knock that empties the reading for one line is no lift", func(t *testing.T) {
		r := two(t)
		r.set("bench", "208.0")
		r.jump("bench", "40.0")
		r.say("bench", protocol.No)
		r.set("bench", "208.0")
		nothingTaken(t, r)
		take(t, r, "84.6")
	})
	t.Run("put back off-centre with nothing tipped", func(t *testing.T) {
		r := two(t)
		r.set("bench", "208.0")
		r.set("bench", "0")
		r.set("bench", "207.7") // 0.3 g of 84.6 less
		require.Equal(t, "little", r.s.View().Asked.Question, "so little may be either")
		r.must("again")
		nothingTaken(t, r)
		r.set("bench", "208.0") // pushed to the centre
		take(t, r, "84.6")
	})
	t.Run("put back off-centre and pushed to the centre", func(t *testing.T) {
		r := two(t)
		r.set("bench", "208.0")
		r.set("bench", "0")
		r.set("bench", "207.7")
		require.NotNil(t, r.s.View().Asked)
		r.set("bench", "208.0")
		nothingTaken(t, r)
		require.IsType(t, fact.Returned{}, r.last())
		take(t, r, "84.6")
	})
	t.Run("that little was tipped", func(t *testing.T) {
		r := two(t)
		r.set("bench", "208.0")
		r.set("bench", "0")
		r.set("bench", "207.7")
		r.must("keep")
		require.Equal(t, g("0.3"), r.lastPortion().Delivered)
		r.restart()
	})
	t.Run("put back off-centre after it was tipped", func(t *testing.T) {
		r := two(t)
		r.set("bench", "208.0")
		r.set("bench", "0")
		r.set("bench", "123.1") // the empty one, 0.3 g less
		require.Equal(t, g("84.9"), r.lastPortion().Delivered, "within three steps, and in the band")
		r.set("bench", "123.4")
		require.Equal(t, "Whiting", r.s.View().Now.Material)
		r.set("bench", "163.4")
		take(t, r, "40.0")
	})
	t.Run("a second container beside the first", func(t *testing.T) {
		r := two(t)
		r.set("bench", "180.0")
		r.set("bench", "235.0") // 55 g at once
		require.Equal(t, "over", r.state())
		r.set("bench", "180.0")
		nothingTaken(t, r)
		r.set("bench", "235.0")
		r.set("bench", "55.0") // the first is lifted, the second stays
		r.set("bench", "178.4")
		require.Equal(t, g("56.6"), r.lastPortion().Delivered, "what left in the first one, and no container")
	})
	t.Run("two containers in turns", func(t *testing.T) {
		r := two(t)
		r.set("bench", "208.0")
		r.set("bench", "0")
		r.set("bench", "70.0") // another, empty and lighter
		require.Equal(t, "swapped", r.s.View().Asked.Question)
		r.must("again")
		require.Equal(t, g("84.6"), r.lastPortion().Delivered)
		require.Equal(t, "Whiting", r.s.View().Now.Material)
		require.Equal(t, "0.0", r.s.View().Now.In)
	})
	t.Run("two containers in turns, the other less than half as heavy", func(t *testing.T) {
		r := two(t)
		r.set("bench", "208.0")
		r.set("bench", "0")
		r.set("bench", "40.0") // it might be a spoon
		require.Equal(t, "swapped", r.s.View().Asked.Question)
		r.set("bench", "0")
		require.Nil(t, r.s.View().Asked, "it was one")
		r.set("bench", "40.0")
		r.must("again") // it is a container
		require.Equal(t, g("84.6"), r.lastPortion().Delivered)
		r.rest("bench", 2*time.Second)
		v := r.s.View()
		require.Equal(t, []string{"Whiting", "pour", "0.0"}, []string{v.Now.Material, v.Now.State, v.Now.In})
	})
	t.Run("the tare key after the pour, in the band", func(t *testing.T) {
		r := two(t)
		r.mode = protocol.Net
		r.rest("bench", time.Second)
		r.set("bench", "208.0")
		r.key("bench")
		r.rest("bench", time.Second)
		require.Equal(t, "in", r.state())
		r.set("bench", "0")
		r.set("bench", "123.4")
		require.Equal(t, g("84.6"), r.lastPortion().Delivered)
	})
	t.Run("the tare key while the container is off", func(t *testing.T) {
		r := two(t)
		r.set("bench", "208.0")
		r.set("bench", "0")
		r.key("bench") // nothing lies there: nothing changes
		r.rest("bench", time.Second)
		require.Equal(t, "lifted", r.state())
		r.set("bench", "123.4")
		require.Equal(t, g("84.6"), r.lastPortion().Delivered)
	})
	t.Run("negative drift through a whole pour", func(t *testing.T) {
		r := two(t)
		r.set("bench", "208.0") // and half a gram more, for the zero went down by so much
		r.set("bench", "-0.5")
		r.set("bench", "122.9")
		require.Nil(t, r.s.View().Asked, "the empty pan says why it is lighter than it was tared")
		require.Equal(t, g("85.1"), r.lastPortion().Delivered, "what was really in it")
	})
	t.Run("a phone call with the container off the pan", func(t *testing.T) {
		r := two(t)
		r.set("bench", "208.0")
		r.must("pause")
		r.set("bench", "0")
		r.tick(20 * time.Minute)
		require.Equal(t, "paused", r.state())
		r.must("resume")
		r.rest("bench", time.Second)
		require.Equal(t, "lifted", r.state(), "it says where it stood")
		assert.Equal(t, "84.6", r.s.View().Now.Lifted, "and what is in the hand")
		r.set("bench", "123.4")
		require.Equal(t, g("84.6"), r.lastPortion().Delivered)
	})
	t.Run("a long call: mask and ventilation are asked for again", func(t *testing.T) {
		r := two(t)
		r.set("bench", "180.0")
		r.must("pause")
		r.tick(batch.LongBreak + time.Minute)
		r.must("resume")
		require.Equal(t, "reminder", r.state())
		r.must("yes Mara")
		r.rest("bench", time.Second)
		require.Equal(t, "56.6", r.s.View().Now.In)
	})
	t.Run("another person takes over in mid-pour", func(t *testing.T) {
		r := two(t)
		r.set("bench", "180.0")
		r.must("pause")
		r.must("by Ilse")
		r.must("resume")
		r.rest("bench", time.Second)
		r.set("bench", "208.0")
		take(t, r, "84.6")
		for _, f := range r.facts {
			if _, ok := f.Body.(fact.Portion); ok {
				require.Equal(t, "Ilse", f.By)
			}
		}
		require.Equal(t, "Ilse", r.s.View().Batch.By)
	})
}

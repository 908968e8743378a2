package session

import (
	"math"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"tared/scale/sim"
	"tared/session/guide"
)

// The same potter is told to stop many times. What is learnt is not the bare
// reaction time but all that the usual one leaves unsaid of this potter: how long
// the hand takes to close, how an eased flow is judged. So the pours are to land
// nearer to the target than without it, and inside the band on the whole: a hand
// that is not always as quick is stopped a little under the target.
func TestReactionIsLearntFromStops(t *testing.T) {
	for _, potter := range []sim.Potter{sim.Hurried(), sim.Steady(), sim.Trembling()} {
		row := studyRow{"", "base", sim.Of(g("0.1"), 300*time.Millisecond, 0.2), "85.0", "0.8", potter, sim.Free(), 20}
		learnt := guide.Person{}  // how quick; how far off that is not looked at here
		var with, without float64 // mean of the signed deviations, in grams
		const pours = 60
		for seed := range uint64(pours) {
			b := newByBench(row)
			b.s.Learnt = guide.Learnt{}.With("Mara", learnt)
			o, err := row.trial(seed + 1).Run(b)
			require.NoError(t, err)
			learnt.Reaction = b.s.Learnt.Of("Mara").Reaction
			plain, err := row.trial(seed + 1).Run(newByBench(row))
			require.NoError(t, err)
			if seed >= pours/3 {
				with += (o.Landed - 85) / (pours * 2 / 3)
				without += (plain.Landed - 85) / (pours * 2 / 3)
			}
		}
		t.Logf("%s: learnt %v, lands %.2f g from the target on the whole, without %.2f", potter.Name, learnt.Reaction, with, without)
		require.LessOrEqual(t, math.Abs(with), math.Abs(without)+0.1, potter.Name)
		require.Less(t, with, 0.1, potter.Name)
		require.Greater(t, with, -0.8, potter.Name)
	}
}

func TestRelearn(t *testing.T) {
	r := two(t)
	r.s.Learnt = r.s.Learnt.With("Mara", guide.Person{Reaction: 400 * time.Millisecond})
	r.s.Pans[0].TellLag(time.Second)
	r.must("relearn")
	require.Empty(t, r.s.Learnt.Names())
	require.False(t, r.s.Pans[0].LagKnown())
}

// What is learnt of one person is not what is learnt of another, and each of it is
// shown and can be learnt anew, also with no batch in work.
func TestLearntIsShownAndLearntAnew(t *testing.T) {
	r := two(t)
	r.s.Learnt = guide.Learnt{}.With("Mara", guide.Person{Reaction: 400 * time.Millisecond}).With("Ilse", guide.Person{Reaction: 180 * time.Millisecond}).Tipped("Whiting", g("118.4"), g("118.7"))
	r.s.Pans[0].TellLag(310 * time.Millisecond)
	r.s.Pans[1].TellLag(620 * time.Millisecond)
	v := r.s.View()
	require.Equal(t, "Ilse stops after 0.18 s; Mara stops after 0.40 s; Whiting 0.30 g clings to the container of 118 g", learntWords(*v))
	require.Equal(t, []string{"0.31 s", "0.62 s"}, []string{v.Scales[0].Lag, v.Scales[1].Lag})
	require.Equal(t, 400*time.Millisecond, r.s.Learnt.Of(r.s.Batch.By).Reaction)
	r.must("by Ilse")
	require.Equal(t, 180*time.Millisecond, r.s.Learnt.Of(r.s.Batch.By).Reaction, "her own")
	require.Equal(t, "Ilse", r.s.View().Batch.By)
	require.Equal(t, "Ilse weighs from here on.", r.s.View().Said[0].Says.String())
	r.must("relearn Ilse")
	r.must("relearn fine")
	v = r.s.View()
	require.Equal(t, "Mara stops after 0.40 s; Whiting 0.30 g clings to the container of 118 g", learntWords(*v))
	r.must("relearn Whiting")
	require.Equal(t, "Mara stops after 0.40 s", learntWords(*r.s.View()))
	require.Equal(t, []string{"0.31 s", ""}, []string{v.Scales[0].Lag, v.Scales[1].Lag})
	require.ErrorIs(t, r.do("relearn Ida"), ErrRefused)
	r.must("abandon test")
	r.must("relearn")
	require.Empty(t, r.s.View().Learnt)
}

func learntWords(v View) string {
	var all []string
	for _, l := range v.Learnt {
		all = append(all, l.Of+" "+l.Says.String())
	}
	return strings.Join(all, "; ")
}

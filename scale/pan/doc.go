// Package pan judges what stands on the pan of one scale. From one reading to the
// next it tells a container that is put on, lifted, tipped and put back from powder
// that is poured, from a hand that leans, from the scale's own tare key, and from a
// gap in which anything may have happened. It knows no batch and no recipe.
//
// A Pan takes each scale.Update by Hear, which says with an Event what the reading
// means. The rest comes from whoever knows more: Stand, Took, Forget and the other
// methods of tell.go say what happened, and nothing else changes a Pan. It is a
// value: copy it to try something.
//
// The map:
//
//	table.go    the states, and every transition in one table; begin here
//	guards.go   the conditions of the table, and what its rows do
//	pan.go      Pan, Hear, and what can be read off it
//	tell.go     what a caller tells a pan
//	rest.go     where the load last rested, and what was in the container at most; lines that say one weight again
//	face.go     another scale that speaks in place of this one
//	motion.go   flow, lumps, lag
//	key.go      the scale's own tare key, seen or presumed
//	nouns.go    the container, its lift, a gap, a remainder, the print key's last frame
//	sizes.go    how much and how long tells hands apart
//	offsets.go  by how much the zero has moved, and why
//	trace.go    a pour as the few points that a record keeps
package pan

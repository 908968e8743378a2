// Package scale holds one instrument: it opens the port, listens, notices when
// the port is lost, finds it again, and says of each reading whether the pan
// has settled. It knows nothing of recipes.
//
// The words: an Instrument is one scale as the user named it; an Update is one
// thing that happened to it, with its time; Link tells whether the instrument
// can be heard; a Settler judges rest from a window of readings.
//
// Start with Update, then Instrument.Run. The serial library is imported by
// scale/serialport alone; scale/sim is an instrument made of arithmetic.
package scale

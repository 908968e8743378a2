// Package scale holds one instrument: it opens the port, listens, notices when
// the port is lost, finds it again, and says of each reading whether the pan
// has settled. It knows nothing of recipes.
//
// The words: an Instrument is one scale as the user named it, described by a
// Config; an Update is one thing that happened to it, with its time; Link tells
// whether the instrument can be heard; a Settler judges rest from a window of
// readings. A hunt finds line settings and format by listening alone, a Memory
// keeps what it found, a Survey looks at every port of the machine, and a Lookout listens to those that
// are not set up; a Contact tries what is proposed for an instrument that no format
// knows with a known weight. A Check, a Repeatability run and the class limits beside them judge the scale itself; a
// Placer follows the weight of such a run on and off the pan. A Remote is a hand on
// a running instrument, by which a person tells it to zero or to tare.
//
// Start with Update, then Instrument.Run, which blocks and owns the port: a Port
// comes from an Opener, and every error of one is a PortError, a sentence with
// its mend. The serial library is imported by scale/serialport alone;
// scale/hidport opens USB scales without a serial line, and scale/sim is an
// instrument made of arithmetic.
package scale

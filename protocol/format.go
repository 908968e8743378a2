package protocol

// Format is one way in which instruments write a weight. Formats are plain
// values listed in All; nothing registers itself.
type Format struct {
	Name    string // by its shape, as "header-comma"
	Summary string // one line for people
	Example string // one frame as a Go string literal would show it, without quotes

	// Split finds the first frame in b. It returns how many bytes to drop and
	// the frame inside the dropped bytes. (0, nil) asks for more bytes; with
	// atEOF set no more will come, and what remains is a frame of its own. A
	// frame must not depend on how the bytes were cut: a byte decides nothing
	// until all that it depends on is there.
	Split func(b []byte, atEOF bool) (drop int, frame []byte)

	// Parse reads one frame into r, whose fields are zero. It returns nil when
	// the frame is this format's (r.Status then says what it is), ErrForeign or
	// ErrDamaged otherwise, themselves or wrapped. It keeps nothing of the frame
	// and does not allocate when it accepts a weight.
	Parse func(frame []byte, r *Reading) error

	// Lines lists the port settings met with this format, likeliest first.
	Lines []Line

	// Ask holds the commands of an instrument that must be asked; nil for one that only talks.
	Ask *Ask

	// BlankUnit is the unit of a frame that shows none, where the format itself
	// fixes it. UnitNone: it means nothing by itself (the user must say).
	BlankUnit Unit

	// Ends asks for a terminator: a frame that only the end of the stream closed is
	// damaged, for formats whose frame does not show that it is whole ("oz" cut
	// from "ozt").
	Ends bool

	// OneLength says that all weights of one instrument have frames of one length,
	// so that a length that changes shows a lost or a doubled byte (see
	// Options.Steady).
	OneLength bool

	// length gives what OneLength compares; nil: the length of the frame. It is for
	// lines with a tail that comes and goes.
	length func(frame []byte) int

	// RangeBit says that every frame has a bit for "out of range". Where it is
	// clear, a number of nines alone is a number; elsewhere it is taken for the
	// filler of an overload.
	RangeBit bool

	// Pairs asks that a frame be believed only when the next one is equal, for
	// formats with no check of their own.
	Pairs bool
}

// Line is the setting of a serial port.
type Line struct {
	Baud   int    // bits a second
	Bits   int    // 7 or 8
	Parity byte   // 'N', 'E' or 'O'
	Stop   int    // 1 or 2
	Source string // where the setting was read; "from memory" where nowhere
}

// linesFromMemory are the settings of formats for which none was read.
var linesFromMemory = []Line{{9600, 8, 'N', 1, "from memory"}, {9600, 7, 'E', 1, "from memory"}}

// Ask holds what to send to an instrument that must be asked, terminator included.
type Ask struct {
	Weight []byte // any weight now
	// Greet is sent first where the instrument wants to be called before it is
	// asked: Weight follows when a frame that is Ready has come.
	Greet []byte
	Ready []byte
	// Only says that nothing comes unasked: a frame without a question is a late
	// answer to one that was given up, and of another moment.
	Only bool
	Zero []byte // only ever sent when the user says so
	Tare []byte // only ever sent when the user says so
}

package main

import (
	"io"
	"os"
	"time"

	"github.com/mattn/go-isatty"
	"github.com/rs/zerolog"
	"github.com/spf13/cobra"
)

// newLog gives the program's log on w: words with colours on a terminal, one
// JSON object a line otherwise, for a service manager or a file. The log is for
// whoever looks after the program; what the operator must know is on the page
// or on standard output.
func newLog(w io.Writer, level zerolog.Level) zerolog.Logger {
	if f, ok := w.(*os.File); ok && isatty.IsTerminal(f.Fd()) {
		w = zerolog.ConsoleWriter{Out: w, TimeFormat: time.TimeOnly}
	}
	return zerolog.New(w).Level(level).With().Timestamp().Logger()
}

// parseLevel reads the value of --log.
func parseLevel(s string) (zerolog.Level, error) {
	switch s {
	case "debug", "info", "warn", "error":
		return zerolog.ParseLevel(s)
	}
	return zerolog.NoLevel, usagef("--log %q: not a level: use debug, info, warn or error", s)
}

// addLog gives a command the flag that says how much is logged.
func addLog(cmd *cobra.Command, level *string) {
	cmd.Flags().StringVar(level, "log", "warn", "what is logged on standard error: debug, info, warn or error")
}

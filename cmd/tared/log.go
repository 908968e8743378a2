package main

import (
	"fmt"
	"io"
	"os"
	"strings"
	"time"

	"github.com/mattn/go-isatty"
	"github.com/rs/zerolog"
	"github.com/spf13/cobra"
)

// newLog gives the program's log on w: words with colours on a terminal, words behind a
// priority for the journal of systemd, one JSON object a line otherwise, for another service
// manager or a file. The log is for
// whoever looks after the program; what the operator must know is on the page
// or on standard output.
func newLog(w io.Writer, level zerolog.Level) zerolog.Logger {
	f, ok := w.(*os.File)
	if _, typed := w.(*console); typed || ok && isatty.IsTerminal(f.Fd()) {
		w = zerolog.ConsoleWriter{Out: w, TimeFormat: time.TimeOnly}
	} else if toJournal(w) {
		w = journalWriter{w}
	}
	return zerolog.New(w).Level(level).With().Timestamp().Logger()
}

// toJournal reports whether w leads to the journal of systemd, which says in JOURNAL_STREAM
// which device and inode that is (systemd.exec(5)).
func toJournal(w io.Writer) bool {
	_, inode, ok := strings.Cut(os.Getenv("JOURNAL_STREAM"), ":")
	f, isFile := w.(*os.File)
	if !ok || !isFile {
		return false
	}
	is, err := os.Readlink(fmt.Sprintf("/proc/self/fd/%d", f.Fd()))
	return err == nil && is == "socket:["+inode+"]"
}

// journalWriter writes what the log says as words, each line behind its priority, as
// sd-daemon(3) has it. The journal knows the time itself.
type journalWriter struct{ out io.Writer }

// Write is for what has no level.
func (j journalWriter) Write(p []byte) (int, error) { return j.WriteLevel(zerolog.InfoLevel, p) }

// WriteLevel writes one event.
func (j journalWriter) WriteLevel(level zerolog.Level, p []byte) (int, error) {
	var words strings.Builder
	console := zerolog.ConsoleWriter{Out: &words, NoColor: true, PartsOrder: []string{zerolog.MessageFieldName}}
	if _, err := console.Write(p); err != nil {
		return 0, err
	}
	_, err := io.WriteString(j.out, withPriority(level, words.String()))
	return len(p), err
}

// priorities are those of syslog, RFC 5424, table 2.
var priorities = map[zerolog.Level]int{zerolog.DebugLevel: 7, zerolog.InfoLevel: 6, zerolog.WarnLevel: 4, zerolog.ErrorLevel: 3, zerolog.FatalLevel: 2, zerolog.PanicLevel: 2}

func withPriority(level zerolog.Level, words string) string {
	var out strings.Builder
	for line := range strings.Lines(strings.TrimRight(words, "\n") + "\n") {
		fmt.Fprintf(&out, "<%d>%s", priorities[level], line)
	}
	return out.String()
}

// parseLevel reads the value of --log.
func parseLevel(s string) (zerolog.Level, error) {
	switch s {
	case "debug", "info", "warn", "error":
		return zerolog.ParseLevel(s)
	}
	return zerolog.NoLevel, usagef("cli.log-not-a-level-use", s)
}

// addLog gives a command the flag that says how much is logged.
func addLog(cmd *cobra.Command, level *string) {
	cmd.Flags().StringVar(level, "log", "warn", "")
}

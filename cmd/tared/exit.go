package main

import (
	"errors"

	"github.com/spf13/cobra"

	"tared/session/text"
)

// The exit codes. They are a contract with scripts and with systemd, which
// should start a failed daemon again but not one that was asked for wrongly.
// 64 and 78 are EX_USAGE and EX_CONFIG of BSD's sysexits.h; 2 is left alone, for
// a Go program that panics ends with it.
const (
	exitDone   = 0
	exitFailed = 1
	exitUsage  = 64
	exitConfig = 78
)

// usageError is a mistake in the command line: nothing was done.
type usageError struct{ err error }

func (e *usageError) Error() string { return e.err.Error() }
func (e *usageError) Unwrap() error { return e.err }

// usage marks err as a mistake in the command line.
func usage(err error) error { return &usageError{err} }

// usagef, configf and failf make an error of the code of a sentence and its values by their
// place, see [text.Put].
func usagef(code string, args ...any) error { return usage(text.Failed(code, args...)) }

func failf(code string, args ...any) error { return text.Failed(code, args...) }

// says is a sentence in the language of the terminal.
func says(code string, args ...any) string { return language.Say(text.Put(code, args...)) }

// configError is a mistake in the configuration file or the environment.
type configError struct{ err error }

func (e *configError) Error() string { return e.err.Error() }
func (e *configError) Unwrap() error { return e.err }

func configf(code string, args ...any) error { return &configError{text.Failed(code, args...)} }

// errSaid is in the chain of an error whose sentence has been printed already.
var errSaid = errors.New("said")

// exitCode gives the code that an error earns.
func exitCode(err error) int {
	var u *usageError
	var c *configError
	switch {
	case err == nil:
		return exitDone
	case errors.As(err, &u):
		return exitUsage
	case errors.As(err, &c):
		return exitConfig
	}
	return exitFailed
}

// noArgs, oneArg and maybeOneArg are cobra's checks with our words and our exit code.
func noArgs(_ *cobra.Command, args []string) error {
	if len(args) > 0 {
		return usagef("cli.is-one-argument-too-many", args[0])
	}
	return nil
}

func oneArg(name string) cobra.PositionalArgs {
	return func(_ *cobra.Command, args []string) error {
		switch {
		case len(args) == 0:
			return usagef("cli.is-missing", name)
		case len(args) > 1:
			return usagef("cli.is-one-argument-too-many-2", args[1], name)
		}
		return nil
	}
}

func maybeOneArg(name string) cobra.PositionalArgs {
	return func(_ *cobra.Command, args []string) error {
		if len(args) > 1 {
			return usagef("cli.is-one-argument-too-many-3", args[1], name)
		}
		return nil
	}
}

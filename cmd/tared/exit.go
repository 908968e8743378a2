package main

import (
	"errors"
	"fmt"

	"github.com/spf13/cobra"
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

func usagef(format string, args ...any) error { return usage(fmt.Errorf(format, args...)) }

// configError is a mistake in the configuration file or the environment.
type configError struct{ err error }

func (e *configError) Error() string { return e.err.Error() }
func (e *configError) Unwrap() error { return e.err }

func configf(format string, args ...any) error { return &configError{fmt.Errorf(format, args...)} }

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
		return usagef("%q is one argument too many: this command takes flags only", args[0])
	}
	return nil
}

func oneArg(name string) cobra.PositionalArgs {
	return func(_ *cobra.Command, args []string) error {
		switch {
		case len(args) == 0:
			return usagef("%s is missing", name)
		case len(args) > 1:
			return usagef("%q is one argument too many: give one %s", args[1], name)
		}
		return nil
	}
}

func maybeOneArg(name string) cobra.PositionalArgs {
	return func(_ *cobra.Command, args []string) error {
		if len(args) > 1 {
			return usagef("%q is one argument too many: give one %s or none", args[1], name)
		}
		return nil
	}
}

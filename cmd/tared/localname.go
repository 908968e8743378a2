package main

import (
	"context"
	"regexp"

	"github.com/rs/zerolog"

	"tared/session"
	"tared/session/text"
	"tared/web/lan"
)

// How the bench is called in the local network, and that it is not called.
const (
	localName = "tared"
	noName    = "none"
)

// localLabel is what stands before .local (RFC 6762, section 3; the letters of RFC 1123), short enough for a sign behind it.
var localLabel = regexp.MustCompile(`^[a-z0-9]([a-z0-9-]{0,50}[a-z0-9])?$`)

func checkLocalName(name string) error {
	if !localLabel.MatchString(name) {
		return text.Refuse("settings.local-name", text.Name("name", name))
	}
	return nil
}

// nameOf gives the name of the bench in the local network; nil where none is wanted.
func nameOf(bench *session.Bench, wanted string, log zerolog.Logger) *lan.Name {
	if wanted == noName {
		return nil
	}
	return lan.NewName(wanted, func(ctx context.Context) string {
		t, _ := bench.Tally(ctx) // one that does not answer has no sign
		return t.Sign
	}, log)
}

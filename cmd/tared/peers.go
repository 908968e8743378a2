package main

import (
	"encoding/json"
	"fmt"
	"io"
	"text/tabwriter"
	"time"

	"github.com/spf13/cobra"

	"tared/session/fact"
	"tared/session/journal"
	"tared/session/text"
	"tared/web/peers"
)

// peersCommand lists the other benches whose lines are taken, adds one, and removes one.
func peersCommand() *cobra.Command {
	var dir, code string
	var asJSON bool
	cmd := &cobra.Command{
		Use: "peers [add URL | remove BENCH]",
		RunE: func(cmd *cobra.Command, args []string) error {
			out := cmd.OutOrStdout()
			if len(args) == 0 {
				return tellPeers(out, peers.List(dir), asJSON)
			}
			if len(args) != 2 || args[0] != "add" && args[0] != "remove" {
				return usage(text.Refuse("peer.usage"))
			}
			var p peers.State
			var err error
			var done text.Message
			if args[0] == "remove" {
				p, err = peers.Remove(dir, args[1])
				done = text.New("peer.removed", text.Name("sign", p.Sign), text.Name("bench", p.Short()))
			} else {
				p, err = peers.Add(cmd.Context(), dir, ownID(dir), args[1], code, time.Now())
				done = text.New("peer.added", text.Name("sign", p.Sign), text.Name("bench", p.Short()))
			}
			if err != nil {
				return err
			}
			_, err = fmt.Fprintln(out, language.Say(done))
			return err
		},
	}
	f := cmd.Flags()
	f.BoolVar(&asJSON, "json", false, "")
	f.StringVar(&code, "code", "", "")
	addData(cmd, &dir)
	return cmd
}

// ownID is the fingerprint of the bench that keeps its journal in dir; empty: it has none.
func ownID(dir string) (id string) {
	_, _ = journal.Read(dir, func(r journal.Record) error {
		if r.Kind != (fact.Began{}).Kind() {
			return nil
		}
		b, err := fact.DecodeBody(r.Kind, r.Line)
		if v, ok := b.(fact.Began); ok && v.Bench != "" {
			id = v.Bench
		}
		return err
	})
	return id
}

func tellPeers(out io.Writer, all []peers.State, asJSON bool) error {
	if asJSON {
		return json.NewEncoder(out).Encode(append([]peers.State{}, all...))
	}
	if len(all) == 0 {
		_, err := fmt.Fprintln(out, language.Say(text.New("peer.nobody")))
		return err
	}
	t := tabwriter.NewWriter(out, 0, 0, 2, ' ', 0)
	for _, s := range all {
		_, _ = fmt.Fprintf(t, "%s\t%s\t%s\t%s\n", s.Sign, s.Short(), s.URL, language.Say(s.Says()))
	}
	return t.Flush()
}

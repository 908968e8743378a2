package main

import (
	"strings"

	"github.com/spf13/cobra"

	"tared/protocol"
	"tared/scale"
	"tared/scale/serialport"
	"tared/session/book"
	"tared/session/glaze"
	"tared/session/material"
)

// values offers what may stand at a place of the command line.
type values func(cmd *cobra.Command) []string

// addValues has the completion of shells offer values: formats, marks of batches, ports,
// materials. By the name of the flag, and by the word in the usage of the command.
func addValues(root *cobra.Command) {
	ofFlags := map[string]values{
		"format": func(*cobra.Command) []string { return formatNames() },
		"scale":  func(*cobra.Command) []string { return scaleWords() },
		"accept": oneOf("simple", "guarded"), "readers": oneOf(readersPaired, readersAnyone), "tls": oneOf(tlsOff, tlsOwn), "confirm": oneOf("strong", "typed", "strong,typed"),
		"log": oneOf("debug", "info", "warn", "error"), "parity": oneOf("even", "odd"), "lang": oneOf(tags()...),
		"unit": oneOf("g", "kg", "mg", "oz", "lb", "ct", "gn"),
	}
	ofArgs := map[string]values{
		"BATCH": marks, "[BATCH…]": marks,
		"[PORT…]": func(*cobra.Command) []string { return portNames() },
		"[NAME]":  func(*cobra.Command) []string { return materialNames() },
		"[PIECE…]": func(*cobra.Command) (all []string) {
			for _, p := range pieces() {
				all = append(all, p.name)
			}
			return all
		},
	}
	for _, cmd := range root.Commands() {
		for flag, give := range ofFlags {
			if cmd.Flags().Lookup(flag) != nil {
				_ = cmd.RegisterFlagCompletionFunc(flag, func(cmd *cobra.Command, _ []string, _ string) ([]string, cobra.ShellCompDirective) {
					return give(cmd), cobra.ShellCompDirectiveNoFileComp
				})
			}
		}
		_, takes, _ := strings.Cut(cmd.Use, " ")
		takes, _, _ = strings.Cut(takes, " ")
		if give, ok := ofArgs[takes]; ok {
			cmd.ValidArgsFunction = func(cmd *cobra.Command, _ []string, _ string) ([]string, cobra.ShellCompDirective) {
				return give(cmd), cobra.ShellCompDirectiveNoFileComp
			}
		}
	}
}

func oneOf(all ...string) values { return func(*cobra.Command) []string { return all } }

func formatNames() (all []string) {
	for _, f := range protocol.All() {
		all = append(all, f.Name+"\t"+language.Term(f.Summary))
	}
	return all
}

func found() []scale.Found {
	all, _ := serialport.List() // nothing is offered where nothing can be listed
	return all
}

func portNames() (all []string) {
	for _, f := range found() {
		all = append(all, f.Port+"\t"+f.Product)
	}
	return all
}

func scaleWords() (all []string) {
	for _, f := range found() {
		all = append(all, "name=bench,"+f.Where())
	}
	return append(all, "name=fine,port=eye,step=")
}

func materialNames() (all []string) {
	for _, m := range material.Default().All() {
		all = append(all, m.Name)
	}
	return all
}

// marks gives the batches of the record, the newest first.
func marks(cmd *cobra.Command) (all []string) {
	if cmd.PreRunE == nil || cmd.PreRunE(cmd, nil) != nil {
		return nil
	}
	_ = withIndex(cmd.Flag("data").Value.String(), false, glaze.Shelf{}, func(x *book.Index) error {
		for k := x.Len(); k > 0; k-- {
			all = append(all, x.Mark(k))
		}
		return nil
	})
	return all
}

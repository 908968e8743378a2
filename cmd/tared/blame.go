package main

import (
	"errors"
	"slices"
	"strings"

	"github.com/spf13/cobra"

	"tared/session/text"
)

// blames says which flags a refusal can be about, by its code or that of a field in it. A
// sentence is written for the page, too, and so names no flag itself.
var blames = map[string][]string{
	"plan.size": {"base", "dry", "wet"}, "plan.size-nothing": {"base", "dry", "wet"}, "plan.wet": {"wet"},
	"sheet.size-negative": {"base", "dry"}, "sheet.wet-volume": {"wet"}, "sheet.wet-gravity": {"wet"}, "sheet.wet-dense": {"wet"},
	"plan.most": {"most"}, "plan.most-nothing": {"most"}, "plan.container": {"container"}, "sheet.container": {"container"},
	"plan.water": {"water"}, "sheet.first-water": {"water"}, "plan.rule": {"accept"}, "signer.sign": {"sign"},
	"plan.role": {"role"}, "sheet.role-unknown": {"role"}, "sheet.order-unknown": {"order"}, "sheet.aliquot-unknown": {"aliquot"}, "plan.although-unknown": {"although"},
	"sheet.tolerance-of": {"allow"}, "sheet.tolerance-unknown": {"allow"}, "sheet.tolerance-role": {"allow"}, "sheet.tolerance": {"allow"},
	"recipe.swap-unknown": {"swap"}, "recipe.swap-same": {"swap"}, "recipe.swap-both": {"swap"}, "recipe.swap-mixed": {"swap"}, "recipe.swap-name": {"swap"}, "recipe.swap-whole": {"swap"}, "sheet.swap-cups": {"steps", "swap"}, "series.swap-blend": {"blend"}, "series.swap-additions": {"vary"}, "series.additions": {"vary"},
	"series.line": {"blend"}, "series.triangle": {"blend"}, "series.blend": {"blend"}, "series.unnamed": {"vary"}, "series.twice": {"vary"},
	"series.level": {"vary"}, "series.level-most": {"vary"}, "series.no-levels": {"vary"}, "series.too-many": {"vary", "steps"},
	"series.varied-swapped": {"vary"}, "series.varied-recipe": {"vary"}, "series.cup": {"cup"}, "series.spare": {"spare"},
	"stock.moisture-of": {"moist"}, "stock.lot-of": {"lot"}, "stock.no-lot-of": {"lot"}, "stock.other-lot": {"lot"}, "stock.no-stock": {"lot"},
	"stock.amount": {"amount"}, "stock.amount-negative": {"amount"}, "stock.amount-zero": {"amount"}, "stock.amount-most": {"amount"}, "stock.left-amount": {"amount"},
	"stock.price": {"price"}, "stock.day": {"opened"}, "stock.no-lot": {"correct"}, "stock.left-batch": {"keep-left"}, "stock.left-open": {"keep-left"},
	"stock.left-none": {"keep-left"}, "stock.left-which": {"of"}, "stock.recipe-name": {"name"}, "stock.recipe-unnamed": {"name"},
	"field.moisture": {"moisture"}, "field.volume": {"volume"}, "field.sample": {"sample"}, "field.water-added": {"added"}, "field.water-in-the-vessel": {"bottle", "water"},
	"field.temperature-of-the-water": {"celsius"}, "field.seconds": {"seconds"}, "field.opening-of-the-sieve": {"opening"}, "field.weight": {"weight", "mix", "in"},
	"vessel.none": {"vessel"}, "vessel.unknown": {"vessel"}, "vessel.small": {"volume"}, "entry.sieve-number": {"mesh"}, "entry.sieve-mesh": {"mesh"}, "slip.sieve": {"mesh"}, "slip.sieve-standard": {"standard"},
	"entry.water-much": {"added"}, "entry.volume-zero": {"volume"}, "entry.correct-kind": {"entry"}, "entry.correct-most": {"weight"}, "entry.correct-zero": {"weight"},
	"cli.sheet-give-columns-and-rows": {"sheet"}, "label.print-as": {"printer-as"},
	"entry.strike-kind": {"entry"}, "entry.struck": {"entry"}, "entry.none": {"entry"}, "derive.hash": {"hash"}, "gauge.weight": {"check", "repeat", "edges"},
}

// onFlag makes a refusal of what a flag was given a mistake in the command line that
// names the flag.
func onFlag(cmd *cobra.Command, err error) error {
	if err == nil || errors.As(err, new(*configError)) {
		return err
	}
	for _, code := range text.Of(err).Codes() {
		for _, flag := range blames[code] {
			if f := cmd.Flags().Lookup(flag); f == nil || !f.Changed || strings.Contains(err.Error(), "--"+flag) {
				continue
			}
			return usagef("cli.of-flag", flag, err)
		}
	}
	return err
}

// blamed tells whether an error is about what one of these flags was given.
func blamed(err error, flags ...string) bool {
	if err == nil {
		return false
	}
	return slices.ContainsFunc(text.Of(err).Codes(), func(code string) bool {
		return slices.ContainsFunc(blames[code], func(f string) bool { return slices.Contains(flags, f) })
	})
}

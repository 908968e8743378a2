package main

import (
	"errors"
	"fmt"
	"io"
	"io/fs"
	"time"

	"github.com/spf13/cobra"

	"tared/session"
	"tared/session/fact"
	"tared/session/journal"
)

func vesselCommand() *cobra.Command {
	var a keepFlags
	var v session.VesselRequest
	cmd := &cobra.Command{
		Use:  "vessel [NAME --water WEIGHT --celsius T]",
		Args: maybeOneArg("NAME"),
		RunE: func(cmd *cobra.Command, args []string) error {
			if len(args) == 0 {
				return listVessels(cmd.OutOrStdout(), a.data)
			}
			by, err := a.name()
			if err != nil {
				return err
			}
			v.Name, v.By = args[0], by
			var made struct{ Name, Volume string }
			err = aloneOrThrough(cmd.Context(), a.data, "api/vessel", v, &made, func() error {
				got, err := session.RecordVessel(a.data, witnessFile(a.data), time.Now(), v)
				made.Name, made.Volume = got.Name, got.Volume
				return err
			})
			switch {
			case err != nil:
				return err
			case a.json:
				_, err = fmt.Fprintf(cmd.OutOrStdout(), "{\"kind\":\"vessel\",\"name\":%q,\"volume\":%q}\n", made.Name, made.Volume)
			default:
				_, err = fmt.Fprintf(cmd.OutOrStdout(), "%s holds %s ml.\n", made.Name, made.Volume)
			}
			return err
		},
	}
	a.addTo(cmd)
	cmd.Flags().StringVar(&v.Water, "water", "", "")
	cmd.Flags().StringVar(&v.Celsius, "celsius", "", "")
	return cmd
}

func listVessels(out io.Writer, dir string) error {
	none := true
	_, err := journal.Read(dir, func(r journal.Record) error {
		if r.Kind != (fact.Vessel{}).Kind() {
			return nil
		}
		body, err := fact.DecodeBody(r.Kind, r.Line)
		if v, ok := body.(fact.Vessel); ok && err == nil {
			none = false
			_, err = fmt.Fprintln(out, says("cli.ml-measured-by", v.Name, v.Volume, r.At.Format("2006-01-02"), r.By))
		}
		return err
	})
	if none && (err == nil || errors.Is(err, fs.ErrNotExist)) {
		_, err = fmt.Fprintln(out, says("cli.no-vessel-was-measured-yet"))
	}
	return err
}

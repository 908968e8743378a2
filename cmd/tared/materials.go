package main

import (
	"errors"
	"os"

	"github.com/spf13/cobra"

	"tared/session/material"
)

// materialsUse explains the file of --materials and of the key of that name.
const materialsUse = "a file with your own materials, {\"materials\":[…]}: they add to the table and override it"

// addMaterials gives a command the flag for it.
func addMaterials(cmd *cobra.Command, to *string) {
	cmd.Flags().StringVar(to, "materials", "", materialsUse)
	fills(cmd.Flags(), "materials", "materials")
}

// openMaterials lays the user's own file over the table; nil without a file.
func openMaterials(path string) (*material.Table, error) {
	if path == "" {
		return nil, nil
	}
	f, err := os.Open(path)
	if err != nil {
		return nil, configf("materials %s: %w", path, errors.Unwrap(err))
	}
	defer f.Close()
	t, err := material.Default().Overlay(f)
	if err != nil {
		return nil, configf("materials %s: %w", path, err)
	}
	return t, nil
}

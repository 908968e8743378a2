package main

import "github.com/spf13/cobra"

// commands is the plain list of all of them, in the order in which a newcomer
// meets them.
func commands() []*cobra.Command {
	return []*cobra.Command{
		demoCommand(),
		serveCommand(),
		weighCommand(),
		scalesCommand(),
		decodeCommand(),
		formatsCommand(),
		planCommand(),
		calcCommand(),
		materialsCommand(),
		recipeCommand(),
		stockCommand(),
		recordCommand(),
		oxidesCommand(),
		waterCommand(),
		fireCommand(),
		judgeCommand(),
		vesselCommand(),
		correctCommand(),
		strikeCommand(),
		labelCommand(),
		exportCommand(),
		importCommand(),
		backupCommand(),
		restoreCommand(),
		verifyCommand(),
		peersCommand(),
		devicesCommand(),
		checkupCommand(),
		settingsCommand(),
		setupCommand(),
		versionCommand(),
	}
}

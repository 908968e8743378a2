package main

import (
	"context"
	"path/filepath"

	"github.com/rs/zerolog"

	"tared/scale"
	"tared/scale/serialport"
)

// memoryName is the file beside the journal in which the settings found by
// listening are kept. It is a convenience: whoever deletes it waits some seconds.
const memoryName = "ports.json"

// listenPorts gives the function that hears one scale on a real port.
func listenPorts(dir string, log zerolog.Logger) func(context.Context, scale.Config, func(scale.Update)) error {
	memory, err := scale.OpenMemory(filepath.Join(dir, memoryName))
	if err != nil {
		log.Warn().Err(err).Msg("the settings of ports that were found before cannot be read")
	}
	return func(ctx context.Context, c scale.Config, emit func(scale.Update)) error {
		i := scale.New(c, serialport.Ports{LowDTR: c.LowDTR}, emit, log)
		i.Remember(memory)
		return i.Run(ctx)
	}
}

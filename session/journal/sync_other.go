//go:build !linux

package journal

import "os"

// datasync is a full sync where the cheaper one is missing or, as on macOS,
// promises less than os.File.Sync does.
func datasync(f *os.File) error { return f.Sync() }

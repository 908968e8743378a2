package journal

// syncDir does nothing: Windows has no way to sync a directory, and NTFS keeps
// names in its own log.
func syncDir(string) error { return nil }

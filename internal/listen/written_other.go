//go:build !linux

package listen

import "os"

// written cannot be asked here: a file's having stopped to change must do.
func written(*os.File) bool { return false }

//go:build unix

package main

import (
	"context"
	"fmt"
	"math"

	"golang.org/x/sys/unix"
)

// room tells how many bytes are free, for a user without privileges, on the fullest of the disks that the folders are on.
func room(folders ...string) func(context.Context) (int64, error) {
	return func(context.Context) (int64, error) {
		least := int64(math.MaxInt64)
		for _, dir := range folders {
			var st unix.Statfs_t
			if err := unix.Statfs(dir, &st); err != nil {
				return 0, fmt.Errorf("the room in %s: %w", dir, err)
			}
			least = min(least, int64(st.Bavail)*int64(st.Bsize))
		}
		return least, nil
	}
}

package studio

import (
	"context"
	"fmt"
)

// RoomFor refuses a recording of so many bytes, 0 where that is not known, that the studio's disk has no
// room for. It asks nobody's rights: it is for whoever takes bytes in before the studio gets them.
func (d *Desk) RoomFor(ctx context.Context, bytes int64) error {
	return problemOf(d.spare(ctx, bytes))
}

// spare leaves the reserve alone.
func (d *Desk) spare(ctx context.Context, bytes int64) error {
	if d.o.Free == nil {
		return nil
	}
	free, err := d.o.Free(ctx)
	if err != nil {
		return fmt.Errorf("asking for the room on the disk: %w", err)
	}
	if free-bytes < d.o.Reserve {
		return fmt.Errorf("%d bytes are free, %d are to come: %w", free, bytes, ErrFull)
	}
	return nil
}

// written is how often a recording lies on the disk for a moment: half sent, and taken in.
const written = 2

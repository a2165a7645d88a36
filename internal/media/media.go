// Package media turns whatever a phone or a browser sends into sound: it asks ffprobe what a file
// is and lets ffmpeg decode it, both in a cage, since file names, headers and contents are hostile.
//
// It also copies a recording without what it says about place, device and people, makes what every browser
// plays, joins recordings to a film with chapters, and cuts clips. It judges no playing, keeps no file, opens
// no address and follows no playlist.
package media

import (
	"context"
	"time"
)

// Options of Decode; the zero value is what the ear wants.
type Options struct {
	RateHz      int                            // of the result; 0 means 22050
	MaxDuration time.Duration                  // longest take; 0 means 60 minutes
	MaxBytes    int64                          // largest file; 0 means 8 GiB
	Timeout     time.Duration                  // for probing and decoding together; 0 means 5 minutes
	Progress    func(decodedS, totalS float64) // called now and then from one goroutine; totalS 0 unknown; may be nil
}

func (o Options) withDefaults() Options {
	if o.RateHz == 0 {
		o.RateHz = 22050
	}
	if o.MaxDuration == 0 {
		o.MaxDuration = 60 * time.Minute
	}
	if o.MaxBytes == 0 {
		o.MaxBytes = 8 << 30
	}
	if o.Timeout == 0 {
		o.Timeout = 5 * time.Minute
	}
	return o
}

// Info is what the file says about itself, and what decoding found.
type Info struct {
	Container string // ffprobe's name, "mov,mp4,m4a,3gp,3g2,mj2"
	Codec     string // "aac", "opus", …
	RateHz    int    // of the source
	Channels  int    // of the source
	ClaimedS  float64
	HasVideo  bool
	Truncated bool     // the file ends before its header says; what is there was decoded
	Damaged   bool     // parts could not be decoded
	Notes     []string // for a person, each one sentence: cut off, one dead channel, …

	streamIdx int
	startS    float64 // of the container; below 0 where a codec's delay lies before the start
	endS      float64 // of the sound track, on the clock of the result; 0 unknown
}

// Decode reads the first sound track of the file at path, mixed to one channel. Time 0 is the start
// of the recording as a player shows it: encoder delay is taken off and a sound track that starts
// after the picture is preceded by silence. The error is a *Error.
func Decode(ctx context.Context, path string, opt Options) (PCM, Info, error) {
	opt = opt.withDefaults()
	ctx, cancel := context.WithTimeout(ctx, opt.Timeout)
	defer cancel()
	abs, err := look(path, opt)
	if err != nil {
		return PCM{}, Info{}, err
	}
	info, err := probe(ctx, abs, path, opt)
	if err != nil {
		return PCM{}, info, err
	}
	return decode(ctx, abs, path, info, opt)
}

package media

import (
	"context"
	"fmt"
	"math"
	"os"
	"time"

	"antiphon/internal/cage"
)

// Limits of a clip.
const (
	ShortestClipS = 0.1
	LongestClipS  = 120.0
	clipEdgeS     = 0.008 // its sound comes and goes so softly that no click is heard
)

// Clip cuts from fromS to toS out of the recording at path into a new file in dir, as every browser plays
// it, without what the recording told. Its sound has as many samples at 48 kHz as that time has, from the
// nearest one on; its picture, where there is one, begins with the one shown at fromS. A recording that
// ends earlier gives a shorter clip. t is what Examine said of the file. The error is a *Error.
func Clip(ctx context.Context, path, dir string, fromS, toS float64, t Tracks, opt Options) (Rendered, error) {
	opt = opt.withDefaults()
	if !(fromS >= 0 && toS-fromS >= ShortestClipS && toS-fromS <= LongestClipS && toS <= opt.MaxDuration.Seconds()) {
		return Rendered{}, problem(TooLong, path, nil, "a clip from %.2f s to %.2f s cannot be cut: take %.1f s to %.0f s within the recording", fromS, toS, ShortestClipS, LongestClipS)
	}
	abs, err := look(path, opt)
	if err != nil {
		return Rendered{}, err
	}
	from, to := int(math.Round(fromS*filmRateHz)), int(math.Round(toS*filmRateHz))
	lengthS := float64(to-from) / filmRateHz
	out := Rendered{Path: output(dir, "clip", "mp4"), Type: "video/mp4"}
	args := []string{"-nostdin", "-hide_banner", "-threads", "2", "-filter_threads", "1"}
	input := func() {
		if t.startS < 0 {
			args = append(args, "-itsoffset", fmt.Sprintf("%.6f", t.startS)) // see decoder.run
		}
		args = append(args, guarded(abs)...)
	}
	input()
	if t.Video != "" {
		args = append(args, "-map", fmt.Sprintf("0:%d", t.videoIdx),
			"-vf", fmt.Sprintf("fps=%d:start_time=0,trim=start=%.6f:duration=%.6f,setpts=PTS-STARTPTS,%s,setsar=1", filmFps, fromS, lengthS, scale(shortSide)),
			"-c:v", "libx264", "-profile:v", "main", "-preset", "veryfast", "-crf", "24", "-maxrate", "2500k", "-bufsize", "5000k", "-bf", "0", "-pix_fmt", "yuv420p", "-g", "30", "-threads", "2")
	} else {
		out.Path, out.Type = output(dir, "clip", "m4a"), PlayableType
	}
	if t.Sound != "" {
		args = append(args, "-map", fmt.Sprintf("0:%d", t.soundIdx),
			"-af", fmt.Sprintf("aresample=%d:async=1:first_pts=0,atrim=start_sample=%d:end_sample=%d,asetpts=PTS-STARTPTS,afade=t=in:d=%g,afade=t=out:st=%.6f:d=%g,aformat=channel_layouts=mono|stereo",
				filmRateHz, from, to, clipEdgeS, lengthS-clipEdgeS, clipEdgeS),
			"-c:a", "aac", "-b:a", "128k")
	}
	args = append(append(args, nothingElse()...), "-movie_timescale", fmt.Sprint(filmRateHz), "-movflags", "+faststart", "-f", "mp4", "file:"+out.Path)
	_, err = cage.Job{
		Program: "ffmpeg", Args: args,
		Read: []string{abs}, Write: []string{dir},
		Limits: cage.Limits{Wall: 10 * time.Minute, MemoryBytes: 3 << 30, OutputBytes: min(opt.MaxBytes, 1<<30)},
		Nice:   15,
	}.Run(ctx)
	if err != nil {
		return Rendered{}, explain(ctx, err, abs, path)
	}
	out.Tracks, err = Examine(ctx, out.Path, opt)
	if err == nil && (out.Tracks.LengthS == 0 || out.Tracks.Sound == "" && out.Tracks.Video == "") {
		err = problem(NoSound, path, nil, "the recording ends before %.2f s: choose an earlier place", fromS)
	}
	if err != nil {
		os.Remove(out.Path)
		return Rendered{}, err
	}
	return out, nil
}

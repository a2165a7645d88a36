package media

import (
	"context"
	"fmt"
	"os"
	"time"

	"antiphon/internal/cage"
)

// Rendered is a file for a page.
type Rendered struct {
	Path   string
	Type   string
	Tracks Tracks
}

// renderFor is the longest time that encoding may take. Two cores encode a 3-minute video in about one.
const renderFor = 20 * time.Minute

// Rendition encodes what every browser plays into a new file in dir: H.264 of at most 720 lines and
// AAC in MP4, its table in front; sound alone as AAC in MP4. Its seconds are those of Decode. t is what
// Examine said of the file at path. The error is a *Error.
func Rendition(ctx context.Context, path, dir string, t Tracks, opt Options) (Rendered, error) {
	opt = opt.withDefaults()
	abs, err := look(path, opt)
	if err != nil {
		return Rendered{}, err
	}
	out := Rendered{Path: output(dir, "playable", "mp4"), Type: "video/mp4"}
	args := []string{"-nostdin", "-hide_banner", "-threads", "2", "-filter_threads", "1"}
	if t.startS < 0 {
		args = append(args, "-itsoffset", fmt.Sprintf("%.6f", t.startS)) // see decoder.run
	}
	args = append(args, guarded(abs)...)
	if t.Video != "" {
		args = append(args, "-map", fmt.Sprintf("0:%d", t.videoIdx), "-vf", scale(shortSide), "-fpsmax", "30",
			"-c:v", "libx264", "-preset", "veryfast", "-crf", "24", "-maxrate", "2500k", "-bufsize", "5000k",
			"-pix_fmt", "yuv420p", "-g", "60", "-threads", "2")
	} else {
		out.Path, out.Type = output(dir, "playable", "m4a"), PlayableType
	}
	if t.Sound != "" {
		args = append(args, "-map", fmt.Sprintf("0:%d", t.soundIdx), "-af", "aresample=async=1:first_pts=0", "-ac", "2", "-ar", "48000", "-c:a", "aac", "-b:a", "128k")
	}
	args = append(append(args, nothingElse()...), "-movflags", "+faststart", "-f", "mp4", "file:"+out.Path)
	_, err = cage.Job{
		Program: "ffmpeg", Args: args,
		Read: []string{abs}, Write: []string{dir},
		Limits: cage.Limits{Wall: renderFor, MemoryBytes: 3 << 30, OutputBytes: opt.MaxBytes},
		Nice:   15, // whoever waits for a hearing or a page goes first
	}.Run(ctx)
	if err != nil {
		return Rendered{}, explain(ctx, err, abs, path)
	}
	if out.Tracks, err = Examine(ctx, out.Path, opt); err != nil {
		return Rendered{}, err
	}
	return out, nil
}

// scale makes the short side at most n pixels, both sides even.
func scale(n int) string {
	return fmt.Sprintf("scale=w='if(gt(iw,ih),-2,min(%d,trunc(iw/2)*2))':h='if(gt(iw,ih),min(%d,trunc(ih/2)*2),-2)'", n, n)
}

// posterSide is enough for the widest page.
const posterSide = 540

// Poster is one picture of the video, as JPEG, taken atS seconds into it; nil where it has none there.
// The error is a *Error.
func Poster(ctx context.Context, path, dir string, t Tracks, atS float64, opt Options) ([]byte, error) {
	opt = opt.withDefaults()
	abs, err := look(path, opt)
	if err != nil || t.Video == "" {
		return nil, err
	}
	out := output(dir, "poster", "jpg")
	args := append([]string{"-nostdin", "-hide_banner", "-threads", "1", "-ss", fmt.Sprintf("%.3f", max(0, atS))}, guarded(abs)...)
	args = append(args, "-map", fmt.Sprintf("0:%d", t.videoIdx), "-frames:v", "1", "-vf", scale(posterSide), "-q:v", "4")
	args = append(append(args, nothingElse()...), "-update", "1", "-f", "image2", "file:"+out)
	_, err = cage.Job{
		Program: "ffmpeg", Args: args,
		Read: []string{abs}, Write: []string{dir},
		Limits: cage.Limits{Wall: time.Minute, MemoryBytes: 2 << 30, OutputBytes: 64 << 20},
	}.Run(ctx)
	if err != nil {
		return nil, explain(ctx, err, abs, path)
	}
	b, err := os.ReadFile(out)
	if err != nil {
		return nil, nil // the video ends before that moment
	}
	return b, nil
}

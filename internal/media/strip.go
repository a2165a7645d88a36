package media

import (
	"context"
	"errors"
	"fmt"
	"os"
	"path/filepath"

	"antiphon/internal/cage"
)

// Clean is a recording without anything about the place, the device or the people.
type Clean struct {
	Path   string
	Type   string // media type; with codecs where not every browser plays them
	Tracks Tracks // of the clean file
}

// Strip copies the sound and, unless soundOnly, the moving picture of the file at path into a new file
// in dir, and nothing else: no place, device, time, titles, chapters, cover pictures, subtitles or data
// tracks, and no messages of the camera inside the picture. Neither is encoded again, so seconds and
// samples stay what they were; only what cannot be copied is. The error is a *Error.
func Strip(ctx context.Context, path, dir string, soundOnly bool, opt Options) (Clean, error) {
	opt = opt.withDefaults()
	ctx, cancel := context.WithTimeout(ctx, opt.Timeout)
	defer cancel()
	t, err := Examine(ctx, path, opt)
	if err != nil {
		return Clean{}, err
	}
	if t.soundIdx < 0 && (soundOnly || t.videoIdx < 0) {
		return Clean{}, problem(NoSound, path, nil, "%s holds no sound track that can be read: send it as m4a, mp3, wav or mp4", path)
	}
	if soundOnly {
		t.Video, t.videoIdx = "", -1
	}
	abs, err := look(path, opt)
	if err != nil {
		return Clean{}, err
	}
	err = errNoShape
	var out string
	to, ok := t.shapeFor()
	if ok {
		out = output(dir, "stripped", to.ext)
		err = t.copyInto(ctx, abs, path, out, to, opt)
	}
	if me, isMedia := errors.AsType[*Error](err); err != nil && (!isMedia || me.Kind == Broken || me.Kind == NotMedia) {
		// Its sound may be readable all the same, only not as it lies.
		r, rerr := Rendition(ctx, path, dir, t, opt)
		if rerr != nil {
			return Clean{}, rerr
		}
		return Clean(r), nil
	}
	if err != nil {
		return Clean{}, err
	}
	c := Clean{Path: out, Type: to.sound}
	if t.Video != "" {
		c.Type = to.video
	}
	if c.Tracks, err = Examine(ctx, out, opt); err != nil {
		return Clean{}, err
	}
	if t.Video == "hevc" && to.muxer == "mp4" {
		c.Type += `; codecs="hvc1"` // RFC 6381: a browser that has no decoder says so by this
	}
	return c, nil
}

var errNoShape = errors.New("no container of ours holds this")

// copyInto writes the chosen tracks into out.
func (t Tracks) copyInto(ctx context.Context, abs, path, out string, to shape, opt Options) error {
	args := append([]string{"-nostdin", "-hide_banner"}, guarded(abs)...)
	for _, i := range []int{t.videoIdx, t.soundIdx} {
		if i >= 0 {
			args = append(args, "-map", fmt.Sprintf("0:%d", i))
		}
	}
	args = append(args, "-c", "copy")
	switch t.Video { // ITU-T H.264 table 7-1 and H.265 table 7-1: supplemental messages, in which cameras and encoders write about themselves
	case "h264":
		args = append(args, "-bsf:v", "filter_units=remove_types=6")
	case "hevc":
		args = append(args, "-bsf:v", "filter_units=remove_types=39|40")
		if to.muxer == "mp4" {
			args = append(args, "-tag:v", "hvc1")
		}
	}
	args = append(args, nothingElse()...)
	switch to.muxer {
	case "mp4", "mov":
		args = append(args, "-movflags", "+faststart")
	case "mp3":
		args = append(args, "-id3v2_version", "0", "-write_id3v1", "0")
	}
	args = append(args, "-f", to.muxer, "file:"+out)
	_, err := cage.Job{
		Program: "ffmpeg", Args: args,
		Read: []string{abs}, Write: []string{filepath.Dir(out)},
		Limits: cage.Limits{Wall: opt.Timeout, MemoryBytes: 1 << 30, OutputBytes: opt.MaxBytes},
	}.Run(ctx)
	if err != nil {
		return explain(ctx, err, abs, path)
	}
	if st, serr := os.Stat(out); serr != nil || st.Size() == 0 {
		return problem(Broken, path, serr, "%s could not be copied without what it says about itself: send it again", path)
	}
	return nil
}

// nothingElse keeps every note about the recording out of the new file, the encoder's name included.
func nothingElse() []string {
	return []string{"-map_metadata", "-1", "-map_chapters", "-1", "-dn", "-sn", "-fflags", "+bitexact", "-flags:v", "+bitexact", "-flags:a", "+bitexact"}
}

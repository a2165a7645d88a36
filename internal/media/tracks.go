package media

import (
	"context"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
)

// Tracks says how a recording is packed: what of it is kept, and who can play it.
type Tracks struct {
	Container string // ffprobe's name
	Sound     string // codec of the sound track that the ear hears; "" none
	Video     string // codec of the moving picture, "" none; a cover picture is none
	Width     int    // of the picture as it is stored, before it is turned
	Height    int
	LengthS   float64 // as the file says; 0 unknown
	BitsPerS  float64 // of everything in the file, as the file says; 0 unknown
	Plain     bool    // the picture has 8 bits and half colour resolution, as every player wants

	soundIdx, videoIdx int
	startS             float64
}

type packed struct {
	Streams []struct {
		Index       int    `json:"index"`
		CodecType   string `json:"codec_type"`
		CodecName   string `json:"codec_name"`
		Channels    int    `json:"channels"`
		Width       int    `json:"width"`
		Height      int    `json:"height"`
		PixelFormat string `json:"pix_fmt"`
		Disp        struct {
			AttachedPic int `json:"attached_pic"`
			StillImage  int `json:"still_image"`
		} `json:"disposition"`
	} `json:"streams"`
	Format struct {
		Name      string `json:"format_name"`
		StartTime string `json:"start_time"`
		Duration  string `json:"duration"`
		BitRate   string `json:"bit_rate"`
	} `json:"format"`
}

// Examine asks what is in the file at path. A file without a sound track is no error here. The error is a *Error.
func Examine(ctx context.Context, path string, opt Options) (Tracks, error) {
	opt = opt.withDefaults()
	abs, err := look(path, opt)
	if err != nil {
		return Tracks{}, err
	}
	var p packed
	const entries = "format=format_name,start_time,duration,bit_rate:stream=index,codec_type,codec_name,channels,width,height,pix_fmt:stream_disposition=attached_pic,still_image"
	if err := askProbe(ctx, abs, path, entries, &p); err != nil {
		return Tracks{}, err
	}
	t := Tracks{Container: p.Format.Name, LengthS: seconds(p.Format.Duration), BitsPerS: seconds(p.Format.BitRate), soundIdx: -1, videoIdx: -1}
	t.startS, _ = strconv.ParseFloat(p.Format.StartTime, 64) // "N/A": 0
	for _, s := range p.Streams {
		known := !slices.Contains([]string{"", "none", "unknown"}, s.CodecName)
		switch {
		case s.CodecType == "video" && known && s.Disp.AttachedPic == 0 && s.Disp.StillImage == 0 && t.videoIdx < 0:
			t.videoIdx, t.Video, t.Width, t.Height = s.Index, s.CodecName, s.Width, s.Height
			t.Plain = s.PixelFormat == "yuv420p" || s.PixelFormat == "yuvj420p"
		case s.CodecType == "audio" && known && s.Channels > 0 && t.soundIdx < 0:
			t.soundIdx, t.Sound = s.Index, s.CodecName
		}
	}
	return t, nil
}

// shape is a container that we write.
type shape struct {
	muxer, ext   string
	sound, video string // media types of a file without and with pictures
}

// shapes by the beginning of ffprobe's name of the container that came.
var shapes = []struct {
	container string
	shape     shape
}{
	{"mov,", shape{"mp4", "mp4", "audio/mp4", "video/mp4"}},
	{"matroska,", shape{"webm", "webm", "audio/webm", "video/webm"}},
	{"ogg", shape{"ogg", "ogg", "audio/ogg", "audio/ogg"}},
	{"mp3", shape{"mp3", "mp3", "audio/mpeg", "audio/mpeg"}},
	{"wav", shape{"wav", "wav", "audio/wav", "audio/wav"}},
	{"w64", shape{"w64", "w64", "audio/x-w64", "audio/x-w64"}},
	{"flac", shape{"flac", "flac", "audio/flac", "audio/flac"}},
	{"aac", shape{"adts", "aac", "audio/aac", "audio/aac"}},
	{"amr", shape{"amr", "amr", "audio/amr", "audio/amr"}},
	{"caf", shape{"caf", "caf", "audio/x-caf", "audio/x-caf"}},
	{"aiff", shape{"aiff", "aiff", "audio/aiff", "audio/aiff"}},
}

// What each container may hold by its own specification, as far as phones and browsers write it.
var (
	inMP4  = []string{"", "h264", "hevc", "av1", "vp9", "mpeg4", "aac", "mp3", "opus", "ac3", "eac3", "alac", "flac"}
	inWebM = []string{"", "vp8", "vp9", "av1", "opus", "vorbis"}
)

// shapeFor is the container into which the tracks go without being encoded again.
func (t Tracks) shapeFor() (shape, bool) {
	for _, s := range shapes {
		if !strings.HasPrefix(t.Container, s.container) {
			continue
		}
		switch {
		case s.shape.muxer == "mp4" && !(slices.Contains(inMP4, t.Video) && slices.Contains(inMP4, t.Sound)):
			return shape{"mov", "mov", "video/quicktime", "video/quicktime"}, true // uncompressed sound, for one
		case s.shape.muxer == "webm" && !(slices.Contains(inWebM, t.Video) && slices.Contains(inWebM, t.Sound)):
			return shape{"matroska", "mkv", "audio/x-matroska", "video/x-matroska"}, true
		}
		return s.shape, true
	}
	return shape{}, false
}

// PlaysEverywhere says whether every browser plays the tracks as they are, once stripped. From memory
// of what Safari, Chrome and Firefox have in common, no source.
func (t Tracks) PlaysEverywhere() bool {
	switch {
	case t.Video == "h264":
		return t.Plain && strings.HasPrefix(t.Container, "mov,") && slices.Contains([]string{"", "aac", "mp3"}, t.Sound)
	case t.Video != "":
		return false
	case strings.HasPrefix(t.Container, "mov,"):
		return t.Sound == "aac" || t.Sound == "mp3"
	}
	return t.Container == "mp3" || t.Container == "wav" && t.Sound == "pcm_s16le"
}

// Limits of what is served as it came.
const (
	shortSide   = 720 // pixels of a picture; more shows no hand better on a page
	lightBits   = 3e6 // a second, of a video; a phone on a kitchen's network
	lightSounds = 3e5 // a second, of sound alone
)

// Light says whether the tracks are small enough to be served as they are.
func (t Tracks) Light() bool {
	if t.Video == "" {
		return t.BitsPerS <= lightSounds
	}
	return min(t.Width, t.Height) <= shortSide && t.BitsPerS <= lightBits
}

// output is a new file's place in dir.
func output(dir, name, ext string) string { return filepath.Join(dir, name+"."+ext) }

// Type is the media type of the tracks as they lie; "" for a container that is none of ours.
func (t Tracks) Type() string {
	s, ok := t.shapeFor()
	switch {
	case !ok:
		return ""
	case t.Video != "":
		return s.video
	}
	return s.sound
}

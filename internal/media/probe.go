package media

import (
	"bytes"
	"context"
	"encoding/json"
	"errors"
	"io/fs"
	"os"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"time"

	"antiphon/internal/cage"
)

// formats are the containers that phones, browsers and small recorders write. Formats that point at
// other files (playlists, concat, image sequences, subtitles) are not among them.
const formats = "mov,matroska,webm,ogg,wav,w64,mp3,flac,aac,amr,caf,aiff"

// guarded are the options before -i: nothing but this one file, no questions asked.
func guarded(abs string) []string {
	return []string{"-v", "error", "-protocol_whitelist", "file,pipe", "-format_whitelist", formats,
		"-i", "file:" + abs}
}

// look checks what can be known before a foreign program sees the file.
func look(path string, opt Options) (string, error) {
	abs, err := filepath.Abs(path)
	if err != nil {
		return "", problem(Unreadable, path, err, "%s cannot be found from here: give its full path", path)
	}
	st, err := os.Stat(abs)
	switch {
	case errors.Is(err, fs.ErrNotExist):
		return "", problem(NoFile, path, err, "%s: there is no such file; check the name", path)
	case err != nil:
		return "", problem(Unreadable, path, err, "%s cannot be looked at (%v): check the permissions of the folder", path, cause(err))
	case st.IsDir():
		return "", problem(IsFolder, path, nil, "%s is a folder: name one recording in it", path)
	case !st.Mode().IsRegular():
		return "", problem(Unreadable, path, nil, "%s is not an ordinary file: save the recording to disk first", path)
	case st.Size() == 0:
		return "", problem(Empty, path, nil, "%s is empty (0 bytes): ask for the recording again", path)
	case st.Size() > opt.MaxBytes:
		return "", problem(TooLarge, path, nil, "%s is larger than allowed (%d MB, limit %d MB): send a shorter or smaller recording",
			path, st.Size()>>20, opt.MaxBytes>>20)
	}
	f, err := os.Open(abs)
	if err != nil {
		return "", problem(Unreadable, path, err, "%s cannot be read (%v): change its permissions", path, cause(err))
	}
	f.Close()
	return abs, nil
}

func cause(err error) error {
	if pe, ok := errors.AsType[*fs.PathError](err); ok {
		return pe.Err
	}
	return err
}

// probed is the part of ffprobe's JSON that is used.
type probed struct {
	Streams []struct {
		Index      int    `json:"index"`
		CodecType  string `json:"codec_type"`
		CodecName  string `json:"codec_name"`
		SampleRate string `json:"sample_rate"`
		Channels   int    `json:"channels"`
		StartTime  string `json:"start_time"`
		Duration   string `json:"duration"`
		Disp       struct {
			AttachedPic int `json:"attached_pic"`
		} `json:"disposition"`
	} `json:"streams"`
	Format struct {
		Name      string `json:"format_name"`
		StartTime string `json:"start_time"`
		Duration  string `json:"duration"`
	} `json:"format"`
}

// askProbe has ffprobe say these entries about a file, as JSON.
func askProbe(ctx context.Context, abs, path, entries string, into any) error {
	var out bytes.Buffer
	_, err := cage.Job{
		Program: "ffprobe",
		Args:    append(guarded(abs), "-of", "json", "-show_entries", entries),
		Stdout:  &out,
		Read:    []string{abs},
		Limits:  cage.Limits{Wall: 30 * time.Second, MemoryBytes: 1 << 30, OutputBytes: 4 << 20},
	}.Run(ctx)
	if err != nil {
		return explain(ctx, err, abs, path)
	}
	if err := json.Unmarshal(out.Bytes(), into); err != nil {
		return problem(Internal, path, err, "%s: what ffprobe says about it cannot be understood; install Debian's ffmpeg 5.1 or later", path)
	}
	return nil
}

func probe(ctx context.Context, abs, path string, opt Options) (Info, error) {
	var p probed
	const entries = "format=format_name,start_time,duration:stream=index,codec_type,codec_name,sample_rate,channels,start_time,duration:stream_disposition=attached_pic"
	if err := askProbe(ctx, abs, path, entries, &p); err != nil {
		return Info{}, err
	}
	info := Info{Container: p.Format.Name, streamIdx: -1}
	info.ClaimedS = seconds(p.Format.Duration)
	info.startS, _ = strconv.ParseFloat(p.Format.StartTime, 64) // "N/A": 0
	for _, s := range p.Streams {
		switch {
		case s.CodecType == "video" && s.Disp.AttachedPic == 0:
			info.HasVideo = true
		case s.CodecType == "audio" && !slices.Contains([]string{"", "none", "unknown"}, s.CodecName) && s.Channels > 0 && info.streamIdx < 0:
			info.streamIdx, info.Codec, info.Channels = s.Index, s.CodecName, s.Channels
			info.RateHz, _ = strconv.Atoi(s.SampleRate)
			if d := seconds(s.Duration); d > 0 {
				start, _ := strconv.ParseFloat(s.StartTime, 64)
				end := start - max(0, info.startS) + d
				info.ClaimedS = end
				if strings.HasPrefix(info.Container, "mov") {
					info.endS = end // of its edit list; other containers count whole packets
				}
			}
		}
	}
	if info.streamIdx < 0 {
		if info.HasVideo {
			return info, problem(NoSound, path, nil, "%s is a video without sound: record again with the microphone allowed", path)
		}
		return info, problem(NoSound, path, nil, "%s holds no sound track that can be read: send it as m4a, mp3, wav or mp4", path)
	}
	switch info.Container {
	case "aac", "amr":
		info.ClaimedS = 0 // there is no header: ffprobe guesses from the first frames, and far off
	case "wav":
		info.ClaimedS /= wavShare(abs) // ffprobe goes by what is there
	}
	if limit := opt.MaxDuration.Seconds(); info.ClaimedS > limit {
		return info, tooLong(path, info.ClaimedS, opt)
	}
	return info, nil
}

func seconds(s string) float64 {
	v, err := strconv.ParseFloat(s, 64)
	if err != nil || !(v > 0) {
		return 0 // "N/A": unknown
	}
	return v
}

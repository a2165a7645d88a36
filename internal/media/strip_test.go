package media

import (
	"bytes"
	"encoding/json"
	"math"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strings"
	"testing"
)

const secret = "Tulpengasse" // stands in every note that a camera or an editor could leave

// told are tags as phones write them: ISO 6709 places, makers, times, titles.
func told() []string {
	var args []string
	for _, tag := range []string{"location=+48.2082+016.3738/" + secret, "location-eng=" + secret, "com.apple.quicktime.location.ISO6709=" + secret,
		"com.apple.quicktime.make=" + secret, "com.apple.quicktime.model=" + secret, "make=" + secret, "model=" + secret, "title=" + secret, "artist=" + secret,
		"comment=" + secret, "copyright=" + secret, "description=" + secret, "creation_time=2026-11-22T17:04:05Z", "encoder=" + secret, "date=2026"} {
		args = append(args, "-metadata", tag)
	}
	return append(args, "-metadata:s:a:0", "handler_name="+secret, "-metadata:s:a:0", "title="+secret)
}

func TestStripLeavesNothing(t *testing.T) {
	dir := t.TempDir()
	starts := []float64{0.3, 0.9123, 1.5, 2.9456}
	sound := wav(t, filepath.Join(dir, "in.wav"), 44100, strokes(44100, 4, starts...))
	chapters := write(t, filepath.Join(dir, "chapters.txt"), ";FFMETADATA1\ntitle="+secret+"\n[CHAPTER]\nTIMEBASE=1/1000\nSTART=0\nEND=2000\ntitle="+secret+"\n")
	cover := filepath.Join(dir, "cover.jpg")
	ffmpeg(t, "-f", "lavfi", "-i", "color=red:s=64x64:d=1", "-frames:v", "1", "-update", "1", "-metadata", "comment="+secret, cover)
	picture := []string{"-f", "lavfi", "-i", "testsrc=size=160x120:rate=10:duration=4"}
	sei := "h264_metadata=sei_user_data=086f3693-b7b3-4f2c-9653-21492feee5b8+" + secret

	for _, c := range []struct {
		name      string
		make      []string // of ffmpeg, after -i sound
		soundOnly bool
		wantType  string
	}{
		{"phone.mp4", slices.Concat(picture, []string{"-i", chapters, "-i", cover, "-map", "1:v", "-map", "0:a", "-map", "3:v", "-map_metadata", "2",
			"-c:v:0", "libx264", "-c:v:1", "mjpeg", "-disposition:v:1", "attached_pic", "-bsf:v:0", sei, "-c:a", "aac", "-timecode", "01:02:03:04", "-movflags", "use_metadata_tags"}), false, "video/mp4"},
		{"phone.mov", slices.Concat(picture, []string{"-map", "1:v", "-map", "0:a", "-c:v", "libx264", "-bsf:v", sei, "-c:a", "aac", "-timecode", "01:02:03:04", "-movflags", "use_metadata_tags"}), false, "video/mp4"},
		{"loud.mov", slices.Concat(picture, []string{"-map", "1:v", "-map", "0:a", "-c:v", "libx264", "-c:a", "pcm_s16le"}), false, "video/quicktime"},
		{"sound-only.mp4", slices.Concat(picture, []string{"-map", "1:v", "-map", "0:a", "-c:v", "libx264", "-c:a", "aac"}), true, "audio/mp4"},
		{"memo.m4a", []string{"-i", cover, "-map", "0:a", "-map", "1:v", "-c:v", "copy", "-disposition:v:0", "attached_pic", "-c:a", "aac"}, false, "audio/mp4"},
		{"browser.webm", slices.Concat(picture, []string{"-map", "1:v", "-map", "0:a", "-c:v", "libvpx", "-b:v", "300k", "-c:a", "libopus"}), false, "video/webm"},
		{"browser.mkv", slices.Concat(picture, []string{"-map", "1:v", "-map", "0:a", "-c:v", "libx264", "-bsf:v", sei, "-c:a", "libopus"}), false, "video/x-matroska"},
		{"voice.ogg", []string{"-c:a", "libopus"}, false, "audio/ogg"},
		{"song.mp3", []string{"-i", cover, "-map", "0:a", "-map", "1:v", "-c:v", "copy", "-id3v2_version", "3", "-write_id3v1", "1", "-c:a", "libmp3lame"}, false, "audio/mpeg"},
		{"take.flac", []string{"-i", cover, "-map", "0:a", "-map", "1:v", "-c:v", "copy", "-disposition:v:0", "attached_pic", "-c:a", "flac"}, false, "audio/flac"},
		{"take.wav", []string{"-c:a", "pcm_s16le", "-write_bext", "1", "-metadata", "originator=" + secret}, false, "audio/wav"},
		{"take.aiff", []string{"-c:a", "pcm_s16be", "-write_id3v2", "1"}, false, "audio/aiff"},
		{"raw.aac", []string{"-c:a", "aac"}, false, "audio/aac"},
	} {
		t.Run(c.name, func(t *testing.T) {
			in := convert(t, sound, c.name, append(c.make, told()...)...)
			if raw, err := os.ReadFile(in); err != nil || (!bytes.Contains(raw, []byte(secret)) && c.name != "raw.aac") {
				t.Fatalf("the file tells nothing from the start: %v", err)
			}
			got, err := Strip(t.Context(), in, t.TempDir(), c.soundOnly, Options{})
			if err != nil {
				t.Fatal(err)
			}
			if got.Type != c.wantType {
				t.Errorf("type %q, want %q", got.Type, c.wantType)
			}
			raw, err := os.ReadFile(got.Path)
			if err != nil {
				t.Fatal(err)
			}
			if i := bytes.Index(raw, []byte(secret)); i >= 0 {
				t.Errorf("still told at byte %d: %q", i, raw[max(0, i-20):i+30])
			}
			onlyPlainTags(t, got.Path)
			if got.Tracks.Video != "" && (c.soundOnly || !slices.Contains([]string{"h264", "vp8"}, got.Tracks.Video)) || got.Tracks.Sound == "" {
				t.Errorf("left are %+v", got.Tracks)
			}
			if got.Tracks.Video != "" && pictures(t, got.Path) != pictures(t, in) {
				t.Error("the pictures are others")
			}
			was, _ := decoded(t, in)
			is, _ := decoded(t, got.Path)
			if math.Abs(was.Seconds()-is.Seconds()) > 0.03 {
				t.Errorf("%.3f s became %.3f s", was.Seconds(), is.Seconds())
			}
			for _, s := range starts {
				if lag, like := lagS(is.Samples, was.Samples, s); !(math.Abs(lag) < 0.0005) || like < 0.9 {
					t.Errorf("the note at %.3f s moved by %.2f ms (likeness %.2f)", s, lag*1000, like)
				}
			}
		})
	}
}

// onlyPlainTags asks ffprobe for every tag, chapter and stream that is left.
func onlyPlainTags(t *testing.T, path string) {
	t.Helper()
	out, err := exec.Command("ffprobe", "-v", "error", "-of", "json", "-show_format", "-show_streams", "-show_chapters", path).Output()
	if err != nil {
		t.Fatal(err)
	}
	var p struct {
		Chapters []any
		Streams  []struct {
			Type string `json:"codec_type"`
			Disp struct {
				AttachedPic int `json:"attached_pic"`
			} `json:"disposition"`
			Tags map[string]string
		}
		Format struct{ Tags map[string]string }
	}
	if err := json.Unmarshal(out, &p); err != nil {
		t.Fatal(err)
	}
	tags := []map[string]string{p.Format.Tags}
	if len(p.Chapters) > 0 || len(p.Streams) > 2 {
		t.Errorf("%d chapters and %d streams are left", len(p.Chapters), len(p.Streams))
	}
	for _, s := range p.Streams {
		if tags = append(tags, s.Tags); s.Type != "audio" && s.Type != "video" || s.Disp.AttachedPic == 1 {
			t.Errorf("a %s stream is left (cover: %d)", s.Type, s.Disp.AttachedPic)
		}
	}
	// What the containers themselves demand, with the values that ffmpeg gives every file.
	plain := map[string]string{"major_brand": "*", "minor_version": "*", "compatible_brands": "*", "language": "und", "handler_name": "SoundHandler VideoHandler",
		"vendor_id": "[0][0][0][0] FFMP", "duration": "*", "encoder": "Lavf"}
	for _, m := range tags {
		for k, v := range m {
			if want, ok := plain[strings.ToLower(k)]; !ok || want != "*" && !strings.Contains(want, v) {
				t.Errorf("tag %s is left: %q", k, v)
			}
		}
	}
}

// pictures is a sum over every picture as it is shown.
func pictures(t *testing.T, path string) string {
	t.Helper()
	out, err := exec.Command("ffmpeg", "-nostdin", "-v", "error", "-i", path, "-map", "0:V:0", "-f", "hash", "-").Output()
	if err != nil {
		t.Fatal(err)
	}
	return string(out)
}

func TestStripKeepsTheTurn(t *testing.T) {
	dir := t.TempDir()
	sound := wav(t, filepath.Join(dir, "in.wav"), 44100, tone(44100, 440, 2, 0.5))
	flat := convert(t, sound, "flat.mp4", "-f", "lavfi", "-i", "testsrc=size=160x120:rate=10:duration=2", "-map", "1:v", "-map", "0:a", "-c:v", "libx264", "-c:a", "aac")
	held := convert(t, flat, "held.mp4", "-c", "copy", "-metadata:s:v:0", "rotate=90")
	got, err := Strip(t.Context(), held, t.TempDir(), false, Options{})
	if err != nil {
		t.Fatal(err)
	}
	if was, is := pictures(t, held), pictures(t, got.Path); was != is || was == pictures(t, flat) {
		t.Errorf("turned pictures: %q became %q", was, is)
	}
	r, err := Rendition(t.Context(), got.Path, t.TempDir(), got.Tracks, Options{})
	if err != nil || r.Tracks.Width != 120 || r.Tracks.Height != 160 {
		t.Errorf("%+v, %v: want the picture upright, 120 × 160", r.Tracks, err)
	}
}

func TestStripRefuses(t *testing.T) {
	dir := t.TempDir()
	for name, file := range map[string]string{
		"text":     write(t, filepath.Join(dir, "text.mp4"), "no recording, "+strings.Repeat("only words. ", 200)),
		"playlist": write(t, filepath.Join(dir, "list.m3u8"), "#EXTM3U\n#EXTINF:1,\nfile:///etc/passwd\n"),
		"empty":    write(t, filepath.Join(dir, "empty.mp4"), ""),
	} {
		out := t.TempDir()
		if c, err := Strip(t.Context(), file, out, false, Options{}); err == nil {
			t.Errorf("%s: taken as %+v", name, c)
		} else if say := err.Error(); !strings.Contains(say, filepath.Base(file)) {
			t.Errorf("%s: %q does not name the file", name, say)
		}
	}
}

package media

import (
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"math"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"testing"
	"time"
)

// flash is a black picture that turns white at 1 s, so that picture and sound can be compared.
func flash(size string, s float64) []string {
	return []string{"-f", "lavfi", "-i", fmt.Sprintf("color=black:s=%s:r=25:d=%v", size, s), "-map", "1:v", "-map", "0:a", "-vf", "drawbox=t=fill:color=white:enable='gte(t,1)'", "-shortest"}
}

// whiteFrom is the number of the first bright picture from the given one on.
func whiteFrom(t *testing.T, path string, from int) int {
	t.Helper()
	var out bytes.Buffer
	cmd := exec.Command("ffmpeg", "-nostdin", "-v", "error", "-i", path, "-map", "0:v", "-vf", "crop=iw/4:ih/4,scale=1:1:flags=area", "-f", "rawvideo", "-pix_fmt", "gray", "-")
	cmd.Stdout = &out
	if err := cmd.Run(); err != nil {
		t.Fatal(err)
	}
	for i, v := range out.Bytes() {
		if i >= from && v > 200 {
			return i
		}
	}
	return -1
}

// loudnessOf asks ffmpeg's own meter, libavfilter's ebur128, about a stretch.
func loudnessOf(t *testing.T, path string, s Span) float64 {
	t.Helper()
	out, err := exec.Command("ffmpeg", "-nostdin", "-hide_banner", "-i", path, "-map", "0:a", "-af",
		fmt.Sprintf("atrim=%v:%v,ebur128", s.FromS, s.ToS), "-f", "null", "-").CombinedOutput()
	if err != nil {
		t.Fatal(err)
	}
	i := strings.LastIndex(string(out), "I:")
	v, err := strconv.ParseFloat(strings.Fields(string(out)[i+2:])[0], 64)
	if err != nil {
		t.Fatal(err)
	}
	return v
}

type seen struct {
	Streams []struct {
		CodecName string `json:"codec_name"`
		Profile   string `json:"profile"`
		Width     int    `json:"width"`
		Height    int    `json:"height"`
		Frames    string `json:"nb_read_packets"`
		Start     string `json:"start_time"`
		Duration  string `json:"duration"`
	} `json:"streams"`
	Format struct {
		Duration string            `json:"duration"`
		Tags     map[string]string `json:"tags"`
	} `json:"format"`
}

func ffprobed(t *testing.T, path string) (s seen) {
	t.Helper()
	out, err := exec.Command("ffprobe", "-v", "error", "-count_packets", "-show_streams", "-show_format", "-of", "json", path).Output()
	if err == nil {
		err = json.Unmarshal(out, &s)
	}
	if err != nil {
		t.Fatal(err)
	}
	return s
}

func number(t *testing.T, s string) float64 {
	t.Helper()
	v, err := strconv.ParseFloat(s, 64)
	if err != nil {
		t.Fatal(err)
	}
	return v
}

// TestFilm joins what phones and browsers record: other sizes, turns, rates, codecs and levels.
func TestFilm(t *testing.T) {
	dir := t.TempDir()
	const lengthS = 2.5123
	at := []float64{1.0, 1.7}
	make := func(level float64) string {
		x := strokes(44100, lengthS, at...)
		for i := range x {
			x[i] *= level
		}
		return wav(t, filepath.Join(dir, fmt.Sprintf("%v.wav", level)), 44100, x)
	}
	loud, soft, mid := make(1), make(0.03), make(0.3)
	x264 := []string{"-c:v", "libx264", "-preset", "ultrafast", "-pix_fmt", "yuv420p", "-c:a", "aac"}
	paths := []string{
		convert(t, mid, "lying.mp4", append(flash("640x360", lengthS), x264...)...),
		convert(t, soft, "browser.webm", append(flash("320x240", lengthS), append([]string{"-c:v", "libvpx", "-c:a", "libopus"}, told()...)...)...),
		convert(t, loud, "words.m4a", "-c:a", "aac"),
		convert(t, mid, "uneven.mkv", append(flash("854x480", lengthS), "-vf", "drawbox=t=fill:color=white:enable='gte(t,1)',select='not(mod(n,3))+gt(n,40)'", "-vsync", "vfr", "-c:v", "libvpx-vp9", "-cpu-used", "8", "-deadline", "realtime", "-c:a", "libopus")...),
	}
	stored := convert(t, mid, "stored.mp4", append(flash("640x360", lengthS), x264...)...)
	standing := filepath.Join(dir, "standing.mp4")
	ffmpeg(t, "-i", stored, "-c", "copy", "-metadata:s:v", "rotate=90", standing)
	paths = append(paths, standing)
	var items []FilmItem
	carded := 0
	for _, p := range paths {
		items = append(items, FilmItem{Path: p, Card: func(w, h int) ([]byte, error) {
			carded++
			return plainPaper(w, h)
		}})
	}
	out := t.TempDir()
	j, err := Film(t.Context(), items, out, FilmOptions{})
	if err != nil {
		t.Fatal(err)
	}
	if j.Type != "video/mp4" || carded != 1 || len(j.Chapters) != len(items) {
		t.Errorf("%+v, %d cards", j, carded)
	}
	b, err := os.ReadFile(j.Path)
	if err != nil {
		t.Fatal(err)
	}
	if moov, mdat := bytes.Index(b, []byte("moov")), bytes.Index(b, []byte("mdat")); moov < 0 || moov > mdat {
		t.Errorf("its table is not in front: moov at %d, mdat at %d", moov, mdat)
	}
	if bytes.Contains(b, []byte(secret)) {
		t.Error("it tells what a recording told")
	}
	onlyPlainTags(t, j.Path)
	s := ffprobed(t, j.Path)
	frames := 0
	for i, c := range j.Chapters {
		if c.FromS != float64(frames)/30 {
			t.Errorf("chapter %d begins at %v", i, c.FromS)
		}
		frames += int(math.Round((c.ToS - c.FromS) * 30))
		if d := c.ToS - c.FromS; d < lengthS-0.03 || d > lengthS+0.1 {
			t.Errorf("chapter %d is %v s long, its recording %v", i, d, lengthS)
		}
	}
	if len(s.Streams) != 2 || s.Streams[0].CodecName != "h264" || s.Streams[0].Profile != "Main" || s.Streams[1].CodecName != "aac" || s.Streams[0].Width != 854 || s.Streams[0].Height != 480 {
		t.Errorf("%+v", s.Streams)
	}
	if n := number(t, s.Streams[0].Frames); int(n) != frames {
		t.Errorf("%v pictures, want %d", n, frames)
	}
	if d := number(t, s.Format.Duration); math.Abs(d-j.DurationS) > 0.005 {
		t.Errorf("it is %v s long, not %v", d, j.DurationS)
	}
	film, _ := decoded(t, j.Path)
	var worstMs float64
	for i, c := range j.Chapters {
		was, _ := decoded(t, paths[i])
		part := PCM{Samples: film.Samples[int(c.FromS*float64(film.RateHz)):], RateHz: film.RateHz}
		for _, s := range at {
			lag, like := lagS(part.Samples, was.Samples, s)
			if worstMs = max(worstMs, math.Abs(lag)*1000); !(math.Abs(lag) < 0.001) || like < 0.5 {
				t.Errorf("item %d: the note at %v s moved by %.2f ms (likeness %.2f)", i, s, lag*1000, like)
			}
		}
		if got := loudnessOf(t, j.Path, c); math.Abs(got-j.Lufs) > 0.6 {
			t.Errorf("item %d is at %.1f LUFS by ffmpeg's ebur128, want %.1f", i, got, j.Lufs)
		}
		if i == 2 {
			continue // the card
		}
		// Item 3 has a picture only every third time, so its change may be seen late by two of 25 a second.
		from := int(math.Round(c.FromS * 30))
		if w := whiteFrom(t, j.Path, from) - from; w < 29 || w > 34 {
			t.Errorf("item %d: the picture changes at %v s of it, its sound at 1 s", i, float64(w)/30)
		}
	}
	t.Logf("notes are within %.2f ms of their place; all items at %.1f LUFS", worstMs, j.Lufs)
	if l, err := os.ReadDir(out); err != nil || len(l) != 1 {
		t.Errorf("left in the folder: %v, %v", l, err)
	}
}

// TestFilmOfSound: without a picture it is a file of sound.
func TestFilmOfSound(t *testing.T) {
	dir := t.TempDir()
	a := convert(t, wav(t, filepath.Join(dir, "a.wav"), 48000, strokes(48000, 1.5, 0.2)), "a.ogg", "-c:a", "libopus")
	quiet := wav(t, filepath.Join(dir, "b.wav"), 22050, make([]float64, 22050))
	c := wav(t, filepath.Join(dir, "c.wav"), 44100, tone(44100, 440, 1.01, 0.9))
	j, err := Film(t.Context(), []FilmItem{{Path: a}, {Path: quiet}, {Path: c}}, dir, FilmOptions{})
	if err != nil {
		t.Fatal(err)
	}
	s := ffprobed(t, j.Path)
	if j.Type != "audio/mp4" || len(s.Streams) != 1 || s.Streams[0].CodecName != "aac" || j.Width != 0 {
		t.Errorf("%+v, %+v", j, s.Streams)
	}
	want := []Span{{0, 1.5}, {1.5, 2.5}, {2.5, 2.5 + 31.0/30}}
	if !slices.EqualFunc(j.Chapters, want, func(a, b Span) bool { return math.Abs(a.FromS-b.FromS) < 1e-9 && math.Abs(a.ToS-b.ToS) < 1e-9 }) {
		t.Errorf("chapters %v, want %v", j.Chapters, want)
	}
	pcm, _ := decoded(t, j.Path)
	if got := math.Abs(pcm.Seconds() - j.DurationS); got > 0.001 {
		t.Errorf("%v s of sound, want %v", pcm.Seconds(), j.DurationS)
	}
	for i := int(1.55 * float64(pcm.RateHz)); i < int(2.45*float64(pcm.RateHz)); i++ {
		if math.Abs(float64(pcm.Samples[i])) > 1e-3 {
			t.Fatalf("the silent item sounds at %v s", float64(i)/float64(pcm.RateHz))
		}
	}
	if got := loudnessOf(t, j.Path, j.Chapters[2]); math.Abs(got-j.Lufs) > 0.6 || j.Lufs > -17.9 {
		t.Errorf("a tone of full scale is at %.1f LUFS, target %.1f", got, j.Lufs)
	}
}

// TestFilmOfOddItems: what a camera may leave behind is joined, or the item is named that is to blame.
func TestFilmOfOddItems(t *testing.T) {
	dir := t.TempDir()
	good := wav(t, filepath.Join(dir, "good.wav"), 22050, tone(22050, 440, 0.5, 0.5))
	x264 := []string{"-c:v", "libx264", "-preset", "ultrafast", "-pix_fmt", "yuv420p", "-c:a", "aac"}
	for name, c := range map[string]struct {
		path string
		kind Kind // "" it is joined
	}{
		"no sound":     {convert(t, good, "mute.mp4", append(append(flash("320x240", 0.5), x264...), "-an")...), ""}, // it is seen, and silent
		"one picture":  {convert(t, good, "one.mp4", append(append(flash("320x240", 0.5), "-frames:v", "1"), x264...)...), ""},
		"large":        {convert(t, good, "large.mp4", append(flash("3840x2160", 0.3), x264...)...), ""},
		"uneven sides": {convert(t, good, "uneven.webm", append(flash("321x241", 0.5), "-c:v", "libvpx", "-c:a", "libopus")...), ""},
		"one sample":   {wav(t, filepath.Join(dir, "one.wav"), 22050, []float64{0.5}), NoSound},
		"no sample":    {wav(t, filepath.Join(dir, "no.wav"), 22050, nil), NoSound},
		"of no bytes":  {write(t, filepath.Join(dir, "empty.webm"), ""), Empty},
	} {
		out := t.TempDir()
		j, err := Film(t.Context(), []FilmItem{{Path: good, Card: plainPaper}, {Path: c.path, Card: plainPaper}}, out, FilmOptions{})
		if c.kind != "" {
			if me, ok := errors.AsType[*Error](err); !ok || me.Path != c.path {
				t.Errorf("%s: %v", name, err)
			}
			continue
		}
		if err != nil || len(j.Chapters) != 2 || j.Chapters[1].ToS != j.DurationS {
			t.Errorf("%s: %+v, %v", name, j, err)
		}
	}
}

// TestFilmRefuses names the item that is to blame.
func TestFilmRefuses(t *testing.T) {
	dir := t.TempDir()
	good := wav(t, filepath.Join(dir, "good.wav"), 22050, tone(22050, 440, 1.2, 0.5))
	torn := write(t, filepath.Join(dir, "torn.webm"), "no recording")
	for _, c := range []struct {
		name  string
		items []FilmItem
		opt   FilmOptions
		kind  Kind
		path  string
	}{
		{"nothing", nil, FilmOptions{}, NoSound, ""},
		{"torn", []FilmItem{{Path: good}, {Path: torn}}, FilmOptions{}, NotMedia, torn},
		{"none", []FilmItem{{Path: filepath.Join(dir, "none")}}, FilmOptions{}, NoFile, filepath.Join(dir, "none")},
		{"long item", []FilmItem{{Path: good}}, FilmOptions{Media: Options{MaxDuration: time.Second}}, TooLong, good},
		{"long film", []FilmItem{{Path: good}, {Path: good}}, FilmOptions{Most: 2 * time.Second}, TooLong, ""},
	} {
		out := t.TempDir()
		_, err := Film(t.Context(), c.items, out, c.opt)
		if me, ok := errors.AsType[*Error](err); !ok || me.Kind != c.kind || me.Path != c.path {
			t.Errorf("%s: %v", c.name, err)
		}
		if l, err := os.ReadDir(out); err != nil || len(l) != 0 {
			t.Errorf("%s left %v, %v", c.name, l, err)
		}
	}
}

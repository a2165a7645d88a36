package media

import (
	"context"
	"errors"
	"math"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"
)

func write(t testing.TB, path string, content string) string {
	t.Helper()
	if err := os.WriteFile(path, []byte(content), 0o644); err != nil {
		t.Fatal(err)
	}
	return path
}

// cut copies the first part of a file.
func cut(t testing.TB, from, name string, share float64) string {
	t.Helper()
	b, err := os.ReadFile(from)
	if err != nil {
		t.Fatal(err)
	}
	return write(t, filepath.Join(filepath.Dir(from), name), string(b[:int(share*float64(len(b)))]))
}

func TestBadRecordings(t *testing.T) {
	dir := t.TempDir()
	at := func(name string) string { return filepath.Join(dir, name) }
	src := wav(t, at("tone.wav"), 16000, tone(16000, 440, 2, 0.5))
	m4a := convert(t, src, "tone.m4a", "-c:a", "aac")
	silentFilm := at("silent.mp4")
	ffmpeg(t, "-f", "lavfi", "-i", "testsrc=size=64x48:rate=10:duration=1", "-c:v", "mpeg4", silentFilm)
	if err := os.Mkdir(at("folder.mp4"), 0o755); err != nil {
		t.Fatal(err)
	}
	binary := strings.Repeat("\x00\x01\x02\xff\xfe\xfa\xf3\xe0", 4000)

	for _, c := range []struct {
		name string
		path string
		kind Kind
		says string
	}{
		{"no such file", at("none.m4a"), NoFile, "no such file"},
		{"no such folder", at("no/where.m4a"), NoFile, "no such file"},
		{"file as a folder", filepath.Join(src, "x.m4a"), Unreadable, "not a directory"},
		{"folder", at("folder.mp4"), IsFolder, "folder"},
		{"device", "/dev/zero", Unreadable, "ordinary file"},
		{"empty", write(t, at("empty.m4a"), ""), Empty, "empty"},
		{"text", write(t, at("notes.txt"), "Practise bars 3 to 8.\n"), NotMedia, "not a recording"},
		{"text renamed", write(t, at("notes.mp4"), strings.Repeat("Practise bars 3 to 8 slowly.\n", 300)), NotMedia, "not a recording"},
		{"score", write(t, at("score.m4a"), `<?xml version="1.0"?><score-partwise version="4.0"></score-partwise>`), NotMedia, "not a recording"},
		{"bytes", write(t, at("bytes.mp3"), binary), NotMedia, "not a recording"},
		{"picture", convertPicture(t, at("photo.jpg")), NotMedia, "not a recording"},
		{"no table of contents", cut(t, m4a, "half.m4a", 0.5), Broken, "cut off"},
		{"header only", cut(t, src, "header.wav", 44.0/64044), NoSound, "0 seconds"},
		{"silent film", silentFilm, NoSound, "video without sound"},
		{"HLS playlist", write(t, at("list.mp4"), "#EXTM3U\n#EXT-X-TARGETDURATION:10\n#EXTINF:10,\n"+src+"\n#EXT-X-ENDLIST\n"), NotMedia, "points elsewhere"},
		{"HLS playlist as m3u8", write(t, at("list.m3u8"), "#EXTM3U\n#EXT-X-TARGETDURATION:10\n#EXTINF:10,\n"+src+"\n#EXT-X-ENDLIST\n"), NotMedia, "points elsewhere"},
		{"concat script", write(t, at("list.ffconcat"), "ffconcat version 1.0\nfile '"+src+"'\n"), NotMedia, "points elsewhere"},
		{"concat script renamed", write(t, at("list.wav"), "ffconcat version 1.0\nfile '"+src+"'\n"), NotMedia, "points elsewhere"},
		{"DASH manifest", write(t, at("dash.mp4"), `<?xml version="1.0"?><MPD xmlns="urn:mpeg:dash:schema:mpd:2011" type="static"><Period><AdaptationSet mimeType="audio/mp4"><Representation id="1"><BaseURL>`+src+`</BaseURL></Representation></AdaptationSet></Period></MPD>`), NotMedia, ""},
		{"session description", write(t, at("call.sdp"), "v=0\no=- 0 0 IN IP4 127.0.0.1\ns=x\nc=IN IP4 127.0.0.1\nt=0 0\nm=audio 5004 RTP/AVP 0\n"), NotMedia, ""},
	} {
		_, _, err := Decode(t.Context(), c.path, Options{})
		me, ok := errors.AsType[*Error](err)
		if !ok || me.Kind != c.kind || !strings.Contains(me.Say, c.says) || !strings.Contains(me.Say, c.path) || strings.Contains(me.Say, "\n") {
			t.Errorf("%s: %v (%+v), want kind %s and %q", c.name, err, me, c.kind, c.says)
		}
	}
}

func convertPicture(t testing.TB, path string) string {
	t.Helper()
	ffmpeg(t, "-f", "lavfi", "-i", "testsrc=size=64x48:rate=1:duration=1", "-frames:v", "1", path)
	return path
}

func TestLimits(t *testing.T) {
	dir := t.TempDir()
	src := wav(t, filepath.Join(dir, "tone.wav"), 8000, tone(8000, 440, 20, 0.5))
	long := filepath.Join(dir, "long.m4a") // 3 hours of silence, 1 MB
	ffmpeg(t, "-f", "lavfi", "-i", "anullsrc=r=8000:cl=mono:d=10800", "-c:a", "aac", "-b:a", "8k", long)
	kind := func(path string, o Options) Kind {
		_, _, err := Decode(t.Context(), path, o)
		if me, ok := errors.AsType[*Error](err); ok {
			return me.Kind
		}
		return ""
	}
	// A WAV may say how long it is and hold more: here the header says 1 s and 20 s follow.
	lying, err := os.ReadFile(src)
	if err != nil {
		t.Fatal(err)
	}
	lies := filepath.Join(dir, "lies.flac")
	write(t, lies, string(lying))
	flac := convert(t, src, "honest.flac")
	b, err := os.ReadFile(flac)
	if err != nil {
		t.Fatal(err)
	}
	// STREAMINFO of FLAC (RFC 9639, section 8.2): the total of samples is 36 bits that end at byte 26
	// of the file. 8000 samples are 1 s.
	b[21] &= 0xf0
	copy(b[22:26], []byte{0, 0, 0x1f, 0x40})
	write(t, lies, string(b))

	ended, cancel := context.WithCancel(t.Context())
	cancel()
	_, _, err = Decode(ended, src, Options{})
	if me, ok := errors.AsType[*Error](err); !ok || me.Kind != Stopped {
		t.Errorf("stopped by the caller: %v", err)
	}
	for _, c := range []struct {
		name string
		got  Kind
		want Kind
	}{
		{"3 hours", kind(long, Options{}), TooLong},
		{"20 s, limit 10 s", kind(src, Options{MaxDuration: 10 * time.Second}), TooLong},
		{"20 s, limit 20 s", kind(src, Options{MaxDuration: 20 * time.Second}), ""},
		{"header says 1 s, limit 10 s", kind(lies, Options{MaxDuration: 10 * time.Second}), TooLong},
		{"too many bytes", kind(src, Options{MaxBytes: 1000}), TooLarge},
		{"no time", kind(src, Options{Timeout: time.Nanosecond}), TooSlow},
	} {
		if c.got != c.want {
			t.Errorf("%s: kind %q, want %q", c.name, c.got, c.want)
		}
	}
}

// TestCutOff: what arrived of an upload that broke is heard, and the take says so where its format lets it.
func TestCutOff(t *testing.T) {
	dir := t.TempDir()
	src := wav(t, filepath.Join(dir, "tone.wav"), 48000, tone(48000, 440, 10, 0.5))
	for _, c := range []struct {
		name string
		said bool // the header holds the length
		args []string
	}{
		{"a.wav", true, nil},
		{"a.flac", true, nil},
		{"a.webm", true, []string{"-c:a", "libopus", "-vbr", "off"}},
		{"a.mp3", true, []string{"-c:a", "libmp3lame"}},
		{"a.ogg", false, []string{"-c:a", "libopus", "-vbr", "off"}},
		{"a.aac", false, []string{"-c:a", "aac"}},
		{"front.m4a", true, []string{"-c:a", "aac", "-movflags", "+faststart"}},
		{"fragments.mp4", false, []string{"-c:a", "aac", "-movflags", "+frag_keyframe+delay_moov", "-frag_duration", "500000"}},
	} {
		p, info, err := Decode(t.Context(), cut(t, convert(t, src, c.name, c.args...), "cut-"+c.name, 0.6), Options{})
		if err != nil || math.Abs(p.Seconds()-6) > 1 || info.Truncated != c.said {
			t.Errorf("%s: %.2f s, %v, truncated %v, notes %q; want about 6 s, %v", c.name, p.Seconds(), err, info.Truncated, info.Notes, c.said)
		}
	}
}

func TestDamagedInTheMiddle(t *testing.T) {
	dir := t.TempDir()
	src := wav(t, filepath.Join(dir, "tone.wav"), 48000, tone(48000, 440, 10, 0.5))
	m4a := convert(t, src, "a.m4a", "-c:a", "aac")
	b, err := os.ReadFile(m4a)
	if err != nil {
		t.Fatal(err)
	}
	for i := len(b) / 3; i < len(b)/3+2000; i++ {
		b[i] = byte(i * 7)
	}
	p, info, err := Decode(t.Context(), write(t, filepath.Join(dir, "bad.m4a"), string(b)), Options{})
	if err != nil || math.Abs(p.Seconds()-10) > 0.3 || !info.Damaged || len(info.Notes) != 1 {
		t.Errorf("%v, %.2f s, %+v", err, p.Seconds(), info)
	}
}

// TestNames: a file name is never an option, a protocol, a pattern or a second line.
func TestNames(t *testing.T) {
	dir := t.TempDir()
	src := wav(t, filepath.Join(dir, "tone.wav"), 8000, tone(8000, 440, 1, 0.5))
	b, err := os.ReadFile(src)
	if err != nil {
		t.Fatal(err)
	}
	t.Chdir(dir)
	for _, name := range []string{"-i", "--help", "concat:tone.wav|tone.wav", "file:tone.wav", "http:tone", "pipe:0", "data:audio;base64,AAAA",
		"take %03d.wav", "a\nb.wav", "a\x1b[31mred.wav", "spaß & 'quotes' \"$HOME\" `id`.wav", "\xff\xfe.wav", ",.wav", "*.wav", strings.Repeat("x", 250)} {
		if err := os.WriteFile(name, b, 0o644); err != nil {
			t.Errorf("%q: %v", name, err)
			continue
		}
		if p, _, err := Decode(t.Context(), name, Options{}); err != nil || p.Seconds() != 1 {
			t.Errorf("%q: %v, %v s", name, err, p.Seconds())
		}
	}
}

// TestOtherFilesStayShut: a QuickTime file may keep its sound in another file. That one is not opened.
func TestOtherFilesStayShut(t *testing.T) {
	dir := t.TempDir()
	src := wav(t, filepath.Join(dir, "tone.wav"), 8000, tone(8000, 440, 1, 0.5))
	link := filepath.Join(dir, "link.wav") // a link is followed: the user named it
	if err := os.Symlink(src, link); err != nil {
		t.Skip(err)
	}
	if p, _ := decoded(t, link); p.Seconds() != 1 {
		t.Errorf("through a link: %v s", p.Seconds())
	}
	for _, list := range []string{
		"#EXTM3U\n#EXTINF:1,\nfile://" + src + "\n",
		"ffconcat version 1.0\nfile tone.wav\n",
		"[playlist]\nFile1=" + src + "\n",
		src + "\n",
	} {
		for _, ext := range []string{"mp4", "wav", "mp3", "m3u8", "txt", "pls"} {
			p, _, err := Decode(t.Context(), write(t, filepath.Join(dir, "list."+ext), list), Options{})
			if err == nil || len(p.Samples) > 0 {
				t.Errorf("%q as .%s: %d samples, %v", list, ext, len(p.Samples), err)
			}
		}
	}
}

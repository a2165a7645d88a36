package media

import (
	"bytes"
	"errors"
	"fmt"
	"math"
	"os/exec"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"unicode/utf8"
)

func vtt(t testing.TB, cues []Cue) string {
	t.Helper()
	var b bytes.Buffer
	if err := WriteVTT(&b, cues); err != nil {
		t.Fatal(err)
	}
	return b.String()
}

// TestVTTWritten: what is written is what the W3C's grammar asks, byte for byte, and ffmpeg's own reader
// finds the same times.
func TestVTTWritten(t *testing.T) {
	got := vtt(t, []Cue{{0, 1.5, "Play slowly."}, {1.5, 3661.0125, "a < b & c --> d\n\n  two  lines\x00\x1b"}, {4, 4, "never"}, {5, 6, " \n "}, {-1, 2, "x"}, {7, math.Inf(1), "x"}})
	const want = "WEBVTT\n\n00:00:00.000 --> 00:00:01.500\nPlay slowly.\n\n00:00:01.500 --> 01:01:01.013\na &lt; b &amp; c --&gt; d\ntwo lines\n"
	if got != want { // W3C WebVTT, 4.1: file structure, cue timings, cue text
		t.Errorf("got %q, want %q", got, want)
	}
	in := write(t, filepath.Join(t.TempDir(), "in.vtt"), got)
	out, err := exec.Command("ffprobe", "-v", "error", "-show_entries", "packet=pts_time,duration_time", "-of", "csv=p=0", in).CombinedOutput()
	if err != nil || strings.Join(strings.Fields(string(out)), " ") != "0.000000,1.500000 1.500000,3659.513000" {
		t.Errorf("ffprobe reads %q, %v", out, err)
	}
}

func TestVTTRead(t *testing.T) {
	const in = "\uFEFFWEBVTT - a title\r\nKind: captions\r\n\r\nSTYLE\r\n::cue { color: red }\r\n\r\nNOTE a comment\r\nover lines\r\n\r\n" +
		"first\r\n01:02.500 --> 01:04.000 align:start position:10%\r\n<v Teacher>Play <b>it</b> &amp; rest.<00:00:01.000>\r\nAgain &lt;softly&gt;\r\n\r\n" +
		"01:00:00.000-->01:00:01.000\rlate\r\r00:05.000 --> 00:06.000\r\r"
	got, err := ReadVTT(strings.NewReader(in))
	want := []Cue{{62.5, 64, "Play it & rest.\nAgain <softly>"}, {3600, 3601, "late"}}
	if err != nil || !slices.Equal(got, want) {
		t.Errorf("got %v %v, want %v", got, err, want)
	}
	for _, c := range []struct {
		in, says string
		is       error
	}{
		{"no captions", "", ErrNotVTT}, {"", "", ErrNotVTT}, {"WEBVTTX\n", "", ErrNotVTT},
		{"WEBVTT\n\n00:05.000 --> 00:04.000\nx\n", "line 3", nil}, {"WEBVTT\n\nid\n5 --> 6\nx\n", "line 4", nil},
		{"WEBVTT\n\n00:61.000 --> 00:62.000\nx\n", "line 3", nil}, {"WEBVTT\n\n00:01.000 -->\nx\n", "line 3", nil},
		{"WEBVTT\n\n00:01.000 --> 00:02.000\n" + strings.Repeat("x", mostCueText+1), "line 3", ErrVTTSize},
		{"WEBVTT\n" + strings.Repeat("x", mostVTTBytes), "", ErrVTTSize},
		{"WEBVTT\n" + strings.Repeat("\n00:01.000 --> 00:02.000\nx\n", mostCues+1), "", ErrVTTSize},
	} {
		_, err := ReadVTT(strings.NewReader(c.in))
		if err == nil || !strings.Contains(err.Error(), c.says) || c.is != nil && !errors.Is(err, c.is) {
			t.Errorf("%.40q: %v, want %q %v", c.in, err, c.says, c.is)
		}
	}
}

// TestCaptions: a plain text takes the whole time, each piece its share.
func TestCaptions(t *testing.T) {
	text := "Now the thumb. It plays the bass alone, very slowly, and the fingers wait on their strings until it has come back.\n\nThen both."
	cues, err := Captions(text, 30)
	if err != nil || len(cues) < 3 {
		t.Fatalf("%v, %v", cues, err)
	}
	var words []string
	at, letters := 0.0, 0
	for _, c := range cues {
		letters += utf8.RuneCountInString(c.Text)
	}
	for _, c := range cues {
		if math.Abs(c.FromS-at) > 1e-9 {
			t.Errorf("%q begins at %v, the one before ended at %v", c.Text, c.FromS, at)
		}
		if share := float64(utf8.RuneCountInString(c.Text)) / float64(letters) * 30; math.Abs(c.ToS-c.FromS-share) > 1e-9 {
			t.Errorf("%q stands %v s, want %v", c.Text, c.ToS-c.FromS, share)
		}
		lines := strings.Split(c.Text, "\n")
		for _, l := range lines {
			if utf8.RuneCountInString(l) > lineLength {
				t.Errorf("line %q is too long", l)
			}
		}
		if len(lines) > 2 {
			t.Errorf("%q has %d lines", c.Text, len(lines))
		}
		at = c.ToS
		words = append(words, strings.Fields(c.Text)...)
	}
	if math.Abs(at-30) > 1e-9 || !slices.Equal(words, strings.Fields(text)) {
		t.Errorf("to %v s, %q", at, words)
	}
	got, err := Captions("WEBVTT\n\n00:01.000 --> 00:09.000\none\n\n00:12.000 --> 00:13.000\ntwo\n", 5)
	if err != nil || !slices.Equal(got, []Cue{{1, 5, "one"}}) {
		t.Errorf("got %v, %v", got, err)
	}
	if got := Shifted(got, 10); got[0] != (Cue{11, 15, "one"}) {
		t.Errorf("shifted to %v", got)
	}
	for _, c := range []struct {
		text string
		s    float64
	}{{"", 5}, {" \n\t", 5}, {"x", 0}, {"x", math.NaN()}, {"x", math.Inf(1)}} {
		if got, err := Captions(c.text, c.s); err != nil || len(got) > 0 {
			t.Errorf("%q over %v s: %v, %v", c.text, c.s, got, err)
		}
	}
}

// FuzzVTT: what is read is written so that it reads the same.
func FuzzVTT(f *testing.F) {
	for _, s := range []string{"WEBVTT\n\n00:01.000 --> 00:02.000\nx\n", "WEBVTT\n\na\n00:01.000 --> 00:02.000 line:0\n<c>x</c> &amp; &lt;\n\n", "plain text --> here", "WEBVTT\n\n00:00.000 --> 00:00.001\n<\n>"} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, in string) {
		cues, err := Captions(in, 100)
		if err != nil {
			return
		}
		again, err := ReadVTT(strings.NewReader(vtt(t, cues)))
		if err != nil {
			t.Fatalf("%q: %v", vtt(t, cues), err)
		}
		kept := slices.DeleteFunc(slices.Clone(cues), func(c Cue) bool { return cueText(c.Text) == "" || math.Round(c.FromS*1000) >= math.Round(c.ToS*1000) })
		if len(again) > len(cues) || len(again) < len(kept) {
			t.Fatalf("%d cues became %d: %q", len(cues), len(again), vtt(t, cues))
		}
		for i, c := range kept {
			if len(again) == len(kept) && again[i].Text != c.Text {
				t.Fatalf("%q became %q", c.Text, again[i].Text)
			}
		}
		if got := fmt.Sprint(vtt(t, again)); len(kept) == len(cues) && got != vtt(t, cues) {
			t.Fatalf("%q became %q", vtt(t, cues), got)
		}
	})
}

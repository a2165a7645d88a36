package captions_test

import (
	"bytes"
	"errors"
	"math"
	"slices"
	"strings"
	"testing"

	"antiphon/internal/captions"
)

func TestRead(t *testing.T) {
	for _, c := range []struct {
		name, text string
		durationS  float64
		want       []captions.Cue
		source     string
	}{
		{"WebVTT", "WEBVTT - Lesson\n\nNOTE of nobody\n\nfirst\n00:01.000 --> 00:02.500 align:start\nOne <b>two</b>\nthree\n\n00:00:03.250 --> 00:00:04.000\nA &amp; B\n", 0,
			[]captions.Cue{{1, 2.5, "One two\nthree"}, {3.25, 4, "A & B"}}, "WebVTT, W3C Candidate Recommendation of 4 April 2019, sections 4 and 6, by hand"},
		{"SubRip", "1\r\n00:00:01,000 --> 00:00:02,040\r\nLet the arm hang.\r\n\r\n2\r\n00:00:02,040 --> 00:00:03,000\r\nNow play.\r\n", 0,
			[]captions.Cue{{1, 2.04, "Let the arm hang."}, {2.04, 3, "Now play."}}, "common practice, no source"},
		{"typed", "ab\n\n  abcd \nabcdef\n", 12, []captions.Cue{{0, 2, "ab"}, {2, 6, "abcd"}, {6, 12, "abcdef"}}, "worked by hand: 12 s over 12 letters"},
		{"typed for a recording of unknown length", "ab", 0, nil, ""},
		{"nothing", " \n ", 10, nil, ""},
	} {
		got, err := captions.Read(c.text, c.durationS)
		if err != nil || !slices.EqualFunc(got, c.want, near) {
			t.Errorf("%s: %v, %v, want %v (%s)", c.name, got, err, c.want, c.source)
		}
	}
	for name, text := range map[string]string{"no times": "WEBVTT\n\nx --> y\nHello", "only times": "WEBVTT\n\n00:01.000 --> 00:02.000\n\n", "backwards": "WEBVTT\n\n00:03.000 --> 00:02.000\nHello\n"} {
		if got, err := captions.Read(text, 10); !errors.Is(err, captions.ErrTimes) {
			t.Errorf("%s: %v, %v", name, got, err)
		}
	}
	if _, err := captions.Read(strings.Repeat("la la\n", 40_000), 10); !errors.Is(err, captions.ErrTooLong) {
		t.Error(err)
	}
}

func near(a, b captions.Cue) bool {
	return a.Text == b.Text && math.Abs(a.FromS-b.FromS) < 1e-6 && math.Abs(a.ToS-b.ToS) < 1e-6
}

// TestAFilmOfParts: what is written is what is read again, later by where its part begins and not beyond its end.
func TestAFilmOfParts(t *testing.T) {
	one, err := captions.Read("Hello Ada\nWell done", 9)
	if err != nil {
		t.Fatal(err)
	}
	film := append(captions.Shift(one, 0, 9), captions.Shift([]captions.Cue{{0.5, 4, "<now> & then"}, {4, 8, "cut off"}, {8, 9, "gone"}}, 9, 15)...)
	var b bytes.Buffer
	if err := captions.Write(&b, film); err != nil {
		t.Fatal(err)
	}
	if !strings.HasPrefix(b.String(), "WEBVTT\n") || strings.Contains(b.String(), "<now>") {
		t.Error(b.String())
	}
	want := []captions.Cue{{0, 4.5, "Hello Ada"}, {4.5, 9, "Well done"}, {9.5, 13, "<now> & then"}, {13, 15, "cut off"}}
	again, err := captions.Read(b.String(), 0)
	if err != nil || !slices.EqualFunc(again, want, near) {
		t.Errorf("%v, %v", again, err)
	}
	b.Reset()
	if err := captions.Write(&b, nil); err != nil || b.String() != "WEBVTT\n" {
		t.Errorf("%q, %v", b.String(), err)
	}
}

// FuzzRead: whatever is pasted, times go forwards, words are there, and what is written can be read again.
func FuzzRead(f *testing.F) {
	f.Add("WEBVTT\n\n00:01.000 --> 00:02.500\nOne\n", 3.0)
	f.Add("1\n00:00:01,000 --> 00:00:02,000\nhello\n", 3.0)
	f.Add("Let the arm hang.\nNow play.", 7.5)
	f.Fuzz(func(t *testing.T, text string, durationS float64) {
		cues, err := captions.Read(text, durationS)
		if err != nil {
			return
		}
		for _, c := range cues {
			if c.Text == "" || !(c.FromS >= 0) || !(c.ToS >= c.FromS) {
				t.Fatalf("%+v", c)
			}
		}
		var b bytes.Buffer
		if err := captions.Write(&b, cues); err != nil {
			t.Fatal(err)
		}
		if strings.Contains(b.String(), "-->") {
			if _, err := captions.Read(b.String(), 0); err != nil {
				t.Fatalf("%v in %q", err, b.String())
			}
		}
	})
}

package notation_test

import (
	"bytes"
	"errors"
	"math"
	"path/filepath"
	"reflect"
	"strings"
	"testing"

	"antiphon/internal/music"
	"antiphon/internal/notation"
)

// example0 is the format 0 example of Standard MIDI Files 1.0 (as remembered; the same file stands in
// many copies of that text): 4/4 at 120, three channels, E5 and G4 and a C in octaves, with running status.
const example0 = "MThd\x00\x00\x00\x06\x00\x00\x00\x01\x00\x60" +
	"MTrk\x00\x00\x00\x3B" +
	"\x00\xFF\x58\x04\x04\x02\x18\x08" + "\x00\xFF\x51\x03\x07\xA1\x20" +
	"\x00\xC0\x05" + "\x00\xC1\x2E" + "\x00\xC2\x46" +
	"\x00\x92\x30\x60" + "\x00\x3C\x60" + "\x60\x91\x43\x40" + "\x60\x90\x4C\x20" +
	"\x81\x40\x82\x30\x40" + "\x00\x3C\x40" + "\x00\x81\x43\x40" + "\x00\x80\x4C\x40" + "\x00\xFF\x2F\x00"

func TestReadsTheStandardsMIDIExample(t *testing.T) {
	s := read(t, []byte(example0))
	type note struct {
		midi       int
		on, length float64
		channel    int
	}
	want := []note{{48, 0, 4, 3}, {60, 0, 4, 3}, {67, 1, 3, 2}, {76, 2, 2, 1}}
	var got []note
	channels := map[string]int{}
	programs := map[int]int{}
	for _, p := range s.Parts {
		channels[p.ID], programs[p.Channel] = p.Channel, p.Program
	}
	for _, n := range s.Sounding() {
		got = append(got, note{n.Midi, n.Onset.Q(), n.Duration.Q(), channels[n.Part]})
	}
	if !reflect.DeepEqual(got, want) {
		t.Errorf("notes %v, want %v", got, want)
	}
	if programs[1] != 6 || programs[2] != 47 || programs[3] != 71 {
		t.Errorf("programs %v, want 6, 47, 71 counted from 1", programs)
	}
	if q, _ := s.TempoAt(music.Beats{}); math.Abs(q-120) > 1e-9 {
		t.Errorf("tempo %v, want 120", q)
	}
	if len(s.Bars) != 1 || s.Bars[0].Length.Q() != 4 {
		t.Errorf("bars %v, want one of four quarters", s.Bars)
	}
}

func TestSharedMIDI(t *testing.T) {
	for _, name := range sharedScores(t) {
		s, _, err := notation.ReadFile(name+".mid", notation.Limits{})
		if err != nil {
			t.Fatal(err)
		}
		x, _, err := notation.ReadFile(name+".musicxml", notation.Limits{})
		if err != nil {
			t.Fatal(err)
		}
		// Whoever made them wrote both apart from us: the MIDI file must be the performed score.
		var want []sound
		at := 0.0
		for _, st := range x.Performed() {
			for b := st.From; b <= st.To; b++ {
				for _, n := range x.Sounding() {
					if n.BarIndex == b {
						want = append(want, sound{at + n.Onset.Q() - x.Bars[b].Start.Q(), n.Duration.Q(), n.Midi})
					}
				}
				at += x.Bars[b].Length.Q()
			}
		}
		got := sounds(s)
		sortSounds(want)
		sortSounds(got)
		if d := differentSounds(got, want, 1e-6); d != "" {
			t.Errorf("%s: %s", filepath.Base(name), d)
		}
	}
}

// TestMIDIRoundTrip writes what was read and reads it again: the same notes at the same ticks.
func TestMIDIRoundTrip(t *testing.T) {
	for _, s := range []*music.Score{read(t, []byte(example0)), readFile(t, "everything.musicxml")} {
		var b bytes.Buffer
		if err := notation.WriteMIDI(&b, s); err != nil {
			t.Fatal(err)
		}
		again := read(t, b.Bytes())
		want, at := []sound{}, 0.0
		for _, st := range s.Performed() {
			for i := st.From; i <= st.To; i++ {
				for _, n := range s.Sounding() {
					if n.BarIndex == i && !n.Grace && !n.Cue {
						want = append(want, sound{at + n.Onset.Q() - s.Bars[i].Start.Q(), n.Duration.Q(), n.Midi})
					}
				}
				at += s.Bars[i].Length.Q()
			}
		}
		var got []sound
		for _, n := range sounds(again) {
			if n.length > 0.126 || s.Title == "" { // grace notes are an eighth of a quarter long
				got = append(got, n)
			}
		}
		sortSounds(want)
		sortSounds(got)
		if d := differentSounds(got, want, 1e-9); d != "" {
			t.Errorf("%q: %s", s.Title, d)
		}
		validate(t, "from MIDI", written(t, again))
	}
}

func TestPerformanceInSeconds(t *testing.T) {
	in := []notation.MIDINote{{OnsetS: 0.1234, OffsetS: 0.5, Midi: 64, Velocity: 90}, {OnsetS: 0.5, OffsetS: 2.75, Midi: 40, Velocity: 20, Channel: 2, Track: 1}}
	var b bytes.Buffer
	if err := notation.WriteMIDINotes(&b, in, "Heard"); err != nil {
		t.Fatal(err)
	}
	s := read(t, b.Bytes())
	if s.Title != "Heard" || len(s.Parts) != 2 {
		t.Fatalf("title %q, %d parts", s.Title, len(s.Parts))
	}
	q, _ := s.TempoAt(music.Beats{})
	for i, n := range s.Sounding() {
		on, off := n.Onset.Q()*60/q, n.Onset.Add(n.Duration).Q()*60/q
		if math.Abs(on-in[i].OnsetS) > 0.00051 || math.Abs(off-in[i].OffsetS) > 0.00051 || n.Midi != in[i].Midi {
			t.Errorf("note %d from %v to %v s, midi %d; want %+v", i, on, off, n.Midi, in[i])
		}
	}
	if v := s.Parts[1].Notes[len(s.Parts[1].Notes)-1]; v.Velocity != 20 && !v.Rest {
		t.Errorf("velocity %d", v.Velocity)
	}
	for _, bad := range []notation.MIDINote{{OnsetS: math.NaN(), OffsetS: 1, Midi: 60}, {OnsetS: 1, OffsetS: 0, Midi: 60}, {OffsetS: 1, Midi: 128}, {OffsetS: 1, Midi: 60, Channel: 17}} {
		if err := notation.WriteMIDINotes(&b, []notation.MIDINote{bad}, ""); !errors.Is(err, notation.ErrUnwritable) {
			t.Errorf("%+v was written: %v", bad, err)
		}
	}
}

// track makes a file of format 0 with 96 ticks a quarter.
func track(events string) []byte {
	n := len(events)
	return []byte("MThd\x00\x00\x00\x06\x00\x00\x00\x01\x00\x60MTrk" + string([]byte{byte(n >> 24), byte(n >> 16), byte(n >> 8), byte(n)}) + events)
}

func TestMIDIBarsAndOverlaps(t *testing.T) {
	// 3/4, and 2/4 from the second quarter of the second bar on; C4 for 8 quarters.
	s := read(t, track("\x00\xFF\x58\x04\x03\x02\x18\x08"+"\x00\x90\x3C\x40"+"\x83\x00\xFF\x58\x04\x02\x02\x18\x08"+"\x83\x00\x80\x3C\x40"+"\x00\xFF\x2F\x00"))
	var got []string
	for _, b := range s.Bars {
		got = append(got, b.Start.String()+"+"+b.Length.String())
	}
	if strings.Join(got, " ") != "0+3 3+1 4+2 6+2" {
		t.Errorf("bars %v", got)
	}
	if n := sounds(s); len(n) != 1 || n[0] != (sound{0, 8, 60}) {
		t.Errorf("a note over four bars is %v", n)
	}
	// The same key twice before it is released: what began first ends first.
	s = read(t, track("\x00\x90\x3C\x40"+"\x60\x3C\x40"+"\x60\x3C\x00"+"\x60\x3C\x00"+"\x00\xFF\x2F\x00"))
	if d := differentSounds(sounds(s), []sound{{0, 2, 60}, {1, 2, 60}}, 0); d != "" {
		t.Error(d)
	}
}

// A file that counts seconds: 25 frames of 40 ticks are 1000 ticks a second (Standard MIDI Files 1.0, the
// division word E7 28); and a file in a RIFF wrapper.
func TestMIDIInSecondsAndInAWrapper(t *testing.T) {
	smpte := []byte("MThd\x00\x00\x00\x06\x00\x00\x00\x01\xE7\x28MTrk\x00\x00\x00\x0E" + "\x87\x68\x90\x3C\x40" + "\x83\x74\x3C\x00" + "\x00\xFF\x2F\x00")
	smpte[21] = byte(len(smpte) - 22)
	if n := sounds(read(t, smpte)); len(n) != 1 || n[0] != (sound{2, 1, 60}) {
		t.Errorf("a note from 1 s to 1.5 s is %v", n)
	}
	wrapped := []byte("RIFF\x00\x00\x00\x00RMIDdata\x00\x00\x00\x00" + example0)
	if a, b := sounds(read(t, wrapped)), sounds(read(t, []byte(example0))); differentSounds(a, b, 0) != "" {
		t.Errorf("wrapped %v, bare %v", a, b)
	}
}

func TestBrokenMIDI(t *testing.T) {
	head := "MThd\x00\x00\x00\x06\x00\x00\x00\x01\x00\x60"
	cases := []struct{ name, data, say string }{
		{"header only", "MThd\x00\x00\x00\x06", "ends within"},
		{"header length", "MThd\x00\x00\xFF\xFF\x00\x00\x00\x01\x00\x60", "its header says"},
		{"no ticks", "MThd\x00\x00\x00\x06\x00\x00\x00\x01\x00\x00MTrk\x00\x00\x00\x04\x00\xFF\x2F\x00", "no ticks"},
		{"no track", head, "no track"},
		{"track longer than the file", head + "MTrk\x7F\xFF\xFF\xFF\x00\xFF\x2F\x00", "track 1 says that it has 2147483647 bytes"},
		{"event longer than the track", head + "MTrk\x00\x00\x00\x05\x00\xFF\x01\x7F\x00", "says that it has 127 bytes"},
		{"endless number", head + "MTrk\x00\x00\x00\x06\xFF\xFF\xFF\xFF\xFF\x00", "longer than four bytes"},
		{"no status", head + "MTrk\x00\x00\x00\x03\x00\x40\x40", "no status byte"},
		{"cut in an event", head + "MTrk\x00\x00\x00\x03\x00\x90\x40", "says that it has 2 bytes"},
		{"status as data", head + "MTrk\x00\x00\x00\x04\x00\x90\x90\x40", "a data byte of 144"},
		{"format 2", strings.Replace(head, "\x00\x00\x00\x01\x00\x60", "\x00\x02\x00\x01\x00\x60", 1) + "MTrk\x00\x00\x00\x04\x00\xFF\x2F\x00", "format 2"},
	}
	for _, c := range cases {
		_, _, err := notation.Read(strings.NewReader(c.data), "x.mid", notation.Limits{})
		var re *notation.ReadError
		if !errors.As(err, &re) || !strings.Contains(err.Error(), c.say) {
			t.Errorf("%s: %v, want something about %q", c.name, err, c.say)
		}
	}
}

package notation_test

import (
	"bytes"
	"errors"
	"os"
	"path/filepath"
	"reflect"
	"testing"

	"antiphon/internal/music"
	"antiphon/internal/notation"
)

// tight keeps a fuzzing round quick.
func tight() notation.Limits {
	return notation.Limits{Bytes: 1 << 16, UnzippedBytes: 1 << 18, Notes: 2000, Bars: 300, Elements: 20_000, Depth: 24}
}

// holds checks what must be so of every score that a reader gives: it is whole in itself, and what we
// write of it is ordered as the schema asks and comes back the same.
func holds(t *testing.T, s *music.Score) {
	t.Helper()
	at := music.Beats{}
	for i, b := range s.Bars {
		if b.Start != at || !(music.Beats{}).Less(b.Length) {
			t.Fatalf("bar %d starts at %v for %v, after %v", i, b.Start, b.Length, at)
		}
		at = b.End()
	}
	for _, p := range s.Parts {
		for i, n := range p.Notes {
			if s.Bars[n.Bar].End().Less(n.End()) || n.Start.Less(s.Bars[n.Bar].Start) {
				t.Fatalf("note %d of part %q reaches out of its bar", i, p.ID)
			}
		}
	}
	sounding := s.Sounding()
	for i, n := range sounding {
		if n.BarIndex < 0 || n.BarIndex >= len(s.Bars) || n.Onset.Less(s.Bars[n.BarIndex].Start) || n.Duration.Less(music.Beats{}) {
			t.Fatalf("note %d: %+v", i, n)
		}
		if i > 0 && n.Onset.Less(sounding[i-1].Onset) {
			t.Fatalf("note %d is out of order", i)
		}
	}
	total := 0
	for _, st := range s.Performed() {
		if st.From < 0 || st.To < st.From || st.To >= len(s.Bars) {
			t.Fatalf("stretch %v of %d bars", st, len(s.Bars))
		}
		total += st.To - st.From + 1
	}
	if total > max(20*len(s.Bars), 2000) {
		t.Fatalf("%d bars performed of %d", total, len(s.Bars))
	}
	s.TempoAt(music.Beats{})
	s.BeatUnitAt(music.Beats{})

	var xml bytes.Buffer
	if err := notation.WriteMusicXML(&xml, s); err != nil {
		t.Fatalf("what was read cannot be written: %v", err)
	}
	checkOrder(t, "fuzz", xml.Bytes())
	again, _, err := notation.Read(bytes.NewReader(xml.Bytes()), "again", notation.Limits{})
	if err != nil {
		t.Fatalf("what was written cannot be read: %v\n%s", err, clipped(xml.Bytes()))
	}
	if a, b := sounding, again.Sounding(); !sameSounds(a, b) {
		t.Fatalf("other notes after writing and reading\n%+v\n%+v\n%s", a, b, clipped(xml.Bytes()))
	}
	if a, b := s.Performed(), again.Performed(); !reflect.DeepEqual(a, b) {
		t.Fatalf("performed %v, and after writing and reading %v", a, b)
	}
	var second bytes.Buffer
	if err := notation.WriteMusicXML(&second, again); err != nil {
		t.Fatal(err)
	}
	third, _, err := notation.Read(bytes.NewReader(second.Bytes()), "third", notation.Limits{})
	if err != nil {
		t.Fatal(err)
	}
	if !reflect.DeepEqual(again, third) { // once read from our own hand, nothing changes any more
		t.Fatalf("changed by writing and reading: %s", firstDifference(again, third))
	}
	var mid bytes.Buffer
	if err := notation.WriteMIDI(&mid, s); err != nil && !errors.Is(err, notation.ErrUnwritable) {
		t.Fatal(err)
	} else if err == nil {
		if _, _, err := notation.Read(bytes.NewReader(mid.Bytes()), "mid", notation.Limits{}); err != nil && !errors.Is(err, notation.ErrTooLarge) {
			t.Fatalf("what was written as MIDI cannot be read: %v", err)
		}
	}
}

// sameSounds compares all but the ids of parts, which XML may not be able to hold.
func sameSounds(a, b []music.Sounding) bool {
	if len(a) != len(b) {
		return false
	}
	for i := range a {
		x, y := a[i], b[i]
		x.Part, y.Part = "", ""
		if x != y {
			return false
		}
	}
	return true
}

func fuzzRead(t *testing.T, data []byte) {
	s, _, err := notation.Read(bytes.NewReader(data), "fuzz", tight())
	var re *notation.ReadError
	switch {
	case err == nil:
		holds(t, s)
	case !errors.As(err, &re) || re.Say == "" || re.Kind == "" || re.Err == nil:
		t.Fatalf("not a clear error: %v", err)
	}
}

func FuzzMusicXML(f *testing.F) {
	files, err := filepath.Glob("testdata/*.musicxml")
	if err != nil || len(files) == 0 {
		f.Fatal("no seeds", err)
	}
	for _, name := range files {
		data, err := os.ReadFile(name)
		if err != nil {
			f.Fatal(err)
		}
		f.Add(data)
	}
	f.Add([]byte(head + bar("1", attr+note("C", 4, 8, "")) + tail))
	f.Add([]byte(`<score-timewise><part-list><score-part id="P1"/></part-list><measure number="1"><part id="P1">` + attr + note("C", 4, 8, "") + `</part></measure></score-timewise>`))
	f.Fuzz(fuzzRead)
}

func FuzzMIDI(f *testing.F) {
	f.Add([]byte(example0))
	s := read(f, []byte("X:1\nM:3/4\nL:1/8\nK:G\nD2|G2 A2 B>c|(3ded c4-|c6|]\n"))
	var b bytes.Buffer
	if err := notation.WriteMIDI(&b, s); err != nil {
		f.Fatal(err)
	}
	f.Add(b.Bytes())
	f.Fuzz(func(t *testing.T, data []byte) {
		if !bytes.HasPrefix(data, []byte("MThd")) {
			data = append([]byte("MThd\x00\x00\x00\x06\x00\x01\x00\x02\x00\x60MTrk"), data...)
		}
		fuzzRead(t, data)
	})
}

func FuzzABC(f *testing.F) {
	f.Add([]byte("X:1\nT:A\nM:3/4\nL:1/8\nQ:1/4=96\nK:G\nD2|:\"G\"G2 A2 B>c|[1 (3ded !4!c4-|c6:|[2 [GBd]6 {ag}f|]\n"))
	f.Add([]byte("X:1\n%%score (1 2)\nM:2/4\nL:1/4\nV:1\nV:2\nK:C clef=treble-8\n[V:1]ce&G2|dd|\n[V:2]C2|Z|\n"))
	f.Fuzz(func(t *testing.T, data []byte) {
		fuzzRead(t, append([]byte("X:1\nM:4/4\nL:1/8\nK:C\n"), data...))
		fuzzRead(t, data)
	})
}

func FuzzCompressed(f *testing.F) {
	score := head + bar("1", attr+note("C", 4, 8, "")) + tail
	f.Add(zipOf(f, []string{"META-INF/container.xml", "score.xml"}, []string{`<container><rootfiles><rootfile full-path="score.xml"/></rootfiles></container>`, score}))
	f.Add(zipOf(f, []string{"score.musicxml"}, []string{score}))
	f.Fuzz(func(t *testing.T, data []byte) {
		if bytes.HasPrefix(data, []byte("PK")) {
			fuzzRead(t, data)
		}
	})
}

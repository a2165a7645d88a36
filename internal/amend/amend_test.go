package amend

import (
	"encoding/json"
	"fmt"
	"reflect"
	"strings"
	"testing"

	"antiphon/internal/ear"
	"antiphon/internal/findings"
	"antiphon/internal/music"
)

// hearing is an invented take of four bars of four quarters in D, at 60 a minute: bars 1 and 2, a
// restart, bars 2 to 4.
func hearing() (*ear.Hearing, *music.Score) {
	four := music.Time{Parts: []music.TimePart{{Beats: []int{4}, Unit: 4}}}
	s := &music.Score{Tempos: []music.TempoMark{{Bpm: 60, Unit: music.Quarters(1, 1)}}}
	p := music.Part{ID: "P1", Attributes: []music.Attributes{{Key: &music.Key{Fifths: 2}}}}
	steps := []music.Pitch{{Step: 'D', Octave: 4}, {Step: 'E', Octave: 4}, {Step: 'F', Alter: 1, Octave: 4}, {Step: 'G', Octave: 4}}
	for bar := range 4 {
		at := music.Quarters(int64(4*bar), 1)
		s.Bars = append(s.Bars, music.Bar{Number: fmt.Sprint(bar + 1), Start: at, Length: music.Quarters(4, 1), Time: four})
		for k := range 4 {
			p.Notes = append(p.Notes, music.Note{Bar: bar, Start: at.Add(music.Quarters(int64(k), 1)), Duration: music.Quarters(1, 1), Voice: "1", Staff: 1, Pitch: steps[k]})
		}
	}
	s.Parts = []music.Part{p}
	h := &ear.Hearing{DurationS: 40, Score: s.Sounding(), Match: 0.9}
	play(h, 1, 0, 8, 1)
	play(h, 2, 4, 16, 12)
	h.Jumps = []ear.Jump{{Kind: ear.Restart, FromBar: "2", ToBar: "2", StopS: 8, ResumeS: 12, Confidence: 0.9}}
	h.Pulse(s)
	return h, s
}

func play(h *ear.Hearing, pass, from, to int, at float64) {
	for i := from; i < to; i++ {
		on := at + float64(i-from)
		h.Played = append(h.Played, ear.Played{Note: i, Pass: pass, OnsetS: on, OffsetS: on + 0.9, Midi: h.Score[i].Midi, Verdict: ear.Right, Confidence: 0.9})
	}
	h.Passes = append(h.Passes, ear.Pass{N: pass, FromBar: h.Score[from].Bar, ToBar: h.Score[to-1].Bar, StartS: at, EndS: at + float64(to-from-1)})
}

// apply corrects with one correction, and shows that the measured hearing stays as it was.
func apply(t *testing.T, h *ear.Hearing, s *music.Score, kind, what string) Result {
	t.Helper()
	c, err := Parse(kind, json.RawMessage(what))
	if err != nil {
		t.Fatalf("%s %s: %v", kind, what, err)
	}
	before := *copied(h)
	r := Apply(h, s, []Correction{c}, findings.Options{})
	if !reflect.DeepEqual(before.Played, h.Played) || !reflect.DeepEqual(before.Missed, h.Missed) || !reflect.DeepEqual(before.Passes, h.Passes) || !reflect.DeepEqual(before.Jumps, h.Jumps) {
		t.Errorf("%s changed what was measured", kind)
	}
	return r
}

func said(t *testing.T, r Result, want string) {
	t.Helper()
	if len(r.Left) > 0 || len(r.Changed) != 1 || r.Changed[0] != want {
		t.Errorf("changed %q, left %v; want %q", r.Changed, r.Left, want)
	}
}

func kinds(fs []findings.Finding, k findings.Kind) (n int) {
	for _, f := range fs {
		if f.Kind == k {
			n++
		}
	}
	return n
}

func TestNotes(t *testing.T) {
	h, s := hearing()
	wrong := &h.Played[14] // F sharp of bar 3, in pass 2, at 18 s
	wrong.Verdict, wrong.Midi = ear.Wrong, 65
	if kinds(findings.Of(h, s, findings.Options{}), findings.Wrong) != 1 {
		t.Fatal("the fixture has no wrong note")
	}
	r := apply(t, h, s, "note-right", `{"note":"n11","pass":2}`)
	said(t, r, "Bar 3, beat 3: the F sharp counts as right; the ear had heard F natural.")
	if n := kinds(r.Findings, findings.Wrong); n != 0 {
		t.Errorf("%d findings of a wrong note are left", n)
	}

	r = apply(t, h, s, "note-wrong", `{"note":"n5","s":5.02,"midi":61}`)
	said(t, r, "Bar 2, beat 1: the D was played as C sharp.")
	if r.Hearing.Played[4].Verdict != ear.Wrong || r.Hearing.Played[8].Verdict != ear.Right {
		t.Error("the second to which the correction points does not choose the pass")
	}

	r = apply(t, h, s, "note-missed", `{"note":"n6","pass":1}`)
	said(t, r, "Bar 2, beat 2: the E was not played.")
	if kinds(r.Findings, findings.Missed) != 1 || len(r.Hearing.Missed) != 1 || r.Hearing.Missed[0].ExpectedS != 6 {
		t.Errorf("missed: %+v", r.Hearing.Missed)
	}

	r2 := Apply(r.Hearing, s, []Correction{{Kind: MissedWasPlayed, Note: "n6", Pass: 1, S: 6.1}}, findings.Options{})
	said(t, r2, "Bar 2, beat 2: the E was played after all.")
	if n := r2.Hearing.Played[5]; len(r2.Hearing.Missed) != 0 || n.Note != 5 || n.OnsetS != 6.1 || n.TimingMs < 50 {
		t.Errorf("played after all: %+v", n)
	}

	h.Played = append(h.Played[:15:15], append([]ear.Played{{Note: -1, Pass: 2, OnsetS: 18.5, Midi: 70, Verdict: ear.Extra, Confidence: 0.9}}, h.Played[15:]...)...)
	r = apply(t, h, s, "not-extra", `{"s":18.45,"midi":70}`)
	said(t, r, "The A sharp at 0:18 is no added note.")
	if kinds(r.Findings, findings.Extra) != 0 {
		t.Error("the added note is still told")
	}
}

func TestTalkDoesNotCount(t *testing.T) {
	h, s := hearing()
	r := apply(t, h, s, "ignore-from-to", `{"from_s":0,"to_s":10}`)
	said(t, r, "From 0:00 to 0:10 nothing counts; 8 notes were dropped.")
	if len(r.Hearing.Passes) != 1 || r.Hearing.Passes[0].N != 2 || len(r.Hearing.Jumps) != 0 || kinds(r.Findings, findings.Restart) != 0 {
		t.Errorf("passes %+v, jumps %+v", r.Hearing.Passes, r.Hearing.Jumps)
	}
	r = apply(t, h, s, "ignore-from-to", `{"from_s":6.5,"to_s":13.5}`)
	p := r.Hearing.Passes
	if len(p) != 2 || p[0].EndS != 6 || p[0].ToBar != "2" || p[1].StartS != 14 || p[1].FromBar != "2" {
		t.Errorf("passes %+v", p)
	}
	// Bar 2 beat 2 was the last note before, bar 2 beat 3 the first after: the music went on.
	if len(r.Hearing.Jumps) != 0 {
		t.Errorf("jumps %+v", r.Hearing.Jumps)
	}
	r = apply(t, h, s, "ignore-from-to", `{"from_s":3.5,"to_s":17.5}`)
	if j := r.Hearing.Jumps; len(j) != 1 || j[0].Kind != ear.Skip || j[0].FromBar != "1" || j[0].ToBar != "3" {
		t.Errorf("from bar 1 to bar 3: %+v", j)
	}
	if r.Hearing.Tempo.MedianBpm < 59 || r.Hearing.Tempo.MedianBpm > 61 {
		t.Errorf("tempo %v", r.Hearing.Tempo.MedianBpm)
	}
	r = apply(t, h, s, "ignore-from-to", `{"from_s":0,"to_s":40}`)
	if len(r.Hearing.Passes) != 0 || kinds(r.Findings, findings.NotThisScore) != 1 {
		t.Errorf("nothing is left to tell: %+v", r.Findings)
	}
}

func TestNoRestart(t *testing.T) {
	h, s := hearing()
	r := apply(t, h, s, "no-restart", `{"at_s":12}`)
	said(t, r, "At 0:12 it was no restart: the take is heard once more with that.")
	if kinds(r.Findings, findings.Restart) != 0 || len(r.Hearing.Passes) != 2 || len(r.Hints) != 1 || r.Hints[0].Kind != ear.NoJump {
		t.Errorf("%+v", r.Hearing.Passes)
	}
	h.Played, h.Passes = nil, nil
	play(h, 1, 0, 8, 1)
	play(h, 2, 8, 16, 12)
	r = apply(t, h, s, "no-restart", `{"at_s":12.1}`)
	said(t, r, "At 0:12 it was no restart; the two passes are one.")
	if p := r.Hearing.Passes; len(p) != 1 || len(r.Hints) != 0 || p[0].ToBar != "4" || p[0].EndS != 19 || kinds(r.Findings, findings.Hesitation) != 1 {
		t.Errorf("%+v %+v", p, r.Findings)
	}
}

func TestThisIsBar(t *testing.T) {
	h, s := hearing()
	for _, c := range []struct{ kind, what, want string }{ // what the hearing says already needs no other hearing
		{"this-is-bar", `{"at_s":16.2,"bar":"3"}`, "At 0:16 stands bar 3, as it is heard."},
		{"restart-here", `{"at_s":12.2,"bar":"2"}`, "At 0:12 the playing began anew with bar 2, as it is heard."},
		{"no-restart", `{"at_s":30}`, "At 0:30 nobody went back, as it is heard."},
	} {
		r := apply(t, h, s, c.kind, c.what)
		if said(t, r, c.want); len(r.Hints) != 0 {
			t.Errorf("%s: hints %+v", c.kind, r.Hints)
		}
	}
	said(t, apply(t, h, s, "restart-here", `{"at_s":16}`), "At 0:16 the playing began anew: the take is heard once more with that.")
	r := apply(t, h, s, "this-is-bar", `{"at_s":16,"bar":"2"}`)
	if len(r.Hints) != 1 || r.Hints[0] != (ear.Hint{Kind: ear.BarHere, AtS: 16, Bar: 1}) {
		t.Errorf("hints %+v", r.Hints)
	}
	got := Hints(s, []Correction{{Kind: ThisIsBar, AtS: 30, Bar: "4"}, {Kind: NoteRight, Note: "n1", Pass: 1}, {Kind: ThisIsBar, AtS: 9, Bar: "1"}, {Kind: ThisIsBar, AtS: 3, Bar: "99"},
		{Kind: NoRestart, AtS: 12}, {Kind: RestartHere, AtS: 14}})
	if !reflect.DeepEqual(got, []ear.Hint{{Kind: ear.BarHere, AtS: 9}, {Kind: ear.NoJump, AtS: 12, Bar: -1}, {Kind: ear.RestartHere, AtS: 14, Bar: -1}, {Kind: ear.BarHere, AtS: 30, Bar: 3}}) {
		t.Errorf("hints %+v", got)
	}
}

func TestWhatDoesNotFitIsLeft(t *testing.T) {
	h, s := hearing()
	for _, c := range []struct{ kind, what, say string }{
		{"note-right", `{"note":"n99","pass":1}`, "no note n99"},
		{"note-right", `{"note":"n16","pass":1}`, "was not heard there"},
		{"note-right", `{"note":"n1","s":9}`, "was not heard there"},
		{"missed-was-played", `{"note":"n1","pass":1}`, "not among the missed"},
		{"note-wrong", `{"note":"n1","pass":1,"midi":62}`, "very note that is written"},
		{"not-extra", `{"s":3,"midi":62}`, "no added note"},
		{"this-is-bar", `{"at_s":3,"bar":"17"}`, "no bar 17"},
		{"restart-here", `{"at_s":3,"bar":"17"}`, "no bar 17"},
		{"ignore-from-to", `{"from_s":50,"to_s":60}`, "only 0:40 long"},
	} {
		r := apply(t, h, s, c.kind, c.what)
		if len(r.Each) != 1 || r.Each[0].Applied || !strings.HasSuffix(r.Each[0].Say, ".") || strings.ToUpper(r.Each[0].Say[:1]) != r.Each[0].Say[:1] {
			t.Errorf("each %+v", r.Each)
		}
		if len(r.Changed) != 0 || len(r.Left) != 1 || !strings.Contains(r.Left[0].Error(), c.say) {
			t.Errorf("%s %s: changed %q, left %v; want %q", c.kind, c.what, r.Changed, r.Left, c.say)
		}
		if !reflect.DeepEqual(r.Hearing, h) {
			t.Errorf("%s %s changed the hearing", c.kind, c.what)
		}
	}
}

func TestParseRefuses(t *testing.T) {
	for _, c := range []struct{ kind, what, say string }{
		{"nonsense", `{}`, "no such kind"},
		{"note-right", `7`, "not a JSON object"},
		{"note-right", `null`, "not a JSON object"},
		{"note-right", ``, "not a JSON object"},
		{"note-right", `{"note":"n1","pass":1} x`, "follows after"},
		{"note-right", `{"note":"n1"}`, "needs “pass” or “s”"},
		{"note-right", `{"pass":1}`, "“note” is missing"},
		{"note-right", `{"note":"","pass":1}`, "id of a note"},
		{"note-right", `{"note":"n1","pass":0}`, "counts from 1"},
		{"note-right", `{"note":"n1","pass":1.5}`, "wrong sort"},
		{"note-right", `{"note":"n1","pass":null}`, "wrong sort"},
		{"note-right", `{"note":"n1","pass":1,"midi":60}`, "no meaning here"},
		{"note-wrong", `{"note":"n1","pass":1,"midi":300}`, "from 20 to 108"},
		{"not-extra", `{"s":-1,"midi":60}`, "from the start"},
		{"ignore-from-to", `{"from_s":5,"to_s":5}`, "come after"},
		{"this-is-bar", `{"at_s":5,"bar":5}`, "wrong sort"},
		{"this-is-bar", `{"at_s":5,"bar":""}`, "number of a bar"},
		{"no-restart", `{"at_s":1e9}`, "from the start"},
		{"restart-here", `{"at_s":5,"bar":""}`, "number of a bar"},
		{"restart-here", `{"bar":"5"}`, "“at_s” is missing"},
	} {
		if _, err := Parse(c.kind, json.RawMessage(c.what)); err == nil || !strings.Contains(err.Error(), c.say) {
			t.Errorf("%s %s: %v, want %q", c.kind, c.what, err, c.say)
		}
	}
}

// FuzzApply: whatever is parsed can be applied, and never breaks what a hearing promises.
func FuzzApply(f *testing.F) {
	for _, k := range Kinds() {
		f.Add(string(k), `{"note":"n5","pass":1,"s":3,"midi":61}`)
	}
	f.Add("ignore-from-to", `{"from_s":3,"to_s":13}`)
	f.Add("no-restart", `{"at_s":12}`)
	f.Add("this-is-bar", `{"at_s":12,"bar":"2"}`)
	f.Fuzz(func(t *testing.T, kind, what string) {
		c, err := Parse(kind, json.RawMessage(what))
		if err != nil {
			return
		}
		h, s := hearing()
		r := Apply(h, s, []Correction{c}, findings.Options{})
		if len(r.Changed)+len(r.Left) != 1 {
			t.Errorf("changed %q, left %v", r.Changed, r.Left)
		}
		pass := map[int]bool{}
		for _, p := range r.Hearing.Passes {
			pass[p.N] = true
		}
		for i, n := range r.Hearing.Played {
			if !pass[n.Pass] || i > 0 && n.OnsetS < r.Hearing.Played[i-1].OnsetS {
				t.Errorf("played note %d: %+v", i, n)
			}
		}
	})
}

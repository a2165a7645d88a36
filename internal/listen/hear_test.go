package listen

import (
	"bytes"
	"encoding/json"
	"fmt"
	"math"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"antiphon/internal/rehearse"
	"antiphon/internal/studio"
)

func kinds(t studio.Take) []string {
	var out []string
	for _, c := range t.Concerns {
		out = append(out, c.Kind)
	}
	return out
}

func (r *room) shelve(p rehearse.Piece) studio.Work {
	r.t.Helper()
	w, err := r.desk.AddWork(r.t.Context(), r.teacher, studio.Work{Title: p.Title, Score: p.MusicXML()})
	if err != nil {
		r.t.Fatal(err)
	}
	return w
}

func TestAnotherPiece(t *testing.T) {
	r := openRoom(t, studio.FullVideo)
	_, of := r.ask(r.named("lane"), "", "")
	mill := r.shelve(r.named("mill"))
	r.shelve(r.named("ascent"))
	r.work()
	played := r.encoded(r.take(r.named("mill"), "own-nylon", 2, usual), "aac")
	id := r.send(played, "audio/mp4", of)
	got := r.wait(id, studio.Ready, studio.NeedsALook).Take
	want := "This is not “Down the Lane”; it sounds like “The Mill (sixteenths)”."
	if got.State != studio.NeedsALook || got.Why != want || !slices.Equal(kinds(got), []string{OtherPiece}) {
		t.Errorf("%s: %q, %q, want %q", got.State, got.Why, kinds(got), want)
	}
	if len(got.SoundsLike) == 0 || got.SoundsLike[0].Work != mill.ID || got.SoundsLike[0].Confidence < 0.5 {
		t.Errorf("sounds like %+v", got.SoundsLike)
	}
	// The teacher says so, and it is heard again.
	if err := r.desk.Assign(t.Context(), r.teacher, id, "", mill.ID); err != nil {
		t.Fatal(err)
	}
	if got := r.wait(id, studio.Ready, studio.NeedsALook).Take; got.State != studio.Ready || got.Summary == nil || got.Summary.RightShare < 0.9 {
		t.Errorf("heard again: %+v, %+v", got, got.Summary)
	}
	// Nobody says what the next one is; it is the same sound once more in another file.
	again := r.wait(r.send(r.encoded(played, "opus"), "audio/webm", ""), studio.Ready, studio.NeedsALook).Take
	if again.SameAs != id || !slices.Equal(kinds(again), []string{NothingSaid, SentBefore}) || !strings.Contains(again.Why, "The Mill") {
		t.Errorf("the same sound: %+v", again)
	}
	// Another take of the same is another take.
	other := r.wait(r.send(r.encoded(r.take(r.named("mill"), "own-nylon", 3, usual), "aac"), "audio/mp4", ""), studio.NeedsALook).Take
	if other.SameAs != "" {
		t.Errorf("another take is called the same sound: %+v", other)
	}
}

func TestPassage(t *testing.T) {
	r := openRoom(t, studio.FullVideo)
	lane := r.named("lane")
	w, of := r.ask(lane, "3", "4")
	r.work()
	at := func(bar int) int { return lane.Bars[bar].At }
	rounds := r.take(lane, "own-nylon", 4, usual, func(s *rehearse.Spec) {
		s.Legs = []rehearse.Leg{{FromTick: at(2), ToTick: at(4), Ratio: 1}, {FromTick: at(2), ToTick: at(4), Ratio: 1.05, Jump: "repeat"}, {FromTick: at(2), ToTick: at(4), Ratio: 1.1, Jump: "repeat"}}
	})
	v := r.wait(r.send(r.encoded(rounds, "aac"), "audio/mp4", of), studio.Ready, studio.NeedsALook)
	var doc struct {
		Passes []struct {
			FromBar string `json:"from_bar"`
			ToBar   string `json:"to_bar"`
		} `json:"passes"`
		Jumps []struct {
			Kind string `json:"kind"`
		} `json:"jumps"`
		Played []struct {
			Note    *string `json:"note"`
			Verdict string  `json:"verdict"`
		} `json:"played"`
		Score struct {
			Notes []struct {
				ID  string `json:"id"`
				Bar string `json:"bar"`
			} `json:"notes"`
		} `json:"score"`
	}
	if err := json.Unmarshal(v.Hearing.JSON, &doc); err != nil {
		t.Fatal(err)
	}
	if len(doc.Passes) != 3 || doc.Passes[0].FromBar != "3" || doc.Passes[2].ToBar != "4" || len(doc.Jumps) != 2 || doc.Jumps[0].Kind != "repeat" {
		t.Errorf("passes %+v, jumps %+v", doc.Passes, doc.Jumps)
	}
	// Notes are counted as in the whole score, which the page shows.
	bars := map[string]string{}
	for _, n := range doc.Score.Notes {
		bars[n.ID] = n.Bar
	}
	if len(doc.Score.Notes) != len(lane.Notes) {
		t.Errorf("%d notes, the score has %d", len(doc.Score.Notes), len(lane.Notes))
	}
	right := 0
	for _, n := range doc.Played {
		if n.Note != nil && n.Verdict == "right" {
			right++
			if b := bars[*n.Note]; b != "3" && b != "4" {
				t.Errorf("note %s of bar %s was not played", *n.Note, b)
			}
		}
	}
	if s := v.Take.Summary; right < 15 || s.FromBar != "3" || s.ToBar != "4" || s.RightShare < 0.9 || v.Take.Work != w.ID || len(v.Take.Concerns) > 0 {
		t.Errorf("%d notes right, %+v, %+v", right, v.Take.Summary, v.Take.Concerns)
	}
	// More than was asked is heard whole.
	all := r.wait(r.send(r.encoded(r.take(lane, "own-nylon", 5, usual), "aac"), "audio/mp4", of), studio.Ready, studio.NeedsALook).Take
	if s := all.Summary; s == nil || s.FromBar != "1" || s.ToBar != "8" || s.RightShare < 0.9 {
		t.Errorf("the whole piece: %+v, %+v", s, all)
	}
	// With a capo that nobody told of it is heard at its own height.
	higher := lane
	higher.Notes = slices.Clone(lane.Notes)
	for i := range higher.Notes {
		higher.Notes[i].Midi += 3
		higher.Notes[i].Fret += 3
	}
	capo := r.wait(r.send(r.encoded(r.take(higher, "own-nylon", 6, usual), "aac"), "audio/mp4", of), studio.Ready, studio.NeedsALook).Take
	if s := capo.Summary; capo.State != studio.Ready || s == nil || s.RightShare < 0.9 || !slices.Contains(kinds(capo), Capo) {
		t.Errorf("with a capo: %+v, %+v", s, capo)
	}
}

// TestHostile: whatever comes, the teacher is told in one sentence and the next take is heard.
func TestHostile(t *testing.T) {
	r := openRoom(t, studio.FullVideo)
	lane := r.named("lane")
	_, of := r.ask(lane, "", "")
	good := r.encoded(r.take(lane, "own-nylon", 7, usual), "aac")
	whole, err := os.ReadFile(good)
	if err != nil {
		t.Fatal(err)
	}
	write := func(name string, b []byte) string {
		p := filepath.Join(r.dir, name)
		if err := os.WriteFile(p, b, 0o600); err != nil {
			t.Fatal(err)
		}
		return p
	}
	noSound := r.made("", "mute.mp4", "-f", "lavfi", "-i", "testsrc=size=160x120:rate=10:duration=2", "-c:v", "libx264", "-pix_fmt", "yuv420p")
	zero := r.made("", "zero.wav", "-f", "lavfi", "-i", "anullsrc=r=8000:cl=mono", "-t", "0.0001")
	long := r.made("", "long.mp3", "-f", "lavfi", "-i", "anullsrc=r=8000:cl=mono", "-t", fmt.Sprint(3*3600), "-c:a", "libmp3lame", "-b:a", "8k")
	ends := func(of string) string { return "“" + of + "”" }
	r.work()
	for _, c := range []struct {
		name, path, typ string
		want            string
	}{
		{"text renamed", write("text.mp4", []byte(strings.Repeat("only words. ", 500))), "video/mp4", "no recording that can be played"},
		{"not media at all", write("noise.m4a", bytes.Repeat([]byte{7, 211, 90, 3, 0, 255}, 3000)), "audio/mp4", "no recording that can be played"},
		{"a playlist that points elsewhere", write("list.mp3", []byte("#EXTM3U\n#EXTINF:1,\nfile:///etc/passwd\n")), "audio/mpeg", "no recording that can be played"},
		{"a concat script", write("script.mp4", []byte("ffconcat version 1.0\nfile /etc/passwd\n")), "video/mp4", "no recording that can be played"},
		{"cut off before its table", write("cut.m4a", whole[:len(whole)/2]), "audio/mp4", "damaged or broke off"},
		{"video without sound", noSound, "video/mp4", "no sound in this recording"},
		{"no samples", zero, "audio/wav", "no sound in this recording"},
		{"three hours", long, "audio/mpeg", "longer than the studio hears"},
		{"one byte", write("one.mp4", []byte{0}), "video/mp4", "no recording that can be played"},
	} {
		v := r.wait(r.send(c.path, c.typ, of), studio.Ready, studio.NeedsALook)
		if v.Take.State != studio.NeedsALook || !strings.Contains(v.Take.Why, c.want) || !strings.HasSuffix(v.Take.Why, ".") || strings.Contains(v.Take.Why, "/") {
			t.Errorf("%s: %s, why %s, want %s", c.name, v.Take.State, ends(v.Take.Why), ends(c.want))
		}
	}
	if v := r.wait(r.send(good, "audio/mp4", of), studio.Ready, studio.NeedsALook); v.Take.State != studio.Ready {
		t.Errorf("after all that: %+v", v.Take)
	}
}

func TestModelTake(t *testing.T) {
	r := openRoom(t, studio.FullVideo)
	lane := r.named("lane")
	w := r.shelve(lane)
	r.work()
	f, err := os.Open(r.encoded(r.take(lane, "own-nylon", 8, steadyHand), "aac"))
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	m, err := r.desk.ReceiveModel(t.Context(), r.teacher, w.ID, "audio/mp4", f)
	if err != nil {
		t.Fatal(err)
	}
	r.waitFor(m.ID, studio.Peaks)
	ms, err := r.desk.ModelTakes(t.Context(), r.teacher, w.ID)
	if err != nil || len(ms) != 1 || ms[0].State != studio.Ready || ms[0].Summary == nil || ms[0].Summary.RightShare < 0.95 {
		t.Errorf("%+v, %v", ms, err)
	}
}

func TestGuess(t *testing.T) {
	r := openRoom(t, studio.FullVideo)
	lane, mill := r.named("lane"), r.named("mill")
	w, of := r.ask(lane, "", "")
	r.shelve(mill)
	if _, _, err := r.desk.InviteFamily(t.Context(), r.teacher, studio.NewFamily{Name: "Lindqvist", Students: []studio.NewStudent{{Name: "Zoë"}, {Name: "Nils"}}}, studio.Asked{}); err != nil {
		t.Fatal(err)
	}
	names := map[studio.StudentID]string{}
	all, err := r.desk.Students(t.Context(), r.teacher)
	if err != nil {
		t.Fatal(err)
	}
	for _, s := range all {
		names[s.ID] = s.Name
	}
	r.work()
	drop := func(name, path string) studio.Unsorted {
		t.Helper()
		b, err := os.ReadFile(path)
		if err != nil {
			t.Fatal(err)
		}
		u, err := r.desk.Drop(t.Context(), r.teacher, name, "audio/mp4", bytes.NewReader(b))
		if err != nil {
			t.Fatal(err)
		}
		return r.waitUnsorted(u.ID)
	}
	played := r.encoded(r.take(lane, "own-nylon", 9, usual), "aac")
	u := drop("IMG_4711.m4a", played)
	if len(u.Guesses) == 0 || u.Guesses[0].Assignment != of || u.Guesses[0].Work != w.ID || u.Guesses[0].Confidence < 0.5 || !strings.Contains(u.Guesses[0].Why, "sounds like “Down the Lane”, which was asked of Ada") {
		t.Errorf("by ear: %+v, %s", u.Guesses, u.Why)
	}
	u = drop("20261122_zoe.m4a", r.encoded(r.take(mill, "own-nylon", 9, usual), "aac"))
	if len(u.Guesses) == 0 || names[u.Guesses[0].Student] != "Zoë" || !strings.Contains(u.Guesses[0].Why, "The Mill") {
		t.Errorf("by name and ear: %+v", u.Guesses)
	}
	u = drop("Ada.m4a", r.made("", "words.m4a", "-f", "lavfi", "-i", "anullsrc=r=22050:cl=mono", "-t", "3"))
	if u.State != studio.NeedsALook || !strings.Contains(u.Why, "hardly any sound") {
		t.Errorf("silence: %+v", u)
	}
}

func (r *room) waitUnsorted(id studio.UnsortedID) (found studio.Unsorted) {
	r.t.Helper()
	poll(r.t, func() bool {
		for _, u := range r.unsorted() {
			if u.ID == id && (u.State == studio.Ready || u.State == studio.NeedsALook) {
				found = u
				return true
			}
		}
		return false
	})
	return found
}

func TestNamesInFiles(t *testing.T) {
	for _, c := range []struct {
		file, name string
		want       bool
	}{
		{"Mira 22 Nov.mp4", "Mira", true}, {"mira_2026-11-22.mov", "Mira", true}, {"MiraTallis.m4a", "Mira", true}, {"Zoë.m4a", "Zoe", true}, {"zoe.m4a", "Zoë", true},
		{"VID-20261122-WA0003.mp4", "Ida", false}, {"admirable.mp4", "Mira", false}, {"Anna Lena.mp3", "Anna Lena", true}, {"Anna.mp3", "Anna Lena", false}, {"x.mp4", "", false},
	} {
		if got := named(namesIn(c.file), c.name); got != c.want {
			t.Errorf("%q names %q: %v", c.file, c.name, got)
		}
	}
}

// TestCorrected: what the teacher says about the way through the piece is heeded when a take is heard again,
// what has no place is left out, and lists show what the teacher made of it.
func TestCorrected(t *testing.T) {
	r := openRoom(t, studio.FullVideo)
	lane := r.named("lane")
	_, of := r.ask(lane, "", "")
	r.work()
	stumbled := r.take(lane, "own-nylon", 10, usual, func(s *rehearse.Spec) {
		s.Legs = []rehearse.Leg{{ToTick: lane.Bars[4].At, Ratio: 1}, {FromTick: lane.Bars[2].At, ToTick: lane.Bars[7].At + lane.Bars[7].Ticks, Jump: "restart", GapS: 1.2, Ratio: 1}}
	})
	id := r.send(r.encoded(stumbled, "aac"), "audio/mp4", of)
	v := r.wait(id, studio.Ready, studio.NeedsALook)
	type jump struct {
		Kind    string  `json:"kind"`
		ResumeS float64 `json:"resume_s"`
	}
	jumps := func(v studio.Review) []jump {
		t.Helper()
		var doc struct {
			Jumps []jump `json:"jumps"`
		}
		if err := json.Unmarshal(v.Hearing.JSON, &doc); err != nil {
			t.Fatal(err)
		}
		return doc.Jumps
	}
	was := jumps(v)
	if len(was) != 1 || was[0].Kind != "restart" || v.Take.Summary.Restarts != 1 {
		t.Fatalf("%+v, %+v", was, v.Take.Summary)
	}
	for kind, what := range map[string]string{"no-restart": fmt.Sprintf(`{"at_s":%.3f}`, was[0].ResumeS), "this-is-bar": `{"at_s":3,"bar":"99"}`, "of-tomorrow": `{"x":1}`} {
		if _, err := r.desk.Correct(t.Context(), r.teacher, id, v.Hearing.ID, kind, json.RawMessage(what)); err != nil {
			t.Fatal(kind, err)
		}
	}
	if err := r.desk.HearAgain(t.Context(), r.teacher, id); err != nil {
		t.Fatal(err)
	}
	again := r.wait(id, studio.Ready, studio.NeedsALook)
	if again.Take.State != studio.Ready || again.Hearing.ID == v.Hearing.ID {
		t.Errorf("heard again: %+v", again.Take)
	}
	for _, j := range jumps(again) { // the ear may think of another place for it, but not of this one
		if math.Abs(j.ResumeS-was[0].ResumeS) < 1.5 {
			t.Errorf("the teacher said that nobody went back at %.2f s; heard again: %+v", was[0].ResumeS, j)
		}
	}
}

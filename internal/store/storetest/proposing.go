package storetest

import (
	"fmt"
	"reflect"
	"strings"
	"testing"

	"antiphon/internal/studio"
)

// proposing: the next lesson goes on from the last one with a reason for each line, and forgets no question.
func proposing(t *testing.T, h *House) {
	ctx := t.Context()
	f := h.Found(t, "Lindenhof")
	v, mira := h.Join(t, f, "Abel", "Mira")
	if l, rs, err := h.Desk.ProposeLesson(ctx, f.Teacher, mira); err != nil || len(l.Assignments) != 0 || len(rs) != 0 || l.Student != mira || l.Date != "2026-03-02" {
		t.Errorf("the first lesson: %+v, %+v, %v", l, rs, err)
	}
	q := func(say string) *studio.Question { return &studio.Question{Say: say, Right: []string{"yes"}} }
	first := h.lessonFor(t, f, mira, studio.Assignment{Ask: studio.AskListen, Do: "Old question.", Question: q("Asked long ago?")},
		studio.Assignment{Ask: studio.AskHeld, Do: "Greensleeves.", Opens: "When bar 3 is calm."}, studio.Assignment{Ask: studio.AskListen, Do: "Done question.", Question: q("Answered?")})
	must(t, h.Desk.Tap(ctx, v, []studio.Tap{{ID: "answered-right", Student: mira, Assignment: first.Assignments[2].ID, Kind: studio.TapAnswer, Text: "Yes.", At: h.Now}}))
	h.Now = h.Now.AddDate(0, 0, 7)
	as := []studio.Assignment{
		{Do: "Up.", Goals: studio.Goals{TempoBpm: 60}, Ladder: studio.Ladder{FromBpm: 48, ToBpm: 60, StepBpm: 4, Clean: 3}},
		{Do: "Not yet.", Goals: studio.Goals{TempoBpm: 60}, Watch: "Old."},
		{Do: "Nobody knows.", Goals: studio.Goals{TempoBpm: 60}},
		{Do: "It hurt.", Goals: studio.Goals{FromBpm: 50, TempoBpm: 60}, Ladder: studio.Ladder{FromBpm: 48, ToBpm: 60, StepBpm: 4, Clean: 3}},
		{Ask: studio.AskRest, Do: "Rest."},
		{Ask: studio.AskListen, Do: "Heard.", Question: q("And this one?")},
		{Ask: studio.AskListen, Do: "Heard and answered.", Question: q("Right?")},
		{Ask: studio.AskChoose, Do: "Choose.", Ways: [2]studio.Way{{Say: "open"}, {Say: "fourth"}}},
		{Ask: studio.AskHeld, Do: "Held.", Opens: "Later."},
		{Ask: studio.AskKeep, Do: "Keep."},
	}
	l := h.lessonFor(t, f, mira, as...)
	id := func(i int) studio.AssignmentID { return l.Assignments[i].ID }
	h.Now = h.Now.AddDate(0, 0, 2)
	take := func(i int, s studio.Summary, doc string) studio.Take {
		t.Helper()
		a, err := h.Desk.Announce(ctx, v, studio.Announcement{Student: mira, Assignment: id(i)})
		must(t, err)
		r, err := h.Desk.Receive(ctx, v, a.ID, "audio/mp4", strings.NewReader(fmt.Sprint("take of ", i)))
		must(t, err)
		m, err := h.Desk.BeginHearing(ctx, f.Ear, a.ID)
		must(t, err)
		_, err = h.Desk.KeepHearing(ctx, f.Ear, a.ID, studio.Heard{Doc: []byte(doc), Turn: m.Turn, Summary: s})
		must(t, err)
		return r.Take
	}
	good := take(0, studio.Summary{Bpm: 61, RightShare: 1, Notes: 32}, `{"schema":"antiphon.hearing/1","passes":[{"start_s":1,"end_s":9},{"start_s":10,"end_s":50}],"findings":[{"text":"Whole.","from_s":10,"to_s":14,"confidence":0.9,"well":true}]}`)
	bad := take(1, studio.Summary{Bpm: 62, RightShare: .9, Notes: 20, Wrong: 1, Restarts: 2}, `{"schema":"antiphon.hearing/1","findings":[{"text":"Unsure.","confidence":0.2},{"text":"Bar 3 rushes.","confidence":0.8}]}`)
	_, err := h.Desk.Remark(ctx, f.Teacher, bad.ID, studio.Anchor{AtS: 1}, "Breathe before bar 3.\nThen go on.", "")
	must(t, err)
	must(t, h.Desk.Tap(ctx, v, []studio.Tap{
		{ID: "clean-try-1", Student: mira, Assignment: id(2), Kind: studio.TapTry, Clean: true, Bpm: 63, At: h.Now},
		{ID: "clean-try-2", Student: mira, Assignment: id(2), Kind: studio.TapTry, Bpm: 63, At: h.Now},
		{ID: "hurts-here", Student: mira, Assignment: id(3), Kind: studio.TapHurt, Text: "Thumb.", At: h.Now},
		{ID: "heard-aa", Student: mira, Assignment: id(5), Kind: studio.TapHeard, At: h.Now},
		{ID: "answer-a", Student: mira, Assignment: id(5), Kind: studio.TapAnswer, Text: "no", At: h.Now},
		{ID: "heard-bb", Student: mira, Assignment: id(6), Kind: studio.TapHeard, At: h.Now},
		{ID: "answer-b", Student: mira, Assignment: id(6), Kind: studio.TapAnswer, Text: "yes", At: h.Now},
		{ID: "chose-it", Student: mira, Assignment: id(7), Kind: studio.TapChose, Text: "2", At: h.Now},
	}))
	before := h.dump(t)
	got, rs, err := h.Desk.ProposeLesson(ctx, f.Teacher, mira)
	must(t, err)
	if !reflect.DeepEqual(before, h.dump(t)) {
		t.Error("a proposal leaves something behind")
	}
	var lines []string
	for _, r := range rs {
		do := ""
		if r.Line >= 0 {
			do = got.Assignments[r.Line].Do
		}
		lines = append(lines, fmt.Sprintf("%d %s %q: %s", r.Line, r.Move, do, r.Say))
	}
	want := []string{
		`0 advance "Up.": Heard at 61 quarters a minute; asked was 60. No wrong or missing note in 32 notes. It goes up to 68; change that where the piece itself is slower.`,
		`1 keep "Not yet.": Heard at 62 quarters a minute; asked was 60. In 20 notes: 1 wrong note, 2 new starts. Bar 3 rushes. Your remark stands under what to watch for.`,
		`2 keep "Nobody knows.": At home they tapped: 1 of 2 tries clean, clean up to 63. No recording came, so it stays as it was.`,
		`3 back "It hurt.": Something hurt with this. Nothing goes up before that is talked about; think of leaving it out.`,
		`-1 gone "": The rest is over.`,
		`4 keep "Heard.": The question comes back: the answer was “no”.`,
		`-1 gone "": The recording was listened to, and the question was answered right.`,
		`5 advance "Choose.": Of the two ways they chose “fourth”.`,
		`6 keep "Held.": It is held back still. To open it, make it another kind of task.`,
		`7 keep "Keep.": A technique that is kept alive stays. Nothing was tapped at home.`,
		`8 back "Old question.": The question of 2026-03-02 was not answered right yet.`,
		`9 back "Greensleeves.": It has been held back since 2026-03-02, and was not opened.`,
	}
	if !reflect.DeepEqual(lines, want) {
		t.Errorf("proposed\n%s\nwant\n%s", strings.Join(lines, "\n"), strings.Join(want, "\n"))
	}
	up, not, hurt := got.Assignments[0], got.Assignments[1], got.Assignments[3]
	if up.Goals.FromBpm != 60 || up.Goals.TempoBpm != 68 || up.Ladder.FromBpm != 60 || up.Ladder.ToBpm != 68 || up.ID != "" || rs[0].Takes[0] != good.ID ||
		up.Last != (studio.Clip{Take: good.ID, FromS: 10, ToS: 30}) || up.Best != (studio.Clip{Take: good.ID, FromS: 10, ToS: 14}) {
		t.Errorf("up: %+v", up)
	}
	if not.Watch != "Breathe before bar 3." || not.Goals.TempoBpm != 60 || hurt.Goals.TempoBpm != 50 || hurt.Ladder != (studio.Ladder{}) || got.Assignments[5].Goals.Fingering != "fourth" || got.Assignments[5].Ask != studio.AskPlay {
		t.Errorf("not yet: %+v, hurt: %+v, chosen: %+v", not, hurt, got.Assignments[5])
	}
	if _, err := h.Desk.SaveDraft(ctx, f.Teacher, got); err != nil {
		t.Errorf("what is proposed cannot be saved: %v", err)
	}
	_, _, err = h.Desk.ProposeLesson(ctx, v, mira)
	refused(t, "by a family", err, studio.NotAllowed)
}

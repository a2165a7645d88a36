package storetest

import (
	"encoding/json"
	"fmt"
	"strings"
	"testing"
	"time"

	"antiphon/internal/studio"
)

// letters: a draft says what was logged and nothing else, the teacher changes it, and a family reads what was sent.
func letters(t *testing.T, h *House) {
	ctx := t.Context()
	f := h.Found(t, "Lindenhof")
	v, mira := h.Join(t, f, "Abel", "Mira")
	b, jon := h.Join(t, f, "Bartsch", "Jon")
	draft := func(from, to string) studio.Letter {
		t.Helper()
		l, err := h.Desk.DraftLetter(ctx, f.Teacher, mira, from, to)
		must(t, err)
		return l
	}
	said := func(l studio.Letter) (all []string) {
		for _, p := range l.Parts {
			all = append(all, p.Heading+" | "+p.Text)
			for _, x := range p.Facts {
				if x.Day == "" {
					t.Errorf("a fact without a day: %+v", x)
				}
				all = append(all, "- "+x.Say)
			}
		}
		return all
	}
	if l := draft("2025-09-01", "2025-12-24"); len(l.Parts) != 1 || l.Parts[0].Facts != nil || !strings.Contains(l.Parts[0].Text, "From 1 September 2025 to 24 December 2025 nothing was sent") {
		t.Errorf("a term of nothing: %+v", l)
	}
	for _, d := range [][2]string{{"", ""}, {"2026-01-01", "2025-01-01"}, {"2026-13-01", "2026-12-01"}, {"2020-01-01", "2026-01-01"}} {
		_, err := h.Desk.DraftLetter(ctx, f.Teacher, mira, d[0], d[1])
		refused(t, fmt.Sprint(d), err, studio.Invalid)
	}
	w, err := h.Desk.AddWork(ctx, f.Teacher, studio.Work{Title: "Ode to Joy", Rights: "traditional"})
	must(t, err)
	begin := h.Now
	var last studio.Take
	for week, bpm := range []float64{58, 61, 66} {
		h.Now = begin.AddDate(0, 0, 7*week)
		l := h.lessonFor(t, f, mira, studio.Assignment{Work: w.ID, Do: "The first line."}, studio.Assignment{Ask: studio.AskHeld, Do: "The second line.", Opens: "when the first is calm."})
		h.Now = h.Now.AddDate(0, 0, 2)
		a, err := h.Desk.Announce(ctx, v, studio.Announcement{Student: mira, Assignment: l.Assignments[0].ID})
		must(t, err)
		_, err = h.Desk.Receive(ctx, v, a.ID, "audio/mp4", strings.NewReader(fmt.Sprint("week ", week)))
		must(t, err)
		m, err := h.Desk.BeginHearing(ctx, f.Ear, a.ID)
		must(t, err)
		_, err = h.Desk.KeepHearing(ctx, f.Ear, a.ID, studio.Heard{Doc: []byte(hearing), Turn: m.Turn, Summary: studio.Summary{Bpm: bpm, Notes: 30, Wrong: 2}})
		must(t, err)
		last = m.Take
		must(t, h.Desk.Tap(ctx, v, []studio.Tap{{ID: fmt.Sprint("done-in-week-", week), Student: mira, Assignment: l.Assignments[0].ID, Kind: studio.TapDone, At: h.Now}}))
	}
	_, err = h.Desk.Remark(ctx, f.Teacher, last.ID, studio.Anchor{}, "The ends breathe now.\nKeep that.", "")
	must(t, err)
	h.Send(t, b, jon, "of another child")
	l := draft("2026-03-01", "2026-03-31")
	want := []string{
		"Dear family | This letter is about Mira and the guitar. It is about the time from 1 March 2026 to 31 March 2026. All of it comes from what we wrote down then.",
		"What Mira worked on | In this time we had 3 lessons. This is what we worked on.",
		"- Ode to Joy: part of 3 lessons",
		"What could be heard | The numbers are beats in a minute: how fast it was played. Faster is not always better. A slow and calm piece can be just right.",
		"- Ode to Joy: 58 beats a minute at first, 66 at the end",
		"Practice at home | On 3 days you tapped that the guitar was out. Thank you for that.",
		"- The week from this day: 1 day", "- The week from this day: 1 day", "- The week from this day: 1 day",
		"What I wrote | Some of the words that went with the recordings:",
		"- The ends breathe now.",
		"What comes next | These things stand in the newest lesson:",
		"- Ode to Joy: The first line.", "- The second line. Not yet: when the first is calm.",
	}
	if got := strings.Join(said(l), "\n"); got != strings.Join(want, "\n") {
		t.Errorf("drafted\n%s\nwant\n%s", got, strings.Join(want, "\n"))
	}
	var c studio.LetterChart
	must(t, json.Unmarshal(l.Parts[2].Chart, &c))
	if c.Kind != "tempo" || len(c.Points) != 3 || c.Points[2] != (studio.ChartPoint{Day: "2026-03-18", Value: 66}) || l.Parts[2].Facts[0].Take != last.ID {
		t.Errorf("chart %+v, facts %+v", c, l.Parts[2].Facts)
	}
	// Only the days that were asked for.
	if l := draft("2026-03-08", "2026-03-12"); strings.Contains(strings.Join(said(l), "\n"), "58") || strings.Contains(strings.Join(said(l), "\n"), "breathe") || !strings.Contains(strings.Join(said(l), "\n"), "Ode to Joy: 61 beats") {
		t.Errorf("of one week: %q", said(l))
	}

	l.Parts = l.Parts[:2]
	l.Parts[0].Text = "Dear all.\x00"
	l, err = h.Desk.SaveLetter(ctx, f.Teacher, l)
	must(t, err)
	stale := l
	l, err = h.Desk.SaveLetter(ctx, f.Teacher, l)
	must(t, err)
	_, err = h.Desk.SaveLetter(ctx, f.Teacher, stale)
	refused(t, "an older draft", err, studio.Conflict)
	_, err = h.Desk.Letter(ctx, v, l.ID)
	refused(t, "a draft, for the family", err, studio.NotFound)
	if ls, err := h.Desk.Letters(ctx, v, mira); err != nil || len(ls) != 0 {
		t.Errorf("drafts for the family: %+v, %v", ls, err)
	}
	refused(t, "by the family", h.Desk.SendLetter(ctx, v, l.ID, l.Version), studio.NotAllowed)
	h.Now = h.Now.Add(time.Hour)
	must(t, h.Desk.SendLetter(ctx, f.Teacher, l.ID, l.Version))
	read, err := h.Desk.Letter(ctx, v, l.ID)
	must(t, err)
	if !read.Sent.Equal(h.Now) || read.Parts[0].Text != "Dear all." || len(read.Parts[1].Facts) != 1 {
		t.Errorf("read: %+v", read)
	}
	_, err = h.Desk.Letter(ctx, b, l.ID)
	refused(t, "another family's", err, studio.NotFound)
	_, err = h.Desk.Letters(ctx, b, mira)
	refused(t, "another family's letters", err, studio.NotFound)
	_, err = h.Desk.SaveLetter(ctx, f.Teacher, l)
	refused(t, "changing what was sent", err, studio.Conflict)
	refused(t, "dropping what was sent", h.Desk.DropLetter(ctx, f.Teacher, l.ID), studio.NotFound)
	other, err := h.Desk.SaveLetter(ctx, f.Teacher, studio.Letter{Student: mira, From: "2026-03-01", To: "2026-03-31"})
	must(t, err)
	refused(t, "an empty one", h.Desk.SendLetter(ctx, f.Teacher, other.ID, other.Version), studio.Invalid)
	must(t, h.Desk.DropLetter(ctx, f.Teacher, other.ID))
}

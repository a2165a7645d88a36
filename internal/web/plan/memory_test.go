package plan_test

import (
	"bytes"
	"encoding/json"
	"fmt"
	"html"
	"net/http"
	"net/url"
	"regexp"
	"strconv"
	"strings"
	"testing"
	"time"
	"unicode/utf8"

	plans "antiphon/internal/plan"
	"antiphon/internal/studio"
)

// slips are the bars of a take in which so many of the four notes were wrong.
type slips map[int]int

// heardIn is the hearing of a take from one bar to another, four notes in each, at a tempo; stops are the bars in which
// it broke off.
func heardIn(t testing.TB, from, to int, bpm float64, wrong slips, stops ...int) ([]byte, studio.Summary) {
	t.Helper()
	type m = map[string]any
	var notes, played, jumps, curve []m
	sum := studio.Summary{Bpm: bpm, SteadinessPct: 5, Restarts: len(stops), FromBar: strconv.Itoa(from), ToBar: strconv.Itoa(to)}
	for bar := 1; bar <= 16; bar++ {
		for k := range 4 {
			id, verdict := fmt.Sprintf("n%d-%d", bar, k), "right"
			notes = append(notes, m{"id": id, "bar": strconv.Itoa(bar)})
			if bar < from || bar > to {
				continue
			}
			if sum.Notes++; k < wrong[bar] {
				verdict, sum.Wrong = "wrong", sum.Wrong+1
			}
			played = append(played, m{"note": id, "pass": 1, "verdict": verdict})
		}
		if bar >= from && bar < to {
			curve = append(curve, m{"bar": strconv.Itoa(bar), "bpm": bpm})
		}
	}
	for _, bar := range stops {
		jumps = append(jumps, m{"kind": "restart", "from_bar": strconv.Itoa(bar), "to_bar": strconv.Itoa(bar)})
	}
	sum.RightShare = float64(sum.Notes-sum.Wrong) / float64(sum.Notes)
	doc, err := json.Marshal(m{"schema": "antiphon.hearing/1", "score": m{"notes": notes}, "played": played, "missed": []m{}, "jumps": jumps,
		"tempo": m{"median_bpm": bpm, "beat_unit_q": 1, "curve": curve}, "findings": []m{}})
	must(t, err)
	return doc, sum
}

// sent is a take that was heard.
func (h *hall) sent(t testing.TB, a studio.AssignmentID, doc []byte, sum studio.Summary) studio.TakeID {
	t.Helper()
	ctx := t.Context()
	one, err := h.Desk.Announce(ctx, h.Okafor.Coach, studio.Announcement{Student: h.ada.ID, Assignment: a})
	must(t, err)
	_, err = h.Desk.Receive(ctx, h.Okafor.Coach, one.ID, "audio/mp4", strings.NewReader("sound of "+string(one.ID)))
	must(t, err)
	_, err = h.Desk.BeginHearing(ctx, ear(h.Site), one.ID)
	must(t, err)
	_, err = h.Desk.ReplaceOriginal(ctx, ear(h.Site), one.ID, "audio/mp4", bytes.NewReader([]byte("clean "+one.ID)))
	must(t, err)
	_, err = h.Desk.KeepHearing(ctx, ear(h.Site), one.ID, studio.Heard{Doc: doc, Summary: sum, DurationS: 60})
	must(t, err)
	return one.ID
}

func (h *hall) lesson(t testing.TB, as ...studio.Assignment) studio.Lesson {
	t.Helper()
	l, err := h.Desk.SaveDraft(t.Context(), h.Teacher, studio.Lesson{Student: h.ada.ID, Date: h.Now().Format(time.DateOnly), Words: "Well done.", Assignments: as})
	must(t, err)
	must(t, h.Desk.SendLesson(t.Context(), h.Teacher, l.ID, l.Version))
	return l
}

// passages lets nine weeks go by for Ada with the canon. Bars 5–8, once asked as 5–9, hold a stretch; they were right at
// first, and wrong the last two times that the whole was played. Bar 13 was wrong once, and is nobody's business.
func (h *hall) passages(t testing.TB) {
	t.Helper()
	ctx := t.Context()
	w, err := h.Desk.Work(ctx, h.Teacher, h.canon.ID)
	must(t, err)
	must(t, h.Desk.KeepDemand(ctx, ear(h.Site), w, studio.Demand{Load: 1, Bars: 16, LastBar: "16", Skills: []string{"stretching"}, Where: map[string][]int{"stretching": {4, 5, 7, 7}}}))
	must(t, h.Desk.KeepDemand(ctx, ear(h.Site), h.barre, studio.Demand{Load: 1, Bars: 4, LastBar: "4", Skills: []string{"small barre", "stretching"}}))
	_, err = h.Desk.AddPassage(ctx, h.Teacher, studio.Passage{Work: h.canon.ID, Name: "the climb", FromBar: "5", ToBar: "8"})
	must(t, err)
	week := 7 * 24 * time.Hour
	whole := studio.Assignment{Work: h.canon.ID, Do: "All of it.", Goals: studio.Goals{TempoBpm: 76}}
	part := studio.Assignment{Work: h.canon.ID, FromBar: "5", ToBar: "8", Do: "Only these.", Goals: studio.Goals{TempoBpm: 60}}
	wider := part
	wider.ToBar = "9"
	for i, x := range []struct {
		part  []studio.Assignment
		from  int
		to    int
		bpm   float64
		wrong slips
		stops []int
	}{
		{nil, 1, 16, 60, slips{6: 2, 7: 2}, nil},
		{[]studio.Assignment{part}, 5, 8, 56, slips{6: 1}, nil}, // one note is forgiven
		{[]studio.Assignment{wider}, 5, 9, 60, nil, nil},
		{[]studio.Assignment{part}, 1, 16, 66, slips{13: 4}, nil},
		{nil, 1, 16, 70, nil, nil},
		{nil, 9, 16, 72, slips{13: 3}, nil}, // without these bars
		{nil, 1, 16, 70, nil, []int{6}},
		{nil, 1, 16, 72, slips{5: 1, 6: 2, 8: 3}, nil},
	} {
		l := h.lesson(t, append([]studio.Assignment{whole}, x.part...)...)
		to := l.Assignments[0].ID
		if len(x.part) > 0 {
			h.Wait(24 * time.Hour)
			must(t, h.Desk.Tap(ctx, h.Okafor.Coach, []studio.Tap{{ID: fmt.Sprintf("tap-part-%d---", i), Student: h.ada.ID, Assignment: l.Assignments[1].ID, Kind: studio.TapTry, Clean: true, Bpm: 56, At: h.Now()}}))
			h.Wait(-24 * time.Hour)
			if x.to-x.from < 5 {
				to = l.Assignments[1].ID
			}
		}
		h.Wait(4 * 24 * time.Hour)
		doc, sum := heardIn(t, x.from, x.to, x.bpm, x.wrong, x.stops...)
		take := h.sent(t, to, doc, sum)
		if i < 2 {
			_, err := h.Desk.Remark(ctx, h.Teacher, take, studio.Anchor{AtS: 3, Bar: "7"}, "Reach with the whole hand.", "stretch-too-large")
			must(t, err)
		} else if i == 3 {
			_, err := h.Desk.Remark(ctx, h.Teacher, take, studio.Anchor{AtS: 3, Bar: "13"}, "Count the rest.", "")
			must(t, err)
		}
		h.Wait(week - 4*24*time.Hour)
	}
}

// within is the part of a page from one mark up to the next.
func within(t testing.TB, text, from, to string) string {
	t.Helper()
	_, rest, ok := strings.Cut(text, from)
	if !ok {
		t.Fatalf("%s is not in the page:\n%s", from, seen(text))
	}
	part, _, _ := strings.Cut(rest, to)
	return part
}

// TestPassages goes from lessons, takes, taps and remarks to the pages: bars that are asked by themselves, also in two
// ways, are one thing; they are heard in every take that has them; what slips in them is told, in reasons, too.
func TestPassages(t *testing.T) {
	h := open(t)
	h.passages(t)
	at := "/students/" + string(h.ada.ID)
	_, text := h.Get(t, h.TeacherDevice, at+"/memory")
	hasNot(t, text, jargon...)
	if n := strings.Count(text, `<li id="p-`); n != 1 {
		t.Errorf("%d passages, want one", n)
	}
	part := within(t, text, `<li id="p-`, `</ol>`)
	has(t, part, "Bars 5–8 “the climb”", "Bars 5–8 went wrong on the last two days they were heard.", "Asked by itself 3 times, last 35 days ago.", "Last practised apart from the whole 34 days ago.",
		"Heard in 7 recordings, the last of them 3 days ago.", "2 remarks", "10 of 16", "15 of 16", "1 time")
	hasNot(t, part, "9 of 16")
	has(t, within(t, text, `id="look"`, `</section>`), "Tallis’s Canon : Bars 5–8 went wrong on the last two days they were heard.")
	has(t, part, "Put these bars into the lesson", "Said there: Reach with the whole hand. 15 November")
	if got := within(t, part, `class="strip"`, "</svg>"); strings.Count(got, `"dot"`) != 4 || strings.Count(got, `"ring"`) != 3 {
		t.Errorf("right four times and not right three times: %s", got)
	}
	if !strings.Contains(part, "Tempo over 7 takes") {
		t.Error("there is no curve of its tempo")
	}

	// The search for remarks.
	link := regexp.MustCompile(`href="(\?of=[^"]*)#said">2 remarks<`).FindStringSubmatch(part)
	if link == nil {
		t.Fatal("nothing leads to what was said in these bars")
	}
	_, said := h.Get(t, h.TeacherDevice, at+"/memory"+html.UnescapeString(link[1]))
	has(t, said, "2 remarks, the newest first")
	of := regexp.MustCompile(`value="([^"]*)">Tallis’s Canon, bars 5–8<`).FindStringSubmatch(text)
	if of == nil {
		t.Fatal("remarks cannot be looked for in these bars")
	}
	_, text = h.Get(t, h.TeacherDevice, at+"/memory?of="+url.QueryEscape(of[1]))
	has(t, text, "2 remarks, the newest first", "Reach with the whole hand.")
	hasNot(t, text, "Count the rest.")
	_, text = h.Get(t, h.TeacherDevice, at+"/memory?of="+url.QueryEscape("skill|stretching"))
	has(t, text, "2 remarks, the newest first")
	hasNot(t, text, "Count the rest.")
	_, text = h.Get(t, h.TeacherDevice, at+"/memory?of="+url.QueryEscape("skill|small barre"))
	has(t, text, "Nothing was said about it in that time.")

	// The reasons.
	_, text = h.Get(t, h.TeacherDevice, at+"/plan")
	has(t, text, "Bars 5–8 went wrong on the last two days they were heard.")
	_, reasons, err := h.Desk.ProposeLesson(t.Context(), h.Teacher, h.ada.ID)
	must(t, err)
	n := 0
	for _, r := range reasons {
		n += strings.Count(r.Say, "Bars 5–8 went wrong on the last two days they were heard.")
	}
	if n != 1 {
		t.Errorf("the proposal says it %d times: %+v", n, reasons)
	}

	// From the page into the lesson, once, and only while nothing hurts.
	asking := url.Values{"work": {string(h.canon.ID)}, "from": {"5"}, "to": {"8"}}
	for range 2 {
		status, text, to := h.Post(t, h.TeacherDevice, at+"/memory", asking)
		if status != http.StatusSeeOther || !strings.HasPrefix(to, "/lessons/") {
			t.Fatalf("into the lesson: %d %q %s", status, to, seen(text))
		}
		l, err := h.Desk.Lesson(t.Context(), h.Teacher, studio.LessonID(strings.TrimPrefix(to, "/lessons/")))
		must(t, err)
		if a := l.Assignments; len(a) != 1 || a[0].Work != h.canon.ID || a[0].FromBar != "5" || a[0].ToBar != "8" || a[0].Goals.TempoBpm != 60 || a[0].Do != "Only these bars, slowly at first." {
			t.Errorf("the draft: %+v", a)
		}
	}
	for name, bad := range map[string]url.Values{"other bars": {"work": asking["work"], "from": {"5"}, "to": {"7"}}, "no work": {"from": {"5"}, "to": {"8"}}} {
		if status, _, _ := h.Post(t, h.TeacherDevice, at+"/memory", bad); status != http.StatusNotFound {
			t.Errorf("%s: %d", name, status)
		}
	}
	if status, _, _ := h.Post(t, h.Okafor.Device, at+"/memory", asking); status != http.StatusForbidden {
		t.Errorf("a family puts bars into a lesson: %d", status)
	}
	_, err = h.Desk.Hurts(t.Context(), h.Okafor.Coach, h.ada.ID, "", "The left wrist.")
	must(t, err)
	_, text = h.Get(t, h.TeacherDevice, at+"/memory")
	hasNot(t, text, "Put these bars into the lesson")
	if status, text, _ := h.Post(t, h.TeacherDevice, at+"/memory", asking); status != http.StatusConflict || !strings.Contains(text, "the hands rest") {
		t.Errorf("while something hurts: %d %s", status, seen(text))
	}
	_, err = h.Desk.HandsMayPlay(t.Context(), h.Teacher, h.ada.ID)
	must(t, err)

	// It is kept now; a month later it slips inside of the work.
	for range 3 {
		h.lesson(t, studio.Assignment{Work: h.mice.ID, Do: "Slowly."})
		h.Wait(11 * 24 * time.Hour)
	}
	_, text = h.Get(t, h.TeacherDevice, at+"/memory")
	part = within(t, text, `<li id="p-`, `</ol>`)
	has(t, part, "Bars 5–8 went wrong on the last two days they were heard, and were last played 36 days ago; likely to need")
	state, err := h.Desk.AllPlans(t.Context(), h.Teacher)
	must(t, err)
	doc, err := json.Marshal(state)
	must(t, err)
	state, err = plans.Read(bytes.NewReader(doc)) // as it is written and read by a terminal
	must(t, err)
	found := 0
	for _, it := range state.Student(string(h.ada.ID)).Items {
		for _, ps := range it.Passages {
			if found++; ps.From != "5" || ps.To != "8" || len(ps.Asked) != 3 || len(ps.Played) != 10 || len(ps.Remarks) != 2 || ps.GoalBpm != 60 {
				t.Errorf("the passage in the state: %+v", ps)
			}
		}
	}
	if found != 1 {
		t.Errorf("%d passages in the state", found)
	}
}

// TestHostileBars: a bar may be called anything in a score from elsewhere.
func TestHostileBars(t *testing.T) {
	h := open(t)
	w, err := h.Desk.Work(t.Context(), h.Teacher, h.canon.ID)
	must(t, err)
	names := []string{`"><b>|`, "–", "", " 3 ", "1|2", "x"} // and one without a number
	must(t, h.Desk.KeepDemand(t.Context(), ear(h.Site), w, studio.Demand{Bars: 6, LastBar: "x", Numbers: names, Skills: []string{"chords"}, Where: map[string][]int{"chords": {0, 1, 4, 90, 7}}}))
	for range 2 {
		h.lesson(t, studio.Assignment{Work: h.canon.ID, FromBar: names[0], ToBar: "–", Do: "These."}, studio.Assignment{Work: h.canon.ID, FromBar: "1|2", ToBar: "1|2", Do: "This."},
			studio.Assignment{Work: h.canon.ID, FromBar: "nowhere", ToBar: "x", Do: "None."}, studio.Assignment{Work: h.canon.ID, FromBar: "x", ToBar: "–", Do: "Backwards."})
		h.Wait(7 * 24 * time.Hour)
	}
	at := "/students/" + string(h.ada.ID) + "/memory"
	status, text := h.Get(t, h.TeacherDevice, at)
	if status != 200 || strings.Contains(text, "<b>") || strings.Count(text, `<li id="p-`) != 2 {
		t.Errorf("%d, %d passages:\n%s", status, strings.Count(text, `<li id="p-`), seen(text))
	}
	has(t, text, `Bar 1|2`)
	for _, of := range []string{"|", "||", "skill|", "skill", string(h.canon.ID) + "|x|–", string(h.canon.ID) + "|nowhere|", strings.Repeat("|", 5000), "\x00"} {
		if status, _ := h.Get(t, h.TeacherDevice, at+"?of="+url.QueryEscape(of)); status != 200 {
			t.Errorf("remarks about %.20q: %d", of, status)
		}
	}
}

// TestWhatGoes: what was deleted is not remembered, and a score that changed takes its bars along.
func TestWhatGoes(t *testing.T) {
	h := open(t)
	h.passages(t)
	at := "/students/" + string(h.ada.ID) + "/memory"
	ts, err := h.Desk.TakesBy(t.Context(), h.Teacher, studio.TakeQuery{Student: h.ada.ID})
	must(t, err)
	_, err = h.Desk.DeleteTake(t.Context(), h.Teacher, ts[0].ID)
	must(t, err)
	_, text := h.Get(t, h.TeacherDevice, at)
	has(t, text, "Heard in 6 recordings, the last of them 10 days ago.")
	hasNot(t, text, "went wrong on the last two days")

	w, err := h.Desk.Work(t.Context(), h.Teacher, h.canon.ID)
	must(t, err)
	w.Score += "<!-- revised -->"
	must(t, h.Desk.ReviseWork(t.Context(), h.Teacher, w))
	_, text = h.Get(t, h.TeacherDevice, at) // before anybody worked the new score out
	has(t, text, "Bars 5–8 “the climb”", "Heard in 6 recordings")
	w, err = h.Desk.Work(t.Context(), h.Teacher, h.canon.ID)
	must(t, err)
	must(t, h.Desk.KeepDemand(t.Context(), ear(h.Site), w, studio.Demand{Bars: 6, LastBar: "6"}))
	status, text := h.Get(t, h.TeacherDevice, at)
	if status != http.StatusOK || strings.Contains(text, `<li id="p-`) {
		t.Errorf("bars that are not in the score any more: %d", status)
	}
	if status, _, _ := h.Post(t, h.TeacherDevice, at, url.Values{"work": {string(h.canon.ID)}, "from": {"5"}, "to": {"8"}}); status != http.StatusNotFound {
		t.Errorf("bars that are not there, into the lesson: %d", status)
	}
}

// TestNamedSkills: a skill may be called in any letters, and one without a name is none.
func TestNamedSkills(t *testing.T) {
	h := open(t)
	says := url.Values{"own": {"yes"}, "needs": {"", " "}, "more-needs": {"über die Saiten, , <b>"}}
	if status, text, _ := h.Post(t, h.TeacherDevice, "/plan/works/"+string(h.canon.ID), says); status != http.StatusSeeOther {
		t.Fatalf("%d %s", status, seen(text))
	}
	h.lesson(t, studio.Assignment{Work: h.canon.ID, Do: "All of it."})
	status, text := h.Get(t, h.TeacherDevice, "/students/"+string(h.ada.ID)+"/memory")
	if status != http.StatusOK || strings.Contains(text, `<li id="s-"`) || !utf8.ValidString(text) || strings.Contains(text, "<b>") {
		t.Errorf("%d %s", status, seen(text))
	}
	has(t, text, "Über die Saiten was begun, and not heard yet")
}

// TestSkills: a skill is heard in the bars that need it and nowhere else; its row, its silence, and what would keep it alive.
func TestSkills(t *testing.T) {
	h := open(t)
	h.passages(t)
	at := "/students/" + string(h.ada.ID) + "/memory"
	_, text := h.Get(t, h.TeacherDevice, at)
	part := within(t, text, `<li id="s-stretching"`, `<li id="s-`)
	has(t, part, "Stretching is there, but was not right on the last two days it was heard", "Last asked 7 days ago in Tallis’s Canon, practised 34 days ago, heard 3 days ago.", "2 remarks about it",
		"Tallis’s Canon , bars 5–6 and 8; heard 7 times: it went right there 5 of 7 times")
	if got := within(t, part, `class="plot"`, "</svg>"); strings.Count(got, "<circle") != 7 {
		t.Errorf("the curve of what is believed: %s", got)
	}
	if got := within(t, part, `class="strip"`, "</svg>"); strings.Count(got, `"dot"`) != 5 || strings.Count(got, `"ring"`) != 2 {
		t.Errorf("the row of hearings: %s", got)
	}
	has(t, text, "Small barre was not met yet", "It would open the way to Round in G: nothing else stands before it.", "It could be built with Two strings under one finger.")
	hasNot(t, part, "Not needed by anything")
	h.lesson(t, studio.Assignment{Work: h.mice.ID, Do: "Slowly."})
	h.Wait(7 * 24 * time.Hour)
	h.lesson(t, studio.Assignment{Work: h.mice.ID, Do: "Slowly."})
	h.Wait(38 * 24 * time.Hour)
	_, text = h.Get(t, h.TeacherDevice, at)
	part = within(t, text, `<li id="s-stretching"`, `<li id="s-`)
	has(t, within(t, text, `id="look"`, `</section>`), "Stretching : Not needed by anything played for 48 days.")
	has(t, part, "Not needed by anything played for 48 days. Once through Tallis’s Canon, which is kept, would keep it alive.")
	hasNot(t, text, jargon...)
}

package plan_test

import (
	"bytes"
	"fmt"
	"net/http"
	"net/url"
	"regexp"
	"strings"
	"testing"
	"time"

	plans "antiphon/internal/plan"
	"antiphon/internal/plan/calendar"
	"antiphon/internal/studio"
	"antiphon/internal/web/plan"
	"antiphon/internal/web/webtest"
)

// hall is a studio in the middle of a term: Ada has learnt two tunes, learns the third, and a round with a small barre waits;
// a scale is kept alive. Nils came last week.
type hall struct {
	*webtest.Site
	ada, nils          studio.Student
	mice, canon, ode   studio.Work
	round, barre, scal studio.Work
}

func ear(s *webtest.Site) studio.Viewer {
	return studio.Viewer{Studio: s.Teacher.Studio, Role: studio.Ear}
}

func must(t testing.TB, err error) {
	t.Helper()
	if err != nil {
		t.Fatal(err)
	}
}

func open(t testing.TB) *hall {
	t.Helper()
	s := webtest.Open(t)
	h := &hall{Site: s.Serve(t, func(mux *http.ServeMux) { must(t, plan.Routes(mux, s.Frame)) })}
	h.ada, h.nils = s.Okafor.Students[0], s.Lindqvist.Students[0]
	ctx := t.Context()
	add := func(title string, exercise bool, dm studio.Demand) studio.Work {
		w, err := s.Desk.AddWork(ctx, s.Teacher, studio.Work{Title: title, Exercise: exercise, Rights: "traditional", Score: "<score of='" + title + "'/>"})
		must(t, err)
		must(t, s.Desk.KeepDemand(ctx, ear(h.Site), w, dm))
		return w
	}
	h.mice = add("Three Blind Mice", false, studio.Demand{Load: 0.5, Bars: 12, LastBar: "12"})
	h.canon = add("Tallis’s Canon", false, studio.Demand{Load: 1, Bars: 16, LastBar: "16", Skills: []string{"thumb and finger together"}})
	h.ode = add("Ode to Joy", false, studio.Demand{Load: 1.1, Bars: 16, LastBar: "16", Skills: []string{"fourth finger"}})
	h.round = add("Round in G", false, studio.Demand{Load: 1.5, Bars: 24, LastBar: "24", Skills: []string{"small barre"}})
	h.barre = add("Two strings under one finger", true, studio.Demand{Load: 1, Bars: 4, LastBar: "4", Skills: []string{"small barre"}, Strain: true})
	h.scal = add("One octave in C", true, studio.Demand{Load: .6, Bars: 4, LastBar: "4"})
	must(t, s.Desk.SayOfWork(ctx, s.Teacher, h.mice.ID, studio.WorkSays{Joy: true, Minutes: 3}))
	must(t, s.Desk.SettleStudio(ctx, s.Teacher, calendar.Free{}, []plans.Group{{Name: "scales", LimitDays: 21}}))
	must(t, s.Desk.SayOfWork(ctx, s.Teacher, h.scal.ID, studio.WorkSays{Kind: plans.Technique, Group: "scales"}))
	_, err := s.Desk.Shelve(ctx, s.Teacher, studio.Collection{Name: "First tunes and rounds", Items: []studio.CollectionItem{{Work: h.mice.ID}, {Work: h.canon.ID}, {Work: h.ode.ID}, {Work: h.round.ID}}})
	must(t, err)
	return h
}

// term lets twenty weeks go by for Ada.
func (h *hall) term(t testing.TB) {
	t.Helper()
	ctx := t.Context()
	for week := range 20 {
		asked := []studio.Assignment{{Work: h.mice.ID, Do: "Slowly."}}
		switch {
		case week >= 12:
			asked = []studio.Assignment{{Work: h.ode.ID, Do: "The first line.", Goals: studio.Goals{TempoBpm: 88}}}
		case week >= 5:
			asked = []studio.Assignment{{Work: h.canon.ID, Do: "Once a day.", Goals: studio.Goals{TempoBpm: 76}}}
		}
		if week == 10 || week == 14 {
			asked = append(asked, studio.Assignment{Work: h.scal.ID, Ask: studio.AskKeep, Do: "Once."})
		}
		l, err := h.Desk.SaveDraft(ctx, h.Teacher, studio.Lesson{Student: h.ada.ID, Date: h.Now().Format(time.DateOnly), Words: "Well done.", Assignments: asked})
		must(t, err)
		must(t, h.Desk.SendLesson(ctx, h.Teacher, l.ID, l.Version))
		h.Wait(60 * time.Hour)
		must(t, h.Desk.Tap(ctx, h.Okafor.Coach, []studio.Tap{
			{ID: fmt.Sprintf("tap-%d-a-----", week), Student: h.ada.ID, Assignment: l.Assignments[0].ID, Kind: studio.TapTry, Clean: true, Bpm: 50 + float64(week), At: h.Now()},
			{ID: fmt.Sprintf("tap-%d-b-----", week), Student: h.ada.ID, Assignment: l.Assignments[0].ID, Kind: studio.TapDone, Seconds: 480, At: h.Now()}}))
		if week%6 != 5 {
			h.heard(t, h.Okafor.Coach, studio.Announcement{Student: h.ada.ID, Assignment: l.Assignments[0].ID, Work: asked[0].Work},
				studio.Summary{Bpm: 54 + float64(week), SteadinessPct: 9 - float64(week%8), Notes: 60, RightShare: .9 + float64(week%8)/100, FromBar: "1", ToBar: "16"},
				"The left wrist is higher than the hand: let it hang.")
		}
		h.Wait(108 * time.Hour)
	}
	must(t, h.Desk.KeepPlans(ctx, ear(h.Site)))
}

func (h *hall) heard(t testing.TB, by studio.Viewer, a studio.Announcement, sum studio.Summary, remark string) {
	t.Helper()
	ctx := t.Context()
	one, err := h.Desk.Announce(ctx, by, a)
	must(t, err)
	_, err = h.Desk.Receive(ctx, by, one.ID, "audio/mp4", strings.NewReader("sound of "+string(one.ID)))
	must(t, err)
	_, err = h.Desk.BeginHearing(ctx, ear(h.Site), one.ID)
	must(t, err)
	_, err = h.Desk.ReplaceOriginal(ctx, ear(h.Site), one.ID, "audio/mp4", bytes.NewReader([]byte("clean "+one.ID)))
	must(t, err)
	_, err = h.Desk.KeepHearing(ctx, ear(h.Site), one.ID, studio.Heard{Doc: []byte(`{"schema":"antiphon.hearing/1"}`), Summary: sum, DurationS: 60})
	must(t, err)
	_, err = h.Desk.Remark(ctx, h.Teacher, one.ID, studio.Anchor{AtS: 3, Bar: "5"}, remark, "high-wrist")
	must(t, err)
}

var tags = regexp.MustCompile(`<[^>]*>`)

// seen is what a page says, without its marks.
func seen(text string) string {
	return strings.Join(strings.Fields(strings.NewReplacer("&#39;", "'", "&amp;", "&").Replace(tags.ReplaceAllString(text, " "))), " ")
}

func has(t testing.TB, text string, words ...string) {
	t.Helper()
	for _, w := range words {
		if !strings.Contains(seen(text), w) {
			t.Errorf("the page does not say %q:\n%s", w, seen(text))
		}
	}
}

func hasNot(t testing.TB, text string, words ...string) {
	t.Helper()
	for _, w := range words {
		if strings.Contains(seen(text), w) {
			t.Errorf("the page says %q:\n%s", w, seen(text))
		}
	}
}

// jargon is what no page of a teacher says.
var jargon = []string{"retention", "stability", "load of", "percentile", "quantile", "NaN", "%!", "0.8", "score of", "map["}

func TestWeek(t *testing.T) {
	h := open(t)
	h.term(t)
	at := "/students/" + string(h.ada.ID) + "/plan"
	status, text := h.Get(t, h.TeacherDevice, at)
	if status != 200 {
		t.Fatal(status, text)
	}
	has(t, text, "Plan for Ada", "Go on with Ode to Joy", "the fastest that was heard clean", "Then: If it is clean three times in a row at", "Nobody said how many minutes",
		"Bring back Three Blind Mice", "Easy and liked", "One octave in C", "Nothing in scales is to stay unseen for more than 21 days",
		"What comes next in First tunes and rounds", "Between Ada and this stands small barre", "Two strings under one finger would build small barre",
		"is likely finished between", "one time in two", "four times in five", "Still to learn: Ode to Joy, Round in G", "Nobody knows one date")
	hasNot(t, text, jargon...)

	post := func(form url.Values, to string) string {
		t.Helper()
		status, text, went := h.Post(t, h.TeacherDevice, at, form)
		if status != http.StatusSeeOther || !strings.HasSuffix(went, to) {
			t.Fatalf("%v: %d %s to %q", form, status, seen(text), went)
		}
		_, text = h.Get(t, h.TeacherDevice, went)
		return text
	}
	text = post(url.Values{"work": {string(h.ode.ID)}, "do": {"forbid"}}, "done=forbid")
	has(t, text, "It is left out, and the rest was planned anew.", "You left it out.", "Let the plan choose")
	hasNot(t, text, "Go on with Ode to Joy")
	text = post(url.Values{"work": {string(h.ode.ID)}, "do": {"free"}}, "done=free")
	has(t, text, "Go on with Ode to Joy")
	day := calendar.Of(h.Now()) + 1
	text = post(url.Values{"work": {string(h.canon.ID)}, "do": {"pin"}, "on": {day.String()}}, "done=pin")
	has(t, text, "put here by you", "You put it here.")
	if !regexp.MustCompile(`(?s)data-day="` + day.String() + `".*?Tallis.*?data-day=`).MatchString(text) {
		t.Error("it is not on that day")
	}
	text = post(url.Values{"work": {string(h.canon.ID)}, "do": {"move"}, "from": {day.String()}, "to": {(day + 1).String()}}, "done=move")
	if !regexp.MustCompile(`(?s)data-day="` + (day + 1).String() + `".*?Tallis`).MatchString(text) {
		t.Error("it was not moved")
	}
	post(url.Values{"work": {string(h.canon.ID)}, "do": {"rate"}, "rating": {"4"}}, "done=rate")
	text = post(url.Values{"work": {string(h.mice.ID)}, "do": {"stage"}, "stage": {"rested"}}, "done=stage")
	hasNot(t, text, "Bring back Three Blind Mice")
	if status, text, _ = h.Post(t, h.TeacherDevice, at, url.Values{"work": {string(h.mice.ID)}, "do": {"nonsense"}}); status != 422 {
		t.Errorf("nonsense: %d %s", status, seen(text))
	}
	if status, _, _ = h.Post(t, h.TeacherDevice, at, url.Values{"work": {string(h.mice.ID)}, "do": {"pin"}, "on": {"tomorrow"}}); status != 422 {
		t.Errorf("a day that is none: %d", status)
	}
	status, _, to := h.Post(t, h.TeacherDevice, at+"/lesson", url.Values{"work": {string(h.ode.ID)}})
	if status != http.StatusSeeOther || !strings.HasPrefix(to, "/lessons/") {
		t.Fatalf("into the lesson: %d, %q", status, to)
	}
	l, err := h.Desk.Lesson(t.Context(), h.Teacher, studio.LessonID(strings.TrimPrefix(to, "/lessons/")))
	must(t, err)
	if len(l.Assignments) != 1 || l.Assignments[0].Work != h.ode.ID || !strings.Contains(l.Assignments[0].Do, "day") {
		t.Errorf("the draft: %+v", l)
	}
	if status, text, _ = h.Post(t, h.TeacherDevice, at+"/lesson", url.Values{}); status != 422 {
		t.Errorf("nothing into the lesson: %d %s", status, seen(text))
	}
}

func TestSettings(t *testing.T) {
	h := open(t)
	h.term(t)
	at := "/students/" + string(h.ada.ID) + "/plan"
	today := calendar.Of(h.Now())
	form := url.Values{"new": {"1"}, "collection": {""}, "recital": {(today + 70).String()}, "played": {string(h.round.ID)},
		"from": {(today + 3).String(), ""}, "to": {(today + 5).String(), ""}, "holiday": {"at the lake", ""}, "skill:small barre": {"known"}}
	for i := range 7 {
		form.Set(fmt.Sprintf("minutes%d", i), "25")
	}
	status, text, to := h.Post(t, h.TeacherDevice, at+"/settings", form)
	if status != http.StatusSeeOther {
		t.Fatal(status, seen(text))
	}
	_, text = h.Get(t, h.TeacherDevice, to)
	has(t, text, "Kept, and planned anew.", "at the lake", "The recital", "Round in G should have been begun by", "All that it needs is there.")
	hasNot(t, text, "Nobody said how many minutes")
	for field, bad := range map[string]string{"minutes0": "many", "minutes1": "900", "recital": "soon", "new": "7"} {
		wrong := url.Values{}
		for k, v := range form {
			wrong[k] = v
		}
		wrong[field] = []string{bad}
		if status, text, _ := h.Post(t, h.TeacherDevice, at+"/settings", wrong); status != 422 {
			t.Errorf("%s %q: %d %s", field, bad, status, seen(text))
		}
	}
}

// TestLimitOfOneChild: on the child's own page the studio's limit can be another one, or none; the form shows what holds.
func TestLimitOfOneChild(t *testing.T) {
	h := open(t)
	h.term(t)
	at := "/students/" + string(h.ada.ID) + "/plan"
	limited := "Nothing in scales is to stay unseen for more than "
	settle := func(days string, lifted bool) (int, string) {
		form := url.Values{"new": {"1"}, "limit:scales": {days}}
		if lifted {
			form.Set("nolimit:scales", "yes")
		}
		for i := range 7 {
			form.Set(fmt.Sprintf("minutes%d", i), "15")
		}
		status, text, to := h.Post(t, h.TeacherDevice, at+"/settings", form)
		if status == http.StatusSeeOther {
			_, text = h.Get(t, h.TeacherDevice, to)
		}
		return status, text
	}
	_, text := h.Get(t, h.TeacherDevice, at) // the scale was last played more than 21 days ago
	has(t, text, limited+"21 days", "Groups with a limit, for Ada", "scales: days at most", "the studio’s: 21", "No limit for Ada")
	_, text = settle(" 12 ", false)
	has(t, text, limited+"12 days")
	if !strings.Contains(text, `name="limit:scales" value="12"`) {
		t.Error("the form does not show the limit")
	}
	hasNot(t, text, "and these minutes")
	_, text = settle("2", false)
	has(t, text, "In scales one thing is under a limit of 2 days, and these minutes only just reach: as often as Ada plays", "Change it here")
	_, text = settle("", true)
	hasNot(t, text, limited)
	if !strings.Contains(text, `name="nolimit:scales" value="yes" checked`) {
		t.Error("the form does not show that there is no limit")
	}
	_, text = settle("", false)
	has(t, text, limited+"21 days")
	for _, bad := range []struct {
		days   string
		lifted bool
		say    string
	}{{"often", false, "whole number such as 14"}, {"1", false, "between 2 and 400"}, {"12", true, "Either there is no limit for scales"}} {
		if status, text := settle(bad.days, bad.lifted); status != 422 || !strings.Contains(text, bad.say) {
			t.Errorf("%q, lifted %t: %d %s", bad.days, bad.lifted, status, seen(text))
		}
	}
}

// TestNothingIsOfferedToHandsThatRest: while something hurts, no button of the plan asks anything of the hands.
func TestNothingIsOfferedToHandsThatRest(t *testing.T) {
	h := open(t)
	h.term(t)
	at := "/students/" + string(h.ada.ID) + "/plan"
	must(t, h.Desk.KeepDemand(t.Context(), ear(h.Site), h.round, studio.Demand{Load: 1.5, Bars: 24, LastBar: "24"})) // it needs nothing that is not there
	offers := []string{"Begin it this week", "Bring it back this week", "Put it in", "Put it on these days"}
	_, text := h.Get(t, h.TeacherDevice, at)
	has(t, text, "Begin it this week", "Bring it back this week")
	_, err := h.Desk.Hurts(t.Context(), h.Okafor.Coach, h.ada.ID, "", "The left wrist.")
	must(t, err)
	_, text = h.Get(t, h.TeacherDevice, at)
	has(t, text, "hands rest", "The hands of Ada may play again", "It waits until the hands may play again.", "Let it rest")
	hasNot(t, text, offers...)
	if status, text, _ := h.Post(t, h.TeacherDevice, at, url.Values{"do": {"hands"}}); status != http.StatusSeeOther {
		t.Fatal(status, seen(text))
	}
	_, text = h.Get(t, h.TeacherDevice, at)
	has(t, text, "Begin it this week")
}

// TestNewStudent: from two things that were tried and a few answers to a first plan with its uncertainty.
func TestNewStudent(t *testing.T) {
	h := open(t)
	at := "/students/" + string(h.nils.ID) + "/plan"
	_, text := h.Get(t, h.TeacherDevice, at)
	has(t, text, "What Nils played at the first meeting", "Nothing is asked this week")
	status, text, to := h.Post(t, h.TeacherDevice, at+"/trial", url.Values{"tried": {string(h.mice.ID), string(h.canon.ID), ""}, "went": {"4", "3", "1"}, "years": {"1,5"}, "reads": {"yes"}})
	if status != http.StatusSeeOther {
		t.Fatal(status, seen(text))
	}
	_, text = h.Get(t, h.TeacherDevice, to)
	has(t, text, "This rests on 2 takes.", "at home somewhere between works that ask", "in 10 students who stand here manage it")
	hasNot(t, text, jargon...)
	if status, _, _ = h.Post(t, h.TeacherDevice, at+"/trial", url.Values{"tried": {string(h.mice.ID)}, "went": {"9"}}); status != 422 {
		t.Errorf("a fifth way: %d", status)
	}
	if status, _, _ = h.Post(t, h.TeacherDevice, at+"/trial", url.Values{"years": {"long"}}); status != 422 {
		t.Errorf("years: %d", status)
	}
}

func TestStudioPage(t *testing.T) {
	h := open(t)
	h.term(t)
	h.Wait(40 * 24 * time.Hour)
	_, text := h.Get(t, h.TeacherDevice, "/plan")
	has(t, text, "Families going quiet", "Family Okafor", "Where it does not go on", "the same remark in the last 3 lessons", "Slipping away", "One octave in C was last played", "Groups with a limit")
	hasNot(t, text, jargon...)
	status, text, to := h.Post(t, h.TeacherDevice, "/plan", url.Values{"from": {"2027-06-01"}, "to": {"2027-06-10"}, "holiday": {"summer"}, "group": {"scales", "arpeggios", ""}, "days": {"14", "30", ""}})
	if status != http.StatusSeeOther {
		t.Fatal(status, seen(text))
	}
	_, text = h.Get(t, h.TeacherDevice, to)
	if !strings.Contains(text, `value="arpeggios"`) || !strings.Contains(text, `value="2027-06-10"`) {
		t.Error("the settings are not kept")
	}
	if status, text, _ = h.Post(t, h.TeacherDevice, "/plan", url.Values{"group": {"scales"}, "days": {"often"}}); status != 422 {
		t.Errorf("a limit that is none: %d %s", status, seen(text))
	}
}

func TestWorkInPlans(t *testing.T) {
	h := open(t)
	at := "/plan/works/" + string(h.round.ID)
	_, text := h.Get(t, h.TeacherDevice, at)
	has(t, text, "Round in G in plans", "it asks for small barre")
	status, text, to := h.Post(t, h.TeacherDevice, at, url.Values{"kind": {"piece"}, "own": {"yes"}, "needs": {"small barre"}, "more-needs": {"counting in three, "}, "load": {"2"}, "joy": {"yes"}})
	if status != http.StatusSeeOther {
		t.Fatal(status, seen(text))
	}
	_, text = h.Get(t, h.TeacherDevice, to)
	if !regexp.MustCompile(`value="counting in three"[^>]* checked`).MatchString(text) {
		t.Errorf("the skill is not kept:\n%s", seen(text))
	}
	if status, _, _ = h.Post(t, h.TeacherDevice, at, url.Values{"kind": {"piece"}, "load": {"heavy"}}); status != 422 {
		t.Errorf("a load that is none: %d", status)
	}
}

func TestMemory(t *testing.T) {
	h := open(t)
	h.term(t)
	at := "/students/" + string(h.ada.ID) + "/memory"
	_, text := h.Get(t, h.TeacherDevice, at)
	has(t, text, "All about Ada", "20 lessons since", "Ode to Joy being learnt", "Three Blind Mice learnt, and kept", "First tunes and rounds 2 of 4 learnt", "17 remarks, the newest first")
	if strings.Count(text, "<svg") < 4 {
		t.Errorf("%d curves", strings.Count(text, "<svg"))
	}
	hasNot(t, text, jargon...)
	_, text = h.Get(t, h.TeacherDevice, at+"?words=left+wrist&since="+h.Now().AddDate(0, 0, -30).Format(time.DateOnly))
	has(t, text, "3 remarks, the newest first", "The left wrist is higher")
	_, text = h.Get(t, h.TeacherDevice, at+"?words=thumb")
	has(t, text, "No remark has all of these words in that time.")
	if status, _ := h.Get(t, h.TeacherDevice, at+"?since=spring"); status != 422 {
		t.Errorf("a day that is none: %d", status)
	}
}

// TestNoFamily: a family is shown none of these pages, and changes nothing there.
func TestNoFamily(t *testing.T) {
	h := open(t)
	for _, path := range []string{"/plan", "/plan/works/" + string(h.mice.ID), "/students/" + string(h.ada.ID) + "/plan", "/students/" + string(h.ada.ID) + "/memory"} {
		if status, text := h.Get(t, h.Okafor.Device, path); status != http.StatusForbidden || strings.Contains(text, "Three Blind") {
			t.Errorf("%s for a family: %d", path, status)
		}
		if status, _ := h.Get(t, "", path); status != http.StatusSeeOther {
			t.Errorf("%s for a stranger: %d", path, status)
		}
	}
	for _, path := range []string{"/plan", "/students/" + string(h.ada.ID) + "/plan", "/students/" + string(h.ada.ID) + "/plan/settings", "/students/" + string(h.ada.ID) + "/plan/lesson", "/students/" + string(h.ada.ID) + "/plan/trial"} {
		if status, _, _ := h.Post(t, h.Okafor.Device, path, url.Values{"do": {"hands"}}); status != http.StatusForbidden {
			t.Errorf("posting to %s for a family: %d", path, status)
		}
	}
	if status, _ := h.Get(t, h.TeacherDevice, "/students/zzzzzzzzzzzzzzzzzzzzzzzzzz/plan"); status != http.StatusNotFound {
		t.Errorf("a student who is not there: %d", status)
	}
}

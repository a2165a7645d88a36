package storetest

import (
	"slices"
	"strings"
	"testing"
	"time"

	"antiphon/internal/plan"
	"antiphon/internal/plan/calendar"
	"antiphon/internal/studio"
)

// asked sends a lesson of today that asks for works.
func (h *House) asked(t *testing.T, f Founded, s studio.StudentID, as ...studio.Assignment) studio.Lesson {
	t.Helper()
	l, err := h.Desk.SaveDraft(t.Context(), f.Teacher, studio.Lesson{Student: s, Date: h.Now.Format(time.DateOnly), Words: "Well done.", Assignments: as})
	must(t, err)
	must(t, h.Desk.SendLesson(t.Context(), f.Teacher, l.ID, l.Version))
	return l
}

// plans: a plan is made from what was asked, heard, tapped and said; the teacher's wishes hold at once and are remembered; a
// family comes nowhere near it.
func plans(t *testing.T, h *House) {
	ctx := t.Context()
	f := h.Found(t, "Lindenhof")
	v, mira := h.Join(t, f, "Abel", "Mira")
	_, jon := h.Join(t, f, "Bartsch", "Jon")
	var works []studio.Work
	for _, title := range []string{"Three Blind Mice", "Tallis's Canon", "Ode to Joy", "Round in G", "Barre drill"} {
		w, err := h.Desk.AddWork(ctx, f.Teacher, studio.Work{Title: title, Rights: "traditional", Score: "<score/>", Exercise: title == "Barre drill"})
		must(t, err)
		works = append(works, w)
	}
	mice, canon, ode, round, drill := works[0], works[1], works[2], works[3], works[4]
	shelf, err := h.Desk.Shelve(ctx, f.Teacher, studio.Collection{Name: "First tunes", Items: []studio.CollectionItem{{Work: mice.ID}, {Work: canon.ID}, {Work: ode.ID}, {Work: round.ID, After: []studio.WorkID{canon.ID}}}})
	must(t, err)

	// What scores ask is asked for once, and kept.
	_, err = h.Desk.PlanOf(ctx, f.Teacher, mira)
	must(t, err)
	_, err = h.Desk.PlanOf(ctx, f.Teacher, mira)
	must(t, err)
	wanted := 0
	for _, j := range h.Jobs.All {
		if j.Kind == studio.JobDemands {
			wanted++
		}
	}
	if wanted != 1 {
		t.Errorf("two looks handed on %d jobs for what scores ask", wanted)
	}
	unread, err := h.Desk.Unprofiled(ctx, f.Ear)
	must(t, err)
	if len(unread) != 5 || unread[0].Score != "<score/>" {
		t.Fatalf("to be worked out: %+v", unread)
	}
	for _, w := range unread {
		dm := studio.Demand{Load: 1, Bars: 8, LastBar: "8"}
		if w.ID == round.ID || w.ID == drill.ID {
			dm.Skills = []string{"small barre"}
		}
		must(t, h.Desk.KeepDemand(ctx, f.Ear, w, dm))
	}
	if unread, err = h.Desk.Unprofiled(ctx, f.Ear); err != nil || len(unread) != 0 {
		t.Errorf("after that: %+v, %v", unread, err)
	}
	changed := mice
	changed.Score = "<score>another</score>"
	must(t, h.Desk.ReviseWork(ctx, f.Teacher, changed))
	must(t, h.Desk.KeepDemand(ctx, f.Ear, mice, studio.Demand{Load: 9})) // of the score before: it comes too late
	if unread, err = h.Desk.Unprofiled(ctx, f.Ear); err != nil || len(unread) != 1 || unread[0].ID != mice.ID {
		t.Errorf("after another score: %+v, %v", unread, err)
	}
	must(t, h.Desk.KeepDemand(ctx, f.Ear, unread[0], studio.Demand{Load: 1, Bars: 8, LastBar: "8"}))

	// Three months of lessons: mice at first, then the canon with a goal; mice is not asked for again.
	var take studio.Take
	for week := range 12 {
		w, goal := mice, 0.0
		if week >= 4 {
			w, goal = canon, 84
		}
		l := h.asked(t, f, mira, studio.Assignment{Work: w.ID, Do: "Slowly.", Goals: studio.Goals{TempoBpm: goal}})
		h.Now = h.Now.Add(3 * 24 * time.Hour)
		must(t, h.Desk.Tap(ctx, v, []studio.Tap{
			{ID: "tap-a-" + string(rune('a'+week)) + "-------", Student: mira, Assignment: l.Assignments[0].ID, Kind: studio.TapTry, Clean: true, Bpm: 60, At: h.Now},
			{ID: "tap-b-" + string(rune('a'+week)) + "-------", Student: mira, Assignment: l.Assignments[0].ID, Kind: studio.TapTry, Bpm: 66, At: h.Now},
			{ID: "tap-c-" + string(rune('a'+week)) + "-------", Student: mira, Assignment: l.Assignments[0].ID, Kind: studio.TapDone, Seconds: 600, At: h.Now}}))
		a, err := h.Desk.Announce(ctx, v, studio.Announcement{Student: mira, Assignment: l.Assignments[0].ID})
		must(t, err)
		_, err = h.Desk.Receive(ctx, v, a.ID, "audio/mp4", strings.NewReader("la "+string(a.ID)))
		must(t, err)
		m, err := h.Desk.BeginHearing(ctx, f.Ear, a.ID)
		must(t, err)
		h.clean(t, f.Ear, m)
		_, err = h.Desk.KeepHearing(ctx, f.Ear, a.ID, studio.Heard{Doc: []byte(hearing), Summary: studio.Summary{Bpm: 58 + float64(week), RightShare: .97, Notes: 40, SteadinessPct: 5, FromBar: "1", ToBar: "8"}})
		must(t, err)
		_, err = h.Desk.Remark(ctx, f.Teacher, a.ID, studio.Anchor{AtS: 1, Bar: "5"}, "Let the left wrist hang.", "")
		must(t, err)
		take = a
		h.Now = h.Now.Add(4 * 24 * time.Hour)
	}
	today := calendar.Of(h.Now)
	p, err := h.Desk.PlanOf(ctx, f.Teacher, mira)
	must(t, err)
	item := func(p studio.PlanView, w studio.Work) *plan.Item {
		i := slices.IndexFunc(p.State.Items, func(it plan.Item) bool { return it.Work == string(w.ID) })
		if i < 0 {
			return nil
		}
		return &p.State.Items[i]
	}
	of := item(p, canon)
	if of == nil || of.Stage != plan.Learning || of.GoalBpm != 84 || len(of.Asked) != 8 || len(of.Played) != 16 || len(of.Remarks) != 8 || of.Begun != today-56 {
		t.Errorf("the canon: %+v", of)
	}
	if tries, heard := of.Played[1], of.Played[0].Heard; tries.Tries != 2 || tries.Right != 1 || tries.Bpm != 60 || heard == nil || !heard.Complete {
		t.Errorf("its first day: %+v", of.Played[:2])
	}
	if of := item(p, mice); of == nil || of.Stage != plan.Kept || of.Finished == 0 || of.Finished >= today-49 {
		t.Errorf("what is not asked for any more: %+v", of)
	}
	if weeks := p.State.Weeks; len(weeks) != 12 || !weeks[11].Came || weeks[11].Minutes == nil || *weeks[11].Minutes != 10 {
		t.Errorf("weeks: %+v", weeks)
	}
	if p.State.Collection != string(shelf.ID) || p.Ahead == nil || p.Ahead.Half == nil || len(p.Ahead.Left) != 3 || !p.Guessed || p.Unread != 0 {
		t.Errorf("ahead: %+v, guessed %v, unread %d", p.Ahead, p.Guessed, p.Unread)
	}
	if len(p.Ways) != 2 || p.Ways[1].Title != "Round in G" || !slices.Contains(p.Ways[1].Missing, "small barre") || len(p.Ways[1].Way.Steps) == 0 {
		t.Errorf("ways: %+v", p.Ways)
	}
	line := func(p studio.PlanView, w studio.Work) *plan.Line {
		i := slices.IndexFunc(p.Week.Lines, func(l plan.Line) bool { return l.Work == string(w.ID) })
		if i < 0 {
			return nil
		}
		return &p.Week.Lines[i]
	}
	if l := line(p, canon); l == nil || len(l.Rungs) < 2 || l.Why == "" {
		t.Errorf("the canon in the plan: %+v", l)
	}

	// The teacher decides.
	p, err = h.Desk.Pin(ctx, f.Teacher, mira, mice.ID, today+1, today+2)
	must(t, err)
	if l := line(p, mice); l == nil || !slices.Equal(l.Days, []calendar.Day{today + 1, today + 2}) {
		t.Errorf("pinned: %+v", l)
	}
	p, err = h.Desk.Move(ctx, f.Teacher, mira, mice.ID, today+1, today+3)
	must(t, err)
	if l := line(p, mice); l == nil || !slices.Equal(l.Days, []calendar.Day{today + 2, today + 3}) {
		t.Errorf("moved: %+v", l)
	}
	p, err = h.Desk.Forbid(ctx, f.Teacher, mira, canon.ID)
	must(t, err)
	if line(p, canon) != nil || len(p.Says.Choices) != 3 || p.Says.Choices[2].Stayed {
		t.Errorf("forbidden: %+v, %+v", line(p, canon), p.Says.Choices)
	}
	_, err = h.Desk.Pin(ctx, f.Teacher, mira, mice.ID, today+9)
	refused(t, "a day outside the week", err, studio.Invalid)
	_, err = h.Desk.Move(ctx, f.Teacher, mira, canon.ID, today, today+1)
	refused(t, "moving what is not there", err, studio.Conflict)
	_, err = h.Desk.Pin(ctx, f.Teacher, mira, "zzzzzzzzzzzzzzzzzzzzzzzzzz")
	refused(t, "a work that is not there", err, studio.NotFound)
	p, err = h.Desk.LetPlan(ctx, f.Teacher, mira, canon.ID)
	must(t, err)
	if line(p, canon) == nil {
		t.Error("the plan may choose the canon again, and does not")
	}
	p, err = h.Desk.SettlePlan(ctx, f.Teacher, mira, studio.PlanSettings{Minutes: [7]int{20, 20, 20, 20, 20, 20, 20}, MostNew: 1, Collection: shelf.ID,
		Holidays: calendar.Free{{From: today, To: today + 6, Name: "away"}}, Recital: &plan.Recital{Day: today + 60, Works: []string{string(ode.ID)}}})
	must(t, err)
	if len(p.Week.Lines) != 0 || p.Week.Days[0].Free != "away" || p.Ahead.StageWords == "" {
		t.Errorf("in the holidays: %+v, %q", p.Week.Lines, p.Ahead.StageWords)
	}
	_, err = h.Desk.SettlePlan(ctx, f.Teacher, mira, studio.PlanSettings{Minutes: [7]int{900}})
	refused(t, "a day of 900 minutes", err, studio.Invalid)
	p, err = h.Desk.SettlePlan(ctx, f.Teacher, mira, studio.PlanSettings{Minutes: [7]int{20, 20, 20, 20, 20, 20, 20}, MostNew: 1, Collection: shelf.ID, Known: []string{"small barre"}})
	must(t, err)
	if slices.ContainsFunc(p.Ways, func(w studio.WayTo) bool { return slices.Contains(w.Missing, "small barre") }) {
		t.Errorf("a skill that the teacher says is there: %+v", p.Ways)
	}
	p, err = h.Desk.SetStage(ctx, f.Teacher, mira, mice.ID, plan.Rested)
	must(t, err)
	if item(p, mice).Stage != plan.Rested {
		t.Error("it does not rest")
	}
	p, err = h.Desk.RateItem(ctx, f.Teacher, mira, canon.ID, 2)
	must(t, err)
	if last := item(p, canon).Played; last[len(last)-1].Rating != 2 {
		t.Errorf("rated: %+v", last)
	}

	// Into the lesson, behind what stands there.
	l, err := h.Desk.TakeIntoLesson(ctx, f.Teacher, mira, canon.ID)
	must(t, err)
	if !l.Sent.IsZero() || len(l.Assignments) == 0 {
		t.Fatalf("taken: %+v", l)
	}
	a := l.Assignments[0]
	if a.Work != canon.ID || a.Do == "" || a.Goals.TempoBpm != 84 || a.Ladder.Clean != 3 || len(a.Ladder.Rungs()) < 2 {
		t.Errorf("taken: %+v", a)
	}
	again, err := h.Desk.TakeIntoLesson(ctx, f.Teacher, mira)
	must(t, err)
	n := 0
	for _, a := range again.Assignments {
		if a.Work == canon.ID {
			n++
		}
	}
	if again.ID != l.ID || n != 1 {
		t.Errorf("taken twice: %+v", again.Assignments)
	}

	// Something hurts: hands rest until the teacher says that they may play.
	h.Now = h.Now.Add(time.Hour)
	_, err = h.Desk.Hurts(ctx, v, mira, "", "The left wrist.")
	must(t, err)
	p, err = h.Desk.PlanOf(ctx, f.Teacher, mira)
	must(t, err)
	if line(p, canon) != nil || len(p.Week.Cautions) == 0 {
		t.Errorf("while something hurts: %+v", p.Week.Lines)
	}
	p, err = h.Desk.HandsMayPlay(ctx, f.Teacher, mira)
	must(t, err)
	if line(p, canon) == nil {
		t.Error("hands may play again, and do not")
	}

	// What is remembered.
	m, err := h.Desk.Memory(ctx, f.Teacher, mira, studio.SaidQuery{Words: "WRIST left", Since: h.Now.AddDate(0, 0, -30)})
	must(t, err)
	if len(m.Said) != 4 || m.Said[0].Take != take.ID || m.Said[0].Bar != "5" || m.Lessons != 12 || len(m.Items) != 2 || len(m.Items[0].Heard) != 8 {
		t.Errorf("said of the left wrist in a month: %d, %+v; %d lessons, %d items", len(m.Said), m.Said, m.Lessons, len(m.Items))
	}
	if m, err = h.Desk.Memory(ctx, f.Teacher, mira, studio.SaidQuery{Words: "right wrist"}); err != nil || len(m.Said) != 0 {
		t.Errorf("said of the right wrist: %+v, %v", m.Said, err)
	}

	// The day's round finds what all tell together, and keeps forecasts; once a day.
	h.planRound(t, f, mira, canon)
	look, err := h.Desk.SlippingAll(ctx, f.Teacher)
	must(t, err)
	if len(look.Students) != 2 {
		t.Errorf("the studio: %+v", look)
	}
	must(t, h.Desk.SettleStudio(ctx, f.Teacher, calendar.Free{{From: today, To: today + 3}}, []plan.Group{{Name: "scales", LimitDays: 21}}))
	refused(t, "a limit of one day", h.Desk.SettleStudio(ctx, f.Teacher, nil, []plan.Group{{Name: "scales", LimitDays: 1}}), studio.Invalid)
	must(t, h.Desk.SayOfWork(ctx, f.Teacher, drill.ID, studio.WorkSays{Kind: plan.Technique, Group: "scales", For: canon.ID, Skills: true, Builds: []string{"small barre"}}))
	wp, err := h.Desk.WorkPlan(ctx, f.Teacher, drill.ID)
	must(t, err)
	if wp.Says.For != canon.ID || wp.Demand == nil || len(wp.Groups) != 1 || len(wp.Skills) != 1 {
		t.Errorf("the drill: %+v", wp)
	}
	state, err := h.Desk.AllPlans(ctx, f.Teacher)
	must(t, err)
	if i := slices.IndexFunc(state.Works, func(w plan.Work) bool { return w.ID == string(drill.ID) }); i < 0 || state.Works[i].Group != "scales" || state.Works[i].For != string(canon.ID) {
		t.Errorf("the drill in plans: %+v", state.Works)
	}
	h.ownLimits(t, f, mira)
	h.noPlansForFamilies(t, f, v, mira, jon, canon.ID)
}

// ownLimits sets a limit for one student, lifts it, and takes away the group.
func (h *House) ownLimits(t *testing.T, f Founded, mira studio.StudentID) {
	t.Helper()
	ctx := t.Context()
	settled := func(l ...plan.OwnLimit) studio.PlanSettings { return studio.PlanSettings{MostNew: 1, Limits: l} }
	for _, l := range []plan.OwnLimit{{Group: "scales", LimitDays: 10}, {Group: "scales", Lifted: true}} {
		p, err := h.Desk.SettlePlan(ctx, f.Teacher, mira, settled(l))
		must(t, err)
		sp, err := h.Store.StudentPlan(ctx, studio.WholeStudio(f.Studio.ID), mira)
		must(t, err)
		if !slices.Equal(sp.Limits, []plan.OwnLimit{l}) || !slices.Equal(p.State.Limits, sp.Limits) {
			t.Errorf("a limit of one student: kept %+v, planned with %+v", sp.Limits, p.State.Limits)
		}
	}
	for _, l := range []plan.OwnLimit{{Group: "scales"}, {Group: "scales", LimitDays: 9, Lifted: true}, {LimitDays: 9}} {
		_, err := h.Desk.SettlePlan(ctx, f.Teacher, mira, settled(l))
		refused(t, "a limit that is none", err, studio.Invalid)
	}
	state, err := h.Desk.AllPlans(ctx, f.Teacher)
	must(t, err)
	for _, st := range state.Students {
		if (len(st.Limits) == 1) != (st.ID == string(mira)) {
			t.Errorf("limits of %s: %+v", st.Name, st.Limits)
		}
	}
	must(t, h.Desk.SettleStudio(ctx, f.Teacher, nil, nil))
	p, err := h.Desk.PlanOf(ctx, f.Teacher, mira)
	must(t, err)
	if len(p.State.Limits) != 0 {
		t.Errorf("a limit of a group that is gone: %+v", p.State.Limits)
	}
}

// planRound makes the day's round, twice on one day, then a month later when the collection is finished.
func (h *House) planRound(t *testing.T, f Founded, mira studio.StudentID, canon studio.Work) {
	t.Helper()
	ctx, in := t.Context(), studio.WholeStudio(f.Studio.ID)
	kept := func() []studio.Forecast {
		t.Helper()
		all, err := h.Store.Forecasts(ctx, in, mira)
		must(t, err)
		return all
	}
	must(t, h.Desk.KeepPlans(ctx, f.Ear))
	must(t, h.Desk.KeepPlans(ctx, f.Ear))
	all := kept()
	if len(all) != 1 || len(all[0].Said.Left) != 3 || all[0].Said.Weeks[4] <= all[0].Said.Weeks[0] || all[0].Said.Model == nil || all[0].Came != "" {
		t.Fatalf("forecasts that were kept: %+v", all)
	}
	sp, err := h.Store.StudioPlan(ctx, f.Studio.ID)
	must(t, err)
	if sp.Found == nil || sp.Looked.IsZero() {
		t.Errorf("what was found: %+v", sp)
	}
	now := h.Now
	for _, w := range all[0].Said.Left {
		_, err := h.Desk.SetStage(ctx, f.Teacher, mira, w, plan.Kept)
		must(t, err)
	}
	h.Now = h.Now.Add(40 * 24 * time.Hour)
	must(t, h.Desk.KeepPlans(ctx, f.Ear))
	if all = kept(); len(all) != 1 || all[0].Came != now.Format(time.DateOnly) {
		t.Errorf("when all is learnt: %+v", all)
	}
	for _, w := range all[0].Said.Left {
		_, err := h.Desk.SetStage(ctx, f.Teacher, mira, w, "")
		must(t, err)
	}
	h.Now = now
}

// noPlansForFamilies: whatever a family asks of plans is refused.
func (h *House) noPlansForFamilies(t *testing.T, f Founded, v studio.Viewer, mira, jon studio.StudentID, w studio.WorkID) {
	t.Helper()
	ctx := t.Context()
	g := h.Found(t, "Seeblick")
	for name, ask := range map[string]func(v studio.Viewer, s studio.StudentID) error{
		"the plan":   func(v studio.Viewer, s studio.StudentID) error { _, err := h.Desk.PlanOf(ctx, v, s); return err },
		"pinning":    func(v studio.Viewer, s studio.StudentID) error { _, err := h.Desk.Pin(ctx, v, s, w); return err },
		"forbidding": func(v studio.Viewer, s studio.StudentID) error { _, err := h.Desk.Forbid(ctx, v, s, w); return err },
		"a stage": func(v studio.Viewer, s studio.StudentID) error {
			_, err := h.Desk.SetStage(ctx, v, s, w, "")
			return err
		},
		"rating": func(v studio.Viewer, s studio.StudentID) error {
			_, err := h.Desk.RateItem(ctx, v, s, w, 3)
			return err
		},
		"hands": func(v studio.Viewer, s studio.StudentID) error { _, err := h.Desk.HandsMayPlay(ctx, v, s); return err },
		"a trial": func(v studio.Viewer, s studio.StudentID) error {
			_, err := h.Desk.TryOut(ctx, v, s, plan.Trial{})
			return err
		},
		"a lesson": func(v studio.Viewer, s studio.StudentID) error {
			_, err := h.Desk.TakeIntoLesson(ctx, v, s)
			return err
		},
		"what is known": func(v studio.Viewer, s studio.StudentID) error {
			_, err := h.Desk.Memory(ctx, v, s, studio.SaidQuery{})
			return err
		},
		"settings": func(v studio.Viewer, s studio.StudentID) error {
			_, err := h.Desk.SettlePlan(ctx, v, s, studio.PlanSettings{})
			return err
		},
	} {
		refused(t, name+" for the own family", ask(v, mira), studio.NotAllowed)
		refused(t, name+" for another family", ask(v, jon), studio.NotAllowed)
		refused(t, name+" for another studio's teacher", ask(g.Teacher, mira), studio.NotFound)
	}
	for name, ask := range map[string]func(v studio.Viewer) error{
		"all plans":       func(v studio.Viewer) error { _, err := h.Desk.AllPlans(ctx, v); return err },
		"the studio":      func(v studio.Viewer) error { _, err := h.Desk.SlippingAll(ctx, v); return err },
		"the settings":    func(v studio.Viewer) error { return h.Desk.SettleStudio(ctx, v, nil, nil) },
		"a work":          func(v studio.Viewer) error { _, err := h.Desk.WorkPlan(ctx, v, w); return err },
		"what a work is":  func(v studio.Viewer) error { return h.Desk.SayOfWork(ctx, v, w, studio.WorkSays{}) },
		"the day's round": func(v studio.Viewer) error { return h.Desk.KeepPlans(ctx, v) },
		"scores":          func(v studio.Viewer) error { _, err := h.Desk.Unprofiled(ctx, v); return err },
	} {
		refused(t, name, ask(v), studio.NotAllowed)
	}
	refused(t, "another studio's work", h.Desk.SayOfWork(ctx, g.Teacher, w, studio.WorkSays{}), studio.NotFound)
}

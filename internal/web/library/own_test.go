package library_test

import (
	"fmt"
	"net/url"
	"strings"
	"testing"

	"antiphon/internal/notation"
	"antiphon/internal/studio"
)

// leftHand are the fingers and strings of a work as one child plays it.
func (s *site) leftHand(by studio.StudentID, w studio.WorkID) (hand string, highest int) {
	s.t.Helper()
	one, err := s.Desk.WorkFor(s.t.Context(), s.Teacher, by, w)
	if err != nil {
		s.t.Fatal(err)
	}
	score, _, err := notation.Read(strings.NewReader(one.Score), "", notation.Limits{})
	if err != nil {
		s.t.Fatal(err)
	}
	for _, n := range score.Sounding() {
		hand += n.Finger
		highest = max(highest, n.Fret)
	}
	return hand, highest
}

// TestFingerForOne: a way is kept for one child with the limits of its hands; its sister and everybody else play on as
// before; earlier ones are gone back to, and the limits are known the next time.
func TestFingerForOne(t *testing.T) {
	s := open(t)
	nils, runa := s.Lindqvist.Students[0], s.Lindqvist.Students[1]
	w := s.added(ladder)
	at := "/library/works/" + string(w.ID)
	if _, to := s.post(at+"/fingering", keepForms(t, s.fingeredPage(w, ""))[0]); to != at+"?saved=fingering" {
		t.Fatal(to)
	}
	everybody, _ := s.leftHand("", w.ID)

	for_ := "for=" + string(nils.ID)
	page := s.page(at + "/fingering?" + for_)
	has(t, page, "Finger it for Nils", "Nils plays it as everybody does", `name="anew" value="yes" checked`, "as your plan says")
	text := s.fingeredPage(w, for_+"&anew=yes&no-fourth=yes&first=yes&span=150")
	has(t, text, "Use it for Nils", "Why these fingers", "the file that it can take away")
	first := keepForms(t, text)[0]
	if first.Get("for") != string(nils.ID) || first.Get("no-fourth") != "yes" {
		t.Fatalf("the form: %v", first)
	}
	first.Set("why", "small hand")
	own := at + "/fingering?" + url.Values{"for": {string(nils.ID)}, "saved": {"yes"}}.Encode() + "#own"
	for range 2 { // the second of two equal posts changes nothing
		if status, to := s.post(at+"/fingering", first); status != 303 || to != own {
			t.Fatal(status, to)
		}
	}
	his, highest := s.leftHand(nils.ID, w.ID)
	if his == everybody || strings.Contains(his, "4") || highest > 4 {
		t.Errorf("Nils: %s up to fret %d; everybody %s", his, highest, everybody)
	}
	for _, other := range []studio.StudentID{"", runa.ID, s.Okafor.Students[0].ID} {
		if got, _ := s.leftHand(other, w.ID); got != everybody {
			t.Errorf("%q plays %s, as Nils does", other, got)
		}
	}
	page = s.page(at + "/fingering?" + for_)
	has(t, s.page(at), "Own fingers of students stay where the notes are the same")
	has(t, page, "In Nils’s notes since today.", "small hand", "Let Nils play it as everybody does", `name="no-fourth" value="yes" checked`, `value="150"`)
	if strings.Contains(s.page(at+"/fingering?for="+string(runa.ID)), "small hand") {
		t.Error("the page of Runa's fingers shows those of Nils")
	}
	kept, err := s.Desk.Fingerings(t.Context(), s.Teacher, nils.ID, w.ID)
	if err != nil || len(kept) != 1 {
		t.Fatalf("%d are kept, %v", len(kept), err)
	}

	b := browser(t, s)
	for _, width := range []int64{390, 1440} {
		for _, scheme := range []string{"light", "dark"} {
			b.Look(width, scheme)
			show(b, at+"/fingering?ask=yes&anew=yes&no-fourth=yes&"+for_)
			for _, fault := range b.Faults() {
				t.Errorf("%d px, %s: %s", width, scheme, fault)
			}
			b.Shoot(fmt.Sprintf("for-one-%d-%s", width, scheme))
		}
	}

	if status, to := s.post(at+"/fingerings", url.Values{"for": {string(nils.ID)}}); status != 303 || to != own {
		t.Fatal(status, to)
	}
	if got, _ := s.leftHand(nils.ID, w.ID); got != everybody {
		t.Errorf("as everybody does: %s", got)
	}
	has(t, s.page(at+"/fingering?"+for_), "In Nils’s notes until today.", "Use these fingers for Nils again")
	if status, to := s.post(at+"/fingerings/"+string(kept[0].ID), nil); status != 303 || to != own {
		t.Fatal(status, to)
	}
	if got, _ := s.leftHand(nils.ID, w.ID); got != his {
		t.Errorf("gone back to: %s, want %s", got, his)
	}

	// An exercise from a passage is made of his fingers.
	of := func(by studio.StudentID) string {
		return s.page("/library/compose?" + url.Values{"work": {string(w.ID)}, "for": {string(by)}, "from": {"1"}, "to": {"2"}, "fault": {"late shift"}, "ask": {"yes"}}.Encode())
	}
	has(t, of(nils.ID), `name="for" value="`+string(nils.ID)+`"`)
	for what, to := range map[string]string{"a family's child that is none": at + "/fingering?for=zzzzzzzzzzzzzzzzzzzzzzzzzz", "an exercise of it": "/library/compose?work=" + string(w.ID) + "&for=zzzzzzzzzzzzzzzzzzzzzzzzzz"} {
		if status, _ := s.Get(t, s.TeacherDevice, to); status != 404 {
			t.Errorf("%s: %d", what, status)
		}
	}
	// What is on the page, its pictures too, is the teacher's.
	for _, to := range []string{at + "/fingering?" + for_, at + "/fingerings/" + string(kept[0].ID)} {
		if status, _ := s.Get(t, s.Lindqvist.Device, to); status < 400 {
			t.Errorf("a family opens %s: %d", to, status)
		}
	}
}

// TestTryFingering: from a task in which two ways are to be tried, one is chosen for the child alone and stands in the task.
func TestTryFingering(t *testing.T) {
	s := open(t)
	nils := s.Lindqvist.Students[0]
	w := s.added(ladder)
	l, err := s.Desk.SaveDraft(t.Context(), s.Teacher, studio.Lesson{Student: nils.ID, Date: "2026-11-03",
		Assignments: []studio.Assignment{{Ask: studio.AskListen, Do: "Listen."}, {Ask: studio.AskChoose, Work: w.ID, Ways: [2]studio.Way{{Say: "open strings"}, {Say: "little finger"}}}}})
	if err != nil {
		t.Fatal(err)
	}
	text := s.fingeredPage(w, "anew=yes&no-fourth=yes&card=2&try=2&for="+string(nils.ID)+"&lesson="+string(l.ID))
	has(t, text, "Let Nils try it as the other way", "Use it for Nils")
	if strings.Contains(text, "For whom") {
		t.Error("from a task of Nils’s lesson the page offers another child")
	}
	way := keepForms(t, text)[0]
	way.Set("as", "try")
	if status, to := s.post("/library/works/"+string(w.ID)+"/fingering", way); status != 303 || to != "/lessons/"+string(l.ID)+"?open=2#a2" {
		t.Fatal(status, to)
	}
	now, err := s.Desk.Lesson(t.Context(), s.Teacher, l.ID)
	if err != nil || now.Assignments[1].Ways[1].Own == "" || now.Assignments[1].Ways[0].Own != "" || now.Assignments[1].Ways[1].Say != "little finger" {
		t.Fatalf("the task: %+v, %v", now.Assignments[1], err)
	}
	if one, err := s.Desk.WorkFor(t.Context(), s.Teacher, nils.ID, w.ID); err != nil || one.Own != "" {
		t.Errorf("what is only to be tried holds: %v, %v", one.Own, err)
	}
	way.Set("card", "1")
	if status, say := s.post("/library/works/"+string(w.ID)+"/fingering", way); status != 409 || !strings.Contains(say, "Open its task again") {
		t.Errorf("another task: %d %s", status, say)
	}
}

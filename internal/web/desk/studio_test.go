package desk_test

import (
	"archive/zip"
	"bytes"
	"crypto/rand"
	"encoding/json"
	"net/http"
	"net/url"
	"regexp"
	"strings"
	"testing"
	"time"

	"antiphon/internal/studio"
	"antiphon/internal/web/tongue"
	"antiphon/internal/web/webtest"
)

// TestTheLinkIsShownOnce: making it leads on, so that a second loading makes no second link; it is shown on
// the next page and on no other, and it works.
func TestTheLinkIsShownOnce(t *testing.T) {
	s := open(t)
	c := s.Client(t, s.TeacherDevice)
	webtest.Has(t, s.Page(t, "/studio/families/new"), "What is kept", "Recordings of practice")
	form := url.Values{"family": {"Moreau"}, "student": {"Léa", "", "Jules"}, "media": {"hands", "sound", "video"}, "what": {"Only for lessons"}, "who": {"The teacher"}, "keep": {"90"}}
	a, err := c.PostForm(s.URL+"/studio/families", form)
	if err != nil {
		t.Fatal(err)
	}
	a.Body.Close()
	to := a.Header.Get("Location")
	if a.StatusCode != http.StatusSeeOther || !strings.HasSuffix(to, "/link") {
		t.Fatalf("%d to %s", a.StatusCode, to)
	}
	if cookie := a.Header.Get("Set-Cookie"); !strings.Contains(cookie, "HttpOnly") || !strings.Contains(cookie, "SameSite=Strict") || !strings.Contains(cookie, "Path="+to) {
		t.Errorf("the cookie is %s", cookie)
	}
	text := fetch(t, c, s.URL+to)
	webtest.Has(t, text, "https://studio.example/join/", "Moreau", "Jules and Léa will find there", "Copy the link", "Marit Sandoval")
	token := regexp.MustCompile(`https://studio\.example/join/([A-Za-z0-9_-]{43})`).FindStringSubmatch(text)
	if token == nil {
		t.Fatal("no link")
	}
	inv, err := s.Desk.Invitation(t.Context(), token[1])
	if err != nil || inv.Family != "Moreau" || inv.KeepDays != 90 || inv.What != "Only for lessons" || len(inv.Students) != 2 {
		t.Errorf("the link opens %+v, %v", inv, err)
	}
	a, err = c.Get(s.URL + to)
	if err != nil {
		t.Fatal(err)
	}
	a.Body.Close()
	if back := a.Header.Get("Location"); a.StatusCode != http.StatusSeeOther || !strings.Contains(back, "done=shown") {
		t.Errorf("the second time: %d to %s", a.StatusCode, back)
	} else {
		text := s.Page(t, back)
		webtest.Has(t, text, "A link is shown once", "Nobody has agreed yet", "No phone is connected yet", "A link is open until Wednesday, 11 November")
		webtest.Has(t, s.Page(t, "/studio/families"), "No phone connected yet; the link is open until Wednesday, 11 November")
		s.Wait(8 * 24 * time.Hour)
		webtest.Has(t, s.Page(t, back), "no link is open")
		webtest.Has(t, s.Page(t, "/studio/families"), "No phone connected, and no link is open")
		webtest.HasNot(t, text, token[1])
	}
}

func fetch(t testing.TB, c *http.Client, address string) string {
	t.Helper()
	a, err := c.Get(address)
	if err != nil {
		t.Fatal(err)
	}
	defer a.Body.Close()
	var b bytes.Buffer
	if _, err := b.ReadFrom(a.Body); err != nil || a.StatusCode != http.StatusOK {
		t.Fatalf("%s: %d, %v", address, a.StatusCode, err)
	}
	return b.String()
}

// TestLetters: in every language that families can have, the words that go out with a link hold the link.
func TestLetters(t *testing.T) {
	s := open(t)
	begins := map[string]bool{}
	for _, in := range tongue.All() {
		if _, err := s.Desk.ChangeStudio(t.Context(), s.Teacher, studio.Settings{Name: "Lindenhof", KeepDays: 400, ReplyDays: 3, Language: in.Code}); err != nil {
			t.Fatal(err)
		}
		c := s.Client(t, s.TeacherDevice)
		a, err := c.PostForm(s.URL+"/studio/families/"+string(s.Lindqvist.Family.ID)+"/link", nil)
		if err != nil {
			t.Fatal(err)
		}
		a.Body.Close()
		text := fetch(t, c, s.URL+a.Header.Get("Location"))
		m := regexp.MustCompile(`(?s)<textarea id="letter"[^>]*lang="` + in.Code + `">(.*?)</textarea>`).FindStringSubmatch(text)
		if m == nil {
			t.Errorf("no letter in %s", in.Name)
			continue
		}
		webtest.Has(t, m[1], "https://studio.example/join/", "Lindqvist", "Nils", "Runa", "Marit Sandoval", "11")
		first, _, _ := strings.Cut(m[1], " ")
		if begins[first] {
			t.Errorf("the letter in %s is another language’s", in.Name)
		}
		begins[first] = true
	}
}

// TestWrongInvitations keep what was typed and say what to change; no family is written down.
func TestWrongInvitations(t *testing.T) {
	s := open(t)
	for name, c := range map[string]struct {
		form url.Values
		say  string
	}{
		"no name":       {url.Values{"student": {"Léa"}, "media": {"sound"}}, "A family needs a name."},
		"nobody":        {url.Values{"family": {"Moreau"}}, "A family needs at least one student."},
		"odd media":     {url.Values{"family": {"Moreau"}, "student": {"Léa"}, "media": {"hologram"}}, "may send sound, hands or video"},
		"letters":       {url.Values{"family": {"Moreau"}, "student": {"Léa"}, "media": {"sound"}, "keep": {"long"}}, "write a whole number"},
		"without media": {url.Values{"family": {"Moreau"}, "student": {"Léa"}}, "A family needs at least one student."},
	} {
		status, text, _ := s.Post(t, s.TeacherDevice, "/studio/families", c.form)
		if status != http.StatusUnprocessableEntity {
			t.Errorf("%s: %d", name, status)
		}
		webtest.Has(t, text, c.say, `value="`+c.form.Get("family")+`"`)
	}
	webtest.HasNot(t, s.Page(t, "/studio/families"), "Moreau")
}

func TestALostPhone(t *testing.T) {
	s := open(t)
	family := "/studio/families/" + string(s.Okafor.Family.ID)
	webtest.Has(t, s.Page(t, family), "Ngozi Okafor", "phone", "Ada", "Kept for 400 days", "May send video")
	out := family + "/devices/" + string(s.Okafor.Coach.Device) + "/revoke"
	if status, _, _ := s.Post(t, s.TeacherDevice, "/studio/families/"+string(s.Lindqvist.Family.ID)+"/devices/"+string(s.Okafor.Coach.Device)+"/revoke", nil); status != http.StatusNotFound {
		t.Errorf("under another family: %d", status)
	}
	for range 2 { // pressed twice
		if to := s.Sends(t, out, nil); to != family+"?done=out#phones" {
			t.Errorf("leads to %s", to)
		}
	}
	webtest.Has(t, s.Page(t, family), "signed out today")
	if _, err := s.Desk.Recognise(t.Context(), s.Okafor.Device); err == nil {
		t.Error("the lost phone still opens the door")
	}
	if to := s.Sends(t, family+"/link", nil); to != family+"/link" {
		t.Errorf("a new link leads to %s", to)
	}
	if status, _, _ := s.Post(t, s.TeacherDevice, "/studio/families/00000000000000000000000000/link", nil); status != http.StatusNotFound {
		t.Errorf("a link for nobody: %d", status)
	}
}

// TestErasing needs the family's name, happens once, and leaves a receipt that names nobody.
func TestErasing(t *testing.T) {
	s := open(t)
	w := s.Work(t, "Ode to Joy")
	s.Take(t, s.Okafor.Coach, studio.Announcement{Student: s.Okafor.Students[0].ID, Work: w.ID})
	family := "/studio/families/" + string(s.Okafor.Family.ID)
	for _, typed := range []string{"", "Okafo", "Lindqvist", "yes"} {
		status, text, _ := s.Post(t, s.TeacherDevice, family+"/erase", url.Values{"typed": {typed}})
		if status != http.StatusUnprocessableEntity {
			t.Fatalf("%q erases: %d", typed, status)
		}
		webtest.Has(t, text, "Nothing was erased")
	}
	to := s.Sends(t, family+"/erase", url.Values{"typed": {"  okafor "}})
	text := s.Page(t, to)
	webtest.Has(t, text, "A family was erased by you", "1 student, 1 recording, 1 file")
	webtest.HasNot(t, text, "Okafor", "Ada")
	if status, _, _ := s.Post(t, s.TeacherDevice, family+"/erase", url.Values{"typed": {"Okafor"}}); status != http.StatusNotFound {
		t.Errorf("a second time: %d", status)
	}
	webtest.HasNot(t, s.Page(t, "/students"), "Ada")
	if status, _ := s.Get(t, s.TeacherDevice, "/students/"+string(s.Okafor.Students[0].ID)); status != http.StatusNotFound {
		t.Errorf("the student’s page: %d", status)
	}
}

func TestTakingEverythingAlong(t *testing.T) {
	s := open(t)
	w := s.Work(t, "Ode to Joy")
	ada := s.Okafor.Students[0]
	one := s.Take(t, s.Okafor.Coach, studio.Announcement{Student: ada.ID, Work: w.ID})
	s.Hear(t, one.ID, studio.Summary{Notes: 4})
	status, body, _ := s.Post(t, s.TeacherDevice, "/studio/families/"+string(s.Okafor.Family.ID)+"/export", nil)
	z, err := zip.NewReader(strings.NewReader(body), int64(len(body)))
	if status != http.StatusOK || err != nil {
		t.Fatalf("%d, %v", status, err)
	}
	f, err := z.Open("family.json")
	if err != nil {
		t.Fatal(err)
	}
	var e studio.Export
	if err := json.NewDecoder(f).Decode(&e); err != nil || e.Family.Name != "Okafor" || len(e.Takes) != 1 {
		t.Errorf("%+v, %v", e, err)
	}
	webtest.Has(t, s.Page(t, "/students/"+string(ada.ID)+"/looked"), "You took everything away in a file")
	if status, text, _ := s.Post(t, s.TeacherDevice, "/studio/families/00000000000000000000000000/export", nil); status != http.StatusNotFound || strings.Contains(text, "PK") {
		t.Errorf("nobody’s file: %d", status)
	}
}

func TestSettings(t *testing.T) {
	s := open(t)
	webtest.Has(t, s.Page(t, "/studio"), "Studio Under the Lime Tree", "deleted on 9 December 2027", "Follow those that apply where you", "/studio/door")
	good := url.Values{"name": {"Lindenhof"}, "reply": {" 5 "}, "keep": {"30"}, "language": {"es"}}
	if to := s.Sends(t, "/studio", good); to != "/studio?done=kept" {
		t.Errorf("leads to %s", to)
	}
	st, _, err := s.Desk.Home(t.Context())
	if err != nil || st.Name != "Lindenhof" || st.ReplyDays != 5 || st.KeepDays != 30 || st.Language != "es" {
		t.Errorf("%+v, %v", st, err)
	}
	for field, bad := range map[string][]string{"name": {"", " \x00 "}, "reply": {"", "soon", "0", "-1", "1e3", "99999999999999999999"}, "keep": {"0", "forever", "4000"}, "language": {"", `"><script>`}} {
		for _, value := range bad {
			form := url.Values{"name": {"X"}, "reply": {"3"}, "keep": {"400"}, "language": {"en"}}
			form.Set(field, value)
			if status, text, _ := s.Post(t, s.TeacherDevice, "/studio", form); status != http.StatusUnprocessableEntity {
				t.Errorf("%s %q: %d %s", field, value, status, webtest.Seen(text))
			}
		}
	}
	if again, _, err := s.Desk.Home(t.Context()); err != nil || again != st {
		t.Errorf("%+v, %v", again, err)
	}
	status, body, _ := s.Post(t, s.TeacherDevice, "/studio/corrections", nil)
	if status != http.StatusOK || body != "" {
		t.Errorf("no corrections are %d %q", status, body)
	}
}

func TestAStudentsPage(t *testing.T) {
	s := open(t)
	ctx := t.Context()
	canon, joy := s.Work(t, "Tallis’s Canon"), s.Work(t, "Ode to Joy")
	if _, err := s.Desk.Shelve(ctx, s.Teacher, studio.Collection{Name: "First rounds", Items: []studio.CollectionItem{{Work: canon.ID}, {Work: joy.ID}}}); err != nil {
		t.Fatal(err)
	}
	ada := s.Okafor.Students[0]
	student := "/students/" + string(ada.ID)
	webtest.Has(t, s.Page(t, student), "Begin with a first lesson", "Nothing was asked yet.", "No remarks yet.")
	l, err := s.Desk.SaveDraft(ctx, s.Teacher, studio.Lesson{Student: ada.ID, Date: "2026-11-04", Assignments: []studio.Assignment{{Work: canon.ID, FromBar: "1", ToBar: "8"}}})
	if err != nil {
		t.Fatal(err)
	}
	if err := s.Desk.SendLesson(ctx, s.Teacher, l.ID, l.Version); err != nil {
		t.Fatal(err)
	}
	var takes []studio.Take
	for i := range 3 {
		s.Wait(49 * time.Hour)
		one := s.Take(t, s.Okafor.Coach, studio.Announcement{Student: ada.ID, Assignment: l.Assignments[0].ID, Work: canon.ID})
		s.Hear(t, one.ID, studio.Summary{Bpm: 60 + float64(i)*4, SteadinessPct: 6, Notes: 32, Wrong: 1, FromBar: "1", ToBar: "8"})
		takes = append(takes, one)
	}
	s.Remark(t, takes[0].ID, "5", "The fourth finger waits above the string.")
	s.Remark(t, takes[2].ID, "", "A warm tone, keep it.")
	text := s.Page(t, student)
	webtest.Has(t, text, "November 2026", "Tallis’s Canon, bars 1 to 8", "waits for your answer", "bars 1 to 8 at 68", "Asked in one lesson", "three recordings, the newest today",
		"A warm tone, keep it.", "bar 5", "First rounds", "One of two asked so far", "still ahead", "31 of 32 notes")
	text = s.Page(t, student+"?words=FOURTH+waits")
	webtest.Has(t, text, "The fourth finger waits above the string.")
	webtest.HasNot(t, text, "A warm tone")
	webtest.Has(t, s.Page(t, student+"?words=nowhere"), "No remark has these words.")
	if status, _ := s.Get(t, s.TeacherDevice, student+"?before=yesterday%27--"); status != http.StatusNotFound {
		t.Errorf("a day that is none: %d", status)
	}

	if to := s.Sends(t, student, url.Values{"name": {"Adaeze"}, "media": {"hands"}}); to != student+"?done=kept" {
		t.Errorf("leads to %s", to)
	}
	if status, _, _ := s.Post(t, s.TeacherDevice, student, url.Values{"name": {""}, "media": {"hands"}}); status != http.StatusUnprocessableEntity {
		t.Errorf("without a name: %d", status)
	}
	if _, err := s.Desk.ReviewTake(ctx, s.Okafor.Coach, takes[0].ID); err != nil {
		t.Fatal(err)
	}
	webtest.Has(t, s.Page(t, student+"/looked"), "Ngozi Okafor opened", "Tallis’s Canon of 6 November")

	del := student + "/takes/" + string(takes[0].ID) + "/delete"
	webtest.Has(t, s.Page(t, del), "Adaeze: Tallis’s Canon, sent on Friday")
	if to := s.Sends(t, del, nil); to != student+"?done=deleted" {
		t.Errorf("leads to %s", to)
	}
	if status, _, _ := s.Post(t, s.TeacherDevice, del, nil); status != http.StatusNotFound {
		t.Errorf("deleted twice: %d", status)
	}
	webtest.Has(t, s.Page(t, "/studio/receipts"), "A recording was deleted by you")
	webtest.Has(t, s.Page(t, "/students?q=adaEZE+okaf"), "Adaeze", "Last recording today")
	webtest.Has(t, s.Page(t, "/students?q=zzz"), "Nobody here has that name.")
}

// TestLookingBack walks through a long history: every recording and every lesson is met, and none twice.
func TestLookingBack(t *testing.T) {
	s := open(t)
	ctx := t.Context()
	w := s.Work(t, "Ode to Joy")
	ada := s.Okafor.Students[0]
	want := map[string]bool{}
	err := s.Store.Within(ctx, func(tx studio.Records) error {
		for i := range 230 {
			id, err := studio.NewID[studio.TakeID](rand.Reader)
			if err != nil {
				return err
			}
			at := s.Now().Add(-time.Duration(i/3) * 31 * time.Hour) // three at once
			if i >= 150 && i < 215 {
				at = s.Now().AddDate(0, 0, -100) // and once more than a page on one day
			}
			one := studio.Take{ID: id, Studio: ada.Studio, Family: ada.Family, Student: ada.ID, Work: w.ID, State: studio.Ready, Announced: at, Arrived: at, Changed: at, Answered: at, KeepUntil: at.AddDate(3, 0, 0)}
			if err := tx.AddTake(ctx, one); err != nil {
				return err
			}
			want["/takes/"+string(id)] = true
		}
		for i := range 70 {
			id, err := studio.NewID[studio.LessonID](rand.Reader)
			if err != nil {
				return err
			}
			l := studio.Lesson{ID: id, Studio: ada.Studio, Family: ada.Family, Student: ada.ID, Date: s.Now().AddDate(0, 0, -2*i).Format("2006-01-02"), Saved: s.Now()}
			if err := tx.PutLesson(ctx, l); err != nil {
				return err
			}
			want["/lessons/"+string(id)] = true
		}
		return nil
	})
	if err != nil {
		t.Fatal(err)
	}
	met := map[string]int{}
	at, pages := "/students/"+string(ada.ID), 0
	for at != "" {
		if pages++; pages > 20 {
			t.Fatal("no end")
		}
		text := s.Page(t, at)
		_, weeks, _ := strings.Cut(text, `id="weeks"`)
		weeks, _, _ = strings.Cut(weeks, `id="works"`)
		for _, m := range regexp.MustCompile(`class="what"><a href="([^"]*)"`).FindAllStringSubmatch(weeks, -1) {
			met[m[1]]++
		}
		at = ""
		if m := regexp.MustCompile(`<a href="([^"]*)#weeks">Earlier`).FindStringSubmatch(weeks); m != nil {
			at = m[1]
		}
	}
	for way, n := range met {
		if n > 1 {
			t.Errorf("%s is shown %d times", way, n)
		}
	}
	for way := range want {
		if met[way] == 0 {
			t.Errorf("%s is never shown, on %d pages", way, pages)
		}
	}
	if pages < 4 {
		t.Errorf("everything stands on %d pages", pages)
	}
}

package week_test

import (
	"archive/zip"
	"bytes"
	"encoding/json"
	"html"
	"io"
	"mime/multipart"
	"net/http"
	"net/textproto"
	"net/url"
	"strings"
	"testing"
	"time"

	"antiphon/internal/studio"
	"antiphon/internal/web/sheet"
	"antiphon/internal/web/webtest"
	"antiphon/internal/web/week"
)

const tune = `<?xml version="1.0" encoding="UTF-8"?>
<score-partwise version="4.0"><part-list><score-part id="P1"><part-name>Guitar</part-name></score-part></part-list>
<part id="P1"><measure number="1"><attributes><divisions>1</divisions><time><beats>4</beats><beat-type>4</beat-type></time></attributes>
<note><pitch><step>E</step><octave>5</octave></pitch><duration>4</duration><type>whole</type></note></measure></part></score-partwise>`

// kitchen is the studio with a lesson for each child.
type kitchen struct {
	*webtest.Site
	ada, nils, runa studio.Student
	asked           map[studio.StudentID]studio.Lesson
}

func open(t *testing.T) kitchen {
	t.Helper()
	s := webtest.Open(t)
	k := kitchen{Site: s.Serve(t, func(mux *http.ServeMux) {
		if err := week.Routes(mux, s.Frame, sheet.New(nil, s.Frame), week.Options{Sounds: true}); err != nil {
			t.Fatal(err)
		}
	}), ada: s.Okafor.Students[0], nils: s.Lindqvist.Students[0], runa: s.Lindqvist.Students[1], asked: map[studio.StudentID]studio.Lesson{}}
	w, err := s.Desk.AddWork(t.Context(), s.Teacher, studio.Work{Title: "Three <Blind> Mice", Rights: "traditional", Score: tune})
	if err != nil {
		t.Fatal(err)
	}
	bare, err := s.Desk.AddWork(t.Context(), s.Teacher, studio.Work{Title: "Open strings"})
	if err != nil {
		t.Fatal(err)
	}
	for _, c := range []studio.Student{k.ada, k.nils} {
		l := k.draft(t, c, studio.Lesson{Date: "2026-11-03", Words: "Dear " + c.Name + ",\nlovely steps <this> week.", Assignments: []studio.Assignment{
			{Work: w.ID, FromBar: "1", ToBar: "1", Do: "Play it & sing " + c.Name, Goals: studio.Goals{TempoBpm: 60, DoneWhen: "three times & calm", Stroke: "rest"}},
			{Work: bare.ID, Do: "Slowly"},
		}})
		if err := s.Desk.SendLesson(t.Context(), s.Teacher, l.ID, l.Version); err != nil {
			t.Fatal(err)
		}
		k.asked[c.ID] = l
	}
	k.draft(t, k.runa, studio.Lesson{Date: "2026-11-04", Words: "A draft that nobody sees yet"})
	s.Wait(time.Hour)
	return k
}

func (k kitchen) draft(t *testing.T, s studio.Student, l studio.Lesson) studio.Lesson {
	t.Helper()
	l.Student = s.ID
	l, err := k.Desk.SaveDraft(t.Context(), k.Teacher, l)
	if err != nil {
		t.Fatal(err)
	}
	return l
}

// upload sends a recording as a browser without scripts does.
func (k kitchen) upload(t *testing.T, device string, fields map[string]string, name, typ string, body []byte) (status int, text, to string) {
	t.Helper()
	var b bytes.Buffer
	m := multipart.NewWriter(&b)
	for _, f := range []string{"child", "of", "note", "hurt"} {
		if v, ok := fields[f]; ok {
			if err := m.WriteField(f, v); err != nil {
				t.Fatal(err)
			}
		}
	}
	// Two ways to a file that were not used.
	for range 2 {
		if _, err := m.CreatePart(textproto.MIMEHeader{"Content-Disposition": {`form-data; name="file"; filename=""`}, "Content-Type": {"application/octet-stream"}}); err != nil {
			t.Fatal(err)
		}
	}
	if name != "" {
		p, err := m.CreatePart(textproto.MIMEHeader{"Content-Disposition": {`form-data; name="file"; filename="` + name + `"`}, "Content-Type": {typ}})
		if err != nil {
			t.Fatal(err)
		}
		if _, err := p.Write(body); err != nil {
			t.Fatal(err)
		}
	}
	if err := m.Close(); err != nil {
		t.Fatal(err)
	}
	r, err := http.NewRequestWithContext(t.Context(), http.MethodPost, k.URL+"/week/send", &b)
	if err != nil {
		t.Fatal(err)
	}
	r.Header.Set("Content-Type", m.FormDataContentType())
	r.Header.Set("Sec-Fetch-Site", "same-origin")
	a, err := k.Client(t, device).Do(r)
	if err != nil {
		t.Fatal(err)
	}
	defer a.Body.Close()
	all, err := io.ReadAll(a.Body)
	if err != nil {
		t.Fatal(err)
	}
	return a.StatusCode, string(all), a.Header.Get("Location")
}

func has(t *testing.T, where, body string, want ...string) {
	t.Helper()
	for _, w := range want {
		if !strings.Contains(body, w) {
			t.Errorf("%s does not say %q: %s", where, w, body)
		}
	}
}

func hasNot(t *testing.T, where, body string, never ...string) {
	t.Helper()
	for _, w := range never {
		if strings.Contains(body, w) {
			t.Errorf("%s says %q", where, w)
		}
	}
}

func TestWeek(t *testing.T) {
	k := open(t)
	status, body := k.Get(t, k.Okafor.Device, "/week")
	if status != 200 {
		t.Fatal(status, body)
	}
	has(t, "the week", body, "Dear Ada,", "lovely steps &lt;this&gt; week.", "Three &lt;Blind&gt; Mice", "Only bar 1.", "Play it &amp; sing Ada", "about one beat a second",
		"(60 beats a minute)", "three times &amp; calm", "comes to rest on the next string", `data-island="sheet"`, "Open strings", "All of it.", "Nothing yet.")
	hasNot(t, "the week", body, "Nils", "Runa", "Lindqvist", "A draft", "<Blind>", "<this>")
	_, body = k.Get(t, k.Lindqvist.Device, "/week")
	has(t, "the other week", body, "Nils", "Runa", "Play it &amp; sing Nils")
	_, runas := k.Get(t, k.Lindqvist.Device, "/week?child="+string(k.runa.ID))
	has(t, "Runa's week", runas, "Nils", "Runa", "No lesson has come yet.")
	hasNot(t, "Runa's week", runas, "Play it &amp; sing Nils", "A draft")
	hasNot(t, "the other week", body, "Ada", "A draft")
	for who, device := range map[string]string{"the teacher": k.TeacherDevice, "a stranger": "", "nobody's device": "made up"} {
		for _, path := range []string{"/week", "/week/send", "/week/data", "/week/sent?child=" + string(k.ada.ID), "/week/hurt?child=" + string(k.ada.ID)} {
			if status, body := k.Get(t, device, path); status != 403 || strings.Contains(body, "Ada") {
				t.Errorf("%s at %s: %d", who, path, status)
			}
		}
		for _, path := range []string{"/week/send", "/week/hurt", "/week/data/export", "/week/data/erase", "/week/data/children/" + string(k.ada.ID), "/week/takes/x/delete"} {
			if status, _, _ := k.Post(t, device, path, url.Values{"name": {"Okafor"}, "media": {"video"}}); status != 403 {
				t.Errorf("%s posts to %s: %d", who, path, status)
			}
		}
	}
}

// TestOneRevokedDevice: a phone that is signed out is out at once.
func TestOneRevokedDevice(t *testing.T) {
	k := open(t)
	if err := k.Desk.Revoke(t.Context(), k.Teacher, k.Okafor.Coach.Device); err != nil {
		t.Fatal(err)
	}
	for _, path := range []string{"/week", "/week/send", "/week/data"} {
		if status, body := k.Get(t, k.Okafor.Device, path); status != 403 || strings.Contains(body, "Ada") {
			t.Errorf("%s: %d", path, status)
		}
	}
	if status, _, _ := k.upload(t, k.Okafor.Device, map[string]string{"child": string(k.ada.ID)}, "a.m4a", "audio/mp4", []byte("sound")); status != 403 {
		t.Errorf("it sends a recording: %d", status)
	}
}

func TestSend(t *testing.T) {
	k := open(t)
	first := k.asked[k.ada.ID].Assignments[0]
	_, body := k.Get(t, k.Okafor.Device, "/week/send?child="+string(k.ada.ID)+"&of="+string(first.ID))
	has(t, "the form", body, `value="`+string(first.ID)+`" checked`, "You chose video for Ada", `accept="video/*" capture="environment"`)
	fields := map[string]string{"child": string(k.ada.ID), "of": string(first.ID), "note": "went <well>"}
	status, text, to := k.upload(t, k.Okafor.Device, fields, "Ada's take.m4a", "application/octet-stream", []byte("the sound of it"))
	if status != 303 || !strings.HasPrefix(to, "/week/takes/") || !strings.HasSuffix(to, "?sent") {
		t.Fatalf("%d to %q: %s", status, to, text)
	}
	id := studio.TakeID(strings.TrimSuffix(strings.TrimPrefix(to, "/week/takes/"), "?sent"))
	r, err := k.Desk.ReviewTake(t.Context(), k.Teacher, id)
	if err != nil || r.Take.Assignment != first.ID || r.Take.Note != "went <well>" || r.Take.Hurt || r.Take.State != studio.Waiting || r.Media[0].Type != "audio/mp4" {
		t.Errorf("arrived as %+v, %v", r.Take, err)
	}
	_, body = k.Get(t, k.Okafor.Device, to)
	has(t, "the recording", body, "It is here and safe. Your teacher will listen to it.", "went &lt;well&gt;", "Three &lt;Blind&gt; Mice")
	if _, body := k.Get(t, k.Okafor.Device, "/week/sent?child="+string(k.ada.ID)); !strings.Contains(body, "Promised answer: ") {
		t.Errorf("nobody is told when the answer comes: %s", body)
	}
	if _, body := k.Get(t, k.Okafor.Device, "/week"); !strings.Contains(body, string(id)) {
		t.Error("the week does not show the recording")
	}
	if _, body := k.Get(t, k.Okafor.Device, "/week/sent?child="+string(k.ada.ID)); !strings.Contains(body, "It is here and safe") || strings.Contains(body, "<html") {
		t.Errorf("the part says %s", body)
	}
	k.Wait(studio.DefaultReplyDays*24*time.Hour + time.Minute)
	if _, body := k.Get(t, k.Okafor.Device, "/week/sent?child="+string(k.ada.ID)); strings.Contains(body, "Promised answer") {
		t.Errorf("a day that is past is held up: %s", body)
	}
	if _, _, to := k.upload(t, k.Okafor.Device, fields, "again.m4a", "audio/mp4", []byte("the sound of it")); to != "/week/takes/"+string(id)+"?sent=before" {
		t.Errorf("the same again leads to %q", to)
	}

	for name, c := range map[string]struct {
		device string
		child  studio.Student
		of     studio.AssignmentID
		file   string
		typ    string
		status int
		say    string
	}{
		"no file":                      {k.Okafor.Device, k.ada, "", "", "", 422, "There is no recording in it."},
		"no recording":                 {k.Okafor.Device, k.ada, "", "a.pdf", "application/pdf", 422, "neither sound nor video"},
		"video where sound is agreed":  {k.Lindqvist.Device, k.nils, "", "a.mp4", "video/mp4", 403, "sound only"},
		"another family's child":       {k.Okafor.Device, k.nils, "", "a.m4a", "audio/mp4", 404, "not here"},
		"what was asked of another":    {k.Okafor.Device, k.ada, k.asked[k.nils.ID].Assignments[0].ID, "a.m4a", "audio/mp4", 422, "not asked of this student"},
		"an assignment that never was": {k.Okafor.Device, k.ada, "00000000000000000000000000", "a.m4a", "audio/mp4", 422, "not asked of this student"},
		"no child":                     {k.Okafor.Device, studio.Student{}, "", "a.m4a", "audio/mp4", 404, "not here"},
	} {
		status, body, _ := k.upload(t, c.device, map[string]string{"child": string(c.child.ID), "of": string(c.of)}, c.file, c.typ, []byte("other sound "+name))
		if status != c.status || !strings.Contains(body, c.say) {
			t.Errorf("%s: %d, want %d and %q: %s", name, status, c.status, c.say, body)
		}
	}
	if status, body, _ := k.Post(t, k.Okafor.Device, "/week/send", url.Values{"child": {string(k.ada.ID)}}); status != 422 || !strings.Contains(body, "There is no recording in it.") {
		t.Errorf("a form without a file: %d", status)
	}
	if takes, err := k.Desk.TakesBy(t.Context(), k.Teacher, studio.TakeQuery{}); err != nil || len(takes) != 1 {
		t.Errorf("what was refused left %d takes, %v", len(takes)-1, err)
	}
}

// TestWhatMayBeSent: where sound is agreed no camera is offered; where hands are, it is said how.
func TestWhatMayBeSent(t *testing.T) {
	k := open(t)
	_, body := k.Get(t, k.Lindqvist.Device, "/week/send?child="+string(k.nils.ID))
	has(t, "sound only", body, "The camera stays off", `accept="audio/*"`)
	hasNot(t, "sound only", body, "video/*", "environment", "Film now")
	_, body = k.Get(t, k.Lindqvist.Device, "/week/send?child="+string(k.runa.ID))
	has(t, "hands only", body, "Keep the face out of the picture", "both hands and the guitar. Look first", `accept="video/*" capture="environment"`)
	_, body = k.Get(t, k.Lindqvist.Device, "/week/send")
	has(t, "two children", body, "Who is playing?", "Nils", "Runa")
	_, body = k.Get(t, k.Lindqvist.Device, "/week/send?child="+string(k.ada.ID))
	hasNot(t, "another family's child", body, "Ada")
}

func TestTake(t *testing.T) {
	k := open(t)
	_, _, to := k.upload(t, k.Okafor.Device, map[string]string{"child": string(k.ada.ID)}, "a.m4a", "audio/mp4", []byte("sound"))
	path := strings.TrimSuffix(to, "?sent")
	id := studio.TakeID(strings.TrimPrefix(path, "/week/takes/"))
	for _, r := range []struct {
		atS  float64
		text string
	}{{62.5, "Here the thumb <rests>"}, {3, "A fine beginning"}} {
		if _, err := k.Desk.Remark(t.Context(), k.Teacher, id, studio.Anchor{AtS: r.atS, Bar: "1"}, r.text, ""); err != nil {
			t.Fatal(err)
		}
	}
	_, body := k.Get(t, k.Okafor.Device, path)
	hasNot(t, "a recording that is being answered", body, "the thumb", "A fine beginning")
	if err := k.Desk.Answer(t.Context(), k.Teacher, id); err != nil {
		t.Fatal(err)
	}
	_, body = k.Get(t, k.Okafor.Device, path)
	has(t, "the recording", body, "Here the thumb &lt;rests&gt;", "1:02", "A fine beginning", "Your teacher has answered", "9 December 2027")
	if strings.Index(body, "A fine beginning") > strings.Index(body, "Here the thumb") {
		t.Error("the remarks are not in the order of the recording")
	}
	if status, body := k.Get(t, k.Lindqvist.Device, path); status != 404 || strings.Contains(body, "Ada") {
		t.Errorf("another family sees it: %d", status)
	}
	if status, _, _ := k.Post(t, k.Lindqvist.Device, path+"/delete", url.Values{"sure": {"yes"}}); status != 404 {
		t.Errorf("another family deletes it: %d", status)
	}
	if status, body, _ := k.Post(t, k.Okafor.Device, path+"/delete", nil); status != 422 || !strings.Contains(body, "Nothing was deleted.") {
		t.Errorf("deleting without the box: %d", status)
	}
	status, body, _ := k.Post(t, k.Okafor.Device, path+"/delete", url.Values{"sure": {"yes"}})
	receipts, err := k.Desk.Receipts(t.Context(), k.Teacher)
	if err != nil || len(receipts) != 1 {
		t.Fatal(receipts, err)
	}
	if status != 200 || !strings.Contains(body, string(receipts[0].ID)) || !strings.Contains(body, "1 recording") {
		t.Errorf("deleting: %d %s", status, body)
	}
	if status, _ := k.Get(t, k.Okafor.Device, path); status != 404 {
		t.Errorf("it is still there: %d", status)
	}
}

// TestNoMarks: what the ear measured is the teacher's; the family reads no number of it and no reason why
// it needs a look.
func TestNoMarks(t *testing.T) {
	k := open(t)
	_, _, to := k.upload(t, k.Okafor.Device, map[string]string{"child": string(k.ada.ID)}, "a.m4a", "audio/mp4", []byte("sound"))
	id := studio.TakeID(strings.TrimSuffix(strings.TrimPrefix(to, "/week/takes/"), "?sent"))
	ear := studio.Viewer{Studio: k.Teacher.Studio, Role: studio.Ear}
	if _, err := k.Desk.BeginHearing(t.Context(), ear, id); err != nil {
		t.Fatal(err)
	}
	heard := studio.Heard{Doc: []byte(`{"schema":"antiphon.hearing/1"}`), DurationS: 31, Summary: studio.Summary{Bpm: 57.25, RightShare: 0.4375, Wrong: 13, Missed: 17},
		Concerns: []studio.Concern{{Kind: "not-this-score", Say: "It is another piece."}, {Kind: "too-quiet", Say: "Its level is -48 dB."}}}
	if err := k.Desk.SetAside(t.Context(), ear, id, "The ear heard no guitar.", heard); err != nil {
		t.Fatal(err)
	}
	for _, path := range []string{"/week", "/week/takes/" + string(id), "/week/data", "/week/sent?child=" + string(k.ada.ID)} {
		_, body := k.Get(t, k.Okafor.Device, path)
		hasNot(t, path, body, "57.25", "43.75", "44 %", "-48", "no guitar", "another piece")
		if path != "/week/data" {
			has(t, path, body, "Next time put the phone a little nearer.", "Your teacher will look at it")
		}
	}
}

func TestHurt(t *testing.T) {
	k := open(t)
	of := k.asked[k.ada.ID].Assignments[0].ID
	// Somebody else's take waits longer.
	k.upload(t, k.Lindqvist.Device, map[string]string{"child": string(k.nils.ID)}, "n.m4a", "audio/mp4", []byte("sound of Nils"))
	k.Wait(time.Hour)
	path := "/week/hurt?child=" + string(k.ada.ID) + "&of=" + string(of)
	_, body := k.Get(t, k.Okafor.Device, path)
	has(t, "the page", body, "If it hurts, stop.", "ask a doctor or another qualified person", "as Ada says it")
	if status, body := k.Get(t, k.Lindqvist.Device, path); status != 404 || strings.Contains(body, "Ada") {
		t.Errorf("another family: %d", status)
	}
	form := url.Values{"child": {string(k.ada.ID)}, "of": {string(of)}}
	if status, _, _ := k.Post(t, k.Okafor.Device, "/week/hurt", form); status != 422 {
		t.Errorf("without a word: %d", status)
	}
	form.Set("note", "the wrist, <after> a while")
	if status, _, _ := k.Post(t, k.Lindqvist.Device, "/week/hurt", form); status != 404 {
		t.Errorf("another family tells it: %d", status)
	}
	status, _, to := k.Post(t, k.Okafor.Device, "/week/hurt", form)
	if status != 303 || to != "/week?told" {
		t.Errorf("telling: %d to %q", status, to)
	}
	_, body = k.Get(t, k.Okafor.Device, to)
	has(t, "the week", body, "Your teacher has been told", "If it hurts, stop.")
	desk, err := k.Desk.Look(t.Context(), k.Teacher)
	if err != nil || len(desk.Waiting) != 2 || desk.Waiting[0].Student.ID != k.ada.ID || !desk.Waiting[0].Hurt || desk.Waiting[0].Takes[0].Note != "the wrist, <after> a while" {
		t.Errorf("the desk: %+v, %v", desk.Waiting, err)
	}
}

func TestData(t *testing.T) {
	k := open(t)
	_, _, to := k.upload(t, k.Okafor.Device, map[string]string{"child": string(k.ada.ID)}, "a.m4a", "audio/mp4", []byte("the sound of Ada"))
	id := strings.TrimSuffix(strings.TrimPrefix(to, "/week/takes/"), "?sent")
	k.upload(t, k.Lindqvist.Device, map[string]string{"child": string(k.nils.ID)}, "n.m4a", "audio/mp4", []byte("the sound of Nils"))
	for range 3 {
		if _, err := k.Desk.ReviewTake(t.Context(), k.Teacher, studio.TakeID(id)); err != nil {
			t.Fatal(err)
		}
		k.Wait(2 * time.Hour)
	}
	_, body := k.Get(t, k.Okafor.Device, "/week/data")
	has(t, "our data", body, "Ada", "9 December 2027", "today: Your teacher opened a recording", "(3 times)", "400 days", "4 November", id)
	hasNot(t, "our data", body, "Nils", "Lindqvist")

	change := "/week/data/children/" + string(k.ada.ID)
	if status, _, _ := k.Post(t, k.Lindqvist.Device, change, url.Values{"media": {"sound"}}); status != 404 {
		t.Errorf("another family changes what may be sent: %d", status)
	}
	if status, _, _ := k.Post(t, k.Okafor.Device, change, url.Values{"media": {"everything"}}); status != 422 {
		t.Errorf("a choice that there is not: %d", status)
	}
	if status, _, to := k.Post(t, k.Okafor.Device, change, url.Values{"media": {"sound"}}); status != 303 || to != "/week/data" {
		t.Errorf("changing what may be sent: %d to %q", status, to)
	}
	if status, _, _ := k.upload(t, k.Okafor.Device, map[string]string{"child": string(k.ada.ID)}, "v.mp4", "video/mp4", []byte("a film")); status != 403 {
		t.Errorf("a film after sound only was chosen: %d", status)
	}

	status, whole, _ := k.Post(t, k.Okafor.Device, "/week/data/export", nil)
	if status != 200 {
		t.Fatal(status, whole)
	}
	z, err := zip.NewReader(strings.NewReader(whole), int64(len(whole)))
	if err != nil {
		t.Fatal(err)
	}
	var all strings.Builder
	for _, f := range z.File {
		r, err := f.Open()
		if err != nil {
			t.Fatal(err)
		}
		if _, err := io.Copy(&all, r); err != nil {
			t.Fatal(err)
		}
		r.Close()
	}
	has(t, "the export", all.String(), "the sound of Ada", "Ngozi Okafor")
	hasNot(t, "the export", all.String(), "Nils", "Lindqvist")
	f, err := z.Open("family.json")
	if err != nil {
		t.Fatal(err)
	}
	var export studio.Export
	if err := json.NewDecoder(f).Decode(&export); err != nil || len(export.Takes) != 1 {
		t.Errorf("family.json: %+v, %v", export, err)
	}
}

func TestErase(t *testing.T) {
	k := open(t)
	k.upload(t, k.Okafor.Device, map[string]string{"child": string(k.ada.ID)}, "a.m4a", "audio/mp4", []byte("the sound of Ada"))
	for _, typed := range []string{"", "Lindqvist", "Okafo"} {
		status, body, _ := k.Post(t, k.Okafor.Device, "/week/data/erase", url.Values{"name": {typed}})
		if status != http.StatusUnprocessableEntity {
			t.Errorf("typing %q answers %d, as if it were done", typed, status)
		}
		has(t, "typing "+typed, body, "Nothing was deleted.", "Ada")
	}
	a, err := k.Client(t, k.Okafor.Device).PostForm(k.URL+"/week/data/erase", url.Values{"name": {" okafor "}})
	if err != nil {
		t.Fatal(err)
	}
	defer a.Body.Close()
	b, err := io.ReadAll(a.Body)
	if err != nil {
		t.Fatal(err)
	}
	receipts, err := k.Desk.Receipts(t.Context(), k.Teacher)
	if err != nil || len(receipts) != 1 {
		t.Fatal(receipts, err)
	}
	has(t, "the receipt", string(b), string(receipts[0].ID), "1 recording", "1 child")
	hasNot(t, "the receipt", string(b), "Ada", "Okafor")
	if c := a.Cookies(); len(c) != 1 || c[0].MaxAge >= 0 {
		t.Errorf("the cookie stays: %v", c)
	}
	if status, _ := k.Get(t, k.Okafor.Device, "/week"); status != 403 {
		t.Errorf("the phone is still in: %d", status)
	}
	if status, body := k.Get(t, k.Lindqvist.Device, "/week"); status != 200 || !strings.Contains(body, "Nils") {
		t.Errorf("the other family: %d", status)
	}
	families, err := k.Desk.Families(t.Context(), k.Teacher)
	if err != nil || len(families) != 1 || families[0].Name != "Lindqvist" {
		t.Errorf("families left: %+v, %v", families, err)
	}
}

func TestSpanish(t *testing.T) {
	k := open(t)
	if _, err := k.Desk.ChangeStudio(t.Context(), k.Teacher, studio.Settings{Name: "Bajo el tilo", KeepDays: 400, ReplyDays: 3, Language: "es"}); err != nil {
		t.Fatal(err)
	}
	for path, want := range map[string]string{
		"/week": "más o menos un pulso por segundo", "/week/send?child=" + string(k.ada.ID): "Grabar sonido ahora", "/week/data": "Llevárselo",
		"/week/hurt?child=" + string(k.ada.ID): "Si duele, hay que parar.",
	} {
		_, body := k.Get(t, k.Okafor.Device, path)
		has(t, path, body, want, `<html lang="es">`)
	}
	if status, body := k.Get(t, k.Okafor.Device, "/week/nowhere"); status != http.StatusNotFound || !strings.Contains(body, `<html lang="es">`) {
		t.Errorf("an address that is none: %d, %s", status, body)
	}
}

// TestBeat: a tempo is kept in quarter notes a minute and said in the beat that the score counts. In 6/8 that is a
// dotted quarter (common practice, no source): 90 quarters a minute are 60 beats.
func TestBeat(t *testing.T) {
	k := open(t)
	jig := strings.NewReplacer("<beats>4</beats><beat-type>4</beat-type>", "<beats>6</beats><beat-type>8</beat-type>",
		"<duration>4</duration><type>whole</type>", "<duration>3</duration><type>half</type><dot/>").Replace(tune)
	w, err := k.Desk.AddWork(t.Context(), k.Teacher, studio.Work{Title: "A jig", Score: jig})
	if err != nil {
		t.Fatal(err)
	}
	l := k.draft(t, k.runa, studio.Lesson{Date: "2026-11-05", Assignments: []studio.Assignment{{Work: w.ID, Do: "Rock it.", Goals: studio.Goals{TempoBpm: 90}}}})
	if err := k.Desk.SendLesson(t.Context(), k.Teacher, l.ID, l.Version); err != nil {
		t.Fatal(err)
	}
	_, body := k.Get(t, k.Lindqvist.Device, "/week?child="+string(k.runa.ID))
	has(t, "the week", body, "Rock it.", "(60 beats a minute)", "bpm=90")
	hasNot(t, "the week", body, "(90 beats")
}

// TestADrawingOnThePicture: what the teacher drew on the picture is shown with the remark, and said in the family's language.
func TestADrawingOnThePicture(t *testing.T) {
	k := open(t)
	_, _, to := k.upload(t, k.Okafor.Device, map[string]string{"child": string(k.ada.ID)}, "a.mp4", "video/mp4", []byte("the picture of it"))
	at := strings.TrimSuffix(to, "?sent")
	id := studio.TakeID(strings.TrimPrefix(at, "/week/takes/"))
	ear := studio.Viewer{Studio: k.Teacher.Studio, Role: studio.Ear}
	if _, err := k.Desk.BeginHearing(t.Context(), ear, id); err != nil {
		t.Fatal(err)
	}
	film, err := k.Desk.KeepRendition(t.Context(), ear, id, studio.Playable, "video/mp4", strings.NewReader("the picture of it"))
	if err != nil {
		t.Fatal(err)
	}
	// An angle of 90 degrees on a picture of 640 by 360: worked by hand, along its edges.
	const frame = `{"w":640,"h":360,"shapes":[{"kind":"angle","p":[[0.5,0.2],[0.5,0.5],[0.8,0.5]]},{"kind":"arrow","p":[[0.1,0.1],[0.2,0.2]]}]}`
	for _, drawn := range []string{frame, `{"w":0,"h":360,"shapes":[{"kind":"circle"}]}`} {
		if _, err := k.Desk.Remark(t.Context(), k.Teacher, id, studio.Anchor{AtS: 3.5, Frame: json.RawMessage(drawn)}, "This wrist", ""); err != nil {
			t.Fatal(err)
		}
	}
	if err := k.Desk.Answer(t.Context(), k.Teacher, id); err != nil {
		t.Fatal(err)
	}
	_, body := k.Get(t, k.Okafor.Device, at)
	has(t, "the remark", body, `data-island="frame" data-media="/media/`+string(film.ID)+`" data-at="3.50" data-drawing="`+html.EscapeString(frame)+`"`,
		"Drawn on the picture: an angle of 90° and an arrow.")
	if n := strings.Count(body, `data-island="frame"`); n != 1 {
		t.Errorf("%d drawings are shown, one makes sense", n)
	}
	r, err := http.NewRequestWithContext(t.Context(), http.MethodGet, k.URL+at, nil)
	if err != nil {
		t.Fatal(err)
	}
	r.AddCookie(&http.Cookie{Name: "language", Value: "es"})
	a, err := k.Client(t, k.Okafor.Device).Do(r)
	if err != nil {
		t.Fatal(err)
	}
	defer a.Body.Close()
	b, err := io.ReadAll(a.Body)
	if err != nil {
		t.Fatal(err)
	}
	has(t, "the remark in Spanish", string(b), "Dibujado sobre la imagen: un ángulo de 90° y una flecha.")
}

// TestALongRecording: what a form may hold is no bound for a recording that is sent in one.
func TestALongRecording(t *testing.T) {
	k := open(t)
	status, text, _ := k.upload(t, k.Okafor.Device, map[string]string{"child": string(k.ada.ID)}, "long.m4a", "audio/mp4", bytes.Repeat([]byte("two minutes "), 200_000))
	if status != http.StatusSeeOther {
		t.Errorf("%d %s", status, text)
	}
}

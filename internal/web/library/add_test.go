package library_test

import (
	"archive/zip"
	"bytes"
	"fmt"
	"io"
	"mime/multipart"
	"net/url"
	"os"
	"strings"
	"sync"
	"testing"
)

// TestAdd: several files at once, each answered by itself, with what was forgiven.
func TestAdd(t *testing.T) {
	s := open(t)
	study, err := os.ReadFile("../../engrave/testdata/study.musicxml")
	if err != nil {
		t.Fatal(err)
	}
	status, text := s.upload(s.TeacherDevice, "/library/add", "scores", "bought, 1 copy",
		file{"mice.abc", mice}, file{"holiday.jpg", "\xff\xd8\xff\xe0 no score"}, file{`C:\music\study.musicxml`, string(study)}, file{"empty.mid", ""})
	if status != 200 {
		t.Fatal(status, mainOf(text))
	}
	has(t, text, "Added: <a", ">Three Blind Mice</a>", "8 bars, 14 notes", "Not added: holiday.jpg.", "Not added: empty.mid.")
	if strings.Contains(text, `C:\`) {
		t.Error("the folder of a file is shown")
	}
	all := s.works()
	if len(all) != 2 {
		t.Fatalf("%d works", len(all))
	}
	for _, w := range all {
		if w.Rights != "bought, 1 copy" {
			t.Errorf("%s: rights %q", w.Title, w.Rights)
		}
		full, err := s.Desk.Work(t.Context(), s.Teacher, w.ID)
		if err != nil || !strings.Contains(full.Score, "<score-partwise") {
			t.Errorf("%s is not kept as MusicXML (%v)", w.Title, err)
		}
	}
	// A score without a title has that of its file.
	s.upload(s.TeacherDevice, "/library/add", "scores", "own", file{"Winter song.abc", "X:1\nM:2/4\nL:1/4\nK:C\nCD|E2|]\n"})
	has(t, s.page("/library"), ">Winter song</a>")
	// What was forgiven is told.
	_, text = s.upload(s.TeacherDevice, "/library/add", "scores", "own", file{"sloppy.abc", "X:1\nT:Sloppy\nM:2/4\nL:1/4\nK:C\nCD|E2|!nonsense!F2|]\n"})
	has(t, text, ">Sloppy</a>", "read all the same")
}

// TestAddTwice: the same score posted again, or twice at once, is in the library once.
func TestAddTwice(t *testing.T) {
	s := open(t)
	var all sync.WaitGroup
	for range 6 {
		all.Go(func() {
			if status, text := s.upload(s.TeacherDevice, "/library/add", "scores", "traditional", file{"mice.abc", mice}); status != 200 {
				t.Error(status, mainOf(text))
			}
		})
	}
	all.Wait()
	if n := len(s.works()); n != 1 {
		t.Fatalf("%d works", n)
	}
	_, text := s.upload(s.TeacherDevice, "/library/add", "scores", "traditional", file{"again.abc", mice})
	has(t, text, "There already:", "nothing was added")
	// Another tune of the same name is another work.
	s.upload(s.TeacherDevice, "/library/add", "scores", "traditional", file{"mice.abc", strings.Replace(mice, "E3 D3", "E2ED3", 1)})
	if n := len(s.works()); n != 2 {
		t.Errorf("%d works", n)
	}
}

// TestReplace: a corrected score stands in the place of the older one; what cannot be read changes nothing.
func TestReplace(t *testing.T) {
	s := open(t)
	w := s.added(mice)
	at := "/library/works/" + string(w.ID)
	for range 2 {
		status, text := s.upload(s.TeacherDevice, at+"/score", "scores", "", file{"better.abc", strings.Replace(mice, "E3 D3|C6|E3", "E2ED3|C6|E3", 1)})
		if status != 200 {
			t.Fatal(status, mainOf(text))
		}
		has(t, text, "In its place now:", "8 bars, 15 notes")
	}
	after, err := s.Desk.Work(t.Context(), s.Teacher, w.ID)
	if err != nil || after.Score == w.Score || after.Title != w.Title || after.Rights != w.Rights || len(s.works()) != 1 {
		t.Errorf("%q, %d works (%v)", after.Title, len(s.works()), err)
	}
	status, text := s.upload(s.TeacherDevice, at+"/score", "scores", "", file{"worse.abc", "no score"})
	if same, err := s.Desk.Work(t.Context(), s.Teacher, w.ID); status != 200 || !strings.Contains(text, "has its score as before") || err != nil || same != after {
		t.Errorf("%d %s (%v)", status, mainOf(text), err)
	}
	if status, text := s.upload(s.TeacherDevice, at+"/score", "other", "", file{"a.abc", mice}); status != 422 {
		t.Errorf("no score: %d %s", status, mainOf(text))
	}
	// A score of silence has a page too.
	_, text = s.upload(s.TeacherDevice, at+"/score", "scores", "", file{"rests.abc", "X:1\nT:Rests\nM:4/4\nL:1/4\nK:C\nz4|z4|]\n"})
	has(t, text, "In its place now:", "2 bars, 0 notes")
	has(t, s.page(at), "Nothing: it has no notes.")
}

func zipped(t *testing.T, files map[string]string) string {
	t.Helper()
	var b bytes.Buffer
	z := zip.NewWriter(&b)
	for name, text := range files {
		w, err := z.Create(name)
		if err == nil {
			_, err = io.WriteString(w, text)
		}
		if err != nil {
			t.Fatal(err)
		}
	}
	if err := z.Close(); err != nil {
		t.Fatal(err)
	}
	return b.String()
}

const container = `<?xml version="1.0"?><container><rootfiles><rootfile full-path="%s"/></rootfiles></container>`

// TestHostileScores: each is answered with a sentence, nothing is added, and the next score goes in.
func TestHostileScores(t *testing.T) {
	s := open(t)
	bomb := `<?xml version="1.0"?><score-partwise version="4.0"><work><work-title>` + strings.Repeat("a", 45<<20) + `</work-title></work></score-partwise>`
	entities := `<?xml version="1.0"?><!DOCTYPE score-partwise [<!ENTITY a "aaaaaaaaaa"><!ENTITY b "&a;&a;&a;&a;&a;&a;&a;&a;"><!ENTITY c "&b;&b;&b;&b;&b;&b;">]><score-partwise version="4.0"><work><work-title>&c;</work-title></work></score-partwise>`
	outside := `<?xml version="1.0"?><!DOCTYPE score-partwise [<!ENTITY x SYSTEM "file:///etc/passwd">]><score-partwise version="4.0"><work><work-title>&x;</work-title></work></score-partwise>`
	for _, c := range []struct{ name, text string }{
		{"bomb.mxl", zipped(t, map[string]string{"META-INF/container.xml": fmt.Sprintf(container, "a.xml"), "a.xml": bomb})},
		{"path.mxl", zipped(t, map[string]string{"META-INF/container.xml": fmt.Sprintf(container, "../../etc/passwd"), "../../etc/passwd": "root"})},
		{"entities.musicxml", entities},
		{"outside.musicxml", outside},
		{"large.musicxml", strings.Repeat(" ", 21<<20)},
		{"many.abc", "X:1\nM:4/4\nL:1/4\nK:C\n" + strings.Repeat("CDEF|", 12_000) + "]\n"},
		{"deep.musicxml", "<score-partwise>" + strings.Repeat("<a>", 5000)},
		{"page.html", "<html><script>alert(1)</script></html>"},
		{"take.mp4", "\x00\x00\x00\x20ftypisom\x00\x00\x02\x00"},
		{"zeros.mid", strings.Repeat("\x00", 4096)},
		{"half.musicxml", `<?xml version="1.0"?><score-partwise version="4.0"><part-list><score-part id="P1"><part-name>A`},
		{"<b>name</b>.txt", "no score"},
	} {
		status, text := s.upload(s.TeacherDevice, "/library/add", "scores", "own", file{c.name, c.text})
		if status != 200 || !strings.Contains(text, "Not added: ") {
			t.Errorf("%s: %d %.300s", c.name, status, mainOf(text))
			continue
		}
		why := mainOf(text)
		why = why[strings.Index(why, "Not added"):]
		why, _, _ = strings.Cut(why, "More scores")
		t.Log(why)
		if strings.Contains(text, "root:") || strings.Contains(text, "<b>name") || strings.Contains(text, "<script>alert") {
			t.Errorf("%s: the page shows what it must not", c.name)
		}
		if n := strings.Count(strings.TrimSpace(why), "."); n < 2 {
			t.Errorf("%s: no sentence: %q", c.name, why)
		}
	}
	if n := len(s.works()); n != 0 {
		t.Errorf("%d works were added", n)
	}
	s.added(mice)
}

// TestForms that are none, or are cut off.
func TestBrokenForms(t *testing.T) {
	s := open(t)
	var cut bytes.Buffer
	form := multipart.NewWriter(&cut)
	w, err := form.CreateFormFile("scores", "a.abc")
	if err != nil {
		t.Fatal(err)
	}
	if _, err := io.WriteString(w, mice[:30]); err != nil {
		t.Fatal(err)
	}
	for _, c := range []struct {
		path, kind, body string
		status           int
	}{
		{"/library/add", "text/plain", "hello", 422},
		{"/library/add", form.FormDataContentType(), "", 422},
		{"/library/compose", "application/x-www-form-urlencoded", "a=%zz", 422},
		{"/library/compose", "application/x-www-form-urlencoded", "r-title=" + strings.Repeat("a", 2<<20), 413},
		{"/library/collections", "application/x-www-form-urlencoded", "name=" + strings.Repeat("a", 400), 422},
	} {
		if status, text := s.send(s.TeacherDevice, c.path, c.kind, strings.NewReader(c.body)); status != c.status {
			t.Errorf("%s %.30q: %d %s", c.path, c.body, status, mainOf(text))
		}
	}
	if status, text := s.send(s.TeacherDevice, "/library/add", form.FormDataContentType(), &cut); status == 200 && !strings.Contains(text, "Not added") || len(s.works()) != 0 {
		t.Errorf("a form that is cut off: %d %s", status, mainOf(text))
	}
	var many []file
	for i := range 61 {
		many = append(many, file{fmt.Sprint(i, ".txt"), "no score"})
	}
	if status, text := s.upload(s.TeacherDevice, "/library/add", "scores", "own", many...); status != 413 || !strings.Contains(text, "60 files") {
		t.Errorf("61 files: %d %s", status, mainOf(text))
	}
}

// TestOnlyTheTeacher: a family and a stranger get nothing of the library, whatever they ask for.
func TestOnlyTheTeacher(t *testing.T) {
	s := open(t)
	w := s.added(mice)
	at := "/library/works/" + string(w.ID)
	for _, path := range []string{"/library", "/library/add", "/library/compose", "/library/compose/picture?ask=r-pattern%3Dscale", at, at + "/fingering?ask=yes", at + "/fingering/picture?way=0", at + "/sound",
		at + "/score.pdf", at + "/score.mid", at + "/score.musicxml", "/library/collections", "/library/collections/x", "/library/remedies", "/library/remedies/new", "/library/remedies/wrong-string", "/library/remedies/wrong-string/words"} {
		if status, text := s.Get(t, s.Okafor.Device, path); status != 403 || strings.Contains(text, w.Title) {
			t.Errorf("a family asks for %s: %d %s", path, status, mainOf(text))
		}
		if status, text := s.Get(t, "", path); status != 303 || strings.Contains(text, w.Title) {
			t.Errorf("a stranger asks for %s: %d", path, status)
		}
	}
	for _, path := range []string{"/library/compose", at, at + "/fingering", at + "/passages", at + "/passages/x/remove", at + "/models/x/remove", at + "/collections",
		"/library/collections", "/library/collections/x/name", "/library/collections/x/works", "/library/collections/x/works/y", "/library/remedies/new", "/library/remedies/wrong-string/words", "/library/remedies/wrong-string/printed"} {
		for who, device := range map[string]string{"a family": s.Okafor.Device, "a stranger": ""} {
			if status, text, _ := s.Post(t, device, path, url.Values{"title": {"Mine"}, "name": {"Mine"}}); status != 403 {
				t.Errorf("%s posts to %s: %d %s", who, path, status, mainOf(text))
			}
		}
	}
	for path, field := range map[string]string{"/library/add": "scores", at + "/score": "scores", at + "/models": "file"} {
		if status, _ := s.upload(s.Okafor.Device, path, field, "own", file{"a.abc", ladder}); status != 403 {
			t.Errorf("a family sends files to %s: %d", path, status)
		}
	}
	if after, err := s.Desk.Work(t.Context(), s.Teacher, w.ID); err != nil || after != w || len(s.works()) != 1 {
		t.Errorf("something was changed: %v, %d works (%v)", after.Title, len(s.works()), err)
	}
}

package take_test

import (
	"bytes"
	"encoding/json"
	"io"
	"mime/multipart"
	"net/http"
	"net/textproto"
	"net/url"
	"strings"
	"testing"
	"time"

	"antiphon/internal/studio"
)

// form posts as a script of the page does, and returns the status and the sentence.
func (h *hall) form(path string, fields ...string) (int, string) {
	h.t.Helper()
	v := url.Values{}
	for i := 0; i+1 < len(fields); i += 2 {
		v.Set(fields[i], fields[i+1])
	}
	return h.script(path, "application/x-www-form-urlencoded", strings.NewReader(v.Encode()))
}

func (h *hall) script(path, kind string, body io.Reader) (int, string) {
	h.t.Helper()
	r, err := http.NewRequestWithContext(h.t.Context(), http.MethodPost, h.URL+path, body)
	if err != nil {
		h.t.Fatal(err)
	}
	r.Header.Set("Content-Type", kind)
	r.Header.Set("Accept", "application/json")
	r.Header.Set("Sec-Fetch-Site", "same-origin")
	a, err := h.Client(h.t, h.TeacherDevice).Do(r)
	if err != nil {
		h.t.Fatal(err)
	}
	defer a.Body.Close()
	b, err := io.ReadAll(a.Body)
	if err != nil {
		h.t.Fatal(err)
	}
	var said struct{ Say string }
	if err := json.Unmarshal(b, &said); err != nil {
		h.t.Fatalf("%s answers %s", path, b)
	}
	return a.StatusCode, said.Say
}

// TestTakePages keeps one studio with a heard take through all that the pages do.
func TestTakePages(t *testing.T) {
	h := open(t, "scale")
	last := len(h.score.Bars) - 1
	sound := h.played(3, learner(), [2]int{0, last})
	const hostile = `"><script>alert(1)</script><img src=x onerror=alert(1)>.wav`
	early := h.send(h.played(8, learner(), [2]int{0, last}), "audio/wav", studio.Announcement{Assignment: h.asked})
	h.hear()
	h.Wait(72 * time.Hour)
	id := h.send(sound, "audio/wav", studio.Announcement{Assignment: h.asked, FileName: hostile, Note: hostile})
	at := "/takes/" + string(id)
	sub := func(name string, do func(t *testing.T)) {
		t.Run(name, func(t *testing.T) {
			h.t = t
			do(t)
		})
		h.t = t
	}
	sub("before it was heard", func(t *testing.T) {
		if text := h.page(id, ""); !strings.Contains(text, "The take is being heard.") {
			t.Error("the page does not say that it is being heard")
		}
	})
	h.hear()
	h.model(h.played(9, sure(), [2]int{0, last}), "audio/wav")
	h.hear()

	sub("whose it is", func(t *testing.T) {
		for _, c := range []struct {
			who, device, path string
			status            int
		}{
			{"the teacher", h.TeacherDevice, at, 200},
			{"the child's own family", h.Okafor.Device, at, 403},
			{"another family", h.Lindqvist.Device, at + "/heard", 403},
			{"a stranger", "", at, 303},
			{"nobody's take", h.TeacherDevice, "/takes/00000000000000000000000000", 404},
			{"no id", h.TeacherDevice, "/takes/..%2f..%2fetc", 404},
		} {
			if status, text := h.Get(t, c.device, c.path); status != c.status || status != 200 && strings.Contains(text, "Worth a word") {
				t.Errorf("%s: %d, want %d", c.who, status, c.status)
			}
		}
		for _, path := range []string{"/remarks", "/corrections", "/work", "/again", "/answered", "/remarks/x/remove"} {
			if status, _, _ := h.Post(t, h.Okafor.Device, at+path, url.Values{"text": {"hello"}}); status != 403 {
				t.Errorf("a family may post to %s: %d", path, status)
			}
		}
	})
	sub("what others wrote is text", func(t *testing.T) {
		if status, say := h.form(at+"/remarks", "text", hostile, "at", "2.5", "bar", hostile[:20]); status != 200 {
			t.Fatal(status, say)
		}
		text := h.page(id, "")
		for _, bad := range []string{"<script>alert", "<img src=x"} {
			if strings.Contains(text, bad) {
				t.Errorf("the page holds %q", bad)
			}
		}
		if !strings.Contains(text, "&lt;script&gt;alert(1)") {
			t.Error("the remark is not there at all")
		}
	})
	sub("remarks", func(t *testing.T) {
		drawn := `{"w":640,"h":360,"shapes":[{"kind":"angle","p":[[0.1,0.2],[0.3,0.4],[0.5,0.2]]}],"evil":"<b>"}`
		if status, say := h.form(at+"/remarks", "text", "The wrist", "at", "3,5", "bar", "2", "remedy", "late-thumb", "frame", drawn); status != 200 {
			t.Fatal(status, say)
		}
		r := h.remark(id, "The wrist")
		if r.Anchor.AtS != 3.5 || r.Anchor.Bar != "2" || r.Remedy != "late-thumb" || !strings.Contains(string(r.Anchor.Frame), `"angle"`) || strings.Contains(string(r.Anchor.Frame), "evil") {
			t.Errorf("kept was %+v with %s", r, r.Anchor.Frame)
		}
		if status, say := h.form(at+"/remarks/"+string(r.ID), "text", "The wrist, softly"); status != 200 {
			t.Fatal(status, say)
		}
		h.remark(id, "The wrist, softly")
		if status, say := h.form(at + "/remarks/" + string(r.ID) + "/remove"); status != 200 {
			t.Fatal(status, say)
		}
		for _, c := range []struct{ name, value, say string }{
			{"text", "  ", "needs words"}, {"at", "soon", "in seconds"}, {"at", "-1", "in seconds"}, {"at", "NaN", "in seconds"},
			{"frame", "{", "Draw it again"}, {"frame", `{"w":1,"h":1,"shapes":[{"kind":"line","p":[[0,0],[9,9]]}]}`, "Draw it again"}, {"remedy", "../x", "no entry"},
			{"remedy", "nope", "no entry"},
		} {
			fields := map[string]string{"text": "Good.", "at": "1"}
			fields[c.name] = c.value
			if status, say := h.form(at+"/remarks", "text", fields["text"], "at", fields["at"], "frame", fields["frame"], "remedy", fields["remedy"]); status != 422 || !strings.Contains(say, c.say) {
				t.Errorf("%s %q: %d %s", c.name, c.value, status, say)
			}
		}
	})
	sub("a spoken remark", func(t *testing.T) {
		var b bytes.Buffer
		m := multipart.NewWriter(&b)
		if err := m.WriteField("at", "1.25"); err != nil {
			t.Fatal(err)
		}
		p, err := m.CreatePart(textproto.MIMEHeader{"Content-Disposition": {`form-data; name="aloud"; filename="../../x"`}, "Content-Type": {"audio/webm"}})
		if err == nil {
			_, err = p.Write(bytes.Repeat([]byte("sound"), 300_000))
		}
		if err != nil || m.Close() != nil {
			t.Fatal(err)
		}
		if status, say := h.script(at+"/remarks", m.FormDataContentType(), &b); status != 200 {
			t.Fatal(status, say)
		}
		r := h.remark(id, "")
		if r.Media == "" || r.Anchor.AtS != 1.25 {
			t.Errorf("kept was %+v", r)
		}
		if text := h.page(id, ""); !strings.Contains(text, "is safe and is being made ready") || strings.Contains(text, string(r.Media)) {
			t.Error("before it is clean the page does not say that it comes")
		}
		ear := studio.Viewer{Studio: h.Teacher.Studio, Role: studio.Ear}
		l, err := h.Desk.Unclean(t.Context(), ear)
		if err != nil || len(l) != 1 {
			t.Fatal(l, err)
		}
		clean, err := h.Desk.ReplaceSpoken(t.Context(), ear, l[0], "audio/webm", strings.NewReader("sound"))
		if err != nil {
			t.Fatal(err)
		}
		if text := h.page(id, ""); !strings.Contains(text, `src="/media/`+string(clean.ID)+`"`) || strings.Contains(text, "is being made ready") {
			t.Error("the page does not play it")
		}
	})
	sub("a remedy without a script", func(t *testing.T) {
		text := h.page(id, "?remedy=late-thumb&at=2.50&bar=2")
		if !strings.Contains(text, `name="remedy" value="late-thumb"`) || !strings.Contains(text, `name="at" value="2.50"`) {
			t.Error("the form is not filled in")
		}
		if text := h.page(id, "?remedy=%22%3E%3Cscript%3E"); strings.Contains(text, "<script>") || strings.Contains(text, `"><script`) {
			t.Error("the address came through")
		}
	})
	sub("the same point three lessons running", func(t *testing.T) {
		remedy, _, ok := strings.Cut(h.page(id, "")[strings.Index(h.page(id, ""), `data-takeover="`)+len(`data-takeover="`):], `"`)
		if !ok {
			t.Fatal("no remedy is offered")
		}
		const warned = "lessons running"
		for i, date := range []string{"2026-11-07", "2026-11-14", "2026-11-21"} {
			if strings.Contains(h.page(id, ""), warned) {
				t.Errorf("warned after %d lessons", i)
			}
			if status, say := h.form("/takes/"+string(early)+"/remarks", "text", "Again", "at", "1", "remedy", remedy); status != 200 {
				t.Fatal(status, say)
			}
			h.Wait(time.Hour)
			h.lesson(date, studio.Assignment{Work: h.work.ID, Do: "Play it."})
			h.Wait(24 * time.Hour)
		}
		if !strings.Contains(h.page(id, ""), "3 "+warned) {
			t.Error("the third lesson running is not told")
		}
	})
	sub("corrections", func(t *testing.T) {
		var heard struct {
			Hearing string
			Passes  []struct {
				N    int
				Bars []struct {
					Notes []struct {
						ID, V string
						S     float64
					}
				}
			}
		}
		read := func() (faults int, id, v string, s float64) {
			if err := json.Unmarshal([]byte(h.page(studio.TakeID(strings.TrimPrefix(at, "/takes/")), "/heard")), &heard); err != nil {
				t.Fatal(err)
			}
			for _, p := range heard.Passes {
				for _, b := range p.Bars {
					for _, n := range b.Notes {
						if n.V != "right" {
							faults, id, v, s = faults+1, n.ID, n.V, n.S
						}
					}
				}
			}
			return
		}
		before, note, v, s := read()
		if before == 0 {
			t.Fatal("a take with faults has none")
		}
		kind := map[string]string{"wrong": "note-right", "missed": "missed-was-played"}[v]
		if status, say := h.form(at+"/corrections", "hearing", heard.Hearing, "kind", kind, "note", note, "pass", "1", "at", json.Number(formatS(s)).String()); status != 200 {
			t.Fatal(status, say)
		}
		if after, _, _, _ := read(); after != before-1 {
			t.Errorf("%d faults before, %d after", before, after)
		}
		rv, err := h.Desk.ReviewTake(t.Context(), h.Teacher, id)
		if err != nil || len(rv.Corrections) != 1 {
			t.Fatal(rv.Corrections, err)
		}
		if status, say := h.form(at + "/corrections/" + string(rv.Corrections[0].ID) + "/undo"); status != 200 {
			t.Fatal(status, say)
		}
		if after, _, _, _ := read(); after != before {
			t.Errorf("taken back: %d faults, want %d", after, before)
		}
		for _, bad := range [][]string{{"kind", "magic"}, {"kind", "ignore-from-to", "from", "5", "to", "2"}, {"kind", "this-is-bar", "at", "2"}, {"kind", "note-right", "note", "", "at", "1"}} {
			if status, say := h.form(at+"/corrections", append(bad, "hearing", heard.Hearing)...); status != 422 || say == "" {
				t.Errorf("%q: %d %s", bad, status, say)
			}
		}
		if status, say := h.form(at+"/corrections", "hearing", heard.Hearing, "kind", "this-is-bar", "bar", "2", "at", "9"); status != 200 || !strings.Contains(say, "once more") {
			t.Errorf("this is bar 2: %d %s", status, say)
		}
		h.hear()
	})
	sub("beside another", func(t *testing.T) {
		text := h.page(id, "?against="+string(early))
		if !strings.Contains(text, "The take of Wednesday") || !strings.Contains(text, "my own model take") || !strings.Contains(text, "data-both=") {
			t.Error("the earlier take, the model or a bar of both is missing")
		}
		if status, text := h.Get(t, h.TeacherDevice, at+"/against/"+string(early)); status != 200 || !strings.Contains(text, `"antiphon.comparison/1"`) {
			t.Errorf("%d %s", status, text)
		}
		other, err := h.Desk.Announce(t.Context(), h.Lindqvist.Coach, studio.Announcement{Student: h.Lindqvist.Students[0].ID, FileName: "x.wav"})
		if err != nil {
			t.Fatal(err)
		}
		if status, _ := h.Get(t, h.TeacherDevice, at+"/against/"+string(other.ID)); status != 404 {
			t.Errorf("a take of another child is compared: %d", status)
		}
	})
	sub("the model take itself", func(t *testing.T) {
		ms, err := h.Desk.ModelTakes(t.Context(), h.Teacher, h.work.ID)
		if err != nil || len(ms) != 1 {
			t.Fatal(ms, err)
		}
		if text := h.page(ms[0].ID, ""); !strings.Contains(text, "Model take") || strings.Contains(text, "Answered without a lesson") {
			t.Error("the model take is shown as a child's")
		}
	})
	sub("another work", func(t *testing.T) {
		w, err := h.Desk.AddWork(t.Context(), h.Teacher, studio.Work{Title: "Something else", Score: strings.Replace(h.work.Score, "<step>C", "<step>B", 1)})
		if err != nil {
			t.Fatal(err)
		}
		if status, say := h.form(at+"/work", "work", "nothing"); status != 422 {
			t.Errorf("%d %s", status, say)
		}
		if status, say := h.form(at+"/work", "work", string(w.ID)); status != 200 {
			t.Fatal(status, say)
		}
		if rv, err := h.Desk.ReviewTake(t.Context(), h.Teacher, id); err != nil || rv.Take.Work != w.ID || rv.Take.State != studio.Waiting {
			t.Errorf("%+v %v", rv.Take, err)
		}
		if text := h.page(id, ""); !strings.Contains(text, "Something else") {
			t.Error("the page shows the old work")
		}
	})
	sub("answered", func(t *testing.T) {
		status, _, to := h.Post(t, h.TeacherDevice, at+"/answered", nil)
		rv, err := h.Desk.ReviewTake(t.Context(), h.Teacher, id)
		if status != 303 || to != "/desk" || err != nil || rv.Take.Answered.IsZero() {
			t.Errorf("%d to %s, answered %v, %v", status, to, rv.Take.Answered, err)
		}
	})
}

func formatS(s float64) string {
	b, _ := json.Marshal(s) // a finite number
	return string(b)
}

// remark finds one by its words.
func (h *hall) remark(id studio.TakeID, text string) studio.Remark {
	h.t.Helper()
	rv, err := h.Desk.ReviewTake(h.t.Context(), h.Teacher, id)
	if err != nil {
		h.t.Fatal(err)
	}
	for _, r := range rv.Remarks {
		if r.Text == text {
			return r
		}
	}
	h.t.Fatalf("no remark %q among %d", text, len(rv.Remarks))
	return studio.Remark{}
}

// TestStates: a take that the ear can do nothing with says why and what to do.
func TestStates(t *testing.T) {
	h := open(t, "scale")
	last := len(h.score.Bars) - 1
	other, err := h.Desk.AddWork(t.Context(), h.Teacher, studio.Work{Title: "Without a score"})
	if err != nil {
		t.Fatal(err)
	}
	sound := h.played(3, sure(), [2]int{0, last})
	unknown := h.send(sound, "audio/wav", studio.Announcement{})
	scoreless := h.send(h.played(4, sure(), [2]int{0, last}), "audio/wav", studio.Announcement{Work: other.ID, Hurt: true})
	h.hear()
	for _, c := range []struct {
		name string
		id   studio.TakeID
		want []string
	}{
		{"nobody said what it is", unknown, []string{"Which work is it?", "Hear it against this work", h.work.Title, "Is it this?", "data-media"}},
		{"no score", scoreless, []string{"has no score in the library", "something hurt", "data-media"}},
	} {
		text := h.page(c.id, "")
		for _, want := range c.want {
			if !strings.Contains(text, want) {
				t.Errorf("%s: the page lacks %q", c.name, want)
			}
		}
	}
	// The score changes after the take was heard.
	heard := h.send(h.played(5, sure(), [2]int{0, last}), "audio/wav", studio.Announcement{Assignment: h.asked})
	h.hear()
	w := h.work
	w.Score = strings.Replace(w.Score, "<octave>4</octave>", "<octave>5</octave>", 1)
	if err := h.Desk.ReviseWork(t.Context(), h.Teacher, w); err != nil {
		t.Fatal(err)
	}
	if text := h.page(heard, ""); !strings.Contains(text, "The score was changed") || !strings.Contains(text, "Hear it again") {
		t.Error("a changed score is not told")
	}
}

// TestANoteThatItHurt: a family wrote that something hurt and sent no recording. Nothing on the page asks what was
// played or offers to hear it.
func TestANoteThatItHurt(t *testing.T) {
	h := open(t, "scale")
	for of, title := range map[studio.AssignmentID]string{"": "Something hurt", h.asked: "Something hurt: " + h.work.Title} {
		x, err := h.Desk.Hurts(t.Context(), h.Okafor.Coach, h.Okafor.Students[0].ID, of, "Her left wrist, after five minutes.")
		if err != nil {
			t.Fatal(err)
		}
		text := h.page(x.ID, "")
		for _, want := range []string{"<h1>" + title + "</h1>", "There is nothing to hear", "Her left wrist, after five minutes.", "no medical advice", "Keep the remark", "Answered without a lesson", "/lesson"} {
			if !strings.Contains(text, want) {
				t.Errorf("%s: the page does not say %q", title, want)
			}
		}
		for _, never := range []string{"Which work is it", "Or choose another", "Hear it again", "What was heard appears", "Press a note", "stop at a place", "earlier take", "Nobody said yet", "Where the ear was wrong", "data-player"} {
			if strings.Contains(text, never) {
				t.Errorf("%s: the page says %q", title, never)
			}
		}
		if status, say := h.form("/takes/"+string(x.ID)+"/remarks", "text", "Let it rest until it is gone."); status != http.StatusOK {
			t.Fatal(status, say)
		}
		if text := h.page(x.ID, ""); !strings.Contains(text, "Let it rest until it is gone.") || strings.Contains(text, "at 0:00") {
			t.Error("the remark is not there, or is said to be at a place")
		}
	}
}

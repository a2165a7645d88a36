package week

import (
	"crypto/rand"
	"encoding/json"
	"net/http"
	"net/url"
	"slices"
	"strconv"
	"strings"
	"time"

	"antiphon/internal/studio"
	"antiphon/internal/web/page"
	"antiphon/internal/web/tongue"
)

// tapped is one tap as a phone sends it.
type tapped struct {
	ID, Student, Assignment, Kind, Text string
	At                                  time.Time
	Clean                               bool
	Bpm, Seconds                        float64
}

func (t tapped) tap() studio.Tap {
	return studio.Tap{ID: t.ID, Student: studio.StudentID(t.Student), Assignment: studio.AssignmentID(t.Assignment), Kind: studio.TapKind(t.Kind),
		Text: t.Text, At: t.At, Clean: t.Clean, Bpm: t.Bpm, Seconds: t.Seconds}
}

// reply is what a phone shows to an answer.
type reply struct {
	Right bool   `json:"right"`
	Say   string `json:"say"`
}

// log is POST /week/log: taps, as a JSON list. What is said to answers comes back, by the id of the tap.
func (w *week) log(rw http.ResponseWriter, r *http.Request) error {
	c, err := w.common(r, "/week")
	if err != nil {
		return err
	}
	var sent []tapped
	if err := page.ReadJSON(rw, r, &sent); err != nil {
		return err
	}
	taps, slow := make([]studio.Tap, len(sent)), w.slow(r)
	for i, t := range sent {
		taps[i] = t.tap()
		taps[i].At = taps[i].At.Add(slow)
	}
	if err := w.f.Desk().Tap(r.Context(), page.Viewer(r), taps); err != nil {
		return err
	}
	read, err := w.read(r, c)
	if err != nil {
		return err
	}
	said := map[string]reply{}
	for _, t := range taps {
		if t.Kind != studio.TapAnswer {
			continue
		}
		if said[t.ID], err = read.reply(t); err != nil {
			return err
		}
	}
	return page.JSON(rw, map[string]any{"said": said})
}

// reply says kindly how an answer stands; the studio has compared it.
func (r *reader) reply(t studio.Tap) (reply, error) {
	kept, err := r.w.f.Desk().OneTap(r.ctx, r.viewer, t.Student, t.ID)
	if err != nil {
		return reply{}, err
	}
	if !kept.Right {
		say, err := r.Say("question.again")
		return reply{Say: say}, err
	}
	say, err := r.Say("question.right")
	if err != nil {
		return reply{}, err
	}
	l, err := r.newest(t.Student)
	if err != nil || l == nil {
		return reply{true, say}, err
	}
	for _, a := range l.Assignments {
		if a.ID == t.Assignment && a.Question != nil {
			say = strings.TrimSpace(say + " " + a.Question.Explain)
		}
	}
	return reply{true, say}, nil
}

// answer is POST /week/answer: the answer to a question, from a browser without scripts.
func (w *week) answer(rw http.ResponseWriter, r *http.Request) error {
	t := studio.Tap{ID: rand.Text(), Student: studio.StudentID(r.PostFormValue("child")), Assignment: studio.AssignmentID(r.PostFormValue("of")),
		Kind: studio.TapAnswer, Text: r.PostFormValue("answer"), At: w.f.Now()}
	if err := w.f.Desk().Tap(r.Context(), page.Viewer(r), []studio.Tap{t}); err != nil {
		return err
	}
	http.Redirect(rw, r, "/week?child="+url.QueryEscape(string(t.Student))+"#a-"+url.PathEscape(string(t.Assignment)), http.StatusSeeOther)
	return nil
}

const (
	// phoneNow is the header in which a phone says what time its clock shows.
	phoneNow = "Antiphon-Now"
	// usualWay is what a clock may differ and a request may take without being corrected.
	usualWay = time.Minute
)

// slow is how much later it is than a phone's clock says: one that is a day or a year wrong tells the right day
// of practice all the same.
func (w *week) slow(r *http.Request) time.Duration {
	shown, err := time.Parse(time.RFC3339, r.Header.Get(phoneNow))
	if err != nil {
		return 0
	}
	if d := w.f.Now().Sub(shown); d.Abs() > usualWay {
		return d
	}
	return 0
}

// voice is POST /week/voice?id=&student=&assignment=&at=&seconds=: a spoken note, whose sound is the body.
func (w *week) voice(rw http.ResponseWriter, r *http.Request) error {
	page.Takes(rw, r, 0) // the studio counts
	q := r.URL.Query()
	at, err := time.Parse(time.RFC3339, q.Get("at"))
	if err != nil {
		at = w.f.Now()
	}
	seconds, err := strconv.ParseFloat(q.Get("seconds"), 64)
	if err != nil {
		seconds = 0
	}
	t := tapped{ID: q.Get("id"), Student: q.Get("student"), Assignment: q.Get("assignment"), At: at.Add(w.slow(r)), Seconds: seconds}.tap()
	if err := w.f.Desk().SayVoice(r.Context(), page.Viewer(r), t, typeOf("", r.Header.Get("Content-Type")), r.Body); err != nil {
		return err
	}
	return page.JSON(rw, struct{}{})
}

// state is what was tapped of one assignment.
type state struct {
	Done    bool // today, or once where it is something to hear
	Stopped bool // today: it hurt
	Hurt    bool // earlier, and the teacher has not answered
	Right   bool // its question is answered
	Chose   int  // which of two ways; 0 none
	Asked   []told
}

// told is what was written to the teacher.
type told struct {
	Text     string
	Answered bool
}

// states reads what was tapped since a lesson was sent.
func (r *reader) states(l studio.Lesson) (map[studio.AssignmentID]state, error) {
	taps, err := r.w.f.Desk().Taps(r.ctx, r.viewer, studio.TapQuery{Student: l.Student, Since: l.Sent, Told: true, Limit: mostTaps})
	if err != nil {
		return nil, err
	}
	slices.SortStableFunc(taps, func(a, b studio.Tap) int { return a.At.Compare(b.At) })
	now := r.w.f.Now()
	today := func(t time.Time) bool { return t.In(now.Location()).Format(time.DateOnly) == now.Format(time.DateOnly) }
	all := map[studio.AssignmentID]state{}
	for _, t := range taps {
		s := all[t.Assignment]
		switch t.Kind {
		case studio.TapDone:
			s.Done = s.Done || today(t.At)
		case studio.TapHeard:
			s.Done = true
		case studio.TapUndone:
			s.Done = false
		case studio.TapHurt:
			s.Stopped = s.Stopped || today(t.At)
			s.Hurt = s.Hurt || t.Answered.IsZero() && !today(t.At)
		case studio.TapAnswer:
			s.Right = s.Right || t.Right
		case studio.TapChose:
			if n, err := strconv.Atoi(t.Text); err == nil {
				s.Chose = n
			}
		case studio.TapQuestion:
			s.Asked = append(s.Asked, told{t.Text, !t.Answered.IsZero()})
		}
		all[t.Assignment] = s
	}
	return all, nil
}

// mostTaps are read of a week; a child that is practised with has some ten a day beside its tries.
const mostTaps = 500

// logWords are what the script of the taps says, as JSON.
func logWords(t *tongue.Tongue) (string, error) {
	words := map[string]string{}
	for _, key := range []string{"kept", "waits", "refused", "close", "hurt"} {
		var err error
		if words[key], err = t.Say("log." + key); err != nil {
			return "", err
		}
	}
	b, err := json.Marshal(words)
	return string(b), err
}

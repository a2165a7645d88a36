package lesson

import (
	"fmt"
	"math"
	"net/http"
	"slices"
	"strconv"
	"strings"
	"time"
	"unicode"

	"antiphon/internal/studio"
)

// written reads the form into a lesson. Of the stored lesson come the ids that may be used; everything else
// is what stands in the form, at the version that the form was made from.
func (p *pages) written(r *http.Request, stored studio.Lesson) (studio.Lesson, error) {
	l := stored
	version, err := strconv.Atoi(r.PostForm.Get("version"))
	if err != nil || version < 0 {
		return l, &studio.Problem{Kind: studio.Invalid, Say: "The page sent something that makes no sense. Load it again."}
	}
	works, err := p.works(r)
	if err != nil {
		return l, err
	}
	l.Version, l.Date, l.Words = version, r.PostForm.Get("date"), lines(r.PostForm.Get("words"))
	var wrong error
	ids := r.PostForm["id"]
	column := func(name string) ([]string, error) {
		c := r.PostForm[name]
		if len(c) != len(ids) {
			return nil, &studio.Problem{Kind: studio.Invalid, Say: "A part of the lesson did not arrive. Send it again."}
		}
		return c, nil
	}
	if len(ids) > assignmentsMost {
		return l, &studio.Problem{Kind: studio.Invalid, Say: fmt.Sprintf("A lesson holds at most %d assignments.", assignmentsMost)}
	}
	cols := map[string][]string{}
	for _, name := range []string{"work", "from", "to", "tempo", "do", "done", "tone", "dynamics", "stroke", "fingering"} {
		if cols[name], err = column(name); err != nil {
			return l, err
		}
	}
	l.Assignments = nil
	for i, id := range ids {
		a := studio.Assignment{ID: studio.AssignmentID(id), Work: studio.WorkID(cols["work"][i]), FromBar: word(cols["from"][i]), ToBar: word(cols["to"][i]), Do: lines(cols["do"][i])}
		if !slices.ContainsFunc(stored.Assignments, func(s studio.Assignment) bool { return s.ID == a.ID }) ||
			slices.ContainsFunc(l.Assignments, func(s studio.Assignment) bool { return s.ID == a.ID }) {
			a.ID = "" // no id of this lesson, or twice the same: it gets its own
		}
		if _, known := works[a.Work]; !known {
			return l, &studio.Problem{Kind: studio.Invalid, Say: fmt.Sprintf("Assignment %d names a work that is not in the library.", i+1)}
		}
		a.Goals = studio.Goals{Tone: word(cols["tone"][i]), Dynamics: word(cols["dynamics"][i]), Stroke: word(cols["stroke"][i]),
			Fingering: word(cols["fingering"][i]), DoneWhen: word(cols["done"][i])}
		if a.Goals.TempoBpm, err = bpm(cols["tempo"][i]); err != nil && wrong == nil {
			wrong = &studio.Problem{Kind: studio.Invalid, Say: fmt.Sprintf("The tempo of assignment %d is a number of quarter notes a minute, such as 66; “%s” is not. Everything else you wrote stands here still.", i+1, short(cols["tempo"][i])), Err: err}
		}
		l.Assignments = append(l.Assignments, a)
	}
	if wrong == nil {
		wrong = fits(l)
	}
	return l, wrong
}

// fits refuses what no lesson holds.
func fits(l studio.Lesson) error {
	if _, err := time.Parse(time.DateOnly, l.Date); err != nil {
		return &studio.Problem{Kind: studio.Invalid, Say: "The lesson needs its day.", Err: err}
	}
	long := len(l.Words)
	for _, a := range l.Assignments {
		g := a.Goals
		long = max(long, len(a.Do), len(a.FromBar), len(a.ToBar), len(g.Tone), len(g.Dynamics), len(g.Stroke), len(g.Fingering), len(g.DoneWhen))
	}
	if long > lessonBytes {
		return &studio.Problem{Kind: studio.Invalid, Say: "One of the texts is longer than a lesson holds. Make two of it."}
	}
	return nil
}

// lines keeps the line ends that a person typed, in one way of writing them, and no other control signs.
func lines(s string) string {
	s = strings.ReplaceAll(strings.ToValidUTF8(s, ""), "\r\n", "\n")
	s = strings.Map(func(r rune) rune {
		if unicode.IsControl(r) && r != '\n' {
			return ' '
		}
		return r
	}, s)
	return strings.TrimRight(s, " \n")
}

// word is what fits into one line.
func word(s string) string { return strings.Join(strings.Fields(lines(s)), " ") }

func short(s string) string {
	if r := []rune(s); len(r) > 20 {
		return string(r[:20]) + "…"
	}
	return s
}

// Slower than 20 or faster than 400 quarter notes a minute is no tempo that is practised (common practice,
// no source).
const (
	slowestBpm = 20
	fastestBpm = 400
)

func bpm(s string) (float64, error) {
	if s = strings.Replace(strings.TrimSpace(s), ",", ".", 1); s == "" {
		return 0, nil
	}
	f, err := strconv.ParseFloat(s, 64)
	if err != nil {
		return 0, err
	}
	if !(f >= slowestBpm && f <= fastestBpm) {
		return 0, fmt.Errorf("%v is outside %d to %d", f, slowestBpm, fastestBpm)
	}
	return math.Round(f*100) / 100, nil
}

func tempo(bpm float64) string {
	if bpm == 0 {
		return ""
	}
	return strconv.FormatFloat(bpm, 'f', -1, 64)
}

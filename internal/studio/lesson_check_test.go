package studio

import (
	"math"
	"slices"
	"strings"
	"testing"

	"antiphon/internal/media"
)

func TestLessonsThatMayBeKept(t *testing.T) {
	good := Lesson{Date: "2026-11-25", Words: "Well\x00 done.\u202e", Assignments: []Assignment{{Do: "Slowly.", Goals: Goals{TempoBpm: 60, DoneWhen: "three\ntimes"}}}}
	got, err := good.checked()
	if err != nil {
		t.Fatal(err)
	}
	if got.Words != "Well done." || got.Assignments[0].Goals.DoneWhen != "three times" || good.Assignments[0].Goals.DoneWhen != "three\ntimes" {
		t.Errorf("%+v", got)
	}
	for name, change := range map[string]func(l *Lesson){
		"no day":         func(l *Lesson) { l.Date = "tomorrow" },
		"a day long ago": func(l *Lesson) { l.Date = "0001-01-01" },
		"the last day":   func(l *Lesson) { l.Date = "9999-12-31" },
		"a book":         func(l *Lesson) { l.Words = strings.Repeat("word ", 10_000) },
		"no number":      func(l *Lesson) { l.Assignments[0].Goals.TempoBpm = math.NaN() },
		"a long goal":    func(l *Lesson) { l.Assignments[0].Goals.DoneWhen = strings.Repeat("x", 3000) },
		"too many":       func(l *Lesson) { l.Assignments = make([]Assignment, 41) },
	} {
		l := good
		l.Assignments = []Assignment{good.Assignments[0]}
		change(&l)
		if _, err := l.checked(); err == nil {
			t.Errorf("%s is kept", name)
		}
	}
}

func TestNamesAreReadAsTheyAre(t *testing.T) {
	for in, want := range map[string]string{
		"\u202egpj.exe": "gpj.exe", "A\u200bda": "Ada", " Ada \n Okafor ": "Ada Okafor", "می\u200cخواهم": "می\u200cخواهم", "\ufeffAda": "Ada",
	} {
		if got := tidy(in); got != want {
			t.Errorf("%q: %q, want %q", in, got, want)
		}
	}
}

func TestNamesFitOnAPage(t *testing.T) {
	if got := named(" Ada "+strings.Repeat("é", 5000), longestName); len([]rune(got)) != longestName || !strings.HasPrefix(got, "Ada é") {
		t.Errorf("%d letters: %.20q", len([]rune(got)), got)
	}
}

func TestTasksThatMayBeKept(t *testing.T) {
	good := Assignment{Ask: AskListen, Minutes: 10, Watch: " The thumb. ", Coach: []string{"", " stroke\nfrom the knuckle "},
		Like: Clip{Take: "t", FromS: 1, ToS: 4, Media: "from elsewhere"}, Unlike: Clip{FromS: -3},
		Ladder:   Ladder{FromBpm: 60, ToBpm: 80, StepBpm: 6, Clean: 3},
		Question: &Question{Say: "How many  drums?", Choices: []string{"one", " two "}, Right: []string{"Two", ""}},
		Second:   Second{Kind: Round, AfterBars: 2},
		Goals:    Goals{FromBpm: 60, TempoBpm: 80, CleanRun: 3, ContrastDb: 6}}
	got, err := good.checked()
	if err != nil {
		t.Fatal(err)
	}
	if got.Watch != "The thumb." || len(got.Coach) != 1 || got.Coach[0] != "stroke from the knuckle" || got.Like.Media != "" || got.Unlike != (Clip{}) ||
		got.Second.Who != ByTool || len(got.Question.Right) != 1 || !got.Question.Answered("  TWO!") || got.Question.Answered("twothree") || got.Question.Answered("") {
		t.Errorf("%+v %+v", got, got.Question)
	}
	try := func(change func(a *Assignment)) (error, error) {
		a := good
		q := *good.Question
		a.Question = &q
		change(&a)
		a, err := a.checked()
		return err, a.ready()
	}
	if _, err := try(func(a *Assignment) {}); err != nil {
		t.Errorf("the good one may not go out: %v", err)
	}
	if _, err := try(func(a *Assignment) { a.Like.ToS = a.Like.FromS + media.LongestClipS }); err != nil {
		t.Errorf("a clip that can be cut may not go out: %v", err)
	}
	for name, change := range map[string]func(a *Assignment){
		"no kind":               func(a *Assignment) { a.Ask = "dance" },
		"a clip without an end": func(a *Assignment) { a.Like.ToS = math.Inf(1) },
		"a ladder of NaN":       func(a *Assignment) { a.Ladder.FromBpm = math.NaN() },
		"a loud goal":           func(a *Assignment) { a.Goals.ContrastDb = math.NaN() },
		"by the cat":            func(a *Assignment) { a.Second.Who = "cat" },
		"two long texts":        func(a *Assignment) { a.Opens = strings.Repeat("x", 3000) },
		"a long number":         func(a *Assignment) { a.Half = map[string]string{"tempo": strings.Repeat("1", 500)} },
	} {
		if err, _ := try(change); err == nil {
			t.Errorf("%s is kept", name)
		}
	}
	// What may stand in a draft, since it is typed letter by letter, and does not go out.
	for name, change := range map[string]func(a *Assignment){
		"a day of 25 hours":     func(a *Assignment) { a.Minutes = 1500 },
		"below no time":         func(a *Assignment) { a.Minutes = -1 },
		"a clip of no length":   func(a *Assignment) { a.Like.ToS = 1 },
		"a long clip":           func(a *Assignment) { a.Like.ToS = a.Like.FromS + media.LongestClipS + 1 },
		"a blink":               func(a *Assignment) { a.Like.ToS = a.Like.FromS + media.ShortestClipS/2 },
		"a ladder down":         func(a *Assignment) { a.Ladder.ToBpm = 50 },
		"a ladder of no steps":  func(a *Assignment) { a.Ladder.StepBpm = 0 },
		"a thousand rungs":      func(a *Assignment) { a.Ladder.StepBpm = .01 },
		"none is right":         func(a *Assignment) { a.Question = &Question{Say: "Who?"} },
		"right is elsewhere":    func(a *Assignment) { a.Question.Right = []string{"three"} },
		"a question of silence": func(a *Assignment) { a.Question.Say = " " },
		"a round at once":       func(a *Assignment) { a.Second.AfterBars = 0 },
		"a goal from nowhere":   func(a *Assignment) { a.Goals.FromBpm = 3 },
		"a goal below nothing":  func(a *Assignment) { a.Goals.TempoBpm = -60 },
		"a goal too fast":       func(a *Assignment) { a.Goals.TempoBpm = 1e9 },
		"a thousand times":      func(a *Assignment) { a.Goals.CleanRun = 1000 },
		"nothing to play":       func(a *Assignment) { a.Ask = AskPlay },
		"half a number":         func(a *Assignment) { a.Half = map[string]string{"tempo": "6o"} },
		"half a ladder":         func(a *Assignment) { a.Ladder = Ladder{ToBpm: 1} },
	} {
		if err, ready := try(change); err != nil || ready == nil {
			t.Errorf("%s: kept %v, goes out %v", name, err, ready == nil)
		}
	}
}

// TestAPartnerDoesNotCostATake: what a page says wrongly of who sounded beside the child is left out, and no more.
func TestAPartnerDoesNotCostATake(t *testing.T) {
	good := Partner{Second: Second{Kind: Round, AfterBars: 2}, Bpm: 72, StartS: 1.5, Speaker: true, HandsOnly: true}
	want := good
	want.Who = ByTool
	if got := good.checked(); got != want {
		t.Errorf("%+v, want %+v", got, want)
	}
	for what, change := range map[string]func(p *Partner){
		"an orchestra":    func(p *Partner) { p.Kind = "orchestra" },
		"by the cat":      func(p *Partner) { p.Who = "cat" },
		"a round at once": func(p *Partner) { p.AfterBars = 0 },
	} {
		p := good
		change(&p)
		if got := p.checked(); got != (Partner{HandsOnly: true}) {
			t.Errorf("%s: %+v", what, got)
		}
	}
	good.Bpm, good.StartS = math.NaN(), math.Inf(1)
	want.Bpm, want.StartS = 0, 0
	if got := good.checked(); got != want {
		t.Errorf("without numbers: %+v, want %+v", got, want)
	}
}

func TestRungs(t *testing.T) {
	for _, c := range []struct {
		l    Ladder
		want []float64
	}{
		{Ladder{60, 80, 6, 3}, []float64{60, 66, 72, 78, 80}},
		{Ladder{60, 72, 6, 3}, []float64{60, 66, 72}},
		{Ladder{60, 60, 6, 3}, []float64{60}},
		{Ladder{60, 80, 6, 0}, nil},
		{Ladder{}, nil},
		{Ladder{80, 60, 6, 3}, nil},
	} {
		if got := c.l.Rungs(); !slices.Equal(got, c.want) {
			t.Errorf("%+v: %v, want %v", c.l, got, c.want)
		}
	}
}

func TestAnswersAreComparedFolded(t *testing.T) {
	q := &Question{Right: []string{"Fa sostenido", "F#", "3"}}
	for answer, want := range map[string]bool{"fa  SOSTENIDO.": true, "f#": true, "f": false, " 3 ": true, "33": false, "Fá sostenido": true, "...": false} {
		if q.Answered(answer) != want {
			t.Errorf("%q: %v", answer, !want)
		}
	}
}

package lesson

import (
	"fmt"
	"net/url"
	"strconv"
	"strings"

	"antiphon/internal/studio"
	"antiphon/internal/web/prose"
)

// card is one assignment in the form; N counts from 1.
type card struct {
	N            int
	ID           studio.AssignmentID
	Open         bool // not folded
	First, Final bool
	Title        string   // of the folded card
	Sum          string   // what it asks, in a few words
	Reasons      []string // why it was proposed

	Kinds     []option
	Work      studio.WorkID
	WorkTitle string
	From, To  string
	Passages  string
	Music     string         // address of the engraved passage; "" without a score
	Hear      studio.MediaID // what is to be listened to; "" none
	Do        string
	DoHint    string
	Minutes   string
	Watch     string
	Coach     string // one goal a line

	TempoFrom, Tempo, CleanRun, Contrast      string
	Tone, Dynamics, Stroke, Fingering, Done   string
	LadderFrom, LadderTo, LadderStep, LadderN string
	Rungs                                     string

	Clips  []clip
	Models []option

	Ask, Choices, Right, Explain string // the question
	Second, Who                  []option
	After, Part                  string
	Ways                         [2]wayCard
	Chosen                       *chosenWay // nil: nothing was, or it is the student's own by now
	Opens                        string
	For                          studio.WorkID
	ForTitle                     string

	GoalsSum, EyesSum, LadderSum, HearSum, QuestionSum string
	Answer                                             answer
}

// clip is a stretch of a take in the form.
type clip struct {
	Field  string // prefix of its fields
	Legend string
	Own    []option // the student's takes
	Mine   []option // the teacher's
	From   string
	To     string
	Say    string
	Listen string // address of the take; "" none
}

// stands says that the list holds what is chosen.
func stands(all []option) bool {
	for _, o := range all {
		if o.Chosen {
			return true
		}
	}
	return false
}

// cardOf puts an assignment into a card. It looks nothing up.
func cardOf(i int, a studio.Assignment, works prose.Titles) card {
	g := a.Goals
	c := card{N: i + 1, ID: a.ID, Kinds: kindsFor(a.Ask), Work: a.Work, From: a.FromBar, To: a.ToBar, Do: a.Do, Minutes: typed(a, "minutes", whole(a.Minutes)), Watch: a.Watch, Coach: strings.Join(a.Coach, "\n"),
		TempoFrom: typed(a, "tempofrom", tempo(g.FromBpm)), Tempo: typed(a, "tempo", tempo(g.TempoBpm)), CleanRun: typed(a, "clean", whole(g.CleanRun)), Contrast: typed(a, "contrast", tempo(g.ContrastDb)),
		Tone: said(tones(), g.Tone), Dynamics: g.Dynamics, Stroke: said(strokes(), g.Stroke), Fingering: g.Fingering, Done: g.DoneWhen,
		LadderFrom: typed(a, "ladderfrom", tempo(a.Ladder.FromBpm)), LadderTo: typed(a, "ladderto", tempo(a.Ladder.ToBpm)), LadderStep: typed(a, "ladderstep", tempo(a.Ladder.StepBpm)), LadderN: typed(a, "ladderclean", whole(a.Ladder.Clean)),
		Second: []option{{"", "Nothing beside", a.Second.Kind == ""}, {studio.Round, "A round: the same tune, later", a.Second.Kind == studio.Round}, {studio.SecondPart, "Another part", a.Second.Kind == studio.SecondPart}},
		Who:    []option{{studio.ByTool, "the tool", a.Second.Who != studio.ByParent}, {studio.ByParent, "the parent", a.Second.Who == studio.ByParent}},
		After:  typed(a, "after", whole(a.Second.AfterBars)), Part: a.Second.Part, Opens: a.Opens, For: a.For, Hear: a.Recording,
		Title: titleOf(a, works), Sum: sumOf(a), GoalsSum: goalsSum(g), EyesSum: eyesSum(a), LadderSum: ladderSum(a.Ladder), HearSum: hearSum(a), Rungs: rungsSay(a.Ladder)}
	if a.Work != "" {
		c.WorkTitle = works.Name(a.Work)
	}
	if a.For != "" {
		c.ForTitle = works.Name(a.For)
	}
	c.WorkTitle, c.ForTitle = typed(a, "title", c.WorkTitle), typed(a, "fortitle", c.ForTitle)
	if q := a.Question; q != nil {
		c.Ask, c.Choices, c.Right, c.Explain, c.QuestionSum = q.Say, strings.Join(q.Choices, "\n"), strings.Join(q.Right, "\n"), q.Explain, q.Say
	}
	return c
}

// titleOf names a card: its work with its bars, or what kind it is.
func titleOf(a studio.Assignment, works prose.Titles) string {
	if a.Work == "" {
		return kindName(a.Ask)
	}
	t := works.Name(a.Work)
	if b := prose.Bars(a.FromBar, a.ToBar); b != "" {
		t += ", " + b
	}
	return t
}

// sumOf is an assignment in one line.
func sumOf(a studio.Assignment) string {
	var parts []string
	if a.Work != "" {
		parts = append(parts, kindName(a.Ask))
	}
	if a.Minutes > 0 {
		parts = append(parts, fmt.Sprintf("%d min a day", a.Minutes))
	}
	for _, s := range []string{tempoSum(a.Goals), ladderSum(a.Ladder)} {
		if s != "" {
			parts = append(parts, s)
			break
		}
	}
	if a.Question != nil {
		parts = append(parts, "a question")
	}
	if a.Ask == studio.AskHeld && a.Opens != "" {
		parts = append(parts, "opens when: "+a.Opens)
	}
	return strings.Join(parts, " · ")
}

func tempoSum(g studio.Goals) string {
	switch {
	case g.FromBpm > 0 && g.TempoBpm > 0 && g.FromBpm != g.TempoBpm:
		return "from " + tempo(g.FromBpm) + " to " + tempo(g.TempoBpm)
	case g.TempoBpm > 0:
		return "at " + tempo(g.TempoBpm)
	case g.FromBpm > 0:
		return "from " + tempo(g.FromBpm)
	}
	return ""
}

func goalsSum(g studio.Goals) string {
	var parts []string
	if s := tempoSum(g); s != "" {
		parts = append(parts, s)
	}
	if g.CleanRun > 0 {
		parts = append(parts, prose.Times(g.CleanRun)+" clean in a row")
	}
	if g.ContrastDb > 0 {
		parts = append(parts, tempo(g.ContrastDb)+" dB between loud and soft")
	}
	for _, s := range []string{g.Dynamics, said(tones(), g.Tone), g.DoneWhen} {
		if s != "" {
			parts = append(parts, s)
		}
	}
	return strings.Join(parts, " · ")
}

func eyesSum(a studio.Assignment) string {
	var parts []string
	for _, s := range append([]string{said(strokes(), a.Goals.Stroke), a.Goals.Fingering}, a.Coach...) {
		if s != "" {
			parts = append(parts, s)
		}
	}
	return strings.Join(parts, " · ")
}

func ladderSum(l studio.Ladder) string {
	if len(l.Rungs()) == 0 {
		return ""
	}
	return fmt.Sprintf("%s up to %s, by %s", tempo(l.FromBpm), tempo(l.ToBpm), tempo(l.StepBpm))
}

// rungsShown of a ladder: the others lie between.
const rungsShown = 12

// rungsSay names the rungs of a ladder: "60, 64, 68 and 72".
func rungsSay(l studio.Ladder) string {
	all := l.Rungs()
	if len(all) == 0 {
		return ""
	}
	var names []string
	for i, r := range all {
		switch {
		case len(all) <= rungsShown || i < rungsShown-2 || i == len(all)-1:
			names = append(names, tempo(r))
		case i == rungsShown-2:
			names = append(names, "…")
		}
	}
	return "Rungs: " + prose.Among(names) + ", each after " + prose.Number(l.Clean, "clean pass", "clean passes in a row") + "."
}

func hearSum(a studio.Assignment) string {
	var parts []string
	for _, c := range []struct {
		there bool
		say   string
	}{{a.Like.Take != "", "like this"}, {a.Unlike.Take != "", "not like this"}, {a.Model != "", "your own take"}, {a.Best.Take != "", "best moment"}, {a.Last.Take != "", "last moment"}} {
		if c.there {
			parts = append(parts, c.say)
		}
	}
	return strings.Join(parts, " · ")
}

// musicAt is the address of an engraved passage of a draft.
func musicAt(l studio.LessonID, n int, a studio.Assignment) string {
	q := url.Values{"work": {string(a.Work)}, "card": {strconv.Itoa(n)}, "from": {a.FromBar}, "to": {a.ToBar}}
	return "/lessons/" + string(l) + "/music?" + q.Encode()
}

// minutesSay adds up what is asked of a day. family is what the family has, 0 where nobody said.
func minutesSay(as []studio.Assignment, family int) string {
	sum, open := 0, 0
	for _, a := range as {
		sum += a.Minutes
		if a.Minutes == 0 && a.Ask != studio.AskHeld && a.Ask != studio.AskRest {
			open++
		}
	}
	if sum == 0 {
		return ""
	}
	say := "Together " + prose.Length(float64(sum)) + " a day"
	switch {
	case family > 0 && sum > family:
		if open > 0 {
			say += ", beside " + prose.Number(open, "task without its minutes", "tasks without their minutes")
		}
		return say + fmt.Sprintf("; on its shortest day the family has %s. Not everything has to come every day, or something can go out.", prose.Length(float64(family)))
	case family > 0:
		say += fmt.Sprintf(" of the %s that the family has on its shortest day", prose.Length(float64(family)))
	}
	if open > 0 {
		say += ", beside " + prose.Number(open, "task without its minutes", "tasks without their minutes")
	}
	return say + "."
}

func whole(n int) string {
	if n == 0 {
		return ""
	}
	return strconv.Itoa(n)
}

package lesson

import (
	"html/template"
	"math"
	"strconv"
	"strings"

	"antiphon/internal/music"
	"antiphon/internal/studio"
	"antiphon/internal/web/prose"
	"antiphon/internal/web/tongue"
)

// task is one assignment as it is read.
type task struct {
	Title   string
	Kind    string // what is asked, where it is not simply to be played
	Minutes string // a day
	Place   string
	Do      []string
	Goals   []goal
	Coach   list // what the adult looks at
	Opens   string
	OpenSay string
	Ways    []tried
	Hear    []goal // what there is to hear, in words
	Ask     string // a question
	Choices []string
	Right   []string // its answers, for the teacher only
	Music   template.HTML
}

// list has a line above it.
type list struct {
	Say  string
	Rows []string
}

type goal struct{ Name, Say string }

// tried is one of two ways to try.
type tried struct {
	goal
	Music template.HTML
	own   studio.FingeringID
}

// taskForTeacher is a task in the teacher's own words.
func taskForTeacher(a studio.Assignment, works prose.Titles) task {
	t := task{Title: kindName(a.Ask), Place: prose.Capital(prose.Bars(a.FromBar, a.ToBar)), Do: paragraphs(a.Do), Goals: goalsOf(a), Opens: a.Opens, OpenSay: "What would open it:",
		Coach: list{"For the adult’s eyes:", a.Coach}}
	if a.Minutes > 0 {
		t.Minutes = prose.Length(float64(a.Minutes)) + " a day"
	}
	if a.Work != "" {
		t.Title = works.Name(a.Work)
		if a.Ask != studio.AskPlay {
			t.Kind = kindName(a.Ask)
		}
	}
	if a.For != "" {
		t.Kind += " for " + works.Name(a.For)
	}
	switch {
	case a.Second.Kind == studio.Round:
		t.Kind += ": a round, " + prose.Number(a.Second.AfterBars, "bar", "bars") + " later, by the " + a.Second.Who
	case a.Second.Kind != "":
		t.Kind += ": " + strings.TrimSpace("another part "+a.Second.Part) + ", by the " + a.Second.Who
	}
	t.Kind = prose.Capital(strings.TrimLeft(t.Kind, ": ")) // the title may have said already what kind it is
	for i, w := range a.Ways {
		if say := strings.TrimSpace(w.Say + " " + w.Fingering); say != "" || w.Own != "" {
			t.Ways = append(t.Ways, tried{goal: goal{[2]string{"One way", "The other way"}[i], say}, own: w.Own})
		}
	}
	for _, c := range []struct {
		name string
		is   studio.Clip
	}{{"Like this", a.Like}, {"Not like this", a.Unlike}, {"Best moment", a.Best}, {"Last time", a.Last}} {
		if c.is.Take != "" {
			t.Hear = append(t.Hear, goal{c.name, strings.TrimSpace(moment(c.is.FromS) + " to " + moment(c.is.ToS) + " " + c.is.Say)})
		}
	}
	if q := a.Question; q != nil {
		t.Ask, t.Choices, t.Right = q.Say, q.Choices, q.Right
	}
	return t
}

func goalsOf(a studio.Assignment) (all []goal) {
	g := a.Goals
	add := func(name, say string) {
		if say != "" {
			all = append(all, goal{name, say})
		}
	}
	switch {
	case g.FromBpm > 0 && g.TempoBpm > 0:
		add("Tempo", tempo(g.FromBpm)+" to "+tempo(g.TempoBpm)+" quarter notes a minute")
	case g.TempoBpm+g.FromBpm > 0:
		add("Tempo", tempo(g.TempoBpm+g.FromBpm)+" quarter notes a minute")
	}
	if g.CleanRun > 0 {
		add("Clean", prose.Times(g.CleanRun)+" in a row")
	}
	if g.ContrastDb > 0 {
		add("Contrast", tempo(g.ContrastDb)+" dB between loud and soft")
	}
	add("Loud and soft", g.Dynamics)
	add("Tone", said(tones(), g.Tone))
	add("Stroke", said(strokes(), g.Stroke))
	add("Fingering", g.Fingering)
	add("Watch for", a.Watch)
	add("Ladder", ladderSum(a.Ladder))
	add("Done when", g.DoneWhen)
	return all
}

// familyReader says tasks to somebody who reads no music, in the family's language.
type familyReader struct {
	*tongue.Tongue
	works  prose.Titles
	scores func(studio.Work) (*music.Score, error) // nil without a score that can be read
}

// task puts one into the family's words.
func (r familyReader) task(a studio.Assignment) (task, error) {
	t := task{Do: paragraphs(a.Do), Opens: a.Opens, Coach: list{"", a.Coach}}
	var err error
	say := func(into *string, key string, blanks ...any) {
		if err == nil {
			*into, err = r.Say(key, blanks...)
		}
	}
	untitled := "item.untitled"
	if a.Ask != studio.AskPlay {
		untitled += "." + string(a.Ask)
	}
	if w, ok := r.works[a.Work]; ok {
		t.Title = w.Title
	} else {
		say(&t.Title, untitled)
	}
	if a.Minutes > 0 && err == nil {
		t.Minutes, err = r.Count("item.minutes", a.Minutes)
	}
	if err == nil {
		t.Kind, err = r.kind(a)
	}
	switch {
	case a.Work == "" || a.FromBar == "" && a.ToBar == "":
	case a.FromBar == a.ToBar || a.ToBar == "":
		say(&t.Place, "item.bar", a.FromBar)
	case a.FromBar == "":
		say(&t.Place, "item.up-to", a.ToBar)
	default:
		say(&t.Place, "item.bars", a.FromBar, a.ToBar)
	}
	say(&t.OpenSay, "item.opens")
	say(&t.Coach.Say, "item.coach")
	for i, w := range a.Ways {
		if w.Say != "" || w.Fingering != "" || w.Own != "" {
			var name string
			say(&name, "ways.way", i+1)
			t.Ways = append(t.Ways, tried{goal: goal{name, strings.TrimSpace(w.Say + " " + w.Fingering)}, own: w.Own})
		}
	}
	for _, c := range []struct {
		key string
		is  studio.Clip
	}{{"clip.like", a.Like}, {"clip.unlike", a.Unlike}} {
		if c.is.Take != "" {
			var name string
			say(&name, c.key)
			t.Hear = append(t.Hear, goal{name, c.is.Say})
		}
	}
	if q := a.Question; q != nil {
		t.Ask, t.Choices = q.Say, q.Choices
	}
	if err == nil {
		t.Goals, err = r.goals(a)
	}
	return t, err
}

// kind says what is asked, where it is not simply to be played.
func (r familyReader) kind(a studio.Assignment) (string, error) {
	who := studio.ByTool
	if a.Second.Who == studio.ByParent {
		who = studio.ByParent
	}
	switch {
	case a.Ask == studio.AskPlay:
		return "", nil
	case a.Ask == studio.AskTogether && a.Second.Kind == studio.Round:
		return r.Count("kind.round."+who, max(a.Second.AfterBars, 1))
	case a.Ask == studio.AskTogether:
		return r.Say("kind.together." + who)
	case a.For != "" && r.Has("kind."+string(a.Ask)+".for"):
		if w, ok := r.works[a.For]; ok {
			return r.Say("kind."+string(a.Ask)+".for", w.Title)
		}
	}
	return r.Say("kind." + string(a.Ask))
}

// beatQ is what a metronome counts in a work, in quarter notes.
func (r familyReader) beatQ(id studio.WorkID) (float64, error) {
	w, ok := r.works[id]
	if !ok || r.scores == nil {
		return 1, nil
	}
	s, err := r.scores(w)
	if err != nil || s == nil {
		return 1, err
	}
	if q := s.BeatUnitAt(music.Quarters(0, 1)).Q(); q > 0 {
		return q, nil
	}
	return 1, nil
}

// goals are what to look out for, and when it is done. What the teacher wrote stays as it was written.
func (r familyReader) goals(a studio.Assignment) (all []goal, err error) {
	g := a.Goals
	told := map[string]string{"goal.dynamics": g.Dynamics, "goal.tone": g.Tone, "goal.stroke": g.Stroke, "goal.fingering": g.Fingering, "goal.watch": a.Watch, "goal.done": g.DoneWhen}
	if told["goal.tempo"], err = r.pace(a); err != nil {
		return nil, err
	}
	for key, say := range map[string]string{"goal.stroke": "stroke." + g.Stroke, "goal.tone": "tone." + g.Tone} {
		if r.Has(say) {
			if told[key], err = r.Say(say); err != nil {
				return nil, err
			}
		}
	}
	if g.Dynamics == "" && g.ContrastDb > 0 {
		if told["goal.dynamics"], err = r.Say("goal.contrast"); err != nil {
			return nil, err
		}
	}
	if g.CleanRun > 0 {
		key := "goal.run"
		if g.DoneWhen == "" {
			key = "goal.done"
		}
		if told[key], err = r.Count("goal.run", g.CleanRun); err != nil {
			return nil, err
		}
	}
	for _, key := range []string{"goal.tempo", "goal.dynamics", "goal.tone", "goal.stroke", "goal.fingering", "goal.watch", "goal.done", "goal.run"} {
		if told[key] == "" {
			continue
		}
		name, err := r.Say(key)
		if err != nil {
			return nil, err
		}
		all = append(all, goal{name, told[key]})
	}
	return all, nil
}

// pace is how fast it goes: in words, with the number that a metronome shows.
func (r familyReader) pace(a studio.Assignment) (string, error) {
	q, err := r.beatQ(a.Work)
	if err != nil {
		return "", err
	}
	pace, err := r.Pace(a.Goals.TempoBpm / q)
	if err != nil || pace == "" {
		return "", err
	}
	if a.Goals.FromBpm > 0 && a.Goals.FromBpm < a.Goals.TempoBpm {
		from, err := r.Pace(a.Goals.FromBpm / q)
		if err != nil {
			return "", err
		}
		if from != pace {
			if pace, err = r.Say("goal.from", from, pace); err != nil {
				return "", err
			}
		}
	}
	beats, err := r.Say("goal.bpm", strconv.FormatFloat(math.Round(a.Goals.TempoBpm/q), 'f', -1, 64))
	return pace + " " + beats, err
}

func paragraphs(s string) (all []string) {
	for line := range strings.SplitSeq(s, "\n") {
		if line = strings.TrimSpace(line); line != "" {
			all = append(all, line)
		}
	}
	return all
}

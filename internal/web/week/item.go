package week

import (
	"html/template"
	"math"
	"strconv"
	"strings"

	"antiphon/internal/music"
	"antiphon/internal/studio"
	"antiphon/internal/web/sheet"
	"antiphon/internal/web/tongue"
)

// item is one assignment as somebody carries it out who reads no music.
type item struct {
	*tongue.Tongue
	Student studio.StudentID
	ID      studio.AssignmentID
	N       int
	Title   string
	Minutes string // a day, in words; "" not said
	Kind    string // what kind of thing it is, in words; "" simply play it
	Sort    string // the same in two or three, where the title does not tell; "" it does
	Where   string // which part of it
	Do      string
	Pace    string // "about one beat a second"
	Bpm     string // the number beside it
	From    string // the pace to begin with, in words
	Lines   []line
	Coach   []string // what the adult looks at
	Opens   string   // what would open it, where it is held back

	Sheet  template.HTML
	Named  template.HTML // with the names of the notes; "" where nobody has to say them
	Folded bool          // the notes are not needed at first
	Sound  string        // address of how it goes; "" none

	Said     *spoken // the teacher says it; nil none
	Like     *clip
	Unlike   *clip
	Model    *clip // the teacher plays it
	Listen   *clip // what is to be listened to
	Question *question
	Ways     []way
	Shown    bool // the notes stand with the two ways

	Ask   studio.Ask
	plays bool

	Practice, Record template.HTML // the ways there; "" while there are none

	state
}

// Later tells whether it is not for today.
func (it item) Later() bool { return it.Ask == studio.AskHeld }

// Plays tells whether something is to be played.
func (it item) Plays() bool { return it.plays }

// line is one thing to look out for.
type line struct{ Label, Say string }

// clip is a short stretch to hear or see.
type clip struct {
	Media studio.MediaID
	Video bool
	Words string // what is heard in it
	Label string // for whom the player is read aloud
}

// question is asked about a recording.
type question struct {
	Say     string
	Choices []string
	Explain string // once it is answered right
}

func (r *reader) item(student studio.StudentID, a studio.Assignment) (item, error) {
	it := item{Tongue: r.Tongue, Student: student, ID: a.ID, Do: a.Do, Ask: a.Ask, Coach: a.Coach, Opens: a.Opens}
	it.plays = a.Ask != studio.AskListen && a.Ask != studio.AskHeld && a.Ask != studio.AskRest
	work, err := r.work(student, a.Work)
	if err != nil {
		return item{}, err
	}
	if it.Title = work.Title; it.Title == "" {
		if it.Title, err = r.Say(untitled(a.Ask)); err != nil {
			return item{}, err
		}
	}
	if a.Minutes > 0 {
		if it.Minutes, err = r.Count("item.minutes", a.Minutes); err != nil {
			return item{}, err
		}
	}
	if it.Kind, err = r.kind(a); err != nil {
		return item{}, err
	}
	if work.Title != "" && a.Ask != studio.AskPlay {
		if it.Sort, err = r.Say(untitled(a.Ask)); err != nil {
			return item{}, err
		}
	}
	whole := a.FromBar == "" && a.ToBar == ""
	if a.Work != "" && a.Ask != studio.AskRest && !(a.Ask == studio.AskHeld && whole) { // how much of what is not played does not matter
		if it.Where, err = where(r.Tongue, a); err != nil {
			return item{}, err
		}
	}
	if err := r.music(&it, work, a); err != nil {
		return item{}, err
	}
	if it.Lines, err = r.lines(a); err != nil {
		return item{}, err
	}
	if err := r.twoWays(&it, work, a); err != nil {
		return item{}, err
	}
	if err := r.clips(&it, a); err != nil {
		return item{}, err
	}
	if q := a.Question; q != nil {
		it.Question = &question{Say: q.Say, Choices: q.Choices}
	}
	return it, nil
}

// clips adds what is to be heard beside what is to be played, as far as it is ready.
func (r *reader) clips(it *item, a studio.Assignment) error {
	for _, x := range []struct {
		to    **clip
		key   string
		words string
		media studio.MediaID
		model studio.TakeID
	}{
		{&it.Like, "clip.like", a.Like.Say, a.Like.Media, ""},
		{&it.Unlike, "clip.unlike", a.Unlike.Say, a.Unlike.Media, ""},
		{&it.Listen, "item.listen", "", a.Recording, ""},
		{&it.Model, "item.model", "", "", a.Model},
	} {
		m, err := r.hearable(x.media)
		if x.model != "" {
			m, err = ready(r.w.f.Desk().HearableTake(r.ctx, r.viewer, x.model))
		}
		if err != nil {
			return err
		}
		if m.ID == "" {
			continue
		}
		label, err := r.Say(x.key)
		if err != nil {
			return err
		}
		*x.to = &clip{m.ID, strings.HasPrefix(m.Type, "video/"), x.words, label + " " + it.Title}
	}
	return nil
}

func untitled(a studio.Ask) string {
	if key := "item.untitled." + string(a); a != studio.AskPlay {
		return key
	}
	return "item.untitled"
}

// kind says what kind of thing is asked; "" where it is simply to be played.
func (r *reader) kind(a studio.Assignment) (string, error) {
	switch a.Ask {
	case studio.AskPlay:
		return "", nil
	case studio.AskTogether:
		key := "kind.together.tool"
		if a.Second.Who == studio.ByParent {
			key = "kind.together.parent"
		}
		if a.Second.Kind != studio.Round {
			return r.Say(key)
		}
		key = "kind.round.tool"
		if a.Second.Who == studio.ByParent {
			key = "kind.round.parent"
		}
		return r.Count(key, max(a.Second.AfterBars, 1))
	case studio.AskKeep, studio.AskRead:
		if a.For == "" {
			break
		}
		work, err := r.work("", a.For) // its title only
		if err != nil {
			return "", err
		}
		if work.Title != "" {
			return r.Say("kind."+string(a.Ask)+".for", work.Title)
		}
	}
	return r.Say("kind." + string(a.Ask))
}

// music adds the notes, and how fast they go.
func (r *reader) music(it *item, work studio.Work, a studio.Assignment) error {
	score, err := r.score(work)
	if err != nil {
		return err
	}
	bpm, from := a.Goals.TempoBpm, a.Goals.FromBpm
	it.Folded = !it.plays || a.Ask == studio.AskKeep
	if score != nil && a.Ask != studio.AskRest {
		placing := sheet.Placing{Work: work.ID, For: it.Student, Score: work.Score, Title: work.Title, From: a.FromBar, Until: a.ToBar, NoTitle: true, In: r.Tongue}
		if it.Sheet, err = sheet.Place(placing); err != nil {
			return err
		}
		if a.Ask == studio.AskNames || a.Ask == studio.AskRead {
			placing.Names = r.names
			if it.Named, err = sheet.Place(placing); err != nil {
				return err
			}
		}
		q := beatQ(score)
		bpm, from = bpm/q, from/q
	}
	if !it.plays {
		return nil
	}
	if it.Pace, err = r.Pace(bpm); err != nil {
		return err
	}
	if it.Pace != "" {
		it.Bpm = strconv.FormatFloat(math.Round(bpm), 'f', -1, 64)
	}
	if from > 0 && from < bpm {
		it.From, err = r.Pace(from)
		if it.From == it.Pace {
			it.From = ""
		}
	}
	return err
}

// beatQ is the beat that the score begins with, in quarters: what a metronome counts, and the sounds.
func beatQ(score *music.Score) float64 {
	if q := score.BeatUnitAt(music.Quarters(0, 1)).Q(); q > 0 {
		return q
	}
	return 1
}

func where(t *tongue.Tongue, a studio.Assignment) (string, error) {
	switch {
	case a.FromBar == "" && a.ToBar == "":
		return t.Say("item.all")
	case a.FromBar == a.ToBar:
		return t.Say("item.bar", a.FromBar)
	case a.FromBar == "":
		return t.Say("item.up-to", a.ToBar)
	case a.ToBar == "":
		return t.Say("item.from", a.FromBar)
	}
	return t.Say("item.bars", a.FromBar, a.ToBar)
}

// lines says what to look out for, and when it is done. What the teacher wrote stays as it was written.
func (r *reader) lines(a studio.Assignment) ([]line, error) {
	g := a.Goals
	told := map[string]string{"goal.dynamics": g.Dynamics, "goal.tone": g.Tone, "goal.stroke": g.Stroke, "goal.fingering": g.Fingering,
		"goal.watch": a.Watch, "goal.done": g.DoneWhen}
	for key, say := range map[string]string{"goal.stroke": "stroke." + g.Stroke, "goal.tone": "tone." + g.Tone} {
		if r.Has(say) {
			var err error
			if told[key], err = r.Say(say); err != nil {
				return nil, err
			}
		}
	}
	var err error
	if g.Dynamics == "" && g.ContrastDb > 0 {
		if told["goal.dynamics"], err = r.Say("goal.contrast"); err != nil {
			return nil, err
		}
	}
	if g.CleanRun > 0 {
		if told["goal.run"], err = r.Count("goal.run", g.CleanRun); err != nil {
			return nil, err
		}
		if g.DoneWhen == "" {
			told["goal.done"], told["goal.run"] = told["goal.run"], ""
		}
	}
	var all []line
	for _, key := range []string{"goal.dynamics", "goal.tone", "goal.stroke", "goal.fingering", "goal.watch", "goal.done", "goal.run"} {
		if told[key] == "" {
			continue
		}
		label, err := r.Say(key)
		if err != nil {
			return nil, err
		}
		all = append(all, line{label, told[key]})
	}
	return all, nil
}

package scenario

import (
	"context"
	"fmt"
	"math"

	"antiphon/internal/studio"
)

// task is one more line of a lesson, beside those that takes are sent of.
type task struct {
	Piece string // "" for none
	studio.Assignment
	Other otherWay // with its own fingers, to be tried; the zero value is none
}

// tasks are what lessons ask beside playing, by student and week: every kind of it stands in this week's.
var tasks = map[string]map[int][]task{
	"Tilda": {
		0: {{Piece: "au-clair", Assignment: studio.Assignment{Ask: studio.AskListen, Minutes: 3, Do: "Listen to my recording of it twice. Walk round the room while you listen.",
			Question: &studio.Question{Say: "The part in the middle: is it higher or lower than the beginning?", Choices: []string{"higher", "lower"}, Right: []string{"lower"},
				Explain: "It goes down to the low strings."}}},
			{Piece: "hot-cross-buns", Assignment: studio.Assignment{Ask: studio.AskKeep, Minutes: 2, Do: "With the rest stroke, so that the string comes to lie on the next one.", Coach: []string{"The finger comes to rest on the next string."}}},
			{Piece: "old-farmer", Assignment: studio.Assignment{Ask: studio.AskHeld, Do: "The next tune waits here.", Opens: "Au clair de la lune goes through three times without a new start"}}},
		1: {{Assignment: studio.Assignment{Ask: studio.AskRead, Minutes: 3, Do: "Find every C on the first page of the book and say its name aloud.",
			Question: &studio.Question{Say: "How many lines has the staff?", Right: []string{"5", "five"}}}}},
	},
	"Bence": {0: {{Piece: "frere-jacques", Assignment: studio.Assignment{Ask: studio.AskTogether, Minutes: 4, Do: "As a round. You begin; the second voice comes in two bars later.",
		Second: studio.Second{Kind: studio.Round, AfterBars: 2, Who: studio.ByTool}}},
		{Assignment: studio.Assignment{Ask: studio.AskRest, Do: "On Sunday the guitar sleeps. Sing the tune in the bath instead."}}}},
	"Ada": {0: {{Piece: "canon", Assignment: studio.Assignment{Ask: studio.AskTogether, Minutes: 5, Do: "With a parent: you sing or hum the second voice, four beats later.",
		Second: studio.Second{Kind: studio.Round, AfterBars: 1, Who: studio.ByParent}}}}},
	"Nils": {0: {{Piece: "good-king", Assignment: studio.Assignment{Ask: studio.AskChoose, FromBar: "1", ToBar: "4", Minutes: 4, Do: "Each way three times, slowly. Listen to which one sounds calmer.",
		Ways: [2]studio.Way{{Say: "the G as an open string"}, {Say: "the G with the little finger, on the fourth string"}}}, Other: otherWay{Note: "G3", String: 4, Finger: 4}}}},
	"Runa":  {0: {{Piece: "au-clair", Assignment: studio.Assignment{Ask: studio.AskNames, FromBar: "1", ToBar: "4", Minutes: 3, Do: "Say the name of every note while you play it. Then the same from the end to the beginning."}}}},
	"Yusuf": {0: {{Piece: "brook", Assignment: studio.Assignment{Ask: studio.AskAdd, Minutes: 4, Do: "You know this one. Now the first line loud and the second one soft.", Goals: studio.Goals{ContrastDb: 6, Dynamics: "first line f, second line p"}}}}},
	"Hana":  {0: {{Piece: "pinch", Assignment: studio.Assignment{Ask: studio.AskRead, FromBar: "1", ToBar: "2", Minutes: 3, Do: "Only with the eyes: which notes sound together? Tap them on the table."}}}},
}

// asOf is how a line of a lesson stands in the studio.
func (b *builder) asOf(ask Asked, line int, l Learner) studio.Assignment {
	p := b.pieces[ask.Piece]
	bpm, _ := p.Score.TempoAt(p.Score.Bars[0].Start)
	a := studio.Assignment{Work: b.works[ask.Piece].ID, FromBar: ask.FromBar, ToBar: ask.ToBar, Do: ask.Do,
		Goals: studio.Goals{TempoBpm: math.Round(bpm * ask.Share), DoneWhen: ask.DoneWhen}}
	switch line {
	case 0:
		a.Minutes, a.Watch = 6, watchWords[l.Habit]
		a.Coach = []string{"The back is long, and the left foot stands still."}
	case 1: // the exercise goes up a ladder
		a.Minutes = 3
		to := a.Goals.TempoBpm
		a.Goals.FromBpm, a.Goals.CleanRun = math.Round(to*.8), 3
		a.Ladder = studio.Ladder{FromBpm: a.Goals.FromBpm, ToBpm: to, StepBpm: math.Max(1, math.Round(to*.05)), Clean: 3}
	default:
		a.Minutes = 2
	}
	return a
}

// more are the lines of a lesson that no take is sent of.
func (b *builder) more(ctx context.Context, l Learner, s studio.StudentID, week int) ([]studio.Assignment, error) {
	var all []studio.Assignment
	for _, t := range tasks[l.Name][week] {
		a := t.Assignment
		if t.Piece != "" {
			w, ok := b.works[t.Piece]
			if !ok {
				return nil, fmt.Errorf("%s is not in the library", t.Piece)
			}
			a.Work = w.ID
		}
		if t.Other != (otherWay{}) {
			var err error
			if a.Ways[1].Own, err = b.tried(ctx, s, t); err != nil {
				return nil, fmt.Errorf("the other way of %s: %w", t.Piece, err)
			}
		}
		all = append(all, a)
	}
	return all, nil
}

var watchWords = map[habit]string{
	rushes:   "Does the foot stay with the beat to the end?",
	stops:    "Is the next finger over its string before it is needed?",
	restarts: "Does the beat go on after a slip?",
	uneven:   "Are the four notes of a group as long as each other?",
	soft:     "Can you hear every note from the door?",
	steady:   "Is the second time softer than the first?",
}

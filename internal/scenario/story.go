package scenario

import "slices"

// Asked is one line of a lesson.
type Asked struct {
	Piece    string
	FromBar  string
	ToBar    string
	Share    float64 // of the piece's own tempo
	Do       string
	DoneWhen string
}

// Answer is the lesson of one week, with what came back on it.
type Answer struct {
	Week  int // weeks ago that it was sent
	Words string
	Asked []Asked
	Sent  []Sent
}

// Sent is one take that a family sent on a lesson.
type Sent struct {
	Key   string  // names the take in the file of what was heard
	Line  int     // index in Asked
	Day   int     // days after the lesson
	Known float64 // 0 the work is new, 1 it is known
	Note  string
	Hurt  bool
	Twist twist
}

// twist is something special about a waiting take.
type twist string

const (
	plain     twist = ""
	planted   twist = "planted"    // the take that our tests know note by note
	otherWork twist = "other work" // something else was played than was asked
	tooSoft   twist = "too soft"
	faster    twist = "faster" // and well
)

// Story is what happened with one student, the oldest week first.
func (l Learner) Story(family string) []Answer {
	var out []Answer
	known := 0
	for week := l.Since; week >= 0; week-- {
		rng := dice(l.Name, week, "story")
		age := (l.Since - week) % l.Pace // weeks with this work
		work := min(l.Begins+(l.Since-week)/l.Pace, len(l.Course)-1)
		share := float64(age+1) / float64(l.Pace)
		a := Answer{Week: week}
		a.Asked = append(a.Asked, l.main(work, age))
		a.Asked = append(a.Asked, Asked{Piece: l.Drill, Share: .8 + .4*float64(l.Since-week)/float64(Weeks), Do: drillWords[rng.IntN(len(drillWords))], DoneWhen: "three times in a row without stopping"})
		if known > 0 && week%2 == 0 {
			back := l.Course[max(0, work-1-rng.IntN(2))]
			a.Asked = append(a.Asked, Asked{Piece: back, Share: 1, Do: backWords[rng.IntN(len(backWords))], DoneWhen: "once, for somebody who listens"})
		}
		if age == l.Pace-1 {
			known++
		}
		a.Words = openings[rng.IntN(len(openings))]
		if !slices.Contains(l.Silent, week) {
			a.Sent = l.sent(family, week, share, len(a.Asked))
		}
		out = append(out, a)
	}
	return out
}

// main is what is asked of the work itself, the longer it is known the more of it.
func (l Learner) main(work, age int) Asked {
	a := Asked{Piece: l.Course[work], Share: l.Tempo[0] + (1-l.Tempo[0])*float64(age)/float64(l.Pace), DoneWhen: "twice in a row without going back"}
	switch {
	case age == 0:
		a.FromBar, a.ToBar, a.Do = "1", "4", newWords[len(l.Course[work])%len(newWords)]
	case age == 1:
		a.FromBar, a.ToBar, a.Do = "1", "8", "Both lines now, at the same pace. If one bar sticks, play only that bar four times, then go on."
	default:
		a.Do = habitWords[l.Habit]
	}
	return a
}

func (l Learner) sent(family string, week int, known float64, lines int) []Sent {
	rng := dice(l.Name, week, "sent")
	key := func(n int) string { return keyOf(family, l.Name, week, n) }
	if week == 0 {
		return waiting[l.Name].give(key)
	}
	out := []Sent{{Key: key(1), Line: 0, Day: 2 + rng.IntN(4), Known: known}}
	switch {
	case lines > 2 && rng.IntN(2) == 0:
		out = append(out, Sent{Key: key(2), Line: 2, Day: out[0].Day, Known: 1})
	case rng.IntN(3) == 0:
		out = append(out, Sent{Key: key(2), Line: 1, Day: out[0].Day, Known: known})
	}
	if rng.IntN(4) == 0 {
		out[0].Note = familyNotes[rng.IntN(len(familyNotes))]
	}
	return out
}

// waits is what a student's family sent this week.
type waits []Sent

// waiting is what lies on the desk: one student with a take that our tests know note by note, one that
// needs a word first, and what goes wrong with takes in every studio. Who is not here sent nothing yet.
var waiting = map[string]waits{
	"Tilda": {{Line: 0, Day: 2, Known: .6, Note: "She says bar 11 is where her fingers get lost.", Twist: planted}},
	"Ada":   {{Line: 0, Day: 3, Known: 1, Note: "She wanted to try it faster!", Twist: faster}},
	"Nils":  {{Line: 0, Day: 2, Known: .5}, {Line: 1, Day: 2, Known: .8}},
	"Lison": {{Line: 0, Day: 4, Known: .4, Hurt: true, Note: "Her left thumb hurt after ten minutes. We stopped."}},
	"Runa":  {{Line: 0, Day: 3, Known: .5, Twist: tooSoft}},
	"Jakub": {{Line: 0, Day: 4, Known: .5, Twist: otherWork}},
	"Yusuf": {{Line: 0, Day: 3, Known: .7}},
	"Inés":  {{Line: 0, Day: 4, Known: .8}},
}

func (w waits) give(key func(n int) string) []Sent {
	out := slices.Clone([]Sent(w))
	for i := range out {
		out[i].Key = key(i + 1)
	}
	return out
}

// waitsWith tells whether a take of this piece waits on the desk.
func (l Learner) waitsWith(piece string) bool {
	sent := waiting[l.Name]
	if len(sent) == 0 {
		return false
	}
	story := l.Story("")
	asked := story[len(story)-1].Asked
	return slices.ContainsFunc(sent, func(s Sent) bool { return asked[s.Line].Piece == piece })
}

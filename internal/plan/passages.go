package plan

import (
	"fmt"
	"slices"
	"strings"

	"antiphon/internal/plan/calendar"
	"antiphon/internal/plan/memory"
)

// Passage is bars of a work with a memory of their own: they were asked by themselves, or came up again and again.
type Passage struct {
	From    string         `json:"from"` // bars as printed, both included
	To      string         `json:"to"`
	GoalBpm float64        `json:"goal_bpm,omitempty"` // quarter notes a minute; 0: the work's
	Asked   []calendar.Day `json:"asked,omitempty"`    // by itself
	Played  []Played       `json:"played,omitempty"`   // by itself, and what was heard of these bars in any take of the work; in order of days
	Remarks []Remark       `json:"remarks,omitempty"`  // about these bars
}

// Name is the bars as they are said: "bars 5–8", "bar 5".
func (ps *Passage) Name() string {
	if ps.From == ps.To {
		return "bar " + ps.From
	}
	return "bars " + ps.From + "–" + ps.To
}

// PassageState is how a passage stands today.
type PassageState struct {
	Last      calendar.Day // last played, in the work or by itself; 0 never
	LastHeard calendar.Day
	Wrong     int     // of the last days in a row on which it was heard, those on which it did not go right once
	Heard     int     // days on which it was heard
	Left      float64 // chance that it is still there; below 0 where nothing is known of it
	Back      int     // days of playing that it will likely need until it holds for a week again
}

// rating of one playing of a passage: what was heard is rated by these bars alone.
func (p *Played) ratingThere(goal float64) memory.Rating {
	if p.Rating == 0 && p.Heard != nil {
		return memory.RateThere(memory.Heard{RightShare: p.Heard.RightShare, Complete: p.Heard.Complete, Stops: p.Heard.Stops, Bpm: p.Bpm, GoalBpm: goal}, p.Heard.Notes)
	}
	return p.rating(goal)
}

// Went says how a playing of a passage of an item went, by what was heard in these bars.
func (it *Item) Went(ps *Passage, p Played) memory.Rating { return p.ratingThere(ps.goal(it)) }

func (ps *Passage) goal(it *Item) float64 {
	if ps.GoalBpm > 0 {
		return ps.GoalBpm
	}
	return it.GoalBpm
}

// passagePlayings are its playings, rated. A day on which the work was tapped or rated as a whole counts for its bars, too,
// from when they were first played on, but for no more than was last heard of them, by the teacher or the ear: going through the whole does not mend
// a place. A day on which only some of its bars were tapped counts for these.
func (it *Item) passagePlayings(ps *Passage) []memory.Playing {
	if len(ps.Played) == 0 {
		return nil
	}
	goal := ps.goal(it)
	out := make([]memory.Playing, 0, len(ps.Played)+len(it.Played))
	byItself := map[calendar.Day]bool{}
	for i := range ps.Played {
		p := &ps.Played[i]
		if byItself[p.Day] = byItself[p.Day] || p.Heard == nil; !outranked(ps.Played, i) {
			out = append(out, memory.Playing{Day: p.Day, Rating: p.ratingThere(goal)})
		}
	}
	days, next, most := it.heardDays(ps), 0, memory.AtTempo // all lists are in order of days
	for i := range it.Played {
		p := &it.Played[i]
		for ; next < len(days) && days[next].Day <= p.Day; next++ {
			most = days[next].Rating
		}
		if p.Heard == nil && !p.Part && !outranked(it.Played, i) && ps.Played[0].Day <= p.Day && !byItself[p.Day] {
			out = append(out, memory.Playing{Day: p.Day, Rating: min(p.rating(it.GoalBpm), most)})
		}
	}
	return out
}

// heardDays are the days on which a passage was heard, each with the best of its hearings, or as the teacher rated it. Who
// records the same bars three times in one evening and has them right at the end can play them; and three tries that went
// wrong in one evening are one evening.
func (it *Item) heardDays(ps *Passage) (days []memory.Playing) {
	goal := ps.goal(it)
	for i := range ps.Played {
		x := &ps.Played[i]
		if x.Heard == nil && x.Rating == 0 || outranked(ps.Played, i) {
			continue
		}
		r := x.ratingThere(goal)
		if n := len(days); n > 0 && days[n-1].Day == x.Day {
			days[n-1].Rating = max(days[n-1].Rating, r)
			continue
		}
		days = append(days, memory.Playing{Day: x.Day, Rating: r})
	}
	return days
}

// PassageState is how a passage of an item stands today, at the pace of its student.
func (p *Planner) PassageState(it *Item, ps *Passage, pace memory.Pace) PassageState {
	s := PassageState{Left: -1}
	tr, last, _ := memory.Follow(it.passagePlayings(ps))
	s.Last = last
	for _, day := range slices.Backward(it.heardDays(ps)) {
		if s.LastHeard = max(s.LastHeard, day.Day); s.Wrong == s.Heard && day.Rating < memory.Steady {
			s.Wrong++
		}
		s.Heard++
	}
	if tr.Playings == 0 {
		return s
	}
	since := float64(max(p.studio.Today-last, 0))
	s.Left = pace.Left(since, tr)
	s.Back = pace.DaysToBringBack(since, tr, it.target())
	return s
}

// When a passage is called weak. Our choices.
const (
	wrongAgain   = 2    // days in a row
	longUnplayed = 14   // days; what was played since is not called unplayed
	standsOut    = 0.05 // chances by which less is left of a passage than of its work
)

// weak says what is wrong with a passage that stands so, in the words of a reason, and how much it matters; "" where
// nothing is.
func (p *Planner) weak(it *Item, ps *Passage, s PassageState) (say string, much float64) {
	if s.Left < 0 {
		return "", 0
	}
	since := int(p.studio.Today - s.Last)
	wrong := fmt.Sprintf("%s went wrong on the last %s %s heard", ps.Name(), inWords(s.Wrong, "days"), ps.it())
	slipped := fmt.Sprintf("%s last played %s; likely to need %s", ps.was(), ago(since), days(s.Back))
	switch slips := it.Stage == Kept && s.Left < it.target() && since > longUnplayed; {
	case s.Wrong >= wrongAgain && slips:
		return wrong + ", and " + slipped, 3 - s.Left
	case s.Wrong >= wrongAgain:
		return wrong, 2 - s.Left
	case slips:
		return ps.Name() + " " + slipped, 1 - s.Left
	}
	return "", 0
}

func (ps *Passage) it() string {
	if ps.From == ps.To {
		return "it was"
	}
	return "they were"
}

func (ps *Passage) was() string {
	if ps.From == ps.To {
		return "was"
	}
	return "were"
}

// WeakPassage names the passage of an item that most needs to be played, in the words of a reason ("bars 5–8 went wrong on the
// last two days they were heard"); nil where none stands out from the rest of the work.
func (p *Planner) WeakPassage(st *Student, work string) (ps *Passage, say string) {
	it := itemOf(st, work)
	if it == nil || len(it.Passages) == 0 {
		return nil, ""
	}
	return p.weakest(it, p.Pace(st))
}

func (p *Planner) weakest(it *Item, pace memory.Pace) (ps *Passage, say string) {
	if it.Stage == Rested || len(it.Passages) == 0 {
		return nil, ""
	}
	whole, most := p.state(it, pace).left, 0.0
	for i := range it.Passages {
		x := &it.Passages[i]
		s := p.PassageState(it, x, pace)
		words, much := p.weak(it, x, s)
		if words == "" || much <= most || s.Wrong < wrongAgain && s.Left >= whole-standsOut {
			continue // what slips with the whole work and no faster is said of the work
		}
		ps, say, most = x, words, much
	}
	return ps, say
}

// slippingPassages are those that slip inside of a work that does not.
func (p *Planner) slippingPassages(st *Student, it *Item, whole float64, pace memory.Pace) (out []Slip) {
	title := p.shelf.Title(it.Work)
	for i := range it.Passages {
		ps := &it.Passages[i]
		s := p.PassageState(it, ps, pace)
		since := int(p.studio.Today - s.Last)
		say, _ := p.weak(it, ps, s)
		if say == "" || s.Left >= it.target() || s.Left >= whole-standsOut || since <= longUnplayed {
			continue
		}
		out = append(out, Slip{Student: st.ID, Work: it.Work, Title: title + ", " + ps.Name(), Last: s.Last, Days: since, Left: s.Left, Back: s.Back,
			Say: title + ": " + say + "."})
	}
	return out
}

// HandsRest says that something hurt a student lately, so that nothing is to be asked of the hands.
func (p *Planner) HandsRest(st *Student) bool { return p.begin(st).problem.Hurts }

// PassageWords says how a passage stands, for a page: a sentence, or "" where nothing is to be said.
func (p *Planner) PassageWords(it *Item, ps *Passage, s PassageState) string {
	say, _ := p.weak(it, ps, s)
	return Sentence(say)
}

// nameWeak adds to the reasons of a week what is weak inside the works that it keeps, brings back or goes on with.
func (p *Planner) nameWeak(w *Weekly, st *Student, pace memory.Pace) *Weekly {
	for i := range w.Lines {
		l := &w.Lines[i]
		it := itemOf(st, l.Work)
		if it == nil || l.Role != Keep && l.Role != BringBack && l.Role != Advance {
			continue
		}
		if _, say := p.weakest(it, pace); say != "" {
			l.Why += " " + Sentence(say)
		}
	}
	return w
}

// Sentence makes one of the words of a reason: it begins with a capital letter and ends with a full stop.
func Sentence(say string) string {
	if say == "" {
		return ""
	}
	return strings.ToUpper(say[:1]) + say[1:] + "."
}

// inWords is "two days", "7 days".
func inWords(n int, what string) string {
	words := [...]string{"no", "one", "two", "three", "four", "five", "six"}
	if n >= 0 && n < len(words) {
		return words[n] + " " + what
	}
	return fmt.Sprintf("%d %s", n, what)
}

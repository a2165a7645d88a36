package plan

import (
	"fmt"
	"runtime"
	"strings"

	"antiphon/internal/plan/calendar"
	"antiphon/internal/plan/ladder"
	"antiphon/internal/plan/week"
	"golang.org/x/sync/errgroup"
)

// Role of a line.
type Role string

const (
	Keep      Role = "keep"
	BringBack Role = "bring back"
	Mend      Role = "passage" // bars of something kept, by themselves
	Advance   Role = "advance"
	Introduce Role = "introduce"
	Serve     Role = "technique" // an exercise that serves a piece of this plan
	Listen    Role = "listen"    // without hands
)

// Line is one thing asked in a week, with its reason.
type Line struct {
	Work    string         `json:"work"`
	Title   string         `json:"title"`
	From    string         `json:"from,omitempty"` // only these bars, as printed
	To      string         `json:"to,omitempty"`
	Role    Role           `json:"role"`
	Minutes int            `json:"minutes"` // of one sitting
	Days    []calendar.Day `json:"days"`
	Why     string         `json:"why"`
	Next    string         `json:"next,omitempty"` // what comes then, under which condition
	New     bool           `json:"new,omitempty"`
	Joy     bool           `json:"joy,omitempty"`
	Pinned  bool           `json:"pinned,omitempty"`
	Few     int            `json:"days_left,omitempty"` // before the limit of its group, where they are few
	Rungs   []float64      `json:"rungs,omitempty"`     // tempos of its ladder, quarter notes a minute, the first to begin with
}

// LeftOut is one thing not asked, with its reason.
type LeftOut struct {
	Work  string `json:"work"`
	Title string `json:"title"`
	Role  Role   `json:"role"`
	Why   string `json:"why"`
	Not   string `json:"not"` // the same for a program: a week.Out
}

// Day of a plan.
type Day struct {
	Day     calendar.Day `json:"day"`
	Has     int          `json:"minutes"` // that the family has
	Planned int          `json:"planned"`
	Free    string       `json:"holiday,omitempty"`
}

// Weekly is a plan for seven days from the studio's today on.
type Weekly struct {
	Student  string    `json:"student"`
	Name     string    `json:"name"`
	Days     [7]Day    `json:"days"`
	Lines    []Line    `json:"lines"` // in the order keep, bring back, … as they came
	LeftOut  []LeftOut `json:"left_out,omitempty"`
	Cautions []string  `json:"cautions,omitempty"`
	Limits   []Limit   `json:"limits,omitempty"` // of groups, and whether the minutes reach
	Best     bool      `json:"best"`             // proved: no plan under these rules is worth more

	problem week.Problem
	plan    week.Plan
	roles   []Role
	planner *Planner
	of      *Student
	ladders map[string]ladder.Ladder
	bars    map[string]*Passage
	fewLeft map[string]int
}

// Week plans the coming seven days of a student.
func (p *Planner) Week(st *Student) (*Weekly, error) {
	b := p.begin(st)
	b.candidates()
	plan, err := week.Solve(b.problem)
	if err != nil {
		return nil, fmt.Errorf("planning the week of %s: %w", st.ID, err)
	}
	return b.p.nameWeak(b.tell(plan), b.st, b.pace), nil
}

// All plans the week of every student, in their order, on as many processors as there are.
func (p *Planner) All() ([]*Weekly, error) {
	out := make([]*Weekly, len(p.studio.Students))
	var g errgroup.Group
	g.SetLimit(runtime.GOMAXPROCS(0))
	for i := range out {
		g.Go(func() (err error) {
			out[i], err = p.Week(&p.studio.Students[i])
			return err
		})
	}
	return out, g.Wait()
}

// HandsRest says that something hurt lately, so that the plan asks nothing of the hands.
func (w *Weekly) HandsRest() bool { return w.problem.Hurts }

// Shorten plans the same week with fewer minutes on some days, from Monday on as in Student, with nothing that was not asked
// already: who has less time is not given something new to do.
func (w *Weekly) Shorten(minutes [7]int) (*Weekly, error) {
	b := w.planner.begin(w.of)
	b.problem, b.roles, b.cautions, b.ladders, b.passages, b.fewLeft = w.problem, w.roles, w.Cautions, w.ladders, w.bars, w.fewLeft
	var less [week.Days]int
	for d := range less {
		less[d] = minutes[monday(w.Days[d].Day)]
		b.days[d].Has = min(b.days[d].Has, less[d])
	}
	plan, err := week.Shorten(w.problem, w.plan, less)
	if err != nil {
		return nil, fmt.Errorf("planning the week of %s: %w", w.Student, err)
	}
	return b.p.nameWeak(b.tell(plan), b.st, b.pace), nil
}

// monday is 0 on a Monday, 6 on a Sunday.
func monday(d calendar.Day) int { return (int(d.Weekday()) + 6) % 7 }

// tell puts a plan into words.
func (b *builder) tell(plan week.Plan) *Weekly {
	w := &Weekly{Student: b.st.ID, Name: b.st.Name, Days: b.days, Cautions: b.cautions, Limits: b.p.Limits(b.st), Best: plan.Proved,
		Lines: []Line{}, problem: b.problem, plan: plan, roles: b.roles, planner: b.p, of: b.st, ladders: b.ladders, bars: b.passages, fewLeft: b.fewLeft}
	for _, l := range plan.Lines {
		it := &b.problem.Items[l.Item]
		line := Line{Work: it.ID, Title: it.Title, Role: b.roles[l.Item], Minutes: it.Minutes, Why: it.Why, Next: it.Next,
			New: it.New, Joy: it.Joy, Pinned: it.Pinned, Rungs: b.ladders[it.ID].Rungs, Few: b.fewLeft[it.ID]}
		if ps := b.passages[it.ID]; ps != nil {
			line.From, line.To = ps.From, ps.To
		}
		for d := range week.Days {
			if l.Has(d) {
				line.Days = append(line.Days, b.days[d].Day)
			}
		}
		w.Lines = append(w.Lines, line)
	}
	for d, m := range plan.Spent {
		w.Days[d].Planned = m
	}
	for i, out := range plan.Out {
		if out != "" {
			it := &b.problem.Items[i]
			w.LeftOut = append(w.LeftOut, LeftOut{it.ID, it.Title, b.roles[i], b.outWords(it, out), string(out)})
		}
	}
	return w
}

func (b *builder) outWords(it *week.Item, out week.Out) string {
	switch out {
	case week.Forbidden:
		return "You left it out."
	case week.NotYet:
		return "First comes " + list(it.Missing) + "."
	case week.HandsRest:
		return "Hands rest while something hurts."
	case week.WithoutWork:
		return "What it serves is not in this plan."
	case week.NewEnough:
		return "There is enough that is new."
	case week.NoDay:
		if it.Pinned && it.On != 0 {
			return fmt.Sprintf("It takes %d minutes, and the day you put it on does not have them.", it.Minutes)
		}
		return fmt.Sprintf("It takes %d minutes, and no day has them.", it.Minutes)
	}
	switch {
	case it.Pinned:
		return "You wanted it, and the minutes do not hold it beside what else you wanted."
	case it.Must:
		return "It is due by its limit, and the minutes do not hold it: give more minutes, or a longer limit."
	}
	return "The minutes are worth more elsewhere this week."
}

func list(words []string) string {
	switch n := len(words); n {
	case 0:
		return ""
	case 1:
		return words[0]
	default:
		return strings.Join(words[:n-1], ", ") + " and " + words[n-1]
	}
}

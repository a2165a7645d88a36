package main

import (
	"cmp"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"time"

	"antiphon/internal/plan"
	"antiphon/internal/plan/calendar"
	"antiphon/internal/store"
	"antiphon/internal/studio"
)

// planCmd proposes the week of each student.
type planCmd struct {
	File    string  `arg:"" optional:"" help:"State of a studio as JSON; - reads it from standard input."`
	Student string  `help:"Only this student, by id." placeholder:"ID"`
	Minutes *int    `help:"A day has no more minutes than this: what was planned is shortened, nothing new comes in." placeholder:"N"`
	Today   *string `help:"The plan's first day, in place of the file's." placeholder:"DATE"`
	JSON    bool    `name:"json" help:"Print it for programs (antiphon.plan/1)."`
	State   bool    `help:"Print the state that it is made from (antiphon.state/1), with passages and skills, in place of the plan."`
	Example bool    `help:"Print the state of an invented studio, to begin from."`
	fromStudio
}

// stateHelp says what a state is, for plan and forecast.
const stateHelp = `The state (schema antiphon.state/1) says, with dates as 2026-11-30:

  today, holidays[from to name], groups[name limit_days: nothing in it stays unseen longer]
  works[id title kind load minutes group needs[skills] builds[skills] after[works] for joy strain]
      kind: piece, exercise, technique, listening; load 1 is the usual; for: the work an exercise serves
  collections[id title works]
  students[id name family minutes[Monday … Sunday] most_new collection
      limits[group limit_days, or lifted: in place of the studio's]
      items[work stage begun finished target goal_bpm asked[days] remarks[day key text]
            played[day rating right tries bpm heard(right_share complete stops spread_pct notes)]
            passages[from to (bars) goal_bpm asked played remarks: of these bars]]
      skills[name known heard[true false] times[day work right] asked practised] without[skills] hurts[day where level] hands_free_from
      weeks[came minutes], teaching weeks, oldest first; wishes[work on[days] forbid]; choices[work stayed]
      recital(day works) trial(takes[work rating] years reads_music)]
  forecasts[student weeks[10 25 50 75 90 %] since came], in teaching weeks

  stage: learning, kept, rested. rating: 1 broke down, 2 with stops, 3 steady, 4 steady at tempo.
`

// Help is what `antiphon plan --help` says below the usage line.
func (planCmd) Help() string {
	return `Proposes what to keep, bring back, advance and introduce in the coming week, for each student of a studio, under the
minutes of each day, with the reason for every line, what comes next, what was left out and why; then what is slipping
and where a word to the family may help. You decide; it is no medical advice.

` + stateHelp + `
Example:
  antiphon plan --example > studio.json
  antiphon plan studio.json
  antiphon plan studio.json --student nora --minutes 10
  antiphon plan studio.json --json
  antiphon plan --data antiphon-data
  antiphon plan --data antiphon-data --state > studio.json`
}

// plans is the result for programs.
type plans struct {
	Schema   string         `json:"schema"`
	Weeks    []*plan.Weekly `json:"weeks"`
	Slipping []plan.Slip    `json:"slipping"`
	Notices  []plan.Notice  `json:"notices"`
}

// Run plans.
func (c *planCmd) Run(a *app) error {
	if c.Example {
		return printExample(a, c.File)
	}
	if c.Minutes != nil && (*c.Minutes < 0 || *c.Minutes > 300) {
		return usage("--minutes %d: write 0 to 300", *c.Minutes)
	}
	p, s, err := c.fromStudio.openState(a, c.File, c.Today, c.Student)
	if err != nil {
		return err
	}
	if c.State {
		if c.Student != "" {
			s.Students = slices.DeleteFunc(s.Students, func(st plan.Student) bool { return st.ID != c.Student })
		}
		return encode(a.out, s)
	}
	out := plans{Schema: "antiphon.plan/1", Weeks: []*plan.Weekly{}, Slipping: []plan.Slip{}, Notices: []plan.Notice{}}
	for i := range s.Students {
		st := &s.Students[i]
		if c.Student != "" && st.ID != c.Student {
			continue
		}
		w, err := p.Week(st)
		if err == nil && c.Minutes != nil {
			n := *c.Minutes
			w, err = w.Shorten([7]int{n, n, n, n, n, n, n})
		}
		if err != nil {
			return fmt.Errorf("%s: %w", c.File, err)
		}
		out.Weeks = append(out.Weeks, w)
		out.Slipping = append(out.Slipping, p.Slipping(st)...)
	}
	for _, n := range p.Notices() {
		if c.Student == "" || n.Student == c.Student {
			out.Notices = append(out.Notices, n)
		}
	}
	if c.JSON {
		return encode(a.out, out)
	}
	return planText(a.out, out)
}

func printExample(a *app, file string) error {
	if file != "" {
		return usage("--example stands alone: leave %s out", file)
	}
	_, err := a.out.Write(plan.Example())
	return err
}

func encode(w io.Writer, v any) error {
	if err := json.NewEncoder(w).Encode(v); err != nil {
		return fmt.Errorf("the result could not be printed (%w)", err)
	}
	return nil
}

// fromStudio says where a real studio is, in place of a file.
type fromStudio struct {
	Data     string `help:"Folder of a studio of this program, in place of a file: its own lessons, recordings and taps." placeholder:"FOLDER"`
	Database string `help:"The studio's PostgreSQL database, in place of the one in the folder." placeholder:"URL"`
}

// openState reads the state of a studio, of a file or of a studio's own database. Ids are the file's, or the students' in their
// addresses.
func (f fromStudio) openState(a *app, file string, today *string, student string) (*plan.Planner, *plan.Studio, error) {
	if f.Data == "" && f.Database == "" {
		return openState(a, file, today, student)
	}
	if file != "" || today != nil {
		return nil, nil, usage("a studio's own plans are made for today: leave %s out", cmp.Or(file, "--today"))
	}
	name := cmp.Or(f.Data, f.Database)
	if f.Database == "" {
		if _, err := os.Stat(filepath.Join(f.Data, databaseFile)); err != nil {
			return nil, nil, fmt.Errorf("%s holds no studio (%w): name the folder that serve uses", name, cause(err))
		}
	}
	open := func() (*store.Store, error) { return store.OpenSQLite(a.ctx, filepath.Join(f.Data, databaseFile)) }
	if f.Database != "" {
		open = func() (*store.Store, error) { return store.OpenPostgres(a.ctx, f.Database) }
	}
	st, err := open()
	if err != nil {
		return nil, nil, fmt.Errorf("the studio cannot be opened (%w): check %s", err, name)
	}
	defer st.Close()
	desk := studio.NewDesk(st, nil, nil, studio.DeskOptions{}) // it reads, and hands on nothing
	home, there, err := desk.Home(a.ctx)
	if err == nil && !there {
		err = fmt.Errorf("%s has no teacher yet: start antiphon serve and open the address that it prints", name)
	}
	if err != nil {
		return nil, nil, err
	}
	s, err := desk.AllPlans(a.ctx, studio.Viewer{Studio: home.ID, Role: studio.Ear})
	if err != nil {
		return nil, nil, err
	}
	if student != "" && s.Student(student) == nil {
		return nil, nil, fmt.Errorf("%s has no student %q: name one by the id in the address of the student's page", name, student)
	}
	p, err := plan.New(s)
	return p, s, err
}

// openState reads the state of a studio from a file.
func openState(a *app, file string, today *string, student string) (*plan.Planner, *plan.Studio, error) {
	if file == "" {
		return nil, nil, usage("name the file with the state of a studio; --example prints one")
	}
	var in io.Reader = a.in
	if file != "-" {
		f, err := os.Open(file)
		if errors.Is(err, fs.ErrNotExist) {
			return nil, nil, fmt.Errorf("%s is not there: check the name, or print one with --example", file)
		}
		if err != nil {
			return nil, nil, fmt.Errorf("%s cannot be read (%w): check the name", file, cause(err))
		}
		defer f.Close()
		if st, err := f.Stat(); err == nil && st.IsDir() {
			return nil, nil, fmt.Errorf("%s is a folder and cannot be read: name a file in it", file)
		}
		in = f
	}
	s, err := plan.Read(in)
	if err != nil {
		return nil, nil, inFile(file, err)
	}
	if today != nil {
		if s.Today, err = calendar.Read(*today); err != nil {
			return nil, nil, usage("--today: %v", err)
		}
		if err := s.Check(); err != nil {
			return nil, nil, inFile(file, err)
		}
	}
	if student != "" && s.Student(student) == nil {
		return nil, nil, fmt.Errorf("%s has no student %q: name one of its ids", file, student)
	}
	p, err := plan.New(s)
	if err != nil {
		return nil, nil, inFile(file, err)
	}
	return p, s, nil
}

// letters of the days from Monday on.
var dayNames = [7]string{"Mon", "Tue", "Wed", "Thu", "Fri", "Sat", "Sun"}

func dayName(d calendar.Day) string {
	return dayNames[(int(d.Weekday())+7-int(time.Monday))%7]
}

func planText(w io.Writer, p plans) error {
	var b strings.Builder
	for i, x := range p.Weeks {
		if i > 0 {
			b.WriteString("\n\n")
		}
		weekText(&b, x)
	}
	if len(p.Slipping) > 0 {
		b.WriteString("\n\nSlipping away\n")
		for _, s := range p.Slipping {
			fmt.Fprintf(&b, "  %s: %s\n", printable(s.Student), printable(s.Say))
		}
	}
	if len(p.Notices) > 0 {
		b.WriteString("\n\nA word may help\n")
		for _, n := range p.Notices {
			fmt.Fprintf(&b, "  %s\n      %s\n", printable(n.Say), printable(n.Try))
		}
	}
	_, err := io.WriteString(w, b.String())
	return err
}

func weekText(b *strings.Builder, w *plan.Weekly) {
	fmt.Fprintf(b, "%s, from %s\n", printable(w.Name), w.Days[0].Day.Words())
	for _, c := range w.Cautions {
		fmt.Fprintf(b, "  ! %s\n", printable(c))
	}
	for _, l := range w.Limits {
		switch {
		case l.Say != "":
			fmt.Fprintf(b, "  ! %s\n", printable(l.Say))
		case l.Own && l.Days == 0:
			fmt.Fprintf(b, "  In %s %s has no limit.\n", printable(l.Group), printable(w.Name))
		case l.Own:
			fmt.Fprintf(b, "  In %s the limit of %s is %d days.\n", printable(l.Group), printable(w.Name), l.Days)
		}
	}
	b.WriteString("\n  ")
	for _, d := range w.Days {
		if d.Free != "" {
			fmt.Fprintf(b, "%s %s   ", dayName(d.Day), printable(d.Free))
		} else {
			fmt.Fprintf(b, "%s %d/%d   ", dayName(d.Day), d.Planned, d.Has)
		}
	}
	b.WriteString("  minutes planned of those there are\n")
	if len(w.Lines) == 0 {
		b.WriteString("\n  Nothing is asked this week.\n")
	}
	for _, l := range w.Lines {
		days := make([]string, len(l.Days))
		for i, d := range l.Days {
			days[i] = dayName(d)
		}
		fmt.Fprintf(b, "\n  %s · %s · %d min · %s\n      %s\n", capitalised(string(l.Role)), printable(l.Title), l.Minutes, strings.Join(days, " "), printable(l.Why))
		if l.Next != "" {
			fmt.Fprintf(b, "      %s\n", printable(l.Next))
		}
	}
	if len(w.LeftOut) > 0 {
		b.WriteString("\n  Left out\n")
		for _, l := range w.LeftOut {
			fmt.Fprintf(b, "      %s: %s\n", printable(l.Title), printable(l.Why))
		}
	}
	if !w.Best {
		b.WriteString("\n  This is the best plan that was found; it could not be proved that there is none better.\n")
	}
}

func capitalised(s string) string {
	if s == "" {
		return s
	}
	return strings.ToUpper(s[:1]) + s[1:]
}

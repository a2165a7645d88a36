// Package year simulates a studio over two years with everything known: students who learn and forget, families who
// send something or do not, holidays, pauses and changed habits. It is there to find out whether
// plans, forecasts and warnings do what they say.
//
// Its truth is not the planner's own model: students forget by other laws, their pace is drawn from another
// family of shapes, and weeks stick together. It is no statement about real children.
package year

import (
	"bytes"
	_ "embed"
	"errors"
	"fmt"
	"math"
	"slices"

	"antiphon/internal/plan/memory"
	"github.com/goccy/go-yaml"
)

// Schema of the settings.
const Schema = "antiphon.simulation/1"

//go:embed settings.yaml
var usual []byte

// Settings of a simulation; settings.yaml explains each with its usual value. Pairs are from and to.
type Settings struct {
	Schema     string   `yaml:"schema"`
	Weeks      int      `yaml:"weeks"`
	WorksLeft  [2]int   `yaml:"works_left"`
	ForecastAt []int    `yaml:"forecast_at"`
	JudgedFrom int      `yaml:"judged_from"`
	Holidays   [][2]int `yaml:"holidays"` // week of the year, 0 to 51, and how many weeks
	Laws       []Law    `yaml:"laws"`
	Habits     []Habit  `yaml:"habits"`
	Pace       struct {
		WorksAWeek float64 `yaml:"works_a_week"`
		Spread     float64 `yaml:"spread"`
	} `yaml:"pace"`
	Load struct {
		Spread float64 `yaml:"spread"`
		Unseen float64 `yaml:"unseen"`
	} `yaml:"load"`
	Review Review `yaml:"review"`
}

// Law of forgetting: what is left, 0 to 1, after t days at strength s.
//
//	exponential: 2^(-t/s)
//	power:       (1+t/s)^(-exponent)
//	plateau:     floor + (1-floor)·2^(-t/s)
//	table:       straight lines between the points of left, whose days are multiples of s
type Law struct {
	Name         string       `yaml:"name"`
	Kind         string       `yaml:"kind"`
	Share        float64      `yaml:"share"`
	StrengthDays float64      `yaml:"strength_days"`
	Spread       float64      `yaml:"spread"`
	Exponent     float64      `yaml:"exponent"`
	Floor        float64      `yaml:"floor"`
	Left         [][2]float64 `yaml:"left"` // of a table: days in strengths, what is left; days rise, from 0 on
}

// Left says what is left.
func (l *Law) left(days, strength float64) float64 {
	x := max(days, 0) / strength
	switch l.Kind {
	case "exponential":
		return memory.HalfLife(max(days, 0), strength)
	case "power":
		return math.Pow(1+x, -l.Exponent)
	case "plateau":
		return l.Floor + (1-l.Floor)*math.Pow(2, -x)
	}
	for i := 1; i < len(l.Left); i++ {
		a, b := l.Left[i-1], l.Left[i]
		if x <= b[0] {
			return a[1] + (x-a[0])/(b[0]-a[0])*(b[1]-a[1])
		}
	}
	return l.Left[len(l.Left)-1][1]
}

// Habit is how weeks go in a family.
type Habit struct {
	Name          string     `yaml:"name"`
	Share         float64    `yaml:"share"`
	Came          [2]float64 `yaml:"came"`
	Stick         float64    `yaml:"stick"`
	MinutesSpread float64    `yaml:"minutes_spread"`
	PausesAYear   float64    `yaml:"pauses_a_year"`
	PauseWeeks    [2]int     `yaml:"pause_weeks"`
	ChangesAYear  float64    `yaml:"changes_a_year"`
	ChangeSpread  float64    `yaml:"change_spread"`
	Fading        float64    `yaml:"fading"`
}

// Review is how what is kept is played.
type Review struct {
	Minutes        [2]int     `yaml:"minutes"`
	DaysAWeek      [2]int     `yaml:"days_a_week"`
	Skipped        [2]float64 `yaml:"skipped"`
	Sitting        [2]int     `yaml:"sitting"`
	KeptAtFirst    [2]int     `yaml:"kept_at_first"`
	NewItemWeeks   int        `yaml:"new_item_weeks"`
	Most           int        `yaml:"most"`
	Growth         [2]float64 `yaml:"growth"`
	Misrated       float64    `yaml:"misrated"`
	Target         float64    `yaml:"target"`
	TechniqueShare float64    `yaml:"technique_share"`
	LimitDays      int        `yaml:"limit_days"`
}

// Usual settings.
func Usual() Settings {
	s, err := ReadSettings(usual)
	if err != nil {
		panic("the settings that come with the program: " + err.Error()) // a test reads them
	}
	return s
}

// ErrSettings is a file that no simulation can be made from.
var ErrSettings = errors.New("settings of the simulation")

// ReadSettings reads settings as YAML. A line that is not known is an error.
func ReadSettings(file []byte) (Settings, error) {
	var s Settings
	if err := yaml.NewDecoder(bytes.NewReader(file), yaml.Strict()).Decode(&s); err != nil {
		return s, fmt.Errorf("%w: %s", ErrSettings, yaml.FormatError(err, false, false))
	}
	return s, s.check()
}

func (s *Settings) check() error {
	bad := func(format string, args ...any) error {
		return fmt.Errorf("%w: %s", ErrSettings, fmt.Sprintf(format, args...))
	}
	pair := func(p [2]int, least, most int) bool { return least <= p[0] && p[0] <= p[1] && p[1] <= most }
	share := func(p [2]float64) bool { return 0 <= p[0] && p[0] <= p[1] && p[1] <= 1 }
	switch {
	case s.Schema != Schema:
		return bad("schema is %q, and %q is read", s.Schema, Schema)
	case s.Weeks < 20 || s.Weeks > 520:
		return bad("weeks is %d: 20 to 520", s.Weeks)
	case !pair(s.WorksLeft, 1, 200):
		return bad("works_left: two numbers that rise, 1 to 200")
	case len(s.ForecastAt) == 0 || slices.Min(s.ForecastAt) < 8 || slices.Max(s.ForecastAt) > s.Weeks || !slices.IsSorted(s.ForecastAt):
		return bad("forecast_at: weeks that rise, 8 to %d", s.Weeks)
	case slices.Max(s.ForecastAt) < s.JudgedFrom:
		return bad("judged_from lies after the last forecast")
	case len(s.Laws) == 0 || len(s.Habits) == 0:
		return bad("at least one law and one habit")
	case !(s.Pace.WorksAWeek > 0.01 && s.Pace.WorksAWeek < 20) || s.Pace.Spread < 0 || s.Load.Spread < 0 || s.Load.Unseen < 0:
		return bad("pace and load: above 0")
	}
	for _, h := range s.Holidays {
		if h[0] < 0 || h[1] < 1 || h[0]+h[1] > 53 {
			return bad("holidays: week of the year, 0 to 51, and how many")
		}
	}
	for _, l := range s.Laws {
		known := slices.Contains([]string{"exponential", "power", "plateau", "table"}, l.Kind)
		rises := slices.IsSortedFunc(l.Left, func(a, b [2]float64) int {
			if a[0] < b[0] {
				return -1
			}
			return 1
		})
		if !known || !(l.StrengthDays > 0) || l.Share <= 0 || l.Spread < 0 || l.Kind == "power" && !(l.Exponent > 0) ||
			l.Floor < 0 || l.Floor >= 1 || l.Kind == "table" && (len(l.Left) < 2 || l.Left[0][0] != 0 || !rises) {
			return bad("law %q: a kind, a share, strength_days, and what that kind needs", l.Name)
		}
	}
	for _, h := range s.Habits {
		if h.Share <= 0 || !share(h.Came) || h.Came[0] < 0.05 || h.Stick < 0 || h.Stick > 0.9 || h.PausesAYear < 0 || h.ChangesAYear < 0 || !pair(h.PauseWeeks, 1, 100) || h.Fading < 0 || h.Fading > 1 {
			return bad("habit %q: a number is out of bounds", h.Name)
		}
	}
	r := s.Review
	if !pair(r.Minutes, 1, 120) || !pair(r.DaysAWeek, 1, 7) || !share(r.Skipped) || !pair(r.Sitting, 1, 30) || !pair(r.KeptAtFirst, 1, 200) || r.NewItemWeeks < 1 ||
		r.Most < r.KeptAtFirst[1] || r.Growth[0] < 0 || r.Growth[1] < r.Growth[0] || r.Misrated < 0 || r.Misrated > 0.5 || r.Target < 0.5 || r.Target > 0.97 || r.TechniqueShare < 0 || r.TechniqueShare > 1 || r.LimitDays < 14 {
		return bad("review: a number is out of bounds")
	}
	return nil
}

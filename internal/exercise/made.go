package exercise

import (
	"slices"
	"strings"

	"antiphon/internal/difficulty"
	"antiphon/internal/guitar"
	"antiphon/internal/music"
)

// Made says what an exercise has become, for a list of assignments and for programs.
type Made struct {
	Title     string   `json:"title"`
	Trains    string   `json:"trains"`
	Reason    string   `json:"reason,omitempty"` // of an exercise made from a fault
	Bars      int      `json:"bars"`
	Notes     int      `json:"notes"` // as written; repeats are not counted
	Lowest    string   `json:"lowest"`
	Highest   string   `json:"highest"`
	Strings   []int    `json:"strings"`    // that are played, from 1
	Positions []string `json:"positions"`  // of the left hand
	RightHand []string `json:"right_hand"` // fingers that pluck
	Needs     []string `json:"needs"`      // skills that it asks for at the goal's tempo, in order of first use
	TempoBpm  float64  `json:"tempo_bpm"`  // to begin with; 0 none
	GoalBpm   float64  `json:"goal_bpm"`   // to reach; 0 none
	BeatQ     float64  `json:"beat_q"`     // quarters in the beat that tempo and goal count
	LengthS   float64  `json:"length_s"`   // once through at the tempo, repeats taken; 0 without a tempo
}

// Describe says what a score has become. The goal is not in the score.
func Describe(s *music.Score, reason string, goalBpm float64) Made {
	m := Made{Title: s.Title, Trains: s.Subtitle, Reason: reason, Bars: len(s.Bars), GoalBpm: goalBpm, Strings: []int{}, Positions: []string{}, RightHand: []string{}, Needs: []string{}}
	low, high := 0, 0
	for _, n := range s.Sounding() {
		m.Notes++
		if low == 0 || n.Midi < low {
			low, m.Lowest = n.Midi, n.Name
		}
		if n.Midi > high {
			high, m.Highest = n.Midi, n.Name
		}
		if n.String > 0 && !slices.Contains(m.Strings, n.String) {
			m.Strings = append(m.Strings, n.String)
		}
		if n.Pluck != "" && !slices.Contains(m.RightHand, n.Pluck) {
			m.RightHand = append(m.RightHand, n.Pluck)
		}
		if f := number(n.Finger); f > 0 && n.Fret > 0 {
			if p := roman(max(n.Fret-f+1, 1)); !slices.Contains(m.Positions, p) {
				m.Positions = append(m.Positions, p)
			}
		}
	}
	slices.Sort(m.Strings)
	slices.SortFunc(m.RightHand, func(a, b string) int { return strings.Index("pima", a) - strings.Index("pima", b) })
	unit := s.BeatUnitAt(music.Beats{})
	m.BeatQ = unit.Q()
	if bpm, marked := s.TempoAt(music.Beats{}); marked {
		m.TempoBpm = bpm / m.BeatQ
		if m.GoalBpm == 0 {
			m.GoalBpm = m.TempoBpm
		}
		for _, st := range s.Performed() {
			m.LengthS += s.Bars[st.To].End().Sub(s.Bars[st.From].Start).Q() * 60 / bpm
		}
	}
	at := difficulty.Options{QuarterBpm: m.GoalBpm * m.BeatQ}
	for _, n := range difficulty.Profile(s, guitar.Standard(), guitar.AdultHand(), at).Skills {
		m.Needs = append(m.Needs, string(n.Skill))
	}
	return m
}

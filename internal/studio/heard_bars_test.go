package studio

import (
	"math"
	"reflect"
	"testing"
	"time"

	"antiphon/internal/plan"
	"antiphon/internal/plan/calendar"
)

// A hearing of a pickup and four bars of two notes: bar 2 is broken off and played again, and then wrong; bar 3 misses a
// note; nobody played bar 4.
const barsHeard = `{"schema":"antiphon.hearing/1",
 "score":{"notes":[{"id":"a","bar":"0"},{"id":"b","bar":"1"},{"id":"c","bar":"1"},{"id":"d","bar":"2"},{"id":"e","bar":"2"},{"id":"f","bar":"3"},{"id":"g","bar":"3"},{"id":"h","bar":"4"}]},
 "jumps":[{"kind":"restart","from_bar":"2","to_bar":"2"},{"kind":"repeat","from_bar":"3","to_bar":"1"}],
 "played":[{"note":"a","verdict":"right"},{"note":"b","verdict":"right"},{"note":"c","verdict":"right"},{"note":"d","verdict":"right"},{"note":null,"verdict":"extra"},
  {"note":"d","verdict":"right"},{"note":"e","verdict":"wrong"},{"note":"f","verdict":"right"}],
 "missed":[{"note":"g","pass":1}],
 "tempo":{"beat_unit_q":1.5,"curve":[{"bar":"1","bpm":40},{"bar":"2","bpm":30},{"bar":"2","bpm":34},{"bar":"2","bpm":60}]},
 "findings":[{"from_bar":"2","to_bar":"3","confidence":0.9,"well":false},{"from_bar":"2","to_bar":"2","confidence":0.2,"well":false},
  {"from_bar":"1","to_bar":"3","confidence":0.9,"well":true},{"from_bar":null,"to_bar":null,"confidence":0.9,"well":false}]}`

func TestBarsIn(t *testing.T) {
	got, err := barsIn([]byte(barsHeard))
	want := HeardBars{Bar: []string{"0", "1", "2", "3"}, Written: []int{1, 2, 3, 2}, Right: []int{1, 2, 2, 1}, Stops: []int{0, 0, 1, 0}, Told: []int{0, 0, 1, 1}, Bpm: []float64{0, 60, 51, 0}}
	if err != nil || !reflect.DeepEqual(got, want) {
		t.Errorf("%+v, %v, want\n%+v", got, err, want)
	}
	bars := barsNamed([]string{"0", "1", "2", "3", "4"})
	if at := there(bars.lay(&got), plan.Stretch{From: 1, To: 2}); at.Notes != 5 || at.Right != 4 || at.Stops != 1 || at.Bars != 2 || math.Abs(at.Bpm-55.135) > .001 { // 2 / (1/60 + 1/51)
		t.Errorf("bars 1 and 2: %+v", at)
	}
	if at := there(bars.lay(&got), plan.Stretch{From: 4, To: 4}); at != (There{}) {
		t.Errorf("a bar that nobody played: %+v", at)
	}
	if got, err = barsIn([]byte(`{"schema":"antiphon.hearing/1","passes":[]}`)); err != nil || got.Bar != nil {
		t.Errorf("nothing of the score: %+v, %v", got, err)
	}
	if _, err = barsIn([]byte(`{"played":"no"}`)); err == nil {
		t.Error("what is no hearing is counted")
	}
	if (&HeardBars{Bar: []string{"1", "2"}, Written: []int{1}, Right: []int{1}}).whole() || bars.lay(&HeardBars{Bar: []string{"1"}}) != nil {
		t.Error("lists that do not belong together are read")
	}
}

func TestStretch(t *testing.T) {
	bars := barsNamed([]string{"0", "1", "2", "2", "3"})
	for _, c := range []struct {
		from, to string
		want     plan.Stretch
		ok       bool
	}{
		{"1", "3", plan.Stretch{From: 1, To: 4}, true}, {"", "2", plan.Stretch{From: 0, To: 2}, true}, {"3", "", plan.Stretch{From: 4, To: 4}, true},
		{"3", "1", plan.Stretch{From: 4, To: 1}, false}, {"9", "", plan.Stretch{From: 0, To: 4}, false},
	} {
		if got, ok := bars.stretch(c.from, c.to); got != c.want || ok != c.ok {
			t.Errorf("%q to %q: %v, %v", c.from, c.to, got, ok)
		}
	}
	if _, ok := barsNamed(nil).stretch("", ""); ok {
		t.Error("a score without bars has a stretch")
	}
}

// TestCameUp: a bar in which the ear found something in three takes is a passage, unless nobody could say which bar it is.
func TestCameUp(t *testing.T) {
	p := &planning{demands: map[WorkID]*Demand{"w": {Bars: 5, Numbers: []string{"1", "2", "", "3", "4"}}}, bars: map[WorkID]*scoreBars{}, zone: time.FixedZone("", 2*3600), today: 100}
	g := &gathered{}
	for day := range 3 {
		at := time.Unix(int64(day)*86400, 0).UTC().Add(23 * time.Hour) // the next day, where the studio is
		facts := []barFact{{4, 4, 0, 0, 60}, {4, 2, 0, 0, 60}, {4, 4, 0, 1, 60}, {4, 4, 0, 0, 60}, {4, 4, 0, min(day, 1), 60}}
		g.takes = append(g.takes, takenOnce{HeardOnce{Work: "w", At: at}, calendar.Of(at), facts})
	}
	if got := p.passages("w", g, nil); len(got) != 0 {
		t.Errorf("a bar without a number: %+v", got)
	}
	for i := range g.takes {
		g.takes[i].facts[2].told, g.takes[i].facts[1].told = 0, 1
	}
	got := p.passages("w", g, nil)
	if len(got) != 1 || got[0].Passage.From != "2" || got[0].Passage.To != "2" || len(got[0].Heard) != 3 || got[0].Heard[0].At.Day() != 2 || got[0].Heard[0].Right != 2 || len(got[0].Played) != 3 {
		t.Errorf("%+v", got)
	}
}

// TestOtherBars: practice of some bars is no practice of others, a remark without a bar is about none of them, not even where
// a bar has no number, and a skill that was not among the bars asked for was not met.
func TestOtherBars(t *testing.T) {
	at := time.Date(2026, 1, 20, 18, 0, 0, 0, time.UTC)
	today := calendar.Of(at) + 40
	p := &planning{works: map[WorkID]Work{"w": {}}, demands: map[WorkID]*Demand{"w": {Bars: 8, Numbers: []string{"", "1", "2", "3", "4", "5", "6", "7"}, Where: map[string][]int{"small barre": {6, 7}}}},
		bars: map[WorkID]*scoreBars{}, uses: map[WorkID][]string{"w": {"small barre"}}, zone: time.UTC, today: today}
	h := &History{Asked: []AskedOnce{{Work: "w", Day: "2026-01-02"}, {Work: "w", Day: "2026-01-02", FromBar: "1", ToBar: "2"}, {Work: "w", Day: "2026-01-02", FromBar: "", ToBar: "3"}},
		Heard:     []HeardOnce{{Work: "w", Take: "t", At: at, FromBar: "1", ToBar: "2", Summary: &Summary{RightShare: 1, Notes: 8}}},
		Practised: []PractisedDay{{Work: "w", Day: today - 3, Tries: 3, Clean: 3, FromBar: "1", ToBar: "2"}, {Work: "w", Day: today - 2, Tries: 2, Clean: 1}, {Work: "w", Day: today - 2, Tries: 1, FromBar: "1", ToBar: "2"}},
		Said:      []SaidOnce{{Work: "w", At: at, Text: "Well done."}, {Work: "w", At: at, Bar: "2", Text: "Slower."}}}
	laid := p.laid(h)
	items := p.items(StudentPlan{}, h, laid)
	if len(items) != 1 || len(items[0].Played) != 3 || !items[0].Played[1].Part || items[0].Played[2].Part || items[0].Played[2].Tries != 3 {
		t.Fatalf("%+v", items)
	}
	of := map[string]int{}
	for _, ps := range items[0].Passages {
		of[ps.From+" to "+ps.To] = len(ps.Remarks)
	}
	if want := map[string]int{"1 to 2": 1}; !reflect.DeepEqual(of, want) {
		t.Errorf("remarks by passage: %v, want %v", of, want)
	}
	if p.finds(SaidQuery{Work: "w", ToBar: "3"}, h.Said[0], h, nil) || !p.finds(SaidQuery{Work: "w", ToBar: "3"}, h.Said[1], h, nil) {
		t.Error("what is about no bar is found with bars, or what is about bar 2 is not")
	}
	used := p.usedSkills(h, laid)["small barre"]
	if used == nil || len(used.Asked) != 1 || len(used.Practised) != 1 || len(used.Heard) != 0 {
		t.Errorf("the skill in the last two bars: %+v", used)
	}
	h.Asked, h.Practised = h.Asked[1:], h.Practised[:1]
	if used := p.usedSkills(h, laid); len(used) != 0 {
		t.Errorf("met without having been asked, practised or heard: %+v", used)
	}
}

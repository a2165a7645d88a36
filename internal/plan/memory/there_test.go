package memory

import "testing"

// TestRateThere: the bounds are our choice; shares worked by hand.
func TestRateThere(t *testing.T) {
	for _, c := range []struct {
		name  string
		right int
		notes int
		h     Heard
		want  Rating
	}{
		{"all", 8, 8, Heard{Complete: true}, Steady},
		{"one of eight is forgiven", 7, 8, Heard{Complete: true}, Steady},
		{"two of eight", 6, 8, Heard{Complete: true}, Stopped},
		{"four of eight", 4, 8, Heard{Complete: true}, BrokeDown},
		{"one of two is forgiven", 1, 2, Heard{Complete: true}, Steady},
		{"the one note that there is", 0, 1, Heard{Complete: true}, BrokeDown},
		{"none of two", 0, 2, Heard{Complete: true}, BrokeDown},
		{"one stop", 8, 8, Heard{Complete: true, Stops: 1}, Stopped},
		{"broken off", 8, 8, Heard{}, Stopped},
		{"at tempo", 8, 8, Heard{Complete: true, Bpm: 78, GoalBpm: 80}, AtTempo},
		{"slower", 8, 8, Heard{Complete: true, Bpm: 70, GoalBpm: 80}, Steady},
	} {
		c.h.RightShare = float64(c.right) / float64(c.notes)
		if got := RateThere(c.h, c.notes); got != c.want {
			t.Errorf("%s: %v, want %v", c.name, got, c.want)
		}
	}
	if got := RateThere(Heard{RightShare: .95, Complete: true}, 0); got != Steady {
		t.Errorf("notes not counted: %v", got)
	}
}

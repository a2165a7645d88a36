package rehearse

import (
	"math"
	"strings"
	"testing"
)

// One small take worked by hand: four notes are written; the first is right, the second wrong, the
// third missed, the fourth right, and one is added; the player goes back to bar 1.
func handTruth() (Truth, Piece) {
	p, err := compose(Piece{Name: "hand", Beats: 4, BeatType: 4, Bpm: 60}, 0, voiceText{1, "C4:4 D4 E4 F4 |"})
	if err != nil {
		panic(err)
	}
	at := func(i int) *int { return &i }
	return Truth{ID: "hand", DurationS: 6, MedianBpm: 60, Notes: []TrueNote{
		{Score: at(0), OnsetS: 1, Midi: 60, Kind: "correct"}, {Score: at(1), OnsetS: 2, Midi: 63, Kind: "wrong"},
		{OnsetS: 2.5, Midi: 55, Kind: "extra"}, {Score: at(3), OnsetS: 4, Midi: 65, Kind: "correct"}},
		Missed: []TrueMiss{{Score: 2, ExpectedS: 3}},
		Jumps:  []TrueJump{{Kind: "restart", ToBar: 1, ResumeS: 5}, {Kind: "pause", ToBar: 1, ResumeS: 2}}}, p
}

const handScore = `"score":{"notes":[{"id":"n1","part":"P1","onset_q":0,"midi":60},{"id":"n2","part":"P1","onset_q":1,"midi":62},
 {"id":"n3","part":"P1","onset_q":2,"midi":64},{"id":"n4","part":"P1","onset_q":3,"midi":65}]}`

func TestJudgeByHand(t *testing.T) {
	for _, c := range []struct {
		name, report                       string
		notes50, notes25                   Counts
		wrong, missed, extra, jumps        Counts
		aligned                            int
		clean, unaccused, other, otherKnow int
	}{
		{name: "all found", report: `{` + handScore + `,"passes":[{"n":1}],"jumps":[{"to_bar":"1","resume_s":5.4}],"tempo":{"median_bpm":60.6,"beat_unit_q":1},
			"played":[{"note":"n1","onset_s":1.004,"midi":60,"verdict":"right"},{"note":"n2","onset_s":2.03,"midi":63,"verdict":"wrong"},
			{"note":null,"onset_s":2.51,"midi":55,"verdict":"extra"},{"note":"n4","onset_s":4.04,"midi":65,"verdict":"right"}],
			"missed":[{"note":"n3","expected_s":3.2}]}`,
			notes50: Counts{4, 4, 4}, notes25: Counts{2, 4, 4}, wrong: Counts{1, 1, 1}, missed: Counts{1, 1, 1}, extra: Counts{1, 1, 1}, jumps: Counts{1, 1, 1}, aligned: 3},
		{name: "nothing said against it", report: `{` + handScore + `,"passes":[{"n":1}],"tempo":{"median_bpm":60,"beat_unit_q":1},
			"played":[{"note":"n1","onset_s":1,"midi":60,"verdict":"right"},{"note":"n2","onset_s":2,"midi":62,"verdict":"right"},
			{"note":"n3","onset_s":3,"midi":64,"verdict":"right"},{"note":"n4","onset_s":4.2,"midi":65,"verdict":"right"}]}`,
			notes50: Counts{1, 4, 4}, notes25: Counts{1, 4, 4}, wrong: Counts{0, 1, 0}, missed: Counts{0, 1, 0}, extra: Counts{0, 1, 0}, jumps: Counts{0, 1, 0}, aligned: 2},
		{name: "false ones", report: `progress {` + handScore + `,"passes":[{"n":1}],"jumps":[{"to_bar":"9","resume_s":5}],"tempo":{"median_bpm":60,"beat_unit_q":1},
			"played":[{"note":"n1","onset_s":1,"midi":61,"verdict":"wrong"},{"note":null,"onset_s":2.5,"midi":56,"verdict":"extra"}],
			"missed":[{"note":"n2","expected_s":2},{"note":"n3","expected_s":4.5}]}`,
			notes50: Counts{0, 4, 2}, notes25: Counts{0, 4, 2}, wrong: Counts{0, 1, 1}, missed: Counts{0, 1, 2}, extra: Counts{0, 1, 1}, jumps: Counts{0, 1, 1}, aligned: 1},
	} {
		truth, piece := handTruth()
		r, err := ParseReport([]byte(c.report))
		if err != nil {
			t.Fatalf("%s: %v", c.name, err)
		}
		m := Judge(truth, piece, r)
		for _, x := range []struct {
			what      string
			got, want Counts
		}{{"notes ±50", m.Notes50, c.notes50}, {"notes ±25", m.Notes25, c.notes25}, {"wrong", m.Wrong, c.wrong}, {"missed", m.Missed, c.missed},
			{"extra", m.Extra, c.extra}, {"jumps", m.Jumps, c.jumps}} {
			if x.got != x.want {
				t.Errorf("%s: %s %+v, want %+v", c.name, x.what, x.got, x.want)
			}
		}
		if m.Aligned50 != c.aligned || m.AlignedOf != 3 {
			t.Errorf("%s: aligned %d of %d, want %d of 3", c.name, m.Aligned50, m.AlignedOf, c.aligned)
		}
		if m.Clean != 0 {
			t.Errorf("%s: a take with mistakes is called clean", c.name)
		}
	}
}

func TestJudgeCleanAndOther(t *testing.T) {
	truth, piece := handTruth()
	truth.Notes, truth.Missed, truth.Jumps = truth.Notes[:1], nil, nil
	accused := func(extra string) Marks {
		r, err := ParseReport([]byte(`{` + handScore + `,"passes":[{"n":1}],"tempo":{"median_bpm":59.4,"beat_unit_q":1},"played":[{"note":"n1","onset_s":1,"midi":60,"verdict":"right"}` + extra + `]}`))
		if err != nil {
			t.Fatal(err)
		}
		return Judge(truth, piece, r)
	}
	if m := accused(""); m.Clean != 1 || m.CleanUnaccused != 1 || math.Abs(m.TempoErr[0]+0.01) > 1e-9 {
		t.Errorf("a clean take: %+v", m)
	}
	if m := accused(`,{"note":null,"onset_s":3,"midi":50,"verdict":"extra"}`); m.Clean != 1 || m.CleanUnaccused != 0 {
		t.Errorf("a clean take falsely accused: %+v", m)
	}
	truth.OtherThan = true
	if m := accused(""); m.Other != 1 || m.OtherKnown != 0 {
		t.Errorf("something else taken for the score: %+v", m)
	}
	r, _ := ParseReport([]byte(`{` + handScore + `,"passes":[],"played":[]}`))
	if m := Judge(truth, piece, r); m.OtherKnown != 1 {
		t.Errorf("something else recognised: %+v", m)
	}
}

func TestParseReportRefuses(t *testing.T) {
	for _, out := range []string{"", "nothing here", "{", `{"played": 3}`} {
		if _, err := ParseReport([]byte(out)); err == nil || strings.Contains(err.Error(), "\n") {
			t.Errorf("%q: error %v, want one line", out, err)
		}
	}
}

func TestQuantileOfNothing(t *testing.T) {
	if q := Quantile(nil, 0.5); !math.IsNaN(q) {
		t.Errorf("the median of nothing is %v", q)
	}
	if q := Quantile([]float64{-3, 1, 2}, 0.5); q != 2 {
		t.Errorf("the median size of -3, 1, 2 is %v, want 2", q)
	}
}

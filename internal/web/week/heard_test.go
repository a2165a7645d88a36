package week_test

import (
	"bytes"
	"regexp"
	"strings"
	"testing"

	"antiphon/internal/ear"
	"antiphon/internal/findings"
	"antiphon/internal/notation"
	"antiphon/internal/report"
	"antiphon/internal/studio"
)

// TestHeardInFamilyWords: where the teacher has said so, a family reads one kind word and one next thing, and no number
// of what was measured; elsewhere nothing.
func TestHeardInFamilyWords(t *testing.T) {
	k := open(t)
	ctx := t.Context()
	_, _, to := k.upload(t, k.Okafor.Device, map[string]string{"child": string(k.ada.ID), "of": string(k.asked[k.ada.ID].Assignments[0].ID)}, "a.m4a", "audio/mp4", []byte("sound"))
	at := strings.TrimSuffix(to, "?sent")
	id := studio.TakeID(strings.TrimPrefix(at, "/week/takes/"))
	score, _, err := notation.Read(strings.NewReader(tune), "tune.musicxml", notation.Limits{})
	if err != nil {
		t.Fatal(err)
	}
	var doc bytes.Buffer
	rep := report.Report{Score: score, Hearing: &ear.Hearing{Score: score.Sounding(), DurationS: 31, Passes: []ear.Pass{{N: 1, FromBar: "1", ToBar: "1", StartS: 1, EndS: 29, Complete: true, Bpm: 57}}},
		Findings: []findings.Finding{
			{Kind: findings.Rushing, Size: 17, Unit: "%", Confidence: .9, Text: "From bar 1 on it is 17 % faster."},
			{Kind: findings.Wrong, Size: 2, Unit: "notes", Confidence: .9, Text: "Two wrong notes."},
			{Kind: findings.Steady, Size: 3, Unit: "%", Confidence: .9, Text: "Steady within 3 %."},
		}}
	if err := rep.JSON(&doc); err != nil {
		t.Fatal(err)
	}
	ear := studio.Viewer{Studio: k.Teacher.Studio, Role: studio.Ear}
	if _, err := k.Desk.BeginHearing(ctx, ear, id); err != nil {
		t.Fatal(err)
	}
	if _, err := k.Desk.KeepHearing(ctx, ear, id, studio.Heard{Doc: doc.Bytes(), DurationS: 31}); err != nil {
		t.Fatal(err)
	}
	words := []string{"there is a calm, even beat in it", "Stay as calm as at the start."}
	_, body := k.Get(t, k.Okafor.Device, at)
	hasNot(t, "before the teacher wants it", body, words...)
	if _, err := k.Desk.TellHearing(ctx, k.Teacher, k.ada.ID, true); err != nil {
		t.Fatal(err)
	}
	_, body = k.Get(t, k.Okafor.Device, at)
	has(t, "once the teacher wants it", body, words...)
	hasNot(t, "once the teacher wants it", body, "17 %", "wrong", "Two wrong notes")
	shown := regexp.MustCompile(`<[^>]*>`).ReplaceAllString(body, " ") // the names of files may have any digits
	if regexp.MustCompile(`\b57\b`).MatchString(shown) {
		t.Error("the tempo that was heard is told")
	}
	said := regexp.MustCompile(`(?s)<div class="heard">.*?</div>`).FindString(body)
	if said == "" || regexp.MustCompile(`\d`).MatchString(said) {
		t.Errorf("a number is told: %s", said)
	}
}

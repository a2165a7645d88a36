package scenario

import (
	"bytes"
	"context"
	"fmt"
	"strings"

	"antiphon/internal/hands"
	"antiphon/internal/notation"
	"antiphon/internal/studio"
)

// otherWay is how each note of one name is taken in the passage of a task; the fingers of the others follow.
type otherWay struct {
	Note           string // sounding: "G3"
	String, Finger int
}

// tried keeps the other way of a task for a student, to be tried.
func (b *builder) tried(ctx context.Context, s studio.StudentID, t task) (studio.FingeringID, error) {
	xml, err := t.otherwise(b.pieces[t.Piece].MusicXML)
	if err != nil {
		return "", err
	}
	kept, err := b.desk.KeepFingering(ctx, b.v, studio.OwnFingering{Student: s, Work: b.works[t.Piece].ID, Score: xml, Why: t.Ways[1].Say}, true)
	return kept.ID, err
}

// otherwise writes the other way into a score; outside the passage it stays as it was.
func (t task) otherwise(musicXML string) (string, error) {
	score, _, err := notation.Read(strings.NewReader(musicXML), "score.musicxml", notation.Limits{})
	if err != nil {
		return "", err
	}
	o, written := hands.Options{Minimax: true, From: t.FromBar, To: t.ToBar}, score.Written()
	first, last := -1, -1
	for i, bar := range score.Bars {
		if bar.Number == t.FromBar {
			first = i
		}
		if bar.Number == t.ToBar {
			last = i
		}
	}
	for i, n := range score.Sounding() {
		if n.BarIndex < first || n.BarIndex > last {
			continue
		}
		for _, r := range written[i] {
			note := &score.Parts[r.Part].Notes[r.Note]
			note.String, note.Fret, note.HasFret, note.Fingers = 0, 0, false, nil
		}
		if n.Name == t.Other.Note {
			o.Fix = append(o.Fix, hands.Wish{Note: n.ID, String: t.Other.String, Finger: t.Other.Finger})
		}
	}
	if len(o.Fix) == 0 {
		return "", fmt.Errorf("no %s in bars %s to %s", t.Other.Note, t.FromBar, t.ToBar)
	}
	f, err := hands.Finger(score, o)
	if err != nil {
		return "", err
	}
	f.Write(score)
	var xml bytes.Buffer
	err = notation.WriteMusicXML(&xml, score)
	return xml.String(), err
}

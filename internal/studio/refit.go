package studio

import (
	"bytes"
	"context"
	"slices"
	"strings"

	"antiphon/internal/music"
	"antiphon/internal/notation"
)

// refit puts the fingers that were kept for children into a score that has changed. Those whose notes are not
// there any more wait until they are: nothing of them is lost.
func refit(ctx context.Context, tx Records, w Work) error {
	kept, err := tx.FingeringsOf(ctx, w.Studio, w.ID)
	if err != nil {
		return err
	}
	for _, k := range kept {
		score, err := carried(w.Score, k.Score)
		if k.Fits = err == nil; k.Fits {
			k.Score = score
		}
		if err := tx.PutFingering(ctx, k); err != nil {
			return err
		}
	}
	return nil
}

// carried writes the fingers of one score into another of the same notes.
func carried(score, fingers string) (string, error) {
	if score == "" {
		return "", &Problem{Kind: NotFound, Say: "There is no score of this work that could be fingered."}
	}
	var read [2]*music.Score
	for i, text := range []string{score, fingers} {
		var err error
		if read[i], _, err = notation.Read(strings.NewReader(text), "score.musicxml", notation.Limits{}); err != nil {
			return "", &Problem{Kind: Invalid, Say: "The score of this work cannot be read any more. Import it again in the library.", Err: err}
		}
	}
	to, from := read[0], read[1]
	if !sameNotes(to, from) {
		return "", &Problem{Kind: Conflict, Say: "These fingers belong to other notes than stand in the score now. Choose fingers anew."}
	}
	for p := range to.Parts {
		for i := range to.Parts[p].Notes {
			n, f := &to.Parts[p].Notes[i], from.Parts[p].Notes[i]
			n.String, n.Fret, n.HasFret, n.Fingers, n.Plucks = f.String, f.Fret, f.HasFret, f.Fingers, f.Plucks
			n.SetStroke(f.Stroke())
		}
	}
	var b bytes.Buffer
	if err := notation.WriteMusicXML(&b, to); err != nil {
		return "", err
	}
	return b.String(), nil
}

// sameNotes says that two scores have the same notes at the same places.
func sameNotes(a, b *music.Score) bool {
	if len(a.Parts) != len(b.Parts) {
		return false
	}
	for p := range a.Parts {
		if !slices.EqualFunc(a.Parts[p].Notes, b.Parts[p].Notes, func(x, y music.Note) bool {
			return x.Bar == y.Bar && x.Start.Cmp(y.Start) == 0 && x.Duration.Cmp(y.Duration) == 0 && x.Staff == y.Staff && x.Voice == y.Voice &&
				x.Rest == y.Rest && x.Grace == y.Grace && x.Pitch == y.Pitch && x.TieStart == y.TieStart && x.TieStop == y.TieStop
		}) {
			return false
		}
	}
	return true
}

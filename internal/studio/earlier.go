package studio

import (
	"context"
	"crypto/sha256"
	"encoding/hex"
	"fmt"
	"strings"
	"time"

	"antiphon/internal/notation"
)

// EarlierID is an id like the others.
type EarlierID string

// EarlierScore is a score that a work had, with the fingers that were in it for everybody.
type EarlierScore struct {
	ID     EarlierID
	Studio StudioID
	Work   WorkID
	Score  string // MusicXML; "" in a list
	Same   string // a digest of it
	Notes  string // a digest of its notes, whatever fingers are in it; "" where it cannot be read
	Ended  time.Time
}

// digest of a score as it is written.
func digest(score string) string {
	s := sha256.Sum256([]byte(score))
	return hex.EncodeToString(s[:16])
}

// digestOfNotes of a score leaves its fingers out: it is the same for what sameNotes finds the same.
func digestOfNotes(score string) string {
	s, _, err := notation.Read(strings.NewReader(score), "score.musicxml", notation.Limits{})
	if err != nil {
		return ""
	}
	h := sha256.New()
	for p := range s.Parts {
		fmt.Fprintln(h, "part", p)
		for _, n := range s.Parts[p].Notes {
			fmt.Fprintln(h, n.Bar, n.Start, n.Duration, n.Staff, n.Voice, n.Rest, n.Grace, n.Pitch, n.TieStart, n.TieStop)
		}
	}
	return hex.EncodeToString(h.Sum(nil)[:16])
}

// mostScores scores of one work are kept, the latest. Our choice.
const mostScores = 20

// revise puts w in the place of what stands there now, and keeps the score that goes, once.
func (d *Desk) revise(ctx context.Context, tx Records, now, w Work) error {
	if now.Score != w.Score {
		kept, err := tx.Earlier(ctx, w.Studio, w.ID)
		if err != nil {
			return err
		}
		left, is, was := 0, digest(w.Score), digest(now.Score)
		for _, e := range kept {
			if e.Same == is || e.Same == was || left >= mostScores-1 {
				if err := tx.RemoveEarlier(ctx, w.Studio, e.ID); err != nil {
					return err
				}
				continue
			}
			left++
		}
		if now.Score != "" {
			e := EarlierScore{Studio: w.Studio, Work: w.ID, Score: now.Score, Same: was, Notes: digestOfNotes(now.Score), Ended: d.now()}
			if e.ID, err = NewID[EarlierID](d.o.Rand); err != nil {
				return err
			}
			if err := tx.AddEarlier(ctx, e); err != nil {
				return err
			}
		}
	}
	if err := tx.PutWork(ctx, w); err != nil {
		return err
	}
	return refit(ctx, tx, w)
}

// RefingerWork puts other fingers into a work's score for everybody. was is the score that they were chosen for: where
// another one stands there by now, nothing is overwritten. The same once more changes nothing.
func (d *Desk) RefingerWork(ctx context.Context, v Viewer, id WorkID, score, was string) error {
	if err := v.must(itsTheLibrary, Teacher); err != nil {
		return err
	}
	return problemOf(d.store.Within(ctx, func(tx Records) error {
		now, err := tx.HoldWork(ctx, v.Studio, id)
		if err != nil || now.Score == score {
			return err
		}
		if now.Score != was {
			return &Problem{Kind: Conflict, Say: "The score of " + now.Title + " was changed in the meantime. Finger it again, so that the fingering fits what stands there now."}
		}
		w := now
		w.Score = score
		return d.revise(ctx, tx, now, w)
	}))
}

// EarlierScores are those that a work had before, the latest first, without the scores themselves; same says which of
// them have the notes that stand there now, and other fingers only.
func (d *Desk) EarlierScores(ctx context.Context, v Viewer, w Work) (all []EarlierScore, same map[EarlierID]bool, err error) {
	if err := v.must(itsTheLibrary, Teacher); err != nil {
		return nil, nil, err
	}
	if all, err = d.store.Earlier(ctx, v.Studio, w.ID); err != nil || len(all) == 0 {
		return nil, nil, problemOf(err)
	}
	same = map[EarlierID]bool{}
	notes := digestOfNotes(w.Score)
	for _, e := range all {
		same[e.ID] = notes != "" && e.Notes == notes
	}
	return all, same, nil
}

// EarlierScore is one of them.
func (d *Desk) EarlierScore(ctx context.Context, v Viewer, w WorkID, id EarlierID) (EarlierScore, error) {
	if err := v.must(itsTheLibrary, Teacher); err != nil {
		return EarlierScore{}, err
	}
	e, err := d.store.EarlierScore(ctx, v.Studio, w, id)
	return e, problemOf(err)
}

// RestoreScore puts an earlier score of a work in its place again; the one that stood there is kept in turn.
func (d *Desk) RestoreScore(ctx context.Context, v Viewer, w WorkID, id EarlierID) error {
	if err := v.must(itsTheLibrary, Teacher); err != nil {
		return err
	}
	return problemOf(d.store.Within(ctx, func(tx Records) error {
		now, err := tx.HoldWork(ctx, v.Studio, w)
		if err != nil {
			return err
		}
		e, err := tx.EarlierScore(ctx, v.Studio, w, id)
		if err != nil {
			return err
		}
		back := now
		back.Score = e.Score
		return d.revise(ctx, tx, now, back)
	}))
}

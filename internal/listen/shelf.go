package listen

import (
	"context"
	"crypto/sha256"
	"fmt"

	"antiphon/internal/ear"
	"antiphon/internal/music"
	"antiphon/internal/studio"
)

// shelf is what a take is compared with where nobody said, or said rightly, what it is.
type shelf struct {
	key        [sha256.Size]byte // of works and scores
	works      []studio.Work
	repertoire *ear.Repertoire
}

// shelfOf prepares works for recognition. Reading some hundred scores takes a second, so that the newest
// shelf of a studio is kept.
func (h *Hands) shelfOf(id studio.StudioID, works []studio.Work) shelf {
	sum := sha256.New()
	for _, w := range works {
		fmt.Fprintf(sum, "%s %d %s", w.ID, len(w.Score), w.Score)
	}
	s := shelf{works: works}
	sum.Sum(s.key[:0])
	h.mu.Lock()
	defer h.mu.Unlock()
	if kept := h.shelves[id]; kept.key == s.key {
		return kept
	}
	scores := make([]*music.Score, len(works))
	for i, w := range works {
		if scores[i] = readScore(w); scores[i] == nil {
			scores[i] = &music.Score{} // keeps its place, and is like nothing
		}
	}
	s.repertoire = ear.NewRepertoire(scores)
	h.shelves[id] = s
	return s
}

// worthNaming is the confidence below which a work is not named to anybody.
const worthNaming = 0.05

// soundsLike ranks the works that a take may be of.
func (h *Hands) soundsLike(ctx context.Context, id studio.StudioID, l *ear.Listening, works []studio.Work) ([]likeWork, error) {
	if len(works) == 0 {
		return nil, nil
	}
	s := h.shelfOf(id, works)
	r, err := l.SoundsLike(ctx, s.repertoire)
	if err != nil {
		return nil, err
	}
	var out []likeWork
	for _, k := range r.Likely {
		if k.Confidence >= worthNaming {
			out = append(out, likeWork{work: s.works[k.Score], confidence: k.Confidence, soundsHigher: k.SoundsHigher})
		}
	}
	return out, nil
}

// higher says that a take lies above or below what is written.
func higher(semitones int) studio.Concern {
	c := studio.Concern{Kind: Capo}
	switch n := max(semitones, -semitones); {
	case semitones == 0:
	case semitones == 12:
		c.Say = "Everything sounds an octave higher than written."
	case semitones == -12:
		c.Say = "Everything sounds an octave lower than written."
	case semitones > 0 && n == 1:
		c.Say = "Everything sounds a semitone higher than written, as with a capo on the first fret; it was heard at that height."
	case semitones > 0:
		c.Say = fmt.Sprintf("Everything sounds %d semitones higher than written, as with a capo on fret %d; it was heard at that height.", n, n)
	default:
		c.Say = fmt.Sprintf("Everything sounds %d semitones lower than written; it was heard at that height.", n)
	}
	return c
}

package findings

import (
	"strings"

	"antiphon/internal/music"
)

// freeWords begin the directions that ask to leave the tempo; common practice, no source.
func freeWords() []string {
	return []string{"rit", "rall", "accel", "stringendo", "allarg", "ritard", "cédez", "cedez", "poco a poco", "rubato", "ad lib", "a piacere", "senza misura", "calando", "morendo", "smorz"}
}

// backWords end them.
func backWords() []string { return []string{"a tempo", "tempo i", "tempo primo", "in tempo"} }

// freeBars are the bars in which the score itself asks for another tempo: from a word like "rit." to
// the next tempo mark or "a tempo", at most four bars.
func (s *scene) freeBars() map[int]bool {
	const longest = 4
	free := map[int]bool{}
	for _, p := range s.score.Parts {
		for _, d := range p.Directions {
			if d.Kind != music.Words || !hasAny(d.Text, freeWords()) {
				continue
			}
			for bar := d.Bar; bar < min(d.Bar+longest, len(s.score.Bars)); bar++ {
				if bar > d.Bar && s.backInTempo(bar) {
					break
				}
				free[bar] = true
			}
		}
	}
	return free
}

// backInTempo reports whether a bar begins in tempo again.
func (s *scene) backInTempo(bar int) bool {
	for _, t := range s.score.Tempos {
		if s.score.BarAt(t.At) == bar {
			return true
		}
	}
	for _, p := range s.score.Parts {
		for _, d := range p.Directions {
			if d.Bar == bar && d.Kind == music.Words && hasAny(d.Text, backWords()) {
				return true
			}
		}
	}
	return false
}

func hasAny(text string, words []string) bool {
	text = strings.ToLower(strings.TrimSpace(text))
	for _, w := range words {
		if strings.HasPrefix(text, w) || strings.Contains(text, " "+w) {
			return true
		}
	}
	return false
}

// heldNotes are the notes under a fermata, and those before a breath or a caesura: time stands still
// there by the score's own wish.
func (s *scene) heldNotes() map[int]bool {
	held := map[int]bool{}
	for i, refs := range s.score.Written() {
		for _, r := range refs {
			for _, m := range s.score.Parts[r.Part].Notes[r.Note].Marks {
				switch m.Kind {
				case "fermata", "breath-mark", "caesura":
					held[i] = true
				}
			}
		}
	}
	return held
}

// fifths is the key signature in force in a bar of a part.
func (s *scene) fifths(part string, bar int) int {
	f := 0
	for _, p := range s.score.Parts {
		if p.ID != part {
			continue
		}
		for _, a := range p.Attributes {
			if a.Key != nil && a.Bar <= bar {
				f = a.Key.Fifths
			}
		}
	}
	return f
}

package ear

import "antiphon/internal/music"

// Pulse measures tempo, steadiness and the timing of each note once more, after somebody who knows
// better changed the passes or the notes of h. score is the one that h was made with. Everything else
// stays as it was measured.
func (h *Hearing) Pulse(score *music.Score) {
	h.Tempo = Tempo{}
	h.pulse(newRoute(score))
}

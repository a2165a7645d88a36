package sound

import "context"

// tone is what one recording of one note is made for. Notes of the same tone share it.
type tone struct {
	midi      int
	str, fret int // string 0: unknown
	bridgeMm  int // where it is plucked
	rest      bool
	harmonic  bool
	slurred   bool
	layerDb   int // dynamics in steps; what is finer is done by gain
}

// layerStepDb is the step in which the colour of dynamics changes.
const layerStepDb = 4

// recording is a note that rings freely. It begins some samples before its onset.
type recording struct {
	pcm   []float32
	onset int // sample of pcm that belongs on the score's time
}

// guitarist records notes. Each recording is at least as long as asked for, or as long as the note
// rings, and all are equally loud: the level of the notes is the business of the mixer.
type guitarist interface {
	record(ctx context.Context, tones []tone, lengthN []int) ([]recording, error)
}

// layer is the dynamic layer of a level.
func layer(levelDb float64) int {
	steps := int(levelDb / layerStepDb)
	if d := levelDb - float64(steps*layerStepDb); d > layerStepDb/2.0 {
		steps++
	} else if d < -layerStepDb/2.0 {
		steps--
	}
	return layerStepDb * min(max(steps, -4), 2)
}

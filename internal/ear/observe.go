package ear

// Observation is what a model was shown once, for those who fit the models.
type Observation struct {
	Of     Decision
	S      float64 // of the stroke
	FromS  float64 // of an onset: where its window begins
	Midi   int     // as written: without the take's tuning and the capo
	Note   int     // index into Hearing.Score if it is written there, else -1
	Inputs []float32
	Output float64 // log odds, or the onset
}

// Decision says which model was asked.
type Decision int

const (
	Begins        Decision = iota // does this pitch begin at this stroke, whatever the score says?
	Written                       // does this written note?
	Stranger                      // does this pitch, that is not written?
	Onset                         // where in its window does this written note begin?
	WrittenAgain                  // does this written note, now that all of the take was weighed?
	StrangerAgain                 // does this pitch, that is not written, now that all was weighed?
)

// report tells what was asked of the strokes, once the shift is known that makes written pitches of
// those heard.
func (e *evidence) report(strokes []stroke, observe func(Observation)) {
	if observe == nil {
		return
	}
	for i := range strokes {
		k := &strokes[i]
		for p := range pitchCount {
			if k.begun[p] > begunHint || k.grown[p] > grownHint {
				observe(Observation{Of: Begins, S: k.s, Midi: p + lowestMidi - e.shift, Note: -1,
					Inputs: e.look(nil, k, p), Output: float64(k.likely[p])})
			}
		}
	}
}

package ear

import "antiphon/internal/music"

// Hearing is what was measured in one take against one score. Seconds count from the start of the
// take, quarters from the start of the written score. A take of something else has no Passes.
type Hearing struct {
	DurationS    float64
	A4Hz         float64 // the take's own reference pitch
	SNRDb        float64 // level of the playing over the quietest tenth of the take
	ClippedShare float64

	Score []music.Sounding // what the indices below point into

	Match  float64 // how well the take fits the score: right ones lie near 1, others near 0
	Covers float64 // share of clear strokes that the passes explain, 0 to 1
	// Semitones by which a take that does not fit the score lies above it, if so moved it would fit; else 0.
	SoundsHigher int
	Passes       []Pass
	Jumps        []Jump
	Played       []Played // in order of onset
	Missed       []Missed // in order of expected time

	Tempo    Tempo
	Dynamics Dynamics
	Tuning   []StringTuning // one for each open string with enough evidence, sixth string first
	Evenness []FingerSpread // one for each plucking finger with enough notes; may be empty
}

// Pass is one continuous stretch of playing.
type Pass struct {
	N              int // from 1
	FromBar, ToBar string
	StartS, EndS   float64 // first onset to last onset
	Complete       bool    // of a playing from the first to the last note of the score (or round), written repeats taken or not
	Bpm            float64 // median, in beats of Tempo.BeatUnitQ
	SteadinessPct  float64 // see Tempo
}

// JumpKind says how the player left the written order.
type JumpKind string

const (
	Restart JumpKind = "restart" // went back
	Skip    JumpKind = "skip"    // left something out
	Repeat  JumpKind = "repeat"  // a written repeat taken, or another round of a short exercise
)

// Jump is a place where one pass ends and the next begins.
type Jump struct {
	Kind           JumpKind
	FromBar, ToBar string
	StopS, ResumeS float64
	Confidence     float64
}

// Verdict on one played note.
type Verdict string

const (
	Right Verdict = "right"
	Wrong Verdict = "wrong" // played in place of a written note; Midi is what was heard
	Extra Verdict = "extra" // belongs to no written note
)

// Mark is something heard about the sound of a note.
type Mark struct {
	Kind       string // "buzz", "muted", "choked", "squeak"
	Confidence float64
}

// Played is one note that was heard.
type Played struct {
	Note       int // index into Hearing.Score; -1 for an extra note
	Pass       int // Pass.N
	OnsetS     float64
	OffsetS    float64 // end of the sound or the next stroke on the string, whichever is known first
	Midi       int
	Cents      float64 // deviation from equal temperament at A4Hz
	Verdict    Verdict
	TimingMs   float64 // onset minus the place the local tempo gives it; 0 where that is unknown
	LevelDb    float64 // K-weighted, relative to the take's median note
	Confidence float64 // in the verdict, 0 to 1
	Marks      []Mark
}

// Missed is a written note inside a pass that was not heard.
type Missed struct {
	Note       int // index into Hearing.Score
	Pass       int
	ExpectedS  float64
	Confidence float64
}

// Tempo over the take.
type Tempo struct {
	MedianBpm     float64 // beats a minute
	BeatUnitQ     float64 // quarters in a beat: 1, or 1.5 in compound time
	MarkedBpm     float64 // the score's own mark in the same unit; 0 none
	Curve         []TempoPoint
	SteadinessPct float64 // robust spread of log inter-onset intervals about the local tempo, in %
	NPVI          float64 // of equal written durations; 0 perfectly even; see Grabe & Low 2002
}

// TempoPoint is the local tempo at one bar line.
type TempoPoint struct {
	S   float64
	Bar string
	Bpm float64
}

// Dynamics of the take.
type Dynamics struct {
	RangeDb  float64     // 10th to 90th percentile of note levels
	ByMark   []MarkLevel // median level for each written dynamic mark, in order of first appearance
	VoicesDb []VoiceLevel
}

// MarkLevel is the median level of the notes under one dynamic mark.
type MarkLevel struct {
	Mark  string
	Db    float64
	Notes int
}

// VoiceLevel is the median level of one written voice.
type VoiceLevel struct {
	Part, Voice string
	Db          float64
	Notes       int
}

// StringTuning is the deviation of one string from the take's own A4Hz.
type StringTuning struct {
	String     int
	Cents      float64
	SpreadC    float64 // median absolute deviation
	Notes      int
	Confidence float64
}

// FingerSpread is how evenly one plucking finger plays.
type FingerSpread struct {
	Finger    string // p i m a
	TimingMs  float64
	TimingSd  float64
	LevelDb   float64
	LevelSdDb float64
	Notes     int
}

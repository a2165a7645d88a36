package studio

import "fmt"

// Ask is what kind of thing an assignment asks.
type Ask string

const (
	AskPlay     Ask = ""
	AskListen   Ask = "listen"   // a recording of what comes next
	AskNames    Ask = "names"    // say the note names while playing, up and back
	AskTogether Ask = "together" // with a second part, or as a round
	AskChoose   Ask = "choose"   // try two fingerings and choose one
	AskAdd      Ask = "add"      // one more goal on a piece that is known
	AskHeld     Ask = "held"     // not yet: Opens says what would open it
	AskKeep     Ask = "keep"     // a technique that is kept alive
	AskRead     Ask = "read"     // note reading
	AskRest     Ask = "rest"
)

// Asks are all kinds, in the order in which a page offers them.
func Asks() []Ask {
	return []Ask{AskPlay, AskListen, AskNames, AskTogether, AskChoose, AskAdd, AskHeld, AskKeep, AskRead, AskRest}
}

// NeedsWork says that the kind makes no sense without a work.
func (a Ask) NeedsWork() bool {
	switch a {
	case AskListen, AskHeld, AskKeep, AskRead, AskRest:
		return false
	}
	return true
}

// Clip is a stretch of a take, the student's own or the teacher's.
type Clip struct {
	Take  TakeID  // "" for no clip
	FromS float64 // seconds from the start of the take
	ToS   float64
	Say   string  `json:",omitzero"` // what is heard in it
	Media MediaID `json:",omitzero"` // once it is cut; "" until then, and when its take was deleted
}

// Key tells clips of one lesson apart, to the millisecond.
func (c Clip) Key() string { return fmt.Sprintf("%s %.3f %.3f", c.Take, c.FromS, c.ToS) }

// Clips of the assignment, where they are; Media may be set in them.
func (a *Assignment) Clips() []*Clip {
	var all []*Clip
	for _, c := range []*Clip{&a.Like, &a.Unlike, &a.Best, &a.Last} {
		if c.Take != "" {
			all = append(all, c)
		}
	}
	return all
}

// Ladder is how a tempo goes up. The zero value is none.
type Ladder struct {
	FromBpm float64 // quarter notes a minute
	ToBpm   float64
	StepBpm float64
	Clean   int // clean passes in a row before the next rung; 0: no ladder
}

// Rungs are the tempos of a ladder from the lowest to the goal, which is always the last. None without a ladder.
func (l Ladder) Rungs() []float64 {
	if l.Clean <= 0 || !(l.StepBpm > 0) || !(l.ToBpm >= l.FromBpm) {
		return nil
	}
	var all []float64
	for i := 0; len(all) < mostRungs; i++ {
		bpm := l.FromBpm + float64(i)*l.StepBpm
		if bpm >= l.ToBpm {
			break
		}
		all = append(all, bpm)
	}
	return append(all, l.ToBpm)
}

// Question is asked with an assignment. Until it is answered right it comes back in the next lesson.
type Question struct {
	Say     string
	Choices []string `json:",omitzero"` // empty: free words, or a number
	Right   []string // accepted answers, compared without case, accents and signs
	Explain string   `json:",omitzero"` // said once it is answered
}

// Second is what sounds beside the child. The zero value is nothing.
type Second struct {
	Kind      string `json:",omitzero"` // "round" or "part"
	AfterBars int    `json:",omitzero"` // of a round
	Part      string `json:",omitzero"` // of a part: its name in the score
	Who       string `json:",omitzero"` // "tool" or "parent"
}

// What Second.Kind and Second.Who may be.
const (
	Round      = "round"
	SecondPart = "part"
	ByTool     = "tool"
	ByParent   = "parent"
)

// Way is one of two fingerings to try.
type Way struct {
	Say       string
	Fingering string      `json:",omitzero"` // in words
	Own       FingeringID `json:",omitzero"` // kept for the child, to be tried, or AsEverybody; "" as the child plays it, settled when it is sent
}

package listen

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"antiphon/internal/dsp"
	"antiphon/internal/ear"
	"antiphon/internal/findings"
	"antiphon/internal/media"
	"antiphon/internal/music"
	"antiphon/internal/studio"
)

// The kinds of studio.Concern that come from here.
const (
	Quiet       = "too-quiet"
	Clipped     = "clipped"
	CutOff      = "cut-off"
	OtherPiece  = "other-piece"
	NotThis     = "not-this-score"
	OutOfTune   = "string-out-of-tune"
	Noisy       = "noisy"
	Short       = "short"
	NoPlaying   = "no-playing"
	Capo        = "sounds-higher"
	SentBefore  = "sent-before"
	NothingSaid = "not-said-what"
)

// Limits of the triage. Levels are those of 20 ms, in dB below full scale. Over 13 development takes and 30
// drawn ones (beginnings in the middle, restarts, talk, room noise among them) none was called quiet, noisy,
// short or cut off that was not.
const (
	levelS      = 0.02
	quietLevel  = -46.0 // loud moments (95th percentile) of a take that is hardly heard; phones record at −35 to −12
	shortS      = 4.0
	hissDb      = -26.0 // level above 4 kHz between the strokes, against the loud moments: a string's own has died away by then
	ringsDb     = 8.0   // a take that begins or ends inside playing rings this much above its quietest tenth …
	dueGaps     = 1.2   // … and its neighbour in the score was due within so many times its written distance
	edgeS       = 0.06
	clippedFrom = 0.0005 // share of samples at full scale, as in findings
)

// levels are what a recording's loudness tells without any score.
type levels struct {
	loud, middle, low float64 // 95th, 50th and 10th percentile
	first, last       float64 // of the first and last moments
	hiss              float64 // 20th percentile of the level above 4 kHz
}

func measureLevels(pcm media.PCM) levels {
	n := int(levelS * float64(pcm.RateHz))
	if n == 0 || len(pcm.Samples) < 4*n {
		return levels{loud: -120, middle: -120, low: -120, first: -120, last: -120, hiss: -120}
	}
	var all, upper []float64
	for i := 0; i+n <= len(pcm.Samples); i += n {
		x := pcm.Samples[i : i+n]
		all = append(all, levelOf(x))
		upper = append(upper, upperLevel(x))
	}
	edge := max(1, int(edgeS/levelS))
	return levels{loud: dsp.Percentile(all, 0.95), middle: dsp.Percentile(all, 0.5), low: dsp.Percentile(all, 0.1),
		first: slices.Max(all[:edge]), last: slices.Min(all[len(all)-edge:]), hiss: dsp.Percentile(upper, 0.2)}
}

func levelOf(x []float32) float64 {
	sum := 1e-12
	for _, v := range x {
		sum += float64(v) * float64(v)
	}
	return 10 * math.Log10(sum/float64(len(x)))
}

// upperLevel is the level of what the second difference of neighbouring samples lets through, which is
// little below a sixth of the rate (3.7 kHz) and all of it at half the rate.
func upperLevel(x []float32) float64 {
	sum := 1e-12
	for i := 2; i < len(x); i++ {
		d := float64(x[i]-2*x[i-1]+x[i-2]) / 4
		sum += d * d
	}
	return 10 * math.Log10(sum/float64(len(x)))
}

// scene is all that is known when the concerns are written.
type scene struct {
	pcm      media.PCM
	info     media.Info
	levels   levels
	sound    findings.Sound     // asked only where no playing of the score was found
	hearing  *ear.Hearing       // nil where there was no score
	findings []findings.Finding // of the hearing
	title    string             // of what was asked; "" unknown
	work     studio.WorkID
	from, to int          // first and last note asked, indices into hearing.Score
	likely   []likeWork   // the likeliest first
	older    *studio.Take // the same sound, sent before
}

// likeWork is a work that a take may be of.
type likeWork struct {
	work         studio.Work
	confidence   float64
	soundsHigher int
}

// sureOfOther is how sure the ear is before another piece is named to the teacher.
const sureOfOther = 0.5

func (s *scene) heardIt() bool { return s.hearing != nil && len(s.hearing.Passes) > 0 }

// concerns lists what should be known before listening, the gravest first. Each is one sentence.
func (s *scene) concerns() []studio.Concern {
	var out []studio.Concern
	add := func(kind string, atS float64, format string, a ...any) {
		out = append(out, studio.Concern{Kind: kind, AtS: math.Round(1000*atS) / 1000, Say: fmt.Sprintf(format, a...)})
	}
	if !s.heardIt() {
		s.whatElse(add)
	}
	if s.older != nil {
		add(SentBefore, 0, "The same recording was sent before, on %s.", s.older.Arrived.Format("2 January"))
	}
	s.edges(add)
	if c := s.pcm.ClippedShare; c >= clippedFrom {
		add(Clipped, 0, "The recording is overdriven: loudness and tone cannot be trusted.")
	}
	if s.levels.loud < quietLevel && s.sound != findings.Silent {
		add(Quiet, 0, "The recording is very quiet: the phone stood far away, or something covered its microphone.")
	}
	if s.noisy() {
		add(Noisy, 0, "There is much noise in the recording: soft notes may have been missed by the ear.")
	}
	if d := s.pcm.Seconds(); d < shortS && !s.complete() {
		add(Short, 0, "The take is only %.0f seconds long.", math.Ceil(d))
	}
	for _, f := range s.findings {
		if f.Kind == findings.StringTuning && math.Abs(f.Size) >= outOfTuneCents {
			add(OutOfTune, f.FromS, "%s", f.Text)
		}
	}
	return out
}

// outOfTuneCents is from where a string is worth a word before anybody listens; the hearing tells smaller
// ones too. Common practice, no source.
const outOfTuneCents = 12

func (s *scene) whatElse(add func(kind string, atS float64, format string, a ...any)) {
	switch s.sound {
	case findings.Silent:
		add(NoPlaying, 0, "There is hardly any sound in this recording.")
		return
	case findings.Talk:
		add(NoPlaying, 0, "Somebody talks in this recording; no playing was heard.")
		return
	case findings.Noise:
		add(NoPlaying, 0, "There is only noise in this recording; no playing was heard.")
		return
	}
	var other *likeWork
	if len(s.likely) > 0 && s.likely[0].confidence >= sureOfOther {
		other = &s.likely[0]
	}
	switch {
	case s.title == "" && other != nil:
		add(NothingSaid, 0, "It was not said what this is; it sounds like %s.", quoted(other.work.Title))
	case s.title == "":
		add(NothingSaid, 0, "It was not said what this is, and it sounds like nothing in the library.")
	case other != nil && other.work.ID == s.work:
		add(NotThis, 0, "This is like %s, but too much of it could not be found in the score to say what was played.", quoted(s.title))
	case other != nil:
		add(OtherPiece, 0, "This is not %s; it sounds like %s.", quoted(s.title), quoted(other.work.Title))
	case s.hearing == nil:
		add(NotThis, 0, "%s has no score that the ear could compare this with.", quoted(s.title))
	default:
		add(NotThis, 0, "This does not sound like %s, nor like anything else in the library.", quoted(s.title))
	}
}

// edges says where a recording begins or ends in the middle of playing.
func (s *scene) edges(add func(kind string, atS float64, format string, a ...any)) {
	l := s.levels
	if s.info.Truncated {
		add(CutOff, s.pcm.Seconds(), "The file broke off on the way: it ends after %s and should be %s long.", clock(s.pcm.Seconds()), clock(s.info.ClaimedS))
	}
	if !s.heardIt() || s.noisy() {
		return // ringing cannot be told from noise
	}
	first, last := s.reached()
	notes := s.hearing.Score
	if first.Note > s.from && l.first > l.low+ringsDb && first.OnsetS < dueGaps*s.gapS(before(notes, first.Note), first.Note) {
		add(CutOff, 0, "The recording begins in the middle of playing, in bar %s.", notes[first.Note].Bar)
	}
	if last.Note < s.to && !s.info.Truncated && l.last > l.low+ringsDb && s.pcm.Seconds()-last.OnsetS < dueGaps*s.gapS(last.Note, after(notes, last.Note)) {
		add(CutOff, s.pcm.Seconds(), "The recording ends in the middle of playing, in bar %s.", notes[last.Note].Bar)
	}
}

// reached are the first and the last note that was played. Of the notes of one moment the first counts
// at the beginning and the last at the end, so that a chord is reached whole.
func (s *scene) reached() (first, last ear.Played) {
	found := false
	for _, n := range s.hearing.Played {
		if n.Note < 0 {
			continue
		}
		if !found {
			first, found = n, true
		}
		last = n
	}
	notes := s.hearing.Score
	for first.Note > 0 && notes[first.Note].Onset.Cmp(notes[first.Note-1].Onset) == 0 {
		first.Note--
	}
	for last.Note < len(notes)-1 && notes[last.Note].Onset.Cmp(notes[last.Note+1].Onset) == 0 {
		last.Note++
	}
	return first, last
}

// before and after are the notes of the neighbouring moments in the score; the note itself at its ends.
func before(notes []music.Sounding, i int) int {
	for k := i; k >= 0; k-- {
		if notes[k].Onset.Less(notes[i].Onset) {
			return k
		}
	}
	return i
}

func after(notes []music.Sounding, i int) int {
	for k := i; k < len(notes); k++ {
		if notes[i].Onset.Less(notes[k].Onset) {
			return k
		}
	}
	return i
}

// gapS is the time from one note to another at the take's own tempo.
func (s *scene) gapS(from, to int) float64 {
	t := s.hearing.Tempo
	if t.MedianBpm <= 0 || t.BeatUnitQ <= 0 {
		return 0
	}
	q := s.hearing.Score[to].Onset.Q() - s.hearing.Score[from].Onset.Q()
	return q * 60 / (t.MedianBpm * t.BeatUnitQ)
}

func (s *scene) noisy() bool {
	if s.sound == findings.Silent || s.sound == findings.Noise {
		return false // said already
	}
	if s.hearing != nil && slices.ContainsFunc(s.findings, func(f findings.Finding) bool { return f.Kind == findings.TooQuiet }) {
		return true
	}
	return s.levels.hiss > s.levels.loud+hissDb
}

func (s *scene) complete() bool {
	return s.hearing != nil && slices.ContainsFunc(s.hearing.Passes, func(p ear.Pass) bool { return p.Complete })
}

func quoted(title string) string { return "“" + strings.TrimSpace(title) + "”" }

// clock writes seconds as 2:03.
func clock(s float64) string {
	n := int(math.Round(s))
	return fmt.Sprintf("%d:%02d", n/60, n%60)
}

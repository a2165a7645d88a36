package findings

import (
	"fmt"
	"math"
	"slices"

	"antiphon/internal/dsp"
	"antiphon/internal/ear"
)

// Limits for the sound.
const (
	// Notes that ring into each other leave few quiet moments, so good takes of arpeggios show as little
	// as 4 dB between the playing and the quietest tenth of the take: only less than that tells of noise.
	quietDb = 3.0

	clippedShare = 0.0005 // share of samples at full scale from which a recording sounds overdriven; our choice

	stringCents    = 8.0 // a string this far from the others is heard as out of tune in a chord; common practice, no source
	stringNotes    = 3
	referenceCents = 20.0 // distance of the whole guitar from A = 440 (ISO 16)

	flatDb     = 1.0 // soft and loud that differ by less sound alike (about the smallest step one notices)
	contrastDb = 3.0 // and by more are told apart
	markNotes  = 6

	fingerMs    = 18.0
	fingerDb    = 3.0
	fingerNotes = 8

	buzzSure = 0.75
	buzzMin  = 2
)

// recording says when the recording itself stands in the way.
func (s *scene) recording() []Finding {
	var out []Finding
	if c := s.h.ClippedShare; c >= clippedShare {
		out = append(out, Finding{Kind: Clipped, ToS: s.h.DurationS, Size: 100 * c, Unit: "%", Confidence: min(0.95, 0.7+100*c),
			Text: "The recording is overdriven: put the phone farther away or turn the recording level down; loudness and tone cannot be trusted here."})
	}
	if d := s.h.SNRDb; len(s.h.Passes) > 0 && d > 0 && d < quietDb {
		out = append(out, Finding{Kind: TooQuiet, ToS: s.h.DurationS, Size: d, Unit: "dB", Confidence: 0.8,
			Text: "The playing hardly stands out from the noise of the room: record nearer to the guitar; some notes may have been overheard."})
	}
	return out
}

// tuning names strings that do not fit the others, and a guitar far from A = 440.
func (s *scene) tuning() []Finding {
	var out []Finding
	span := func(f Finding) Finding {
		f.FromS, f.ToS = s.h.Passes[0].StartS, s.h.Passes[len(s.h.Passes)-1].EndS
		return f
	}
	for _, t := range s.h.Tuning {
		if math.Abs(t.Cents) < stringCents || math.Abs(t.Cents) < 1.5*t.SpreadC || t.Notes < stringNotes || t.Confidence < Sure {
			continue
		}
		way := "sharp"
		if t.Cents < 0 {
			way = "flat"
		}
		f := Finding{Kind: StringTuning, Aspect: way, Size: t.Cents, Unit: "cents", Confidence: t.Confidence,
			Text: fmt.Sprintf("The %s is about %.0f cents %s against the others.", s.stringInWords(t.String), math.Abs(t.Cents), way)}
		for _, n := range s.h.Score {
			if n.String == t.String {
				f.Evidence = append(f.Evidence, n.ID)
			}
		}
		out = append(out, span(f))
	}
	if a := s.h.A4Hz; a > 0 {
		if cents := 1200 * math.Log2(a/440); math.Abs(cents) >= referenceCents {
			way := "above"
			if cents < 0 {
				way = "below"
			}
			out = append(out, span(Finding{Kind: ReferencePitch, Size: cents, Unit: "cents", Confidence: 0.85,
				Text: fmt.Sprintf("The guitar is tuned to A = %.0f Hz, about %.0f cents %s 440; it was heard at its own pitch.", a, math.Abs(cents), way)}))
		}
	}
	return out
}

// stringInWords is "third string (G)"; the letter only where the guitar is in its usual tuning.
func (s *scene) stringInWords(n int) string {
	text := ordinal(n) + " string"
	usual := n >= 1 && n <= 6
	for _, p := range s.score.Parts {
		for _, a := range p.Attributes {
			if len(a.Tuning) > 0 && !usualTuning(a.Tuning) {
				usual = false
			}
		}
	}
	if usual {
		text += " (" + string("EBGDAE"[n-1]) + ")"
	}
	return text
}

// dynamicRank orders the marks from soft to loud; 0 is unknown.
func dynamicRank(mark string) int {
	return slices.Index([]string{"", "pppp", "ppp", "pp", "p", "mp", "mf", "f", "ff", "fff", "ffff"}, mark)
}

// dynamics compares the softest and the loudest mark that have enough notes.
func (s *scene) dynamics() []Finding {
	var soft, loud *ear.MarkLevel
	for i := range s.h.Dynamics.ByMark {
		m := &s.h.Dynamics.ByMark[i]
		r := dynamicRank(m.Mark)
		if r <= 0 || m.Notes < markNotes {
			continue
		}
		if soft == nil || r < dynamicRank(soft.Mark) {
			soft = m
		}
		if loud == nil || r > dynamicRank(loud.Mark) {
			loud = m
		}
	}
	if soft == nil || dynamicRank(loud.Mark)-dynamicRank(soft.Mark) < 2 {
		return nil
	}
	d := loud.Db - soft.Db
	f := Finding{Size: d, Unit: "dB", FromS: s.h.Passes[0].StartS, ToS: s.h.Passes[len(s.h.Passes)-1].EndS}
	for _, n := range s.h.Score {
		if n.Dynamic == soft.Mark || n.Dynamic == loud.Mark {
			f.Evidence = append(f.Evidence, n.ID)
		}
	}
	switch {
	case d < flatDb:
		f.Kind, f.Confidence = DynamicsFlat, 0.65
		f.Text = fmt.Sprintf("%s and %s are written and sound about equally loud (some phones even out loudness: listen before you say so).", soft.Mark, loud.Mark)
	case d >= contrastDb:
		f.Kind, f.Confidence = DynamicsHeard, min(0.9, 0.6+d/20)
		f.Text = fmt.Sprintf("The difference between %s and %s can be heard (about %.0f dB).", soft.Mark, loud.Mark, d)
	default:
		return nil
	}
	return []Finding{f}
}

// unevenFingers compares each plucking finger with the others.
func (s *scene) unevenFingers() []Finding {
	var out []Finding
	for _, e := range s.h.Evenness {
		if e.Notes < fingerNotes {
			continue
		}
		var ms, db []float64
		for _, o := range s.h.Evenness {
			if o.Finger != e.Finger && o.Notes >= fingerNotes {
				ms, db = append(ms, o.TimingMs), append(db, o.LevelDb)
			}
		}
		if len(ms) == 0 {
			continue
		}
		root := math.Sqrt(float64(e.Notes))
		base := Finding{Kind: UnevenFinger, FromS: s.h.Passes[0].StartS, ToS: s.h.Passes[len(s.h.Passes)-1].EndS, Evidence: s.plucked(e.Finger)}
		if d := e.TimingMs - dsp.Median(ms); math.Abs(d) >= fingerMs && math.Abs(d) >= 3*e.TimingSd/root {
			f, way := base, "late"
			if d < 0 {
				way = "early"
			}
			f.Aspect, f.Size, f.Unit, f.Confidence = way, d, "ms", 0.7
			f.Text = fmt.Sprintf("%s tends to come %s, by about %.0f thousandths of a second.", fingerInWords(e.Finger), way, math.Abs(d))
			out = append(out, f)
		}
		if d := e.LevelDb - dsp.Median(db); e.Finger != "p" && math.Abs(d) >= fingerDb && math.Abs(d) >= 3*e.LevelSdDb/root {
			f, way := base, "louder"
			if d < 0 {
				way = "softer"
			}
			f.Aspect, f.Size, f.Unit, f.Confidence = way, d, "dB", 0.65
			f.Text = fmt.Sprintf("%s sounds %s than the other fingers, by about %.0f dB.", fingerInWords(e.Finger), way, math.Abs(d))
			out = append(out, f)
		}
	}
	return out
}

// fingerInWords is "The thumb (p)".
func fingerInWords(pluck string) string {
	name := map[string]string{"p": "thumb", "i": "index finger", "m": "middle finger", "a": "ring finger"}[pluck]
	if name == "" {
		return "The finger " + pluck
	}
	return "The " + name + " (" + pluck + ")"
}

func (s *scene) plucked(finger string) []string {
	var out []string
	for _, n := range s.h.Score {
		if n.Pluck == finger {
			out = append(out, n.ID)
		}
	}
	return out
}

// buzz gathers notes that may buzz. More than "may" cannot be said from a phone's microphone.
func (s *scene) buzz() []Finding {
	f := Finding{Kind: MayBuzz, Unit: "notes"}
	var bars []string
	for _, n := range s.h.Played {
		for _, m := range n.Marks {
			if m.Kind != "buzz" || m.Confidence < buzzSure || n.Note < 0 {
				continue
			}
			w := s.h.Score[n.Note]
			f.Evidence, f.AtS = append(f.Evidence, w.ID), append(f.AtS, n.OnsetS)
			f.Confidence = max(f.Confidence, m.Confidence)
			if b := s.barName(w.BarIndex); !slices.Contains(bars, b) {
				bars = append(bars, b)
			}
		}
	}
	if len(f.AtS) < buzzMin {
		return nil
	}
	f.Size, f.FromS, f.ToS = float64(len(f.AtS)), f.AtS[0], f.AtS[0]
	f.FromBar, f.ToBar = bars[0], bars[len(bars)-1]
	where := "bar " + bars[0]
	if len(bars) > 1 {
		where = "bars " + list(bars)
	}
	f.Text = fmt.Sprintf("Some notes may buzz (%s).", where)
	return []Finding{f}
}

package report

import (
	"antiphon/internal/ear"
	"antiphon/internal/evidence"
	"antiphon/internal/findings"
)

// passes lays the hearing out, for text and page alike.
func (r Report) passes() []evidence.Line { return evidence.Lay(r.Hearing, r.Score) }

// counts of what was not as written in a bar.
func counts(b evidence.Measure) (wrong, extra, missed int) {
	for _, n := range b.Heard {
		switch n.Verdict {
		case ear.Wrong:
			wrong++
		case ear.Extra:
			extra++
		}
	}
	return wrong, extra, len(b.Missed)
}

// heardName spells a pitch that was heard, with signs: as written where it is the written one, else
// as the key would, "F♮" where the key has F sharp.
func (r Report) heardName(n ear.Played) string {
	if n.Note < 0 {
		return findings.HeardSign(r.Score, n.Midi, r.firstPart(), 0)
	}
	w := r.Hearing.Score[n.Note]
	if w.Midi == n.Midi {
		return findings.Sign(w.Name)
	}
	return findings.HeardSign(r.Score, n.Midi, w.Part, w.BarIndex)
}

func (r Report) firstPart() string {
	if len(r.Score.Parts) == 0 {
		return ""
	}
	return r.Score.Parts[0].ID
}

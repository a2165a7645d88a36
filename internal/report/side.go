package report

import (
	"fmt"
	"html/template"
	"math"
	"slices"
	"strings"

	"antiphon/internal/ear"
)

// keys are the small drawings of the legend, made by the same hand as the notes.
type keys struct{ Right, Late, Wrong, Missed, Extra template.HTML }

func newKeys() keys {
	icon := func(inside string) template.HTML {
		return template.HTML(`<svg width="34" height="22" aria-hidden="true">` + inside + `</svg>`)
	}
	note := func(x float64) string {
		var rib strings.Builder
		ribbon(&rib, x, 11, 20, 0)
		return fmt.Sprintf(`<path class="held" d="M9 11h22"/><path class="place" d="M9 6v10"/><path class="ribbon" d="%s"/><circle class="dot" cx="%g" cy="11" r="3.1"/>`, rib.String(), x)
	}
	return keys{
		Right:  icon(note(9)),
		Late:   icon(note(15)),
		Wrong:  icon(`<path class="held" d="M9 15h22"/><path class="place" d="M9 10v10"/><g class="other"><line class="link" x1="9" y1="15" x2="9" y2="6"/><path class="dot" d="M9 1.4l4.6 4.6l-4.6 4.6l-4.6 -4.6z"/></g>`),
		Missed: icon(`<path class="held" d="M9 11h22"/><path class="place" d="M9 6v10"/><g class="gone"><circle class="ring" cx="9" cy="11" r="4.6"/></g>`),
		Extra:  icon(`<g class="other added"><path class="dot" d="M6 8h6v6h-6z"/></g>`),
	}
}

func tempoText(t ear.Tempo) string {
	if t.MedianBpm <= 0 {
		return ""
	}
	text := fmt.Sprintf("%.0f %s a minute", finite(t.MedianBpm), unitName(t.BeatUnitQ))
	if t.MarkedBpm > 0 {
		text += fmt.Sprintf("; the score says %.0f", finite(t.MarkedBpm))
	}
	return text
}

// farCents is where a string is drawn as out of tune, and dialCents the end of the scale.
const (
	farCents  = 8.0
	dialCents = 30.0
)

func (r Report) sideTables(v *pageView) {
	h := r.Hearing
	if len(h.Tuning) > 0 {
		v.Strings = &stringsText{Dial: template.HTML(dial(h.Tuning)), A4: fmt.Sprintf("%.1f", finite(h.A4Hz))}
	}
	for _, m := range h.Dynamics.ByMark {
		v.Loudness = append(v.Loudness, levelText{"marked " + plain(m.Mark), signed(m.Db, "dB"), fmt.Sprint(m.Notes)})
	}
	if len(h.Dynamics.VoicesDb) > 1 {
		for _, m := range h.Dynamics.VoicesDb {
			where := "voice " + plain(m.Voice)
			if len(r.Score.Parts) > 1 {
				where = r.partName(m.Part) + ", " + where
			}
			v.Loudness = append(v.Loudness, levelText{where, signed(m.Db, "dB"), fmt.Sprint(m.Notes)})
		}
	}
	for _, e := range h.Evenness {
		v.Fingers = append(v.Fingers, fingerText{plain(e.Finger), signed(e.TimingMs, "ms") + fmt.Sprintf(" ± %.0f", finite(e.TimingSd)),
			signed(e.LevelDb, "dB") + fmt.Sprintf(" ± %.0f", finite(e.LevelSdDb)), fmt.Sprint(e.Notes)})
	}
}

func (r Report) partName(id string) string {
	for i, p := range r.Score.Parts {
		if p.ID == id {
			if p.Name != "" {
				return plain(p.Name)
			}
			return fmt.Sprintf("part %d", i+1)
		}
	}
	return plain(id)
}

// signed is a number with its sign and unit; a typographic minus.
func signed(v float64, unit string) string {
	v = math.Round(finite(v)*10) / 10
	switch {
	case v > 0:
		return fmt.Sprintf("+%.1f %s", v, unit)
	case v < 0:
		return fmt.Sprintf("−%.1f %s", -v, unit)
	}
	return "0 " + unit
}

// dial draws each string as a thread with a dot left of the middle where it is flat.
func dial(heard []ear.StringTuning) string {
	list := slices.Clone(heard)
	slices.SortFunc(list, func(a, b ear.StringTuning) int { return a.String - b.String })
	const width, left, row = 400.0, 70.0, 26.0
	const mid = (left + width - 60) / 2
	var words []string
	var b strings.Builder
	for i, s := range list {
		y := row*float64(i) + row/2
		x := mid + min(1, max(-1, finite(s.Cents)/dialCents))*(mid-left)
		class := ""
		if math.Abs(s.Cents) >= farCents {
			class = ` class="far"`
		}
		fmt.Fprintf(&b, `<g%s><text x="0" y="%.1f">string %d</text><path class="rule" d="M%g %.1fH%g"/><path class="zero" d="M%g %.1fv14"/>`,
			class, y+4, s.String, left, y, width-60, mid, y-7)
		fmt.Fprintf(&b, `<path class="off" d="M%g %.1fH%.1f"/><circle cx="%.1f" cy="%.1f" r="4"/><text x="%g" y="%.1f" text-anchor="end">%s</text></g>`,
			mid, y, x, x, y, width, y+4, strings.TrimSpace(signed(s.Cents, "")))
		words = append(words, fmt.Sprintf("string %d: %s cents", s.String, strings.TrimSpace(signed(s.Cents, ""))))
	}
	return fmt.Sprintf(`<svg class="dial" viewBox="0 0 %g %g" role="img" aria-label="%s">%s</svg>`, width, row*float64(len(list)), strings.Join(words, ", "), b.String())
}

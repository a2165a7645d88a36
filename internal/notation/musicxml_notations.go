package notation

import (
	"slices"

	"antiphon/internal/music"
)

// maxMarks on one note; more is a mistake or an attack.
const maxMarks = 64

func (m *measure) notations(n *node, d *music.Note) {
	for _, k := range n.kids {
		if len(d.Marks)+len(d.Spans)+len(d.Tuplets) > maxMarks {
			m.forgive(k, "a note has more signs than can be kept")
			return
		}
		switch k.name {
		case "tied":
			m.tie(k.get("type"), d)
		case "slur", "glissando", "slide":
			m.span(k, d)
		case "tuplet":
			m.tuplet(k, d)
		case "arpeggiate":
			d.Arpeggio = music.Arpeggio{Kind: k.name, Number: number16(k), Form: oneOf(k.get("direction"), "up", "down")}
		case "non-arpeggiate":
			d.Arpeggio = music.Arpeggio{Kind: k.name, Number: number16(k), Form: or(oneOf(k.get("type"), "top", "bottom"), "top")}
		case "fermata":
			text := k.get("type")
			d.Marks = append(d.Marks, music.Mark{Kind: "fermata", Text: oneOf(text, "upright", "inverted")})
		case "dynamics":
			d.Dynamics = append(d.Dynamics, dynamicsOf(k)...)
		case "technical":
			for _, t := range k.kids {
				m.technical(t, d)
			}
		case "articulations":
			for _, t := range k.kids {
				if !articulations[t.name] {
					m.unknown(t)
				} else {
					d.Marks = append(d.Marks, music.Mark{Kind: t.name, Text: clip(or(t.text, t.get("type")), maxVoiceName), Placed: placed(t)})
				}
			}
		case "ornaments":
			for _, t := range k.kids {
				m.ornament(t, d)
			}
		default:
			m.unknown(k)
		}
	}
}

// unknown says that a sign is not kept.
func (m *measure) unknown(k *node) { m.forgive(k, "<"+printable(clip(k.name, 40))+"> is not kept") }

// inGroups puts the signs of a note in the order in which they are written, group by group.
func inGroups(d *music.Note) {
	slices.SortStableFunc(d.Marks, func(a, b music.Mark) int { return markGroup(a.Kind) - markGroup(b.Kind) })
	slices.SortStableFunc(d.Spans, func(a, b music.Span) int { return spanGroup(a.Kind) - spanGroup(b.Kind) })
}

func markGroup(kind string) int {
	switch {
	case ornaments[kind]:
		return 0
	case technicals[kind], kind == "bend":
		return 1
	case articulations[kind]:
		return 2
	}
	return 3
}

func spanGroup(kind string) int {
	switch kind {
	case "wavy-line":
		return 1
	case "hammer-on", "pull-off":
		return 2
	}
	return 0
}

func (m *measure) span(k *node, d *music.Note) {
	role := oneOf(k.get("type"), "start", "stop", "continue")
	if role == "" || (role == "continue" && k.name != "slur" && k.name != "wavy-line") {
		m.forgive(k, "a <"+k.name+"> neither starts nor stops")
		return
	}
	text := clip(k.text, maxVoiceName)
	if k.name == "slur" || k.name == "wavy-line" {
		text = ""
	}
	d.Spans = append(d.Spans, music.Span{Kind: k.name, Role: role, Number: number16(k), Text: text, Placed: placed(k),
		Line: oneOf(k.get("line-type"), "solid", "dashed", "dotted", "wavy")})
}

func (m *measure) tuplet(k *node, d *music.Note) {
	role := oneOf(k.get("type"), "start", "stop")
	if role == "" {
		return
	}
	d.Tuplets = append(d.Tuplets, music.TupletMark{Start: role == "start", Number: number16(k), Bracket: oneOf(k.get("bracket"), "yes", "no"),
		ShowNumber: oneOf(k.get("show-number"), "actual", "both", "none"), Placed: placed(k)})
}

func (m *measure) technical(t *node, d *music.Note) {
	switch t.name {
	case "string":
		if v, ok := whole(t.text, 40); ok && v > 0 {
			d.String = v
		} else {
			m.forgive(t, "a string number is none")
		}
	case "fret":
		if v, ok := whole(t.text, 40); ok && v >= 0 {
			d.Fret, d.HasFret = v, true
		} else {
			m.forgive(t, "a fret number is none")
		}
	case "fingering":
		d.Fingers = append(d.Fingers, music.Fingering{Text: clip(t.text, maxVoiceName), Substitution: t.get("substitution") == "yes",
			Alternate: t.get("alternate") == "yes", Placed: placed(t)})
	case "pluck":
		d.Plucks = append(d.Plucks, clip(t.text, maxVoiceName))
	case "hammer-on", "pull-off":
		m.span(t, d)
	case "harmonic":
		d.Harmonic = music.Harmonic{Present: true, Natural: t.has("natural"), Artificial: t.has("artificial") && !t.has("natural")}
		switch {
		case t.has("base-pitch"):
			d.Harmonic.Pitch = music.HarmonicBase
		case t.has("touching-pitch"):
			d.Harmonic.Pitch = music.HarmonicTouching
		case t.has("sounding-pitch"):
			d.Harmonic.Pitch = music.HarmonicSounding
		}
	case "bend":
		text := clip(or(t.at("bend-alter"), "0"), maxVoiceName)
		switch {
		case t.has("pre-bend"):
			text += " pre-bend"
		case t.has("release"):
			text += " release"
		}
		d.Marks = append(d.Marks, music.Mark{Kind: "bend", Text: text})
	default:
		if !technicals[t.name] {
			m.unknown(t)
		} else {
			d.Marks = append(d.Marks, music.Mark{Kind: t.name, Text: clip(t.text, maxVoiceName), Placed: placed(t)})
		}
	}
}

func (m *measure) ornament(t *node, d *music.Note) {
	switch t.name {
	case "tremolo":
		d.Tremolo = music.Tremolo{Kind: or(oneOf(t.get("type"), "single", "start", "stop", "unmeasured"), "single"), Beams: min(max(wholeOr(t.text, 8, 3), 0), 8)}
	case "wavy-line":
		m.span(t, d)
	default:
		if !ornaments[t.name] {
			m.unknown(t)
		} else {
			d.Marks = append(d.Marks, music.Mark{Kind: t.name, Text: clip(t.text, maxVoiceName), Placed: placed(t)})
		}
	}
}

func placed(n *node) string { return oneOf(n.get("placement"), "above", "below") }

func number16(n *node) int { return min(max(wholeOr(n.get("number"), 16, 1), 1), 16) }

// dynamicsOf lists the marks of a <dynamics>: pp, mf, or the text of an <other-dynamics>.
func dynamicsOf(n *node) []string {
	var out []string
	for _, k := range n.kids {
		switch {
		case k.name == "other-dynamics" && k.text != "":
			out = append(out, clip(k.text, maxVoiceName))
		case dynamicMarks[k.name]:
			out = append(out, k.name)
		}
		if len(out) == 8 {
			break
		}
	}
	return out
}

// Signs of the standard that stand on one note and need nothing but their name, a text and a place.
var (
	articulations = set("accent", "strong-accent", "staccato", "tenuto", "detached-legato", "staccatissimo", "spiccato", "scoop", "plop",
		"doit", "falloff", "breath-mark", "caesura", "stress", "unstress", "soft-accent", "other-articulation")
	technicals = set("up-bow", "down-bow", "open-string", "thumb-position", "double-tongue", "triple-tongue", "stopped", "snap-pizzicato",
		"tap", "heel", "toe", "fingernails", "brass-bend", "flip", "smear", "open", "half-muted", "golpe", "other-technical")
	ornaments = set("trill-mark", "turn", "delayed-turn", "inverted-turn", "delayed-inverted-turn", "vertical-turn", "inverted-vertical-turn",
		"shake", "mordent", "inverted-mordent", "schleifer", "haydn", "other-ornament")
	dynamicMarks = set("p", "pp", "ppp", "pppp", "ppppp", "pppppp", "f", "ff", "fff", "ffff", "fffff", "ffffff", "mp", "mf", "sf", "sfp",
		"sfpp", "fp", "rf", "rfz", "sfz", "sffz", "fz", "n", "pf", "sfzp")
)

func set(names ...string) map[string]bool {
	m := make(map[string]bool, len(names))
	for _, n := range names {
		m[n] = true
	}
	return m
}

package notation

import (
	"slices"
	"strconv"

	"antiphon/internal/music"
)

// tabPlace is where a note is stopped.
type tabPlace struct{ str, fret int }

// standardTuning are the open strings of a guitar as they sound, the first string first.
func standardTuning() []music.Pitch {
	return []music.Pitch{{Step: 'E', Octave: 4}, {Step: 'B', Octave: 3}, {Step: 'G', Octave: 3}, {Step: 'D', Octave: 3}, {Step: 'A', Octave: 2}, {Step: 'E', Octave: 2}}
}

// tuningOf is the tuning that a part states, the first string first, or the guitar's own.
func tuningOf(p *music.Part) []music.Pitch {
	for _, a := range p.Attributes {
		if len(a.Tuning) > 0 {
			t := slices.Clone(a.Tuning)
			slices.Reverse(t)
			return t
		}
	}
	return standardTuning()
}

// findPlaces gives every sounding note a string and a fret: the stated ones, and for the others the
// lowest fret on a string that is free at that moment. A note that two voices share is plucked once, and
// one that no string has is left out.
func (m *meiWriter) findPlaces() {
	m.places = map[music.NoteRef]tabPlace{}
	sounds, written := m.s.Sounding(), m.s.Written()
	tunings := map[string][]music.Pitch{}
	for i := range m.s.Parts {
		tunings[m.s.Parts[i].ID] = tuningOf(&m.s.Parts[i])
	}
	for i := 0; i < len(sounds); {
		j := i
		for j < len(sounds) && sounds[j].Onset.Cmp(sounds[i].Onset) == 0 && sounds[j].Part == sounds[i].Part {
			j++
		}
		taken := map[int]bool{}
		for _, n := range sounds[i:j] {
			taken[n.String] = n.String > 0
		}
		shared := map[int]tabPlace{}  // by pitch
		for k := j - 1; k >= i; k-- { // from the highest note down: it has the fewest strings
			n := &sounds[k]
			if at, ok := shared[n.Midi]; ok && !n.Grace && (n.String == 0 || n.String == at.str) {
				for _, ref := range written[k] {
					m.places[ref] = tabPlace{}
				}
				continue
			}
			place := choose(n, tunings[n.Part], taken)
			if !n.Grace {
				shared[n.Midi] = place
			}
			taken[place.str] = true
			for _, ref := range written[k] {
				m.places[ref] = place
			}
		}
		i = j
	}
}

// choose keeps the stated string, with the fret that gives the pitch where none is stated.
func choose(n *music.Sounding, tuning []music.Pitch, taken map[int]bool) tabPlace {
	if n.String > 0 && n.String <= len(tuning) {
		if n.Fret >= 0 {
			return tabPlace{n.String, n.Fret}
		}
		if fret := n.Midi - tuning[n.String-1].Midi(); fret >= 0 {
			return tabPlace{n.String, fret}
		}
	}
	best, any := tabPlace{}, tabPlace{}
	for i, open := range tuning {
		fret := n.Midi - open.Midi()
		if fret < 0 || fret > mostFrets {
			continue
		}
		if !taken[i+1] && (best.str == 0 || fret < best.fret) {
			best = tabPlace{i + 1, fret}
		}
		if any.str == 0 || fret < any.fret {
			any = tabPlace{i + 1, fret}
		}
	}
	if best.str == 0 { // no string is free, or none has the note: then it is left out
		return any
	}
	return best
}

// mostFrets of a fingerboard; higher notes are not on it.
const mostFrets = 24

// tabEvent writes a chord of the tablature. It has no stems: the notes above it say how long.
func (m *meiWriter) tabEvent(st *meiStaff, e *voiceEvent, length []string) {
	p := &m.s.Parts[st.part]
	type fretted struct {
		id    string
		place tabPlace
	}
	var list []fretted
	for _, j := range e.notes {
		ref := music.NoteRef{Part: st.part, Note: j}
		id := m.ids[ref]
		if n := &p.Notes[j]; n.Rest || id == "" || n.TieStop || e.tied != "" || m.places[ref].str == 0 {
			continue // what is tied over, or stands in another voice, is not plucked again
		}
		list = append(list, fretted{id, m.places[ref]})
	}
	if len(list) == 0 {
		if !e.grace {
			m.empty("space", length...)
		}
		return
	}
	if e.grace {
		length = append(length, "grace", "acc")
	}
	m.begin("tabGrp", length...)
	for _, f := range list {
		m.empty("note", "xml:id", TabID(f.id), "tab.course", strconv.Itoa(f.place.str), "tab.fret", strconv.Itoa(f.place.fret))
	}
	m.end()
}

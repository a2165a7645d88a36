package hands

import (
	"fmt"

	"antiphon/internal/music"
	"antiphon/internal/playable"
)

// tell says what one player's answer could not give.
func (v *solved) tell(f *Fingering, sounding []music.Sounding, asks map[string]ask) {
	for _, k := range v.piece.Dropped() {
		n := sounding[v.j.of[k][0]]
		in := v.j.in
		text := ""
		switch low, high := in.Pitch(in.Strings(), 0), in.Pitch(1, in.Highest()); {
		case len(in.Places(n.Midi)) == 0 && n.Midi < low:
			text = fmt.Sprintf("Bar %s: %s lies below the lowest string (%s): play it an octave higher, leave it out, or tune lower.", n.Bar, n.Name, music.SpellMidi(low, 0).Name())
		case len(in.Places(n.Midi)) == 0 && n.Midi > high:
			text = fmt.Sprintf("Bar %s: %s lies above the last fret (%s): play it an octave lower or leave it out.", n.Bar, n.Name, music.SpellMidi(high, 0).Name())
		case len(in.Places(n.Midi)) == 0:
			text = fmt.Sprintf("Bar %s: %s lies on no string of this guitar: move it an octave or leave it out.", n.Bar, n.Name)
		default:
			text = fmt.Sprintf("Bar %s: %s cannot be held together with the other notes struck at that moment by this hand: leave it out, move it an octave, or break the chord.", n.Bar, n.Name)
		}
		f.Told = append(f.Told, Told{Unplayable, n.Bar, ids(sounding, v.j.of[k]), text})
	}
	for k, of := range v.j.of {
		for _, i := range of {
			a, ok := asks[sounding[i].ID]
			st := v.stops[k]
			if !ok || st.String == 0 {
				continue
			}
			met := (a.ask.String < 0 || a.ask.String == st.String) && (a.ask.Fret < 0 || a.ask.Fret == st.Fret) && (a.ask.Finger < 0 || a.ask.Finger == st.Finger)
			for _, fb := range a.forbid {
				if (fb.String == 0 || fb.String == st.String) && (fb.Finger < 0 || fb.Finger == st.Finger) {
					met = false
				}
			}
			if !met {
				n := sounding[i]
				f.Told = append(f.Told, Told{WishBroken, n.Bar, []string{n.ID},
					fmt.Sprintf("Bar %s: %s (%s) cannot be taken as asked%s; the best that can be played is given instead. Ask for less at this place.", n.Bar, n.Name, n.ID, askedAs(a))})
			}
		}
	}
}

func askedAs(a ask) string {
	t := ""
	if a.ask.String >= 0 {
		t += fmt.Sprintf(" on string %d", a.ask.String)
	}
	if a.ask.Finger >= 0 {
		t += fmt.Sprintf(" with finger %d", a.ask.Finger)
	}
	return t
}

func ids(sounding []music.Sounding, of []int) (out []string) {
	for _, i := range of {
		out = append(out, sounding[i].ID)
	}
	return out
}

// pass tells a fault that the checker found.
func (f *Fingering) pass(x playable.Fault) {
	switch x.Kind {
	case playable.BrokenLimit:
		f.Told = append(f.Told, Told{BeyondSkill, x.Bar, x.Notes, x.Text + " No way was found here that keeps to it: simplify the place, or teach it first."})
	case playable.CutString, playable.CutFinger, playable.CutReach, playable.CutBarre:
		f.Told = append(f.Told, Told{Released, x.Bar, x.Notes, x.Text})
	default:
		if x.Level == playable.Impossible {
			f.Told = append(f.Told, Told{Unplayable, x.Bar, x.Notes, x.Text})
		}
	}
}

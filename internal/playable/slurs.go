package playable

// slurs checks hammer-ons and pull-offs: one string, two fingers (or an open string), no pluck.
func (sh *sheet) slurs() {
	type line struct {
		kind   string
		number int
	}
	begun := map[line]*mark{}
	for _, m := range sh.marks {
		for _, sp := range m.spans {
			if sp.Kind != "hammer-on" && sp.Kind != "pull-off" || sp.Role != "stop" {
				continue
			}
			from := begun[line{sp.Kind, sp.Number}]
			delete(begun, line{sp.Kind, sp.Number})
			if from == nil || from == m {
				continue
			}
			two := []*mark{m, from}
			switch {
			case !from.placed || !m.placed:
			case from.place.String != m.place.String:
				sh.add(SlurStrings, Impossible, 0, "", two, "the slur from %s to %s leaves string %d", from.Name, m.Name, from.place.String)
			case from.finger > 0 && from.finger == m.finger && from.place != m.place:
				sh.add(SlurFinger, Impossible, 0, "", two, "finger %d cannot slur from %s to %s by itself", m.finger, where(from.place), where(m.place))
			}
		}
		for _, sp := range m.spans {
			if (sp.Kind == "hammer-on" || sp.Kind == "pull-off") && sp.Role == "start" {
				begun[line{sp.Kind, sp.Number}] = m
			}
		}
		if m.Slurred && !m.slid && m.Pluck != "" {
			sh.add(PluckedSlur, Impossible, 0, "", []*mark{m}, "%s is slurred to, but marked %s for the right hand", m.Name, m.Pluck)
		}
	}
}

package ear

// layOut fills in passes and jumps from the path.
func (h *Hearing) layOut(r *route, strokes []stroke, path []node) {
	if len(path) == 0 {
		return
	}
	from := 0
	var begins, ends, written []bool // of each pass: at the first note, at the last, by a written repeat
	closePass := func(to int) {
		a, b := path[from], path[to]
		h.Passes = append(h.Passes, Pass{N: len(h.Passes) + 1,
			FromBar: r.moments[a.moment].label, ToBar: r.moments[b.moment].label,
			StartS: strokes[a.stroke].s, EndS: strokes[b.stroke].s})
		begins, ends = append(begins, a.moment == 0), append(ends, int(b.moment) == len(r.moments)-1)
		written = append(written, a.kind == along && r.arcs[a.arc].back)
		from = to + 1
	}
	for i := 1; i < len(path); i++ {
		nd, was := path[i], path[i-1]
		if nd.kind != leap && !(nd.kind == along && r.arcs[nd.arc].back) {
			continue
		}
		kind := Skip
		switch {
		case nd.kind == along, nd.moment == 0 && int(was.moment) == len(r.moments)-1: // to the end, and once more
			kind = Repeat
		case nd.moment <= was.moment:
			kind = Restart
		}
		h.Jumps = append(h.Jumps, Jump{Kind: kind, FromBar: r.moments[was.moment].label, ToBar: r.moments[nd.moment].label,
			StopS: strokes[was.stroke].s, ResumeS: strokes[nd.stroke].s, Confidence: 0.8})
		closePass(i - 1)
	}
	closePass(len(path) - 1) // A pass that a written repeat leads into or out of goes on in its neighbour.
	for i := 1; i < len(h.Passes); i++ {
		begins[i] = begins[i] || written[i] && begins[i-1]
	}
	for i := len(h.Passes) - 1; i >= 0; i-- {
		ends[i] = ends[i] || i+1 < len(h.Passes) && written[i+1] && ends[i+1]
		h.Passes[i].Complete = begins[i] && ends[i]
	}
}

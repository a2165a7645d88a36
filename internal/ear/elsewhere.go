package ear

import "slices"

// What a pitch looks like at a stroke is compared with what it looks like elsewhere in the take: where the
// same notes are written, and where the same pitch clearly began.
const (
	likenessMost  = 8 // places to compare with, the nearest
	likenessSure  = 0.5
	likenessCount = 3*portraitPartials + 4
)

// haunts are the places on the path where the moments of each kind, and each pitch, were heard.
type haunts struct {
	kind, pitch map[int][]int
	seen        map[haunt]stance
	column      []float32 // scratch
}

type haunt struct{ frame, pitch int }

// findHaunts goes over the path before any note is judged.
func (j *judge) findHaunts() {
	j.haunts = haunts{kind: map[int][]int{}, pitch: map[int][]int{}, seen: map[haunt]stance{}}
	for i, nd := range j.path {
		m := &j.route.moments[nd.moment]
		j.haunts.kind[m.kind] = append(j.haunts.kind[m.kind], i)
		for _, midi := range m.pitches {
			if j.likely(&j.strokes[nd.stroke], midi) > likenessSure {
				j.haunts.pitch[midi] = append(j.haunts.pitch[midi], i)
			}
		}
	}
}

// nearestTo are the likenessMost of the sorted places that lie nearest to place i, without i itself.
func nearestTo(places []int, i int) []int {
	hi, found := slices.BinarySearch(places, i)
	lo := hi - 1
	if found {
		hi++
	}
	var near []int
	for len(near) < likenessMost && (lo >= 0 || hi < len(places)) {
		if lo >= 0 && (hi >= len(places) || i-places[lo] <= places[hi]-i) {
			near = append(near, places[lo])
			lo--
		} else {
			near = append(near, places[hi])
			hi++
		}
	}
	return near
}

// stance is how a pitch stands at a stroke: the levels of its partials after it, against the loudest
// partial there, how far they rose, and how loud that partial is.
type stance struct {
	after, rise [portraitPartials]float32
	loudest     float32
}

// Frames of activity from a stroke over which a stance is taken.
var (
	stanceBefore = [...]int{-10, -6}
	stanceAfter  = [...]int{3, 6, 9}
	stanceLoud   = [...]int{4, 8}
)

func (j *judge) stance(frame, p int) stance {
	at := haunt{frame, p}
	if s, ok := j.haunts.seen[at]; ok {
		return s
	}
	g, s := j.sonogram, stance{}
	first := g.bandOf(p)
	var top float32
	for _, off := range stanceLoud {
		top = max(top, peakOf(g.column(frame+off), 0, g.bands-1))
	}
	s.loudest = g.level(top)
	for h, up := range j.offsets.partial {
		var after, before float32
		for _, off := range stanceAfter {
			after += g.level(peakOf(g.column(frame+off), first+up-1, first+up+1)) / float32(len(stanceAfter))
		}
		for _, off := range stanceBefore {
			before += g.level(peakOf(g.column(frame+off), first+up-1, first+up+1)) / float32(len(stanceBefore))
		}
		s.after[h], s.rise[h] = after-s.loudest, after-before
	}
	j.haunts.seen[at] = s
	return s
}

// likeness appends to v how a pitch stands at a scene against how it stands elsewhere: partial by partial,
// and in how many places it was compared.
func (j *judge) likeness(v []float32, sc *scene, midi int) []float32 {
	p := j.at(midi)
	here := j.stance(sc.stroke.frame, p)
	at := func(nodes []int) []stance {
		there := make([]stance, len(nodes))
		for k, i := range nodes {
			there[k] = j.stance(j.strokes[j.path[i].stroke].frame, p)
		}
		return there
	}
	var kind []stance
	if sc.kind >= 0 {
		kind = at(nearestTo(j.haunts.kind[sc.kind], sc.node))
	}
	for h := range portraitPartials {
		v = append(v, j.beyond(here, kind, func(s *stance) float32 { return s.after[h] }),
			j.beyond(here, kind, func(s *stance) float32 { return s.rise[h] }))
	}
	v = append(v, j.beyond(here, kind, func(s *stance) float32 { return s.loudest }), manyPlaces(kind))
	pitch := at(nearestTo(j.haunts.pitch[midi], sc.node))
	for h := range portraitPartials {
		v = append(v, j.beyond(here, pitch, func(s *stance) float32 { return s.after[h] }))
	}
	return append(v, j.beyond(here, pitch, func(s *stance) float32 { return s.loudest }), manyPlaces(pitch))
}

// beyond is by how much a measure of a stance exceeds its median elsewhere; 0 where there is nothing to
// compare with.
func (j *judge) beyond(here stance, there []stance, of func(*stance) float32) float32 {
	if len(there) == 0 {
		return 0
	}
	c := j.haunts.column[:0]
	for i := range there {
		c = append(c, of(&there[i]))
	}
	j.haunts.column = c
	slices.Sort(c)
	return of(&here) - c[len(c)/2]
}

func manyPlaces(there []stance) float32 { return float32(min(len(there), 4)) / 4 }

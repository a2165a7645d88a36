package engrave

import "math"

// field is what stands on and around one staff of one system, ready to be asked where there is room.
type field struct {
	list    []obstacle
	columns map[int][]int // indices into list by the column that they reach into
	effort  *int          // that may still be spent on looking for room, in comparisons
}

// mostEffort of one score: some seconds. A thousand bars for guitar take a hundredth of it.
const mostEffort = 400_000_000

// columnWidth of the index; a matter of speed only.
const columnWidth = 4 * space

func newField(list []obstacle, effort *int) *field {
	f := &field{columns: map[int][]int{}, effort: effort}
	for _, o := range list {
		f.add(o)
	}
	return f
}

// cut takes away all but the first n things.
func (f *field) cut(n int) {
	for len(f.list) > n {
		last := len(f.list) - 1
		for c := column(f.list[last].x0); c <= column(f.list[last].x1); c++ {
			f.columns[c] = f.columns[c][:len(f.columns[c])-1]
		}
		f.list = f.list[:last]
	}
}

func column(x float64) int { return int(math.Floor(x / columnWidth)) }

func (f *field) add(o obstacle) {
	if o.empty() {
		return
	}
	f.list = append(f.list, o)
	for c := column(o.x0); c <= column(o.x1); c++ {
		f.columns[c] = append(f.columns[c], len(f.list)-1)
	}
}

// hit is something that b would touch.
func (f *field) hit(b box) (obstacle, bool) {
	if *f.effort < 0 {
		return obstacle{}, false // it is given up, and the caller of it all will be told
	}
	for c := column(b.x0); c <= column(b.x1); c++ {
		*f.effort -= len(f.columns[c])
		for _, i := range f.columns[c] {
			if o := &f.list[i]; o.hits(b) {
				return *o, true
			}
		}
	}
	return obstacle{}, false
}

// top is the highest thing between two places, or from where nothing stands.
func (f *field) top(x0, x1, from float64) float64 {
	for c := column(x0); c <= column(x1) && *f.effort >= 0; c++ {
		*f.effort -= len(f.columns[c])
		for _, i := range f.columns[c] {
			if o := &f.list[i]; o.x0 < x1 && x0 < o.x1 {
				from = min(from, o.y0)
			}
		}
	}
	return from
}

func (f *field) bottom(x0, x1, from float64) float64 {
	for c := column(x0); c <= column(x1) && *f.effort >= 0; c++ {
		*f.effort -= len(f.columns[c])
		for _, i := range f.columns[c] {
			if o := &f.list[i]; o.x0 < x1 && x0 < o.x1 {
				from = max(from, o.y1)
			}
		}
	}
	return from
}

// rise moves b up from where it is until it touches nothing; sink moves it down.
func (f *field) rise(b box, pad float64) box {
	for {
		o, hit := f.hit(b.grown(pad*0.6, pad))
		if !hit {
			return b
		}
		b = b.moved(0, o.y0-pad-b.y1-0.5)
	}
}

func (f *field) sink(b box, pad float64) box {
	for {
		o, hit := f.hit(b.grown(pad*0.6, pad))
		if !hit {
			return b
		}
		b = b.moved(0, o.y1+pad-b.y0+0.5)
	}
}

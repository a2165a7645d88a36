package pluck

// prior is what the trade's rules say before any print is read. Our choice.
func prior() []float64 {
	w := make([]float64, features)
	set := func(f int, v float64) { w[f] += v }
	for g := range 3 {
		for s := 1; s <= 6; s++ {
			at := func(f finger) int { return atString + (int(f)*6+s-1)*3 + g }
			if s >= 4 {
				set(at(p), []float64{1.6, 0.9, 0.4}[g])
				set(at(a), -1)
			} else {
				set(at(p), []float64{-0.6, -1.5, -2.5}[g]-[]float64{0, 0.8, 0.4, 0}[s])
			}
			if s == 1 {
				set(at(a), []float64{0.6, 0, -0.5}[g])
				set(at(i), -0.3)
			}
			if g == 2 {
				set(at(a), -1.5)
			}
			if s == 2 {
				set(at(m), 0.3)
			}
			if s == 3 {
				set(at(i), 0.5)
				set(at(a), -0.5)
			}
		}
	}
	for f := p; f <= a; f++ {
		for b := range 8 {
			under, lowest := b&4 > 0, b&1 > 0
			if f == p && under {
				set(atRole+int(f)*8+b, 3)
			}
			if f == p && !under && !lowest {
				set(atRole+int(f)*8+b, -2)
			}
			if f == p && lowest && b&2 == 0 { // the lowest of a chord
				set(atRole+int(f)*8+b, 1.5)
			}
		}
		// strings in use: one or two: i m; three: i m a from below; four: p too.
		home := func(rank, size int, v float64) { set(atHome+(int(f)*4+rank)*4+size-1, v) }
		switch f {
		case a:
			home(0, 3, 0.9)
			home(0, 4, 0.9)
			home(0, 1, -0.8)
			home(0, 2, -0.8)
			home(1, 2, -1)
		case m:
			home(0, 2, 0.8)
			home(1, 3, 0.7)
			home(1, 4, 0.7)
			home(0, 1, 0.2)
		case i:
			home(1, 2, 0.8)
			home(2, 3, 0.7)
			home(2, 4, 0.7)
			home(0, 1, 0.2)
		case p:
			home(3, 4, 1)
		}
		for g := p; g <= a; g++ {
			for mv := range 5 {
				v := 0.0
				switch {
				case f == p && g == p:
					v = []float64{-0.5, -0.5, -1.2, 0, 0}[mv]
				case mv > 2 && g > f, mv < 2 && g < f:
					v = 0.6
				case mv > 2 && g < f, mv < 2 && g > f:
					v = -0.7
				}
				if f != p && g != p && f+g == i+m {
					v += 0.3
				}
				set(atMove+(int(f)*4+int(g))*5+mv, v)
			}
			for gap := range 3 {
				if f != p && g != p && int(g-f) == gap+1 {
					set(atChord+(int(f)*4+int(g))*3+gap, 0.6)
				}
				if f == p && g > p && gap == 0 {
					set(atChord+(int(f)*4+int(g))*3+gap, []float64{0, 0.5, -0.3, -1.5}[g])
				}
				if f == p && g == p {
					set(atChord+(int(f)*4+int(g))*3+gap, -1.5)
				}
			}
		}
	}
	for g := range 3 {
		set(atReturn+3+g, []float64{0.8, 0.4, 0.2}[g])
		set(atTwice+g, []float64{-0.2, 0, 0}[g])
	}
	set(atAgain+0, 0)
	set(atAgain+1, -0.3)
	set(atAgain+2, 0)
	set(atAgain+3, -0.5)
	return w
}

package grip

// Prior gives the weights from which learning starts and to which it is drawn: what any teacher would
// say of hands, in round figures. Our own choice; learning corrects it where print says otherwise.
func Prior() []float32 {
	w := make([]float32, features)
	for rank := range 4 {
		for open := range 2 {
			for role := range 4 {
				w[oRank+(rank*2+open)*4+role] = -0.7 * float32(rank)
			}
		}
	}
	for role := range 4 {
		w[oRole+role*5] = 0.4
		w[oRole+role*5+4] = -0.3
	}
	for i, x := range []float32{0, -0.5, -1, -2, -3} {
		w[oStretch+i], w[oHeldWide+i] = x, x
	}
	for i := range 7 {
		for f := range 4 {
			w[oBarre+i*4+f] = -0.8 - 0.15*float32(i)
		}
	}
	for pair := range 6 {
		gap := []int{1, 2, 3, 1, 2, 1}[pair]
		for d := range 8 {
			off := d - gap
			if off < 0 {
				off = -off
			}
			for rel := range 4 {
				x := -0.35 * float32(off)
				if d == 0 && rel < 2 {
					x -= 0.7 // at one fret the lower finger takes the string towards the bass
				}
				w[oPair+(pair*8+d)*4+rel] = x
			}
		}
	}
	shift := []float32{-4, -3.4, -2.8, -2.2, -1.6, -0.9, 0, -0.9, -1.6, -2.2, -2.8, -3.4, -4}
	speed := []float32{1.4, 1.15, 1, 0.8}
	for b, x := range shift {
		for gap, v := range speed {
			w[oShift+(b*4+gap)*2] = x * v
			w[oShift+(b*4+gap)*2+1] = x * v * 0.6
		}
	}
	rel := []float32{0, 1, -0.6, -0.8, -1, -1.2, -1.2, -1.4, -1.4}
	for r, x := range rel {
		for age, share := range []float32{1, 0.5, 0.25} {
			for f := range 4 {
				w[oSameFinger+(r*3+age)*4+f] = x * share
			}
		}
	}
	for age, x := range []float32{-1.5, -1, -0.5} {
		for i := range 25 {
			w[oRefinger+age*25+i] = x
		}
	}
	for m := range 7 {
		off := float32(max(m-3, 3-m))
		w[oHeldFit+m] = -0.3 * off
		for i := range 16 {
			share := float32(1)
			if i%8 >= 4 {
				share = 0.5
			}
			w[oFit+m*16+i] = -0.4 * off * share
		}
	}
	for reason := range 3 {
		for lost, x := range []float32{-0.8, -1.6, -2.4} {
			for b := range 2 {
				w[oCut+(reason*3+lost)*2+b] = x - 0.4*float32(b)
			}
		}
	}
	for b := range 6 {
		for role := range 4 {
			w[oOpenHigh+b*4+role] = -0.15 * float32(b)
		}
	}
	for i := range 10 {
		for ds := range 5 {
			for o := range 4 {
				w[oLine+(i*5+ds)*4+o] = -0.15 * float32(max(ds-2, 2-ds))
			}
		}
	}
	for i := range 6 {
		for pos := range 3 {
			w[oCover+i*3+pos] = -0.1 * float32(i)
		}
	}
	for pair := range 6 {
		gap := []int{1, 2, 3, 1, 2, 1}[pair]
		for d := range 10 {
			off := d - 4 - gap
			if off < 0 {
				off = -off
			}
			for ds := range 5 {
				x := -0.12 * float32(min(off, 4))
				if d == 4 && ds > 2 {
					x -= 0.5 // at one fret the lower finger takes the string towards the bass
				}
				w[oNear+(pair*10+d)*5+ds] = x
			}
		}
	}
	for ago := range 6 {
		share := 1 - float32(ago)/6
		for b := range 5 {
			for alone := range 2 {
				x := float32(0)
				if b >= 2 {
					x = -0.3 * share // chords ring on when every note has its own string
				}
				if b == 1 && ago > 0 {
					x = -0.1 * share
				}
				w[oRing+(ago*5+b)*2+alone] = x
			}
		}
		for o := range 4 {
			w[oSwitch+ago*4+o] = -0.8 * share
		}
	}
	return w
}

// Fine tells features that split what other features say more coarsely; learning holds them closer to
// the prior.
func Fine(f int) bool {
	for _, b := range [][2]int{{oPlace, oRank}, {oShiftLow, oSameFinger}, {oRefinger, oFit}, {oLine, oOpenHigh}, {oHighPos, oNear}} {
		if f >= b[0] && f < b[1] {
			return true
		}
	}
	return false
}

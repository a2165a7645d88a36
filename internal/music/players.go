package music

// Players groups the parts, as indices into Parts, by who plays them: each list is one player's. A
// part is one player, except that a MIDI file may hold one player's voices as tracks of their own:
// parts on the same channel with the same program, none named otherwise than another, are one player.
func (s *Score) Players() [][]int {
	var out [][]int
	for i := range s.Parts {
		joined := false
		for k := range out {
			if s.together(out[k], i) {
				out[k], joined = append(out[k], i), true
				break
			}
		}
		if !joined {
			out = append(out, []int{i})
		}
	}
	return out
}

func (s *Score) together(parts []int, i int) bool {
	for _, j := range parts {
		a, b := &s.Parts[j], &s.Parts[i]
		if a.Channel == 0 || a.Channel != b.Channel || a.Program != b.Program || a.Name != b.Name && a.Name != "" && b.Name != "" {
			return false
		}
	}
	return true
}

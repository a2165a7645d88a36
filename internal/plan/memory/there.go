package memory

// oneSlip is how many notes of a few bars may be not as written before it is said that it went wrong there: in eight
// notes one is an eighth, and one may be a slip, or the ear's own. Our choice.
const oneSlip = 1

// RateThere says how a playing went in a few bars out of a whole: of so many notes there, Stops and RightShare being those
// of these bars alone. One stop there is one too many; one wrong note is forgiven.
func RateThere(h Heard, notes int) Rating {
	right := h.RightShare
	if notes > 0 && right > 0 { // of one long note that was not there nothing is to be forgiven
		right = min(right+oneSlip/float64(notes), 1)
	}
	switch {
	case right < brokenBelow:
		return BrokeDown
	case h.Stops > 0, right < steadyFrom, !h.Complete:
		return Stopped
	case h.GoalBpm > 0 && h.Bpm >= nearGoal*h.GoalBpm:
		return AtTempo
	}
	return Steady
}

package exercise

func (s *sheet) fingerFree() error {
	return unplayable("position", "a hand that moves is not fingered yet; write a position from 1 to 12")
}

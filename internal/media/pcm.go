package media

// PCM is the sound of a take, mixed to one channel and resampled.
type PCM struct {
	Samples      []float32 // −1 to 1
	RateHz       int       // 22050 for the ear
	ClippedShare float64   // share of source samples at full scale, 0 to 1
}

// Seconds is the length of the sound.
func (p PCM) Seconds() float64 {
	if p.RateHz == 0 {
		return 0
	}
	return float64(len(p.Samples)) / float64(p.RateHz)
}

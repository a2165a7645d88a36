package ear

import (
	"math"

	"antiphon/internal/dsp"
)

// The ear listens at 22,050 Hz: the highest partial it uses lies at 6 kHz, and a phone that sends
// 16 kHz loses nothing by it.
const (
	RateHz = 22050

	lowestMidi  = 36 // C2: below a sixth string tuned down to D at A = 415
	highestMidi = 90 // above the 24th fret
	pitchCount  = highestMidi - lowestMidi + 1

	longWindow  = 4096 // 186 ms: tells semitones apart below 700 Hz
	shortWindow = 2048 // 93 ms: quicker, for what lies above 1 kHz

	bandsPerSemitone = 3
	bandFloorHz      = 70
	bandCeilingHz    = 6000
)

// sparse is one row of a mostly empty matrix.
type sparse struct {
	at []int32
	w  []float32
}

func (s *sparse) dot(x []float32) float32 {
	var sum float32
	w := s.w[:len(s.at)]
	for i, k := range s.at {
		sum += w[i] * x[k]
	}
	return sum
}

// bank maps two spectra of one moment, long and short, to one spectrum in thirds of a semitone that
// are centred on the take's own tuning.
type bank struct {
	centreHz    []float64
	baseMidi    float64  // of the lowest band, in the take's own tuning
	long, short []sparse // one row a band, short already faded in, long faded out
}

func newBank(tuningCents float64) *bank {
	n := int(12 * bandsPerSemitone * math.Log2(bandCeilingHz/float64(bandFloorHz)))
	base := math.Ceil((12*math.Log2(float64(bandFloorHz)/440)+69)*bandsPerSemitone) / bandsPerSemitone
	b := &bank{baseMidi: base}
	for i := range n {
		hz := 440 * math.Exp2((base+float64(i)/bandsPerSemitone-69)/12+tuningCents/1200)
		b.centreHz = append(b.centreHz, hz)
		fade := math.Log2(hz/700) / math.Log2(1000.0/700)
		fade = min(max(fade, 0), 1)
		b.long = append(b.long, triangle(hz, longWindow, 1-fade))
		b.short = append(b.short, triangle(hz, shortWindow, fade))
	}
	return b
}

// triangle is a filter a third of a semitone to each side, but never narrower than one bin.
func triangle(hz float64, window int, gain float64) sparse {
	var s sparse
	if gain == 0 {
		return s
	}
	binHz := float64(RateHz) / float64(window)
	width := max(hz*(math.Exp2(1.0/(12*bandsPerSemitone))-1), binHz)
	for k := max(0, int((hz-width)/binHz)); k <= window/2; k++ {
		d := math.Abs(float64(k)*binHz - hz)
		if d < width {
			s.at = append(s.at, int32(k))
			s.w = append(s.w, float32(gain*(1-d/width)))
		} else if float64(k)*binHz > hz {
			break
		}
	}
	return s
}

// bands fills dst with the spectrum in thirds of a semitone.
func (b *bank) bands(dst, long, short []float32) {
	for i := range dst {
		dst[i] = b.long[i].dot(long) + b.short[i].dot(short)
	}
}

// response fills dst with what the bank makes of a steady partial of amplitude 1 at hz.
func (b *bank) response(dst []float32, hz float64) {
	long, short := make([]float32, longWindow/2+1), make([]float32, shortWindow/2+1)
	lobe(long, hz, longWindow)
	lobe(short, hz, shortWindow)
	b.bands(dst, long, short)
}

// lobe adds the main lobe of a Hann window around hz.
func lobe(dst []float32, hz float64, window int) {
	at := hz * float64(window) / RateHz
	for k := max(0, int(at)-3); k < min(len(dst), int(at)+4); k++ {
		x := float64(k) - at
		if math.Abs(x) < 2.5 {
			dst[k] += float32(math.Abs(sinc(x) + 0.5*sinc(x-1) + 0.5*sinc(x+1)))
		}
	}
}

func sinc(x float64) float64 {
	if x == 0 {
		return 1
	}
	return math.Sin(math.Pi*x) / (math.Pi * x)
}

// spectrograph reads spectra in thirds of a semitone from a take.
type spectrograph struct {
	bank        *bank
	long, short *dsp.Spectra
	l, s        []float32
}

func newSpectrograph(tuningCents float64) (*spectrograph, error) {
	long, err := dsp.NewSpectra(longWindow)
	if err != nil {
		return nil, err
	}
	short, err := dsp.NewSpectra(shortWindow)
	if err != nil {
		return nil, err
	}
	return &spectrograph{newBank(tuningCents), long, short,
		make([]float32, long.Bins()), make([]float32, short.Bins())}, nil
}

// at fills dst with the spectrum around one sample.
func (s *spectrograph) at(dst, x []float32, centre int) {
	s.long.At(s.l, x, centre)
	s.short.At(s.s, x, centre)
	s.bank.bands(dst, s.l, s.s)
}

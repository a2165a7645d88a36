// Package dsp holds the signal processing the ear is built from: a real Fourier transform,
// windows, short-time spectra, loudness weighting and running order statistics.
//
// It knows nothing of music. Everything works on slices the caller owns.
package dsp

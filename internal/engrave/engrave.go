// Package engrave puts a score on the page as a guitarist reads it, as SVG, PDF or PNG.
//
// An engraving library that runs in a sandbox draws staves, notes, beams and slurs; everything a guitar
// edition adds (fingers, right-hand letters, strings, positions, barres, strokes, note names) and
// whatever is shown over the score is placed here, around what the library drew, so that nothing
// touches anything. It reads no files but those it keeps for itself, fetches nothing, and refuses, with
// an error that says why, a score that is too long or that the library gives up on.
package engrave

import (
	"bytes"
	"context"
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"errors"
	"fmt"
	"math"
	"time"

	"antiphon/internal/music"
	"antiphon/internal/notation"
)

// Settings of an Engraver. The zero value keeps nothing on disk and works on one score at a time.
type Settings struct {
	CacheDir  string        // where what was compiled and engraved is kept; "" keeps it in memory only
	Library   []byte        // another build of the engraving library, as scripts/engraver makes it; nil means the embedded one
	Manifest  []byte        // the engine.json that was made with Library; nil means that its functions are named as in the embedded one
	Instances int           // scores engraved at once; 0 means 1
	MemoryMB  int           // that the library may use for one score; 0 means 512
	Patience  time.Duration // with one score; 0 means 30 s
}

func (o Settings) filled() Settings {
	if o.Instances <= 0 {
		o.Instances = 1
	}
	if o.MemoryMB <= 0 {
		o.MemoryMB = 512
	}
	if o.Patience <= 0 {
		o.Patience = 30 * time.Second
	}
	return o
}

// ErrTooLarge is a score with more than can sensibly be engraved at once.
var ErrTooLarge = errors.New("the score is too large to engrave at once")

// ErrTooTall is a score whose picture would have too many pixels.
var ErrTooTall = errors.New("the picture would be too large: choose a smaller width, or write a PDF or SVG")

// Limits on one engraving: a long concerto movement is within them.
const (
	mostBars  = 2000
	mostNotes = 40_000
	mostSigns = 10_000
)

// Engraver engraves scores. It may be used from several goroutines.
type Engraver struct {
	lib   *library
	fonts *fonts
	kept  *shelf
	dir   string
}

// New makes an Engraver. It is quick: the library is compiled, or loaded from the cache, when the first
// score comes.
func New(o Settings) (*Engraver, error) {
	o = o.filled()
	lib, err := openLibrary(o)
	if err != nil {
		return nil, err
	}
	f, err := openFonts()
	if err != nil {
		return nil, err
	}
	return &Engraver{lib: lib, fonts: f, kept: newShelf(o.CacheDir), dir: o.CacheDir}, nil
}

// Close frees the library's memory.
func (e *Engraver) Close() error { return e.lib.close(context.Background()) }

// drawn lets the library draw the score on systems of a width in units, or takes the drawing from the
// cache, and places our marks.
func (e *Engraver) drawn(ctx context.Context, s *music.Score, o Options, units float64) (*layout, error) {
	if err := within(s, o); err != nil {
		return nil, err
	}
	width := int(math.Round((units - stripSide - bracketOut) / 10))
	sh, err := e.sheet(ctx, s, o, width, nil)
	if err != nil {
		return nil, err
	}
	if breaks := sh.balanced(float64(10 * width)); breaks != nil {
		if sh, err = e.sheet(ctx, s, o, width, breaks); err != nil {
			return nil, err
		}
	}
	l := newLayout(s, o, sh)
	for i := range sh.systems {
		if err := ctx.Err(); err != nil {
			return nil, err
		}
		if l.system(i); l.effort < 0 {
			return nil, fmt.Errorf("%w: too much stands in one place to find room for all of it", ErrTooLarge)
		}
	}
	l.finish()
	return l, nil
}

// sheet has the library draw the score, with systems that begin at these bars or, if there are none, as
// the library likes.
func (e *Engraver) sheet(ctx context.Context, s *music.Score, o Options, width int, breaks []int) (*sheet, error) {
	var mei bytes.Buffer
	if err := notation.WriteMEI(&mei, s, notation.MEIOptions{Tab: o.withTab(s), Bare: true, From: o.From, Until: o.Until, Breaks: breaks}); err != nil {
		return nil, err
	}
	options := libraryOptions(s, width)
	if breaks != nil {
		options["breaks"], options["minLastJustification"] = "encoded", 0.45
	}
	said, err := json.Marshal(options)
	if err != nil {
		return nil, err
	}
	key := sumOf(fmt.Appendf(bytes.Clone(mei.Bytes()), "\n%s\n%s", e.lib.names.Sum, said))
	pages, ok := e.kept.get(key)
	if !ok {
		err := e.lib.use(ctx, func(in *instance) (err error) {
			pages, err = in.render(mei.String(), options)
			return err
		})
		if err != nil {
			return nil, err
		}
		e.kept.put(key, pages)
	}
	return readSheet(pages, e.fonts)
}

func libraryOptions(s *music.Score, width int) map[string]any {
	room := 1.0 // beside a note, in half spaces, where fingers stand
	for i := range s.Parts {
		for j := range s.Parts[i].Notes {
			if len(s.Parts[i].Notes[j].Fingers) > 0 {
				room = 2.0
			}
		}
	}
	var told []string // what the drawing is to say of its elements beyond their class
	for _, e := range []string{"dynam", "hairpin", "fermata", "trill", "mordent", "turn", "breath", "caesura", "octave", "repeatMark"} {
		told = append(told, e+"@staff")
	}
	for _, e := range []string{"slur", "tie", "lv", "gliss"} {
		told = append(told, e+"@startid", e+"@endid")
	}
	return map[string]any{
		"svgAdditionalAttribute": append(told, "arpeg@plist"), "systemDivider": "none",
		"scale": 100, "pageWidth": width, "pageHeight": 60000, "adjustPageHeight": true, "breaks": "auto", "header": "none", "footer": "none",
		"pageMarginLeft": 0, "pageMarginRight": 0, "pageMarginTop": 0, "pageMarginBottom": 0,
		"svgRemoveXlink": true, "svgFormatRaw": true, "smuflTextFont": "none", "minLastJustification": 0.7,
		"lyricSize": 3.9, "lyricWordSpace": 2.0, // a flat under a note is wider than the library knows
		"leftMarginNote": room, "leftMarginChord": room, "leftMarginAccid": room, "rightMarginNote": room - 1, "rightMarginChord": room - 1,
		"rightMarginBarLine": room - 1, "rightMarginLeftBarLine": room - 1, "rightMarginMeterSig": room,
	}
}

// within refuses what would take too long or too much.
func within(s *music.Score, o Options) error {
	until := len(s.Bars)
	if o.Until > 0 && o.Until < until {
		until = o.Until
	}
	bars, notes, signs := until-o.From, 0, len(s.Tempos)
	for i := range s.Parts {
		for j := range s.Parts[i].Notes {
			if b := s.Parts[i].Notes[j].Bar; b >= o.From && b < until {
				notes++
			}
		}
		signs += len(s.Parts[i].Directions) + len(s.Parts[i].Attributes)
	}
	switch {
	case bars > mostBars:
		return fmt.Errorf("%w: it has %d bars and at most %d can be: choose a passage", ErrTooLarge, bars, mostBars)
	case notes > mostNotes:
		return fmt.Errorf("%w: it has %d notes and at most %d can be: choose a passage", ErrTooLarge, notes, mostNotes)
	case signs > mostSigns:
		return fmt.Errorf("%w: it has %d signs beside its notes and at most %d can be", ErrTooLarge, signs, mostSigns)
	}
	return nil
}

// SVG engraves the whole score on one strip, o.WidthPx wide and as high as it needs.
func (e *Engraver) SVG(ctx context.Context, s *music.Score, o Options) (string, error) {
	o = o.filled()
	units := o.WidthPx / spacePx(o) * space
	l, err := e.drawn(ctx, s, o, units)
	if err != nil {
		return "", err
	}
	return l.svg(l.strip(units), o.WidthPx), nil
}

// spacePx is the size of the music: the distance of two staff lines in pixels. A phone is held closer
// than a desk's screen, and has less room.
func spacePx(o Options) float64 {
	size := 8.6
	if o.WidthPx < 600 {
		size = 7.4
	}
	if o.Scale > 0 {
		size *= o.Scale
	}
	return size
}

func sumOf(b []byte) string {
	s := sha256.Sum256(b)
	return hex.EncodeToString(s[:])
}

// Warm reports whether the first score will not have to wait for the library to be compiled.
func (e *Engraver) Warm() bool { return e.lib.warm(e.dir) }

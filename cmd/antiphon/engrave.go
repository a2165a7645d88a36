package main

import (
	"compress/gzip"
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"strings"

	"antiphon/internal/engrave"
	"antiphon/internal/music"
)

// engraveCmd puts a score on the page.
type engraveCmd struct {
	Score string `arg:"" optional:"" help:"The score: MusicXML, MIDI or ABC."`

	Out   string `short:"o" help:"The page: .svg or .png (one strip), .pdf (paper)." placeholder:"FILE"`
	Force bool   `help:"Replace a file that is there already."`

	Bars    string  `help:"Only these bars, as they are numbered: 5-8." placeholder:"FROM-TO"`
	Width   float64 `help:"Width of an SVG or PNG in pixels." default:"900" placeholder:"PX"`
	Paper   string  `help:"Paper of a PDF: A4 or Letter." default:"A4" placeholder:"SIZE"`
	Scale   float64 `help:"Size of the music; 1 is usual." default:"1" placeholder:"X"`
	Tab     *bool   `help:"A tablature below the notes; without the flag where the score brings one along." negatable:""`
	Names   string  `help:"Note names below the notes: none, letters or do-re-mi." default:"none" enum:"none,letters,do-re-mi,doremi" placeholder:"HOW"`
	Strings string  `help:"Circled string numbers: auto, all or none." default:"auto" enum:"auto,all,none" placeholder:"WHICH"`
	NoTitle bool    `help:"Leave out title and composer."`

	Engraver string `help:"Use this build of the engraving library: the engine.wasm.gz that scripts/engraver made, with its engine.json beside it." placeholder:"FILE"`
	Licences bool   `help:"Print the licences of the engraving library and the fonts."`
}

// Help is what `antiphon engrave --help` says below the usage line.
func (engraveCmd) Help() string {
	return `Engraves a score with every guitar mark it has: fingers, p i m a, strings, positions, barres, strokes, dynamics.

Example:
  antiphon engrave tune.musicxml -o tune.pdf
  antiphon engrave tune.musicxml -o phone.svg --width 390 --names letters
  antiphon engrave tune.mxl -o tune.pdf --paper Letter --tab
  antiphon engrave tune.mxl -o passage.svg --bars 5-8`
}

// Limits on what may be asked.
const (
	narrowestPx, widestPx       = 240, 4000
	smallestScale, largestScale = 0.5, 3.0
)

func (c *engraveCmd) check() error {
	switch ext := strings.ToLower(filepath.Ext(c.Out)); {
	case c.Score == "":
		return usage("no score is given: name a MusicXML, MIDI or ABC file")
	case c.Out == "":
		return usage("no page is named: add -o and a file that ends in .svg, .pdf or .png")
	case ext != ".svg" && ext != ".pdf" && ext != ".png":
		return usage("%s: the page must end in .svg, .pdf or .png", c.Out)
	case !(c.Width >= narrowestPx && c.Width <= widestPx):
		return usage("--width %v cannot be: give %d to %d pixels", c.Width, narrowestPx, widestPx)
	case !(c.Scale >= smallestScale && c.Scale <= largestScale):
		return usage("--scale %v cannot be: give %v to %v", c.Scale, smallestScale, largestScale)
	case !strings.EqualFold(c.Paper, engrave.A4().Name) && !strings.EqualFold(c.Paper, engrave.Letter().Name):
		return usage("--paper %s is not known: give A4 or Letter", c.Paper)
	case sameFile(c.Out, c.Score):
		return usage("%s is what is read, and is not written over: name another file", c.Out)
	}
	return nil
}

func (c *engraveCmd) options(a *app) engrave.Options {
	o := engrave.Options{WidthPx: c.Width, Scale: c.Scale, NoTitle: c.NoTitle, Made: a.now()}
	if strings.EqualFold(c.Paper, engrave.Letter().Name) {
		o.Paper = engrave.Letter()
	}
	if c.Tab != nil {
		o.Tab = engrave.TabHidden
		if *c.Tab {
			o.Tab = engrave.TabShown
		}
	}
	o.Names = map[string]engrave.Names{"letters": engrave.Letters, "do-re-mi": engrave.DoReMi, "doremi": engrave.DoReMi}[c.Names]
	o.Strings = map[string]engrave.Strings{"all": engrave.StringsAll, "none": engrave.StringsNone}[c.Strings]
	return o
}

// Run engraves the score.
func (c *engraveCmd) Run(a *app) error {
	if c.Licences {
		return engrave.Licences(a.out)
	}
	if err := c.check(); err != nil {
		return err
	}
	if _, err := os.Lstat(c.Out); err == nil && !c.Force {
		return existsError(c.Out)
	}
	score, _, err := readScore(c.Score)
	if err != nil {
		return err
	}
	o := c.options(a)
	if c.Bars != "" {
		if o.From, o.Until, err = passage(score, c.Bars); err != nil {
			return err
		}
	}
	settings, err := engraverSettings(c.Engraver)
	if err != nil {
		return err
	}
	e, err := engrave.New(settings)
	if err != nil {
		return err
	}
	defer e.Close()
	if a.errTerm && !e.Warm() {
		const line = "preparing the engraving library, once on this machine: up to 10 seconds"
		fmt.Fprint(a.err, line)
		defer fmt.Fprintf(a.err, "\r%s\r", strings.Repeat(" ", len(line)))
	}
	return writeWhole(c.Out, c.Force, func(w io.Writer) error {
		err := page(a.ctx, e, w, score, strings.ToLower(filepath.Ext(c.Out)), o)
		if errors.Is(err, engrave.ErrTrapped) || errors.Is(err, engrave.ErrTooLong) {
			return fmt.Errorf("%s cannot be engraved (%w): try a part of it, and report it if it stays", c.Score, err)
		}
		if err != nil && c.Engraver != "" {
			return fmt.Errorf("%s, engraved by %s: %w", c.Score, c.Engraver, err)
		}
		if err != nil {
			return fmt.Errorf("%s: %w", c.Score, err)
		}
		return nil
	})
}

// passage finds bars by their printed numbers: "5-8" or "5".
func passage(s *music.Score, bars string) (from, until int, err error) {
	first, last, ranged := strings.Cut(bars, "-")
	if !ranged {
		last = first
	}
	from = -1
	for i := range s.Bars {
		if from < 0 && s.Bars[i].Number == strings.TrimSpace(first) {
			from = i
		}
		if from >= 0 && s.Bars[i].Number == strings.TrimSpace(last) {
			until = i + 1
		}
	}
	if from < 0 || until == 0 {
		return 0, 0, usage("--bars %s: the score has no such bars in this order; its last one is %s", bars, s.Bars[len(s.Bars)-1].Number)
	}
	return from, until, nil
}

func page(ctx context.Context, e *engrave.Engraver, w io.Writer, s *music.Score, form string, o engrave.Options) error {
	switch form {
	case ".pdf":
		return e.PDF(ctx, w, s, o)
	case ".png":
		return e.PNG(ctx, w, s, o)
	}
	svg, err := e.SVG(ctx, s, o)
	if err != nil {
		return err
	}
	_, err = io.WriteString(w, svg)
	return err
}

// largestLibrary is more than any build of the engraving library has.
const largestLibrary = 64 << 20

// engraverSettings keeps what is compiled and engraved in the user's cache folder, where there is one.
func engraverSettings(library string) (engrave.Settings, error) {
	var o engrave.Settings
	dir, err := os.UserCacheDir()
	if err == nil {
		o.CacheDir = filepath.Join(dir, "antiphon", "engraver")
	}
	if library == "" {
		return o, nil
	}
	if o.Library, err = readLibrary(library); err != nil {
		return o, err
	}
	if o.Manifest, err = os.ReadFile(filepath.Join(filepath.Dir(library), "engine.json")); err != nil {
		o.Manifest = nil // then its functions must be named as in the embedded one
	}
	return o, nil
}

// readLibrary reads a WebAssembly module, zipped or plain.
func readLibrary(path string) ([]byte, error) {
	wrong := func(err error) error {
		return fmt.Errorf("%s cannot be read (%w): name an engine.wasm.gz that scripts/engraver built", path, cause(err))
	}
	f, err := os.Open(path)
	if err != nil {
		return nil, wrong(err)
	}
	defer f.Close()
	var r io.Reader = f
	if strings.HasSuffix(path, ".gz") {
		if r, err = gzip.NewReader(f); err != nil {
			return nil, wrong(err)
		}
	}
	data, err := io.ReadAll(io.LimitReader(r, largestLibrary+1))
	if err != nil {
		return nil, wrong(err)
	}
	if len(data) > largestLibrary {
		return nil, wrong(errors.New("it is larger than any build of the engraving library"))
	}
	return data, nil
}

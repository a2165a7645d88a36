package notation

import (
	"errors"
	"fmt"
	"io"
	"math/big"
	"strconv"
	"strings"
	"unicode"

	"antiphon/internal/music"
)

// ErrUnwritable is a score that MusicXML or MIDI cannot hold: a note outside its bar, times without a
// common measure.
var ErrUnwritable = errors.New("the score cannot be written")

// xmlWriter writes one score.
type xmlWriter struct {
	o         *xmlOut
	s         *music.Score
	divisions int64
	ids       []string // of the parts, as XML ids
	signs     map[printedSign]bool
	al        string // " al Fine", " al Coda" or ""
}

// WriteMusicXML writes a partwise MusicXML 4.0 score that is valid by the W3C schema. The same score
// always gives the same bytes.
func WriteMusicXML(w io.Writer, s *music.Score) error {
	if len(s.Parts) == 0 || len(s.Bars) == 0 {
		return fmt.Errorf("%w: it has no parts or no bars", ErrUnwritable)
	}
	x := &xmlWriter{o: newXMLOut(w), s: s}
	if err := x.findDivisions(); err != nil {
		return err
	}
	x.ids, x.signs, x.al = xmlIDs(s.Parts), printedSigns(s), alWhat(s)
	o := x.o
	o.raw("<?xml version=\"1.0\" encoding=\"UTF-8\"?>\n")
	o.raw("<!DOCTYPE score-partwise PUBLIC \"-//Recordare//DTD MusicXML 4.0 Partwise//EN\" \"http://www.musicxml.org/dtds/partwise.dtd\">\n")
	o.begin("score-partwise", "version", "4.0")
	x.header()
	for i := range s.Parts {
		if err := x.part(i); err != nil {
			return err
		}
	}
	o.end()
	return o.flush()
}

// findDivisions finds how finely a quarter is to be divided.
func (x *xmlWriter) findDivisions() error {
	grid := int64(1)
	add := func(b music.Beats) bool {
		_, den := b.Fraction()
		grid = lcm(grid, big.NewInt(den))
		return grid <= maxGrid
	}
	ok := true
	for _, b := range x.s.Bars {
		ok = ok && add(b.Start) && add(b.Length)
	}
	for i := range x.s.Parts {
		p := &x.s.Parts[i]
		for j := range p.Notes {
			ok = ok && add(p.Notes[j].Start) && add(p.Notes[j].Duration)
		}
		for j := range p.Directions {
			ok = ok && add(p.Directions[j].At)
		}
		for j := range p.Attributes {
			ok = ok && add(p.Attributes[j].At)
		}
	}
	for _, t := range x.s.Tempos {
		ok = ok && add(t.At)
	}
	if !ok {
		return fmt.Errorf("%w: its times have no common measure", ErrUnwritable)
	}
	x.divisions = grid
	return nil
}

// count is a time in divisions.
func (x *xmlWriter) count(b music.Beats) string {
	num, den := b.Fraction()
	return strconv.FormatInt(num*(x.divisions/den), 10)
}

func (x *xmlWriter) header() {
	o, s := x.o, x.s
	if s.Title != "" {
		o.begin("work")
		o.leaf("work-title", s.Title)
		o.end()
	}
	o.some("movement-title", s.Subtitle)
	o.begin("identification")
	o.some("creator", s.Composer, "type", "composer")
	for _, c := range s.Creators {
		o.some("creator", c.Name, "type", or(c.Role, "other"))
	}
	for _, r := range s.Rights {
		o.some("rights", r)
	}
	o.begin("encoding")
	o.leaf("software", "Antiphon")
	o.end()
	o.end()
	o.begin("part-list")
	for i, p := range s.Parts {
		id := x.ids[i]
		o.begin("score-part", "id", id)
		o.leaf("part-name", p.Name)
		o.some("part-abbreviation", p.Abbrev)
		if p.Instrument != "" || p.Program > 0 || p.Channel > 0 {
			o.begin("score-instrument", "id", id+"-I1")
			o.leaf("instrument-name", p.Instrument)
			o.end()
		}
		if p.Program > 0 || p.Channel > 0 {
			o.begin("midi-instrument", "id", id+"-I1")
			o.some("midi-channel", positive(min(p.Channel, 16)))
			o.some("midi-program", positive(min(p.Program, 128)))
			o.end()
		}
		o.end()
	}
	o.end()
}

// xmlIDs are the parts' ids where they can be ids of XML, and others where not.
func xmlIDs(parts []music.Part) []string {
	taken := map[string]bool{}
	ids := make([]string, len(parts))
	for i, p := range parts {
		id := p.ID
		if !isXMLID(id) {
			id = "P" + strconv.Itoa(i+1)
		}
		for base, n := id, 2; taken[id] || taken[strings.TrimSuffix(id, "-I1")]; n++ {
			id = base + "-" + strconv.Itoa(n)
		}
		taken[id], taken[id+"-I1"] = true, true
		ids[i] = id
	}
	return ids
}

// isXMLID is stricter than XML: ASCII letters, digits, hyphens, points and underscores.
func isXMLID(s string) bool {
	for i, r := range s {
		letter := r == '_' || (r < unicode.MaxASCII && unicode.IsLetter(r))
		if !letter && (i == 0 || (r != '-' && r != '.' && (r < '0' || r > '9'))) {
			return false
		}
	}
	return s != ""
}

package notation_test

import (
	"bytes"
	"encoding/xml"
	"fmt"
	"io"
	"reflect"
	"slices"
	"strconv"
	"strings"
	"testing"
)

func itoa(n int) string { return strconv.Itoa(n) }

func show(v reflect.Value) string { return fmt.Sprintf("%+v", v.Interface()) }

// childOrder is the order of children in the elements that we write, from the W3C MusicXML 4.0 schema
// (complex types of the same names). Elements not listed here may hold their children in any order.
var childOrder = map[string]string{
	"score-partwise":    "work movement-title identification part-list part",
	"work":              "work-title",
	"identification":    "creator rights encoding",
	"score-part":        "part-name part-abbreviation score-instrument midi-instrument",
	"midi-instrument":   "midi-channel midi-program",
	"attributes":        "divisions key time staves clef staff-details transpose",
	"key":               "fifths mode",
	"clef":              "sign line clef-octave-change",
	"staff-details":     "staff-lines staff-tuning capo",
	"staff-tuning":      "tuning-step tuning-alter tuning-octave",
	"transpose":         "diatonic chromatic octave-change double",
	"note":              "grace cue chord pitch unpitched rest duration tie voice type dot accidental time-modification stem notehead staff beam notations lyric",
	"pitch":             "step alter octave",
	"time-modification": "actual-notes normal-notes normal-type normal-dot",
	"direction":         "direction-type offset voice staff sound",
	"harmony":           "root kind bass frame offset staff",
	"frame":             "frame-strings frame-frets first-fret frame-note",
	"frame-note":        "string fret fingering barre",
	"root":              "root-step root-alter",
	"bass":              "bass-step bass-alter",
	"barline":           "bar-style ending repeat",
	"lyric":             "syllabic text extend",
	"bend":              "bend-alter pre-bend release",
	"harmonic":          "natural artificial base-pitch touching-pitch sounding-pitch",
	"unpitched":         "display-step display-octave",
	"rest":              "display-step display-octave",
	"forward":           "duration",
	"backup":            "duration",
}

// checkOrder checks what we wrote without the schema: elements in order, none unknown in the ordered
// ones, durations positive, ids unique.
func checkOrder(t testing.TB, name string, score []byte) {
	t.Helper()
	type open struct {
		name string
		last int
	}
	var stack []open
	ids := map[string]bool{}
	d := xml.NewDecoder(bytes.NewReader(score))
	for {
		tok, err := d.Token()
		if err == io.EOF {
			return
		}
		if err != nil {
			t.Errorf("%s: not well-formed: %v", name, err)
			return
		}
		switch tok := tok.(type) {
		case xml.StartElement:
			if n := len(stack); n > 0 {
				up := &stack[n-1]
				if order, ok := childOrder[up.name]; ok {
					place := slices.Index(strings.Fields(order), tok.Name.Local)
					if place < 0 || place < up.last {
						t.Errorf("%s: <%s> may not stand here in <%s>", name, tok.Name.Local, up.name)
						return
					}
					up.last = place
				}
			}
			for _, a := range tok.Attr {
				if a.Name.Local == "id" && tok.Name.Local != "part" && tok.Name.Local != "midi-instrument" { // those refer
					if ids[a.Value] {
						t.Errorf("%s: id %q twice", name, a.Value)
					}
					ids[a.Value] = true
				}
			}
			stack = append(stack, open{tok.Name.Local, -1})
		case xml.EndElement:
			stack = stack[:len(stack)-1]
		case xml.CharData:
			if n := len(stack); n > 0 && stack[n-1].name == "duration" {
				if v, err := strconv.ParseInt(string(tok), 10, 64); err != nil || v < 0 {
					t.Errorf("%s: duration %q", name, tok)
				}
			}
		}
	}
}

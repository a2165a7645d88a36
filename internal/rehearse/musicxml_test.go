package rehearse

import (
	"math/rand/v2"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"

	"antiphon/internal/notation"
)

// everyPiece is all that sets are drawn from.
func everyPiece(t *testing.T) []Piece {
	t.Helper()
	pieces, err := written()
	if err != nil {
		t.Fatal(err)
	}
	pieces = append(pieces, built()...)
	rng := rand.New(rand.NewPCG(3, 4))
	for _, kind := range []string{"monophonic", "two-voice", "exercise"} {
		for n := 0; n < 4; n++ {
			pieces = append(pieces, invented(kind, rng, kind))
		}
	}
	pieces = append(pieces, inventedChords("arp", rng, "arpeggio"), inventedChords("strum", rng, "strum"))
	for n := 0; n < 4; n++ {
		pieces = append(pieces, inventedBlocks("blocks", rng), inventedTremolo("tremolo", rng), inventedPair("pair", rng),
			repeated(invented("again", rng, "two-voice"), rng))
	}
	for _, play := range []func(*improviser){func(i *improviser) { i.solo(8) }, func(i *improviser) { i.strums(8) }, func(i *improviser) { i.scale(8) }} {
		im := newImproviser(rng, 100, 32)
		play(im)
		p, _ := im.writeDown(Piece{Name: "asplayed", Title: "As played"}, 0.09)
		pieces = append(pieces, p)
	}
	return pieces
}

// What is written is what package notation reads: two hands wrote the writer and the reader.
func TestMusicXMLReadsBack(t *testing.T) {
	for _, p := range everyPiece(t) {
		s, _, err := notation.Read(strings.NewReader(p.MusicXML()), p.Name+".musicxml", notation.Limits{})
		if err != nil {
			t.Errorf("%s: %v", p.Name, err)
			continue
		}
		got := s.Sounding()
		if len(got) != len(p.Notes) {
			t.Errorf("%s: %d notes read, %d written", p.Name, len(got), len(p.Notes))
			continue
		}
		used := make([]bool, len(p.Notes))
		for _, g := range got {
			found := false
			for i, n := range p.Notes {
				if !used[i] && n.Midi == g.Midi && quarters(n.At) == g.Onset.Q() && quarters(n.Ticks) == g.Duration.Q() && n.Bar == g.BarIndex {
					used[i], found = true, true
					break
				}
			}
			if !found {
				t.Errorf("%s: read a note that was not written: %+v", p.Name, g)
			}
		}
		var bars []int
		for _, stretch := range s.Performed() {
			for b := stretch.From; b <= stretch.To; b++ {
				bars = append(bars, b)
			}
		}
		if want := p.Unrolled(true); len(want) != len(bars) {
			t.Errorf("%s: %d bars performed, want %d: %v", p.Name, len(bars), len(want), bars)
		} else {
			for i := range want {
				if want[i] != bars[i] {
					t.Errorf("%s: performed order %v, want %v", p.Name, bars, want)
					break
				}
			}
		}
	}
}

// The W3C schema is used where ANTIPHON_STANDARDS names the folder that holds musicxml/musicxml.xsd.
func TestMusicXMLIsValid(t *testing.T) {
	schema := filepath.Join(os.Getenv("ANTIPHON_STANDARDS"), "musicxml", "musicxml.xsd")
	if _, err := os.Stat(schema); err != nil {
		t.Skip("ANTIPHON_STANDARDS names no folder with musicxml/musicxml.xsd")
	}
	for _, p := range everyPiece(t) {
		file := filepath.Join(t.TempDir(), "p.musicxml")
		if err := os.WriteFile(file, []byte(p.MusicXML()), 0o644); err != nil {
			t.Fatal(err)
		}
		if out, err := exec.Command("xmllint", "--noout", "--nonet", "--schema", schema, file).CombinedOutput(); err != nil {
			t.Errorf("%s: %v: %s", p.Name, err, out)
		}
	}
}

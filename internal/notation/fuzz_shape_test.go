package notation_test

import (
	"errors"
	"math/rand/v2"
	"strings"
	"testing"

	"antiphon/internal/notation"
)

// pieces are fragments of measures, good and bad, that FuzzShape puts together at random: mutated
// bytes alone are seldom well-formed XML.
func pieces() []string {
	simple := func(inside string) string {
		return `<direction><direction-type>` + inside + `</direction-type></direction>`
	}
	n := func(more string) string { return note("E", 4, 2, more) }
	mark := func(inside string) string { return n(`<notations>` + inside + `</notations>`) }
	return []string{
		n(""), note("C", 3, 4, "<voice>2</voice>"), note("G", 4, 1, "<voice>1</voice><type>eighth</type>"), note("F", 5, 3, "<voice>1</voice><dot/>"),
		`<note><chord/><pitch><step>G</step><octave>4</octave></pitch><duration>2</duration></note>`, `<note><chord/><pitch><step>E</step><octave>3</octave></pitch><duration>6</duration></note>`,
		`<note><rest/><duration>2</duration></note>`, `<note><rest measure="yes"/><duration>8</duration><voice>3</voice></note>`, `<note><rest/></note>`,
		`<note><grace slash="yes"/><pitch><step>D</step><octave>4</octave></pitch></note>`, `<note><grace/><chord/><pitch><step>B</step><octave>4</octave></pitch></note>`,
		`<note><cue/><pitch><step>D</step><octave>4</octave></pitch><duration>2</duration></note>`, `<note><unpitched/><duration>2</duration></note>`,
		`<note print-object="no"><pitch><step>D</step><octave>4</octave></pitch><duration>0</duration></note>`,
		`<backup><duration>2</duration></backup>`, `<backup><duration>8</duration></backup>`, `<forward><duration>3</duration></forward>`, `<forward><duration>0.5</duration></forward>`,
		`<attributes><divisions>3</divisions></attributes>`, `<attributes><divisions>7</divisions></attributes>`, `<attributes><divisions>0.5</divisions></attributes>`, `<attributes><divisions>999999937</divisions></attributes>`,
		`<attributes><key><fifths>-3</fifths></key></attributes>`, `<attributes><time><beats>6</beats><beat-type>8</beat-type></time></attributes>`, `<attributes><time><senza-misura/></time></attributes>`,
		`<attributes><clef><sign>TAB</sign><line>5</line></clef></attributes>`, `<attributes><clef number="2"><sign>TAB</sign></clef></attributes>`, `<attributes><transpose><chromatic>-2</chromatic></transpose></attributes>`,
		`<attributes><staves>2</staves><transpose number="2"><diatonic>1</diatonic><chromatic>7</chromatic><octave-change>-1</octave-change></transpose></attributes>`,
		`<barline location="left"><repeat direction="forward"/></barline>`, `<barline location="right"><repeat direction="backward"/></barline>`, `<barline><repeat direction="backward" times="4" after-jump="yes"/></barline>`,
		`<barline location="left"><ending number="1" type="start"/></barline>`, `<barline><ending number="1" type="stop"/></barline>`, `<barline location="left"><ending number="2, 3" type="start">2.</ending></barline>`, `<barline><ending number="2" type="discontinue"/></barline>`,
		`<barline><bar-style>light-heavy</bar-style></barline>`, `<barline><segno/></barline>`, `<barline location="left"><coda/></barline>`,
		`<sound dacapo="yes"/>`, `<sound dalsegno="segno"/>`, `<sound tocoda="coda"/>`, `<sound coda="coda"/>`, `<sound segno="a b"/>`, `<sound fine="yes"/>`, `<sound tempo="77.7"><offset>3</offset></sound>`,
		simple(`<segno/>`), simple(`<coda/>`), simple(`<words>D.C. al Fine</words>`), simple(`<words>To Coda</words>`), simple(`<words>Fine</words>`), simple(`<words>CODA</words>`), simple(`<dynamics><p/></dynamics>`),
		simple(`<metronome><beat-unit>half</beat-unit><beat-unit-dot/><per-minute>44</per-minute></metronome>`), simple(`<metronome><beat-unit>quarter</beat-unit><beat-unit>eighth</beat-unit></metronome>`), simple(`<metronome><beat-unit>quarter</beat-unit><per-minute>fast</per-minute></metronome>`),
		simple(`<wedge type="crescendo"/>`), `<direction><direction-type><words>late</words></direction-type><offset>1.5</offset></direction>`, `<direction><direction-type><words>early</words></direction-type><offset>-3</offset></direction>`,
		`<harmony><root><root-step>B</root-step><root-alter>-1</root-alter></root><kind>dominant</kind><bass><bass-step>A</bass-step><bass-alter>-1</bass-alter></bass></harmony>`, `<harmony><root><root-step>C</root-step></root><kind>none</kind></harmony>`, `<harmony><root><root-step>C</root-step></root><kind>major</kind><frame><frame-strings>6</frame-strings><frame-frets>5</frame-frets><frame-note><string>5</string><fret>3</fret><barre type="start"/></frame-note></frame></harmony>`,
		mark(`<tied type="start"/>`), mark(`<tied type="stop"/>`), mark(`<tied type="continue"/>`), mark(`<slur type="start"/><slide type="stop"/>`), mark(`<technical><string>2</string><fret>5</fret><fingering>3</fingering><pluck>i</pluck></technical>`),
		mark(`<technical><harmonic><natural/><touching-pitch/></harmonic><fret>7</fret></technical>`), mark(`<technical><hammer-on type="stop"/><bend><bend-alter>1</bend-alter><pre-bend/></bend><tap>T</tap></technical>`),
		mark(`<arpeggiate/><fermata/>`), mark(`<ornaments><tremolo type="unmeasured">0</tremolo><turn/></ornaments>`), mark(`<articulations><strong-accent type="down"/><caesura>odd</caesura></articulations>`),
		n(`<staff>2</staff>`), n(`<time-modification><actual-notes>3</actual-notes><normal-notes>2</normal-notes></time-modification><notehead>x</notehead><accidental>odd</accidental>`), n(`<lyric number="a b"><text>la</text><elision/><text>lo</text></lyric>`),
		`<attributes><measure-style><measure-repeat type="start">1</measure-repeat></measure-style></attributes>`, `<attributes><measure-style><measure-repeat type="stop"/></measure-style></attributes>`,
		"\x00next", "\x00next", "\x00next", "\x00part",
	}
}

// shaped builds a score of the pieces that the bytes choose.
func shaped(choice []byte) string {
	all := pieces()
	parts := [][]string{{""}}
	for _, c := range choice {
		p := &parts[len(parts)-1]
		switch piece := all[int(c)%len(all)]; piece {
		case "\x00next":
			*p = append(*p, "")
		case "\x00part":
			if len(parts) < 3 {
				parts = append(parts, []string{""})
			}
		default:
			(*p)[len(*p)-1] += piece
		}
	}
	var list, body strings.Builder
	for i, p := range parts {
		id := "P" + itoa(i+1)
		list.WriteString(`<score-part id="` + id + `"><part-name/></score-part>`)
		body.WriteString(`<part id="` + id + `">`)
		for k, m := range p {
			if k == 0 {
				m = attr + m
			}
			body.WriteString(bar(itoa(k), m))
		}
		body.WriteString(`</part>`)
	}
	return `<score-partwise><part-list>` + list.String() + `</part-list>` + body.String() + `</score-partwise>`
}

// TestShapesAreValid validates what is written of many odd scores against the W3C schema, where it is
// at hand, and against our own order of elements.
func TestShapesAreValid(t *testing.T) {
	r := rand.New(rand.NewPCG(1, 2))
	valid := 0
	for range 40 {
		choice := make([]byte, 120)
		for i := range choice {
			choice[i] = byte(r.IntN(256))
		}
		s, _, err := notation.Read(strings.NewReader(shaped(choice)), "shape", notation.Limits{})
		if err != nil {
			var re *notation.ReadError
			if !errors.As(err, &re) {
				t.Error(err)
			}
			continue
		}
		validate(t, "shape", written(t, s))
		valid++
	}
	if valid < 20 {
		t.Errorf("only %d of 40 scores could be read", valid)
	}
}

func FuzzShape(f *testing.F) {
	every := make([]byte, len(pieces()))
	for i := range every {
		every[i] = byte(i)
	}
	f.Add(every)
	f.Add([]byte("several bars of this and that, with repeats"))
	f.Fuzz(func(t *testing.T, choice []byte) {
		if len(choice) > 200 {
			choice = choice[:200]
		}
		fuzzRead(t, []byte(shaped(choice)))
	})
}

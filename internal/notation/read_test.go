package notation_test

import (
	"archive/zip"
	"bytes"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"reflect"
	"strings"
	"testing"
	"unicode/utf16"

	"antiphon/internal/music"
	"antiphon/internal/notation"
)

const (
	head = `<score-partwise version="4.0"><part-list><score-part id="P1"><part-name>Guitar</part-name></score-part></part-list><part id="P1">`
	tail = `</part></score-partwise>`
	attr = `<attributes><divisions>2</divisions><time><beats>4</beats><beat-type>4</beat-type></time></attributes>`
)

func note(step string, octave, duration int, more string) string {
	return fmt.Sprintf(`<note><pitch><step>%s</step><octave>%d</octave></pitch><duration>%d</duration>%s</note>`, step, octave, duration, more)
}

func bar(number, inside string) string {
	return fmt.Sprintf(`<measure number="%s">%s</measure>`, number, inside)
}

// TestEverything lists what is to be heard of the score with every sign, worked out by hand. The artificial harmonic
// is touched at D5, a fourth above A4, and sounds the fourth partial, A6.
func TestEverything(t *testing.T) {
	s := readFile(t, "everything.musicxml")
	want := []string{
		"0 P1/1 A3 0+1 s3f2 2 mf", "1 P1/1 G4 1+0 grace mf", "1 P1/2 D3 1+3 s4f0 p mf", "1 P1/1 D4 1+1 s2f3 m rolled mf", "1 P1/1 F#4 1+1 s1f2 1a rolled slurred mf",
		"1 P2/1 A4 1+4", "1 P1/1 E4 2+1/3 s1f0 mf", "1 P1/1 F#4 7/3+1/3 s1f2 mf", "1 P1/1 G4 8/3+1/3 s1f3 slurred mf", "1 P1/1 A4 3+3 s1f5 mf",
		"2 P2/1 C#5 5+2", "2 P1/1 D5 6+1 s1f10 f", "2 P1/1 B3 7+1 s3f4 tremolo3 f", "2 P2/1 A6 7+2 tremolo2", "2 P1/1 C#4 8+1 s3f6 slurred f",
		"3 P1/1 Bb3 21/2+1 cue f", "4 P1/1 C4 23/2+5/2 f", "X1 P1/1 D3 14+2 f", "X1 P2/1 D4 14+2",
	}
	var got []string
	for _, n := range s.Sounding() {
		t := fmt.Sprintf("%s %s/%s %s %v+%v", n.Bar, n.Part, n.Voice, n.Name, n.Onset, n.Duration)
		if n.String > 0 {
			t += fmt.Sprintf(" s%df%d", n.String, n.Fret)
		}
		if hand := n.Finger + n.Pluck; hand != "" {
			t += " " + hand
		}
		for _, f := range []struct {
			said bool
			word string
		}{{n.Grace, "grace"}, {n.Cue, "cue"}, {n.Rolled, "rolled"}, {n.Slurred, "slurred"}, {n.Tremolo > 0, fmt.Sprint("tremolo", n.Tremolo)}, {n.Dynamic != "", n.Dynamic}} {
			if f.said {
				t += " " + f.word
			}
		}
		got = append(got, t)
	}
	if !reflect.DeepEqual(got, want) {
		t.Errorf("got\n%s\nwant\n%s", strings.Join(got, "\n"), strings.Join(want, "\n"))
	}
	if got, want := fmt.Sprint(s.Performed()), "[{0 2} {1 2} {1 1} {3 4} {1 1} {3 3} {5 5}]"; got != want {
		t.Errorf("performed %s, want %s: three endings, then dal segno, last ending, coda", got, want)
	}
	for i, want := range []string{"0 true [] ", "1 false [] ", "2 false [1 2] stop", "3 false [3] discontinue", "4 false [] ", "X1 true [] "} {
		if b := s.Bars[i]; fmt.Sprintf("%s %v %v %s", b.Number, b.Implicit, b.Ending, b.EndingStop) != want {
			t.Errorf("bar %d is %+v, want %s", i, b, want)
		}
	}
	if b := s.Bars; !b[1].RepeatStart || b[2].RepeatEnd != 3 || b[1].Segno != "segno" || b[3].ToCoda != "coda" || b[4].DalSegno != "segno" || b[5].Coda != "coda" || !b[5].Fine {
		t.Errorf("signs of the bars: %+v", b)
	}
	tempos := []float64{90, 180, 72} // dotted quarter = 60; then the old eighth is the new quarter; then sounded only
	for i, at := range []music.Beats{{}, s.Bars[3].Start, s.Bars[5].Start} {
		if bpm, _ := s.TempoAt(at); bpm != tempos[i] {
			t.Errorf("tempo %d is %v, want %v", i, bpm, tempos[i])
		}
	}
}

// asTimewise turns a partwise score of equal bars inside out, by the standard's own rule: the same
// measures, the other way round.
func asTimewise(t *testing.T, partwise string) string {
	t.Helper()
	header, body, _ := strings.Cut(partwise, "<part id=")
	parts := strings.Split(body, "<part id=")
	var ids []string
	var measures [][]string // by part
	for _, p := range parts {
		ids = append(ids, strings.SplitN(p, `"`, 3)[1])
		var ms []string
		for _, m := range strings.Split(p, "<measure ")[1:] {
			m, _, _ = strings.Cut(m, "</part>")
			ms = append(ms, "<measure "+m)
		}
		measures = append(measures, ms)
	}
	out := strings.ReplaceAll(header, "score-partwise", "score-timewise")
	for b := range measures[0] {
		for i, ms := range measures {
			m := strings.TrimSpace(ms[b])
			open := strings.Index(m, ">")
			tag, inside := m[:open+1], strings.TrimSuffix(m[open+1:], "</measure>")
			if strings.HasSuffix(tag, "/>") {
				tag, inside = strings.TrimSuffix(tag, "/>")+">", ""
			}
			if i == 0 {
				out += tag
			}
			out += `<part id="` + ids[i] + `">` + inside + `</part>`
		}
		out += "</measure>"
	}
	return out + "</score-timewise>"
}

func TestTimewise(t *testing.T) {
	data, err := os.ReadFile("testdata/everything.musicxml")
	if err != nil {
		t.Fatal(err)
	}
	partwise := read(t, data)
	timewise := read(t, []byte(asTimewise(t, string(data))))
	if !reflect.DeepEqual(partwise, timewise) {
		t.Errorf("read differently: %s", firstDifference(partwise, timewise))
	}
}

// Encodings: the bytes of ñ and ½ in ISO 8859-1 and Windows-1252 are F1 and BD; „ is 84 in Windows-1252 only.
func TestEncodings(t *testing.T) {
	score := func(encoding, title string) string {
		return `<?xml version="1.0" encoding="` + encoding + `"?><score-partwise><work><work-title>` + title + `</work-title></work>` +
			strings.TrimPrefix(head, `<score-partwise version="4.0">`) + bar("1", attr+note("C", 4, 8, "")) + tail
	}
	wide := func(s string, big, mark bool) string {
		var b []byte
		units := utf16.Encode([]rune(s))
		if mark {
			units = append([]uint16{0xFEFF}, units...)
		}
		for _, u := range units {
			if big {
				b = append(b, byte(u>>8), byte(u))
			} else {
				b = append(b, byte(u), byte(u>>8))
			}
		}
		return string(b)
	}
	for _, c := range []struct{ name, data, title string }{
		{"UTF-8", score("UTF-8", "Españoleta ½ „a"), "Españoleta ½ „a"},
		{"UTF-8 with a mark", "\xEF\xBB\xBF" + score("UTF-8", "Españoleta"), "Españoleta"},
		{"UTF-16 little-endian", wide(score("UTF-16", "Españoleta"), false, true), "Españoleta"},
		{"UTF-16 big-endian", wide(score("UTF-16", "Españoleta"), true, true), "Españoleta"},
		{"UTF-16 without a mark", wide(score("UTF-16", "Españoleta"), false, false), "Españoleta"},
		{"ISO-8859-1", score("ISO-8859-1", "Espa\xF1oleta \xBD"), "Españoleta ½"},
		{"Windows-1252", score("windows-1252", "\x84Espa\xF1oleta"), "„Españoleta"},
		{"Shift JIS", score("Shift_JIS", "\x8C\xC3\x82\xA2"), "古い"},
		{"a lie about UTF-8", score("UTF-8", "Espa\xF1oleta"), "Españoleta"},
		{"nothing declared", strings.TrimPrefix(score("UTF-8", "Españoleta"), `<?xml version="1.0" encoding="UTF-8"?>`), "Españoleta"},
	} {
		s, _, err := notation.Read(strings.NewReader(c.data), "x", notation.Limits{})
		if err != nil {
			t.Errorf("%s: %v", c.name, err)
			continue
		}
		if s.Title != c.title {
			t.Errorf("%s: title %q, want %q", c.name, s.Title, c.title)
		}
	}
	read(t, []byte(strings.Replace(score("UTF-8", "a"), `version="1.0"`, `version="1.1"`, 1)))
	_, _, err := notation.Read(strings.NewReader(score("x-unheard-of", "a")), "x", notation.Limits{})
	if err == nil || !strings.Contains(err.Error(), "unknown encoding") {
		t.Errorf("an unknown encoding: %v", err)
	}
}

// What common writers get wrong is put right and said.
func TestForgives(t *testing.T) {
	for _, c := range []struct{ name, inside, want, said string }{
		{"backup beyond the bar", bar("1", attr+note("C", 4, 2, "")+`<backup><duration>9</duration></backup>`+note("E", 4, 2, "")), "C4@0+1 E4@0+1", "before the bar"},
		{"no divisions", bar("1", note("C", 4, 1, "")), "C4@0+1", ""},
		{"no duration", bar("1", attr+`<note><pitch><step>C</step><octave>4</octave></pitch><type>half</type><dot/></note>`), "C4@0+3", "how it looks"},
		{"chord without a first note", bar("1", attr+`<note><chord/><pitch><step>C</step><octave>4</octave></pitch><duration>2</duration></note>`), "C4@0+1", "no first note"},
		{"step in lower case", bar("1", attr+note("c", 4, 2, "")), "C4@0+1", ""},
		{"quarter tone", bar("1", attr+`<note><pitch><step>C</step><alter>0.5</alter><octave>4</octave></pitch><duration>2</duration></note>`), "C#4@0+1", "quarter tone"},
		{"no pitch at all", bar("1", attr+`<note><duration>2</duration></note>`+note("D", 4, 2, "")), "D4@1+1", "no pitch"},
		{"negative duration", bar("1", attr+note("C", 4, -2, "")+note("D", 4, 2, "")), "C4@0+0 D4@0+1", "negative"},
		{"part not in the list", `</part><part id="P9">` + bar("1", attr+note("C", 4, 2, "")), "C4@0+1", "not in the part list"},
		{"divisions of nothing", bar("1", `<attributes><divisions>0</divisions></attributes>`+note("C", 4, 1, "")), "C4@0+1", "divisions"},
		{"only tied, no tie", bar("1", attr+note("C", 4, 4, `<notations><tied type="start"/></notations>`)+note("C", 4, 4, `<notations><tied type="stop"/></notations>`)), "C4@0+4", ""},
		{"a sign for the bar before", bar("1", attr+note("C", 4, 4, "")+note("D", 4, 4, "")) + bar("2", `<attributes><measure-style><measure-repeat type="start">1</measure-repeat></measure-style></attributes><note><rest measure="yes"/><duration>8</duration></note>`) +
			bar("3", `<attributes><measure-style><measure-repeat type="stop"/></measure-style></attributes><note><rest/><duration>8</duration></note>`), "C4@0+2 D4@2+2 C4@4+2 D4@6+2", "written out"},
		{"a bar too full", bar("1", attr+note("C", 4, 10, "")) + bar("2", note("D", 4, 8, "")), "C4@0+5 D4@5+4", "bar 1: the bar holds more"},
		{"a bar too short", bar("1", attr+note("C", 4, 8, "")) + bar("2", note("D", 4, 6, "")) + bar("3", note("E", 4, 8, "")), "C4@0+4 D4@4+3 E4@7+4", "bar 2: the bar holds less"},
		{"a pickup is no mistake", bar("0", attr+note("C", 4, 2, "")) + bar("1", note("D", 4, 8, "")), "C4@0+1 D4@1+4", "[]"},
		{"nor is a divided bar", bar("1", attr+note("C", 4, 8, "")) + bar("2", note("D", 4, 6, "")) + bar("X1", note("E", 4, 2, "")) + bar("3", note("F", 4, 8, "")), "C4@0+4 D4@4+3 E4@7+1 F4@8+4", "[]"},
		{"numbers of bars missing", `<measure>` + attr + note("C", 4, 8, "") + `</measure>`, "C4@0+4", "no number"},
	} {
		s, forgiven, err := notation.Read(strings.NewReader(head+c.inside+tail), "x", notation.Limits{})
		if err != nil {
			t.Errorf("%s: %v", c.name, err)
			continue
		}
		var got []string
		for _, n := range s.Sounding() {
			got = append(got, fmt.Sprintf("%s@%v+%v", n.Name, n.Onset, n.Duration))
		}
		if strings.Join(got, " ") != c.want {
			t.Errorf("%s: %v, want %s", c.name, got, c.want)
		}
		if !strings.Contains(fmt.Sprint(forgiven), c.said) {
			t.Errorf("%s: forgave %v, nothing of %q", c.name, forgiven, c.said)
		}
		validate(t, c.name, written(t, s))
	}
}

// One refusal of each kind, with its place.
func TestRefuses(t *testing.T) {
	manyNotes := head + bar("1", attr+strings.Repeat(note("C", 4, 1, ""), 60)) + tail
	small := notation.Limits{Notes: 50, Bars: 5, Elements: 2000, Depth: 10, Bytes: 100_000}
	for _, c := range []struct {
		name, data string
		kind       notation.Kind
		err        error
		line       int
		bar        string
		say        string
	}{
		{"empty", "", notation.Empty, notation.ErrEmpty, 0, "", "empty"},
		{"only space", " \n\t ", notation.Empty, notation.ErrEmpty, 0, "", "empty"},
		{"text", "Practise slowly.", notation.NotAScore, notation.ErrNotAScore, 0, "", "no MusicXML, MIDI or ABC"},
		{"another XML", "<html><body/></html>", notation.NotAScore, notation.ErrNotAScore, 1, "", "begins with <html>"},
		{"no bars", head + tail, notation.NotAScore, notation.ErrNotAScore, 1, "", "no bars"},
		{"cut short", "<?xml version=\"1.0\"?>\n" + head + "\n" + `<measure number="7">` + attr, notation.IllFormed, notation.ErrIllFormed, 3, "7", "ends too early"},
		{"tags crossed", head + "\n" + `<measure number="2"><note></measure></note>` + tail, notation.IllFormed, notation.ErrIllFormed, 2, "2", "stops making sense"},
		{"impossible pitch", head + "\n" + bar("3", attr+"\n"+note("H", 4, 1, "")) + tail, notation.IllFormed, notation.ErrIllFormed, 3, "3", "no pitch that exists"},
		{"octave 4000", head + bar("1", attr+note("C", 4000, 1, "")) + tail, notation.IllFormed, notation.ErrIllFormed, 1, "1", "no pitch that exists"},
		{"duration is a word", head + bar("1", attr+`<note><rest/><duration>long</duration></note>`) + tail, notation.IllFormed, notation.ErrIllFormed, 1, "1", `"long" is no duration`},
		{"huge duration", head + bar("1", attr+note("C", 4, 99999999, "")) + tail, notation.IllFormed, notation.ErrIllFormed, 1, "1", "longer than"},
		{"number beyond all", head + bar("1", attr+`<note><rest/><duration>`+strings.Repeat("9", 400)+`</duration></note>`) + tail, notation.IllFormed, notation.ErrIllFormed, 1, "1", "is no duration"},
		{"entity declared", `<!DOCTYPE score-partwise [<!ENTITY a "b">]>` + head + bar("1", "") + tail, notation.Hostile, notation.ErrEntity, 1, "", "entities"},
		{"entity used", head + bar("1", attr+`<direction><direction-type><words>&boom;</words></direction-type></direction>`) + tail, notation.Hostile, notation.ErrEntity, 1, "1", "entities"},
		{"too many notes", manyNotes, notation.TooLarge, notation.ErrTooLarge, 0, "", "more than 50 notes"},
		{"too many bars", head + strings.Repeat(bar("1", ""), 6) + tail, notation.TooLarge, notation.ErrTooLarge, 0, "", "more than 5 bars"},
		{"too many elements", head + bar("1", strings.Repeat("<print/>", 2001)) + tail, notation.TooLarge, notation.ErrTooLarge, 0, "", "more than 2000 XML elements"},
		{"too deep", head + bar("1", strings.Repeat("<a>", 20)+strings.Repeat("</a>", 20)) + tail, notation.TooLarge, notation.ErrTooLarge, 1, "1", "nested deeper"},
		{"too many bytes", head + strings.Repeat(" ", 100_000) + tail, notation.TooLarge, notation.ErrTooLarge, 0, "", "larger than"},
		{"ABC without a key", "X:1\nT:No key\nM:4/4\n", notation.NotAScore, notation.ErrNotAScore, 0, "", ""},
		{"ABC with too many notes", "X:1\nM:4/4\nL:1/4\nK:C\n" + strings.Repeat("CDEF|", 5) + strings.Repeat("C", 40), notation.TooLarge, notation.ErrTooLarge, 0, "", "more than"},
		{"ABC with too many bars", "X:1\nM:4/4\nL:1/4\nK:C\nZ200|\n", notation.TooLarge, notation.ErrTooLarge, 0, "", "more than 5 bars"},
	} {
		_, _, err := notation.Read(strings.NewReader(c.data), "piece.xml", small)
		var re *notation.ReadError
		if !errors.As(err, &re) {
			t.Errorf("%s: %v is no ReadError", c.name, err)
			continue
		}
		if re.Kind != c.kind || !errors.Is(err, c.err) || re.Line != c.line || re.Bar != c.bar || !strings.Contains(err.Error(), c.say) || !strings.HasPrefix(err.Error(), "piece.xml") {
			t.Errorf("%s: kind %q line %d bar %q: %v", c.name, re.Kind, re.Line, re.Bar, err)
		}
	}
	// A DOCTYPE as writers put it, even with comments and a subset without entities, is no reason to refuse.
	for _, doctype := range []string{`<!DOCTYPE score-partwise PUBLIC "-//Recordare//DTD MusicXML 3.1 Partwise//EN" "http://nowhere.invalid/partwise.dtd">`, `<!DOCTYPE score-partwise [<!ATTLIST a b CDATA "c">]>`} {
		read(t, []byte(doctype+head+bar("1", attr+note("C", 4, 8, ""))+tail))
	}
}

func zipOf(t testing.TB, names []string, contents []string) []byte {
	t.Helper()
	var b bytes.Buffer
	z := zip.NewWriter(&b)
	for i, n := range names {
		w, err := z.Create(n)
		if err != nil {
			t.Fatal(err)
		}
		if _, err := w.Write([]byte(contents[i])); err != nil {
			t.Fatal(err)
		}
	}
	if err := z.Close(); err != nil {
		t.Fatal(err)
	}
	return b.Bytes()
}

func TestCompressed(t *testing.T) {
	score := head + bar("1", attr+note("C", 4, 8, "")) + tail
	container := func(path string) string {
		return `<?xml version="1.0"?><container><rootfiles><rootfile full-path="` + path + `"/></rootfiles></container>`
	}
	for _, c := range []struct {
		name            string
		names, contents []string
		said            string
	}{
		{"as the standard has it", []string{"META-INF/container.xml", "a/score.xml", "other.xml"}, []string{container("a/score.xml"), score, "<x/>"}, ""},
		{"the page as a picture comes first", []string{"META-INF/container.xml", "score.pdf", "score.xml"}, []string{`<container><rootfiles><rootfile full-path="score.pdf" media-type="application/pdf"/><rootfile full-path="score.xml" media-type="application/vnd.recordare.musicxml+xml"/></rootfiles></container>`, "%PDF", score}, ""},
		{"without a container", []string{"score.musicxml"}, []string{score}, "does not name its score"},
		{"container that names nothing there", []string{"META-INF/container.xml", "score.xml"}, []string{container("lost.xml"), score}, "does not name its score"},
	} {
		s, forgiven, err := notation.Read(bytes.NewReader(zipOf(t, c.names, c.contents)), "x.mxl", notation.Limits{})
		if err != nil || len(s.Sounding()) != 1 || !strings.Contains(fmt.Sprint(forgiven), c.said) {
			t.Errorf("%s: %v, forgave %v", c.name, err, forgiven)
		}
	}
	bomb := zipOf(t, []string{"META-INF/container.xml", "score.xml"}, []string{container("score.xml"), head + strings.Repeat(" ", 30<<20) + tail})
	for _, c := range []struct {
		name string
		data []byte
		err  error
	}{
		{"bomb", bomb, notation.ErrBomb},
		{"container leads out", zipOf(t, []string{"META-INF/container.xml", "score.xml"}, []string{container("../../score.xml"), score}), notation.ErrPath},
		{"entry leads out", zipOf(t, []string{"../score.xml"}, []string{score}), notation.ErrPath},
		{"entry with a drive", zipOf(t, []string{`C:\score.xml`}, []string{score}), notation.ErrPath},
		{"no score in it", zipOf(t, []string{"letter.txt"}, []string{"Dear family"}), notation.ErrNotAScore},
		{"a picture called a score", zipOf(t, []string{"score.xml"}, []string{"\x89PNG"}), notation.ErrNotAScore},
		{"cut short", bomb[:len(bomb)/2], notation.ErrIllFormed},
		{"entities inside", zipOf(t, []string{"score.xml"}, []string{`<!DOCTYPE a [<!ENTITY b "c">]>` + score}), notation.ErrEntity},
	} {
		if _, _, err := notation.Read(bytes.NewReader(c.data), "x.mxl", notation.Limits{}); !errors.Is(err, c.err) {
			t.Errorf("%s: %v, want %v", c.name, err, c.err)
		}
	}
}

func TestReadFileSaysWhatIsWrong(t *testing.T) {
	dir := t.TempDir()
	for path, say := range map[string]string{filepath.Join(dir, "none.xml"): "no such file", dir: "not a file"} {
		_, _, err := notation.ReadFile(path, notation.Limits{})
		var re *notation.ReadError
		if !errors.As(err, &re) || !strings.Contains(err.Error(), say) || !strings.Contains(err.Error(), dir) {
			t.Errorf("%s: %v", path, err)
		}
	}
	evil := filepath.Join(dir, "a\x1b[31m\u202e.xml")
	if _, _, err := notation.ReadFile(evil, notation.Limits{}); err == nil || strings.ContainsAny(err.Error(), "\x1b\u202e") {
		t.Errorf("%q", err)
	}
}

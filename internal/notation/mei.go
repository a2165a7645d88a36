package notation

import (
	"cmp"
	"fmt"
	"io"
	"slices"
	"strconv"

	"antiphon/internal/music"
)

// MEIOptions: the zero value writes all that the score says, without a tablature.
type MEIOptions struct {
	Tab bool // a tablature below each part
	// Bare leaves out the marks that package engrave places itself: fingers, plucks, string numbers,
	// words, tempo marks, chord symbols and rehearsal marks.
	Bare bool
	// A passage runs from bar From, by index, up to and without bar Until; Until 0 means the end. Ids
	// are those of the whole score.
	From, Until int
	// Breaks are the bars, by index, that begin a new system; nil leaves it to the engraver.
	Breaks []int
}

// NoteIDs names every written note: the first note of each sounding one has the id that
// Score.Sounding gives it, "n12"; the notes tied to it follow as "n12t1", "n12t2". Notes that do not
// sound by themselves (a doubling tablature, rests, unpitched notes) have no entry.
func NoteIDs(s *music.Score) map[music.NoteRef]string {
	ids := map[music.NoteRef]string{}
	for i, refs := range s.Written() {
		id := "n" + strconv.Itoa(i+1)
		for k, ref := range refs {
			if k == 0 {
				ids[ref] = id
			} else {
				ids[ref] = id + "t" + strconv.Itoa(k)
			}
		}
	}
	return ids
}

// TabID is the id of a note in the tablature that WriteMEI adds.
func TabID(note string) string { return "tab-" + note }

// BarID is the id of a bar by its index in the score.
func BarID(index int) string { return "m" + strconv.Itoa(index+1) }

// meiWriter writes one score.
type meiWriter struct {
	*xmlOut
	s       *music.Score
	opts    MEIOptions
	ids     map[music.NoteRef]string
	places  map[music.NoteRef]tabPlace
	staves  []*meiStaff
	octaves [][]*music.Direction // the octave lines of each part
	rough   []bool               // parts that are drawn to the nearest sixteenth
	pieces  map[string]string    // suffix of the last piece of a note that is written in several
	fault   error                // the first thing that cannot be written
	events  [][]meiEvent         // per bar, what stands on the notes rather than among them
}

// meiStaff is one staff of the page.
type meiStaff struct {
	part, staff int // staff of the part, from 1
	n           int // of the page, from 1
	tab         bool
	voices      []string
	bars        [][]int // notes of each bar, indices into Part.Notes
	accidentals map[int]string
	tuning      []music.Pitch // of a tablature, string 1 first
}

// WriteMEI writes the score in the encoding of the Music Encoding Initiative, MEI 5, as the engraving
// library reads it. The same score always gives the same bytes.
func WriteMEI(w io.Writer, s *music.Score, o MEIOptions) error {
	if len(s.Parts) == 0 || len(s.Bars) == 0 {
		return fmt.Errorf("%w: it has no parts or no bars", ErrUnwritable)
	}
	if o.Until <= 0 || o.Until > len(s.Bars) {
		o.Until = len(s.Bars)
	}
	if o.From < 0 || o.From >= o.Until {
		return fmt.Errorf("%w: it has no bars from %d to %d", ErrUnwritable, o.From+1, o.Until)
	}
	m := &meiWriter{xmlOut: newXMLOut(w), s: s, opts: o, ids: NoteIDs(s), octaves: octaveShifts(s), rough: roughParts(s), pieces: map[string]string{}}
	m.findStaves()
	if o.Tab {
		m.findPlaces()
	}
	m.events = make([][]meiEvent, len(s.Bars))
	m.collectEvents()
	m.raw("<?xml version=\"1.0\" encoding=\"UTF-8\"?>\n")
	m.begin("mei", "xmlns", "http://www.music-encoding.org/ns/mei", "meiversion", "5.0")
	m.begin("meiHead")
	m.begin("fileDesc")
	m.begin("titleStmt")
	m.leaf("title", s.Title)
	m.some("composer", s.Composer)
	m.end()
	m.empty("pubStmt")
	m.end()
	m.end()
	m.begin("music")
	m.begin("body")
	m.begin("mdiv")
	m.begin("score")
	m.scoreDef()
	m.begin("section")
	for i := o.From; i < o.Until; i = m.stretch(i) {
	}
	for len(m.open) > 0 {
		m.end()
	}
	if m.fault != nil {
		return m.fault
	}
	return m.flush()
}

// findStaves lists the staves that are drawn. A tablature that the file brings along is left out
// where the part has notes as well: its strings and frets are with them already.
func (m *meiWriter) findStaves() {
	for i := range m.s.Parts {
		p := &m.s.Parts[i]
		staves := max(p.Staves, 1)
		tab := make([]bool, staves+1)
		tabs := 0
		for _, a := range p.Attributes {
			if a.Clef != nil && a.Clef.Sign == "TAB" && a.Staff <= staves && a.Bar == 0 {
				for st := 1; st <= staves; st++ {
					if (a.Staff == 0 || a.Staff == st) && !tab[st] {
						tab[st] = true
						tabs++
					}
				}
			}
		}
		for st := 1; st <= staves; st++ {
			if tab[st] && tabs < staves {
				continue
			}
			m.addStaff(&meiStaff{part: i, staff: st})
		}
		if m.opts.Tab && m.sounds(i) {
			m.addStaff(&meiStaff{part: i, tab: true, tuning: tuningOf(p)})
		}
	}
}

// sounds reports whether a part has notes that a tablature can show.
func (m *meiWriter) sounds(part int) bool {
	for ref := range m.ids {
		if ref.Part == part {
			return true
		}
	}
	return false
}

func (m *meiWriter) addStaff(st *meiStaff) {
	st.n = len(m.staves) + 1
	st.bars = make([][]int, len(m.s.Bars))
	p := &m.s.Parts[st.part]
	for j := range p.Notes {
		n := &p.Notes[j]
		if n.Bar < 0 || n.Bar >= len(m.s.Bars) {
			continue
		}
		if st.tab {
			if _, sounds := m.ids[music.NoteRef{Part: st.part, Note: j}]; !sounds && !n.Rest {
				continue
			}
		} else if n.Staff != st.staff && !(n.Staff < 1 && st.staff == 1) {
			continue
		}
		st.bars[n.Bar] = append(st.bars[n.Bar], j)
		if !slices.Contains(st.voices, n.Voice) {
			st.voices = append(st.voices, n.Voice)
		}
	}
	slices.SortStableFunc(st.voices, func(a, b string) int {
		x, errX := strconv.Atoi(a)
		y, errY := strconv.Atoi(b)
		if errX == nil && errY == nil {
			return x - y
		}
		return cmp.Compare(a, b)
	})
	if !st.tab {
		st.accidentals = m.accidentalsOf(st)
	}
	m.staves = append(m.staves, st)
}

// attributesAt is what is in force on a staff at the start of a bar, latest first within the bar's start.
func (m *meiWriter) attributesAt(st *meiStaff, bar int) (key *music.Key, clef *music.Clef) {
	for i := range m.s.Parts[st.part].Attributes {
		a := &m.s.Parts[st.part].Attributes[i]
		if a.Bar > bar || (a.Bar == bar && m.s.Bars[bar].Start.Less(a.At)) {
			continue
		}
		if a.Staff == 0 || a.Staff == st.staff || st.tab {
			if a.Key != nil {
				key = a.Key
			}
			if a.Clef != nil && a.Clef.Sign != "TAB" && (a.Staff == 0 || a.Staff == st.staff) {
				clef = a.Clef
			}
		}
	}
	return key, clef
}

// guitarClef is the clef of a part that states none, or that is a tablature only: what guitars read.
func guitarClef() *music.Clef { return &music.Clef{Sign: "G", Line: 2, Octave: -1} }

func (m *meiWriter) scoreDef() {
	m.begin("scoreDef", m.meter(m.opts.From)...)
	m.begin("staffGrp", "bar.thru", "false")
	for i := 0; i < len(m.staves); {
		j := i
		for j < len(m.staves) && m.staves[j].part == m.staves[i].part {
			j++
		}
		grouped := j-i > 1 || len(m.s.Parts) > 1
		if grouped {
			symbol := ""
			if j-i > 1 {
				symbol = "bracket"
			}
			m.begin("staffGrp", "symbol", symbol, "bar.thru", "false")
		}
		for _, st := range m.staves[i:j] {
			m.staffDef(st, st == m.staves[i] && len(m.s.Parts) > 1)
		}
		if grouped {
			m.end()
		}
		i = j
	}
	m.end()
	m.end()
}

func (m *meiWriter) staffDef(st *meiStaff, label bool) {
	p := &m.s.Parts[st.part]
	if st.tab {
		m.begin("staffDef", "n", strconv.Itoa(st.n), "lines", strconv.Itoa(len(st.tuning)), "notationtype", "tab.guitar", "clef.shape", "TAB", "clef.line", "5")
		m.begin("tuning")
		for i, t := range st.tuning {
			m.empty("course", "n", strconv.Itoa(i+1), "pname", stepName(t.Step), "oct", strconv.Itoa(t.Octave), "accid", accidSign(t.Alter))
		}
		m.end()
		m.end()
		return
	}
	key, clef := m.attributesAt(st, m.opts.From)
	if clef == nil {
		clef = guitarClef()
	}
	attrs := append([]string{"n", strconv.Itoa(st.n), "lines", strconv.Itoa(linesOf(p, st.staff))}, clefAttrs(clef)...)
	if key != nil {
		attrs = append(attrs, "keysig", keysig(key.Fifths))
	}
	if !label || p.Name == "" {
		m.empty("staffDef", attrs...)
		return
	}
	m.begin("staffDef", attrs...)
	m.leaf("label", p.Name)
	m.some("labelAbbr", p.Abbrev)
	m.end()
}

func linesOf(p *music.Part, staff int) int {
	for _, a := range p.Attributes {
		if a.Lines > 0 && (a.Staff == 0 || a.Staff == staff) && (a.Clef == nil || a.Clef.Sign != "TAB") && a.Lines <= 5 {
			return a.Lines
		}
	}
	return 5
}

func clefAttrs(c *music.Clef) []string {
	shape, line := c.Sign, c.Line
	switch shape {
	case "G", "F", "C":
	case "percussion":
		shape = "perc"
	default:
		shape = "G"
	}
	if line == 0 {
		line = map[string]int{"G": 2, "F": 4, "C": 3, "perc": 3}[shape]
	}
	attrs := []string{"clef.shape", shape, "clef.line", strconv.Itoa(line)}
	if o := c.Octave; o != 0 {
		place := "above"
		if o < 0 {
			place, o = "below", -o
		}
		attrs = append(attrs, "clef.dis", strconv.Itoa(min(8+7*(o-1), 22)), "clef.dis.place", place)
	}
	return attrs
}

func keysig(fifths int) string {
	fifths = min(max(fifths, -7), 7)
	switch {
	case fifths > 0:
		return strconv.Itoa(fifths) + "s"
	case fifths < 0:
		return strconv.Itoa(-fifths) + "f"
	}
	return "0"
}

// meter gives the attributes of the time signature of a bar.
func (m *meiWriter) meter(bar int) []string {
	t := m.s.Bars[bar].Time
	if len(t.Parts) == 0 || t.Senza {
		return nil
	}
	count := ""
	for i, b := range t.Parts[0].Beats {
		if i > 0 {
			count += "+"
		}
		count += strconv.Itoa(b)
	}
	attrs := []string{"meter.count", count, "meter.unit", strconv.Itoa(t.Parts[0].Unit)}
	if t.Symbol == "common" || t.Symbol == "cut" {
		attrs = append(attrs, "meter.sym", t.Symbol)
	}
	return attrs
}

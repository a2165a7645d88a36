package notation

import (
	"cmp"
	"encoding/xml"
	"fmt"
	"slices"
	"strconv"
	"strings"

	"antiphon/internal/music"
)

const (
	maxDivisions   = maxGrid // of a quarter
	maxDurationQ   = 10_000  // of one note or bar, in quarters
	maxBarNumber   = 32      // characters of a bar's number
	maxVoiceName   = 32
	maxText        = 10_000 // characters of words, names and titles
	maxSmallNumber = 1_000_000
	maxParts       = 256
)

// xmlScore is a score while it is being read. Until finish, times count from the start of their bar.
type xmlScore struct {
	x                      *xmlStream
	lim                    Limits
	p                      *pardons
	s                      *music.Score
	parts                  map[string]int // part id to index
	read                   []partState
	notes                  int
	directions, attributes int
	grid                   grid
	times                  []music.Beats // length of each bar as filled
	tempo                  []barTempo
	signs                  []sign
}

// partState is what holds on from bar to bar in one part.
type partState struct {
	divNum, divDen int64 // divisions of a quarter
	bars           int
	time           music.Time
	simile         int         // bars that the present sign of repetition repeats; 0 none
	similes        map[int]int // by bar
}

type barTempo struct {
	bar  int
	mark music.TempoMark
}

func readXML(data []byte, lim Limits, p *pardons) (*music.Score, error) {
	x, err := newXMLStream(data, lim, p)
	if err != nil {
		return nil, err
	}
	r := &xmlScore{x: x, lim: lim, p: p, s: &music.Score{}, parts: map[string]int{}}
	for {
		t, err := x.next()
		if err != nil {
			return nil, err
		}
		switch t := t.(type) {
		case nil:
			return nil, illFormed(x.line(), "", "the file ends before a score begins", nil)
		case xml.StartElement:
			switch t.Name.Local {
			case "score-partwise":
				err = x.children(r.partwise)
			case "score-timewise":
				err = x.children(r.timewise)
			default:
				return nil, &ReadError{Kind: NotAScore, Line: x.line(), Err: ErrNotAScore,
					Say: fmt.Sprintf("this is XML, but no MusicXML score (it begins with <%s>)", printable(t.Name.Local))}
			}
			if err != nil {
				return nil, err
			}
			return r.finish()
		}
	}
}

func (r *xmlScore) partwise(e xml.StartElement) error {
	if e.Name.Local != "part" {
		return r.header(e)
	}
	i := r.part(attrOf(e.Attr, "id"))
	if i >= maxParts {
		return tooLarge("it has more than %d parts", maxParts)
	}
	bar := 0
	return r.x.children(func(e xml.StartElement) error {
		if e.Name.Local != "measure" {
			_, err := r.x.tree(e)
			return err
		}
		if err := r.openBar(bar, e); err != nil {
			return err
		}
		err := r.measure(i, bar)
		bar++
		return err
	})
}

func (r *xmlScore) timewise(e xml.StartElement) error {
	if e.Name.Local != "measure" {
		return r.header(e)
	}
	bar := len(r.s.Bars)
	if err := r.openBar(bar, e); err != nil {
		return err
	}
	return r.x.children(func(e xml.StartElement) error {
		if e.Name.Local != "part" {
			_, err := r.x.tree(e)
			return err
		}
		i := r.part(attrOf(e.Attr, "id"))
		if i >= maxParts {
			return tooLarge("it has more than %d parts", maxParts)
		}
		return r.measure(i, bar)
	})
}

// part finds a part by id; one that the part list does not have is added.
func (r *xmlScore) part(id string) int {
	id = clip(id, maxBarNumber)
	if i, ok := r.parts[id]; ok {
		return i
	}
	if len(r.s.Parts) > 0 || id != "" {
		r.p.add(r.x.line(), "", fmt.Sprintf("part %q is not in the part list", printable(id)))
	}
	return r.addPart(music.Part{ID: id})
}

func (r *xmlScore) addPart(p music.Part) int {
	if p.ID == "" {
		p.ID = "P" + strconv.Itoa(len(r.s.Parts)+1)
		if _, taken := r.parts[p.ID]; taken {
			p.ID += "-" + strconv.Itoa(len(r.s.Parts)+1)
		}
		r.parts[""] = len(r.s.Parts)
	}
	if i, ok := r.parts[p.ID]; ok {
		r.p.add(r.x.line(), "", fmt.Sprintf("two parts are called %q; they were joined", printable(p.ID)))
		return i
	}
	p.Staves = 1
	r.parts[p.ID] = len(r.s.Parts)
	r.s.Parts = append(r.s.Parts, p)
	r.read = append(r.read, partState{divNum: 1, divDen: 1})
	return len(r.s.Parts) - 1
}

// openBar makes the bar, or finds it where an earlier part has made it.
func (r *xmlScore) openBar(i int, e xml.StartElement) error {
	number := clip(attrOf(e.Attr, "number"), maxBarNumber)
	r.x.bar = number
	if i < len(r.s.Bars) {
		return nil
	}
	if i >= r.lim.Bars {
		return tooLarge("it has more than %d bars", r.lim.Bars)
	}
	if number == "" {
		number = strconv.Itoa(i + 1)
		r.p.add(r.x.line(), number, "a bar has no number; it was counted")
	}
	r.s.Bars = append(r.s.Bars, music.Bar{Number: number, Implicit: attrOf(e.Attr, "implicit") == "yes"})
	r.times = append(r.times, music.Beats{})
	return nil
}

// finish turns times within bars into times from the start, once the length of every bar is known.
func (r *xmlScore) finish() (*music.Score, error) {
	s := r.s
	if len(s.Parts) > maxParts {
		return nil, tooLarge("it has more than %d parts", maxParts)
	}
	if len(s.Parts) == 0 || len(s.Bars) == 0 {
		return nil, &ReadError{Kind: NotAScore, Line: r.x.line(), Say: "the score has no bars", Err: ErrNotAScore}
	}
	var at music.Beats
	var time music.Time
	for i := range s.Bars {
		b := &s.Bars[i]
		if len(b.Time.Parts) > 0 || b.Time.Senza {
			time = b.Time
		}
		b.Time = time
		b.Start, b.Length = at, r.times[i]
		if b.Length.IsZero() {
			b.Length = r.exact(time.Length())
		}
		if b.Length.IsZero() {
			b.Length = music.Quarters(4, 1)
		}
		at = b.End()
	}
	r.countBars()
	for i := range s.Parts {
		p := &s.Parts[i]
		if err := r.writeOutSimiles(p, r.read[i].similes); err != nil {
			return nil, err
		}
		if n := r.read[i].bars; n != len(s.Bars) {
			r.p.add(0, "", fmt.Sprintf("part %q has %d bars where the score has %d; the rest is silent", printable(p.ID), n, len(s.Bars)))
		}
		for j := range p.Notes {
			p.Notes[j].Start = p.Notes[j].Start.Add(s.Bars[p.Notes[j].Bar].Start)
			p.Staves = max(p.Staves, p.Notes[j].Staff)
		}
		for j := range p.Directions {
			p.Directions[j].At = p.Directions[j].At.Add(s.Bars[p.Directions[j].Bar].Start)
		}
		for j := range p.Attributes {
			p.Attributes[j].At = p.Attributes[j].At.Add(s.Bars[p.Attributes[j].Bar].Start)
		}
		slices.SortStableFunc(p.Directions, func(a, b music.Direction) int { return cmp.Or(a.Bar-b.Bar, a.At.Cmp(b.At)) })
		slices.SortStableFunc(p.Attributes, func(a, b music.Attributes) int { return cmp.Or(a.Bar-b.Bar, a.At.Cmp(b.At)) })
	}
	r.finishTempos()
	r.settleSigns()
	navigateByWords(s)
	return s, nil
}

// countBars says which bars hold more or less than their time signature. A short bar is no mistake at
// the ends, beside a repeat, or where it makes a full bar with a neighbour.
func (r *xmlScore) countBars() {
	bars := r.s.Bars
	short := func(i int) bool {
		return i >= 0 && i < len(bars) && bars[i].Length.Less(bars[i].Time.Length())
	}
	for i, b := range bars {
		full := b.Time.Length()
		switch {
		case full.IsZero():
		case full.Less(b.Length):
			r.p.add(0, b.Number, "the bar holds more than its time signature says; it was read as it stands")
		case !short(i), b.Implicit, i == 0, i == len(bars)-1, short(i - 1), short(i + 1), b.RepeatEnd > 0, b.RepeatStart, bars[i+1].RepeatStart:
		default:
			r.p.add(0, b.Number, "the bar holds less than its time signature says; it was read as it stands")
		}
	}
}

func clip(s string, n int) string {
	s = strings.TrimSpace(s)
	if len(s) <= n {
		return s
	}
	return strings.ToValidUTF8(s[:n], "")
}

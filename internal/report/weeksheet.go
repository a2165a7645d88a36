package report

import (
	"context"
	"fmt"
	"io"
	"math"
	"strconv"
	"strings"
	"time"

	"antiphon/internal/engrave"
	"antiphon/internal/music"
)

// WeekSheet is one lesson on paper, for the music stand and for a pencil: what to do, in order, with the
// notes of each passage, and boxes for the days. Everything in it is already in the words that a parent reads.
type WeekSheet struct {
	Language string // of the sheet's own words: "en", "es"; others are English
	Student  string // the child's name as the family says it
	Studio   string
	Date     string // of the lesson, in words
	Words    string // said at the top
	Begins   time.Time
	Days     int // that have a box; 0 means 7, at most 14. Begins zero: they are named from Monday on, without dates
	Items    []WeekItem
	Paper    engrave.Paper // the zero value is A4
	Made     time.Time     // what the PDF says of when it was made
}

// WeekItem is one assignment. What is empty is not printed.
type WeekItem struct {
	Title    string
	Where    string // the passage in words: "bars 5 to 8"
	Kind     string // what kind of thing it is, where it is not playing: "Listen"
	Minutes  int    // a day
	Do       string
	Watch    string
	Goals    []string // each one line: tempo, dynamics, tone, fingers
	Stroke   string   // "rest" or "free"
	DoneWhen string
	Coach    []string // what the grown-up looks for
	Like     string   // how it should sound or look, in words
	Unlike   string
	Rungs    []float64 // of the ladder, beats a minute
	Clean    int       // clean passes in a row before the next rung
	Ask      string    // a question, with a line for its answer
	Choices  []string  // or boxes
	Held     string    // held back for now: what opens it

	Score *music.Score // nil for none
	Ways  []WeekWay    // two ways to take it; where they have notes, these stand for those of Score
	From  int          // the passage by index of its bars; Until 0 means the end
	Until int
	Names engrave.Names // note names below the notes
}

// WeekWay is one of two ways to try.
type WeekWay struct {
	Say   string
	Score *music.Score // the same notes with its fingers; nil for none
}

// Limits on what one sheet holds.
const (
	mostSheetItems = 40
	mostSheetDays  = 14
	mostRungsShown = 24
	gutter         = 9.0 // mm, that the number of an item stands in
	boxSide        = 3.4
)

// PDF writes the sheet. e engraves its music.
func (s WeekSheet) PDF(ctx context.Context, w io.Writer, e *engrave.Engraver) error {
	if len(s.Items) > mostSheetItems {
		return fmt.Errorf("a week of %d items does not fit on a sheet: %d at most", len(s.Items), mostSheetItems)
	}
	t := sheetWordsOf(s.Language)
	title := joinNonEmpty(" · ", t.title, s.Student, s.Date)
	l := newLeaf(e, s.Paper, t.code, title, joinNonEmpty(" · ", s.Studio, title), s.Made)
	s.top(l, t)
	s.grid(l, t)
	for i := range s.Items {
		if err := s.item(ctx, l, t, i); err != nil {
			return err
		}
	}
	l.note(t.cautions)
	return l.output(w, t.page)
}

func joinNonEmpty(by string, parts ...string) string {
	var out []string
	for _, p := range parts {
		if strings.TrimSpace(p) != "" {
			out = append(out, strings.TrimSpace(p))
		}
	}
	return strings.Join(out, by)
}

func (s WeekSheet) top(l *leaf, t sheetWords) {
	l.para(leafLeft, "B", titlePt, joinNonEmpty(": ", s.Student, t.title))
	l.para(leafLeft, "", bodyPt, joinNonEmpty(" · ", s.Studio, s.Date, s.length(t)))
	l.y += 1.5
	l.rule(leafLeft)
	l.y += 1
	l.para(leafLeft, "I", bodyPt, s.Words)
	l.y += 2
}

// length says how long a day is, as far as the items say it; "" where none does.
func (s WeekSheet) length(t sheetWords) string {
	sum := 0
	for _, it := range s.Items {
		sum += max(0, it.Minutes)
	}
	if sum == 0 {
		return ""
	}
	return fmt.Sprintf(t.day, sum)
}

// grid is the week at a glance: the items in order, and a box for each day.
func (s WeekSheet) grid(l *leaf, t sheetWords) {
	days := s.Days
	if days <= 0 {
		days = 7
	}
	days = min(days, mostSheetDays)
	if len(s.Items) == 0 {
		return
	}
	column := min(12.5, (l.right()-leafLeft)*0.55/float64(days))
	names := l.right() - column*float64(days)
	row, head := 7.2, 5.6
	if !s.Begins.IsZero() {
		head = 9.2
	}
	headings := func() {
		for d := range days {
			day, date := t.days[(d+1)%7], ""
			if !s.Begins.IsZero() {
				at := s.Begins.AddDate(0, 0, d)
				day, date = t.days[at.Weekday()], strconv.Itoa(at.Day())
			}
			mid := names + column*(float64(d)+0.5)
			l.font("", smallPt)
			if days > 7 {
				day = string([]rune(day)[:1])
			}
			l.doc.Text(mid-l.width(day)/2, l.y+4, day)
			if date != "" {
				l.doc.Text(mid-l.width(date)/2, l.y+7.6, date)
			}
		}
		l.y += head
	}
	l.room(head + row*float64(min(len(s.Items), 6)))
	headings()
	for i, it := range s.Items {
		if l.y+row > l.bottom() {
			l.page()
			headings()
		}
		l.rule(leafLeft)
		base := l.y + row - 2.3
		l.font("B", bodyPt)
		l.doc.Text(leafLeft, base, strconv.Itoa(i+1))
		l.font("", bodyPt)
		minutes := minutesOf(it, t)
		l.font("", smallPt)
		mw := l.width(minutes)
		l.doc.Text(names-3-mw, base, minutes)
		l.font("", bodyPt)
		l.doc.Text(leafLeft+gutter, base, l.cut(l.clean(it.name()), names-3-mw-3-leafLeft-gutter))
		if it.Held == "" {
			for d := range days {
				side := 4.6
				l.doc.Rect(names+column*(float64(d)+0.5)-side/2, l.y+(row-side)/2, side, side, "D")
			}
		} else {
			l.font("I", smallPt)
			l.doc.Text(names+2, base, l.cut(l.clean(t.later), l.right()-names-2))
		}
		l.y += row
	}
	l.rule(leafLeft)
	l.y += 1
	l.para(leafLeft, "", smallPt, t.grid)
	l.y += 4
}

func (s WeekSheet) item(ctx context.Context, l *leaf, t sheetWords, i int) error {
	it, x := s.Items[i], leafLeft+gutter
	ways := make([]*engrave.Placed, len(it.Ways))
	var err error
	for k, w := range it.Ways {
		if ways[k], err = it.music(ctx, l, w.Score, x); err != nil {
			return fmt.Errorf("item %d, %q: %w", i+1, it.Title, err)
		}
		if ways[k] != nil {
			it.Score = nil
		}
	}
	notes, err := it.music(ctx, l, it.Score, x)
	if err != nil {
		return fmt.Errorf("item %d, %q: %w", i+1, it.Title, err)
	}
	need := 20.0
	if notes != nil && notes.Systems() > 0 {
		need += 8 + notes.HeightMm(0)
	}
	l.room(math.Min(need, l.bottom()-leafTop))
	l.rule(leafLeft)
	l.y += 1.5
	l.heading(i+1, it, x, minutesOf(it, t))
	l.para(x, "", bodyPt, it.Do)
	l.put(notes, x)
	l.signs(notes, x, t)
	for k, w := range it.Ways {
		if ways[k] != nil && ways[k].Systems() > 0 {
			l.room(math.Min(8+ways[k].HeightMm(0), l.bottom()-leafTop)) // its name is not left alone at the foot of a page
		}
		l.dashed(x, w.Say)
		l.put(ways[k], x)
		l.signs(ways[k], x, t)
	}
	l.labelled(x, t.held, it.Held)
	for _, g := range it.Goals {
		l.dashed(x, g)
	}
	l.dashed(x, map[string]string{"rest": t.rest, "free": t.free}[it.Stroke])
	l.labelled(x, t.watch, it.Watch)
	l.labelled(x, t.like, it.Like)
	l.labelled(x, t.unlike, it.Unlike)
	if len(it.Coach) > 0 {
		l.labelled(x, t.coach, strings.Join(it.Coach, "\n"))
	}
	l.ladder(x, it, t)
	l.question(x, it, t)
	l.labelled(x, t.done, it.DoneWhen)
	l.y += 4.5
	return nil
}

// name of an item: "Listen: the next piece", "Ode to Joy, bars 1 to 4".
func (it WeekItem) name() string {
	return joinNonEmpty(": ", it.Kind, joinNonEmpty(", ", it.Title, it.Where))
}

// music of an item, engraved for the room beside the numbers; nil for none.
func (it WeekItem) music(ctx context.Context, l *leaf, s *music.Score, x float64) (*engrave.Placed, error) {
	if s == nil {
		return nil, nil
	}
	return l.e.Place(ctx, s, engrave.Options{From: it.From, Until: it.Until, Names: it.Names, NoTitle: true}, l.right()-x)
}

// minutesOf an item in words; "" where none are said.
func minutesOf(it WeekItem, t sheetWords) string {
	if it.Minutes <= 0 {
		return ""
	}
	return fmt.Sprintf(t.minutes, it.Minutes)
}

func (l *leaf) heading(n int, it WeekItem, x float64, minutes string) {
	step := headPt * mmPerPt * leading
	l.font("", bodyPt)
	mw := l.width(minutes)
	l.doc.Text(l.right()-mw, l.y+0.72*step, minutes)
	l.font("B", headPt)
	l.doc.Text(leafLeft, l.y+0.72*step, strconv.Itoa(n))
	for _, line := range l.lines(l.clean(it.name()), l.right()-x-mw-4) {
		l.y += step
		l.doc.Text(x, l.y-0.28*step, line)
	}
}

// put places the systems below each other.
func (l *leaf) put(p *engrave.Placed, x float64) {
	if p == nil {
		return
	}
	l.y += 2
	for i := range p.Systems() {
		h := p.HeightMm(i)
		l.room(h)
		p.Put(l.doc, i, x, l.y)
		l.y += h + math.Min(p.GapMm(), 4)
	}
	l.ink()
}

// signs says below music what the signs of its strokes are, the first time that one stands there.
func (l *leaf) signs(p *engrave.Placed, x float64, t sheetWords) {
	if p == nil {
		return
	}
	at := x
	for _, s := range p.Strokes() {
		if l.explained[s] {
			continue
		}
		if l.explained == nil {
			l.explained = map[music.Stroke]bool{}
		}
		l.explained[s] = true
		say := map[music.Stroke]string{music.RestStroke: t.restSign, music.FreeStroke: t.freeSign}[s]
		step := smallPt * mmPerPt * leading
		l.font("", smallPt)
		if at == x || at+6+l.width(say) > l.right() {
			l.room(step)
			l.y += step
			at = x
		}
		base := l.y - 0.28*step
		at += p.PutStroke(l.doc, s, at, base) + 1.2
		l.ink()
		l.font("", smallPt)
		l.doc.Text(at, base, say)
		at += l.width(say) + 6
	}
	if at > x {
		l.y += 1.5
	}
}

// dashed is one line of a list.
func (l *leaf) dashed(x float64, s string) {
	if strings.TrimSpace(s) == "" {
		return
	}
	l.labelled(x, "–", s)
}

// ladder is a row of boxes, one for each tempo.
func (l *leaf) ladder(x float64, it WeekItem, t sheetWords) {
	if len(it.Rungs) == 0 {
		return
	}
	rungs := it.Rungs[:min(len(it.Rungs), mostRungsShown)]
	l.font("", bodyPt)
	at, step := x, 7.0
	l.room(2 * step)
	l.y += 0.8
	l.font("B", bodyPt)
	l.doc.Text(at, l.y+4.6, t.ladder)
	at += l.width(t.ladder + "  ")
	l.font("", bodyPt)
	for _, bpm := range rungs {
		text := strconv.FormatFloat(math.Round(finite(bpm)), 'f', -1, 64)
		wide := boxSide + 1.2 + l.width(text) + 4.5
		if at+wide > l.right() {
			at = x
			l.y += step
			l.room(step)
		}
		l.doc.Rect(at, l.y+1.5, boxSide, boxSide, "D")
		l.doc.Text(at+boxSide+1.2, l.y+4.6, text)
		at += wide
	}
	l.y += step - 0.6
	if it.Clean == 1 {
		l.para(x, "", smallPt, t.rungOne)
	} else if it.Clean > 1 {
		l.para(x, "", smallPt, fmt.Sprintf(t.rung, it.Clean))
	}
	l.y += 0.8
}

// question has boxes to choose from, or a line to write on.
func (l *leaf) question(x float64, it WeekItem, t sheetWords) {
	if strings.TrimSpace(it.Ask) == "" {
		return
	}
	l.labelled(x, t.question, it.Ask)
	l.room(8)
	if len(it.Choices) == 0 {
		l.y += 7.5
		l.doc.Line(x, l.y, l.right(), l.y)
		l.y += 1.5
		return
	}
	l.font("", bodyPt)
	at := x
	for _, c := range it.Choices {
		c = l.cut(l.clean(c), l.right()-x-boxSide-2)
		wide := boxSide + 1.5 + l.width(c) + 6
		if at > x && at+wide-6 > l.right() {
			at = x
			l.y += 6
			l.room(6)
		}
		l.doc.Rect(at, l.y+1.5, boxSide, boxSide, "D")
		l.doc.Text(at+boxSide+1.5, l.y+4.6, c)
		at += wide
	}
	l.y += 6.5
}

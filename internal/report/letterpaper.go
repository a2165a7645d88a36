package report

import (
	"fmt"
	"io"
	"strings"
	"time"

	"antiphon/internal/engrave"
)

// LetterPaper is a progress letter to parents on paper: parts with a heading, what was seen with its days,
// and charts. What it says is the teacher's; the sheet adds the words of its charts only.
type LetterPaper struct {
	Language string // "en", "es"; others are English
	Studio   string
	Student  string
	Title    string // "Letter about the autumn term"; "" is a plain one of ours
	Span     string // the days it is about, in words
	Date     string // of the letter, in words
	Parts    []LetterSection
	Closing  string        // greeting and name
	Paper    engrave.Paper // the zero value is A4
	Made     time.Time     // what the PDF says of when it was made
}

// LetterSection is one part of a letter. What is empty is not printed.
type LetterSection struct {
	Heading string
	Text    string
	Facts   []LetterFact
	Charts  []Chart
}

// LetterFact is something that was seen or heard, with its place.
type LetterFact struct {
	Say   string
	Day   string // in words: "12 October"
	Place string // "take of 12 October, bar 5"; "" none
}

const mostLetterParts = 60

// PDF writes the letter. e has the font.
func (p LetterPaper) PDF(w io.Writer, e *engrave.Engraver) error {
	if len(p.Parts) > mostLetterParts {
		return fmt.Errorf("a letter of %d parts does not fit on paper: %d at most", len(p.Parts), mostLetterParts)
	}
	t := letterWordsOf(p.Language)
	title := p.Title
	if strings.TrimSpace(title) == "" {
		title = fmt.Sprintf(t.title, p.Student)
	}
	l := newLeaf(e, p.Paper, t.code, title, joinNonEmpty(" · ", p.Studio, title), p.Made)
	l.para(leafLeft, "B", titlePt, title)
	l.para(leafLeft, "", bodyPt, joinNonEmpty(" · ", p.Span, p.Studio, p.Date))
	l.y += 1.5
	l.rule(leafLeft)
	l.y += 3
	for _, part := range p.Parts {
		part.put(l, p.Language)
	}
	l.room(20)
	l.y += 2
	l.para(leafLeft, "", bodyPt, p.Closing)
	l.y += 3
	l.note(t.foot)
	return l.output(w, t.page)
}

func (s LetterSection) put(l *leaf, language string) {
	l.room(22)
	l.para(leafLeft, "B", headPt, s.Heading)
	for _, para := range strings.Split(s.Text, "\n\n") {
		l.para(leafLeft, "", bodyPt, para)
		l.y += 1
	}
	for _, f := range s.Facts {
		say := f.Say
		if f.Place != "" {
			say += " (" + f.Place + ")"
		}
		label := f.Day
		if label == "" {
			label = "–"
		}
		l.labelled(leafLeft+4, label, say)
	}
	for _, c := range s.Charts {
		c.put(l, language)
	}
	l.y += 4
}

// put places a chart with its title above and its words below, together.
func (c Chart) put(l *leaf, language string) {
	s, ok := c.sketch(language, l.right()-leafLeft)
	words := c.Words(language)
	if words == "" {
		return
	}
	step := bodyPt * mmPerPt * leading
	if ok {
		l.room(s.high + 3*step)
	}
	l.y += 2
	l.para(leafLeft, "B", bodyPt, c.Title)
	if ok {
		s.onto(l, leafLeft, l.y)
		l.y += s.high
	}
	l.para(leafLeft, "", bodyPt, words)
	l.y += 2
}

// note is small print at the end, on one page.
func (l *leaf) note(text string) {
	l.font("", smallPt)
	n := len(l.lines(text, l.right()-leafLeft))
	l.room(float64(n)*smallPt*mmPerPt*leading + 3)
	l.rule(leafLeft)
	l.y += 1
	l.para(leafLeft, "", smallPt, text)
}

// letterWords are the letter's own words in one language.
type letterWords struct {
	code      string
	title     string // %s
	months    [12]string
	day       string // %d, %s
	goal      string // %v
	tempoFrom string // %v beats on %s, %v on %s
	tempoAt   string // %v on %s
	daysIn    string // %d days, %d weeks
	daysInOne string // %d days of one week
	foot      string
	page      string // %d of %d
}

func (t letterWords) date(d time.Time) string {
	return fmt.Sprintf(t.day, d.Day(), t.months[d.Month()-1])
}

func allLetterWords() []letterWords {
	return []letterWords{{
		code: "en", title: "How %s is getting on", day: "%d %s",
		months: [12]string{"Jan", "Feb", "Mar", "Apr", "May", "June", "July", "Aug", "Sept", "Oct", "Nov", "Dec"},
		goal:   "goal %v", tempoFrom: "From %v beats a minute on %s to %v on %s.", tempoAt: "%v beats a minute on %s.",
		daysIn: "Days with practice, as tapped at home: %d in %d weeks.", daysInOne: "Days with practice, as tapped at home: %d in one week.",
		foot: "This letter tells what was heard in the recordings and what was tapped at home. It gives no marks, and it sets no child beside another. A quiet week may just be a week that nobody tapped.",
		page: "%d of %d",
	}, {
		code: "es", title: "Cómo le va a %s", day: "%d %s",
		months: [12]string{"ene", "feb", "mar", "abr", "may", "jun", "jul", "ago", "sept", "oct", "nov", "dic"},
		goal:   "meta %v", tempoFrom: "De %v pulsos por minuto el %s a %v el %s.", tempoAt: "%v pulsos por minuto el %s.",
		daysIn: "Días con música, según lo marcado en casa: %d en %d semanas.", daysInOne: "Días con música, según lo marcado en casa: %d en una semana.",
		foot: "Esta carta dice lo que se oyó en las grabaciones y lo que se marcó en casa. No pone notas. No pone a una niña o a un niño al lado de otro. Una semana vacía puede ser una semana sin marcar.",
		page: "%d de %d",
	}}
}

// letterWordsOf gives the words of a language, or English.
func letterWordsOf(code string) letterWords {
	all := allLetterWords()
	for _, w := range all {
		if w.code == code {
			return w
		}
	}
	return all[0]
}

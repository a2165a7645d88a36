package studio

import (
	"context"
	"fmt"
	"strings"
	"time"
)

// Nudge is a friendly word between lessons. Only the teacher sends one.
type Nudge struct {
	ID       NudgeID
	Studio   StudioID
	Family   FamilyID
	Student  StudentID
	Language string // of its text
	Text     string
	Sent     time.Time
}

// shownFor is how long a nudge stays on the week page where no lesson follows.
const shownFor = 14 * 24 * time.Hour

// nudges are drafts by language: who has practised, who has not yet, and where to begin. %[1]s is the
// child, %[2]d the days of practice, %[3]s the first thing that waits. Nothing in them counts what is missing.
var nudges = map[string]struct{ first, some, one, begin, way string }{
	"en": {
		first: "Hello! A week is quickly gone. Five minutes today are a good beginning for %[1]s.",
		some:  "Hello! I see %[2]d days of practice. Lovely, thank you!",
		one:   "Hello! I see one day of practice. Lovely, thank you!",
		begin: "A good place for today: %[3]s",
		way:   "If something is in the way, write me a line. Then we make it smaller.",
	},
	"es": {
		first: "¡Hola! La semana pasa volando. Cinco minutos hoy son un buen comienzo para %[1]s.",
		some:  "¡Hola! Veo %[2]d días de práctica. ¡Qué bien, gracias!",
		one:   "¡Hola! Veo un día de práctica. ¡Qué bien, gracias!",
		begin: "Un buen sitio para hoy: %[3]s",
		way:   "Si algo no sale, escribidme una línea. Entonces lo hacemos más pequeño.",
	},
}

const itsTheNudge = "A word between lessons is the teacher's."

// DraftNudge writes a nudge from how the week fills in, in the family's language. It is kept nowhere and sent to nobody.
func (d *Desk) DraftNudge(ctx context.Context, v Viewer, id StudentID) (Nudge, error) {
	if err := v.must(itsTheNudge, Teacher); err != nil {
		return Nudge{}, err
	}
	s, err := d.SoFarOf(ctx, v, id)
	if err != nil {
		return Nudge{}, err
	}
	n := Nudge{Studio: v.Studio, Family: s.Student.Family, Student: id}
	if n.Language, err = d.FamilyLanguage(ctx, v, n.Family); err != nil {
		return Nudge{}, err
	}
	words, ok := nudges[n.Language]
	if !ok {
		n.Language, words = DefaultLanguage, nudges[DefaultLanguage]
	}
	line := words.some
	switch len(s.Days) {
	case 0:
		line = words.first
	case 1:
		line = words.one
	}
	lines := []string{line}
	if do := s.waits(); do != "" {
		lines = append(lines, words.begin)
		lines = append(lines, words.way)
		n.Text = fill(lines, s.Student.Name, len(s.Days), do)
		return n, nil
	}
	n.Text = fill(append(lines, words.way), s.Student.Name, len(s.Days), "")
	return n, nil
}

// fill puts what is known into lines that need not have a place for all of it.
func fill(lines []string, child string, days int, do string) string {
	for i, l := range lines {
		l = strings.ReplaceAll(l, "%[1]s", child)
		l = strings.ReplaceAll(l, "%[2]d", fmt.Sprint(days))
		lines[i] = strings.ReplaceAll(l, "%[3]s", do)
	}
	return strings.Join(lines, "\n")
}

// waits is the first thing of the lesson that nobody tapped yet, in the teacher's words; "" none.
func (s SoFar) waits() string {
	for _, i := range s.Items {
		if i.Stopped || i.Ask == AskHeld || i.Ask == AskRest || i.Done > 0 || i.Tries > 0 || i.Heard || i.Answer != "" || i.Chose != "" {
			continue
		}
		if do, _, _ := strings.Cut(i.Do, "\n"); do != "" {
			return do
		}
	}
	return ""
}

// SendNudge shows a text on the student's week page until the next lesson, and has the family told.
func (d *Desk) SendNudge(ctx context.Context, v Viewer, id StudentID, text string) (Nudge, error) {
	if err := v.must(itsTheNudge, Teacher); err != nil {
		return Nudge{}, err
	}
	if text = strings.TrimSpace(plain(text)); text == "" || len(text) > longestLine {
		return Nudge{}, invalid("A word between lessons has 1 to %d letters.", longestLine)
	}
	n := Nudge{Studio: v.Studio, Student: id, Text: text, Sent: d.now()}
	err := d.store.Within(ctx, func(tx Records) error {
		s, err := tx.Student(ctx, v.scope(), id)
		if err != nil {
			return err
		}
		n.Family = s.Family
		if n.Language, err = spokenIn(ctx, tx, OneFamily(s.Studio, s.Family), ""); err != nil {
			return err
		}
		if n.ID, err = NewID[NudgeID](d.o.Rand); err != nil {
			return err
		}
		if err := tx.AddNudge(ctx, n); err != nil {
			return err
		}
		return d.notify(ctx, tx, n.Studio, ofFamily(n.Family), OfNudge, string(n.ID), n.Sent)
	})
	if err != nil {
		return Nudge{}, problemOf(err)
	}
	return n, nil
}

// NudgeFor is what stands on a student's week page: the last nudge since the last lesson; false for none.
func (d *Desk) NudgeFor(ctx context.Context, v Viewer, id StudentID) (Nudge, bool, error) {
	s, err := d.store.Student(ctx, v.scope(), id)
	if err != nil {
		return Nudge{}, false, problemOf(err)
	}
	ns, err := d.store.Nudges(ctx, OneFamily(s.Studio, s.Family), id)
	if err != nil || len(ns) == 0 {
		return Nudge{}, false, problemOf(err)
	}
	ls, err := d.store.LastLessons(ctx, v.scope(), id)
	if err != nil {
		return Nudge{}, false, problemOf(err)
	}
	n := ns[len(ns)-1]
	over := d.now().Sub(n.Sent) > shownFor || len(ls) == 1 && ls[0].Sent.After(n.Sent)
	if over {
		return Nudge{}, false, nil
	}
	return n, true, nil
}

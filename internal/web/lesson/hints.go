package lesson

import (
	"fmt"
	"net/http"
	"regexp"
	"strconv"
	"strings"

	"antiphon/internal/reading"
	"antiphon/internal/studio"
	"antiphon/internal/web/page"
	"antiphon/internal/web/tongue"
)

// What a text for a parent in a kitchen should not go beyond. Years are of school; five are what a child of ten has
// had, and what the families' own pages keep to. The lengths are our choice; no source.
const (
	mostYears   = 5
	longText    = 70 // words
	longSaying  = 22 // words in one sentence
	wordsQuoted = 5
)

var sentences = regexp.MustCompile(`[.!?:;]+(\s|$)|\n+`)

// hint says in words where a text asks much of whoever reads it, and "" where it does not. It never counts points.
func hint(in *tongue.Tongue, text string) string {
	longest, n := "", 0
	for _, s := range sentences.Split(text, -1) {
		if w := len(strings.Fields(s)); w > n {
			longest, n = strings.TrimSpace(s), w
		}
	}
	e, known := reading.Of(in.Code, text)
	switch {
	case n > longSaying:
		return fmt.Sprintf("A long sentence for a child’s parent: “%s …”. Two short ones are read sooner.", strings.Join(strings.Fields(longest)[:wordsQuoted], " "))
	case known && e.Words > longText:
		return "That is much for one time. A parent reads it standing; the first half may be enough for this week."
	case known && e.Words >= reading.Enough && e.Years > mostYears:
		return "Long words for a quick look in the kitchen. Shorter ones help, or one thing less."
	}
	return ""
}

// savedAsWritten answers a script that saves while the teacher writes: the version, what the page says of the
// text that now stands there, by the id of its element, and where the music of each task is.
func (p *pages) savedAsWritten(w http.ResponseWriter, r *http.Request, l studio.Lesson) error {
	works, err := p.works(r)
	if err != nil {
		return err
	}
	in, err := p.tongue(r, l.Family)
	if err != nil {
		return err
	}
	family, _ := strconv.Atoi(r.PostForm.Get("family")) // as the page was told
	says := map[string]string{"hint-words": hint(in, l.Words), "minutes": minutesSay(l.Assignments, family)}
	music := map[string]string{} // addresses by the number of the task
	for i, a := range l.Assignments {
		c := cardOf(i, a, works)
		if music[strconv.Itoa(c.N)] = ""; a.Work != "" {
			music[strconv.Itoa(c.N)] = musicAt(l.ID, c.N, a)
		}
		for id, say := range map[string]string{"title": c.Title, "sum": c.Sum, "hint-do": hint(in, a.Do), "rungs": c.Rungs,
			"goals-sum": c.GoalsSum, "eyes-sum": c.EyesSum, "ladder-sum": c.LadderSum, "hear-sum": c.HearSum, "question-sum": c.QuestionSum} {
			says[fmt.Sprint(id, c.N)] = say
		}
	}
	return page.JSON(w, map[string]any{"version": l.Version, "saved": strings.TrimSpace(savedSays(l, p.f.Now()) + " " + halfSays(l)), "says": says, "music": music})
}

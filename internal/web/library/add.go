package library

import (
	"context"
	"errors"
	"fmt"
	"io"
	"mime/multipart"
	"net/http"
	"path"
	"strings"

	"antiphon/internal/studio"
	"antiphon/internal/web/page"
)

const (
	mostFiles   = 60        // scores in one go
	mostAtOnce  = 120 << 20 // bytes of them together
	mostRights  = 400       // letters of the note on rights
	rightsField = "rights"
	filesField  = "scores"
)

type addView struct {
	Rights  string
	Answers []arrival
	Added   int
}

// arrival is what became of one file.
type arrival struct {
	File     string
	Work     studio.Work // zero where nothing came of it
	There    bool        // it was in the library already
	Instead  bool        // it stands in the place of the work's older score
	Why      string      // one sentence; "" where it is in the library now
	Forgiven []string
	Notes    string // "24 bars, 96 notes"
}

// addPage asks for scores. GET /library/add
func (l *library) addPage(w http.ResponseWriter, r *http.Request) error {
	return l.render(w, r, "add.html", "Add scores", addView{})
}

// add takes scores in and answers each by itself. POST /library/add
func (l *library) add(w http.ResponseWriter, r *http.Request) error {
	page.Takes(w, r, mostAtOnce)
	parts, err := r.MultipartReader()
	if err != nil {
		return &studio.Problem{Kind: studio.Invalid, Say: "No files came. Choose them again and send them.", Err: err}
	}
	var view addView
	for {
		p, err := parts.NextPart()
		if errors.Is(err, io.EOF) {
			break
		}
		if err != nil {
			return broken(err, view.Added)
		}
		switch {
		case p.FormName() == rightsField:
			text, err := io.ReadAll(io.LimitReader(p, 8*mostRights))
			if err != nil {
				return broken(err, view.Added)
			}
			view.Rights = clipped(string(text), mostRights)
		case p.FormName() != filesField || p.FileName() == "":
		case len(view.Answers) >= mostFiles:
			return &studio.Problem{Kind: studio.TooLarge, Say: fmt.Sprintf("That are more than %d files at once. The first %d are in the library; send the others by themselves.", mostFiles, mostFiles)}
		default:
			a, err := l.arrived(r.Context(), page.Viewer(r), p, view.Rights)
			if err != nil {
				return err
			}
			if a.Why == "" && !a.There {
				view.Added++
			}
			view.Answers = append(view.Answers, a)
		}
	}
	if len(view.Answers) == 0 {
		return invalid("No file was chosen. Choose one or more scores and send them.")
	}
	return l.render(w, r, "add.html", "Add scores", view)
}

// broken says why files stopped coming, and that those before are safe.
func broken(err error, added int) error {
	kept := "Nothing was added."
	if added > 0 {
		kept = "Those that came before are in the library."
	}
	if _, tooLarge := errors.AsType[*http.MaxBytesError](err); tooLarge {
		return &studio.Problem{Kind: studio.TooLarge, Say: fmt.Sprintf("These files together are larger than %d MB. %s Send fewer at once.", mostAtOnce>>20, kept), Err: err}
	}
	return &studio.Problem{Kind: studio.Invalid, Say: "The files did not arrive whole. " + kept + " Send the rest again.", Err: err}
}

// arrived takes in one file. Only what is our fault is an error.
func (l *library) arrived(ctx context.Context, v studio.Viewer, p *multipart.Part, rights string) (arrival, error) {
	a := arrival{File: fileNamed(p)}
	s, err := take(p, a.File)
	if tooLarge, ok := errors.AsType[*http.MaxBytesError](err); ok {
		return a, broken(tooLarge, 1)
	}
	if err != nil {
		a.Why, err = say(err)
		return a, err
	}
	work := studio.Work{Title: firstOf(s.score.Title, s.score.Subtitle, called(a.File)), Composer: s.score.Composer, Score: s.xml,
		Rights: firstOf(rights, strings.Join(s.score.Rights, "; "))}
	work.Title, work.Composer, work.Rights = clipped(work.Title, mostTitle), clipped(work.Composer, mostTitle), clipped(work.Rights, mostRights)
	a.Forgiven = s.forgiven
	a.Notes = extent(s.score)
	a.Work, a.There, err = l.keep(ctx, v, work)
	if err != nil {
		a.Why, err = say(err)
	}
	return a, err
}

// replaceScore puts another score in the place of a work's own. What was heard against the older one
// stays as it was heard. POST /library/works/{work}/score
func (l *library) replaceScore(w http.ResponseWriter, r *http.Request) error {
	page.Takes(w, r, limits().Bytes+1<<20)
	ctx, v := r.Context(), page.Viewer(r)
	one, err := l.desk().Work(ctx, v, workID(r))
	if err != nil {
		return err
	}
	parts, err := r.MultipartReader()
	if err != nil {
		return &studio.Problem{Kind: studio.Invalid, Say: "No file came. Choose it again and send it.", Err: err}
	}
	for {
		p, err := parts.NextPart()
		if errors.Is(err, io.EOF) {
			return invalid("No file was chosen. Choose the score and send it.")
		}
		if err != nil {
			return broken(err, 0)
		}
		if p.FormName() != filesField || p.FileName() == "" {
			continue
		}
		a := arrival{File: fileNamed(p), Work: one, Instead: true}
		s, err := take(p, a.File)
		if err != nil {
			if a.Why, err = say(err); err != nil {
				return err
			}
			return l.render(w, r, "add.html", one.Title, addView{Rights: one.Rights, Answers: []arrival{a}})
		}
		one.Score, a.Forgiven, a.Notes = s.xml, s.forgiven, extent(s.score)
		if err := l.desk().ReviseWork(ctx, v, one); err != nil {
			return err
		}
		return l.render(w, r, "add.html", one.Title, addView{Rights: one.Rights, Answers: []arrival{a}})
	}
}

// fileNamed is what a file is called, without its folders.
func fileNamed(p *multipart.Part) string {
	return clipped(path.Base(strings.ReplaceAll(p.FileName(), `\`, "/")), 120)
}

// keep adds a work, unless the same score stands in the library under the same title: then there is
// that one.
func (l *library) keep(ctx context.Context, v studio.Viewer, w studio.Work) (kept studio.Work, there bool, err error) {
	l.adding.Lock()
	defer l.adding.Unlock()
	all, err := l.desk().Works(ctx, v)
	if err != nil {
		return w, false, err
	}
	title := strings.Join(strings.Fields(w.Title), " ")
	for _, one := range all {
		if one.Title != title || one.Exercise != w.Exercise {
			continue
		}
		full, err := l.desk().Work(ctx, v, one.ID)
		if err != nil {
			return w, false, err
		}
		if full.Score == w.Score {
			return full, true, nil
		}
	}
	kept, err = l.desk().AddWork(ctx, v, w)
	return kept, false, err
}

func firstOf(list ...string) string {
	for _, s := range list {
		if s = strings.TrimSpace(s); s != "" {
			return s
		}
	}
	return ""
}

// clipped keeps the first letters of a text.
func clipped(s string, most int) string {
	s = strings.TrimSpace(strings.ToValidUTF8(s, ""))
	if r := []rune(s); len(r) > most {
		return strings.TrimSpace(string(r[:most-1])) + "…"
	}
	return s
}

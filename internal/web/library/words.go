package library

import (
	"encoding/json"
	"errors"
	"net/http"
	"slices"
	"strings"
	"unicode"

	"antiphon/internal/findings"
	"antiphon/internal/remedies"
	"antiphon/internal/web/page"
)

type wordsView struct {
	remedies.Entry
	New      bool
	Printed  bool
	Wrong    string
	Signs    []option
	Causes   []remedies.Cause // with room for more
	Do       []remedies.Step
	Cautions string // one a line
	Kinds    []kindOn
	Caution  string
}

type kindOn struct {
	Kind, Words string
	On          bool
}

// room for more causes and steps than there are.
const moreLines = 2

func (l *library) wordsPage(w http.ResponseWriter, r *http.Request, e remedies.Entry, printed, isNew bool, wrong string) error {
	view := wordsView{Entry: e, New: isNew, Printed: printed, Wrong: wrong, Signs: signs()[1:], Causes: slices.Clone(e.Causes), Do: slices.Clone(e.Do),
		Cautions: strings.Join(e.Cautions, "\n"), Caution: notMedical}
	for range moreLines {
		view.Causes, view.Do = append(view.Causes, remedies.Cause{}), append(view.Do, remedies.Step{})
	}
	for _, k := range findings.Kinds() {
		view.Kinds = append(view.Kinds, kindOn{string(k), findingWords(string(k)), slices.Contains(e.Applies.Findings, string(k))})
	}
	title := "In your own words"
	if isNew {
		title = "A remedy of your own"
	}
	return l.render(w, r, "words.html", title, view)
}

// remedyWords asks for the teacher's own words. GET /library/remedies/{remedy}/words
func (l *library) remedyWords(w http.ResponseWriter, r *http.Request) error {
	e, printed, err := l.entry(r)
	if err != nil {
		return err
	}
	return l.wordsPage(w, r, e, printed, false, "")
}

// newRemedyPage asks for an entry of the teacher's own. GET /library/remedies/new
func (l *library) newRemedyPage(w http.ResponseWriter, r *http.Request) error {
	return l.wordsPage(w, r, remedies.Entry{Sign: remedies.Seen}, false, true, "")
}

// typed is the entry as it stands in the form.
func typed(r *http.Request, e remedies.Entry) remedies.Entry {
	f := r.PostForm
	e.Symptom, e.Parent, e.Ask, e.Remark = tidied(f.Get("symptom")), tidied(f.Get("parent")), tidied(f.Get("ask")), tidied(f.Get("remark"))
	e.Hidden = f.Get("hidden") != ""
	if f.Has("sign") {
		e.Sign, e.Hands = remedies.Sign(f.Get("sign")), f.Get("hands") != ""
		e.Applies.Findings = slices.Clone(f["finding"])
	}
	e.Causes, e.Do, e.Cautions = nil, nil, nil
	for i, c := range f["cause"] {
		one := remedies.Cause{Cause: tidied(c)}
		if checks := f["check"]; i < len(checks) {
			one.Check = tidied(checks[i])
		}
		if one != (remedies.Cause{}) {
			e.Causes = append(e.Causes, one)
		}
	}
	for i, d := range f["do"] {
		one := remedies.Step{Do: tidied(d)}
		if minutes := f["minutes"]; i < len(minutes) {
			one.Minutes = minutesOf(minutes[i])
		}
		if one.Do != "" {
			e.Do = append(e.Do, one)
		}
	}
	for line := range strings.Lines(f.Get("cautions")) {
		if line = tidied(line); line != "" {
			e.Cautions = append(e.Cautions, line)
		}
	}
	return e
}

func tidied(s string) string {
	return strings.TrimSpace(strings.ReplaceAll(strings.ToValidUTF8(s, ""), "\r\n", "\n"))
}

// minutesOf reads minutes; what is none is −1, which the book refuses with a sentence.
func minutesOf(text string) int {
	text = strings.TrimSpace(text)
	if text == "" {
		return 0
	}
	n := 0
	for _, r := range text {
		if r < '0' || r > '9' || n > 999 {
			return -1
		}
		n = 10*n + int(r-'0')
	}
	return n
}

// differing is what of an entry is not as it is printed, as the book takes a teacher's words; nil where
// nothing is. Fields left as printed stay so, also when a later edition prints them better.
func differing(printed, e remedies.Entry) (json.RawMessage, error) {
	was, err := fieldsOf(printed)
	if err != nil {
		return nil, err
	}
	is, err := fieldsOf(e)
	if err != nil {
		return nil, err
	}
	delete(is, "id")
	for name, v := range is {
		if string(was[name]) == string(v) {
			delete(is, name)
		}
	}
	// What is left out of JSON where it is empty was taken away.
	if printed.Hidden && !e.Hidden {
		is["hidden"] = json.RawMessage("false")
	}
	if len(printed.Cautions) > 0 && len(e.Cautions) == 0 {
		is["cautions"] = json.RawMessage("[]")
	}
	if len(is) == 0 {
		return nil, nil
	}
	return json.Marshal(is)
}

func fieldsOf(e remedies.Entry) (fields map[string]json.RawMessage, err error) {
	b, err := json.Marshal(e)
	if err == nil {
		err = json.Unmarshal(b, &fields)
	}
	return fields, err
}

// keepRemedy keeps the teacher's words for an entry. POST /library/remedies/{remedy}/words
func (l *library) keepRemedy(w http.ResponseWriter, r *http.Request) error {
	if err := form(w, r); err != nil {
		return err
	}
	was, inBook, err := l.entry(r)
	if err != nil {
		return err
	}
	e := typed(r, was)
	if inBook {
		was, _ = l.book.Entry(was.ID)
	} else {
		was = remedies.Entry{ID: e.ID}
	}
	return l.keepWords(w, r, was, e, inBook, false)
}

// newRemedy adds an entry. Its id is made of the symptom; the same again is kept once.
// POST /library/remedies/new
func (l *library) newRemedy(w http.ResponseWriter, r *http.Request) error {
	if err := form(w, r); err != nil {
		return err
	}
	e := typed(r, remedies.Entry{Source: "the teacher's own words"})
	b, own, _, err := l.ownBook(r.Context(), page.Viewer(r))
	if err != nil {
		return err
	}
	base := slug(e.Symptom)
	if base == "" {
		return l.wordsPage(w, r, e, false, true, "A “symptom” is empty; every entry needs one.")
	}
	for n := 1; ; n++ {
		if e.ID = base; n > 1 {
			e.ID = base + "-" + strings.Repeat("i", min(n, 10))
		}
		_, taken := b.Entry(e.ID)
		doc, err := differing(remedies.Entry{ID: e.ID}, e)
		if err != nil {
			return err
		}
		if !taken || sameJSON(own[e.ID], doc) || n == 10 {
			break
		}
	}
	return l.keepWords(w, r, remedies.Entry{ID: e.ID}, e, false, true)
}

func sameJSON(a, b json.RawMessage) bool {
	var x, y map[string]any
	if json.Unmarshal(a, &x) != nil || json.Unmarshal(b, &y) != nil {
		return false
	}
	p, errP := json.Marshal(x)
	q, errQ := json.Marshal(y)
	return errP == nil && errQ == nil && string(p) == string(q)
}

// slug makes an id of a symptom.
func slug(s string) string {
	var b strings.Builder
	for _, w := range wordsOf(s) {
		w = strings.Map(func(r rune) rune {
			if r > unicode.MaxASCII {
				return -1
			}
			return r
		}, w)
		if w == "" || b.Len()+len(w) > 45 {
			continue
		}
		if b.Len() > 0 {
			b.WriteByte('-')
		}
		b.WriteString(w)
	}
	if b.Len() == 0 && strings.TrimSpace(s) != "" {
		return "own-" + sum(s)[:8]
	}
	return b.String()
}

// keepWords asks the book whether an entry can be used, and keeps it or shows the form again.
func (l *library) keepWords(w http.ResponseWriter, r *http.Request, printed, e remedies.Entry, inBook, isNew bool) error {
	doc, err := differing(printed, e)
	if err != nil {
		return err
	}
	if doc != nil {
		if _, err := l.book.Merged(e.ID, doc); err != nil {
			f, bad := errors.AsType[*remedies.Fault](err)
			if !bad {
				return err
			}
			return l.wordsPage(w, r, e, inBook, isNew, sentence(f.Say))
		}
	}
	if err := l.desk().KeepRemedy(r.Context(), page.Viewer(r), e.ID, doc); err != nil {
		return err
	}
	return see(w, r, "/library/remedies/"+e.ID+"?saved=yes")
}

// printedRemedy goes back to the printed words; an entry of the teacher's own goes away.
// POST /library/remedies/{remedy}/printed
func (l *library) printedRemedy(w http.ResponseWriter, r *http.Request) error {
	id := r.PathValue("remedy")
	if err := gone(l.desk().KeepRemedy(r.Context(), page.Viewer(r), id, nil)); err != nil {
		return err
	}
	if _, printed := l.book.Entry(id); !printed {
		return see(w, r, "/library/remedies")
	}
	return see(w, r, "/library/remedies/"+id)
}

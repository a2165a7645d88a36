package library

import (
	"bytes"
	"cmp"
	"net/http"
	"net/url"
	"slices"
	"strconv"
	"strings"
	"unicode"

	"golang.org/x/text/cases"
	"golang.org/x/text/collate"
	"golang.org/x/text/language"
	"golang.org/x/text/runes"
	"golang.org/x/text/transform"
	"golang.org/x/text/unicode/norm"

	"antiphon/internal/studio"
	"antiphon/internal/web/page"
)

// worksAPage is how many lines one page of the list has.
const worksAPage = 100

// Kinds of what is listed.
const (
	allKinds  = ""
	pieces    = "works"
	exercises = "exercises"
)

type worksView struct {
	Typed        string
	Kind         string
	In           studio.CollectionID
	NoCollection bool
	Collections  []studio.Collection
	Works        []workLine
	Found, All   int
	Earlier      string // address of the page before; "" none
	Later        string
}

type workLine struct {
	studio.Work
	Filed []studio.Collection
}

// unfiled is the filter for works that stand in no collection.
const unfiled = "none"

// works lists the library. GET /library
func (l *library) works(w http.ResponseWriter, r *http.Request) error {
	v, q := page.Viewer(r), r.URL.Query()
	all, err := l.desk().Works(r.Context(), v)
	if err != nil {
		return err
	}
	shelves, err := l.desk().Collections(r.Context(), v)
	if err != nil {
		return err
	}
	view := worksView{Typed: strings.TrimSpace(q.Get("words")), Kind: q.Get("kind"), In: studio.CollectionID(q.Get("collection")), Collections: shelves, All: len(all)}
	view.NoCollection = view.In == unfiled
	filed, place := filing(shelves, view.In)
	want := wordsOf(view.Typed)
	for _, one := range all {
		switch {
		case view.Kind == pieces && one.Exercise, view.Kind == exercises && !one.Exercise:
			continue
		case view.NoCollection && len(filed[one.ID]) > 0:
			continue
		case view.In != "" && !view.NoCollection && place[one.ID] == 0:
			continue
		case !matches(wordsOf(one.Title+" "+one.Composer+" "+one.Recipe), want):
			continue
		}
		view.Works = append(view.Works, workLine{one, filed[one.ID]})
	}
	inOrder(view.Works, place)
	view.Found = len(view.Works)
	at, _ := strconv.Atoi(q.Get("from")) // 0 is the beginning, and so is nonsense
	at = min(max(at, 0), max(view.Found-1, 0)) / worksAPage * worksAPage
	turn := func(to int) string {
		next := url.Values{"words": {view.Typed}, "kind": {view.Kind}, "collection": {string(view.In)}, "from": {strconv.Itoa(to)}}
		return "/library?" + next.Encode()
	}
	if at > 0 {
		view.Earlier = turn(at - worksAPage)
	}
	if at+worksAPage < view.Found {
		view.Later = turn(at + worksAPage)
	}
	view.Works = view.Works[at:min(at+worksAPage, view.Found)]
	return l.render(w, r, "works.html", "Library", view)
}

// inOrder sorts by place where there is one, else by title as a reader would look for it.
func inOrder(list []workLine, place map[studio.WorkID]int) {
	byTitle := collate.New(language.English, collate.Numeric, collate.IgnoreCase)
	var buffer collate.Buffer
	keys := make(map[studio.WorkID][]byte, len(list))
	for _, one := range list {
		keys[one.ID] = byTitle.KeyFromString(&buffer, one.Title)
	}
	slices.SortStableFunc(list, func(a, b workLine) int {
		return cmp.Or(cmp.Compare(place[a.ID], place[b.ID]), bytes.Compare(keys[a.ID], keys[b.ID]), cmp.Compare(a.ID, b.ID))
	})
}

// filing says in which collections each work stands, and its place, from 1, in one of them.
func filing(shelves []studio.Collection, in studio.CollectionID) (filed map[studio.WorkID][]studio.Collection, place map[studio.WorkID]int) {
	filed, place = map[studio.WorkID][]studio.Collection{}, map[studio.WorkID]int{}
	for _, c := range shelves {
		for i, it := range c.Items {
			filed[it.Work] = append(filed[it.Work], c)
			if c.ID == in {
				place[it.Work] = i + 1
			}
		}
	}
	return filed, place
}

// wordsOf takes a text apart: small letters, without accents.
func wordsOf(text string) []string {
	plain, _, err := transform.String(transform.Chain(norm.NFD, runes.Remove(runes.In(unicode.Mn)), cases.Fold()), text)
	if err != nil {
		plain = strings.ToLower(text)
	}
	return strings.FieldsFunc(plain, func(r rune) bool { return !unicode.IsLetter(r) && !unicode.IsDigit(r) })
}

// matches says whether every word that is wanted begins one that is there.
func matches(there, want []string) bool {
	return !slices.ContainsFunc(want, func(w string) bool {
		return !slices.ContainsFunc(there, func(t string) bool { return strings.HasPrefix(t, w) })
	})
}

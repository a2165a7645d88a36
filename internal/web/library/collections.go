package library

import (
	"context"
	"net/http"
	"slices"
	"strconv"
	"strings"

	"antiphon/internal/studio"
	"antiphon/internal/web/page"
)

const mostCollectionName = 120 // letters

type collectionsView struct {
	Collections []studio.Collection
	Works       int
}

// collections lists them. GET /library/collections
func (l *library) collections(w http.ResponseWriter, r *http.Request) error {
	all, err := l.desk().Collections(r.Context(), page.Viewer(r))
	if err != nil {
		return err
	}
	works, err := l.desk().Works(r.Context(), page.Viewer(r))
	if err != nil {
		return err
	}
	return l.render(w, r, "collections.html", "Collections", collectionsView{all, len(works)})
}

// newCollection begins one. The same name again leads to the one that is there. POST /library/collections
func (l *library) newCollection(w http.ResponseWriter, r *http.Request) error {
	if err := form(w, r); err != nil {
		return err
	}
	name, err := collectionName(r)
	if err != nil {
		return err
	}
	ctx, v := r.Context(), page.Viewer(r)
	l.adding.Lock()
	defer l.adding.Unlock()
	all, err := l.desk().Collections(ctx, v)
	if err != nil {
		return err
	}
	for _, c := range all {
		if strings.EqualFold(c.Name, name) {
			return see(w, r, shelfAddress(c.ID))
		}
	}
	c, err := l.desk().Shelve(ctx, v, studio.Collection{Name: name})
	if err != nil {
		return err
	}
	return see(w, r, shelfAddress(c.ID))
}

func collectionName(r *http.Request) (string, error) {
	name := strings.Join(strings.Fields(r.PostForm.Get("name")), " ")
	switch {
	case name == "":
		return "", invalid("A collection needs a name.")
	case len([]rune(name)) > mostCollectionName:
		return "", invalid("The name is longer than %d letters. Shorten it.", mostCollectionName)
	}
	return name, nil
}

func shelfAddress(id studio.CollectionID) string { return "/library/collections/" + string(id) }

type collectionView struct {
	studio.Collection
	Items  []item
	Typed  string
	Others []studio.Work // not in it, of those that have the words, by title
	More   int           // how many more of them there are
	Moved  studio.WorkID
}

// mostOffered of the works that could be added are listed at once; words find the others.
const mostOffered = 30

// item is one step of a collection.
type item struct {
	Work    studio.Work
	Place   int // from 1
	First   bool
	Last    bool
	After   []studio.Work // what must be known before
	Earlier []earlier     // all that stand before it
	Moved   bool          // just now: it keeps the keyboard's place
	later   bool          // it was moved towards the end
}

// Up and Down are the places that the two buttons move to.
func (i item) Up() int   { return i.Place - 1 }
func (i item) Down() int { return i.Place + 1 }

// FocusUp and FocusDown say on which of the two the keyboard stays: on the one that was pressed, or
// where that has nowhere to go any more, on the other.
func (i item) FocusUp() bool   { return i.Moved && !i.First && (!i.later || i.Last) }
func (i item) FocusDown() bool { return i.Moved && !i.Last && (i.later || i.First) }

type earlier struct {
	Work studio.Work
	On   bool
}

// shelf finds one collection.
func (l *library) shelf(ctx context.Context, v studio.Viewer, id studio.CollectionID) (studio.Collection, error) {
	all, err := l.desk().Collections(ctx, v)
	if err != nil {
		return studio.Collection{}, err
	}
	if i := slices.IndexFunc(all, func(c studio.Collection) bool { return c.ID == id }); i >= 0 {
		return all[i], nil
	}
	return studio.Collection{}, &studio.Problem{Kind: studio.NotFound, Say: "This collection is not here."}
}

// collection shows one in its order. GET /library/collections/{collection}
func (l *library) collection(w http.ResponseWriter, r *http.Request) error {
	ctx, v := r.Context(), page.Viewer(r)
	c, err := l.shelf(ctx, v, studio.CollectionID(r.PathValue("collection")))
	if err != nil {
		return err
	}
	works, err := l.desk().Works(ctx, v)
	if err != nil {
		return err
	}
	q := r.URL.Query()
	view := collectionView{Collection: c, Moved: studio.WorkID(q.Get("moved")), Typed: strings.TrimSpace(q.Get("words"))}
	want := wordsOf(view.Typed)
	by := map[studio.WorkID]studio.Work{}
	for _, one := range works {
		by[one.ID] = one
		if place(c, one.ID) < 0 && matches(wordsOf(one.Title+" "+one.Composer+" "+one.Recipe), want) {
			view.Others = append(view.Others, one)
		}
	}
	slices.SortStableFunc(view.Others, func(a, b studio.Work) int { return strings.Compare(strings.ToLower(a.Title), strings.ToLower(b.Title)) })
	if more := len(view.Others) - mostOffered; more > 0 {
		view.Others, view.More = view.Others[:mostOffered], more
	}
	for i, it := range c.Items {
		one := item{Work: by[it.Work], Place: i + 1, First: i == 0, Last: i == len(c.Items)-1, Moved: it.Work == view.Moved, later: q.Get("by") == "later"}
		for _, before := range c.Items[:i] {
			on := slices.Contains(it.After, before.Work)
			if on {
				one.After = append(one.After, by[before.Work])
			}
			one.Earlier = append(one.Earlier, earlier{by[before.Work], on})
		}
		view.Items = append(view.Items, one)
	}
	return l.render(w, r, "collection.html", c.Name, view)
}

// change reads a collection, lets do change it and keeps it, with nobody else of this house between.
func (l *library) change(r *http.Request, do func(c *studio.Collection, titles map[studio.WorkID]string) error) error {
	ctx, v := r.Context(), page.Viewer(r)
	l.adding.Lock()
	defer l.adding.Unlock()
	c, err := l.shelf(ctx, v, studio.CollectionID(r.PathValue("collection")))
	if err != nil {
		return err
	}
	works, err := l.desk().Works(ctx, v)
	if err != nil {
		return err
	}
	titles := map[studio.WorkID]string{}
	for _, one := range works {
		titles[one.ID] = one.Title
	}
	if err := do(&c, titles); err != nil {
		return err
	}
	_, err = l.desk().Shelve(ctx, v, c)
	return err
}

// renameCollection gives it another name. POST /library/collections/{collection}/name
func (l *library) renameCollection(w http.ResponseWriter, r *http.Request) error {
	if err := form(w, r); err != nil {
		return err
	}
	name, err := collectionName(r)
	if err != nil {
		return err
	}
	err = l.change(r, func(c *studio.Collection, _ map[studio.WorkID]string) error {
		c.Name = name
		return nil
	})
	if err != nil {
		return err
	}
	return see(w, r, r.URL.Path[:strings.LastIndex(r.URL.Path, "/")])
}

// addToCollection puts works at its end; those that stand in it stay where they are.
// POST /library/collections/{collection}/works
func (l *library) addToCollection(w http.ResponseWriter, r *http.Request) error {
	if err := form(w, r); err != nil {
		return err
	}
	chosen := r.PostForm["work"]
	if len(chosen) == 0 {
		return invalid("No work was chosen. Choose one or more from the list.")
	}
	var last studio.WorkID
	err := l.change(r, func(c *studio.Collection, titles map[studio.WorkID]string) error {
		for _, text := range chosen {
			id := studio.WorkID(text)
			if titles[id] == "" {
				return &studio.Problem{Kind: studio.NotFound, Say: "One of these works is not in the library any more. Load the page again."}
			}
			last = id
			if place(*c, id) < 0 {
				c.Items = append(c.Items, studio.CollectionItem{Work: id})
			}
		}
		return nil
	})
	if err != nil {
		return err
	}
	return see(w, r, r.URL.Path[:strings.LastIndex(r.URL.Path, "/")]+"?moved="+string(last))
}

// fileWork puts one work into a collection, from the work's page. POST /library/works/{work}/collections
func (l *library) fileWork(w http.ResponseWriter, r *http.Request) error {
	if err := form(w, r); err != nil {
		return err
	}
	id := workID(r)
	r.SetPathValue("collection", r.PostForm.Get("collection"))
	err := l.change(r, func(c *studio.Collection, titles map[studio.WorkID]string) error {
		if titles[id] == "" {
			return &studio.Problem{Kind: studio.NotFound, Say: "This work is not in the library."}
		}
		if place(*c, id) < 0 {
			c.Items = append(c.Items, studio.CollectionItem{Work: id})
		}
		return nil
	})
	if err != nil {
		return err
	}
	return see(w, r, workAddress(id)+"#collections")
}

func place(c studio.Collection, id studio.WorkID) int {
	return slices.IndexFunc(c.Items, func(it studio.CollectionItem) bool { return it.Work == id })
}

// changeItem moves a step, says what must come before it, or takes it out. What is asked for is a state,
// so that asking twice changes nothing more. POST /library/collections/{collection}/works/{work}
func (l *library) changeItem(w http.ResponseWriter, r *http.Request) error {
	if err := form(w, r); err != nil {
		return err
	}
	id, by := workID(r), ""
	err := l.change(r, func(c *studio.Collection, titles map[studio.WorkID]string) error {
		i := place(*c, id)
		if i < 0 && r.PostForm.Get("do") == "remove" {
			return nil
		}
		if i < 0 {
			return &studio.Problem{Kind: studio.NotFound, Say: "This work does not stand in the collection any more."}
		}
		switch r.PostForm.Get("do") {
		case "move":
			to, err := strconv.Atoi(strings.TrimSpace(r.PostForm.Get("place")))
			if err != nil {
				return invalid("Say the place as a number, from 1 to %d.", len(c.Items))
			}
			if to > i+1 {
				by = "&by=later"
			}
			return move(c, i, min(max(to, 1), len(c.Items))-1, titles)
		case "after":
			var after []studio.WorkID
			for _, before := range c.Items[:i] {
				if slices.Contains(r.PostForm["after"], string(before.Work)) {
					after = append(after, before.Work)
				}
			}
			c.Items[i].After = after
			return nil
		case "remove":
			for k := range c.Items {
				c.Items[k].After = slices.DeleteFunc(slices.Clone(c.Items[k].After), func(a studio.WorkID) bool { return a == id })
			}
			c.Items = slices.Delete(c.Items, i, i+1)
			return nil
		}
		return invalid("The page sent something that makes no sense. Load it again.")
	})
	if err != nil {
		return err
	}
	to := shelfAddress(studio.CollectionID(r.PathValue("collection")))
	if r.PostForm.Get("do") != "remove" { // the moved one has the focus, which brings it into view
		to += "?moved=" + string(id) + by
	}
	return see(w, r, to)
}

// move takes step i to place to. What a work needs first stays before it.
func move(c *studio.Collection, i, to int, titles map[studio.WorkID]string) error {
	it := c.Items[i]
	items := slices.Insert(slices.Delete(slices.Clone(c.Items), i, i+1), to, it)
	seen := map[studio.WorkID]bool{}
	for _, one := range items {
		for _, need := range one.After {
			if !seen[need] {
				return &studio.Problem{Kind: studio.Conflict, Say: "“" + titles[one.Work] + "” needs “" + titles[need] + "” first, so it cannot stand before it. Take that need away, or move the other."}
			}
		}
		seen[one.Work] = true
	}
	c.Items = items
	return nil
}

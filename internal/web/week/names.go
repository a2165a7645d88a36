package week

import (
	"net/http"

	"antiphon/internal/studio"
	"antiphon/internal/web/page"
	"antiphon/internal/web/tongue"
)

// namesPart is how the family calls the notes, and how else they are called.
type namesPart struct {
	*tongue.Tongue
	Now studio.NoteNames
}

// nameRow is one way to call the notes.
type nameRow struct {
	Key   studio.NoteNames
	Words string
}

// Rows are all ways. They are read the same in every language.
func (namesPart) Rows() []nameRow {
	return []nameRow{{studio.Letters, "C D E F G A B"}, {studio.DoReMi, "do re mi fa sol la si"}}
}

// namesOf is how a person calls the notes: as chosen, or as usual in the language.
func namesOf(p studio.Person, t *tongue.Tongue) studio.NoteNames {
	switch {
	case p.NoteNames != "":
		return p.NoteNames
	case t.Code == tongue.English:
		return studio.Letters
	}
	return studio.DoReMi
}

// keepNames is POST /week/names.
func (w *week) keepNames(rw http.ResponseWriter, r *http.Request) error {
	if err := w.f.Desk().KeepNoteNames(r.Context(), page.Viewer(r), studio.NoteNames(r.PostFormValue("names"))); err != nil {
		return err
	}
	http.Redirect(rw, r, "/week", http.StatusSeeOther)
	return nil
}

package studio

import "context"

// Settings of the whole studio.
type Settings struct {
	Name      string
	KeepDays  int
	ReplyDays int
	Language  string
}

const (
	longestKeepDays  = 3650
	longestReplyDays = 60
)

// OwnStudio is the studio that v belongs to.
func (d *Desk) OwnStudio(ctx context.Context, v Viewer) (Studio, error) {
	st, err := d.store.Studio(ctx, v.Studio)
	return st, problemOf(err)
}

// ChangeStudio keeps the settings. A shorter time to keep holds for takes that arrive from now on; no
// take is kept longer than its family agreed to.
func (d *Desk) ChangeStudio(ctx context.Context, v Viewer, s Settings) (Studio, error) {
	if err := v.must("The studio's settings are the teacher's.", Teacher); err != nil {
		return Studio{}, err
	}
	s.Name, s.Language = named(s.Name, longestName), tidy(s.Language)
	switch {
	case s.Name == "":
		return Studio{}, invalid("A studio needs a name.")
	case s.KeepDays < 1 || s.KeepDays > longestKeepDays:
		return Studio{}, invalid("Recordings are kept between 1 and %d days.", longestKeepDays)
	case s.ReplyDays < 1 || s.ReplyDays > longestReplyDays:
		return Studio{}, invalid("The promise to answer is between 1 and %d days.", longestReplyDays)
	case !plainCode(s.Language):
		return Studio{}, invalid("The language is a short name such as en.")
	}
	st, err := d.store.Studio(ctx, v.Studio)
	if err != nil {
		return Studio{}, problemOf(err)
	}
	st.Name, st.KeepDays, st.ReplyDays, st.Language = s.Name, s.KeepDays, s.ReplyDays, s.Language
	if err := d.store.PutStudio(ctx, st); err != nil {
		return Studio{}, problemOf(err)
	}
	return st, nil
}

func (d *Desk) Families(ctx context.Context, v Viewer) ([]Family, error) {
	l, err := d.store.Families(ctx, v.scope())
	return l, problemOf(err)
}

func (d *Desk) Students(ctx context.Context, v Viewer) ([]Student, error) {
	l, err := d.store.Students(ctx, v.scope())
	return l, problemOf(err)
}

// People lists the adults: of the family, or for the teacher of the studio.
func (d *Desk) People(ctx context.Context, v Viewer) ([]Person, error) {
	l, err := d.store.People(ctx, v.scope())
	return l, problemOf(err)
}

func (d *Desk) newStudent(f Family, n NewStudent) (Student, error) {
	s := Student{Studio: f.Studio, Family: f.ID, Name: named(n.Name, longestName), Media: n.Media, Since: d.now()}
	if s.Media == "" {
		s.Media = SoundOnly
	}
	if err := s.check(); err != nil {
		return Student{}, err
	}
	var err error
	s.ID, err = NewID[StudentID](d.o.Rand)
	return s, err
}

func (s Student) check() error {
	switch {
	case s.Name == "":
		return invalid("A student needs a first name.")
	case s.Media != SoundOnly && s.Media != HandsOnly && s.Media != FullVideo:
		return invalid("%s may send sound, hands or video, not %q.", s.Name, s.Media)
	}
	return nil
}

// AddStudent writes another child of a family down.
func (d *Desk) AddStudent(ctx context.Context, v Viewer, id FamilyID, n NewStudent) (Student, error) {
	if err := v.must("Only the teacher writes students down.", Teacher); err != nil {
		return Student{}, err
	}
	fs, err := d.store.Families(ctx, OneFamily(v.Studio, id))
	if err != nil {
		return Student{}, problemOf(err)
	}
	if len(fs) != 1 {
		return Student{}, problemOf(ErrNotFound)
	}
	s, err := d.newStudent(fs[0], n)
	if err != nil {
		return Student{}, problemOf(err)
	}
	if err := d.store.AddStudent(ctx, s); err != nil {
		return Student{}, problemOf(err)
	}
	return s, nil
}

// ChangeStudent keeps the name and what may be sent. The family changes only what may be sent.
func (d *Desk) ChangeStudent(ctx context.Context, v Viewer, s Student) (Student, error) {
	if err := v.must("Students are changed by the teacher or the family.", Teacher, Coach); err != nil {
		return Student{}, err
	}
	var old Student
	err := d.store.Within(ctx, func(tx Records) (err error) {
		if old, err = tx.Student(ctx, v.scope(), s.ID); err != nil {
			return err
		}
		if v.Role == Teacher {
			old.Name = named(s.Name, longestName)
		}
		old.Media = s.Media
		if err := old.check(); err != nil {
			return err
		}
		return tx.PutStudent(ctx, old)
	})
	if err != nil {
		return Student{}, problemOf(err)
	}
	return old, nil
}

// mostLogLines is how far back the access log of a child is shown on a page; the export has all.
const mostLogLines = 500

// AccessLog is who looked at what of a child, the newest first.
func (d *Desk) AccessLog(ctx context.Context, v Viewer, s StudentID) ([]Access, error) {
	who, err := d.store.Student(ctx, v.scope(), s)
	if err != nil {
		return nil, problemOf(err)
	}
	l, err := d.store.AccessLog(ctx, OneFamily(who.Studio, who.Family), s, mostLogLines)
	return l, problemOf(err)
}

// Receipts of everything that was deleted. They name nobody.
func (d *Desk) Receipts(ctx context.Context, v Viewer) ([]Receipt, error) {
	if err := v.must("Receipts are the teacher's.", Teacher); err != nil {
		return nil, err
	}
	l, err := d.store.Receipts(ctx, v.Studio)
	return l, problemOf(err)
}

// Consents that the adults of a family gave.
func (d *Desk) Consents(ctx context.Context, v Viewer, id FamilyID) ([]Consent, error) {
	if err := v.must("Consents are shown to the family and the teacher.", Teacher, Coach); err != nil {
		return nil, err
	}
	if v.Role == Coach && v.Family != id {
		return nil, problemOf(ErrNotFound)
	}
	l, err := d.store.Consents(ctx, OneFamily(v.Studio, id))
	return l, problemOf(err)
}

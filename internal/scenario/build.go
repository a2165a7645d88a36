package scenario

import (
	"bytes"
	"cmp"
	"context"
	"crypto/rand"
	"fmt"
	"io"
	"os"
	"slices"
	"sync"
	"time"

	"golang.org/x/sync/errgroup"

	"antiphon/internal/rehearse"
	"antiphon/internal/remedies"
	"antiphon/internal/studio"
)

// Options of Build. All are needed but Past and Said.
type Options struct {
	Store    studio.Store
	Blobs    studio.Blobs
	Jobs     studio.Jobs
	Recorder *Recorder
	Now      time.Time               // the story ends here
	Past     map[string]studio.Heard // nil means what came with the program
	Said     func(done, all int)     // after each waiting take that was recorded; may be nil
	// Hear, where it is given, hears the takes of the past too instead of taking them from Past, and
	// leaves out those that wait. What came of it is in Built.Heard.
	Hear func(ctx context.Context, desk *studio.Desk, job studio.Job) error
}

// Built is the studio as it stands.
type Built struct {
	Studio  studio.Studio
	Teacher string                  // secret of the teacher's device
	Family  string                  // secret of a family's device, the Vargas'
	Heard   map[string]studio.Heard // of Options.Hear
	Later   []Unheard               // takes of the past whose recordings follow, those first that lie beside a waiting one
	Beside  int                     // how many of Later those are
}

// Unheard is a take of the past whose recording is not made yet. Key names it in the story.
type Unheard struct {
	Take studio.TakeID
	Key  string
}

// unheard is one with what its place in the row depends on.
type unheard struct {
	Unheard
	at     time.Time
	beside bool // a take of the same student and work waits
}

// builder writes the story down, with a clock that goes through it.
type builder struct {
	o      Options
	desk   *studio.Desk
	mu     sync.Mutex
	clock  time.Time
	pieces map[string]Piece
	works  map[string]studio.Work
	book   *remedies.Book
	v      studio.Viewer               // the teacher
	said   map[studio.StudentID]string // the remedy of the last remark
	homes  map[string]home             // by the child's name
	shown  shown                       // the teacher's own takes
	out    Built
	fresh  []fresh
	rest   []unheard
}

// fresh is a recording that is made now and heard. Without bring a family sends it as announced.
type fresh struct {
	v     studio.Viewer
	at    time.Time
	a     studio.Announcement
	spec  rehearse.Spec
	bring func(ctx context.Context, mediaType string, r io.Reader) error
}

// Build opens the studio and tells its story through the use-cases of package studio. What waits on the
// desk is recorded, and given to the ear as any take is; the recordings of earlier weeks are left to Rest.
func Build(ctx context.Context, o Options) (*Built, error) {
	b := &builder{o: o, works: map[string]studio.Work{}, pieces: map[string]Piece{}, said: map[studio.StudentID]string{}, homes: map[string]home{}}
	b.desk = studio.NewDesk(o.Store, o.Blobs, o.Jobs, studio.DeskOptions{Now: b.now})
	if b.o.Past == nil && o.Hear == nil {
		past, err := ReadPast(bytes.NewReader(heardFile))
		if err != nil {
			return nil, err
		}
		b.o.Past = past
	}
	b.out.Heard = map[string]studio.Heard{}
	var err error
	if b.book, err = remedies.Printed(); err != nil {
		return nil, err
	}
	b.at(o.Now.AddDate(0, 0, -7*(Weeks+1)))
	if err := b.found(ctx); err != nil {
		return nil, err
	}
	if err := b.library(ctx); err != nil {
		return nil, err
	}
	if o.Hear == nil {
		if err := b.ownTakes(ctx); err != nil {
			return nil, fmt.Errorf("the teacher's own takes: %w", err)
		}
	}
	for i, h := range Households() {
		if err := b.household(ctx, h, i == 0); err != nil {
			return nil, fmt.Errorf("the %s family: %w", h.Name, err)
		}
	}
	if o.Hear == nil {
		if err := b.beside(ctx); err != nil {
			return nil, err
		}
	}
	if err := b.record(ctx); err != nil {
		return nil, err
	}
	b.at(o.Now)
	b.line()
	return &b.out, nil
}

func (b *builder) now() time.Time {
	b.mu.Lock()
	defer b.mu.Unlock()
	return b.clock
}

func (b *builder) at(t time.Time) {
	b.mu.Lock()
	defer b.mu.Unlock()
	b.clock = t
}

func (b *builder) found(ctx context.Context) error {
	secret, err := b.desk.OpenSetUp(ctx)
	if err != nil {
		return err
	}
	b.v, b.out.Teacher, _, err = b.desk.SetUp(ctx, secret, studio.NewTeacher{Studio: StudioName, Name: TeacherName, Password: rand.Text(), Device: "desk computer"})
	if err != nil {
		return err
	}
	b.out.Studio, err = b.desk.OwnStudio(ctx, b.v)
	return err
}

func (b *builder) library(ctx context.Context) error {
	pieces, err := Pieces()
	if err != nil {
		return err
	}
	var tunes, studies []studio.CollectionItem
	for _, p := range pieces {
		w, err := b.desk.AddWork(ctx, b.v, studio.Work{Title: p.Title, Composer: p.Composer, Rights: p.Rights, Exercise: p.Recipe != "", Recipe: p.Recipe, Score: p.MusicXML})
		if err != nil {
			return fmt.Errorf("%s: %w", p.Title, err)
		}
		b.works[p.Name], b.pieces[p.Name] = w, p
	}
	for _, list := range []struct {
		names []string
		into  *[]studio.CollectionItem
	}{{folk, &tunes}, {parlour, &studies}} {
		for i, name := range list.names {
			item := studio.CollectionItem{Work: b.works[name].ID}
			if i > 1 && i%3 == 0 {
				item.After = []studio.WorkID{b.works[list.names[i-2]].ID}
			}
			*list.into = append(*list.into, item)
		}
	}
	if _, err := b.desk.Shelve(ctx, b.v, studio.Collection{Name: "Tunes for the first years", Items: tunes}); err != nil {
		return err
	}
	if _, err := b.desk.Shelve(ctx, b.v, studio.Collection{Name: "Parlour pieces", Items: studies}); err != nil {
		return err
	}
	_, err = b.desk.AddPassage(ctx, b.v, studio.Passage{Work: b.works["au-clair"].ID, Name: "The middle, on low strings", FromBar: "9", ToBar: "12"})
	return err
}

func (b *builder) household(ctx context.Context, h Household, shown bool) error {
	first := 0
	n := studio.NewFamily{Name: h.Name}
	for _, l := range h.Learners {
		first = max(first, l.Since)
		n.Students = append(n.Students, studio.NewStudent{Name: l.Name, Media: l.Media})
	}
	b.at(b.o.Now.AddDate(0, 0, -7*first-9))
	f, token, err := b.desk.InviteFamily(ctx, b.v, n, studio.Asked{})
	if err != nil {
		return err
	}
	b.at(b.o.Now.AddDate(0, 0, -7*first-8))
	coach, secret, err := b.desk.Redeem(ctx, token, studio.Redemption{Name: h.Coach, Device: h.Phone, Agrees: true})
	if err != nil {
		return err
	}
	if shown {
		b.out.Family = secret
	}
	students, err := b.desk.Students(ctx, b.v)
	if err != nil {
		return err
	}
	for _, l := range h.Learners {
		i := slices.IndexFunc(students, func(s studio.Student) bool { return s.Family == f.ID && s.Name == l.Name })
		if i < 0 {
			return fmt.Errorf("%s is not there", l.Name)
		}
		if err := b.tell(ctx, h, l, students[i], coach); err != nil {
			return fmt.Errorf("%s: %w", l.Name, err)
		}
	}
	return nil
}

// tell goes through one student's weeks.
func (b *builder) tell(ctx context.Context, h Household, l Learner, s studio.Student, coach studio.Viewer) error {
	type told struct {
		studio.Take
		key string
	}
	var before []told // of the week before, to be spoken about
	for _, a := range l.Story(h.Name) {
		sent := b.o.Now.AddDate(0, 0, -7*a.Week-5).Truncate(24 * time.Hour).Add(19*time.Hour + 10*time.Minute)
		b.at(sent.Add(-40 * time.Minute))
		for _, t := range before {
			if err := b.speak(ctx, l, t.Take, b.measured(t.key)); err != nil {
				return err
			}
		}
		lesson := studio.Lesson{Student: s.ID, Date: sent.Format(time.DateOnly), Words: a.Words}
		for i, ask := range a.Asked {
			lesson.Assignments = append(lesson.Assignments, b.asOf(ask, i, l))
		}
		more, err := b.more(ctx, l, s.ID, a.Week)
		if err != nil {
			return err
		}
		lesson.Assignments = append(lesson.Assignments, more...)
		if first := &lesson.Assignments[0]; l.Name == "Tilda" && a.Week == 0 && b.shown.model != "" {
			first.Model, first.Like, first.Unlike = b.shown.model, b.shown.like, b.shown.unlike
		}
		b.at(sent)
		if lesson, err = b.desk.SaveDraft(ctx, b.v, lesson); err != nil {
			return err
		}
		if err := b.desk.SendLesson(ctx, b.v, lesson.ID, lesson.Version); err != nil {
			return err
		}
		lesson.Sent = sent
		b.homes[l.Name] = home{coach, s.ID, lesson}
		if b.o.Hear == nil {
			if err := b.practised(ctx, l, s, coach, a.Week, lesson); err != nil {
				return fmt.Errorf("week %d at home: %w", a.Week, err)
			}
		}
		before = nil
		for _, take := range a.Sent {
			t, err := b.send(ctx, l, s, coach, a, lesson, take, sent)
			if err != nil {
				return fmt.Errorf("take %s: %w", take.Key, err)
			}
			if t.ID != "" {
				before = append(before, told{t, take.Key})
			}
		}
	}
	return nil
}

// measured is what was heard in a take of the past.
func (b *builder) measured(key string) []byte {
	if b.o.Hear != nil {
		return b.out.Heard[key].Doc
	}
	return b.o.Past[key].Doc
}

// send brings one take: a past one as it was heard then, a present one later, in record.
func (b *builder) send(ctx context.Context, l Learner, s studio.Student, coach studio.Viewer, a Answer, lesson studio.Lesson, take Sent, sent time.Time) (studio.Take, error) {
	ask := a.Asked[take.Line]
	spec, err := Played(l, ask, take, b.pieces)
	if err != nil {
		return studio.Take{}, err
	}
	rng := dice(l.Name, a.Week, "hour")
	at := sent.AddDate(0, 0, take.Day).Truncate(24 * time.Hour).Add(time.Duration(15*60+rng.IntN(200)) * time.Minute)
	if latest := b.o.Now.Add(-time.Duration(20+rng.IntN(100)) * time.Minute); at.After(latest) {
		at = latest
	}
	ann := studio.Announcement{Student: s.ID, Assignment: lesson.Assignments[take.Line].ID, FileName: spec.ID + "." + spec.Codec.Ext, Note: take.Note, Hurt: take.Hurt}
	switch {
	case b.o.Hear != nil && a.Week == 0:
		return studio.Take{}, nil
	case b.o.Hear != nil:
		return b.hearNow(ctx, take.Key, fresh{v: coach, at: at, a: ann, spec: spec})
	case a.Week == 0:
		b.fresh = append(b.fresh, fresh{v: coach, at: at, a: ann, spec: spec})
		return studio.Take{}, nil
	}
	was, ok := b.o.Past[take.Key]
	if !ok {
		return studio.Take{}, fmt.Errorf("what was heard in it is not in the file: run make demo-data")
	}
	b.at(at)
	t, err := b.desk.Recall(ctx, b.ear(), studio.Past{Announcement: ann, By: coach.Person, Arrived: at, Heard: was})
	if err == nil {
		b.rest = append(b.rest, unheard{Unheard{t.ID, take.Key}, at, l.waitsWith(ask.Piece)})
	}
	return t, err
}

func (b *builder) ear() studio.Viewer { return studio.Viewer{Studio: b.v.Studio, Role: studio.Ear} }

// hearNow records a take of the past and has it heard as it would have been then.
func (b *builder) hearNow(ctx context.Context, key string, f fresh) (studio.Take, error) {
	path, mediaType, drop, err := b.o.Recorder.Record(f.spec)
	if err != nil {
		return studio.Take{}, err
	}
	defer drop()
	id, err := b.bring(ctx, f, path, mediaType)
	if err != nil {
		return studio.Take{}, err
	}
	if err := b.o.Hear(ctx, b.desk, studio.Job{Kind: studio.JobHear, Studio: b.v.Studio, Take: id}); err != nil {
		return studio.Take{}, err
	}
	r, err := b.desk.ReviewTake(ctx, b.v, id)
	if err != nil {
		return studio.Take{}, err
	}
	if r.Hearing == nil || r.Take.Summary == nil {
		return studio.Take{}, fmt.Errorf("could not be heard: %s", r.Take.Why)
	}
	was := studio.Heard{Doc: r.Hearing.JSON, Summary: *r.Take.Summary, Concerns: r.Take.Concerns, DurationS: r.Take.DurationS}
	prints, err := b.desk.Prints(ctx, b.ear(), f.a.Student, f.at.Add(-time.Minute))
	if err != nil {
		return studio.Take{}, err
	}
	for _, p := range prints {
		if p.Take == id {
			was.Print = p.Bytes
		}
	}
	b.out.Heard[key] = was
	return r.Take, nil
}

// record makes the recordings that wait, two at a time, and lets the families send them in their order.
func (b *builder) record(ctx context.Context) error {
	slices.SortStableFunc(b.fresh, func(x, y fresh) int { return x.at.Compare(y.at) })
	made := make([]func() error, len(b.fresh))
	g, recording := errgroup.WithContext(ctx)
	g.SetLimit(2)
	var done int
	var mu sync.Mutex
	for i, f := range b.fresh {
		g.Go(func() error {
			path, mediaType, drop, err := b.o.Recorder.Record(f.spec)
			if err != nil {
				return err
			}
			made[i] = func() error {
				defer drop()
				_, err := b.bring(ctx, f, path, mediaType)
				return err
			}
			mu.Lock()
			defer mu.Unlock()
			if done++; b.o.Said != nil {
				b.o.Said(done, len(b.fresh))
			}
			return recording.Err()
		})
	}
	if err := g.Wait(); err != nil {
		return err
	}
	for _, bring := range made {
		if err := bring(); err != nil {
			return err
		}
	}
	return nil
}

// bring has the family send a recording.
func (b *builder) bring(ctx context.Context, f fresh, path, mediaType string) (studio.TakeID, error) {
	r, err := os.Open(path)
	if err != nil {
		return "", err
	}
	defer r.Close()
	if f.bring != nil {
		b.at(f.at)
		return "", f.bring(ctx, mediaType, r)
	}
	b.at(f.at.Add(-time.Minute))
	t, err := b.desk.Announce(ctx, f.v, f.a)
	if err != nil {
		return "", err
	}
	b.at(f.at)
	_, err = b.desk.Receive(ctx, f.v, t.ID, mediaType, r)
	return t.ID, err
}

// line puts what follows into its order.
func (b *builder) line() {
	slices.SortFunc(b.rest, func(x, y unheard) int {
		if x.beside != y.beside {
			if x.beside {
				return -1
			}
			return 1
		}
		return cmp.Or(y.at.Compare(x.at), cmp.Compare(x.Take, y.Take))
	})
	for _, u := range b.rest {
		b.out.Later = append(b.out.Later, u.Unheard)
		if u.beside {
			b.out.Beside++
		}
	}
}

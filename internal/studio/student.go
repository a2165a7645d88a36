package studio

import "context"

// shortList is how many takes and lessons stand on a student's page.
const shortList = 50

// StudentFile is what stands on a student's page.
type StudentFile struct {
	Student  Student
	Family   Family
	People   []Person // of the family
	Lessons  []Lesson // the newest first; with drafts for the teacher
	Takes    []Take   // the newest first
	Progress []Progress
}

// Progress is one collection as a student goes through it.
type Progress struct {
	Collection Collection
	Steps      []Step // as many as the collection has items
}

// Step is one work of a collection, and what is known of it.
type Step struct {
	Work Work // without its score
	Line CourseLine
}

// Student shows the file of a student.
func (d *Desk) Student(ctx context.Context, v Viewer, id StudentID) (StudentFile, error) {
	in := v.scope()
	s, err := d.store.Student(ctx, in, id)
	if err != nil {
		return StudentFile{}, problemOf(err)
	}
	f := StudentFile{Student: s}
	fam := OneFamily(s.Studio, s.Family)
	fs, err := d.store.Families(ctx, fam)
	if err != nil {
		return StudentFile{}, problemOf(err)
	}
	if len(fs) == 1 {
		f.Family = fs[0]
	}
	if f.People, err = d.store.People(ctx, fam); err != nil {
		return StudentFile{}, problemOf(err)
	}
	if f.Lessons, err = d.store.Lessons(ctx, in, LessonQuery{Student: id, Drafts: v.Role == Teacher, Limit: shortList}); err != nil {
		return StudentFile{}, problemOf(err)
	}
	if f.Takes, err = d.store.Takes(ctx, in, TakeQuery{Student: id, Limit: shortList}); err != nil {
		return StudentFile{}, problemOf(err)
	}
	f.Progress, err = d.progress(ctx, in, id)
	return f, problemOf(err)
}

func (d *Desk) progress(ctx context.Context, in Scope, id StudentID) ([]Progress, error) {
	cs, err := d.store.Collections(ctx, in.Studio())
	if err != nil || len(cs) == 0 {
		return nil, err
	}
	ws, err := d.store.Works(ctx, in.Studio())
	if err != nil {
		return nil, err
	}
	lines, err := d.store.Course(ctx, in, id)
	if err != nil {
		return nil, err
	}
	work, line := map[WorkID]Work{}, map[WorkID]CourseLine{}
	for _, w := range ws {
		work[w.ID] = w
	}
	for _, l := range lines {
		line[l.Work] = l
	}
	var all []Progress
	for _, c := range cs {
		p, met := Progress{Collection: c, Steps: make([]Step, len(c.Items))}, false
		for i, it := range c.Items {
			l, known := line[it.Work]
			l.Work, met = it.Work, met || known
			p.Steps[i] = Step{work[it.Work], l}
		}
		if met { // a collection that the student never touched is none of the student's
			all = append(all, p)
		}
	}
	return all, nil
}

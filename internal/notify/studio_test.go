package notify

import (
	"context"
	"io"
	"mime/quotedprintable"
	stdmail "net/mail"
	"path/filepath"
	"regexp"
	"strings"
	"testing"
	"time"

	"antiphon/internal/store"
	"antiphon/internal/store/disk"
	"antiphon/internal/studio"
)

// handed keeps the jobs that are handed on.
type handed struct{ jobs []studio.Job }

func (h *handed) Enqueue(_ context.Context, _ studio.Records, j studio.Job) error {
	h.jobs = append(h.jobs, j)
	return nil
}

// told is the last notice that was handed on, and whether there is one.
func (h *handed) told() (j studio.Job, n int) {
	for _, x := range h.jobs {
		if x.Kind == studio.JobNotify {
			j, n = x, n+1
		}
	}
	return j, n
}

// written is the text of the last mail.
func (p *post) written(t *testing.T) string {
	t.Helper()
	p.mu.Lock()
	defer p.mu.Unlock()
	if len(p.letters) == 0 {
		t.Fatal("no mail came")
	}
	m, err := stdmail.ReadMessage(strings.NewReader(string(p.letters[len(p.letters)-1].data)))
	if err != nil {
		t.Fatal(err)
	}
	b, err := io.ReadAll(quotedprintable.NewReader(m.Body))
	if err != nil {
		t.Fatal(err)
	}
	return m.Header.Get("Subject") + "\n" + string(b)
}

// TestFromAskingToStopping is the way of a family with a real studio: an address is asked for, confirmed by
// the link in the mail, told of a lesson when it cannot be taken back any more, and forgotten by one touch.
func TestFromAskingToStopping(t *testing.T) {
	ctx, dir := t.Context(), t.TempDir()
	s, err := store.OpenSQLite(ctx, filepath.Join(dir, "studio.db"))
	if err != nil {
		t.Fatal(err)
	}
	defer s.Close()
	blobs, err := disk.Open(filepath.Join(dir, "files"))
	if err != nil {
		t.Fatal(err)
	}
	jobs := &handed{}
	desk := studio.NewDesk(s, blobs, jobs, studio.DeskOptions{})
	st, p, err := desk.Found(ctx, "Studio at the Mill", "Marit Sandoval")
	if err != nil {
		t.Fatal(err)
	}
	teacher := studio.Viewer{Studio: st.ID, Role: studio.Teacher, Person: p.ID}
	ear := studio.Viewer{Studio: st.ID, Role: studio.Ear}
	_, token, err := desk.InviteFamily(ctx, teacher, studio.NewFamily{Name: "Okafor", Students: []studio.NewStudent{{Name: "Adaeze", Media: studio.SoundOnly}}}, studio.Asked{})
	if err != nil {
		t.Fatal(err)
	}
	coach, _, err := desk.Redeem(ctx, token, studio.Redemption{Name: "Ngozi Okafor", Device: "phone", Agrees: true})
	if err != nil {
		t.Fatal(err)
	}
	mails := &post{}
	address, _ := server(t, mails, openLine)
	teller := NewTeller(desk, TellOptions{Address: "https://studio.example.org", Mail: mailer(t, MailSettings{Server: address, Plain: true})})

	secret, err := desk.AskEmail(ctx, coach, "parent@example.com")
	if err != nil {
		t.Fatal(err)
	}
	if err := teller.Confirm(ctx, "parent@example.com", st.Language, secret); err != nil {
		t.Fatal(err)
	}
	link := func(does string) string {
		m := regexp.MustCompile(`https://studio\.example\.org/notices/` + does + `/(\S+)`).FindStringSubmatch(mails.written(t))
		if m == nil {
			t.Fatalf("no link to %s in %s", does, mails.written(t))
		}
		return m[1]
	}
	if _, err := desk.ConfirmEmail(ctx, link("confirm")); err != nil {
		t.Fatal(err)
	}
	students, err := desk.Students(ctx, teacher)
	if err != nil || len(students) != 1 {
		t.Fatal(students, err)
	}
	send := func() {
		t.Helper()
		l, err := desk.SaveDraft(ctx, teacher, studio.Lesson{Student: students[0].ID, Date: "2026-11-28", Words: "Adaeze, well done."})
		if err == nil {
			err = desk.SendLesson(ctx, teacher, l.ID, l.Version)
		}
		if err != nil {
			t.Fatal(err)
		}
	}
	send()
	job, n := jobs.told()
	if n != 1 || time.Until(job.At) < studio.UnsendFor-time.Minute {
		t.Fatalf("%d notices, the last at %v", n, job.At)
	}
	if err := teller.Tell(ctx, ear, job.Notice); err != nil {
		t.Fatal(err)
	}
	got := mails.written(t)
	for _, never := range []string{"Adaeze", "Okafor", "well done"} {
		if strings.Contains(got, never) {
			t.Errorf("the mail says %q: %s", never, got)
		}
	}
	if !strings.Contains(got, "https://studio.example.org/week") || len(mails.letters) != 2 {
		t.Errorf("%d letters, the last: %s", len(mails.letters), got)
	}
	if err := teller.Tell(ctx, ear, job.Notice); err != nil || len(mails.letters) != 2 {
		t.Errorf("told twice: %v, %d letters", err, len(mails.letters))
	}
	if err := desk.MailsOff(ctx, link("off")); err != nil {
		t.Fatal(err)
	}
	send()
	if _, n := jobs.told(); n != 1 {
		t.Errorf("after the touch that stops them there are %d notices", n)
	}
}

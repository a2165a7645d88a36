package webtest

import (
	"bufio"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"net"
	"net/http"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"

	"antiphon/internal/store"
	"antiphon/internal/store/disk"
	"antiphon/internal/studio"
	"antiphon/internal/web/page"
)

// These name to a process of a test where its studio is and where it shall be reached.
const (
	processFolder = "WEBTEST_STUDIO"
	processPort   = "WEBTEST_PORT"
)

// Main runs a package's tests, or, in a process that Start began, serves the studio in a folder, with the pages that routes
// adds to the frame's, until it is killed.
func Main(m *testing.M, routes func(l *Lasting, f *page.Frame, mux *http.ServeMux) error) {
	dir := os.Getenv(processFolder)
	if dir == "" {
		os.Exit(m.Run())
	}
	l, err := Last(context.Background(), dir)
	if err == nil {
		err = l.serve("127.0.0.1:"+os.Getenv(processPort), routes)
	}
	fmt.Fprintln(os.Stderr, err)
	os.Exit(1)
}

func (l *Lasting) serve(address string, routes func(l *Lasting, f *page.Frame, mux *http.ServeMux) error) error {
	f, err := page.New(page.Options{Desk: l.Desk})
	if err != nil {
		return err
	}
	mux := http.NewServeMux()
	f.Routes(mux)
	if err := routes(l, f, mux); err != nil {
		return err
	}
	return http.ListenAndServe(address, f.Guard(mux))
}

// Lasting is a studio in a folder, which outlives the process that serves it.
type Lasting struct {
	Dir           string         `json:"-"`
	Desk          *studio.Desk   `json:"-"`
	Store         *store.Store   `json:"-"`
	Teacher       studio.Viewer  // who set it up
	TeacherDevice string         // the secret of the teacher's browser
	Family        studio.Viewer  // a coach
	Device        string         // the secret of the coach's phone
	Child         studio.Student // who sends full video
}

// Last opens the studio in dir, and makes it where there is none.
func Last(ctx context.Context, dir string) (*Lasting, error) {
	l := &Lasting{Dir: dir}
	st, err := store.OpenSQLite(ctx, filepath.Join(dir, "studio.db"))
	if err != nil {
		return nil, err
	}
	blobs, err := disk.Open(filepath.Join(dir, "files"))
	if err != nil {
		return nil, errors.Join(err, st.Close())
	}
	l.Store, l.Desk = st, studio.NewDesk(st, blobs, &Waiting{}, studio.DeskOptions{})
	if err := l.known(ctx); err != nil {
		return nil, errors.Join(err, st.Close())
	}
	return l, nil
}

// known reads who is in the studio, or founds it.
func (l *Lasting) known(ctx context.Context) error {
	note := filepath.Join(l.Dir, "lasting.json")
	b, err := os.ReadFile(note)
	if err == nil {
		return json.Unmarshal(b, l)
	}
	if !errors.Is(err, os.ErrNotExist) {
		return err
	}
	secret, err := l.Desk.OpenSetUp(ctx)
	if err != nil {
		return err
	}
	if l.Teacher, l.TeacherDevice, _, err = l.Desk.SetUp(ctx, secret, studio.NewTeacher{Studio: "Studio Under the Lime Tree", Name: "Marit Sandoval", Password: "eleven quiet guitars", Device: "desk"}); err != nil {
		return err
	}
	f, token, err := l.Desk.InviteFamily(ctx, l.Teacher, studio.NewFamily{Name: "Okafor", Students: []studio.NewStudent{{Name: "Ada", Media: studio.FullVideo}}}, studio.Asked{})
	if err != nil {
		return err
	}
	if l.Family, l.Device, err = l.Desk.Redeem(ctx, token, studio.Redemption{Name: "Ngozi Okafor", Device: "phone", Agrees: true}); err != nil {
		return err
	}
	all, err := l.Store.Students(ctx, studio.OneFamily(l.Teacher.Studio, f.ID))
	if err != nil {
		return err
	}
	l.Child = all[0]
	if b, err = json.Marshal(l); err != nil {
		return err
	}
	return os.WriteFile(note, b, 0o600)
}

// Start serves the studio in dir from another process of this test, and waits until it answers.
func Start(t testing.TB, dir, port string) *exec.Cmd {
	t.Helper()
	c := exec.Command(os.Args[0])
	c.Env = append(os.Environ(), processFolder+"="+dir, processPort+"="+port)
	out, err := c.StderrPipe()
	if err != nil {
		t.Fatal(err)
	}
	if err := c.Start(); err != nil {
		t.Fatal(err)
	}
	go func() {
		for l := bufio.NewScanner(out); l.Scan(); {
			t.Log("studio: ", l.Text())
		}
	}()
	t.Cleanup(func() {
		_ = c.Process.Kill() // it may have been killed before
		_ = c.Wait()
	})
	WaitFor(t, "the studio is up", func() bool { return up("http://127.0.0.1:" + port) })
	return c
}

// up says whether a site answers.
func up(address string) bool {
	a, err := http.Get(address + "/assets/islands.js")
	if err != nil {
		return false
	}
	a.Body.Close()
	return a.StatusCode == http.StatusOK
}

// FreePort is one that nobody listened on a moment ago.
func FreePort(t testing.TB) string {
	t.Helper()
	ln, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	defer ln.Close()
	_, port, err := net.SplitHostPort(ln.Addr().String())
	if err != nil {
		t.Fatal(err)
	}
	return port
}

// Half is what lies in a folder of half recordings: the bytes of all, and the name of one.
func Half(dir string) (name string, bytes int64) {
	files, err := os.ReadDir(dir)
	if err != nil {
		return "", 0
	}
	for _, f := range files {
		if st, err := f.Info(); err == nil && !strings.Contains(f.Name(), ".") {
			name, bytes = f.Name(), bytes+st.Size()
		}
	}
	return name, bytes
}

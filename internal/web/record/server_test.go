package record_test

import (
	"bufio"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"net/http"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"

	"antiphon/internal/store"
	"antiphon/internal/store/disk"
	"antiphon/internal/studio"
	"antiphon/internal/web/arrive"
	"antiphon/internal/web/page"
	"antiphon/internal/web/record"
	"antiphon/internal/web/sheet"
	"antiphon/internal/web/webtest"
	"antiphon/internal/web/webtest/chromium"
)

// These name to a process of this test where its studio is and where it shall be reached.
const (
	studioFolder = "RECORD_TEST_STUDIO"
	studioPort   = "RECORD_TEST_PORT"
)

func TestMain(m *testing.M) {
	if dir := os.Getenv(studioFolder); dir != "" {
		if err := serve(dir, os.Getenv(studioPort)); err != nil {
			fmt.Fprintln(os.Stderr, err)
			os.Exit(1)
		}
		return
	}
	os.Exit(m.Run())
}

// household is what the test has to know of the studio that another process opened.
type household struct {
	Teacher studio.Viewer
	Device  string
	Child   studio.StudentID
}

// serve opens the studio in dir, makes it where there is none, and answers until it is killed.
func serve(dir, port string) error {
	ctx := context.Background()
	st, err := store.OpenSQLite(ctx, filepath.Join(dir, "studio.db"))
	if err != nil {
		return err
	}
	blobs, err := disk.Open(filepath.Join(dir, "files"))
	if err != nil {
		return err
	}
	d := studio.NewDesk(st, blobs, &webtest.Waiting{}, studio.DeskOptions{})
	note := filepath.Join(dir, "household.json")
	if _, err := os.Stat(note); errors.Is(err, os.ErrNotExist) {
		h, err := begin(ctx, d, st)
		if err != nil {
			return err
		}
		b, err := json.Marshal(h)
		if err != nil {
			return err
		}
		if err := os.WriteFile(note, b, 0o600); err != nil {
			return err
		}
	}
	f, err := page.New(page.Options{Desk: d})
	if err != nil {
		return err
	}
	in, err := arrive.New(f, arrive.Options{Dir: filepath.Join(dir, "arriving")})
	if err != nil {
		return err
	}
	mux := http.NewServeMux()
	f.Routes(mux)
	in.Routes(mux)
	if err := record.Routes(mux, f, record.Options{Sheets: sheet.New(nil, f)}); err != nil {
		return err
	}
	mux.Handle("GET /week/takes/{take}", f.Family(thanks))
	mux.Handle("GET /week/sw.js", f.Open(worker(f)))
	go func() { _ = in.Tend(ctx) }()
	return http.ListenAndServe("127.0.0.1:"+port, f.Guard(mux))
}

func begin(ctx context.Context, d *studio.Desk, st *store.Store) (household, error) {
	secret, err := d.OpenSetUp(ctx)
	if err != nil {
		return household{}, err
	}
	teacher, _, _, err := d.SetUp(ctx, secret, studio.NewTeacher{Studio: "Studio Under the Lime Tree", Name: "Marit Sandoval", Password: "eleven quiet guitars", Device: "desk"})
	if err != nil {
		return household{}, err
	}
	f, token, err := d.InviteFamily(ctx, teacher, studio.NewFamily{Name: "Okafor", Students: []studio.NewStudent{{Name: "Ada", Media: studio.FullVideo}}}, studio.Asked{})
	if err != nil {
		return household{}, err
	}
	v, device, err := d.Redeem(ctx, token, studio.Redemption{Name: "Ngozi Okafor", Device: "phone", Agrees: true})
	if err != nil {
		return household{}, err
	}
	all, err := st.Students(ctx, studio.OneFamily(v.Studio, f.ID))
	if err != nil {
		return household{}, err
	}
	return household{teacher, device, all[0].ID}, nil
}

// start runs the studio in another process and waits until it answers.
func start(t testing.TB, dir, port string) *exec.Cmd {
	t.Helper()
	c := exec.Command(os.Args[0])
	c.Env = append(os.Environ(), studioFolder+"="+dir, studioPort+"="+port)
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
	waitFor(t, "the studio is up", func() bool { return up("http://127.0.0.1:" + port) })
	return c
}

// TestStudioKilledWhileUploading: the studio's process is killed in the middle of an upload, and started again a
// moment later. The recording that is on its way goes on and arrives whole; the page stays open all the while.
func TestStudioKilledWhileUploading(t *testing.T) {
	dir, port := t.TempDir(), freePort(t)
	server := start(t, dir, port)
	var h household
	b, err := os.ReadFile(filepath.Join(dir, "household.json"))
	if err == nil {
		err = json.Unmarshal(b, &h)
	}
	if err != nil {
		t.Fatal(err)
	}
	net, address := lay(t, "http://127.0.0.1:"+port)
	br := chromium.Open(t, address, chromium.Hearing(guitar(t)))
	br.Cookie("antiphon", h.Device)
	br.Look(390, "light")
	br.Go(record.Card{Student: h.Child}.Address())
	look(t, br, "film-before")
	chromium.Eval[bool](br, watch)
	br.Click("[data-do=open]")
	br.Wait(`!document.querySelector("[data-live]").hidden`)
	br.Click("[data-do=go]")
	br.Wait(`performance.now() - window.began > 9000`)
	br.Click("[data-do=stop]")
	br.Wait(`document.querySelectorAll(".kept-tries li").length === 1`)
	net.isSlow(true)
	br.Click("[data-tries] button.main")
	half := filepath.Join(dir, "arriving")
	waitFor(t, "something of the recording is there", func() bool { return bytesIn(half) > 40_000 })
	size := chromium.Eval[float64](br, packed)
	if err := server.Process.Kill(); err != nil {
		t.Fatal(err)
	}
	_ = server.Wait() // killed, it says
	was := bytesIn(half)
	if float64(was) >= size {
		t.Fatalf("all %.0f bytes were there before the studio was killed", size)
	}
	net.isSlow(false)
	start(t, dir, port)
	br.Wait(`location.pathname.startsWith("/week/takes/")`)
	id := studio.TakeID(strings.TrimPrefix(chromium.Eval[string](br, "location.pathname"), "/week/takes/"))
	t.Logf("%d of %.0f bytes were there when the studio was killed; %d bytes went over the wire after that", was, size, net.carried())
	if net.carried() > int64(size)-was/2 {
		t.Errorf("the upload of %.0f bytes began anew: %d bytes after the kill, where %d had come", size, net.carried(), was)
	}
	file := original(t, dir, h, id)
	if d := decoded(t, file).Seconds(); d < 8.5 || d > 11 {
		t.Errorf("%.1f s arrived", d)
	}
	br.Expect("net::ERR_")
	br.Expect("409")
}

// original is the file of a take, read beside the studio that runs.
func original(t testing.TB, dir string, h household, id studio.TakeID) string {
	t.Helper()
	st, err := store.OpenSQLite(t.Context(), filepath.Join(dir, "studio.db"))
	if err != nil {
		t.Fatal(err)
	}
	defer st.Close()
	blobs, err := disk.Open(filepath.Join(dir, "files"))
	if err != nil {
		t.Fatal(err)
	}
	d := studio.NewDesk(st, blobs, &webtest.Waiting{}, studio.DeskOptions{})
	ear := studio.Viewer{Studio: h.Teacher.Studio, Role: studio.Ear}
	return fileOf(t, d, ear, id)
}

func bytesIn(dir string) (sum int64) {
	files, err := os.ReadDir(dir)
	if err != nil {
		return 0
	}
	for _, f := range files {
		if st, err := f.Info(); err == nil && !strings.Contains(f.Name(), ".") {
			sum += st.Size()
		}
	}
	return sum
}

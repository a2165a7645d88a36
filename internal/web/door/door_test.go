package door_test

import (
	"io"
	"net/http"
	"net/http/httptest"
	"net/url"
	"path/filepath"
	"regexp"
	"strings"
	"testing"
	"time"

	"antiphon/internal/store"
	"antiphon/internal/store/disk"
	"antiphon/internal/studio"
	"antiphon/internal/web/door"
	"antiphon/internal/web/page"
	"antiphon/internal/web/webtest"
)

func routes(t *testing.T, f *page.Frame, o door.Options) func(*http.ServeMux) {
	return func(mux *http.ServeMux) {
		if err := door.Routes(mux, f, o); err != nil {
			t.Fatal(err)
		}
	}
}

func open(t *testing.T) site {
	t.Helper()
	s := webtest.Open(t)
	return site{s.Serve(t, routes(t, s.Frame, door.Options{Address: address}))}
}

// address is what passkeys are bound to in these tests.
const address = "https://studio.example"

// empty is a place where no studio was founded yet.
func empty(t *testing.T, secure bool) (*studio.Desk, http.Handler) {
	t.Helper()
	folder := t.TempDir()
	st, err := store.OpenSQLite(t.Context(), filepath.Join(folder, "studio.db"))
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() {
		if err := st.Close(); err != nil {
			t.Error(err)
		}
	})
	blobs, err := disk.Open(filepath.Join(folder, "files"))
	if err != nil {
		t.Fatal(err)
	}
	desk := studio.NewDesk(st, blobs, &webtest.Waiting{}, studio.DeskOptions{})
	f, err := page.New(page.Options{Desk: desk, Secure: secure})
	if err != nil {
		t.Fatal(err)
	}
	mux := http.NewServeMux()
	f.Routes(mux)
	routes(t, f, door.Options{})(mux)
	return desk, f.Guard(mux)
}

func ask(h http.Handler, method, path string, form url.Values) *http.Response {
	var body io.Reader
	if form != nil {
		body = strings.NewReader(form.Encode())
	}
	r := httptest.NewRequest(method, path, body)
	if form != nil {
		r.Header.Set("Content-Type", "application/x-www-form-urlencoded")
		r.Header.Set("Sec-Fetch-Site", "same-origin")
	}
	w := httptest.NewRecorder()
	h.ServeHTTP(w, r)
	return w.Result()
}

func text(t *testing.T, a *http.Response) string {
	t.Helper()
	b, err := io.ReadAll(a.Body)
	if err != nil {
		t.Fatal(err)
	}
	return string(b)
}

var code = regexp.MustCompile(`<code>([0-9a-z]{4}(?:-[0-9a-z]{4}){3})</code>`)

func TestSetUp(t *testing.T) {
	desk, h := empty(t, true)
	if a := ask(h, "GET", "/sign-in", nil); !strings.Contains(text(t, a), "There is no studio here yet") {
		t.Error("the sign-in page does not say that there is no studio")
	}
	secret, err := desk.OpenSetUp(t.Context())
	if err != nil {
		t.Fatal(err)
	}
	for range 3 { // looking opens nothing
		for _, method := range []string{"GET", "HEAD"} {
			if a := ask(h, method, "/set-up/"+secret, nil); a.StatusCode != 200 || len(a.Cookies()) > 0 {
				t.Errorf("%s: %d, cookies %v", method, a.StatusCode, a.Cookies())
			}
		}
	}
	form := url.Values{"studio": {`Six "Strings" <b>`}, "name": {"Marit"}, "way": {"password"}, "language": {"es"}}
	a := ask(h, "POST", "/set-up/"+secret, form)
	if s := text(t, a); a.StatusCode != 422 || !strings.Contains(s, `value="Six &#34;Strings&#34; &lt;b&gt;"`) || !strings.Contains(s, `role="alert"`) {
		t.Errorf("without a password: %d %s", a.StatusCode, s)
	}
	form.Set("password", "tiny9")
	if a := ask(h, "POST", "/set-up/"+secret, form); a.StatusCode != 422 || strings.Contains(text(t, a), "tiny9") {
		t.Errorf("a short password: %d, or it stands in the page", a.StatusCode)
	}
	form.Set("password", "eleven quiet guitars")
	if a := ask(h, "POST", "/set-up/wrong", form); a.StatusCode != 410 || len(a.Cookies()) > 0 {
		t.Errorf("a wrong secret: %d, cookies %v", a.StatusCode, a.Cookies())
	}
	a = ask(h, "POST", "/set-up/"+secret, form)
	s := text(t, a)
	if a.StatusCode != 200 || len(code.FindAllString(s, -1)) != 10 {
		t.Fatalf("%d, and %d recovery codes: %s", a.StatusCode, len(code.FindAllString(s, -1)), s)
	}
	if a.Header.Get("Cache-Control") != "no-store" {
		t.Error("the recovery codes may be kept on the way")
	}
	c := a.Cookies()
	if len(c) != 1 || c[0].Name != "__Host-antiphon" || !c[0].Secure || !c[0].HttpOnly || c[0].SameSite != http.SameSiteLaxMode || c[0].Path != "/" || c[0].Domain != "" {
		t.Fatalf("cookies %v", c)
	}
	if v, err := desk.Recognise(t.Context(), c[0].Value); err != nil || v.Role != studio.Teacher {
		t.Errorf("the cookie makes %+v, %v", v, err)
	}
	if home, _, err := desk.Home(t.Context()); err != nil || home.Language != "es" || home.Name != `Six "Strings" <b>` {
		t.Errorf("founded: %+v, %v", home, err)
	}
	if a := ask(h, "POST", "/set-up/"+secret, form); a.StatusCode != 410 && a.StatusCode != 409 {
		t.Errorf("the secret works twice: %d", a.StatusCode)
	}
	if a := ask(h, "GET", "/set-up/"+secret, nil); !strings.Contains(text(t, a), "This studio is set up") {
		t.Error("the page does not say that the studio is set up")
	}
}

func TestSignInAndRecover(t *testing.T) {
	s := open(t)
	const wrong = "This did not match."
	for _, c := range []struct {
		path, field, value string
	}{{"/sign-in", "password", "eleven quiet guitar"}, {"/sign-in", "password", ""}, {"/recover", "code", "0000-0000-0000-0000"}, {"/recover", "code", ""}} {
		status, body, _ := s.Post(t, "", c.path, url.Values{c.field: {c.value}})
		if status != 403 || !strings.Contains(body, wrong) || c.value != "" && strings.Contains(body, c.value) {
			t.Errorf("%s with %q: %d %s", c.path, c.value, status, body)
		}
	}
	for to, want := range map[string]string{
		"": "/desk", "/students?x=1": "/students?x=1", "https://elsewhere.example/": "/desk", "//elsewhere.example": "/desk", "///elsewhere.example": "/desk",
		`/\elsewhere.example`: "/desk", "javascript:alert(1)": "/desk", "/\t/elsewhere.example": "/desk",
	} {
		s.Wait(time.Minute)
		status, _, at := s.Post(t, "", "/sign-in", url.Values{"password": {"eleven quiet guitars"}, "to": {to}})
		if status != 303 || at != want {
			t.Errorf("to %q: %d, leads to %q", to, status, at)
		}
	}
	s.Wait(time.Hour)
	_, body, _ := s.Post(t, s.TeacherDevice, "/studio/door/codes", nil)
	codes := code.FindAllStringSubmatch(body, -1)
	if len(codes) != 10 {
		t.Fatalf("%d codes in %s", len(codes), body)
	}
	device, to := s.enter(t, "/recover", url.Values{"code": {strings.ToUpper(strings.ReplaceAll(codes[3][1], "-", " "))}})
	if to != "/studio/door?done=recovered" {
		t.Errorf("a recovery code leads to %q", to)
	}
	if _, body := s.Get(t, device, to); !strings.Contains(body, "9 codes") || !strings.Contains(body, "used up") {
		t.Errorf("after a recovery: %s", body)
	}
	if status, body, _ := s.Post(t, "", "/recover", url.Values{"code": {codes[3][1]}}); status != 403 || !strings.Contains(body, wrong) {
		t.Errorf("a used code: %d %s", status, body)
	}
	// Signing out ends the device, not only the cookie.
	if status, _, to := s.Post(t, device, "/sign-out", nil); status != 303 || to != "/sign-in?out" {
		t.Errorf("signing out: %d, leads to %q", status, to)
	}
	if status, _, to := s.Get3(t, device, "/studio/door"); status != 303 || to != "/sign-in?to=%2Fstudio%2Fdoor" {
		t.Errorf("a signed out device: %d, leads to %q", status, to)
	}
}

func TestPaced(t *testing.T) {
	s := open(t)
	for _, path := range []string{"/sign-in", "/recover", "/sign-in/passkey", "/sign-in/passkey/answer", "/join/nothing", "/set-up/nothing"} {
		s.Wait(time.Hour)
		last := 0
		for range 12 {
			last, _, _ = s.Post(t, "", path, url.Values{"password": {"wrong"}})
		}
		if last != http.StatusTooManyRequests {
			t.Errorf("%s: the twelfth try at once: %d", path, last)
		}
	}
}

func TestOwnDoorIsTheTeachers(t *testing.T) {
	s := open(t)
	family := s.Okafor.Device
	for _, path := range []string{"/studio/door/password", "/studio/door/codes", "/studio/door/passkeys", "/studio/door/passkeys/answer",
		"/studio/door/passkeys/x/forget", "/studio/door/devices/" + string(s.Teacher.Device) + "/sign-out",
		"/studio/door/devices/" + string(s.Teacher.Device) + "/name"} {
		for who, device := range map[string]string{"a family": family, "a stranger": "", "nobody's device": "made up"} {
			s.Wait(time.Minute)
			if status, _, _ := s.Post(t, device, path, url.Values{"password": {"twelve loud guitars"}}); status != 403 {
				t.Errorf("%s: %s gets %d", path, who, status)
			}
		}
	}
	if status, _ := s.Get(t, family, "/studio/door"); status != 403 {
		t.Errorf("a family at the teacher's door: %d", status)
	}
	if status, _, to := s.Get3(t, "", "/studio/door"); status != 303 || !strings.HasPrefix(to, "/sign-in?to=") {
		t.Errorf("a stranger at the teacher's door: %d, leads to %q", status, to)
	}
	if status, _, to := s.Post(t, s.TeacherDevice, "/studio/door/devices/"+string(s.Teacher.Device)+"/name", url.Values{"name": {"The <old> laptop"}}); status != 303 || to != "/studio/door?done=named" {
		t.Errorf("naming a device: %d, leads to %q", status, to)
	}
	if _, body := s.Get(t, s.TeacherDevice, "/studio/door"); !strings.Contains(body, "The &lt;old&gt; laptop (this one)") {
		t.Errorf("the new name is not on the page: %s", body)
	}
	// A new password signs the other devices out, and the old one opens nothing.
	other, _ := s.enter(t, "/sign-in", url.Values{"password": {"eleven quiet guitars"}})
	if status, body, _ := s.Post(t, s.TeacherDevice, "/studio/door/password", url.Values{"password": {"twelve"}}); status != 422 || !strings.Contains(body, `role="alert"`) {
		t.Errorf("a short password: %d %s", status, body)
	}
	if status, _, to := s.Post(t, s.TeacherDevice, "/studio/door/password", url.Values{"password": {"twelve loud guitars"}}); status != 303 || to != "/studio/door?done=password" {
		t.Errorf("a new password: %d, leads to %q", status, to)
	}
	if status, _ := s.Get(t, other, "/studio/door"); status != 303 {
		t.Errorf("the other device is still in: %d", status)
	}
	if status, _ := s.Get(t, s.TeacherDevice, "/studio/door"); status != 200 {
		t.Errorf("this device is out: %d", status)
	}
	s.Wait(time.Hour)
	if status, _, _ := s.Post(t, "", "/sign-in", url.Values{"password": {"eleven quiet guitars"}}); status != 403 {
		t.Errorf("the old password: %d", status)
	}
}

// TestLargeForms: what a stranger sends is not kept, in memory or on disk, beyond what a form says.
func TestLargeForms(t *testing.T) {
	s := open(t)
	for _, path := range []string{"/sign-in", "/recover", "/join/nothing", "/set-up/nothing", "/language"} {
		read := &counting{}
		body := io.MultiReader(strings.NewReader("--x\r\nContent-Disposition: form-data; name=\"f\"; filename=\"a\"\r\n\r\n"), io.LimitReader(read, 50<<20))
		r := httptest.NewRequest(http.MethodPost, path, body)
		r.Header.Set("Content-Type", "multipart/form-data; boundary=x")
		r.Header.Set("Sec-Fetch-Site", "same-origin")
		mux := http.NewServeMux()
		routes(t, s.Frame, door.Options{})(mux)
		w := httptest.NewRecorder()
		s.Frame.Guard(mux).ServeHTTP(w, r)
		if w.Code >= 500 || w.Code == 200 || read.n > 1<<20 {
			t.Errorf("%s: %d after %d bytes", path, w.Code, read.n)
		}
	}
}

// counting gives zeros without end, and says how many were read.
type counting struct{ n int }

func (c *counting) Read(p []byte) (int, error) {
	clear(p)
	c.n += len(p)
	return len(p), nil
}
